//! When current flows: readings once a period, the goal met to the moment, and what follows it.

use super::desk::{Desk, talkative};
use super::guards::supply;
use super::night_kit::WIRE;
use nightvat::control::{Action, Note, Outcome, State, Wish};
use nightvat::control::{Event, Fault};
use nightvat::exchange::{Ask, Capability, LinkFault, Mode, Order};
use nightvat::units::{Charge, Current, Moment, Span, Voltage};

const HOLD: &str = "\n[finish]\nhold = '0.1 A/dm2'\nat_most = '30 min'\n";

fn held() -> Desk {
    Desk::begin(&format!("{WIRE}{HOLD}"), talkative())
}

/// A thin layer, so that a night takes minutes, and a hold.
fn thin(um: f64) -> Desk {
    let job = WIRE.replace("30 um", &format!("{um:.4} um"));
    Desk::begin(&format!("{job}{HOLD}"), talkative())
}

#[test]
fn readings_begin_a_period_after_the_start_and_come_once_a_period() {
    let mut desk = held();
    desk.reach(State::Striking);
    let begun = desk.now;
    desk.pass(100.0);
    let reads = desk.reads(begun);
    assert!((reads[0].since(begun).s() - 1.0).abs() < 1e-6, "{reads:?}");
    for pair in reads.windows(2) {
        assert!((pair[1].since(pair[0]).s() - 1.0).abs() < 1e-6, "{pair:?}");
    }
    // Nothing was missed, so no gap is named, and every period is told to the keeper.
    assert!(
        !desk
            .notes()
            .iter()
            .any(|(_, note)| matches!(note, Note::Gap(_)))
    );
    let done = desk.acts.iter();
    let done = done.filter(|(at, it)| *at > begun && *it == Action::PeriodDone);
    assert!(done.count() >= 99);
}

/// Whatever the phase of the readings, on a quick line and on a slow one: at the goal nothing is in
/// flight that off would have to wait for, and the charge is the same within 20 ms of current.
#[test]
fn the_goal_is_met_in_every_phase_of_the_readings() {
    for takes in [20.0, 300.0, 700.0] {
        let (mut phases, mut late) = (Vec::new(), Vec::new());
        for turn in 0..24 {
            // 0.7 nm is some 0.13 s.
            let um = 12.0 + f64::from(turn) * 0.000_7;
            let mut desk = thin(um);
            desk.takes = Span::from_ms(takes);
            let goal = desk.core.plan().forecast.charge;
            desk.reach(State::Holding);
            let flying = desk.in_flight();
            assert_eq!(flying, None, "a reading was in flight at the goal, {um} µm");
            let last = desk.reads(Moment::ZERO).last().copied().unwrap();
            phases.push(desk.now.since(last).s());
            let current = desk.set;
            desk.pass(2.0);
            let reached = desk.core.reached().unwrap().charge.best;
            late.push((reached - goal).c() / current.a());
        }
        let spread = |list: &[f64]| {
            list.iter().copied().fold(f64::MIN, f64::max)
                - list.iter().copied().fold(f64::MAX, f64::min)
        };
        assert!(spread(&phases) > 0.5, "the phases differ: {phases:?}");
        // No reading is left out that would be over by then, with half of its time to spare.
        let longest = phases.iter().copied().fold(0.0, f64::max);
        assert!(longest < 1.05 + 1.5e-3 * takes, "{takes} ms: {phases:?} s");
        assert!(spread(&late) < 0.02, "{takes} ms: {late:?} s");
        // The forecast's own figures are good to a second in forty minutes.
        assert!(late.iter().all(|late| late.abs() < 1.0), "{late:?} s");
    }
}

