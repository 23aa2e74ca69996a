//! What has gone worst with machines that nobody watches, and the tests that hold against it here.
//! The stories are those of users of unattended machines of many kinds, in our own words.

use super::fake_supply::{Fake, Model};
use super::supply_codec::STANDARD;
use serde_json::Value;
use std::process::Command;

/// Each story, and its tests: a file or folder of tests, and a name.
const STORIES: [(&str, &[&str]); 12] = [
    (
        "the computer lost contact, and the heat stayed on for an hour and a half",
        &[
            "plugs::a_killed_daemon_is_off_at_once_by_the_emulators_own_account",
            "plugs::a_stopped_daemon_is_off_within_lease_and_a_second",
            "plugs::a_hung_loop_in_a_living_daemon_is_off_within_lease_and_a_second",
        ],
    ),
    (
        "the machine cannot know that its computer is gone",
        &["keeper_watchdog::with_keeper_and_owner_dead_the_supply_turns_itself_off"],
    ),
    (
        "it was told to turn off, and nobody looked whether it did",
        &[
            "daemon::off_that_cannot_be_proved_says_so_last_and_loudly",
            "guards/latent::a_supply_that_ignores_off",
            "guards/latent::a_supply_that_says_ok_and_does_nothing",
        ],
    ),
    (
        "connecting to it changed what it was doing",
        &["worst::looking_at_a_supply_that_is_at_work_changes_nothing"],
    ),
    (
        "Ctrl-C left the instruments in any state at all",
        &["daemon::sigterm_and_ctrl_c_stop_the_run_before_the_daemon_ends"],
    ),
    (
        "it died hours in, and nothing told why",
        &["aftermath::the_next_start_says_unasked_what_happened_what_was_delivered_and_what_to_do"],
    ),
    (
        "the plug wobbled at one in the morning, and the port had another number",
        &[
            "keeper::a_port_that_comes_back_is_found_again_and_turned_off",
            "plan::each_warning_has_its_cause",
        ],
    ),
    (
        "one reply was late, and the whole night was given up",
        &[
            "guards/calm::one_second_without_a_whole_reply_costs_no_run",
            "supply_link::a_late_reply_is_never_taken_for_the_next_one",
        ],
    ),
    (
        "starting again lost what was done",
        &["aftermath::a_person_resumes_an_interrupted_run_with_its_accounts"],
    ),
    (
        "it went on by itself after a power cut, and wrongly",
        &[
            "aftermath::the_rule_resumes_neither_too_late_nor_after_a_trip",
            "aftermath::a_supply_that_comes_back_with_its_output_on_is_turned_off_before_anything_else",
            "ledger::what_was_not_committed_is_lost_in_a_crash_and_nothing_else_is",
        ],
    ),
    (
        "the disk was full, and it would not even begin",
        &[
            "plugs::a_daemon_that_cannot_begin_on_a_full_disk_turns_off_what_it_finds_on",
            "plugs::a_full_disk_trips_the_run_with_its_reason_and_off_still_works",
        ],
    ),
    (
        "the computer went to sleep in the middle",
        &["guards/causes::a_computer_that_sleeps"],
    ),
];

#[test]
fn each_story_has_its_tests() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/it/");
    for (story, tests) in STORIES {
        assert!(!tests.is_empty(), "{story}");
        for test in tests {
            let (file, name) = test.split_once("::").unwrap();
            let text = std::fs::read_to_string(format!("{folder}{file}.rs")).unwrap();
            let written = text.contains(&format!("#[test]\nfn {name}() {{"))
                || text.contains(&format!("#[test]\n    fn {name}() {{"));
            assert!(written, "{story}: no test {test}");
        }
    }
}

/// Current flows, set by somebody else: who it is and what it does is asked, and nothing is said
/// that could change it.
#[test]
fn looking_at_a_supply_that_is_at_work_changes_nothing() {
    let fake = Fake::lend(Model {
        output: true,
        amps: 0.4,
        volts: 1.2,
        ..Model::default()
    });
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("plain.toml"), STANDARD).unwrap();
    let done = Command::new(env!("CARGO_BIN_EXE_nightvat"))
        .args(["supply", "probe"])
        .arg(fake.path())
        .args(["--profile", "./plain.toml", "--json"])
        .current_dir(folder.path())
        .env("NIGHTVAT_STATE", folder.path())
        .output()
        .unwrap();
    assert_eq!(done.status.code(), Some(0), "{done:?}");
    let told: Value = serde_json::from_slice(&done.stdout).unwrap();
    assert!(told.to_string().contains("0.4"), "{told}");
    let heard = fake.heard();
    assert!(
        !heard.is_empty() && heard.iter().all(|said| said.ends_with('?')),
        "{heard:?}"
    );
    assert_eq!(fake.flows(), 0.4);
}
