//! Before anything flows: what is asked, how often, how far apart, and what is not taken twice.

use super::desk::{Desk, talkative};
use super::guards::supply;
use super::night_kit::{WIRE, studio};
use nightvat::control::{Action, Carried, Core, Event, Fault, Outcome, Sense, State, Timing, Wish};
use nightvat::exchange::{Ask, Capability, DeviceError, LinkFault, Order, Tolerance};
use nightvat::plan::{OnRecord, Plan};
use nightvat::spec::Level;
use nightvat::units::{Bounded, Charge, Current, Length, Moment, Span, Voltage};
use std::sync::Arc;

fn refused() -> LinkFault {
    LinkFault::Refused(DeviceError {
        code: -222,
        text: "Data out of range".into(),
    })
}

/// So many of the orders that `hits` come to nothing.
fn losing(desk: &mut Desk, count: u32, fault: LinkFault, hits: fn(&Order) -> bool) {
    let mut left = count;
    desk.mishap = Box::new(move |order| {
        let hit = hits(order) && left > 0;
        left -= u32::from(hit);
        hit.then(|| fault.clone())
    });
}

fn count(desk: &Desk, is: fn(&Order) -> bool) -> usize {
    let orders = desk.orders(Moment::ZERO).into_iter();
    orders.filter(|(_, order)| is(order)).count()
}

const ON: fn(&Order) -> bool = |order| *order == Order::On;
const PREPARE: fn(&Order) -> bool = |order| *order == Order::Prepare;
const OFF: fn(&Order) -> bool = |order| *order == Order::Off;

/// Three replies may be lost on the way, a fourth is one too many.
#[test]
fn replies_may_be_lost_three_times() {
    let mut desk = Desk::begin(WIRE, talkative());
    losing(&mut desk, 3, LinkFault::Silent, |order| !order.raises());
    desk.reach(State::Striking);
    assert_eq!(desk.spoke(), Vec::<Fault>::new());

    let mut desk = Desk::begin(WIRE, talkative());
    losing(&mut desk, 4, LinkFault::Silent, |order| !order.raises());
    let ended = Outcome::Tripped(Fault::CommandFailed);
    assert_eq!(desk.finish(), ended);
}

/// What raises is not sent twice: nobody would know since when it flowed.
#[test]
fn on_is_not_said_twice() {
    let mut desk = Desk::begin(WIRE, talkative());
    losing(&mut desk, 1, LinkFault::Silent, ON);
    let ended = Outcome::Tripped(Fault::CommandFailed);
    assert_eq!(desk.finish(), ended);
    assert_eq!(count(&desk, ON), 1);
}

/// An old entry of the error queue may refuse the first preparation, once; nothing else is taken for
/// that.
#[test]
fn a_refusal_is_passed_over_once_and_only_while_preparing() {
    let ended = Outcome::Tripped(Fault::SupplyError);
    let mut desk = Desk::begin(WIRE, talkative());
    losing(&mut desk, 1, refused(), PREPARE);
    desk.reach(State::Striking);
    assert_eq!(count(&desk, PREPARE), 2);

    let mut desk = Desk::begin(WIRE, talkative());
    losing(&mut desk, 2, refused(), PREPARE);
    assert_eq!(desk.finish(), ended);

    let mut desk = Desk::begin(WIRE, talkative());
    losing(&mut desk, 1, refused(), |order| {
        matches!(order, Order::SetVoltage(_))
    });
    assert_eq!(desk.finish(), ended);
    assert_eq!(count(&desk, PREPARE), 1);
    assert_eq!(count(&desk, ON), 0);
}

/// Twenty old errors are read out of the queue; a queue with more is broken.
#[test]
fn twenty_old_errors_are_read_away() {
    for (errors, passes) in [(20, true), (21, false)] {
        let mut desk = Desk::begin(WIRE, talkative());
        let mut left = errors;
        desk.twist = Box::new(move |reading| {
            // A queue that was asked tells its oldest entry; here it was asked from the first
            // inspection on.
            if left > 0 {
                left -= 1;
                reading.error = Some(DeviceError {
                    code: -350,
                    text: "Queue overflow".into(),
                });
            }
        });
        if passes {
            desk.reach(State::Striking);
        } else {
            assert_eq!(desk.finish(), Outcome::Tripped(Fault::SupplyError));
            assert_eq!(count(&desk, ON), 0);
        }
    }
}