/// A reading that was slow for once, as with replies that are lost, silences neither the readings
/// before the goal nor what the keeper waits for.
#[test]
fn one_slow_reading_before_the_goal_leaves_the_keeper_no_lapse() {
    let mut plain = thin(12.0);
    plain.reach(State::Holding);
    let goal = plain.now;
    for turn in 0..16 {
        let slow = goal - Span::from_s(3.0 + 0.4 * f64::from(turn));
        let mut desk = thin(12.0);
        desk.reach(State::Building);
        desk.pass(slow.since(desk.now).s());
        desk.takes = Span::from_s(2.9);
        while !matches!(desk.in_flight(), Some(Order::Read(_))) {
            desk.step();
            desk.put_on_the_line();
        }
        desk.step();
        desk.takes = Span::from_ms(40.0);
        desk.reach(State::Holding);
        let done = desk.acts.iter();
        let done = done.filter(|(at, it)| *at > slow && *it == Action::PeriodDone);
        let told: Vec<f64> = done.map(|(at, _)| at.since(slow).s()).collect();
        let longest = told.windows(2).map(|pair| pair[1] - pair[0]);
        assert!(longest.fold(0.0, f64::max) < 2.0, "{turn}: {told:?}");
        let until = desk.now.since(slow).s() - told.last().unwrap();
        assert!(until < 2.0, "{turn}: {until} s");
        let unread = desk.now.since(*desk.reads(Moment::ZERO).last().unwrap());
        // The slow one itself, or a quick one within two periods.
        assert!(unread.s() < 2.9 + 1.0, "{turn}: {unread:?}");
    }
}

/// A step down just before the goal would leave the charge to a setpoint that is about to change:
/// the meter is not tried then.
#[test]
fn the_meter_is_not_tried_when_the_goal_is_near() {
    let (begun, held) = {
        let mut desk = thin(12.0);
        desk.reach(State::Striking);
        let begun = desk.now;
        desk.reach(State::Holding);
        (begun, desk.now)
    };
    // A step is taken 120 s after the start, and every 601 s from then on: the next is due 600 s
    // after the reading in the one before.
    let after = held.since(begun).s() - 120.0;
    let due = (after / 601.0).ceil() * 601.0;
    for turn in 0..36 {
        // Thickness grows by 5.513 nm a second: 1.5 A/dm2 at 13.2310 µm per Ah/dm2.
        let seconds = due - after - 2.0 + 0.2 * f64::from(turn);
        let mut desk = thin(12.0 + seconds * 5.513e-3);
        desk.reach(State::Holding);
        // The step to the hold itself is none.
        let (goal, near) = (desk.now, desk.now - Span::from_s(1.2));
        let dips = dips(&desk, begun);
        assert!(
            dips.iter().all(|dip| *dip < near || *dip >= goal),
            "{dips:?} {near:?}"
        );
    }
}

/// The same target with quick and with slow exchanges: half of what a command takes is allowed for.
#[test]
fn a_slow_line_moves_the_goal_by_nothing() {
    let reached = |takes: f64| {
        let mut desk = thin(12.0);
        desk.takes = Span::from_ms(takes);
        desk.reach(State::Holding);
        let current = desk.set;
        desk.pass(2.0);
        (desk.core.reached().unwrap().charge.best, current)
    };
    let ((quick, current), (slow, _)) = (reached(20.0), reached(400.0));
    let late = ((slow - quick).c() / current.a()).abs();
    assert!(late < 0.02, "{late} s apart");
}

#[test]
fn a_hold_lasts_as_long_as_the_job_allows() {
    let mut desk = held();
    desk.reach(State::Holding);
    let begun = desk.now;
    let low = desk.sets(begun).last().unwrap().1;
    assert!(low < desk.set, "{} A is not down", low.a());
    assert_eq!(desk.finish(), Outcome::Finished);
    let lasted = desk.now.since(begun).s() / 60.0;
    assert!((lasted - 30.0).abs() < 0.05, "{lasted} min");
}

/// After a pause covered metal needs no strike: from a fifth to all of the current in two minutes.
#[test]
fn after_a_pause_the_current_comes_back_softly() {
    let mut desk = held();
    desk.reach(State::Building);
    desk.pass(60.0);
    let full = desk.set.a();
    desk.tell(Event::Asked(Wish::Pause));
    desk.pass(20.0);
    assert!(!desk.on && desk.core.state() == State::Paused);
    desk.tell(Event::Asked(Wish::Resume));
    desk.reach(State::Building);
    let begun = desk.now;
    for (seconds, share) in [(2.0, 0.2), (60.0, 0.6), (90.0, 0.8), (125.0, 1.0)] {
        while desk.now < begun + Span::from_s(seconds) {
            desk.step();
        }
        let found = desk.set.a() / full;
        assert!((found - share).abs() < 0.02, "{found} after {seconds} s");
    }
}

