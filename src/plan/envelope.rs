//! What the night never passes.

use super::forecast::Night;
use super::{Limits, Schedule};
use crate::exchange::Capability;
use crate::spec::Station;
use crate::units::{Charge, Current, Span, Voltage};

/// Above the forecast's peak: room for an area that was guessed too small.
const CURRENT_MARGIN: f64 = 1.10;
/// Above the forecast's charge.
const CHARGE_MARGIN: f64 = 1.10;
/// Above the forecast's time, for pauses' soft starts and a supply at its voltage limit.
const TIME_MARGIN: f64 = 1.25;

/// The limits of a night; see [`Limits`] for each.
pub(super) fn limits(
    night: &Night,
    schedule: &Schedule,
    station: &Station,
    supply: &Capability,
) -> Limits {
    let peak = night.forecast.current_peak * CURRENT_MARGIN;
    let current = peak.min(station.max_current).min(supply.max_current);
    let voltage = station.max_voltage.min(supply.max_voltage);
    let over_voltage =
        voltage + (voltage * 0.03).max(Voltage::from_v(3.0 * supply.set_voltage.step));
    let over_current =
        current + (current * 0.05).max(Current::from_a(3.0 * supply.set_current.step));
    let hold = night.end.hold_current().unwrap_or_default();
    let hold_for = night.end.hold_at_most();
    let charge: Charge = night.forecast.charge + hold * hold_for;
    let time: Span = night.forecast.duration + hold_for;
    Limits {
        current,
        voltage,
        over_voltage: over_voltage.min(supply.max_voltage),
        over_current: over_current.min(supply.max_current),
        charge: charge * CHARGE_MARGIN,
        time_on: time * TIME_MARGIN + schedule.strike_waits,
    }
}
