//! A moment of a run in each state, for the views. Its figures are plausible and nothing more.

use nightvat::control::{Fault, State};
use nightvat::run::{Alarm, PieceState, Snapshot};
use nightvat::units::{Area, Bounded, Charge, Current, Length, Mass, Moment, Span, Voltage};

/// The time of day of a moment: the clock's zero is 20:14 on the 24th, UTC+1.
pub(crate) fn label(moment: Moment) -> String {
    let minutes = 20 * 60 + 14 + moment.ns() / 60_000_000_000;
    let (day, hour, minute) = (24 + minutes / 1440, minutes / 60 % 24, minutes % 60);
    format!("2026-11-{day:02}T{hour:02}:{minute:02}:00+01:00")
}

fn bounded<T>(make: fn(f64) -> T, low: f64, best: f64, high: f64) -> Bounded<T> {
    Bounded {
        low: make(low),
        best: make(best),
        high: make(high),
    }
}

fn piece(name: &str, um: f64) -> PieceState {
    PieceState {
        name: name.to_owned(),
        charge: bounded(Charge::from_ah, 2.06, 2.07, 2.08),
        mass: Mass::from_g(2.454),
        thickness: bounded(Length::from_um, um * 0.9, um, um * 1.1),
        area: Area::from_cm2(19.7),
        hangs: true,
    }
}

/// Eight and a half hours into a run, as far as the state has one.
pub(crate) fn snapshot(state: State) -> Snapshot {
    let flows = state.is_live();
    let runs = state != State::Idle;
    let bad = matches!(state, State::Tripped | State::Unconfirmed);
    let alarm = Alarm {
        fault: Fault::ConstantCurrentLost,
        text: "2.50 V at its ceiling, and 0.020 A in place of 0.862 A".to_owned(),
        since: Moment::from_s(30_000.0),
    };
    Snapshot {
        now: Moment::from_s(30_600.0),
        station: "north tank".to_owned(),
        state,
        state_since: runs.then(|| Moment::from_s(29_880.0)),
        run: runs.then_some(12),
        job: runs.then(|| "seed heads, first rack".to_owned()),
        output_on: if state == State::Unconfirmed {
            None
        } else {
            Some(flows)
        },
        current: Some(Current::from_a(if flows { 0.8624 } else { 0.0 })),
        setpoint: Some(Current::from_a(0.862)),
        voltage: Some(Voltage::from_v(if flows { 1.2149 } else { 0.3 })),
        charge: bounded(Charge::from_ah, 5.69, 5.71, 5.73),
        thickness: Length::from_um(118.2),
        target: runs.then(|| Length::from_um(200.0)),
        progress: 0.591,
        time_left: flows.then(|| Span::from_s(15_120.0)),
        elapsed: Span::from_s(30_600.0),
        time_on: Span::from_s(30_480.0),
        alarms: if bad { vec![alarm] } else { Vec::new() },
        pieces: if runs {
            vec![piece("seed head a", 118.2), piece("stem", 121.7)]
        } else {
            Vec::new()
        },
        hangers: if runs {
            vec![piece("hanger 1", 119.0)]
        } else {
            Vec::new()
        },
        identity: Some("BENCH,SUPPLY,0001,1.0".to_owned()),
        cut: false,
        last_reply: Some(Moment::from_s(30_599.6)),
    }
}
