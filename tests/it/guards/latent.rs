//! Faults that sleep in a supply until they are needed least: each planted alone, each found by
//! proving, before the current of the job flows.

use super::kit::{Bed, Spent, spend};
use crate::night_kit::{Studio, WIRE, studio};
use nightvat::control::{Fault, Outcome, State, Wish};
use nightvat::exchange::OnMainsReturn;
use nightvat::rig::cell::{CellFault, RelayAil, RelayDeed};
use nightvat::rig::instrument::Ail;
use nightvat::supply::wire::Line;
use nightvat::units::{Current, Span, Voltage};
use std::sync::Arc;

/// No more than this can have flowed by the time proving has found it, Ah: 20 mA for a minute.
const LITTLE_AH: f64 = 0.02 / 60.0;

fn wire() -> Studio {
    studio(WIRE, "scpi-standard", 1, false)
}

/// A night on a bench that was prepared like this; whatever keeps off from being proved is mended
/// after ten minutes.
fn found(studio: &Studio, plant: impl FnOnce(&mut Bed)) -> Spent {
    let mut bed = Bed::new(studio);
    plant(&mut bed);
    spend(studio, bed, |run, now, bed| {
        if run.state() == State::Unconfirmed && now.s() > 600.0 {
            for ail in [Ail::Welded(false), Ail::KeepsOn(false), Ail::Frozen(false)] {
                bed.bench.instrument().ail(now, ail);
            }
        }
        None
    })
}

fn plant(ail: Ail) -> impl FnOnce(&mut Bed) {
    move |bed| {
        let now = bed.bench.now();
        bed.bench.instrument().ail(now, ail);
    }
}

/// Proving found it, and nothing of the job had flowed.
fn before_the_night(mut spent: Spent, fault: Fault) {
    let spoke = spent.spoke();
    assert_eq!(spoke.first(), Some(&fault), "{spoke:?}");
    assert_eq!(spent.outcome, Some(Outcome::Tripped(fault)));
    let states = spent.states();
    assert!(!states.iter().any(|state| state.is_live()), "{states:?}");
    spent.is_sound();
}

#[test]
fn a_supply_that_ignores_off() {
    let spent = found(&wire(), plant(Ail::KeepsOn(true)));
    before_the_night(spent, Fault::OutputStaysOn);
}

#[test]
fn an_output_relay_that_is_welded() {
    let spent = found(&wire(), plant(Ail::Welded(true)));
    before_the_night(spent, Fault::OutputStaysOn);
}

#[test]
fn a_protection_that_holds_another_value() {
    let spent = found(&wire(), plant(Ail::ForgetsGuards(true)));
    before_the_night(spent, Fault::LimitsNotTaken);
}

#[test]
fn a_meter_frozen_at_nothing() {
    let spent = found(&wire(), plant(Ail::Frozen(true)));
    assert!(spent.bed.bench.clone().truth().charge_ah < LITTLE_AH);
    before_the_night(spent, Fault::CurrentOffSetpoint);
}

/// It stood still while something flowed: with the output off it shows a current.
#[test]
fn a_meter_frozen_at_something() {
    let spent = found(&wire(), |bed| {
        let now = bed.bench.now();
        let supply = bed.bench.instrument();
        supply.turn_voltage_knob(now, Voltage::from_v(2.0));
        supply.turn_current_knob(now, Current::from_a(0.3));
        supply.press_output(now);
        let later = now + nightvat::units::Span::from_s(5.0);
        supply.run_to(later);
        supply.ail(later, Ail::Frozen(true));
        supply.press_output(later);
        bed.bench.rest(nightvat::units::Span::from_s(6.0));
    });
    assert_eq!(spent.spoke().first(), Some(&Fault::OnBeforeStart));
    assert!(!spent.states().iter().any(|state| state.is_live()));
}

#[test]
fn leads_on_the_other_output() {
    let studio = studio(WIRE, "scpi-standard-two-channel", 1, false);
    let spent = found(&studio, plant(Ail::LeadsElsewhere(true)));
    before_the_night(spent, Fault::NoContact);
}

#[test]
fn a_supply_that_keeps_the_other_output_selected() {
    let studio = studio(WIRE, "scpi-standard-two-channel", 1, false);
    let mut bed = Bed::new(&studio);
    plant(Ail::OtherOutput(true))(&mut bed);
    let spent = spend(&studio, bed, |run, now, bed| {
        if run.state() == State::Unconfirmed {
            let ail = Ail::OtherOutput(false);
            bed.bench.instrument().ail(now, ail);
        }
        None
    });
    before_the_night(spent, Fault::WrongChannel);
}

