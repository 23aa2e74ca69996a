//! What a person reads after a plug was pulled: whether current flows, how that is known, since
//! when, and what to do next.

use super::plant::{Plant, signal, wait};
use serde_json::Value;
use std::thread::sleep;
use std::time::Duration;

const SPEED: u32 = 10;
const AT_ONCE: Duration = Duration::from_secs(2);
const LEASE: Duration = Duration::from_secs(6);
const READ_OFF: &str = "the output was off when it was last read";

/// The error of a command that no daemon answers.
fn unanswered(plant: &Plant, words: &[&str], code: &str) -> (String, String) {
    let done = plant.run(&[words, &["--json"]].concat());
    let error = &done.json(3)["error"];
    assert_eq!(error["code"], code, "{error}");
    let part = |key: &str| error[key].as_str().unwrap_or_default().to_owned();
    (part("text"), part("remedy"))
}

#[test]
fn without_a_daemon_the_keepers_last_reading_is_told() {
    let plant = Plant::open(SPEED);
    plant.flowing().killed();
    plant.dead_within(AT_ONCE);
    plant.proved("owner-gone");
    for words in [&["status"][..], &["stop"], &["bedtime"]] {
        let (text, remedy) = unanswered(&plant, words, "no-daemon");
        assert!(text.contains(READ_OFF), "{words:?}: {text}");
        assert!(text.contains("the daemon is gone"), "{words:?}: {text}");
        assert!(remedy.contains("nightvat serve"), "{words:?}: {remedy}");
    }
}

/// Stopped for longer than the lease and let go on: the keeper turned off meanwhile, and that is
/// what is told, not a cable.
#[test]
fn a_daemon_that_stood_still_says_so_and_since_when_it_is_off() {
    let plant = Plant::open(SPEED);
    let daemon = plant.flowing();
    daemon.signal("STOP");
    plant.dead_within(LEASE);
    plant.proved("lease-lapsed");
    let (text, remedy) = unanswered(&plant, &["status"], "daemon-silent");
    assert!(text.contains(READ_OFF), "{text}");
    assert!(remedy.contains("nightvat off"), "{remedy}");
    // What counts most likely is what flowed until then, however long nothing ran here after.
    let flowed = plant.account()["charge_true_ah"].as_f64().unwrap();
    sleep(Duration::from_secs(6));
    daemon.signal("CONT");
    let after = plant.in_state("interrupted");
    assert_eq!(after["latch"]["code"], "host-slept", "{after}");
    assert_eq!(after["latch"]["off"]["read_by"], "keeper", "{after}");
    let told = after["latch"]["off"]["not_before"].as_str().unwrap();
    let told = chrono::DateTime::parse_from_rfc3339(told).unwrap();
    let ago = (chrono::Local::now().fixed_offset() - told).num_milliseconds();
    // The status that nobody answered took five seconds.
    assert!(ago > 5000, "off for {ago} ms");
    assert_eq!(after["latch"]["resumes"], true, "{after}");
    let figure = |key: &str| after[key].as_f64().unwrap();
    let (low, high) = (figure("charge_low_ah"), figure("charge_high_ah"));
    assert!(low <= flowed && flowed <= high, "{low} {flowed} {high}");
    let best = figure("charge_ah");
    // Off and its reading take an exchange each, which counts tenfold here: 0.75 A for 5 s of it.
    let exchanges = 0.75 * 5.0 / 3600.0;
    assert!((best - flowed).abs() < exchanges, "{best} {flowed}");
    assert!(high - flowed > 5.0 * exchanges, "{high} {flowed}");
}

