//! The hard bounds of the amp-hour integral are as wide as what can have happened, and no wider:
//! each case is one thing that nobody could see, worked out by hand.

use super::guards::supply;
use nightvat::control::Integral;
use nightvat::exchange::{Capability, Mode, Reading, Tolerance};
use nightvat::units::{Bounded, Charge, Current, Moment, Span, Voltage};

fn at(seconds: f64) -> Moment {
    Moment::from_s(seconds)
}

fn amps(value: f64) -> Current {
    Current::from_a(value)
}

fn with(set: f64, read: f64) -> Capability {
    let fixed = |fixed| Tolerance {
        share: 0.0,
        fixed,
        step: 0.0,
    };
    Capability {
        set_current: fixed(set),
        read_current: fixed(read),
        ..supply()
    }
}

/// A perfect meter and a perfect setting.
fn integral() -> Integral {
    Integral::new(&with(0.0, 0.0), Span::from_s(60.0))
}

fn reading(sent: f64, received: f64, current: f64, mode: Mode) -> Reading {
    Reading {
        sent: at(sent),
        received: at(received),
        current: Some(amps(current)),
        voltage: Some(Voltage::from_v(1.0)),
        mode: Some(mode),
        ..Reading::default()
    }
}

/// A current that is measured, whatever was set.
fn measured(sent: f64, received: f64, current: f64) -> Reading {
    reading(sent, received, current, Mode::ConstantVoltage)
}

#[track_caller]
fn is(ours: Charge, coulomb: f64, within: f64) {
    let off = (ours.c() - coulomb).abs();
    assert!(off <= within, "{} C, not {coulomb} C", ours.c());
}

/// Ten seconds at 1 A: what can hide between two readings is 0.1 %.
#[test]
fn a_steady_current_is_bounded_by_what_hides_between_readings() {
    let mut sum = integral();
    sum.commanded(at(0.0), at(0.0), amps(1.0));
    sum.read(&measured(1.0, 1.0, 1.0), amps(1.0), false);
    let added = sum.read(&measured(11.0, 11.0, 1.0), amps(1.0), false);
    let charge = added.unwrap().charge;
    is(charge.best, 10.0, 1e-9);
    is(charge.low, 9.99, 1e-9);
    is(charge.high, 10.01, 1e-9);
}

/// On by an exchange of two seconds, obeyed within 0.1 s: 1 A began to flow between 0 and 2.1 s.
#[test]
fn a_slow_command_blurs_by_half_its_exchange() {
    let mut sum = integral();
    sum.commanded(at(0.0), at(2.0), amps(1.0));
    sum.read(&measured(10.0, 10.0, 1.0), amps(1.0), false);
    let total = sum.total();
    is(total.best, 9.0, 1e-9);
    // 1.1 s of 1 A, and 0.1 % of 9 C.
    is(total.low, 7.9, 0.01);
    is(total.high, 10.1, 0.01);
}

/// A current that doubled by itself between two readings of two seconds each: it can have done so
/// at any time.
#[test]
fn a_change_that_nobody_commanded_can_have_come_at_any_time() {
    let mut sum = integral();
    sum.commanded(at(0.0), at(0.0), amps(1.0));
    sum.read(&measured(1.0, 3.0, 1.0), amps(1.0), false);
    let added = sum.read(&measured(11.0, 13.0, 2.0), amps(2.0), false);
    let charge = added.unwrap().charge;
    // Ten seconds, from the middle of one reading to that of the other, at 1 A or at 2 A, and 0.1 %.
    is(charge.best, 15.0, 1e-9);
    is(charge.low, 10.0, 0.016);
    is(charge.high, 20.0, 0.016);
}

/// Off by an exchange of two seconds, obeyed within 0.1 s: 1 A flowed for nothing to 2.1 s more.
#[test]
fn a_slow_off_blurs_by_half_its_exchange() {
    let mut sum = integral();
    sum.commanded(at(0.0), at(0.0), amps(1.0));
    sum.read(&measured(10.0, 10.0, 1.0), amps(1.0), false);
    let before = sum.total();
    let added = sum.closed(at(10.0), at(12.0), true).charge;
    is(added.best, 1.0, 1e-9);
    is(added.low, 0.0, 0.01);
    is(added.high, 2.1, 0.01);
    let total = sum.total();
    is(total.high - before.high, 2.1, 0.01);
    assert!(total.low <= before.low);
}

