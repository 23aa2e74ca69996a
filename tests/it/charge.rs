//! The amp-hour integral against sums worked out by hand.

use super::guards::supply;
use nightvat::control::Integral;
use nightvat::exchange::{Capability, Mode, Reading, Tolerance};
use nightvat::units::{Current, Moment, Span, Voltage};

fn perfect() -> Capability {
    Capability {
        set_current: Tolerance::default(),
        read_current: Tolerance::default(),
        ..supply()
    }
}

fn reading(at_s: f64, amps: f64, mode: Mode) -> Reading {
    Reading {
        sent: Moment::from_s(at_s - 0.01),
        received: Moment::from_s(at_s + 0.01),
        current: Some(Current::from_a(amps)),
        voltage: Some(Voltage::from_v(1.0)),
        mode: Some(mode),
        ..Reading::default()
    }
}

/// A current that rises by the minute, from a printed exercise on variable-current schedules:
/// I = 12 A + 0.2 A/min for 20 min is 280 A min = 4.6667 Ah.
#[test]
fn a_rising_current_is_integrated_as_published() {
    let mut integral = Integral::new(&perfect(), Span::from_s(60.0));
    integral.commanded(Moment::ZERO, Moment::ZERO, Current::from_a(12.0));
    for second in 0..=1200_u32 {
        let amps = 12.0 + 0.2 * f64::from(second) / 60.0;
        let at = f64::from(second).max(0.01);
        let taken = Reading {
            sent: Moment::from_s(at),
            received: Moment::from_s(at),
            ..reading(1.0, amps, Mode::ConstantVoltage)
        };
        integral.read(&taken, Current::from_a(amps), false);
    }
    let total = integral.total();
    assert!(
        (total.best.ah() - 4.666_667).abs() < 2e-5,
        "{}",
        total.best.ah()
    );
    assert!(total.low < total.best && total.best < total.high);
    // Nothing but what can hide between readings: 0.1 %, and the first second's blur.
    assert!((total.high - total.low) / total.best < 0.0021);
}

/// A commanded step between two readings counts from when it was commanded, not from half-way.
#[test]
fn a_step_is_cut_where_it_was_commanded() {
    let mut integral = Integral::new(&perfect(), Span::from_s(60.0));
    let at = Moment::from_s;
    integral.commanded(at(0.0), at(0.0), Current::from_a(1.0));
    integral.read(
        &reading(1.0, 1.0, Mode::ConstantCurrent),
        Current::from_a(1.0),
        true,
    );
    integral.commanded(at(1.2), at(1.2), Current::from_a(3.0));
    integral.read(
        &reading(2.0, 3.0, Mode::ConstantCurrent),
        Current::from_a(3.0),
        true,
    );
    // 1 A for 1.2 s and 3 A for 0.8 s.
    assert!(
        (integral.total().best.c() - 3.6).abs() < 1e-9,
        "{}",
        integral.total().best.c()
    );
}

/// A night at 1 A: off is counted up to the middle of its exchange, and the bounds hold its whole
/// length.
#[test]
fn off_closes_the_sum() {
    let mut integral = Integral::new(&perfect(), Span::from_s(60.0));
    let at = Moment::from_s;
    integral.commanded(at(0.0), at(0.0), Current::from_a(1.0));
    for second in 1..=10 {
        let taken = reading(f64::from(second), 1.0, Mode::ConstantCurrent);
        integral.read(&taken, Current::from_a(1.0), true);
    }
    integral.closed(at(10.4), at(10.6), true);
    let total = integral.total();
    assert!((total.best.c() - 10.5).abs() < 1e-9, "{}", total.best.c());
    assert!(total.low.c() <= 10.4 && total.high.c() >= 10.6);
    assert_eq!(integral.last(), None);
}

/// A stretch in which nobody looked is bounded by nothing and by the setpoint, and named.
#[test]
fn a_gap_widens_the_bounds_and_is_named() {
    let mut integral = Integral::new(&perfect(), Span::from_s(3.0));
    let at = Moment::from_s;
    integral.commanded(at(0.0), at(0.0), Current::from_a(2.0));
    integral.read(
        &reading(1.0, 2.0, Mode::ConstantCurrent),
        Current::from_a(2.0),
        true,
    );
    let added = integral
        .read(
            &reading(11.0, 2.0, Mode::ConstantCurrent),
            Current::from_a(2.0),
            true,
        )
        .expect("a current was read");
    assert_eq!(added.gap.s(), 10.0);
    assert_eq!(added.charge.low.c(), 0.0);
    assert!(added.charge.high.c() >= 20.0 && added.charge.high.c() < 20.1);
}