/// The small current flows for five seconds and is read twice a second, first half a second after
/// on; then off is tried, and on comes again.
#[test]
fn the_small_current_is_watched_for_five_seconds() {
    let mut desk = Desk::begin(WIRE, talkative());
    desk.reach(State::Striking);
    let orders = desk.orders(Moment::ZERO);
    let on = orders.iter().find(|(_, order)| *order == Order::On);
    let off = orders.iter().find(|(_, order)| *order == Order::Off);
    let (on, off) = (on.unwrap().0 + Span::from_ms(40.0), off.unwrap().0);
    let flowed = off.since(on).s();
    assert!((5.0..5.6).contains(&flowed), "{flowed} s");
    let reads = desk.reads(on);
    let reads: Vec<_> = reads.into_iter().filter(|at| *at < off).collect();
    assert!((reads[0].since(on).s() - 0.5).abs() < 1e-6);
    for pair in reads.windows(2) {
        assert!((pair[1].since(pair[0]).s() - 0.54).abs() < 1e-6, "{pair:?}");
    }
    assert_eq!(count(&desk, ON), 2);
    // What flowed in the proving is on the account: 5 mA or so, for that long.
    let charge = desk.core.charge();
    assert!(charge.low.c() <= 0.005 * flowed && 0.005 * flowed <= charge.high.c());
}

/// An output that reads on after the off of the test is asked again half a second later.
#[test]
fn the_off_of_the_test_is_read_half_a_second_apart() {
    let mut desk = Desk::begin(WIRE, talkative());
    let mut against = 2;
    let mut flowed = false;
    desk.twist = Box::new(move |reading| {
        flowed |= reading.output == Some(true);
        if flowed && reading.output == Some(false) && against > 0 {
            against -= 1;
            reading.output = Some(true);
        }
    });
    desk.reach(State::Striking);
    let orders = desk.orders(Moment::ZERO);
    let off = orders
        .iter()
        .find(|(_, order)| *order == Order::Off)
        .unwrap()
        .0;
    let reads = desk.reads(off);
    for pair in reads[..3].windows(2) {
        let apart = pair[1].since(pair[0]).s();
        assert!((apart - 0.54).abs() < 1e-6, "{apart} s");
    }
    assert_eq!(count(&desk, OFF), 1);
}

/// A voltmeter that shows the same with the output off and on stands still, if it shows more than
/// the meter can tell from nothing: four times its step of 10 mV and its error of 20 mV.
#[test]
fn a_voltmeter_that_stands_still_is_found_before_the_night() {
    for (shown, found) in [(0.11, false), (0.13, true)] {
        let can = Capability {
            read_voltage: Tolerance {
                share: 0.0,
                fixed: 0.02,
                step: 0.01,
            },
            ..talkative()
        };
        let mut desk = Desk::begin(WIRE, can);
        desk.twist = Box::new(move |reading| {
            reading.voltage = reading.voltage.map(|_| Voltage::from_v(shown));
        });
        if found {
            assert_eq!(desk.finish(), Outcome::Tripped(Fault::ReadbackFrozen));
        } else {
            desk.reach(State::Striking);
        }
    }
}

/// A ledger that takes fifteen seconds for each envelope: meanwhile nothing is read, which is
/// nobody's fault, whatever else is noticed.
#[test]
fn while_the_ledger_writes_the_supply_is_not_missed() {
    let mut desk = Desk::begin(WIRE, talkative());
    desk.disk = Span::from_s(15.0);
    while desk.core.state() == State::Proving {
        desk.step();
        desk.tell(Event::Sensed(Sense::DiskFree(8_000_000_000)));
        let writes = desk.envelopes().len();
        if writes > 0 && desk.now.s() > 120.0 {
            break;
        }
    }
    assert_eq!(desk.spoke(), Vec::<Fault>::new());
    assert_eq!(desk.core.state(), State::Striking);
}

