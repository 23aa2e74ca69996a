//! The relay in the output lead with the real processes: whatever happens to supply, daemon and
//! keeper, the emulator's own account says when the cell is dead.

use super::plant::{Plant, is_alive, signal, wait};
use serde_json::Value;
use std::time::{Duration, Instant};

/// Proving takes some 15 s of the line's clock, and the relay opens in 3 s of it; the keeper counts
/// its lease, and the time it gives an off, in real seconds.
const SPEED: u32 = 4;
/// From what must end the run to a dead cell.
const CUT_BY: Duration = Duration::from_secs(10);
/// The account comes once a second, and one may have been on its way.
const LOOKS: Duration = Duration::from_secs(2);

/// Waits until nothing flows, whatever the supply says: how long that took, and the account.
fn dead(plant: &Plant, since: Instant) -> (Duration, Value) {
    let account = wait("a dead cell", || {
        Some(plant.account()).filter(|it| it["current_a"].as_f64().is_some_and(|a| a.abs() < 1e-6))
    });
    (since.elapsed(), account)
}

fn record(plant: &Plant) -> Value {
    let text = std::fs::read_to_string(plant.path("state/keeper.json")).unwrap();
    serde_json::from_str(&text).unwrap()
}

/// Time until the emulator's clock has come so far.
fn at(plant: &Plant, t_s: f64) {
    wait("the emulator's time", || {
        (plant.account()["t_s"].as_f64() >= Some(t_s)).then_some(())
    });
}

#[test]
fn a_supply_that_ignores_off_is_cut_and_nobody_says_confirmed() {
    let ails = ["--ails", "ignores-off", "--ails-after", "35"];
    let plant = Plant::with_relay(1, &ails);
    let mut daemon = plant.flowing();
    let account = plant.account();
    assert_eq!(account["cut"], false, "{account}");
    at(&plant, 36.0);
    let begun = Instant::now();
    // The command waits fifteen seconds for a proof that never comes.
    let mut stop = plant
        .command(&["stop", "--json"])
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    let (took, account) = dead(&plant, begun);
    println!("a supply that ignores off: cut after {took:?}");
    assert!(took <= CUT_BY + LOOKS, "cut only after {took:?}");
    // The supply goes on: only its lead is open.
    assert_eq!(account["output_on"], true, "{account}");
    assert_eq!(account["cut"], true, "{account}");
    assert_eq!(stop.wait().unwrap().code(), Some(6));
    let said = stop.wait_with_output().unwrap();
    let said: Value = serde_json::from_slice(&said.stdout).unwrap();
    assert_eq!(said["confirmed"], false, "{said}");
    assert_eq!(said["cut"], true, "{said}");
    assert_eq!(said["error"]["code"], "unconfirmed", "{said}");
    let status = plant.status();
    assert_eq!(status["state"], "unconfirmed", "{status}");
    assert_eq!(status["cut"], true, "{status}");
    let shown = plant.run(&["status"]);
    assert!(shown.out.contains("NOT CONFIRMED OFF"), "{shown:?}");
    assert!(shown.out.contains("RELAY HAS CUT"), "{shown:?}");
    // The daemon ends, and says what it is: not confirmed.
    daemon.signal("TERM");
    assert_eq!(daemon.ended(), Some(6));
    assert!(plant.log().contains("RELAY HAS CUT"), "{}", plant.log());
    let left = wait("the keeper's record of a cut", || {
        Some(record(&plant)).filter(|record| record["cut"].is_string())
    });
    assert_eq!(left["confirmed_off"], false, "{left}");
    assert!(
        left["text"]
            .as_str()
            .unwrap()
            .starts_with("CUT BY THE RELAY"),
        "{left}"
    );
    // Nobody lives but the keeper, which goes on trying; the cell stays dead.
    assert!(is_alive(plant.keeper().unwrap()));
    let (_, account) = dead(&plant, begun);
    assert_eq!(
        (&account["output_on"], &account["cut"]),
        (&true.into(), &true.into())
    );
}

/// A supply has fallen ill after a minute, and then the daemon dies: when the lead was cut,
/// and the account of then.
fn ill_and_alone(plant: &Plant) -> (Duration, Value) {
    let daemon = plant.flowing();
    at(plant, 61.0);
    let begun = Instant::now();
    daemon.killed();
    let (took, account) = dead(plant, begun);
    println!("the daemon killed, the supply ill: cut after {took:?}");
    assert!(took <= CUT_BY + LOOKS, "cut only after {took:?}");
    (took, account)
}

#[test]
fn daemon_dead_and_supply_deaf_to_off_the_keeper_cuts_alone() {
    let ails = ["--ails", "ignores-off", "--ails-after", "60"];
    let plant = Plant::with_relay(SPEED, &ails);
    let (took, account) = ill_and_alone(&plant);
    assert!(
        took >= Duration::from_secs(4),
        "off was not tried for its time: {took:?}"
    );
    assert_eq!(account["output_on"], true, "{account}");
    let left = wait("the keeper's record of a cut", || {
        Some(record(&plant)).filter(|record| record["cut"].is_string())
    });
    assert_eq!(left["confirmed_off"], false, "{left}");
    let off = plant.run(&["off", "station.toml", "--json"]).json(6);
    assert_eq!(
        (&off["confirmed"], &off["cut"]),
        (&false.into(), &true.into())
    );
}