/// After a guard has spoken the current may have stopped right after the last reading.
#[test]
fn a_trip_takes_nothing_for_granted() {
    let mut integral = Integral::new(&perfect(), Span::from_s(60.0));
    let at = Moment::from_s;
    integral.commanded(at(0.0), at(0.0), Current::from_a(1.0));
    integral.read(
        &reading(5.0, 1.0, Mode::ConstantCurrent),
        Current::from_a(1.0),
        true,
    );
    let before = integral.total();
    integral.closed(at(6.0), at(6.0), false);
    assert!(integral.total().low <= before.low);
    assert!(integral.total().high.c() >= 6.0);
}

/// A meter with 10 mA steps reads 40 mA while 44 mA flow: setpoint and readback are combined by
/// their limits.
#[test]
fn a_coarse_meter_is_narrowed_by_the_setpoint() {
    let coarse = Capability {
        set_current: Tolerance {
            share: 0.0,
            fixed: 0.0,
            step: 0.001,
        },
        read_current: Tolerance {
            share: 0.0,
            fixed: 0.0,
            step: 0.010,
        },
        ..supply()
    };
    let mut integral = Integral::new(&coarse, Span::from_s(60.0));
    let at = Moment::from_s;
    let set = Current::from_ma(44.0);
    integral.commanded(at(0.0), at(0.0), set);
    for second in 1..=3600 {
        integral.read(
            &reading(f64::from(second), 0.040, Mode::ConstantCurrent),
            set,
            true,
        );
    }
    let total = integral.total();
    let truth = 0.044 * 3600.0;
    assert!(total.low.c() <= truth && truth <= total.high.c());
    // The overlap of 43.5 to 44.5 mA and 35 to 45 mA is 1 mA wide: 2.3 %, where the meter alone has
    // 23 %.
    assert!((total.high - total.low).c() / truth < 0.026, "{total:?}");
    assert!((total.best.c() / truth - 1.0).abs() < 1e-3);
}

/// The current stops by itself between two readings, one second apart: nobody knows when, so that
/// as much as the whole second and as little as nothing may have flowed.
#[test]
fn a_current_that_stops_by_itself_may_have_stopped_at_any_time_between() {
    let at = Moment::from_s;
    let amps = Current::from_a(0.45);
    let mut integral = Integral::new(&supply(), Span::from_s(60.0));
    integral.commanded(at(0.0), at(0.02), amps);
    integral.read(&reading(1.0, 0.45, Mode::ConstantCurrent), amps, true);
    let before = integral.total();
    integral.read(&reading(2.0, 0.0, Mode::ConstantVoltage), amps, true);
    let after = integral.total();
    let (low, high) = (after.low - before.low, after.high - before.high);
    assert!(low.c() <= 0.0, "{low:?}");
    assert!(high.c() >= 0.45, "{high:?}");
    assert!(high.c() < 0.47, "{high:?}");
}

/// The same in the second of a commanded step: what stood before, or what was commanded, may have
/// flowed up to the reading, or nothing since the last: a supply whose mains failed before the step
/// takes it when they are back.
#[test]
fn a_current_that_stops_by_itself_after_a_step_is_bounded_by_the_step() {
    let at = Moment::from_s;
    let set = Current::from_a;
    let mut integral = Integral::new(&supply(), Span::from_s(60.0));
    integral.commanded(at(0.0), at(0.02), set(0.40));
    integral.read(&reading(1.0, 0.40, Mode::ConstantCurrent), set(0.40), true);
    let before = integral.total();
    integral.commanded(at(1.49), at(1.51), set(0.50));
    integral.read(&reading(2.5, 0.0, Mode::ConstantVoltage), set(0.50), true);
    let after = integral.total();
    // As much as 0.5 A for a second and a half, as little as nothing.
    let high = after.high - before.high;
    assert!((0.70..0.80).contains(&high.c()), "{high:?}");
    let low = after.low - before.low;
    assert!((-0.01..=0.0).contains(&low.c()), "{low:?}");
}
