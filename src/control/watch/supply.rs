//! What the supply says of itself.

use super::electrical::step_of;
use super::{Sees, Sight, news};
use crate::exchange::{Ask, DeviceError, Reading};
use crate::units::Voltage;

pub(super) fn wrong_channel(sight: &Sight<'_>) -> Sees {
    told(sight, |reading| reading.channel.map(|right| !right))
}

pub(super) fn output_off(sight: &Sight<'_>) -> Sees {
    told(sight, |reading| reading.output.map(|on| !on))
}

/// Which of the two setpoints was not the one that was sent, when each was last told: they are
/// asked in turn, and one that is as it should be says nothing of the other.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Strange {
    current: bool,
    voltage: bool,
}

impl Strange {
    pub(super) fn note(&mut self, sight: &Sight<'_>) {
        let [current, voltage] = told_setpoints(sight);
        self.current = current.unwrap_or(self.current);
        self.voltage = voltage.unwrap_or(self.voltage);
    }

    pub(super) fn setpoint_changed(self, sight: &Sight<'_>) -> Sees {
        let told = told_setpoints(sight);
        if told.contains(&Some(true)) {
            Sees::Fault
        } else if told == [None, None] || self.current || self.voltage {
            Sees::NoNews
        } else {
            Sees::Clear
        }
    }
}

/// Whether the setpoints of current and voltage that a reading tells differ from what was sent.
fn told_setpoints(sight: &Sight<'_>) -> [Option<bool>; 2] {
    let Some(reading) = sight.reading else {
        return [None, None];
    };
    let step = step_of(sight.supply.set_voltage);
    let moved = |set: Voltage| (set - sight.ceiling).abs().v() > 1.1 * step;
    let held = reading.set_current.filter(|_| sight.settled);
    [
        held.map(|_| is_strange(reading, sight)),
        reading.set_voltage.map(moved),
    ]
}

pub(super) fn tripped(sight: &Sight<'_>) -> Sees {
    told(sight, |reading| reading.tripped)
}

pub(super) fn error(sight: &Sight<'_>) -> Sees {
    told(sight, |reading| {
        reading.error.as_ref().map(|error| is_fault(error.code))
    })
}

/// What a reading tells, if one came and tells it.
fn told(sight: &Sight<'_>, tells: impl Fn(&Reading) -> Option<bool>) -> Sees {
    news(sight.reading.and_then(tells), |fault| fault)
}

/// It says so itself, or it is off and holds another setpoint as well: a button turns the output
/// off and leaves the setpoint alone.
pub(super) fn power_cycled(sight: &Sight<'_>) -> Sees {
    told(sight, |reading| {
        if reading.error.as_ref().is_some_and(DeviceError::is_power_on) {
            return Some(true);
        }
        let off = reading.output.map(|on| !on)?;
        reading.set_current?;
        // Another output is off and holds another setpoint as well.
        let asks = sight.supply.reads.has(Ask::CHANNEL);
        let ours = reading.channel.map_or(!asks, |ours| ours);
        Some(ours && off && sight.settled && is_strange(reading, sight))
    })
}

/// The setpoint is not the one that was sent.
fn is_strange(reading: &Reading, sight: &Sight<'_>) -> bool {
    reading
        .set_current
        .is_some_and(|held| !sight.supply.holds(held, sight.set))
}

/// True for an error code that is a fault and not an event. SCPI-99 vol. 2 §21.8: -6xx, -7xx and
/// -8xx tell of user request, request control and operation complete; -230 and -231 are stale or
/// doubtful data.
fn is_fault(code: i32) -> bool {
    !matches!(code, 0 | -899..=-600 | -231 | -230)
}