/// Three seconds are looked away from when more than three have passed.
#[test]
fn a_gap_begins_beyond_its_limit() {
    for (until, gap) in [(4.0, 0.0), (4.001, 3.001)] {
        let mut sum = Integral::new(&with(0.0, 0.0), Span::from_s(3.0));
        sum.commanded(at(0.0), at(0.0), amps(1.0));
        sum.read(&measured(1.0, 1.0, 1.0), amps(1.0), false);
        let added = sum.read(&measured(until, until, 1.0), amps(1.0), false);
        assert!((added.unwrap().gap.s() - gap).abs() < 1e-9, "at {until} s");
    }
}

/// A step that closes an account hides no gap: nobody looked from the reading before it to the one
/// after it, and nothing of that is certain.
#[test]
fn a_gap_runs_on_over_a_step_that_closes_an_account() {
    let mut sum = Integral::new(&with(0.0, 0.0), Span::from_s(3.0));
    sum.commanded(at(0.0), at(0.0), amps(1.0));
    sum.read(&measured(1.0, 1.0, 1.0), amps(1.0), false);
    let before = sum.total();
    let turned = sum.turned(at(3.0), at(3.0), amps(0.5));
    assert!((turned.gap.s() - 0.0).abs() < 1e-9);
    is(turned.charge.low, 2.0, 0.01);
    let after = sum
        .read(&measured(5.0, 5.0, 0.5), amps(0.5), false)
        .unwrap();
    assert!((after.gap.s() - 4.0).abs() < 1e-9);
    is(sum.total().low - before.low, 0.0, 0.01);
    // A word was said of it: what follows is no gap any more.
    let next = sum
        .read(&measured(7.0, 7.0, 0.5), amps(0.5), false)
        .unwrap();
    assert!((next.gap.s() - 0.0).abs() < 1e-9);
    is(next.charge.low, 1.0, 0.01);
    // And a guard that ends the run takes back what no reading has shown.
    let held = sum.total();
    sum.turned(at(8.0), at(8.0), amps(0.5));
    sum.closed(at(9.0), at(9.0), false);
    assert!(sum.total().low <= held.low);
}

/// A supply at its voltage gives at most what is set: a meter that shows more, through a digit
/// that changed on the line, says nothing at all.
#[test]
fn more_than_is_set_is_no_reading_of_the_cell() {
    for (shown, least) in [(0.4, 0.8), (4.4, 0.0)] {
        let mut sum = Integral::new(&with(0.0, 0.0), Span::from_s(3.0));
        sum.commanded(at(0.0), at(0.0), amps(0.5));
        for second in [0.0, 1.0, 2.0] {
            sum.read(&measured(second, second, shown), amps(0.5), false);
        }
        is(sum.total().low, least, 0.03);
        assert!(sum.total().high.c() >= 2.0 * shown);
    }
}

/// A setpoint that nobody heard taken, then off: two seconds at what the supply made of it, which is
/// the old one, the new one, or what a changed digit left, up to the run's limit of 3 A.
#[test]
fn a_setpoint_of_unknown_fate_is_anything_up_to_the_limit() {
    for to in [2.0, 0.5] {
        let mut sum = integral();
        sum.commanded(at(0.0), at(0.0), amps(1.0));
        sum.read(&measured(1.0, 1.0, 1.0), amps(1.0), false);
        sum.unheard(at(1.0), at(1.0), amps(to), amps(3.0));
        sum.closed(at(3.0), at(3.0), true);
        let total = sum.total();
        assert!(total.low.c() <= 1.0, "{to} A: {total:?}");
        assert!(total.high.c() >= 7.0, "{to} A: {total:?}");
        // Commands are obeyed within 0.1 s, at no more than 3 A: three of them.
        is(total.low, 1.0, 0.31);
        is(total.high, 7.0, 0.91);
    }
}

