//! Stop while an exchange is on the wire: what it set may flow until off, and the bounds hold it.

use super::night_kit::{Studio, WIRE, studio};
use nightvat::control::Wish;
use nightvat::ledger::RunHead;
use nightvat::rig::bench::Bench;
use nightvat::rig::instrument::Instrument;
use nightvat::run::{Effect, Habits, Input, Run};
use nightvat::supply::link::Link;
use nightvat::supply::wire::Line;
use nightvat::units::{Bounded, Charge, Moment, Span};
use std::collections::VecDeque;

/// A run in which a person says stop while the `nth` exchange is on the wire. The charge it
/// accounts for, what truly flowed, and what was on the wire.
fn stopped_at(studio: &Studio, nth: usize) -> (Bounded<Charge>, f64, String) {
    let world = studio.world.clone();
    let instrument = Instrument::new(studio.kind, studio.quirks.clone(), world, Moment::ZERO);
    let mut bench = Bench::new(instrument, Moment::ZERO);
    let mut run = Run::new(
        Moment::ZERO,
        1,
        &RunHead::default(),
        studio.plan.clone(),
        studio.supply.clone(),
        Link::new(studio.profile.clone()),
        Habits::default(),
    );
    let mut inputs = VecDeque::from([Input::Begin]);
    let (mut exchanges, mut wake, mut ended) = (0, None, false);
    let mut on_the_wire = String::new();
    while !ended {
        let Some(input) = inputs.pop_front() else {
            let at: Moment = wake.take().expect("something comes next");
            bench.rest(at.since(bench.now()).max(Span::ZERO));
            inputs.push_back(Input::Woke);
            continue;
        };
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