/// An envelope lasts ten minutes and is renewed at half of it; a current that is steady needs no
/// other.
#[test]
fn envelopes_are_renewed_at_half_their_time() {
    let mut desk = Desk::begin(&WIRE.replace("30 um", "60 um"), talkative());
    desk.reach(State::Building);
    desk.pass(600.0);
    let begun = desk.now;
    desk.pass(3600.0);
    let asked = desk.envelopes();
    let late: Vec<_> = asked.iter().filter(|(at, _)| *at >= begun).collect();
    // Each five minutes; the current grows by less than their headroom of 5 % in an hour.
    assert!((11..=13).contains(&late.len()), "{} in an hour", late.len());
    for pair in late.windows(2) {
        let apart = pair[1].0.since(pair[0].0).s();
        assert!((300.0..302.5).contains(&apart), "{apart} s apart");
    }
    for (at, envelope) in late {
        assert_eq!(envelope.until, *at + Span::from_min(10.0));
        assert!(envelope.current >= desk.set * 0.95);
        assert!(envelope.current <= desk.core.plan().limits.current);
    }
}

/// The moments at which the setpoint steps down by some 5 % for one reading.
fn dips(desk: &Desk, since: Moment) -> Vec<Moment> {
    let sets = desk.sets(since);
    let down = sets.windows(2).filter(|pair| pair[1].1 < pair[0].1 * 0.96);
    down.map(|pair| pair[1].0).collect()
}

/// On bare metal the meter is tried two minutes after the start and then every ten.
#[test]
fn the_meter_is_tried_every_ten_minutes() {
    let job = WIRE.replace("30 um", "60 um");
    let mut desk = Desk::begin(&job, talkative());
    desk.reach(State::Striking);
    let begun = desk.now;
    desk.pass(2.0 * 3600.0);
    let dips = dips(&desk, begun);
    let first = dips[0].since(begun).s();
    assert!((120.0..123.0).contains(&first), "{first} s");
    assert!(dips.len() >= 11, "{} in two hours", dips.len());
    for pair in dips.windows(2) {
        let apart = pair[1].since(pair[0]).s();
        assert!((600.0..604.0).contains(&apart), "{apart} s apart");
    }
    // A step lasts one reading, and as long as the supply wants between two setpoints.
    for dip in dips {
        let sets = desk.sets(dip);
        assert!(sets[1].0.since(dip).s() < 2.1 && sets[1].1 > sets[0].1);
    }
}

/// A supply that is set no oftener than every ten seconds is tried, a slower one is left alone; so
/// is one that does not say that it holds the current.
#[test]
fn who_is_set_seldom_or_holds_nothing_is_not_tried() {
    let count = |interval: f64, mode: Mode| {
        let can = Capability {
            least_set_interval: Span::from_s(interval),
            ..talkative()
        };
        let mut desk = Desk::begin(WIRE, can);
        desk.twist = Box::new(move |reading| reading.mode = reading.mode.map(|_| mode));
        desk.reach(State::Building);
        let begun = desk.now;
        desk.pass(1800.0);
        assert_eq!(desk.spoke(), Vec::<Fault>::new());
        dips(&desk, begun).len()
    };
    assert!(count(10.0, Mode::ConstantCurrent) >= 2);
    assert_eq!(count(10.1, Mode::ConstantCurrent), 0);
    assert_eq!(count(1.0, Mode::Unregulated), 0);
}

/// A supply that does not tell its mode is tried while its voltage is clear of the ceiling; a step
/// that would have to be deeper than 35 % to show on the meter is not taken: five steps of 50 mA are
/// more than that of 0.38 A.
#[test]
fn a_step_that_could_not_show_is_not_taken() {
    let count = |reads: Ask, share: Option<f64>, step: f64| {
        let mut can = Capability {
            reads,
            ..talkative()
        };
        can.read_current.step = step;
        let mut desk = Desk::begin(WIRE, can);
        let ceiling = desk.core.plan().limits.voltage;
        if let Some(share) = share {
            // Two ohm around this share of the ceiling, at the 0.377 A of full density.
            desk.twist = Box::new(move |reading| {
                let Some(flows) = reading.current.filter(|it| *it > Current::ZERO) else {
                    return;
                };
                let off = Voltage::from_v((flows.a() - 0.377) * 2.0);
                reading.voltage = Some(ceiling * share + off);
            });
        }
        desk.reach(State::Building);
        let begun = desk.now;
        desk.pass(1800.0);
        dips(&desk, begun).len()
    };
    let (told, untold) = (talkative().reads, talkative().reads.without(Ask::MODE));
    assert!(count(told, None, 0.001) >= 2);
    assert_eq!(count(told, None, 0.05), 0);
    assert!(count(untold, None, 0.001) >= 2);
    assert!(count(untold, Some(0.96), 0.001) >= 2);
    assert_eq!(count(untold, Some(0.975), 0.001), 0);
}

