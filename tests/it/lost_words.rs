//! Orders that were refused, or went the way of a reply that never came: what they may have done is
//! in the bounds, and what was lost is said again.

use super::desk::{Desk, talkative};
use super::night_kit::WIRE;
use nightvat::control::{Fault, Outcome, State};
use nightvat::exchange::{
    Ask, Capability, DeviceError, LinkFault, Mode, OnMainsReturn, Order, Reading, Word,
};
use nightvat::units::{Charge, Current, Moment, Span, Voltage};

fn refused(code: i32) -> LinkFault {
    LinkFault::Refused(DeviceError {
        code,
        text: "its words".into(),
    })
}

/// The next order that `hits` comes to this.
fn once(desk: &mut Desk, fault: LinkFault, hits: fn(&Order) -> bool) {
    let mut left = Some(fault);
    desk.mishap = Box::new(move |order| if hits(order) { left.take() } else { None });
}

fn sets(order: &Order) -> bool {
    matches!(order, Order::SetCurrent(_))
}

fn set_since(desk: &Desk, since: Moment) -> usize {
    let orders = desk.orders(since).into_iter();
    orders.filter(|(_, order)| sets(order)).count()
}

fn ramping() -> Desk {
    let mut desk = Desk::begin(WIRE, talkative());
    desk.reach(State::Ramping);
    desk.pass(60.5);
    desk
}

/// On is refused, for whatever reason: the output may be on all the same, at the small current.
#[test]
fn an_on_that_is_refused_may_have_been_taken() {
    let mut desk = Desk::begin(WIRE, talkative());
    once(&mut desk, refused(-240), |order| *order == Order::On);
    assert_eq!(desk.finish(), Outcome::Tripped(Fault::SupplyError));
    let charge = desk.core.charge();
    assert_eq!(charge.low, Charge::ZERO);
    // 5 mA at least, from on to off, 40 ms each.
    assert!(charge.high.c() >= 0.005 * 0.04, "{charge:?}");
}

/// A setpoint is refused. The refusal answers the last try; an earlier one may have been taken, with
/// a digit changed on the way.
#[test]
fn a_setpoint_that_is_refused_may_have_been_taken_as_another() {
    let mut desk = ramping();
    let before = desk.core.charge();
    let from = desk.now;
    once(&mut desk, refused(-113), sets);
    assert_eq!(desk.finish(), Outcome::Tripped(Fault::SupplyError));
    let took = desk.now.since(from).s();
    let more = (desk.core.charge().high - before.high).c();
    let set = desk.set.a();
    assert!(more > set * took * 0.9, "{more} C, {set} A for {took} s");
    assert!(more < 2.0 * desk.core.plan().limits.current.a() * took);
}

/// The refusal says that power came on: the run is interrupted and may go on, and what flowed since
/// the error queue was last seen empty is uncertain.
#[test]
fn a_refusal_that_tells_of_power_is_a_power_cycle() {
    let mut widest: f64 = 0.0;
    for nth in 0..5 {
        let mut desk = ramping();
        let before = desk.core.charge();
        let mut left = nth;
        desk.mishap = Box::new(move |order| {
            let hit = sets(order) && left == 0;
            left -= i32::from(sets(order));
            hit.then(|| refused(-500))
        });
        let ended = Outcome::Interrupted(Fault::SupplyPowerCycled);
        assert_eq!(desk.finish(), ended);
        let after = desk.core.charge();
        let wider = (after.best - after.low) - (before.best - before.low);
        widest = widest.max(wider.c() / desk.set.a());
    }
    // The queue is read in turn with other things: some seconds lie between.
    assert!(widest > 1.9, "{widest} s are uncertain");
}

