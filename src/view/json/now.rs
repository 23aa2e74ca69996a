//! `status --json`.

use crate::run::{PieceState, Snapshot};
use crate::units::Moment;
use serde::Serialize;

/// A run, or a station at rest, at one moment.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Status {
    station: String,
    state: &'static str,
    /// Since when it is in this state.
    state_since: Option<String>,
    run: Option<i64>,
    job: Option<String>,
    output_on: Option<bool>,
    /// The relay has cut the lead, and off is not confirmed.
    cut: bool,
    current_a: Option<f64>,
    setpoint_a: Option<f64>,
    voltage_v: Option<f64>,
    charge_ah: Option<f64>,
    charge_low_ah: Option<f64>,
    charge_high_ah: Option<f64>,
    thickness_um: Option<f64>,
    target_um: Option<f64>,
    progress_fraction: Option<f64>,
    finish_at: Option<String>,
    elapsed_s: Option<f64>,
    time_on_s: Option<f64>,
    alarms: Vec<Alarm>,
    pieces: Vec<Now>,
    hangers: Vec<Now>,
    supply: Supply,
}

#[derive(Clone, Debug, PartialEq, Serialize)]
struct Alarm {
    code: &'static str,
    text: String,
    since: String,
}

#[derive(Clone, Debug, PartialEq, Serialize)]
struct Now {
    name: String,
    area_cm2: f64,
    charge_ah: f64,
    charge_low_ah: f64,
    charge_high_ah: f64,
    mass_g: f64,
    thickness_um: f64,
    thickness_low_um: f64,
    thickness_high_um: f64,
    /// False for a piece that was lifted out of the run.
    hangs: bool,
}

#[derive(Clone, Debug, PartialEq, Serialize)]
struct Supply {
    identity: Option<String>,
    /// Seconds since its last usable reply.
    last_reply_s: Option<f64>,
}

/// The status object; `label` gives a moment its time of day, RFC 3339 with offset.
#[must_use]
pub fn status(of: &Snapshot, label: &dyn Fn(Moment) -> String) -> Status {
    // Without a run there is no charge and no thickness, and null says so.
    let runs = |value: f64| of.run.map(|_| value);
    Status {
        station: of.station.clone(),
        state: of.state.word(),
        state_since: of.state_since.map(label),
        run: of.run,
        job: of.job.clone(),
        output_on: of.output_on,
        cut: of.cut,
        current_a: of.current.map(|current| current.a()),
        setpoint_a: of.setpoint.map(|setpoint| setpoint.a()),
        voltage_v: of.voltage.map(|voltage| voltage.v()),
        charge_ah: runs(of.charge.best.ah()),
        charge_low_ah: runs(of.charge.low.ah()),
        charge_high_ah: runs(of.charge.high.ah()),
        thickness_um: runs(of.thickness.um()),
        target_um: of.target.map(|target| target.um()),
        progress_fraction: runs(of.progress),
        finish_at: of.time_left.map(|left| label(of.now + left)),
        elapsed_s: runs(of.elapsed.s()),
        time_on_s: runs(of.time_on.s()),
        alarms: of
            .alarms
            .iter()
            .map(|alarm| Alarm {
                code: alarm.fault.code(),
                text: alarm.text.clone(),
                since: label(alarm.since),
            })
            .collect(),
        pieces: of.pieces.iter().map(now).collect(),
        hangers: of.hangers.iter().map(now).collect(),
        supply: Supply {
            identity: of.identity.clone(),
            last_reply_s: of.last_reply.map(|last| of.now.since(last).s()),
        },
    }
}

fn now(piece: &PieceState) -> Now {
    Now {
        name: piece.name.clone(),
        area_cm2: piece.area.cm2(),
        charge_ah: piece.charge.best.ah(),
        charge_low_ah: piece.charge.low.ah(),
        charge_high_ah: piece.charge.high.ah(),
        mass_g: piece.mass.g(),
        thickness_um: piece.thickness.best.um(),
        thickness_low_um: piece.thickness.low.um(),
        thickness_high_um: piece.thickness.high.um(),
        hangs: piece.hangs,
    }
}
