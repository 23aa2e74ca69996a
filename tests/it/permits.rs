//! The two proofs: what a permit allows, and what shows that the output is off.

use super::desk::{Desk, talkative};
use super::guards::supply;
use super::night_kit::WIRE;
use nightvat::control::{Action, ConfirmedOff, Fault, State};
use nightvat::exchange::{Ask, Capability, Order, Reading, Tolerance};
use nightvat::units::{Current, Moment, Span, Voltage};

#[test]
fn a_permit_ends_with_its_envelope_in_current_voltage_and_time() {
    let mut desk = Desk::begin(WIRE, talkative());
    desk.reach(State::Building);
    let mut permits = desk.acts.iter().filter_map(|(_, action)| match action {
        Action::Energise(_, permit) => Some(*permit),
        _ => None,
    });
    let permit = permits.next_back().unwrap();
    let envelope = permit.envelope();
    let (most, ceiling) = (envelope.current, envelope.voltage);
    let more = most + Current::from_ma(0.001);
    let higher = ceiling + Voltage::from_v(1e-6);
    let before = envelope.until - Span::from_ms(1.0);
    for (order, allowed) in [
        (Order::SetCurrent(most), true),
        (Order::SetCurrent(more), false),
        (Order::SetVoltage(ceiling), true),
        (Order::SetVoltage(higher), false),
        (Order::On, true),
    ] {
        assert_eq!(permit.allows(order, before), allowed, "{order:?}");
        assert!(
            !permit.allows(order, envelope.until),
            "{order:?} at its end"
        );
    }
}

/// The ledger takes no envelope any more: when the last has run out nothing is raised, although the
/// schedule wants more every second.
#[test]
fn without_a_new_envelope_nothing_is_raised_any_more() {
    let mut desk = Desk::begin(WIRE, talkative());
    desk.reach(State::Ramping);
    desk.disk = Span::from_h(10.0);
    let until = desk.envelopes().last().unwrap().1.until;
    // From here on only the envelope that stands is left, 10 min of it at most; the ramp takes 20.
    desk.pass(15.0 * 60.0);
    assert!(desk.now > until + Span::from_min(3.0));
    let raised = desk
        .acts
        .iter()
        .filter(|(at, action)| *at >= until && matches!(action, Action::Energise(..)));
    assert_eq!(raised.count(), 0);
    let before = desk.acts.iter().filter(|(at, action)| {
        *at < until && *at > until - Span::from_min(5.0) && matches!(action, Action::Energise(..))
    });
    assert!(before.count() > 5, "it did follow the ramp until then");
}

fn meter(fixed: f64, step: f64, reads: Ask) -> Capability {
    Capability {
        read_current: Tolerance {
            share: 0.0,
            fixed,
            step,
        },
        reads,
        ..supply()
    }
}

fn shows(amps: f64, output: Option<bool>, channel: Option<bool>) -> Reading {
    Reading {
        received: Moment::from_s(7.0),
        current: Some(Current::from_a(amps)),
        output,
        channel,
        ..Reading::default()
    }
}

/// A meter off by 2 mA with steps of 4 mA, and 1 mA that counts as nothing: 2 + 6 + 1 = 9 mA.
#[test]
fn off_is_proved_by_a_reading_and_by_every_part_of_it() {
    let tells = meter(0.002, 0.004, Ask::MEASURED | Ask::OUTPUT);
    let dumb = meter(0.002, 0.004, Ask::MEASURED);
    for (reading, supply, proved) in [
        (shows(0.0, Some(false), None), &tells, true),
        (shows(0.0089, Some(false), Some(true)), &tells, true),
        (shows(-0.0089, Some(false), None), &tells, true),
        (shows(0.0091, Some(false), None), &tells, false),
        (shows(-0.0091, Some(false), None), &tells, false),
        (shows(0.0, Some(true), None), &tells, false),
        // It can tell and did not.
        (shows(0.0, None, None), &tells, false),
        // It cannot tell: the current alone decides.
        (shows(0.0, None, None), &dumb, true),
        (shows(0.0091, None, None), &dumb, false),
        // Another output's silence.
        (shows(0.0, Some(false), Some(false)), &tells, false),
    ] {
        let proof = ConfirmedOff::from_reading(&reading, supply);
        assert_eq!(proof.is_some(), proved, "{reading:?}");
        assert!(proof.is_none_or(|it| it.at() == Moment::from_s(7.0)));
    }
    let nothing = Reading {
        current: None,
        ..shows(0.0, Some(false), None)
    };
    assert_eq!(ConfirmedOff::from_reading(&nothing, &tells), None);
}

/// A commit that takes a minute delays the start and is no reason for the supply to wait unasked:
/// the output stays off, and the run begins.
#[test]
fn a_slow_ledger_delays_what_raises_and_nothing_else() {
    let mut desk = Desk::begin(WIRE, talkative());
    desk.disk = Span::from_s(4.0);
    desk.reach(State::Striking);
    assert_eq!(desk.spoke(), Vec::<Fault>::new());
    for (at, action) in &desk.acts {
        if let Action::Energise(order, permit) = action {
            let envelopes = desk.envelopes();
            let asked = envelopes.iter().find(|(_, it)| *it == permit.envelope());
            let asked = asked.unwrap().0;
            assert!(*at >= asked + Span::from_s(4.0), "{order:?} at {}", at.s());
        }
    }
    // While the ledger writes, the keeper hears once a second that all is well.
    let envelope = desk.envelopes()[1].0;
    let kept = desk.acts.iter().filter(|(at, action)| {
        *at > envelope && *at < envelope + Span::from_s(4.0) && *action == Action::PeriodDone
    });
    assert_eq!(kept.count(), 3);
}