/// A supply that answers no command, not even through its error queue: with a reply that is lost a
/// setpoint may be lost as well, so it is said again. One that answers commands needs none of that.
#[test]
fn on_a_line_without_replies_a_setpoint_is_said_again_after_a_silence() {
    let mute = Capability {
        reads: without_errors(),
        ..talkative()
    };
    for (can, again) in [(mute, true), (talkative(), false)] {
        for inside in [false, true] {
            let mut desk = Desk::begin(WIRE, can.clone());
            desk.reach(State::Building);
            desk.pass(16.5);
            let quiet = desk.now;
            desk.pass(4.0);
            assert_eq!(set_since(&desk, quiet), 0, "nothing was lost yet");
            let from = desk.now;
            if inside {
                let mut left = 1;
                desk.twist = Box::new(move |reading| {
                    reading.repeated = left;
                    left = 0;
                });
            } else {
                once(&mut desk, LinkFault::Silent, |order| {
                    matches!(order, Order::Read(_))
                });
            }
            desk.pass(4.0);
            let said = set_since(&desk, from);
            assert_eq!(said > 0, again, "{said} times, inside {inside}");
            assert_eq!(desk.core.state(), State::Building);
        }
    }
}

/// A desk whose run builds, and whose setpoint after these many is lost on the way without a trace.
fn lost_after(first: u32, can: Capability) -> Desk {
    let mut desk = Desk::begin(WIRE, can);
    desk.reach(State::Building);
    desk.pass(5.5);
    desk.loses = [1, first];
    while desk.loses[0] > 0 {
        assert!(desk.ended.is_none(), "after {first}");
        desk.step();
    }
    assert_ne!(Some(desk.set), desk.core.setpoint(), "after {first}");
    desk
}

/// A setpoint is lost on the way, and nothing tells of it but the one that is read back: it is said
/// again.
#[test]
fn a_setpoint_that_was_lost_without_a_trace_is_said_again() {
    for first in 0..8 {
        let mut desk = lost_after(first, talkative());
        let from = desk.now;
        desk.pass(20.0);
        assert_eq!(desk.core.state(), State::Building, "{:?}", desk.spoke());
        assert_eq!(Some(desk.set), desk.core.setpoint(), "after {first}");
        assert!(set_since(&desk, from) > 0, "after {first}");
    }
}

/// What is said again does not arrive either: the supply is not taken at its word for long.
#[test]
fn a_supply_that_takes_no_setpoint_any_more_is_seen() {
    let mut desk = lost_after(3, talkative());
    let from = desk.now;
    desk.loses = [40, 0];
    let changed = Outcome::Tripped(Fault::SetpointChanged);
    assert_eq!(desk.finish(), changed, "{:?}", desk.spoke());
    assert!(desk.now.since(from).s() < 10.0, "{:?}", desk.now);
}

/// Current and voltage that are held are asked in turn. One that differs is not forgotten over the
/// other one, which is as it should be, and who has turned a knob is not overruled.
#[test]
fn a_turned_knob_is_seen_wherever_in_the_turn() {
    let current: fn(&mut Reading) = |reading| {
        let turned = |set: Current| set - Current::from_ma(3.0);
        reading.set_current = reading.set_current.map(turned);
    };
    let voltage: fn(&mut Reading) = |reading| {
        let turned = |set: Voltage| set + Voltage::from_v(0.02);
        reading.set_voltage = reading.set_voltage.map(turned);
    };
    for (which, knob) in [("current", current), ("voltage", voltage)] {
        for seconds in [16.5, 17.5, 18.5, 19.5, 20.5, 21.5] {
            let mut desk = Desk::begin(WIRE, talkative());
            desk.reach(State::Building);
            desk.pass(seconds);
            let from = desk.now;
            desk.twist = Box::new(knob);
            let changed = Outcome::Tripped(Fault::SetpointChanged);
            assert_eq!(desk.finish(), changed, "{which}: {:?}", desk.spoke());
            let after = desk.now.since(from).s();
            assert!(after < 8.5, "{which}: {after} s");
            assert_eq!(set_since(&desk, from), 0, "{which}");
        }
    }
}