/// The step to the hold was taken and its reply was lost: nobody knows which current stands, so none
/// is judged; it is sent again, and the charge is bounded by both for that time and no longer.
#[test]
fn a_setpoint_of_unknown_fate_is_sent_again_and_not_judged() {
    let mut desk = held();
    desk.reach(State::Building);
    desk.reach(State::Holding);
    let hold = desk.sets(desk.now).last().unwrap().1;
    let full = desk.set;
    // It is taken; what comes back is lost, three times over.
    desk.set = hold;
    let begun = desk.now;
    let mut left = 3;
    desk.mishap = Box::new(move |order| {
        let loses = matches!(order, Order::SetCurrent(_)) && left > 0;
        left -= i32::from(loses);
        loses.then_some(LinkFault::Silent)
    });
    let before = desk.core.charge();
    desk.pass(20.0);
    assert_eq!(desk.spoke(), Vec::<Fault>::new());
    assert_eq!(desk.core.state(), State::Holding);
    let again = desk.sets(begun);
    assert!(again.len() >= 4, "{again:?}");
    assert!(
        again.iter().all(|(_, to)| (*to - hold).abs().ma() < 1.1),
        "{again:?}"
    );
    let after = desk.core.charge();
    let wider = (after.high - after.low) - (before.high - before.low);
    // Three periods and a bit at either current are the most that can be unknown.
    assert!(wider.c() < full.a() * 5.0, "{} C wider", wider.c());
}

/// While a step down waits for its reading, nothing raises the setpoint, however slow the line is.
#[test]
fn a_step_down_stands_until_it_was_read() {
    let can = Capability {
        longest_exchange: Span::from_s(1.0),
        least_set_interval: Span::from_ms(100.0),
        ..talkative()
    };
    let mut desk = Desk::begin(WIRE, can);
    desk.takes = Span::from_ms(900.0);
    desk.reach(State::Building);
    let begun = desk.now;
    desk.pass(1500.0);
    let found = dips(&desk, begun);
    assert!(found.len() >= 2, "{found:?}");
    for dip in found {
        let up = desk.sets(dip)[1].0;
        // The set itself, and one reading that began after it: 900 ms each, and 0.3 s to settle.
        assert!(up.since(dip).s() >= 2.0, "{} s", up.since(dip).s());
    }
}

/// A meter that stands still from some moment on does not follow the next step. The one after that
/// comes within seconds; two are enough, and what was booked since the last step that it followed
/// is bounded by nothing and by all that the run allows.
#[test]
fn a_meter_that_stands_still_takes_the_charge_back_to_when_it_last_followed() {
    let mut desk = Desk::begin(&WIRE.replace("30 um", "60 um"), talkative());
    desk.reach(State::Building);
    desk.pass(1000.0);
    let still = desk.set;
    let (from, then) = (desk.now, desk.core.charge());
    desk.twist = Box::new(move |reading| {
        let shown = |flows: Current| if flows > Current::ZERO { still } else { flows };
        reading.current = reading.current.map(shown);
    });
    let outcome = desk.finish();
    assert_eq!(outcome, Outcome::Tripped(Fault::ReadbackFrozen));
    let dips = dips(&desk, from);
    assert_eq!(dips.len(), 2, "{dips:?}");
    let apart = dips[1].since(dips[0]).s();
    assert!((10.0..14.0).contains(&apart), "{apart} s");
    let charge = desk.core.charge();
    assert!(charge.low <= then.best, "{charge:?} since {then:?}");
    let most = desk.core.plan().limits.current;
    let since: Span = dips[1].since(from);
    assert!(charge.high >= then.best + most * since, "{charge:?}");
    // And the pieces carry what the run does.
    let pieces: Charge = desk.core.rack().charge(0).high;
    assert!((pieces - charge.high).abs().c() < 0.05 * charge.high.c());
}