/// A meter that stood still from the first second on: at most 2 A for ten seconds, or nothing.
#[test]
fn a_meter_that_stood_still_reaches_back_to_when_it_was_checked() {
    let mut sum = integral();
    sum.commanded(at(0.0), at(0.0), amps(1.0));
    sum.read(&measured(1.0, 1.0, 1.0), amps(1.0), false);
    let then = sum.total();
    for second in 2..=11 {
        let moment = f64::from(second);
        sum.read(&measured(moment, moment, 1.0), amps(1.0), false);
    }
    let before = sum.total();
    let added = sum.distrusted(at(1.0), then, amps(2.0));
    let total = sum.total();
    is(total.low, then.low.c(), 1e-9);
    is(total.high, then.high.c() + 20.0, 1e-9);
    is(total.best, before.best.c(), 1e-9);
    // Booked on the pieces: what the total moved by. 10 C less 0.1 % below, 10 C more above.
    is(added.low, -9.99, 1e-6);
    is(added.high, 9.99, 1e-6);
    is(added.best, 0.0, 0.0);
    // And what flows until off may be anything up to 2 A.
    let last = sum.closed(at(12.0), at(12.0), true).charge;
    assert!(last.high.c() >= 2.0 && last.low.c() <= 0.0, "{last:?}");
}

/// Set to within 10 mA, read to within 1 mA: the reading is the better witness, and what is set
/// cuts off nothing of it.
#[test]
fn the_narrower_witness_gives_the_best_figure() {
    for (set_wide, read_wide, best) in [(0.01, 0.001, 10.0), (0.001, 0.01, 10.05)] {
        let mut sum = Integral::new(&with(set_wide, read_wide), Span::from_s(60.0));
        sum.commanded(at(0.0), at(0.0), amps(1.005));
        let seen = |moment| reading(moment, moment, 1.0, Mode::ConstantCurrent);
        sum.read(&seen(1.0), amps(1.005), true);
        let added = sum.read(&seen(11.0), amps(1.005), true).unwrap();
        is(added.charge.best, best, 1e-9);
    }
}

/// What was set and what is read touch in one figure: that is the best of the current. Both are
/// right only if each is off by all it may be, so the bounds are the meter's; and when a guard finds
/// that the two contradict each other, either may have been right alone.
#[test]
fn where_witnesses_just_touch_the_meter_alone_counts() {
    let mut sum = Integral::new(&with(0.25, 0.25), Span::from_s(60.0));
    sum.commanded(at(0.0), at(0.0), amps(1.5));
    let seen = |moment| reading(moment, moment, 1.0, Mode::ConstantCurrent);
    sum.read(&seen(1.0), amps(1.5), true);
    let added = sum.read(&seen(11.0), amps(1.5), true).unwrap();
    is(added.charge.best, 12.5, 1e-9);
    is(added.charge.low, 7.5, 0.013);
    is(added.charge.high, 12.5, 0.013);
    let before = sum.total();
    sum.contradicted();
    is(sum.total().low, before.low.c(), 1e-9);
    is(sum.total().high - before.high, 5.5, 0.6);
}

/// Each of the two lies within what the other allows: the truth is where they overlap.
#[test]
fn witnesses_that_hold_each_other_narrow_the_bounds() {
    let mut sum = Integral::new(&with(0.1, 0.25), Span::from_s(60.0));
    sum.commanded(at(0.0), at(0.0), amps(1.2));
    let seen = |moment| reading(moment, moment, 1.0, Mode::ConstantCurrent);
    sum.read(&seen(1.0), amps(1.2), true);
    let added = sum.read(&seen(11.0), amps(1.2), true).unwrap();
    is(added.charge.low, 11.0, 0.013);
    is(added.charge.high, 12.5, 0.013);
}

