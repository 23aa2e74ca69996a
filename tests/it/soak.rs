//! Each fault of the soak once. `cargo bench --bench soak` goes on with them for an hour.

use super::plant::Plant;
use super::soak_faults::{ALL, flows_for, goes_wrong, held};
use std::time::Duration;

/// Twice round takes some two minutes, where a maintainer's command takes an hour: the second round must not hold more than the first.
#[test]
fn one_fault_after_the_other_leaves_no_memory_no_descriptor_and_no_growing_ledger() {
    let mut plant = Plant::open(5);
    let daemon = plant.serve();
    let mut rounds = Vec::new();
    for _ in 0..2 {
        for wrong in ALL {
            while !flows_for(&plant, Duration::from_millis(500)) {}
            goes_wrong(&mut plant, &daemon, wrong);
        }
        rounds.push(held(&plant, &daemon));
    }
    let (first, second) = (rounds[0], rounds[1]);
    assert_eq!(second.descriptors, first.descriptors, "{rounds:?}");
    assert!(second.threads <= first.threads, "{rounds:?}");
    assert!(
        second.resident_kb <= first.resident_kb + 1024,
        "a mebibyte more after ten faults: {rounds:?}"
    );
    // A run of some seconds at 20 x is a hundred readings of some 56 bytes, in pages of 4096; the
    // journal is a thousand pages before it begins anew.
    let grown = second.ledger_bytes - first.ledger_bytes;
    assert!(grown < 10 * 100_000, "{rounds:?}");
    assert!(second.journal_bytes < 5_000_000, "{rounds:?}");
}
