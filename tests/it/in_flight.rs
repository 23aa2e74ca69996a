//! Stop while an exchange is on the wire: what it set may flow until off, and the bounds hold it.
//! And what is written down at once when the relay is let go since no answer comes.

use super::night_kit::{Studio, WIRE, studio};
use nightvat::control::Wish;
use nightvat::ledger::{Entry, RunHead};
use nightvat::rig::bench::Bench;
use nightvat::rig::instrument::Instrument;
use nightvat::run::{Effect, Habits, Input, Run};
use nightvat::supply::link::Link;
use nightvat::supply::wire::{Line, Outcome, WireFault};
use nightvat::units::{Bounded, Charge, Moment, Span};
use std::collections::VecDeque;

/// A batch is full with each reading.
const BATCH_EACH: Habits = Habits {
    batch: Span::from_ms(1.0),
    ledger_patience: Span::from_s(15.0),
};

/// A bench, and a run that has not begun.
fn before(studio: &Studio, habits: Habits) -> (Bench, Run) {
    let world = studio.world.clone();
    let instrument = Instrument::new(studio.kind, studio.quirks.clone(), world, Moment::ZERO);
    let run = Run::new(
        Moment::ZERO,
        1,
        &RunHead::default(),
        studio.plan.clone(),
        studio.supply.clone(),
        Link::new(studio.profile.clone()),
        habits,
    );
    (Bench::new(instrument, Moment::ZERO), run)
}

/// What the run is told next; if nothing has come, the bench rests until it wants to wake.
fn next(inputs: &mut VecDeque<Input>, wake: &mut Option<Moment>, bench: &mut Bench) -> Input {
    inputs.pop_front().unwrap_or_else(|| {
        let at = wake.take().expect("something comes next");
        bench.rest(at.since(bench.now()).max(Span::ZERO));
        Input::Woke
    })
}

/// A run in which a person says stop while the `nth` exchange is on the wire. The charge it
/// accounts for, what truly flowed, and what was on the wire.
fn stopped_at(studio: &Studio, nth: usize) -> (Bounded<Charge>, f64, String) {
    let (mut bench, mut run) = before(studio, Habits::default());
    let mut inputs = VecDeque::from([Input::Begin]);
    let (mut exchanges, mut wake, mut ended) = (0, None, false);
    let mut on_the_wire = String::new();
    while !ended {
        let input = next(&mut inputs, &mut wake, &mut bench);
        let mut effects = Vec::new();
        run.handle(bench.now(), input, &mut effects);
        for effect in effects {
            match effect {
                Effect::Exchange(exchange) => {
                    exchanges += 1;
                    let outcome = bench.exchange(&exchange);
                    if exchanges == nth {
                        on_the_wire = String::from_utf8_lossy(&exchange.send).trim().to_owned();
                        inputs.push_back(Input::Asked(Wish::Stop));
                    }
                    inputs.push_back(Input::Wire(outcome));
                }
                Effect::Commit(ticket) => inputs.push_back(Input::Committed(ticket)),
                Effect::Wake(at) => wake = Some(at),
                Effect::Ended(_) => ended = true,
                Effect::Relay(contact) => bench.relay(contact),
                Effect::Record(_) | Effect::Arm(_) | Effect::Renew | Effect::Disarm => {}
            }
        }
    }
    (run.core().charge(), bench.truth().charge_ah, on_the_wire)
}

#[test]
fn a_stop_at_any_exchange_leaves_bounds_that_hold_what_flowed() {
    let studio = studio(WIRE, "scpi-standard", 1, true);
    let (mut raises, mut reads) = (0, 0);
    for nth in 1..160 {
        let (charge, flowed, on_the_wire) = stopped_at(&studio, nth);
        let (low, high) = (charge.low.ah(), charge.high.ah());
        assert!(
            low <= flowed + 1e-12 && flowed <= high + 1e-12,
            "stop at `{on_the_wire}`, the {nth}.: {low}..{high} Ah, {flowed} Ah flowed"
        );
        raises += usize::from(on_the_wire.starts_with("CURR ") || on_the_wire == "OUTP ON");
        reads += usize::from(on_the_wire == "MEAS:CURR?");
    }
    assert!(
        raises >= 3 && reads >= 10,
        "{raises} raises, {reads} readings"
    );
}

