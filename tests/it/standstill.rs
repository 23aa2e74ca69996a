//! Nothing ran here for a while: what most likely flowed ends when something else stopped the
//! current, and what may have flowed does not.

use super::desk::{Desk, talkative};
use super::night_kit::WIRE;
use nightvat::control::{Event, Outcome, State};
use nightvat::exchange::Capability;
use nightvat::units::{Moment, Span};

/// A building run that stood still for 300 s just after a reading, told first what `told` makes of
/// the moment of that reading. The coulombs since then: least, most likely and most, each in
/// seconds of the current that stood.
fn stood(can: Capability, told: impl Fn(Moment) -> Option<Event>) -> [f64; 3] {
    let mut desk = Desk::begin(WIRE, can);
    desk.reach(State::Building);
    desk.pass(16.5);
    let (before, set, since) = (desk.core.charge(), desk.set.a(), desk.now);
    desk.now = since + Span::from_s(300.0);
    if let Some(event) = told(since) {
        desk.tell(event);
    }
    desk.tell(Event::Woke);
    assert!(matches!(
        desk.finish(),
        Outcome::Tripped(_) | Outcome::Interrupted(_)
    ));
    let after = desk.core.charge();
    [
        (after.low - before.low).c() / set,
        (after.best - before.best).c() / set,
        (after.high - before.high).c() / set,
    ]
}

#[track_caller]
fn about(found: f64, seconds: f64) {
    assert!((found - seconds).abs() < 1.5, "{found} s, not {seconds} s");
}

#[test]
fn what_most_likely_flowed_ends_where_the_current_was_stopped() {
    let alone = |_| None;
    let kept = |since: Moment| {
        let at = |seconds| since + Span::from_s(seconds);
        Some(Event::KeptOff(at(5.0), at(5.2)))
    };
    let late = |since: Moment| {
        let at = |seconds| since + Span::from_s(seconds);
        Some(Event::KeptOff(at(299.0), at(299.2)))
    };
    let watched = |seconds| Capability {
        watchdog: Some(Span::from_s(seconds)),
        ..talkative()
    };
    for (can, told, seconds) in [
        (
            talkative(),
            &alone as &dyn Fn(Moment) -> Option<Event>,
            300.0,
        ),
        (talkative(), &kept, 5.0),
        // The whole computer slept, and the keeper with it; the supply's own watchdog did not.
        (talkative(), &late, 299.0),
        (watched(20.0), &late, 20.0),
        (watched(20.0), &alone, 20.0),
        (watched(20.0), &kept, 5.0),
        // The keeper renewed the watchdog until its own off.
        (watched(2.0), &kept, 5.0),
        (watched(2.0), &late, 2.0),
    ] {
        let [low, best, high] = stood(can, told);
        about(best, seconds);
        assert!(low <= 0.0, "{low} s");
        about(high, 300.0);
    }
}
