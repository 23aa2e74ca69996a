//! A plan against the supply, the station and its anode.

use super::Remarks;
use crate::bath::BathProfile;
use crate::exchange::{Ask, Capability, OnMainsReturn};
use crate::plan::Plan;
use crate::spec::Station;
use crate::units::{Area, Length, Span};

/// An anode this many times larger than the bath wants at most is told (`common practice, no
/// source`).
const FAR: f64 = 2.0;
/// A peak current of fewer supply steps than this cannot follow a growing area.
const LEAST_PEAK_STEPS: f64 = 20.0;
/// Below this many supply steps the start is held by taking two steps in turn.
const LEAST_START_STEPS: f64 = 10.0;
/// A start below this many steps of the meter is judged by its setpoint.
const LEAST_METER_STEPS: f64 = 10.0;
/// The anode should weigh this many times the forecast's mass.
const ANODE_RESERVE: f64 = 1.5;

/// Off must be provable, and what flows must be read.
pub(super) fn proof(said: &mut Remarks, supply: &Capability) {
    let reads = supply.reads;
    if !reads.has(Ask::CURRENT) && !reads.has(Ask::OUTPUT) {
        said.refuse(
            "no-proof-of-off",
            "this supply can tell neither its output state nor its \
            current, so that off could never be proved: use another supply, or add the questions \
            to its profile"
                .to_owned(),
        );
    }
    if !reads.has(Ask::CURRENT) {
        said.refuse(
            "readback-missing",
            "this supply cannot tell the current that flows, so that amp-hours \
            cannot be counted: use another supply, or add the question to its profile"
                .to_owned(),
        );
    }
}

/// Currents and voltages against station and supply.
pub(super) fn powers(said: &mut Remarks, plan: &Plan, station: &Station, supply: &Capability) {
    if station.max_voltage > supply.max_voltage {
        said.refuse("voltage-above-supply", format!(
            "the station's voltage limit is {:.2} V and its supply gives at most {:.2} V: lower \
             `limits.voltage` in the station",
            station.max_voltage.v(), supply.max_voltage.v()
        ));
    }
    let peak = plan.forecast.current_peak;
    if peak > supply.max_current {
        said.refuse(
            "current-above-supply",
            format!(
                "the night needs up to {:.3} A and the supply gives at most {:.3} A: hang fewer \
             pieces, or lower `current.density`",
                peak.a(),
                supply.max_current.a()
            ),
        );
    }
    if peak > station.max_current {
        said.refuse(
            "current-above-station",
            format!(
                "the night needs up to {:.3} A and the station allows {:.3} A: hang fewer pieces, \
             lower `current.density`, or raise `limits.current` in the station",
                peak.a(),
                station.max_current.a()
            ),
        );
    }
}

/// Currents against what the supply can set and show.
pub(super) fn steps(said: &mut Remarks, plan: &Plan, supply: &Capability) {
    let (start, peak) = (
        plan.forecast.current_start.a(),
        plan.forecast.current_peak.a(),
    );
    let (set, read) = (supply.set_current.step, supply.read_current.step);
    if peak < LEAST_PEAK_STEPS * set {
        said.refuse("setpoint-too-coarse", format!(
            "the night needs {:.1} mA at most and this supply sets steps of {:.1} mA: use a finer \
             supply, or hang more pieces",
            peak * 1e3, set * 1e3
        ));
    } else if start < LEAST_START_STEPS * set {
        said.warn("setpoint-coarse", format!(
            "the night starts at {:.1} mA and this supply sets steps of {:.1} mA: two steps are \
             taken in turn until the area has grown",
            start * 1e3, set * 1e3
        ));
    }
    if start < LEAST_METER_STEPS * read {
        said.warn(
            "meter-coarse",
            format!(
                "the night starts at {:.1} mA and this meter shows steps of {:.1} mA: until the \
             current has risen, charge is counted by the setpoint",
                start * 1e3,
                read * 1e3
            ),
        );
    }
}

/// The supply's own protections, and what it does after an outage.
pub(super) fn protections(said: &mut Remarks, supply: &Capability) {
    if !supply.guards_over_voltage {
        said.warn(
            "no-over-voltage",
            "this supply has no over-voltage protection to set: set the one on its \
            front, if it has one"
                .to_owned(),
        );
    }
    if !supply.guards_over_current {
        said.warn(
            "no-over-current",
            "this supply has no over-current protection to set: put a fuse in the \
            lead to the cathode"
                .to_owned(),
        );
    }
    match supply.on_mains_return {
        OnMainsReturn::Off => {}
        OnMainsReturn::On => said.warn(
            "mains-return-on",
            "after a power cut this supply comes \
            back with its output on, and nobody watches until this computer is up: use a relay \
            that stays open"
                .to_owned(),
        ),
        OnMainsReturn::Unknown => said.warn(
            "mains-return-unknown",
            "nobody has tried what this \
            supply does after a power cut, so it counts as coming back on: try it without a cell \
            and say so in its profile"
                .to_owned(),
        ),
    }
}