/// The lead was open at the last reading. It may have come back just after it, and what is set may
/// have flowed to the off; in a gap as well.
#[test]
fn a_lead_that_was_open_may_be_back_before_anybody_looks() {
    for until in [1.9, 6.0] {
        let mut sum = Integral::new(&with(0.0, 0.0), Span::from_s(3.0));
        sum.commanded(at(0.0), at(0.0), amps(1.0));
        sum.read(&measured(1.0, 1.0, 0.0), amps(1.0), false);
        let before = sum.total();
        let added = sum.closed(at(until), at(until), true);
        is(added.charge.low, 0.0, 0.0);
        is(added.charge.high, until - 1.0 + 0.1, 0.01);
        is(sum.total().high - before.high, until - 1.0 + 0.1, 0.01);
    }
    // A supply that held the current goes on with it: 1 A by the meter, though 1.25 A can be set.
    let mut sum = Integral::new(&with(0.25, 0.01), Span::from_s(60.0));
    let held = reading(1.0, 1.0, 1.0, Mode::ConstantCurrent);
    sum.commanded(at(0.0), at(0.0), amps(1.0));
    sum.read(&held, amps(1.0), true);
    let added = sum.closed(at(9.0), at(9.0), true).charge;
    is(added.high, 8.1 * 1.01, 0.02);
    // And one that sat at its voltage can have had no more than was set before a step.
    let mut sum = integral();
    sum.commanded(at(0.0), at(0.0), amps(1.0));
    sum.read(&measured(1.0, 1.0, 1.0), amps(1.0), false);
    sum.commanded(at(9.0), at(9.0), amps(3.0));
    let added = sum.closed(at(10.0), at(10.0), true).charge;
    is(added.high, 8.0 + 3.0, 0.6);
}

/// A meter within 0.25 A shows 1 A after off: 1.25 A may have flowed until off is proved.
#[test]
fn what_an_output_still_shows_counts_with_its_meters_limits() {
    let mut sum = Integral::new(&with(0.0, 0.25), Span::from_s(60.0));
    sum.commanded(at(0.0), at(0.0), amps(0.5));
    sum.closed(at(1.0), at(1.0), true);
    sum.still_shows(amps(1.0));
    is(sum.doubt(at(1.0), at(3.0)).high, 2.5, 1e-9);
    sum.still_shows(amps(0.1));
    is(sum.doubt(at(3.0), at(4.0)).high, 1.25, 1e-9);
}

/// A supply that was silent may have been without mains, whatever it shows afterwards: of that
/// stretch nothing is certain, and the next counts in full.
#[test]
fn a_silence_is_no_charge() {
    let mut sum = integral();
    sum.commanded(at(0.0), at(0.0), amps(1.0));
    sum.read(&measured(1.0, 1.0, 1.0), amps(1.0), false);
    sum.silent();
    let added = sum
        .read(&measured(3.0, 3.0, 1.0), amps(1.0), false)
        .unwrap();
    is(added.charge.low, 0.0, 0.0);
    is(added.charge.high, 2.0, 0.01);
    let added = sum
        .read(&measured(4.0, 4.0, 1.0), amps(1.0), false)
        .unwrap();
    is(added.charge.low, 1.0, 0.01);
}

/// A supply that sets 8 % too much, a setting of 1 % and a meter of 5 % of 1 A: for eleven seconds
/// 1.04 A are read at 1 A set, and both can hold. When a guard finds that they do not, either may
/// have been right alone from the beginning: up to 1.09 A by the meter, down to 0.99 A by both.
#[test]
fn when_setting_and_meter_contradict_each_other_either_may_have_been_right() {
    let mut sum = Integral::new(&with(0.01, 0.05), Span::from_s(60.0));
    let held = |at: f64| reading(at, at, 1.04, Mode::ConstantCurrent);
    sum.commanded(at(0.0), at(0.0), amps(1.0));
    sum.read(&held(1.0), amps(1.0), true);
    sum.read(&held(11.0), amps(1.0), true);
    is(sum.total().high, 11.0, 0.25);
    let added = sum.contradicted();
    is(added.best, 0.0, 0.0);
    is(added.low, 0.0, 1e-9);
    is(added.high, 0.08 * 11.0, 1e-9);
    assert!(sum.total().high.c() > 1.08 * 11.0, "{:?}", sum.total());
    // Once said it is said.
    is(sum.contradicted().high, 0.0, 0.0);
    // And what stands is no better known until it is off: ten seconds at up to 1.09 A.
    let before = sum.total().high;
    sum.closed(at(21.0), at(21.0), true);
    assert!((sum.total().high - before).c() > 10.9, "{:?}", sum.total());
}

