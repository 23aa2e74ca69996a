//! The real programs with a fault a minute: `cargo bench --bench soak` for an hour, `-- 5` for five
//! minutes, `-- 5 20` with a fault every 20 s.

#![allow(dead_code, clippy::unwrap_used)] // it takes in modules of the tests and uses a part of them
#[path = "../it/plant.rs"]
mod plant;
#[path = "../it/soak_faults.rs"]
mod soak_faults;

use plant::Plant;
use soak_faults::{ALL, Held, flows_for, goes_wrong, held};
use std::time::{Duration, Instant};

/// A stall of a second of a busy machine is then still no stale reading.
const SPEED: u32 = 5;
/// A fault itself takes some seconds of its minute.
const FAULT: Duration = Duration::from_secs(8);

fn main() {
    let numbers: Vec<u64> = std::env::args().filter_map(|it| it.parse().ok()).collect();
    let lasts = Duration::from_secs(60 * numbers.first().copied().unwrap_or(60));
    let every = Duration::from_secs(numbers.get(1).copied().unwrap_or(60));
    let mut plant = Plant::beside_others(SPEED);
    let daemon = plant.serve();
    let begun = Instant::now();
    let (mut faults, mut unasked, mut seen) = (0, 0, Vec::new());
    while begun.elapsed() < lasts {
        let wrong = ALL[faults % ALL.len()];
        let minute = Instant::now();
        while !flows_for(&plant, every.saturating_sub(FAULT + minute.elapsed())) {
            unasked += 1;
        }
        let over = goes_wrong(&mut plant, &daemon, wrong);
        faults += 1;
        let now = held(&plant, &daemon);
        println!(
            "{:5.0} s  {wrong:?}: {over}; {} kB resident, {} descriptors, {} threads, ledger {} kB",
            begun.elapsed().as_secs_f64(),
            now.resident_kb,
            now.descriptors,
            now.threads,
            now.ledger_bytes / 1000
        );
        seen.push(now);
        std::thread::sleep(every.saturating_sub(minute.elapsed()));
    }
    println!("{unasked} runs ended by themselves");
    report(&seen, faults, begun);
}

/// The first round of all faults fills what is filled once; from then on nothing may grow.
fn report(seen: &[Held], faults: usize, begun: Instant) {
    let warm = seen.get(ALL.len() - 1).or(seen.first()).expect("a fault");
    let last = seen.last().expect("a fault");
    let most = seen.iter().skip(ALL.len()).map(|held| held.resident_kb);
    println!(
        "{faults} faults in {:.0} min, all off by the emulator's account. After the first round {} \
         kB resident, at the end {} kB, at most {} kB; descriptors {} and {}; ledger {} kB, {} kB \
         a run, journal {} kB; keeper's log {} kB",
        begun.elapsed().as_secs_f64() / 60.0,
        warm.resident_kb,
        last.resident_kb,
        most.max().unwrap_or(last.resident_kb),
        warm.descriptors,
        last.descriptors,
        last.ledger_bytes / 1000,
        last.ledger_bytes / 1000 / faults as u64,
        last.journal_bytes / 1000,
        last.log_bytes / 1000
    );
    assert!(last.resident_kb <= warm.resident_kb + 1024, "memory grows");
    assert_eq!(
        last.descriptors, warm.descriptors,
        "descriptors are left open"
    );
    // Two thousand readings and ten minutes around each event are kept: some 56 bytes each.
    let a_run = last.ledger_bytes / faults as u64;
    assert!(a_run < 400_000, "the ledger grows without bound");
    assert!(
        last.journal_bytes < 5_000_000,
        "the journal is never emptied"
    );
}