/// A line on which an exchange takes two and a half seconds: proving asks for no reading for longer
/// than a reading may be missing, which is nobody's fault either.
#[test]
fn on_a_slow_line_no_reading_is_missed_before_one_is_asked_for() {
    let can = Capability {
        longest_exchange: Span::from_s(3.0),
        ..talkative()
    };
    let mut desk = Desk::begin(WIRE, can);
    desk.takes = Span::from_ms(2500.0);
    while count(&desk, ON) == 0 && desk.now.s() < 60.0 {
        desk.step();
        desk.tell(Event::Sensed(Sense::DiskFree(8_000_000_000)));
    }
    assert!(desk.now.s() > 18.0, "{} s", desk.now.s());
    assert_eq!(desk.spoke(), Vec::<Fault>::new());
}

/// A run that went on after 13 h of current, in a tank whose level falls by 12 mm a day from 6 mm
/// above the highest piece: it has stood dry for an hour.
#[test]
fn the_level_has_fallen_while_the_run_was_broken_off() {
    let spoke = |hours: f64| {
        let mut plan: Plan = (*studio(WIRE, "scpi-standard", 1, true).plan).clone();
        plan.bounds.level = Some(Level {
            above: Length::from_mm(6.0),
            falls_a_day: Length::from_mm(12.0),
        });
        plan.limits.time_on = Span::from_h(40.0);
        let timing = Timing::for_supply(&talkative());
        let core = Core::new(Arc::new(plan), talkative(), timing).carry(&Carried {
            charge: Bounded::exact(Charge::from_ah(0.01)),
            electrodes: vec![OnRecord {
                charge: Bounded::exact(Charge::from_ah(0.01)),
                on: Span::from_h(hours),
            }],
            on: Span::from_h(hours),
            looks_taken: 0,
        });
        let mut desk = Desk::with(core);
        desk.tell(Event::Begin);
        desk.pass(120.0);
        desk.spoke()
    };
    assert_eq!(spoke(13.0), [Fault::LevelLow]);
    assert_eq!(spoke(11.0), []);
}

/// A plan of twenty minutes at most: each time the current comes back softly three are granted.
#[test]
fn coming_back_softly_costs_none_of_the_nights_time() {
    for pauses in [0_u32, 1, 3] {
        let mut plan: Plan = (*studio(WIRE, "scpi-standard", 1, true).plan).clone();
        plan.limits.time_on = Span::from_min(20.0);
        let timing = Timing::for_supply(&talkative());
        let mut desk = Desk::with(Core::new(Arc::new(plan), talkative(), timing));
        desk.tell(Event::Begin);
        for _ in 0..pauses {
            desk.reach(State::Striking);
            desk.pass(60.0);
            desk.tell(Event::Asked(Wish::Pause));
            // Until off is proved as well.
            desk.pass(2.0);
            desk.tell(Event::Asked(Wish::Resume));
        }
        assert_eq!(desk.finish(), Outcome::Tripped(Fault::TimeCap));
        let on = desk.core.rack().time_on().s() / 60.0;
        let wanted = 20.0 + 3.0 * f64::from(pauses);
        assert!((on - wanted).abs() < 0.2, "{on} min after {pauses} pauses");
    }
}