/// Another output is shown from some moment on. It is asked for in turn, every few seconds; the
/// charge is doubted back to when the right one was last seen.
#[test]
fn another_output_takes_the_charge_back_to_when_it_last_was_ours() {
    let mut desk = Desk::begin(&WIRE.replace("30 um", "60 um"), talkative());
    desk.reach(State::Building);
    desk.pass(300.0);
    // Until a reading has asked for it and was told so.
    let asks =
        |order: &(Moment, Order)| matches!(order.1, Order::Read(ask) if ask.has(Ask::CHANNEL));
    let begun = desk.now;
    while !desk.orders(begun).iter().any(asks) {
        desk.step();
    }
    desk.pass(0.5);
    let ours = desk.core.charge();
    desk.twist = Box::new(|reading| reading.channel = reading.channel.map(|_| false));
    assert_eq!(desk.finish_without_proof(30.0), Some(Fault::WrongChannel));
    let charge = desk.core.charge();
    assert!(charge.low <= ours.best, "{charge:?} since {ours:?}");
    assert!(desk.now.since(begun).s() > 3.0);
}

/// What is told of a run that flows, and of one that does not.
#[test]
fn a_run_tells_what_stands_and_how_long_it_takes() {
    let mut desk = held();
    assert_eq!(desk.core.time_left(), None);
    assert_eq!(desk.core.envelope(), None);
    desk.reach(State::Building);
    desk.pass(1200.0);
    let left = desk.core.time_left().unwrap();
    let envelope = desk.core.envelope().unwrap();
    assert_eq!(Some(envelope), desk.envelopes().last().map(|it| it.1));
    assert_eq!(desk.core.setpoint(), Some(desk.set));
    let read = desk.core.last_reading().unwrap();
    assert!((read.current.unwrap() - desk.set).abs().ma() < 1.1);
    let begun = desk.now;
    desk.reach(State::Holding);
    let took = desk.now.since(begun);
    assert!((left / took - 1.0).abs() < 0.02, "{left:?} {took:?}");
    desk.pass(1.0);
    desk.tell(Event::Asked(Wish::Stop));
    desk.finish();
    assert_eq!(desk.core.setpoint(), None);
    assert_eq!(desk.core.time_left(), None);
}

/// 5 mA, or what this meter can tell from nothing three times over, in steps of the setting.
#[test]
fn the_proving_current_is_small_and_visible() {
    let first = |step: f64, fixed: f64| {
        let mut can = supply();
        can.reads = talkative().reads;
        (can.set_current.step, can.read_current.step) = (step, 0.0);
        can.read_current.fixed = fixed;
        let mut desk = Desk::begin(WIRE, can);
        desk.reach(State::Striking);
        desk.sets(Moment::ZERO)[0].1
    };
    let near = |found: Current, ma: f64| {
        assert!(
            (found.ma() - ma).abs() < 1e-6,
            "{} mA, not {ma}",
            found.ma()
        );
    };
    near(first(0.001, 0.0), 5.0);
    near(first(0.0, 0.0), 5.0);
    near(first(0.002, 0.0), 6.0);
    near(first(0.001, 0.004), 12.0);
    near(first(0.010, 0.0), 10.0);
}

/// In a thick layer the current grows with the piece: the time that is left follows the plan's curve,
/// and not what flows now.
#[test]
fn the_time_that_is_left_lets_the_current_grow() {
    let mut desk = Desk::begin(&WIRE.replace("30 um", "300 um"), talkative());
    desk.reach(State::Building);
    desk.pass(1800.0);
    let (begun, full) = (desk.now, desk.set);
    let left = desk.core.time_left().unwrap();
    let asked = desk.core.plan().forecast.charge - desk.core.charge().best;
    desk.finish();
    let took = desk.now.since(begun);
    assert!((left / took - 1.0).abs() < 0.005, "{left:?} {took:?}");
    let steady = asked / full;
    assert!(steady / took > 1.1, "{steady:?} at what flowed then");
}
