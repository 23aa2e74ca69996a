//! Conversations with the simulated terse supply, written by hand from its table.

use crate::rig_studio::{bench, clean, exchange, flat, job, piece};
use nightvat::rig::bench::Bench;
use nightvat::rig::cell::CellFault;
use nightvat::rig::instrument::{Kind, Quirks};
use nightvat::spec::Surface;
use nightvat::supply::wire::{Exchange, Line, ReplyEnd, WireFault};
use nightvat::units::Span;

fn supply() -> Bench {
    let mut world = clean(&job(vec![piece("plate", Surface::Metal, flat(100.0))]));
    world.clean = false;
    bench(Kind::Terse, Quirks::of(Kind::Terse), world)
}

/// A write with the gap the supply needs, or without one.
fn put(bench: &mut Bench, text: &str, gap_ms: f64) {
    let write = Exchange {
        gap: Span::from_ms(gap_ms),
        ..exchange(text.as_bytes(), ReplyEnd::None)
    };
    assert_eq!(bench.exchange(&write).reply, Ok(Vec::new()));
}

fn ask(bench: &mut Bench, text: &str, count: usize) -> Result<Vec<u8>, WireFault> {
    bench
        .exchange(&exchange(text.as_bytes(), ReplyEnd::Count(count)))
        .reply
}

#[test]
fn says_who_it_is_in_sixteen_characters() {
    assert_eq!(
        ask(&mut supply(), "?", 16),
        Ok(b"SIM-TERSE-01 V10".to_vec())
    );
}

#[test]
fn sets_measures_and_reports_in_fixed_widths() {
    let mut supply = supply();
    assert_eq!(ask(&mut supply, "g", 12), Ok(b"0.000000.000".to_vec()));
    assert_eq!(ask(&mut supply, "p", 12), Ok(b"33.0005.5000".to_vec()));
    assert_eq!(ask(&mut supply, "s", 1), Ok(vec![0x80]));
    for text in ["C0.3500", "V02.500", "P02.700", "Q3.1000"] {
        put(&mut supply, text, 50.0);
    }
    assert_eq!(ask(&mut supply, "g", 12), Ok(b"0.350002.500".to_vec()));
    assert_eq!(ask(&mut supply, "p", 12), Ok(b"02.7003.1000".to_vec()));
    assert_eq!(ask(&mut supply, "c", 6), Ok(b"0.0000".to_vec()));
    put(&mut supply, "X1", 50.0);
    assert_eq!(ask(&mut supply, "s", 1), Ok(vec![0x83]));
    assert_eq!(ask(&mut supply, "c", 6), Ok(b"0.3500".to_vec()));
    let volts = ask(&mut supply, "v", 6).unwrap();
    assert_eq!(&volts[..3], b"00.", "{volts:?}");
    put(&mut supply, "V00.100", 50.0);
    assert_eq!(ask(&mut supply, "s", 1), Ok(vec![0x81]));
    assert_eq!(ask(&mut supply, "v", 6), Ok(b"00.100".to_vec()));
    put(&mut supply, "X0", 50.0);
    assert_eq!(ask(&mut supply, "s", 1), Ok(vec![0x80]));
}

#[test]
fn loses_what_comes_while_it_digests() {
    let mut supply = supply();
    // 7 bytes at 9600 baud take 7.3 ms: the second command falls into the 40 ms of the first.
    put(&mut supply, "C0.3500", 0.0);
    put(&mut supply, "V02.500", 50.0);
    assert_eq!(ask(&mut supply, "g", 12), Ok(b"0.350000.000".to_vec()));
    put(&mut supply, "V02.500", 50.0);
    assert_eq!(ask(&mut supply, "g", 12), Ok(b"0.350002.500".to_vec()));
}

#[test]
fn ignores_what_is_not_in_its_table_without_a_word() {
    let mut supply = supply();
    put(&mut supply, "C0.3500", 50.0);
    for text in [
        "Z", "C9.9999", "C00.350", "C0,3500", "V99.000", "X7", "\r\n",
    ] {
        put(&mut supply, text, 150.0);
        assert_eq!(
            ask(&mut supply, "g", 12),
            Ok(b"0.350000.000".to_vec()),
            "{text:?}"
        );
    }
    assert_eq!(ask(&mut supply, "Z", 1), Err(WireFault::Silent));
}

#[test]
fn forgets_half_a_command() {
    let mut supply = supply();
    put(&mut supply, "C0.3", 90.0);
    put(&mut supply, "500", 50.0);
    assert_eq!(ask(&mut supply, "g", 12), Ok(b"0.350000.000".to_vec()));
    put(&mut supply, "C0.4", 150.0);
    assert_eq!(ask(&mut supply, "g", 12), Ok(b"0.350000.000".to_vec()));
}

#[test]
fn trips_and_stays_off_until_cleared() {
    let mut supply = supply();
    for text in ["C0.5000", "V02.500", "P02.000", "X1"] {
        put(&mut supply, text, 50.0);
    }
    supply.fault(CellFault::LeadOpen);
    assert_eq!(ask(&mut supply, "s", 1), Ok(vec![0x84]));
    put(&mut supply, "X1", 50.0);
    assert_eq!(ask(&mut supply, "s", 1), Ok(vec![0x84]));
    put(&mut supply, "k", 50.0);
    assert_eq!(ask(&mut supply, "s", 1), Ok(vec![0x80]));
    supply.fault(CellFault::LeadBack);
    put(&mut supply, "Q0.4000", 50.0);
    put(&mut supply, "X1", 50.0);
    assert_eq!(ask(&mut supply, "s", 1), Ok(vec![0x88]));
}
