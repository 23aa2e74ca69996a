//! Which guards cannot see their fault tonight, with this meter and these currents.

use super::guard::Fault;
use super::watch::limit;
use crate::exchange::{Ask, Capability};
use crate::plan::Plan;

/// A guard that is blind, for some or all of the night.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Blind {
    /// The guard's word code.
    pub code: &'static str,
    /// What it cannot see, and the least it could.
    pub text: String,
}

/// The guards that are blind for some or all of the night.
#[must_use]
pub fn blind(plan: &Plan, supply: &Capability) -> Vec<Blind> {
    let mut list = Vec::new();
    let mut add = |fault: Fault, text: String| {
        list.push(Blind {
            code: fault.code(),
            text,
        })
    };
    let start = plan.forecast.current_start.a();
    let least = limit::JUDGED * supply.read_current.step;
    if start < least {
        add(
            Fault::CurrentOffSetpoint,
            format!(
                "the night starts at {:.1} mA and this meter shows steps of {:.1} mA: below \
                 {:.1} mA a wrong current of one step cannot be seen",
                start * 1e3,
                supply.read_current.step * 1e3,
                least * 1e3
            ),
        );
    }
    let short = supply.read_voltage.half_width(0.0) / limit::LEAST_OHM;
    if start < short {
        add(
            Fault::CellVoltageCollapsed,
            format!(
                "a dead short below {:.0} mA stays under what the voltmeter can tell from nothing \
                 ({:.0} mV): look once when the current has risen past it",
                short * 1e3,
                supply.read_voltage.half_width(0.0) * 1e3
            ),
        );
    }
    let asked = [
        (
            Ask::OUTPUT,
            Fault::OutputNotAsCommanded,
            "its output state; off is proved by current alone",
        ),
        (
            Ask::SET_CURRENT,
            Fault::SetpointChanged,
            "its setpoint: a turned knob shows only as current",
        ),
        (
            Ask::TRIPPED,
            Fault::ProtectionTripped,
            "a tripped protection: it shows only as lost current",
        ),
        (
            Ask::ERROR,
            Fault::SupplyError,
            "errors: a refused command shows only by what it did not do",
        ),
    ];
    for (ask, fault, what) in asked {
        if !supply.reads.has(ask) {
            add(fault, format!("this supply does not tell {what}"));
        }
    }
    list
}
