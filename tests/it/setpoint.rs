//! Setpoints: multiples of what the supply can hold, on average what is wanted, and never more than
//! is allowed.

use super::guards::supply;
use nightvat::control::Stepper;
use nightvat::exchange::{Capability, Tolerance};
use nightvat::units::{Current, Moment, Span};

fn ma(value: f64) -> Current {
    Current::from_ma(value)
}

fn at(seconds: f64) -> Moment {
    Moment::from_s(seconds)
}

/// A supply that holds multiples of so many milliamperes, and takes a setpoint a second.
fn stepper(step_ma: f64) -> Stepper {
    Stepper::new(&Capability {
        set_current: Tolerance {
            step: step_ma * 1e-3,
            ..Tolerance::default()
        },
        least_set_interval: Span::from_s(1.0),
        ..supply()
    })
}

/// The setpoints of so many seconds, each taken at once.
fn course(stepper: &mut Stepper, from_s: u32, seconds: u32, wanted_ma: f64) -> Vec<f64> {
    let mut list = Vec::new();
    for second in from_s..from_s + seconds {
        let now = at(f64::from(second));
        if let Some(next) = stepper.next(now, ma(wanted_ma), ma(5000.0)) {
            stepper.took(now, next);
        }
        list.push(stepper.standing().unwrap().ma());
    }
    list
}

fn mean(list: &[f64]) -> f64 {
    let count = u32::try_from(list.len()).unwrap();
    list.iter().sum::<f64>() / f64::from(count)
}

/// 10.4 mA of steps of 1 mA: two seconds in five at 11 mA, the others at 10 mA.
#[test]
fn between_two_steps_the_mean_is_what_is_wanted() {
    for wanted in [10.4, 10.25, 10.9, 150.3] {
        let list = course(&mut stepper(1.0), 0, 1000, wanted);
        let floor = f64::floor(wanted);
        for set in &list {
            let near = (set - floor).abs() < 1e-9 || (set - floor - 1.0).abs() < 1e-9;
            assert!(near, "{set} mA for {wanted} mA");
        }
        let found = mean(&list);
        assert!((found - wanted).abs() < 0.005, "{found} mA for {wanted} mA");
    }
}

/// A minute's worth of one step is owed at most: what was missed for longer is not made up for by
/// more than that.
#[test]
fn what_is_owed_is_bounded() {
    let mut stepper = stepper(1.0);
    // The supply does not take 11 mA for an hour: 0.5 mA is missed each second.
    stepper.took(at(0.0), ma(10.0));
    for second in 1..=3600 {
        stepper.next(at(f64::from(second)), ma(10.5), ma(5000.0));
    }
    // Then it does: 60 mA s are made up for at 0.5 mA a second, which takes two minutes.
    let list = course(&mut stepper, 3601, 240, 10.5);
    let high = list.iter().take_while(|set| **set > 10.9).count();
    assert!((115..=125).contains(&high), "{high} s");
}

/// Above two hundred steps the nearest one will do, with two thirds of one as slack.
#[test]
fn a_setpoint_does_not_hop_to_and_fro() {
    let mut stepper = stepper(1.0);
    stepper.took(at(0.0), ma(300.0));
    assert_eq!(stepper.next(at(1.0), ma(300.6), ma(5000.0)), None);
    let next = stepper.next(at(2.0), ma(300.7), ma(5000.0)).unwrap();
    assert!((next.ma() - 301.0).abs() < 1e-9, "{} mA", next.ma());
}

/// Without steps a ten-thousandth counts as the same.
#[test]
fn a_supply_without_steps_is_set_to_what_is_wanted() {
    let mut stepper = stepper(0.0);
    let first = stepper.next(at(0.0), ma(123.456_7), ma(5000.0));
    assert_eq!(first, Some(ma(123.456_7)));
    stepper.took(at(0.0), ma(1000.0));
    assert_eq!(stepper.next(at(1.0), ma(1000.05), ma(5000.0)), None);
    let next = stepper.next(at(2.0), ma(1000.2), ma(5000.0));
    assert_eq!(next, Some(ma(1000.2)));
    assert_eq!(stepper.afresh(ma(2000.0), ma(1500.0)), ma(1500.0));
}

/// An interval of a second is over after a second.
#[test]
fn setpoints_keep_their_distance_and_no_more() {
    let mut stepper = stepper(1.0);
    stepper.took(at(0.0), ma(300.0));
    assert_eq!(stepper.next(at(0.999), ma(400.0), ma(5000.0)), None);
    assert!(stepper.next(at(1.0), ma(400.0), ma(5000.0)).is_some());
}

/// What is allowed is rounded down: 300.6 mA of steps of 1 mA allow 300 mA.
#[test]
fn no_setpoint_is_above_what_is_allowed() {
    let set = stepper(1.0).next(at(0.0), ma(400.0), ma(300.6)).unwrap();
    assert!((set.ma() - 300.0).abs() < 1e-9, "{} mA", set.ma());
    // A limit that is a multiple of the step can be used up, whatever dust the figures carry.
    for count in 1..5000 {
        let most = ma(f64::from(count));
        let set = stepper(1.0).afresh(ma(6000.0), most);
        assert!((set - most).abs().ma() < 1e-6, "{} of {count} mA", set.ma());
    }
}

#[test]
fn nothing_stands_once_it_is_forgotten() {
    let mut stepper = stepper(1.0);
    stepper.took(at(0.0), ma(300.0));
    stepper.forget();
    assert_eq!(stepper.standing(), None);
    // And no interval is kept from what no longer stands.
    assert!(stepper.next(at(0.1), ma(400.0), ma(5000.0)).is_some());
}