/// Within the meter's limits, ±0.1 A, a change is a straight line, blurred by the exchanges: half a
/// second at either end, and 0.1 % of the charge.
#[test]
fn a_change_within_the_limits_is_a_straight_line_and_one_beyond_them_is_not() {
    let sum = |to: f64| {
        let mut sum = Integral::new(&with(0.1, 0.1), Span::from_s(60.0));
        sum.commanded(at(0.0), at(0.0), amps(1.0));
        sum.read(&measured(0.5, 1.5, 1.0), amps(1.0), false);
        let added = sum.read(&measured(10.5, 11.5, to), amps(1.5), false);
        added.unwrap().charge
    };
    let within = sum(1.15);
    is(within.best, 10.75, 1e-9);
    is(within.low, 9.75 - 0.01075 - 0.15, 1e-9);
    is(within.high, 11.75 + 0.01075 + 0.15, 1e-9);
    // 0.25 A are more than 0.1 and 0.1: it can have come at once, or just now.
    let beyond = sum(1.25);
    is(beyond.best, 11.25, 1e-9);
    is(beyond.low, 9.0, 1e-9);
    is(beyond.high, 13.5, 1e-9);
}

/// 0.2 A stood, 2 A were commanded half-way, 1 A came: either can have flowed until just now, and
/// what came, by itself, before that.
#[test]
fn a_step_that_came_to_something_else_is_open_to_both_sides() {
    let mut sum = integral();
    sum.commanded(at(0.0), at(0.0), amps(0.2));
    sum.read(
        &reading(0.0, 0.0, 0.2, Mode::ConstantCurrent),
        amps(0.2),
        true,
    );
    sum.commanded(at(5.0), at(5.0), amps(2.0));
    let added = sum.read(&measured(10.0, 10.0, 1.0), amps(2.0), false);
    let charge = added.unwrap().charge;
    // 0.2 A all the time; 1 A, then 2 A. The step itself blurs by 0.1 s of 1.8 A.
    is(charge.best, 6.0, 0.1);
    is(charge.low, 2.0, 0.3);
    is(charge.high, 15.0, 0.3);
}

/// A supply that sits at its voltage before and after a step has its current from the cell: what
/// was commanded never flowed.
#[test]
fn a_step_at_the_voltage_limit_opens_nothing() {
    let mut sum = integral();
    sum.commanded(at(0.0), at(0.0), amps(0.5));
    sum.read(&measured(0.0, 0.0, 0.5), amps(0.5), false);
    sum.commanded(at(5.0), at(5.0), amps(1.0));
    let added = sum.read(&measured(10.0, 10.0, 0.5), amps(1.0), false);
    let charge = added.unwrap().charge;
    is(charge.best, 5.0, 0.1);
    is(charge.low, 5.0, 0.15);
    is(charge.high, 5.0, 0.15);
}

/// Ten coulombs, as sure as 0.1 %.
fn ten() -> Integral {
    let mut sum = integral();
    sum.commanded(at(0.0), at(0.0), amps(1.0));
    sum.read(&measured(1.0, 1.0, 1.0), amps(1.0), false);
    let before = sum.total();
    sum.read(&measured(11.0, 11.0, 1.0), amps(1.0), false);
    is(sum.total().best - before.best, 10.0, 1e-9);
    sum
}

#[test]
fn a_supply_that_was_away_may_have_given_nothing_since() {
    let mut sum = ten();
    let before = sum.total();
    let then = Bounded {
        low: Charge::from_c(4.0),
        best: Charge::from_c(5.0),
        high: Charge::from_c(6.0),
    };
    let added = sum.missed(then);
    is(sum.total().low, 4.0, 1e-9);
    is(added.low, 4.0 - before.low.c(), 1e-9);
    assert_eq!(sum.total().high, before.high);
}