/// A look comes due in the same reading with which a batch is full. The keeper answers for the
/// output until that is proved off: disarmed before, it would look for itself, and off would wait
/// for it.
#[test]
fn on_the_way_to_a_pause_the_keeper_stays_armed() {
    let job = format!("{WIRE}[[look]]\nat = \"2 um\"\n");
    let studio = studio(&job, "scpi-standard", 1, true);
    let (mut bench, mut run) = before(&studio, BATCH_EACH);
    let mut inputs = VecDeque::from([Input::Begin]);
    let (mut wake, mut disarmed) = (None, 0);
    while !run.core().is_paused() {
        let input = next(&mut inputs, &mut wake, &mut bench);
        let mut effects = Vec::new();
        run.handle(bench.now(), input, &mut effects);
        for effect in effects {
            match effect {
                Effect::Exchange(exchange) => {
                    inputs.push_back(Input::Wire(bench.exchange(&exchange)));
                }
                Effect::Commit(ticket) => inputs.push_back(Input::Committed(ticket)),
                Effect::Wake(at) => wake = Some(at),
                Effect::Relay(contact) => bench.relay(contact),
                Effect::Disarm => {
                    assert!(run.core().is_paused(), "{:?}", run.core().state());
                    disarmed += 1;
                }
                Effect::Record(_) | Effect::Arm(_) | Effect::Renew | Effect::Ended(_) => {}
            }
        }
    }
    assert_eq!(disarmed, 1);
}

/// Every entry of a run with a relay whose supply falls silent after so many exchanges, in batches
/// as they came; each with whether a commit came with it.
fn falls_silent(studio: &Studio, after: usize) -> Vec<(Vec<Entry>, bool)> {
    let (mut bench, mut run) = before(studio, Habits::default());
    let mut inputs = VecDeque::from([Input::Begin]);
    let (mut exchanges, mut wake, mut batches) = (0, None, Vec::new());
    while bench.now() < Moment::from_s(1800.0) {
        let input = next(&mut inputs, &mut wake, &mut bench);
        let (mut effects, mut entries, mut commits) = (Vec::new(), Vec::new(), false);
        run.handle(bench.now(), input, &mut effects);
        for effect in effects {
            match effect {
                Effect::Exchange(exchange) => {
                    exchanges += 1;
                    let outcome = if exchanges <= after {
                        bench.exchange(&exchange)
                    } else {
                        let sent = bench.now();
                        bench.rest(Span::from_ms(300.0));
                        Outcome {
                            sent,
                            received: bench.now(),
                            reply: Err(WireFault::Silent),
                        }
                    };
                    inputs.push_back(Input::Wire(outcome));
                }
                Effect::Commit(ticket) => {
                    commits = true;
                    inputs.push_back(Input::Committed(ticket));
                }
                Effect::Record(entry) => entries.push(entry),
                Effect::Wake(at) => wake = Some(at),
                Effect::Relay(contact) => bench.relay(contact),
                Effect::Arm(_) | Effect::Renew | Effect::Disarm | Effect::Ended(_) => {}
            }
        }
        batches.push((entries, commits));
    }
    batches
}

/// The lead was opened by force: that is on the disk at once. That off goes out again each second
/// is not worth a commit each.
#[test]
fn a_cut_is_durable_at_once_and_what_is_only_said_waits() {
    let studio = studio(WIRE, "scpi-standard", 1, true).with_relay();
    let batches = falls_silent(&studio, 2000);
    let with = |wanted: &str| -> Vec<bool> {
        let says = |entry: &Entry| matches!(entry, Entry::Event { code, .. } if *code == wanted);
        let those = batches
            .iter()
            .filter(|(entries, _)| entries.iter().any(says) && !entries.iter().any(entered));
        those.map(|(_, commits)| *commits).collect()
    };
    let cut = batches.iter().find(|(entries, _)| {
        let says = |entry: &Entry| matches!(entry, Entry::Event { code: "cut", .. });
        entries.iter().any(says)
    });
    assert!(cut.is_some_and(|(_, commits)| *commits), "{cut:?}");
    let again = with("off-again");
    assert!(again.len() > 50, "{again:?}");
    assert!(!again.contains(&true), "{again:?}");
}

fn entered(entry: &Entry) -> bool {
    matches!(entry, Entry::Entered { .. })
}
