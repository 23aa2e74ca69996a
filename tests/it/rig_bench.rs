//! The bench in virtual time: what an exchange takes, and that one seed is one night.

use crate::rig_studio::{
    bench, clean, converse, copper, exchange, flat, job, number, piece, rack, say, station,
};
use nightvat::rig::bench::Bench;
use nightvat::rig::instrument::{Kind, Quirks};
use nightvat::rig::world::World;
use nightvat::spec::Surface;
use nightvat::supply::wire::{Exchange, Line, ReplyEnd, WireFault};
use nightvat::units::{Moment, Span};

fn plate(kind: Kind, change: impl FnOnce(&mut Quirks)) -> Bench {
    let world = clean(&job(vec![piece("plate", Surface::Metal, flat(100.0))]));
    let mut quirks = Quirks::of(kind);
    change(&mut quirks);
    bench(kind, quirks, world)
}

#[test]
fn an_exchange_takes_its_bytes_and_the_reply_time() {
    // 8N1: ten bits a byte. `*IDN?` NL is 6 bytes, the reply 31 and its NL; with 10 ms between
    // them, at 9600 baud: 38 · 10/9600 s + 10 ms = 49.583 ms; at 115 200 baud 13.299 ms.
    for (baud, seconds) in [(9_600, 0.049_583), (115_200, 0.013_299)] {
        let mut supply = plate(Kind::Standard, |quirks| {
            quirks.baud = baud;
            quirks.reply_s = [0.010, 0.010];
        });
        let outcome = say(&mut supply, "*IDN?");
        assert_eq!(outcome.sent, Moment::ZERO);
        assert!(
            (outcome.received.s() - seconds).abs() < 1e-6,
            "{baud}: {outcome:?}"
        );
        assert_eq!(supply.now(), outcome.received);
    }
}

#[test]
fn a_write_is_over_when_its_bytes_have_left_and_the_gap_is_kept() {
    let mut supply = plate(Kind::Terse, |_| {});
    let write = Exchange {
        gap: Span::from_ms(50.0),
        ..exchange(b"C0.3500", ReplyEnd::None)
    };
    let first = supply.exchange(&write);
    // 7 bytes at 9600 baud: 7.292 ms; then 50 ms of silence.
    assert!((first.received.s() - 0.007_292).abs() < 1e-6);
    let second = supply.exchange(&exchange(b"c", ReplyEnd::Count(6)));
    assert!((second.sent.s() - 0.057_292).abs() < 1e-6);
    // One byte, 40 ms to digest, six bytes: 47.292 ms.
    assert!((second.received.s() - second.sent.s() - 0.047_292).abs() < 1e-6);
}

#[test]
fn a_short_reply_is_partial_and_the_quiet_end_waits() {
    let mut supply = plate(Kind::Terse, |_| {});
    let long = supply.exchange(&exchange(b"c", ReplyEnd::Count(9)));
    assert_eq!(long.reply, Err(WireFault::Partial(b"0.0000".to_vec())));
    // The wait for a seventh byte: 100 ms after the sixth.
    assert!((long.received.s() - long.sent.s() - 0.147_292).abs() < 1e-6);
    let quiet = supply.exchange(&exchange(b"c", ReplyEnd::Quiet(20)));
    assert_eq!(quiet.reply, Ok(b"0.0000".to_vec()));
    assert!((quiet.received.s() - quiet.sent.s() - 0.047_292).abs() < 1e-6);
    assert!((supply.now().s() - quiet.received.s() - 0.020).abs() < 1e-6);
}

#[test]
fn a_late_reply_stays_in_the_line_and_answers_the_wrong_question() {
    let mut supply = plate(Kind::Standard, |quirks| quirks.reply_s = [0.050, 0.050]);
    let hasty = Exchange {
        first_byte: Span::from_ms(10.0),
        ..exchange(b"*IDN?\n", ReplyEnd::Byte(vec![b'\n']))
    };
    assert_eq!(supply.exchange(&hasty).reply, Err(WireFault::Silent));
    let wrong = say(&mut supply, "OUTP?").reply.unwrap();
    assert_eq!(wrong, b"NIGHTVAT,SIMULATED-SUPPLY,0,1.0");
    let drain = supply.exchange(&exchange(b"", ReplyEnd::Quiet(100)));
    assert_eq!(drain.reply, Ok(b"0\n".to_vec()));
}

