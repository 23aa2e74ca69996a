//! A sample of the deaths that `cargo bench --bench crash` goes through one by one.

use super::crash_points::{count, death};
use super::plant::{Plant, job_of};
use std::fs;

const SAMPLE: u64 = 12;

#[test]
fn killed_at_any_call_it_reopens_clean_and_its_keeper_has_turned_off() {
    let mut plant = Plant::open(40);
    fs::write(plant.path("job.toml"), job_of("charge = \"10 mAh\"")).unwrap();
    let calls = count(&mut plant);
    assert!(calls > 200, "{calls} calls in a whole night");
    let mut interrupted = 0;
    for at in 0..SAMPLE {
        let nth = 1 + at * calls / SAMPLE + at % 7;
        if let Some(death) = death(&mut plant, nth) {
            interrupted += u64::from(death.interrupted);
        }
    }
    assert!(
        interrupted >= SAMPLE / 3,
        "only {interrupted} of {SAMPLE} fell into the run"
    );
}
