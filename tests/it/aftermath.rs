//! After a crash: what the next start says unasked, and how an interrupted run goes on. The real
//! programs; the emulator's account is the truth.

use super::plant::{Plant, job_of, signal, wait};
use nightvat::ledger::{Ledger, RunRecord};
use serde_json::Value;
use std::fs;
use std::thread::sleep;
use std::time::Duration;

const SPEED: u32 = 10;
const AT_ONCE: Duration = Duration::from_secs(2);

fn ah(of: &Value, key: &str) -> f64 {
    of[key].as_f64().unwrap_or_else(|| panic!("{key}: {of}"))
}

fn true_ah(plant: &Plant) -> f64 {
    ah(&plant.account(), "charge_true_ah")
}

fn record(plant: &Plant) -> RunRecord {
    let ledger = Ledger::open_read(&plant.path("state/ledger.db")).unwrap();
    ledger.run(1).unwrap()
}

fn steps(salvage: &Value) -> Vec<String> {
    let steps = salvage["steps"].as_array().unwrap().iter();
    let words = steps.map(|step| step["word"].as_str().unwrap().to_owned());
    words.collect()
}

#[test]
fn the_next_start_says_unasked_what_happened_what_was_delivered_and_what_to_do() {
    let plant = Plant::open(SPEED);
    let daemon = plant.flowing();
    sleep(Duration::from_millis(1500));
    daemon.killed();
    plant.dead_within(AT_ONCE);
    let flowed = true_ah(&plant);
    let next = plant.serve();
    let salvage = &next.said["salvage"];
    assert_eq!(salvage["run"], 1, "{}", next.said);
    assert_eq!(
        (&salvage["output_on"], &salvage["off_read_by"]),
        (&false.into(), &"keeper".into())
    );
    assert_eq!(salvage["metal"], "copper");
    assert_eq!(salvage["source"], "common practice, no source");
    assert_eq!(steps(salvage), ["Leave it hanging.", "Look:", "Go on:"]);
    // Best, low and high hold the truth, and the keeper's proof keeps the bound narrow: 5 s of a
    // batch at 0.75 A and at 1.05 of it in the envelope are some 1.1 mAh.
    let (low, high) = (ah(salvage, "charge_low_ah"), ah(salvage, "charge_high_ah"));
    let best = ah(salvage, "charge_ah");
    assert!(
        low <= flowed && flowed <= high,
        "{low}..{high} Ah, {flowed} Ah flowed"
    );
    assert!(
        high - low < 0.006,
        "{low}..{high} Ah is no bound after a death by the book"
    );
    assert!(
        (best - flowed).abs() < 0.001,
        "{best} Ah at best, {flowed} Ah flowed"
    );
    // And as a person reads it: from serve on standard error, said after the object, and from
    // status.
    wait("the card", || {
        plant.log().contains("before another run").then_some(())
    });
    // What serve says of the supply it has just read; in status that may be a while ago.
    assert!(plant.log().contains("The supply says now: output off"));
    for text in [plant.log(), plant.run(&["status"]).out] {
        for said in ["Delivered:", "output off", "Off since", "1.  Leave it"] {
            assert!(text.contains(said), "no `{said}` in {text}");
        }
    }
}

#[test]
fn a_supply_that_nobody_turned_off_is_bounded_by_the_time_until_it_was() {
    let plant = Plant::open(SPEED);
    let daemon = plant.flowing();
    sleep(Duration::from_millis(500));
    plant.power_cut(daemon);
    sleep(Duration::from_secs(3));
    assert!(plant.amps() > 0.1, "it flows on");
    let next = plant.serve();
    plant.dead_within(AT_ONCE);
    let flowed = true_ah(&plant);
    assert_eq!(next.said["salvage"]["off_read_by"], "nobody");
    let ended = wait("the end of run 1", || {
        Some(record(&plant)).filter(|it| it.ending.is_some())
    });
    let (low, high) = (ended.charge.low.ah(), ended.charge.high.ah());
    assert!(
        low <= flowed && flowed <= high,
        "{low}..{high} Ah, {flowed} Ah flowed"
    );
    assert!(
        high < 3.0 * flowed,
        "{high} Ah says nothing: {flowed} Ah flowed"
    );
}