/// A port that is named by the order in which ports were found may be another's tomorrow.
pub(super) fn port(said: &mut Remarks, station: &Station) {
    let counted = ["/dev/ttyUSB", "/dev/ttyACM"];
    if counted.iter().any(|name| station.port.starts_with(name)) {
        said.warn(
            "port-by-number",
            format!(
                "{} is a number that was free: after a wobbling plug the supply can have another \
                 one, and it is not found again; name it as under /dev/serial/by-id, which \
                 `nightvat supply ports` shows",
                station.port
            ),
        );
    }
}

/// The liquid must stay above what hangs in it until the end.
pub(super) fn level(said: &mut Remarks, plan: &Plan) {
    let Some(level) = plan.bounds.level else {
        return;
    };
    let days = plan.forecast.duration / Span::from_h(24.0);
    let left = level.above - level.falls_a_day * days;
    if left > Length::ZERO {
        return;
    }
    said.warn(
        "level-low",
        format!(
            "the liquid would fall {:.0} mm below the highest piece or the anode's top before the \
             end, and the run would be ended: top up with distilled water first",
            -left.mm()
        ),
    );
}

/// The brightener, as the station states it or the bath's ledger knows it.
pub(super) fn brightener(said: &mut Remarks, plan: &Plan) {
    let Some(due) = plan.bounds.brightener else {
        return;
    };
    let left = due.every - due.since;
    let charge = plan.forecast.charge;
    if charge <= left {
        return;
    }
    let when = if left.ah() <= 0.0 {
        "it is due now".to_owned()
    } else {
        format!(
            "it falls due after {:.2} Ah of this run's {:.2}",
            left.ah(),
            charge.ah()
        )
    };
    said.warn(
        "brightener-overdue",
        format!(
            "{:.1} Ah have flowed since the brightener was last added, every {:.1} Ah it is due, \
             and {when}: add it before you start (`nightvat bath due`)",
            due.since.ah(),
            due.every.ah()
        ),
    );
}

pub(super) fn anode(said: &mut Remarks, plan: &Plan, bath: &BathProfile, station: &Station) {
    let Some(anode) = station.tank.anode else {
        return;
    };
    let pieces: Area = plan
        .forecast
        .pieces
        .iter()
        .map(|piece| piece.area_end)
        .sum();
    let hangers = plan.hangers.iter().zip(&plan.forecast.hangers);
    let hangers = hangers.map(|(body, hanger)| {
        let grown = plan.deposit.thickness(body, hanger.charge);
        grown.map_or(body.area, |thickness| body.area_at(thickness))
    });
    let cathode = pieces + hangers.sum::<Area>();
    let least = bath.anode.as_ref().map_or(1.0, |kind| kind.ratio[0]);
    if anode.area < cathode * least {
        said.warn(
            "anode-small",
            format!(
                "the anode has {:.0} cm2 and the cathode will have {:.0} cm2, of which the bath \
             wants {least:.1} times as anode: a smaller one can go passive; use a larger one",
                anode.area.cm2(),
                cathode.cm2()
            ),
        );
    }
    let most = bath
        .anode
        .as_ref()
        .map_or(f64::INFINITY, |kind| kind.ratio[1]);
    // A few small pieces beside a tank's usual anode are no harm.
    if anode.area > cathode * most * FAR {
        said.warn(
            "anode-large",
            format!(
                "the anode has {:.0} cm2 and the cathode will have {:.0} cm2, of which the bath \
                 wants {most:.1} times as anode at most: the metal spreads less evenly; hang \
                 less of it in the liquid, or more pieces",
                anode.area.cm2(),
                cathode.cm2()
            ),
        );
    }
    let Some(mass) = anode.mass else { return };
    if mass < plan.forecast.mass * ANODE_RESERVE {
        said.warn(
            "anode-light",
            format!(
                "the anode weighs {:.0} g and the night takes {:.0} g of it: what is left may fall \
             apart; use a heavier one",
                mass.g(),
                plan.forecast.mass.g()
            ),
        );
    }
}