/// A supply that comes back on after its mains failed, and has no error queue to say so: of a
/// silence nothing is certain. One that comes back off, or says that power came on, hides nothing.
#[test]
fn a_silence_is_uncertain_where_mains_may_have_come_back_unsaid() {
    let reads = |errors| {
        if errors {
            talkative().reads | Ask::ERROR
        } else {
            without_errors()
        }
    };
    for (back, errors, uncertain) in [
        (OnMainsReturn::On, false, true),
        (OnMainsReturn::Unknown, false, true),
        (OnMainsReturn::Off, false, false),
        (OnMainsReturn::On, true, false),
        (OnMainsReturn::Off, true, false),
    ] {
        for lost in ["nothing", "a reading", "a part"] {
            let mut desk = Desk::begin(
                WIRE,
                Capability {
                    reads: reads(errors),
                    on_mains_return: back,
                    ..talkative()
                },
            );
            desk.reach(State::Building);
            desk.pass(20.5);
            let before = desk.core.charge();
            match lost {
                "a reading" => once(&mut desk, LinkFault::Silent, |order| {
                    matches!(order, Order::Read(_))
                }),
                "a part" => {
                    let mut left = 1;
                    desk.twist = Box::new(move |reading| {
                        reading.repeated = left;
                        left = 0;
                    });
                }
                _ => {}
            }
            desk.pass(4.0);
            let after = desk.core.charge();
            let wider = (after.best - after.low) - (before.best - before.low);
            let seconds = wider.c() / desk.set.a();
            let wanted = uncertain && lost != "nothing";
            assert_eq!(
                seconds > 0.8,
                wanted,
                "{back:?} {errors} {lost}: {seconds} s"
            );
        }
    }
}

fn without_errors() -> Ask {
    [
        Ask::CURRENT,
        Ask::VOLTAGE,
        Ask::OUTPUT,
        Ask::MODE,
        Ask::SET_CURRENT,
        Ask::SET_VOLTAGE,
        Ask::OVER_VOLTAGE,
        Ask::OVER_CURRENT,
        Ask::TRIPPED,
        Ask::CHANNEL,
    ]
    .into_iter()
    .fold(Ask::NOTHING, |all, one| all | one)
}

/// The contact is open for a moment just as the proving ends: that is a flicker, which a run gets
/// over. Open for longer it is no contact.
#[test]
fn a_flicker_at_the_end_of_the_proving_is_no_missing_contact() {
    // Two readings twice a second fall into 1.1 s, three into 1.6 s.
    for (for_s, found) in [(0.6, false), (1.1, false), (1.6, true), (3.0, true)] {
        let mut desk = Desk::begin(WIRE, talkative());
        while !desk.on {
            desk.step();
        }
        let from = desk.now + Span::from_s(4.9);
        desk.twist = Box::new(move |reading| {
            if (0.0..for_s).contains(&reading.sent.since(from).s()) {
                reading.current = Some(Current::ZERO);
                reading.voltage = Some(Voltage::from_v(3.0));
                reading.mode = Some(Mode::ConstantVoltage);
            }
        });
        if found {
            assert_eq!(desk.finish(), Outcome::Tripped(Fault::NoContact));
        } else {
            desk.reach(State::Striking);
        }
    }
}

/// Two readings in a row in which current flows past an output that is said to be off make a liar,
/// and nothing unmakes it; two with a sound one between them are digits that changed on the line.
#[test]
fn a_word_is_false_after_two_readings_in_a_row() {
    let after = |readings: &[(bool, Option<bool>)]| {
        let mut word = Word::default();
        for (flows, output) in readings {
            word.weigh(*flows, *output);
        }
        word.is_false()
    };
    let (lie, off, on) = (
        (true, Some(false)),
        (false, Some(false)),
        (true, Some(true)),
    );
    assert!(after(&[lie, lie]));
    assert!(after(&[lie, (true, None), lie]));
    assert!(after(&[lie, (false, Some(true)), lie]));
    assert!(after(&[lie, lie, off, off, on]));
    for sound in [off, on] {
        assert!(!after(&[lie, sound, lie, sound, lie]));
        assert!(after(&[lie, sound, lie, lie]));
    }
    let mut told = Word::default();
    told.heard(false);
    assert!(!told.is_false());
    told.heard(true);
    assert!(told.is_false());
}