#[test]
fn a_person_resumes_an_interrupted_run_with_its_accounts() {
    let plant = Plant::open(SPEED);
    fs::write(plant.path("job.toml"), job_of("charge = \"60 mAh\"")).unwrap();
    let daemon = plant.flowing();
    sleep(Duration::from_millis(1500));
    daemon.killed();
    plant.dead_within(AT_ONCE);
    let before = true_ah(&plant);
    let _next = plant.serve();
    let status = plant.in_state("interrupted");
    assert_eq!(status["salvage"]["resumes"], true, "{status}");
    sleep(Duration::from_secs(1));
    assert_eq!(
        plant.amps(),
        0.0,
        "without a rule nothing goes on by itself"
    );
    let went = wait("a run that may go on", || {
        let asked = plant.run(&["resume", "--json"]);
        (asked.code == Some(0)).then(|| asked.json(0))
    });
    assert_eq!(went["run"], 1);
    plant.flows();
    let status = plant.in_state("building");
    assert!(ah(&status, "charge_high_ah") > before, "{status}");
    let over = plant.in_state("finished");
    plant.dead_within(AT_ONCE);
    // Both parts together are what the job asks for.
    let flowed = true_ah(&plant);
    assert!(
        (flowed - 0.060).abs() < 0.001,
        "{flowed} Ah in both parts together"
    );
    let (low, high) = (ah(&over, "charge_low_ah"), ah(&over, "charge_high_ah"));
    assert!(
        low <= flowed && flowed <= high,
        "{low}..{high} Ah, {flowed} Ah flowed"
    );
    let run = record(&plant);
    let codes: Vec<&str> = run.events.iter().map(|event| event.code.as_str()).collect();
    assert!(
        codes.contains(&"interrupted") && codes.contains(&"went-on"),
        "{codes:?}"
    );
    assert_eq!(run.ending.unwrap().outcome.state().word(), "finished");
}

#[test]
fn the_rule_of_the_station_file_resumes_within_its_time() {
    let plant = Plant::open(SPEED);
    plant.station_also("[resume]\nwithin = \"10 min\"\n");
    let daemon = plant.flowing();
    sleep(Duration::from_millis(500));
    daemon.killed();
    plant.dead_within(AT_ONCE);
    let _next = plant.serve();
    plant.flows();
    let status = plant.in_state("building");
    assert_eq!(
        (&status["run"], &status["latch"]),
        (&1.into(), &Value::Null)
    );
    plant.run(&["stop", "--json"]).json(0);
    plant.dead_within(AT_ONCE);
    let said = wait("the event", || {
        let events = record(&plant).events;
        events.into_iter().find(|event| event.code == "went-on")
    });
    assert!(
        said.text.contains("rule of the station file"),
        "{}",
        said.text
    );
}

