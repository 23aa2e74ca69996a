//! What the guards cannot see tonight, and the least they can: worked out by hand for a supply with
//! steps of 1 mA and 10 mV and no other error.

use super::guards::supply;
use super::night_kit::{WIRE, studio};
use nightvat::control::{Fault, blind, least};
use nightvat::deposit::Cover;
use nightvat::exchange::{Ask, Capability};
use nightvat::plan::Plan;
use nightvat::spec::{Level, Measures};
use nightvat::units::{Area, Current, Length, Span};

fn plan(start_ma: f64, peak_ma: f64) -> Plan {
    let mut plan = (*studio(WIRE, "scpi-standard", 1, true).plan).clone();
    plan.forecast.current_start = Current::from_ma(start_ma);
    plan.forecast.current_peak = Current::from_ma(peak_ma);
    plan
}

fn is_blind(fault: Fault, plan: &Plan, supply: &Capability) -> bool {
    let rows = blind(plan, supply);
    rows.iter().any(|row| row.code == fault.code())
}

#[test]
fn small_currents_are_told_from_where_the_meter_can_tell_them() {
    let fine = supply();
    let mut coarse = supply();
    coarse.read_current.fixed = 0.002;
    for (fault, start, peak, supply, wanted) in [
        // Four steps of 1 mA.
        (Fault::CurrentOffSetpoint, 3.9, 900.0, &fine, true),
        (Fault::CurrentOffSetpoint, 4.1, 900.0, &fine, false),
        // Half a step of 10 mV over 10 mohm.
        (Fault::CurrentWithoutVoltage, 499.0, 900.0, &fine, true),
        (Fault::CurrentWithoutVoltage, 501.0, 900.0, &fine, false),
        // Five steps of 1 mA must be no more than 35 % of the setpoint: 14.29 mA.
        (Fault::ReadbackFrozen, 2.0, 14.2, &fine, true),
        (Fault::ReadbackFrozen, 2.0, 14.4, &fine, false),
        // And the meter's error of 2 mA on top: 20 mA.
        (Fault::ReadbackFrozen, 2.0, 19.9, &coarse, true),
        (Fault::ReadbackFrozen, 2.0, 20.1, &coarse, false),
    ] {
        let found = is_blind(fault, &plan(start, peak), supply);
        assert_eq!(found, wanted, "{} at {start} mA", fault.code());
    }
}

#[test]
fn a_strike_on_paint_asks_for_a_step_that_shows() {
    let area = Area::from_cm2(100.0);
    let paint = Cover::paint(Area::from_cm2(1.0), area, Span::from_h(1.0)).unwrap();
    for (start, painted, wanted) in [
        (14.2, true, true),
        (14.4, true, false),
        (14.2, false, false),
    ] {
        let mut plan = plan(start, 900.0);
        if painted {
            plan.pieces[0].cover = paint;
        }
        let found = is_blind(Fault::CoverNotGrowing, &plan, &supply());
        assert_eq!(found, wanted, "{start} mA, painted: {painted}");
    }
}

#[test]
fn lost_power_shows_in_the_queue_or_in_state_and_setpoint() {
    let both = Ask::OUTPUT | Ask::SET_CURRENT;
    for (reads, wanted) in [
        (Ask::MEASURED, true),
        (Ask::MEASURED | Ask::OUTPUT, true),
        (Ask::MEASURED | both, false),
        (Ask::MEASURED | Ask::ERROR, false),
        (Ask::MEASURED | Ask::ERROR | both, false),
    ] {
        let can = Capability { reads, ..supply() };
        let found = is_blind(Fault::SupplyPowerCycled, &plan(500.0, 900.0), &can);
        assert_eq!(found, wanted, "{reads:?}");
    }
}

#[test]
fn a_level_is_seen_by_a_sensor_or_reckoned_by_its_fall() {
    let falls = Level {
        above: Length::from_mm(20.0),
        falls_a_day: Length::from_mm(5.0),
    };
    for (sensor, level, wanted) in [
        (false, None, true),
        (true, None, false),
        (false, Some(falls), false),
        (true, Some(falls), false),
    ] {
        let mut plan = plan(500.0, 900.0);
        plan.bounds.sensors = if sensor {
            vec![Measures::Level]
        } else {
            Vec::new()
        };
        plan.bounds.level = level;
        let found = is_blind(Fault::LevelLow, &plan, &supply());
        assert_eq!(found, wanted, "sensor: {sensor}, level: {level:?}");
    }
}

#[test]
fn the_least_a_guard_can_see_is_told_in_figures() {
    let plan = plan(500.0, 2000.0);
    let mut rough = supply();
    rough.read_voltage.fixed = 0.02;
    let fine = supply();
    for (fault, supply, figure) in [
        (Fault::CurrentWithoutVoltage, &fine, "from 500 mA on"),
        // 1.5 x (0.5 mA + 0.5 mA) + 1 % of 2 A.
        (Fault::CurrentOffSetpoint, &fine, "21.5 mA at 2000 mA"),
        (Fault::EnvelopeExceeded, &fine, "1.0 mA beyond"),
        (Fault::ReadbackFrozen, &fine, "a step of 5.0 mA"),
        // Three steps of 10 mV.
        (Fault::VoltageNoisy, &fine, "30 mV"),
        // Four times the error of 20 mV and a step of 10 mV.
        (Fault::CellVoltageCollapsed, &rough, "120 mV"),
        (Fault::SetpointChanged, &fine, "0.60 mA"),
    ] {
        let said = least(fault, &plan, supply);
        assert!(said.starts_with(figure) || said.contains(figure), "{said}");
    }
}