/// A setting of ±0.1 A and a meter of ±0.02 A agree for ten seconds at 1 A, then one of them is
/// shown to be worse: 0.08 A to either side from the beginning, and until the next reading.
#[test]
fn a_contradiction_reaches_back_and_on() {
    let mut sum = Integral::new(&with(0.1, 0.02), Span::from_s(60.0));
    sum.commanded(at(0.0), at(0.0), amps(1.0));
    let steady = |t: f64| reading(t, t, 1.0, Mode::ConstantCurrent);
    sum.read(&steady(0.0), amps(1.0), true);
    sum.read(&steady(10.0), amps(1.0), true);
    let before = sum.total();
    let added = sum.contradicted();
    is(before.low - sum.total().low, 0.8, 0.02);
    is(added.low, -0.8, 0.02);
    is(added.high, 0.8, 0.02);
    let next = sum.read(&steady(20.0), amps(1.0), true).unwrap().charge;
    // Between 0.90 and 0.98 A at the least, less 0.1 % of 10 C.
    is(next.low, 9.39, 1e-9);
    is(next.high, 10.61, 1e-9);
}

/// 1 A, last read after ten seconds; somebody else turned it off between 15 s and 17 s, and it was
/// asked again only after a minute: 16 C most likely. Less may have flowed, and so may a minute's.
#[test]
fn an_off_by_somebody_else_ends_what_most_likely_flowed() {
    let stood = || {
        let mut sum = integral();
        sum.commanded(at(0.0), at(0.0), amps(1.0));
        sum.read(
            &reading(10.0, 10.0, 1.0, Mode::ConstantCurrent),
            amps(1.0),
            true,
        );
        sum
    };
    let mut sum = stood();
    sum.stopped(at(15.0), at(17.0));
    let added = sum.closed(at(60.0), at(60.0), false);
    is(added.charge.best, 6.0, 1e-9);
    is(added.charge.low, 0.0, 1e-9);
    is(added.charge.high, 50.0, 1.5);
    assert!((added.on.s() - 6.0).abs() < 1e-9, "{:?}", added.on);
    // A reading of nothing closes it above as well: at most until 17 s.
    let mut sum = stood();
    sum.stopped(at(15.0), at(17.0));
    let added = sum.read(&measured(60.0, 60.0, 0.0), amps(1.0), false);
    let charge = added.unwrap().charge;
    is(charge.best, 6.0, 1e-9);
    is(charge.low, 5.0, 0.01);
    is(charge.high, 7.0, 0.01);
    // The next stretch is whole again.
    let added = sum.read(&measured(70.0, 70.0, 0.0), amps(1.0), false);
    assert!((added.unwrap().on.s() - 10.0).abs() < 1e-9);
}

/// A supply at its voltage gives what the cell takes: what was set may flow after it was stopped.
#[test]
fn what_may_flow_after_an_off_by_somebody_else_is_what_was_set() {
    let mut sum = integral();
    sum.commanded(at(0.0), at(0.0), amps(1.0));
    sum.read(&measured(10.0, 10.0, 0.4), amps(1.0), false);
    sum.stopped(at(15.0), at(15.0));
    let added = sum.closed(at(60.0), at(60.0), false);
    is(added.charge.best, 2.0, 1e-9);
    // 0.4 A for five seconds, 1 A for 45, and 0.1 s to obey.
    is(added.charge.high, 47.1, 0.01);
}

/// A reading that came after it shows that it is on. A step that was sent after it turns nothing on,
/// and may be what flows if it did.
#[test]
fn an_off_by_somebody_else_stands_until_a_reading() {
    let mut sum = integral();
    sum.stopped(at(1.0), at(1.0));
    sum.commanded(at(0.0), at(0.0), amps(1.0));
    let held = reading(10.0, 10.0, 1.0, Mode::ConstantCurrent);
    sum.read(&held, amps(1.0), true);
    sum.stopped(at(9.0), at(9.0));
    sum.commanded(at(12.0), at(12.0), amps(0.5));
    sum.commanded(at(20.0), at(20.0), amps(2.0));
    sum.stopped(at(15.0), at(15.0));
    let added = sum.closed(at(30.0), at(30.0), true);
    // 2 s of 1 A and 3 s of 0.5 A; then 15 s of 2 A, if it was on, and 0.1 s to obey.
    is(added.charge.best, 3.5, 1e-9);
    is(added.charge.high, 33.7, 0.1);
    assert!((added.on.s() - 5.0).abs() < 1e-9, "{:?}", added.on);
}