#[test]
fn a_supply_that_says_ok_and_does_nothing() {
    let spent = found(&wire(), plant(Ail::TakesNothing(true)));
    before_the_night(spent, Fault::LimitsNotTaken);
}

#[test]
fn an_output_that_comes_on_at_power_up() {
    let mut studio = wire();
    studio.quirks.on_mains_return = OnMainsReturn::On;
    let spent = found(&studio, |bed| {
        let now = bed.bench.now();
        let supply = bed.bench.instrument();
        supply.turn_voltage_knob(now, Voltage::from_v(1.0));
        supply.turn_current_knob(now, Current::from_a(0.2));
        supply.press_output(now);
        supply.lose_power(now);
        supply.regain_power(now);
    });
    assert_eq!(spent.spoke(), [Fault::OnBeforeStart]);
    assert_eq!(spent.outcome, Some(Outcome::Tripped(Fault::OnBeforeStart)));
    assert!(!spent.states().iter().any(|state| state.is_live()));
    assert!(spent.bed.bench.clone().truth().current_a == 0.0);
}

#[test]
fn a_supply_that_is_not_the_profiles() {
    let mut studio = wire();
    Arc::make_mut(&mut studio.profile).identity.patterns = vec!["ANOTHER,*".into()];
    let spent = found(&studio, |_| ());
    // Nobody asks a stranger whether it is off: the run says so, and nothing was turned on.
    assert_eq!(spent.spoke(), [Fault::WrongSupply]);
    assert_eq!(spent.run.state(), State::Unconfirmed);
    assert!(spent.bed.bench.clone().truth().charge_ah == 0.0);
}

#[test]
fn a_lead_that_hangs_beside_its_clip() {
    let spent = found(&wire(), |bed| bed.bench.fault(CellFault::LeadOpen));
    before_the_night(spent, Fault::NoContact);
}

fn relay(ail: RelayAil) -> impl FnOnce(&mut Bed) {
    move |bed| {
        let now = bed.bench.now();
        let deed = RelayDeed::Ails(Some(ail));
        bed.bench.instrument().relay(now, deed);
    }
}

#[test]
fn a_cut_off_relay_that_is_welded() {
    let spent = found(&wire().with_relay(), relay(RelayAil::Welded));
    before_the_night(spent, Fault::RelayStuck);
}

#[test]
fn a_cut_off_relay_that_holds_longer_than_was_measured() {
    let mut studio = wire().with_relay();
    studio.world.relay_holds = Some(Span::from_s(20.0));
    let spent = found(&studio, |_| ());
    before_the_night(spent, Fault::RelayStuck);
}

#[test]
fn a_cut_off_relay_that_never_closes() {
    let studio = wire().with_relay();
    for ail in [RelayAil::Burnt, RelayAil::Dead] {
        before_the_night(found(&studio, relay(ail)), Fault::RelayOpen);
    }
}

/// A supply whose own output relay has welded is found with the cut-off relay closed: behind an
/// open lead it would look like one that obeys.
#[test]
fn an_output_relay_that_is_welded_behind_a_sound_cut_off_relay() {
    let spent = found(&wire().with_relay(), plant(Ail::Welded(true)));
    before_the_night(spent, Fault::OutputStaysOn);
}

/// The small current stops and comes back somewhere between two readings as the relay is tried: as
/// the strike begins, the run knows what flowed, whenever it opened.
#[test]
fn what_flowed_while_the_relay_was_tried_is_bounded() {
    for hundredths in 40..149 {
        let mut studio = studio(WIRE, "scpi-standard", 1, true).with_relay();
        studio.world.relay_holds = Some(Span::from_ms(10.0 * f64::from(hundredths)));
        let mut known = None;
        spend(&studio, Bed::new(&studio), |run, _, bed| {
            let begins = known.is_none() && run.state() == State::Striking;
            if begins {
                known = Some((run.core().charge(), bed.bench.truth().charge_ah));
            }
            begins.then_some(Wish::Stop)
        });
        let (charge, truth) = known.unwrap();
        let (low, high) = (charge.low.ah(), charge.high.ah());
        assert!(
            low <= truth && truth <= high,
            "{hundredths}: {low} {truth} {high}"
        );
    }
}