/// A standstill that begins while the keeper owes an answer: what it has said meanwhile is heard,
/// and nobody takes it for dead.
#[test]
fn an_exchange_under_way_at_a_standstill_costs_no_keeper() {
    let plant = Plant::open(SPEED);
    let daemon = plant.flowing();
    plant.in_state("building");
    let keeper = plant.keeper().unwrap();
    signal(keeper, "STOP");
    // A second of the run, in which it asks for a reading.
    sleep(Duration::from_millis(300));
    daemon.signal("STOP");
    signal(keeper, "CONT");
    plant.dead_within(LEASE);
    plant.proved("lease-lapsed");
    sleep(Duration::from_secs(12));
    daemon.signal("CONT");
    let after = plant.in_state("interrupted");
    assert_eq!(after["latch"]["code"], "host-slept", "{after}");
    assert_eq!(after["latch"]["off"]["read_by"], "keeper", "{after}");
    assert!(
        !plant.log().contains("the keeper is gone"),
        "{}",
        plant.log()
    );
}

/// Both processes die, and somebody turns off by the command alone: that reading is known from then
/// on, and what can have flowed ends there.
#[test]
fn an_off_by_hand_is_known_to_whoever_comes_next() {
    let plant = Plant::open(SPEED);
    let daemon = plant.flowing();
    plant.power_cut(daemon);
    let (text, remedy) = unanswered(&plant, &["status"], "no-daemon");
    assert!(text.contains("the output may be on"), "{text}");
    assert!(remedy.contains("by hand"), "{remedy}");
    plant.run(&["off", "station.toml", "--json"]).json(0);
    plant.dead_within(AT_ONCE);
    let flowed = plant.account()["charge_true_ah"].as_f64().unwrap();
    let (text, _) = unanswered(&plant, &["status"], "no-daemon");
    assert!(text.contains(READ_OFF), "{text}");
    sleep(Duration::from_secs(6));
    let next = plant.serve();
    let salvage = &next.said["salvage"];
    assert_eq!(salvage["off_read_by"], "keeper", "{salvage}");
    let (low, high) = (&salvage["charge_low_ah"], &salvage["charge_high_ah"]);
    let (low, high) = (low.as_f64().unwrap(), high.as_f64().unwrap());
    assert!(low <= flowed && flowed <= high, "{low} {flowed} {high}");
    // Six seconds more, at this speed a minute of full current, would be far above.
    let minute = 0.75 / 60.0;
    assert!(high < flowed + 0.5 * minute, "{low} {flowed} {high}");
}

/// The time of a pause is no time with the output on, before a crash and after it.
#[test]
fn a_pause_is_no_time_with_the_output_on_after_a_crash_either() {
    let plant = Plant::open(SPEED);
    let daemon = plant.flowing();
    plant.in_state("building");
    plant.run(&["pause", "--json"]).json(0);
    sleep(Duration::from_secs(3));
    plant.run(&["resume", "--json"]).json(0);
    plant.in_state("building");
    let on = |status: &Value| status["time_on_s"].as_f64().unwrap();
    let before = on(&plant.status());
    daemon.killed();
    plant.dead_within(AT_ONCE);
    let _next = plant.serve();
    let after = plant.in_state("interrupted");
    let more = on(&after) - before;
    assert!((-10.0..20.0).contains(&more), "{more} s more: {after}");
    assert!(
        after["elapsed_s"].as_f64().unwrap() > on(&after) + 25.0,
        "{after}"
    );
}

/// The supply's plug is pulled in a pause: nobody is told to reach into the bath, and what was read
/// before is told as past.
#[test]
fn a_pause_without_a_supply_sends_nobody_into_the_bath() {
    let plant = Plant::open(SPEED);
    let _daemon = plant.flowing();
    plant.run(&["pause", "--json"]).json(0);
    let screen = plant.run(&["status"]).out;
    assert!(screen.contains("Output off"), "{screen}");
    signal(plant.emulator(), "KILL");
    let screen = wait("a reading that is old", || {
        Some(plant.run(&["status"]).out).filter(|screen| screen.contains("When last read"))
    });
    for words in ["output off", "LOOK: the last usable", "before you reach"] {
        assert!(screen.contains(words), "{words}: {screen}");
    }
    assert!(!screen.contains("Look, turn, trim"), "{screen}");
}
