//! A sample of the deaths that `cargo bench --bench crash` goes through one by one.

use super::crash_points::{by_call, count, death};
use super::plant::{Plant, job_of};
use super::storage_faults::{self, Trouble};
use std::fs;

const SAMPLE: u64 = 12;

#[test]
fn killed_at_any_call_it_reopens_clean_and_its_keeper_has_turned_off() {
    let mut plant = Plant::open(40);
    fs::write(plant.path("job.toml"), job_of("charge = \"10 mAh\"")).unwrap();
    let calls = count(&mut plant);
    assert!(calls > 200, "{calls} calls in a whole night");
    let mut deaths = Vec::new();
    for at in 0..SAMPLE {
        let nth = 1 + at * calls / SAMPLE + at % 7;
        deaths.extend(death(&mut plant, nth));
    }
    for death in &deaths {
        println!(
            "{}: off in {:.2} s, {:.1} s lost",
            death.at, death.off_s, death.lost_s
        );
    }
    println!("{:?}", by_call(&deaths));
    let interrupted = deaths.iter().filter(|death| death.interrupted).count() as u64;
    assert!(
        interrupted >= SAMPLE / 3,
        "only {interrupted} of {SAMPLE} fell into the run"
    );
}

#[test]
fn a_disk_that_fails_in_any_way_in_a_night_or_a_recovery_leaves_nothing_on_and_a_sound_ledger() {
    let mut plant = Plant::open(40);
    fs::write(plant.path("job.toml"), job_of("charge = \"10 mAh\"")).unwrap();
    for in_recovery in [false, true] {
        let calls = storage_faults::count(&mut plant, in_recovery);
        assert!(calls > 20, "{calls} calls to the disk");
        let troubles = Trouble::all(in_recovery);
        let mut happened = 0;
        for (at, of) in (1..).zip(&troubles) {
            let nth = at * calls / (troubles.len() as u64 + 1);
            let found = storage_faults::trouble(&mut plant, nth.max(1), *of);
            if let Some(found) = found {
                happened += 1;
                println!("{of:?} at {}: {}", found.at, found.end);
            }
        }
        assert!(
            happened >= troubles.len() as u64 - 2,
            "{happened} of {}",
            troubles.len()
        );
    }
}
