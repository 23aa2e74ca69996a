//! `compare --json`, `export --json` and `bath look --json`.

use crate::bath::looks::{Evidence, Ranked};
use crate::exchange::Mode;
use crate::ledger::{ReadingRow, RunId, RunRecord};
use crate::units::{Current, CurrentDensity, Length, Mass, Voltage};
use crate::view::{Trial, unlike};
use serde_json::{Value, json};

/// The object of `compare`.
#[must_use]
pub fn compared(trials: &[Trial; 2]) -> Value {
    json!({
        "runs": trials.iter().map(trial).collect::<Vec<_>>(),
        "unlike": unlike(trials),
    })
}

fn trial(trial: &Trial) -> Value {
    let record = &trial.record;
    let pieces: Vec<Value> = trial
        .pieces
        .iter()
        .map(|piece| {
            json!({
                "name": piece.name,
                "area_cm2": piece.area_start.cm2(),
                "charge_ah": piece.account.charge.best.ah(),
                "mass_g": piece.account.mass.g(),
                "thickness_um": piece.account.thickness.best.um(),
                "weighed_g": piece.weighed.map(Mass::g),
                "gauged_um": piece.gauged.map(Length::um),
            })
        })
        .collect();
    json!({
        "run": record.id,
        "job": record.head.job,
        "bath": record.head.bath,
        "bath_ledger": record.head.bath_ledger,
        "began": record.head.began,
        "simulated": record.head.simulated,
        "charge_ah": record.charge.best.ah(),
        "flowed_s": trial.flowed.s(),
        "area_cm2": trial.area().cm2(),
        "mean_a_per_dm2": trial.density().map(CurrentDensity::a_per_dm2),
        "thickness_um": record.thickness.map(Length::um),
        "weighed_g_per_ah": trial.weighed().map(|(mass, charge)| mass.g() / charge.ah()),
        "looks": trial.looks,
        "pieces": pieces,
    })
}

/// The object of `export`.
#[must_use]
pub fn exported(record: &RunRecord, readings: &[ReadingRow]) -> Value {
    let rows: Vec<Value> = readings
        .iter()
        .map(|reading| {
            json!({
                "t_s": reading.at.s(),
                "current_a": reading.current.map(Current::a),
                "voltage_v": reading.voltage.map(Voltage::v),
                "setpoint_a": set(reading.setpoint),
                "mode": reading.mode.map(mode),
                "charge_ah": reading.charge.ah(),
                "thickness_um": reading.thickness.um(),
            })
        })
        .collect();
    json!({
        "run": record.id,
        "job": record.head.job,
        "began": record.head.began,
        "simulated": record.head.simulated,
        "thinned": record.thinned,
        "readings": rows,
    })
}

/// A setpoint as it was set, A: no supply takes finer steps than a nanoampere, and what is left
/// below that is the noise of counting in steps.
pub(in crate::view) fn set(setpoint: Current) -> f64 {
    (setpoint.a() * 1e9).round() / 1e9
}

/// The supply's word for a mode.
pub(in crate::view) const fn mode(mode: Mode) -> &'static str {
    match mode {
        Mode::ConstantCurrent => "CC",
        Mode::ConstantVoltage => "CV",
        Mode::Unregulated => "neither",
    }
}

/// The object of `bath look`.
#[must_use]
pub fn looked(run: RunId, looks: &[String], ranked: &[Ranked<'_>], known: &[Evidence]) -> Value {
    let causes: Vec<Value> = ranked
        .iter()
        .map(|one| {
            json!({
                "cause": one.cause.name,
                "score": one.score,
                "clue": one.cause.clue.word(),
                "evidence": one.evidence.map(|found| &found.text),
                "speaks_for": one.evidence.map(|found| found.speaks_for),
                "change": one.cause.change,
                "apart": one.cause.apart,
                "source": one.cause.source,
            })
        })
        .collect();
    let evidence: Vec<Value> = known
        .iter()
        .map(|one| {
            json!({ "clue": one.clue.word(), "speaks_for": one.speaks_for, "text": one.text })
        })
        .collect();
    json!({ "run": run, "looks": looks, "causes": causes, "evidence": evidence })
}
