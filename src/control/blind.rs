//! Which guards cannot see their fault tonight, and the least each one could, with this meter, this
//! station and these currents.

use super::guard::Fault;
use super::watch::limit;
use crate::exchange::{Ask, Capability};
use crate::plan::Plan;
use crate::spec::Measures;
use crate::units::Span;

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
    currents(plan, supply, &mut add);
    silence(supply, &mut add);
    around(plan, &mut add);
    list
}

/// Currents that are too small for the meter.
fn currents(plan: &Plan, supply: &Capability, add: &mut impl FnMut(Fault, String)) {
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
    let short = short_a(supply);
    if start < short {
        add(
            Fault::CurrentWithoutVoltage,
            format!(
                "a dead short below {:.0} mA stays under what the voltmeter can tell from nothing \
                 ({:.0} mV): look once when the current has risen past it",
                short * 1e3,
                supply.read_voltage.half_width(0.0) * 1e3
            ),
        );
    }
    let peak = plan.forecast.current_peak.a();
    let deep = frozen_a(supply) / limit::DEEPEST_STEP;
    if peak < deep {
        add(
            Fault::ReadbackFrozen,
            format!(
                "the night needs {:.0} mA at most, and below {:.0} mA no step of the setpoint \
                 shows on this meter: one that stands still shows only in proving",
                peak * 1e3,
                deep * 1e3
            ),
        );
    }
    let paint = plan
        .pieces
        .iter()
        .any(|piece| piece.cover.whole_after() > Span::ZERO);
    if paint && start < deep {
        add(
            Fault::CoverNotGrowing,
            format!(
                "the strike starts at {:.0} mA, and below {:.0} mA no step of the setpoint shows \
                 on this meter: copper that does not spread may show late",
                start * 1e3,
                deep * 1e3
            ),
        );
    }
}

/// What the supply does not tell.
fn silence(supply: &Capability, add: &mut impl FnMut(Fault, String)) {
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
    let restart = Ask::OUTPUT | Ask::SET_CURRENT;
    if !supply.reads.has(Ask::ERROR) && !supply.reads.has(restart) {
        let text = "this supply does not tell that it lost its power: that shows as lost current";
        add(Fault::SupplyPowerCycled, text.to_owned());
    }
}

/// What the station has no sensor or no word for. A bath without bounds is no bath.
fn around(plan: &Plan, add: &mut impl FnMut(Fault, String)) {
    let bounds = &plan.bounds;
    if !bounds.density.is_finite() {
        return;
    }
    let has = |measures| bounds.sensors.contains(&measures);
    if !has(Measures::Temperature) {
        let text =
            "the station has no temperature sensor: a cold or hot bath shows only as voltage";
        add(Fault::TemperatureOut, text.to_owned());
    }
    if !has(Measures::Stirring) {
        let text = "the station has no stirring sensor: a stirrer that stops is not seen";
        add(Fault::StirringOut, text.to_owned());
    }
    if !has(Measures::Level) && bounds.level.is_none() {
        let text = "the station says neither how the level falls nor has a sensor: write \
                    `[tank.level]`, or see that it stands high enough until the morning";
        add(Fault::LevelLow, text.to_owned());
    }
    if bounds.brightener.is_none() {
        let text = "the station does not say when the brightener is due: write `[tank.brightener]`";
        add(Fault::BrightenerOverdue, text.to_owned());
    }
}

/// A dead short below this current stays under what the voltmeter can tell from nothing, A.
fn short_a(supply: &Capability) -> f64 {
    supply.read_voltage.half_width(0.0) / limit::LEAST_OHM
}

/// The smallest step of the setpoint that shows on this meter, A: noise is part of its fixed error.
pub(super) fn frozen_a(supply: &Capability) -> f64 {
    let meter = supply.read_current;
    (limit::JUDGED + 1.0) * meter.step + meter.fixed
}

/// The least a guard can detect tonight, in words: with this meter's figures where they decide.
#[must_use]
pub fn least(fault: Fault, plan: &Plan, supply: &Capability) -> String {
    let least = fault.guard().least;
    figure(fault, plan, supply).map_or_else(|| least.to_owned(), |it| format!("{it}: {least}"))
}

/// The figure of tonight, where one decides.
fn figure(fault: Fault, plan: &Plan, supply: &Capability) -> Option<String> {
    let peak = plan.forecast.current_peak.a();
    let both = supply.read_current.half_width(peak) + supply.set_current.half_width(peak);
    let volts = supply.read_voltage;
    match fault {
        Fault::CurrentWithoutVoltage => Some(format!("from {:.0} mA on", short_a(supply) * 1e3)),
        Fault::CurrentOffSetpoint => {
            let off = limit::SETPOINT_MARGIN * both + limit::SETPOINT_SHARE * peak;
            Some(format!("{:.1} mA at {:.0} mA", off * 1e3, peak * 1e3))
        }
        Fault::EnvelopeExceeded => Some(format!("{:.1} mA beyond it", both * 1e3)),
        Fault::ReadbackFrozen => Some(format!("a step of {:.1} mA", frozen_a(supply) * 1e3)),
        Fault::VoltageNoisy => {
            let least = limit::NOISE_V
                .max(limit::NOISE_STEPS * volts.step)
                .max(volts.fixed);
            Some(format!("{:.0} mV", least * 1e3))
        }
        Fault::CellVoltageCollapsed => {
            let judged = limit::JUDGED * (volts.fixed + volts.step);
            Some(format!("a voltage of {:.0} mV", judged * 1e3))
        }
        Fault::SetpointChanged => {
            let step = 0.6 * supply.set_current.step;
            Some(format!("{:.2} mA", step * 1e3))
        }
        Fault::LinkLost => Some(format!("{:.0} s", plan.bounds.link_allowance.s())),
        Fault::ChargeCap => Some(format!("{:.3} Ah in all", plan.limits.charge.ah())),
        Fault::TimeCap => Some(format!("{:.2} h in all", plan.limits.time_on.h())),
        Fault::SupplyPowerCycled
        | Fault::WrongChannel
        | Fault::ConstantCurrentLost
        | Fault::CellVoltageHigh
        | Fault::AnodeFilm
        | Fault::VoltageClimbing
        | Fault::CoverNotGrowing
        | Fault::OutputNotAsCommanded
        | Fault::ProtectionTripped
        | Fault::SupplyError
        | Fault::ReadingStale
        | Fault::ReadingImplausible
        | Fault::LinkGarbled
        | Fault::RepliesLate
        | Fault::PeakDensityHigh
        | Fault::LevelLow
        | Fault::TemperatureOut
        | Fault::StirringOut
        | Fault::SensorSilent
        | Fault::BrightenerOverdue
        | Fault::HostSlept
        | Fault::ClockJumped
        | Fault::LedgerSlow
        | Fault::DiskNearlyFull
        | Fault::LedgerNotWriting
        | Fault::CommandFailed
        | Fault::WrongSupply
        | Fault::IdentityChanged
        | Fault::OnBeforeStart
        | Fault::LimitsNotTaken
        | Fault::NoContact
        | Fault::OutputStaysOn
        | Fault::RelayStuck
        | Fault::RelayOpen
        | Fault::RelayLost
        | Fault::KeeperLost
        | Fault::DaemonLost => None,
    }
}