#[test]
fn the_clean_bench_reads_the_truth() {
    let mut supply = plate(Kind::Standard, |_| {});
    converse(&mut supply, &[("VOLT 2.5;CURR 0.123456789;OUTP ON", "")]);
    supply.rest(Span::from_s(1.0));
    assert_eq!(number(&mut supply, "MEAS:CURR?"), 0.123_456_789);
    let volts = number(&mut supply, "MEAS:VOLT?");
    assert!((volts - supply.truth().voltage_v).abs() < 1e-9);
}

#[test]
fn time_that_nobody_uses_is_charged_too() {
    let mut supply = plate(Kind::Standard, |quirks| quirks.slew_a_per_s = 1e12);
    converse(&mut supply, &[("VOLT 5;CURR 0.5", "")]);
    let on = say(&mut supply, "OUTP ON").received;
    supply.rest(Span::from_h(10.0));
    let off = say(&mut supply, "OUTP OFF").received;
    supply.rest(Span::from_h(1.0));
    let charge = supply.truth().charge_ah * 3600.0;
    assert!(
        (charge / (0.5 * (off.s() - on.s())) - 1.0).abs() < 1e-9,
        "{charge}"
    );
}

/// Some hours of talk; every byte and moment of it.
fn night(kind: Kind, seed: u64) -> (Vec<String>, String) {
    let world = World::draw(&rack(), &station(), &copper(0.995), seed, false);
    let mut supply = bench(kind, Quirks::of(kind), world);
    let (start, current, voltage): (&[&str], &str, &str) = match kind {
        Kind::Standard => (
            &["VOLT 2.5\n", "CURR 0.2\n", "OUTP ON\n"],
            "MEAS:CURR?\n",
            "MEAS:VOLT?\n",
        ),
        Kind::Terse => (&["V02.500", "C0.2000", "X1"], "c", "v"),
    };
    let end = || match kind {
        Kind::Standard => ReplyEnd::Byte(vec![b'\n']),
        Kind::Terse => ReplyEnd::Count(6),
    };
    let mut log = Vec::new();
    for line in start {
        log.push(format!(
            "{:?}",
            supply.exchange(&exchange(line.as_bytes(), ReplyEnd::None))
        ));
        supply.rest(Span::from_ms(60.0));
    }
    for _ in 0..2000 {
        for query in [current, voltage] {
            log.push(format!(
                "{:?}",
                supply.exchange(&exchange(query.as_bytes(), end()))
            ));
        }
        supply.rest(Span::from_s(5.0));
    }
    (log, format!("{:?}", supply.truth()))
}

#[test]
fn one_seed_is_one_night_to_the_last_byte() {
    for kind in [Kind::Standard, Kind::Terse] {
        assert_eq!(night(kind, 5), night(kind, 5));
        assert_ne!(night(kind, 5).0, night(kind, 6).0);
    }
}

#[test]
fn each_second_of_a_steady_current_is_charged_whole() {
    for start in 0..100_u32 {
        let mut supply = plate(Kind::Standard, |_| {});
        supply.rest(Span::from_s(1.0 + f64::from(start) / 100.0));
        converse(&mut supply, &[("VOLT 5;CURR 1;OUTP ON;OUTP?", "1")]);
        let instrument = supply.instrument();
        let mut before: Option<f64> = None;
        for second in 3..30 {
            let truth = instrument.truth(Moment::from_s(f64::from(second)));
            if let Some(before) = before {
                let charge = (truth.charge_ah - before) * 3600.0;
                assert!((charge - 1.0).abs() < 1e-9, "{start} {second}: {charge}");
            }
            before = (truth.current_a > 0.99).then_some(truth.charge_ah);
        }
    }
}