#[test]
fn both_processes_killed_the_relay_opens_by_itself() {
    let plant = Plant::with_relay(2, &[]);
    let daemon = plant.flowing();
    let keeper = plant.keeper().unwrap();
    // The keeper would turn the output off as its daemon dies.
    signal(keeper, "STOP");
    let begun = Instant::now();
    daemon.killed();
    signal(keeper, "KILL");
    let (took, account) = dead(&plant, begun);
    println!("both killed: open after {took:?}");
    assert!(took <= Duration::from_secs(3) + LOOKS, "{took:?}");
    // Nobody has turned anything off.
    assert_eq!(
        (&account["output_on"], &account["cut"]),
        (&true.into(), &true.into())
    );
    // The next daemon turns the output off before anything else, and may say confirmed.
    let next = plant.serve();
    assert_eq!(next.said["confirmed_off"], true, "{}", next.said);
    plant.dead_within(LOOKS);
    plant.in_state("interrupted");
}

#[test]
fn a_stopped_keeper_toggles_nothing_and_the_relay_opens() {
    let plant = Plant::with_relay(2, &[]);
    let daemon = plant.flowing();
    // With the daemon stopped too nobody replaces it.
    daemon.signal("STOP");
    let keeper = plant.keeper().unwrap();
    let begun = Instant::now();
    signal(keeper, "STOP");
    let (took, account) = dead(&plant, begun);
    println!("the keeper stopped: open after {took:?}");
    assert!(took <= Duration::from_secs(3) + LOOKS, "{took:?}");
    assert_eq!(
        (&account["output_on"], &account["cut"]),
        (&true.into(), &true.into())
    );
    signal(keeper, "CONT");
    daemon.signal("CONT");
}

/// A computer that stands still for less than counts as a sleep, and longer than the relay is sure
/// to be held: the lead may have been open, and nothing else would show it.
#[test]
fn a_relay_that_had_no_edge_for_too_long_ends_the_run() {
    let plant = Plant::with_relay(1, &[]);
    let daemon = plant.flowing();
    let keeper = plant.keeper().unwrap();
    daemon.signal("STOP");
    signal(keeper, "STOP");
    std::thread::sleep(Duration::from_millis(1700));
    signal(keeper, "CONT");
    daemon.signal("CONT");
    let status = plant.in_state("tripped");
    assert_eq!(status["latch"]["code"], "relay-lost", "{status}");
    plant.dead_within(LOOKS);
}

#[test]
fn off_that_is_confirmed_leaves_the_relay_open_and_cuts_nothing() {
    let plant = Plant::with_relay(SPEED, &[]);
    let _daemon = plant.flowing();
    let said = plant.run(&["stop", "--json"]).json(0);
    assert_eq!(
        (&said["confirmed"], &said["cut"]),
        (&true.into(), &false.into())
    );
    let account = wait("an open relay", || {
        Some(plant.account()).filter(|account| account["cut"] == true)
    });
    assert_eq!(account["output_on"], false, "{account}");
    let left = record(&plant);
    assert_eq!(left["confirmed_off"], true, "{left}");
    assert!(left["cut"].is_null(), "{left}");
}

#[test]
fn a_welded_relay_is_found_before_the_run() {
    let plant = Plant::with_relay(SPEED, &["--ails", "relay-welded"]);
    let _daemon = plant.serve();
    let refused = plant.run(&["start", "job.toml", "--json"]).refused(1);
    assert_eq!(refused, "relay-stuck");
    plant.in_state("tripped");
    plant.dead_within(LOOKS);
    // No more than the proving current has flowed, and that for seconds: 5 mA for a minute.
    let charge = plant.account()["charge_true_ah"].as_f64().unwrap();
    assert!(charge < 0.005 / 60.0, "{charge} Ah");
}

#[test]
fn a_relay_that_never_closes_is_found_before_the_run() {
    let plant = Plant::with_relay(SPEED, &["--ails", "relay-dead"]);
    let _daemon = plant.serve();
    let refused = plant.run(&["start", "job.toml", "--json"]).refused(1);
    assert_eq!(refused, "relay-open");
    plant.in_state("tripped");
    plant.dead_within(LOOKS);
}

#[test]
fn a_relay_whose_port_is_pulled_out_ends_the_run_with_off_confirmed() {
    let ails = ["--ails", "relay-pulled", "--ails-after", "120"];
    let plant = Plant::with_relay(SPEED, &ails);
    let _daemon = plant.flowing();
    assert!(
        plant.account()["t_s"].as_f64() < Some(115.0),
        "it took too long to begin"
    );
    let status = plant.in_state("tripped");
    assert_eq!(status["latch"]["code"], "relay-lost", "{status}");
    assert_eq!(status["cut"], false, "{status}");
    plant.dead_within(LOOKS);
    let left = record(&plant);
    assert_eq!(left["confirmed_off"], true, "{left}");
}

/// Behind an open lead a supply that is on, and says off, would look like one that obeyed.
#[test]
fn a_supply_that_lies_is_cut_and_its_word_confirms_nothing() {
    let ails = ["--ails", "output-welded", "--ails-after", "60"];
    let plant = Plant::with_relay(SPEED, &ails);
    let (_, account) = ill_and_alone(&plant);
    assert_eq!(
        (&account["output_on"], &account["cut"]),
        (&true.into(), &true.into())
    );
    // Off is tried once a second: some tries with the lead open.
    at(
        &plant,
        account["t_s"].as_f64().unwrap() + 4.0 * f64::from(SPEED),
    );
    let left = record(&plant);
    assert!(left["cut"].is_string(), "{left}");
    assert_eq!(left["confirmed_off"], false, "{left}");
    assert!(is_alive(plant.keeper().unwrap()), "it goes on trying");
}