/// A supply that does not tell its mode is taken to hold the current while its voltage is clear of
/// the ceiling; then setting and reading are witnesses together, else the reading is alone.
#[test]
fn without_a_mode_the_voltage_says_who_holds() {
    let width = |share: f64| {
        let can = Capability {
            reads: Ask::MEASURED | Ask::OUTPUT | Ask::SET_CURRENT | Ask::ERROR,
            read_current: Tolerance {
                fixed: 0.050,
                ..supply().read_current
            },
            ..supply()
        };
        let mut desk = Desk::begin(WIRE, can);
        let ceiling = desk.core.plan().limits.voltage;
        desk.reach(State::Building);
        let begun = desk.core.charge();
        desk.twist = Box::new(move |reading| {
            reading.voltage = reading.voltage.map(|_| ceiling * share);
        });
        desk.pass(5.0);
        let end = desk.core.charge();
        let wider = (end.high - end.low) - (begun.high - begun.low);
        wider.c()
    };
    // A meter that is off by 50 mA, against a setting that is off by half a milliampere.
    assert!(width(0.90) < 0.05, "{} C", width(0.90));
    assert!(width(0.975) > 0.3, "{} C", width(0.975));
}

/// Between proving and the night the keeper hears that all is well.
#[test]
fn proving_tells_the_keeper_of_every_answer() {
    let mut desk = Desk::begin(WIRE, talkative());
    desk.reach(State::Striking);
    let answers = desk.orders(Moment::ZERO).len();
    let done = desk.acts.iter().filter(|(_, it)| *it == Action::PeriodDone);
    assert!(done.count() + 2 >= answers);
}

/// What is on before it was turned on has flowed since nobody knows when: since the beginning, as
/// far as the account goes; after a pause since the last look that found it off.
#[test]
fn what_flows_before_the_start_is_on_the_account() {
    let mut desk = Desk::begin(WIRE, talkative());
    (desk.on, desk.set) = (true, Current::from_a(0.3));
    assert_eq!(desk.finish(), Outcome::Tripped(Fault::OnBeforeStart));
    let off = desk.orders(Moment::ZERO).into_iter();
    let off = off.filter(|it| it.1 == Order::Off).map(|it| it.0).next();
    let flowed = desk.set * off.unwrap().since(Moment::ZERO);
    let charge = desk.core.charge();
    assert_eq!((charge.low.c(), charge.best.c()), (0.0, 0.0));
    // Off is obeyed within 0.1 s, the exchange took 40 ms.
    let most = flowed + Current::from_a(0.31) * Span::from_ms(140.0);
    assert!(flowed <= charge.high && charge.high <= most, "{charge:?}");

    let mut desk = Desk::begin(WIRE, talkative());
    desk.reach(State::Building);
    desk.tell(Event::Asked(Wish::Pause));
    desk.pass(99.0);
    let quiet = desk.core.last_reading().unwrap().sent;
    let before = desk.core.charge();
    desk.on = true;
    desk.tell(Event::Asked(Wish::Resume));
    assert_eq!(desk.finish(), Outcome::Tripped(Fault::OnBeforeStart));
    let off = desk.orders(quiet).into_iter();
    let off = off.filter(|it| it.1 == Order::Off).map(|it| it.0).next();
    let flowed = desk.set * off.unwrap().since(quiet);
    let more = desk.core.charge().high - before.high;
    assert!(flowed <= more, "{flowed:?} {more:?}");
}

/// With a relay in the lead nothing should flow when the output goes on; if something does, it may
/// have begun only just before the reading that shows it.
#[test]
fn what_a_relay_lets_through_is_not_certain_since_on() {
    let mut plan = Plan::clone(&studio(WIRE, "scpi-standard", 1, true).plan);
    plan.bounds.relay = Some(Span::from_s(3.0));
    let can = talkative();
    let timing = Timing::for_supply(&can);
    let mut desk = Desk::with(Core::new(Arc::new(plan), can, timing));
    desk.tell(Event::Begin);
    while !desk.on {
        desk.step();
    }
    let on = desk.now;
    while desk.reads(on).is_empty() {
        desk.step();
    }
    let flows = desk.core.charge();
    desk.step();
    let first = desk.core.charge();
    assert_eq!(first.low, flows.low, "{first:?}");
    assert!(first.high.c() > 0.4 * desk.set.a(), "{first:?}");
    assert_eq!(desk.finish(), Outcome::Tripped(Fault::RelayStuck));
    let over = desk.core.charge();
    assert!(over.low.c() > 0.3 * desk.set.a(), "{over:?}");
}