#[test]
fn the_rule_resumes_neither_too_late_nor_after_a_trip() {
    let plant = Plant::open(SPEED);
    plant.station_also("[resume]\nwithin = \"2 s\"\n");
    plant.flowing().killed();
    plant.dead_within(AT_ONCE);
    sleep(Duration::from_secs(3));
    let next = plant.serve();
    wait("its reason in the log", || {
        plant.log().contains("not resumed").then_some(())
    });
    assert!(
        plant.log().contains("the station file allows 2 s"),
        "{}",
        plant.log()
    );
    plant.in_state("interrupted");
    assert_eq!(plant.amps(), 0.0);
    plant.run(&["clear", "--json"]).json(0);
    // A trip: somebody holds the ledger.
    plant.run(&["start", "job.toml", "--json"]).json(0);
    plant.flows();
    let holder = rusqlite::Connection::open(plant.path("state/ledger.db")).unwrap();
    holder.execute_batch("BEGIN IMMEDIATE").unwrap();
    plant.in_state("tripped");
    holder.execute_batch("ROLLBACK").unwrap();
    // The end is written as soon as it can be.
    wait("the end of run 2", || {
        let ledger = Ledger::open_read(&plant.path("state/ledger.db")).unwrap();
        ledger.run(2).unwrap().ending
    });
    next.killed();
    let again = plant.serve();
    assert_eq!(again.said["salvage"]["resumes"], false, "{}", again.said);
    sleep(Duration::from_secs(1));
    assert_eq!(plant.status()["state"], "tripped");
    let resumed = plant.run(&["resume", "--json"]);
    assert_eq!(resumed.refused(5), "nothing-runs");
    let remedy = &resumed.json(5)["error"]["remedy"];
    assert!(
        remedy.as_str().unwrap().contains("nightvat clear"),
        "{remedy}"
    );
    assert_eq!(plant.amps(), 0.0);
}

#[test]
fn a_run_that_died_in_a_pause_waits_for_the_person_who_paused_it() {
    let plant = Plant::open(SPEED);
    plant.station_also("[resume]\nwithin = \"10 min\"\n");
    let daemon = plant.flowing();
    plant.run(&["pause", "--json"]).json(0);
    plant.in_state("paused");
    daemon.killed();
    plant.dead_within(AT_ONCE);
    let _next = plant.serve();
    wait("its reason in the log", || {
        plant
            .log()
            .contains("it was paused when it broke off")
            .then_some(())
    });
    sleep(Duration::from_secs(1));
    assert_eq!(plant.amps(), 0.0, "her hands may be in the bath");
    let status = plant.in_state("interrupted");
    assert_eq!(status["salvage"]["resumes"], true, "{status}");
    wait("a run that may go on", || {
        (plant.run(&["resume", "--json"]).code == Some(0)).then_some(())
    });
    plant.flows();
    plant.run(&["stop", "--json"]).json(0);
    plant.dead_within(AT_ONCE);
}

#[test]
fn a_stop_that_nobody_could_prove_is_not_gone_on_with() {
    let plant = Plant::open(SPEED);
    plant.station_also("[resume]\nwithin = \"10 min\"\n");
    let daemon = plant.flowing();
    // The supply says nothing more: the stop is on its way for ever.
    signal(plant.emulator(), "STOP");
    assert_eq!(plant.run(&["stop", "--json"]).code, Some(6));
    daemon.killed();
    signal(plant.emulator(), "CONT");
    plant.dead_within(Duration::from_secs(20));
    let next = plant.serve();
    assert_eq!(next.said["salvage"]["resumes"], false, "{}", next.said);
    sleep(Duration::from_secs(2));
    assert_eq!(plant.amps(), 0.0);
    assert_eq!(plant.run(&["resume", "--json"]).code, Some(5));
}

#[test]
fn a_supply_that_comes_back_with_its_output_on_is_turned_off_before_anything_else() {
    let plant = Plant::open(SPEED);
    let daemon = plant.flowing();
    plant.power_cut(daemon);
    // As after mains returned to a supply that remembers: on, and set.
    assert!(plant.amps() > 0.1);
    plant.station_also("[resume]\nwithin = \"10 min\"\n");
    let next = plant.serve();
    assert_eq!(next.said["confirmed_off"], true);
    // Only then the rule acts: the run went through off and a proving of its own.
    plant.flows();
    let run = record(&plant);
    let words: Vec<&str> = run.states.iter().map(|row| row.state.word()).collect();
    let at = words
        .iter()
        .position(|word| *word == "interrupted")
        .unwrap();
    assert_eq!(words[at + 1], "proving", "{words:?}");
    assert!(run.events.iter().any(|event| event.code == "went-on"));
}
