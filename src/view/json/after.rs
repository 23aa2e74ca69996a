//! `rehearse --json`, `runs --json`, `pieces --json` and `report --json`: what the ledger holds.

use super::{Hanger, Piece};
use crate::control::Fault;
use crate::ledger::{ElectrodeRow, Ending, EventRow, PieceRow, RunRecord, RunRow, StateRow};
use crate::units::Length;
use crate::view::Rehearsal;
use serde::Serialize;

/// A run, whole but for its readings.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Report {
    run: i64,
    job: String,
    station: String,
    bath: String,
    began: String,
    simulated: bool,
    seed: Option<u64>,
    target_um: Option<f64>,
    outcome: &'static str,
    trip: Option<&'static str>,
    elapsed_s: f64,
    charge_ah: f64,
    charge_low_ah: f64,
    charge_high_ah: f64,
    reached_s: Option<f64>,
    reached_ah: Option<f64>,
    thickness_um: Option<f64>,
    pieces: Vec<Kept>,
    hangers: Vec<Hanger>,
    states: Vec<Entered>,
    events: Vec<Happened>,
    supply_identity: Option<String>,
}

#[derive(Clone, Debug, PartialEq, Serialize)]
struct Kept {
    #[serde(flatten)]
    piece: Piece,
    /// It hung in the bath when the run ended, or hangs there now.
    hangs: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
struct Entered {
    t_s: f64,
    state: &'static str,
}

#[derive(Clone, Debug, PartialEq, Serialize)]
struct Happened {
    t_s: f64,
    code: String,
    text: String,
}

/// The object of one run.
#[must_use]
pub fn report(record: &RunRecord) -> Report {
    Report {
        run: record.id,
        job: record.head.job.clone(),
        station: record.head.station.clone(),
        bath: record.head.bath.clone(),
        began: record.head.began.clone(),
        simulated: record.head.simulated,
        seed: record.head.seed,
        target_um: record.head.target.map(Length::um),
        outcome: record.state().word(),
        trip: trip(record.ending),
        elapsed_s: record.lasted().s(),
        charge_ah: record.charge.best.ah(),
        charge_low_ah: record.charge.low.ah(),
        charge_high_ah: record.charge.high.ah(),
        reached_s: record.reached.map(|reached| reached.at.s()),
        reached_ah: record.reached.map(|reached| reached.charge.best.ah()),
        thickness_um: record.thickness.map(Length::um),
        pieces: record.pieces().map(kept).collect(),
        hangers: record.hangers().map(hanger).collect(),
        states: record.states.iter().map(entered).collect(),
        events: record.events.iter().map(happened).collect(),
        supply_identity: record.identity.clone(),
    }
}

/// The same beside the page that was written of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Filed {
    file: String,
    #[serde(flatten)]
    report: Report,
}

/// The object of `report`.
#[must_use]
pub fn filed(record: &RunRecord, file: &str) -> Filed {
    Filed {
        file: file.to_owned(),
        report: report(record),
    }
}

/// A rehearsal that is over: the run, and what the simulated cell says of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Rehearsed {
    job: String,
    outcome: &'static str,
    trip: Option<&'static str>,
    run: i64,
    seed: Option<u64>,
    charge_ah: f64,
    charge_low_ah: f64,
    charge_high_ah: f64,
    charge_true_ah: f64,
    thickness_um: Option<f64>,
    thickness_true_um: f64,
    target_um: Option<f64>,
    overshoot_fraction: Option<f64>,
    simulated_s: f64,
    wall_s: f64,
    pieces: Vec<WithTruth>,
    hangers: Vec<Hanger>,
    events: Vec<Happened>,
}

#[derive(Clone, Debug, PartialEq, Serialize)]
struct WithTruth {
    #[serde(flatten)]
    piece: Piece,
    charge_true_ah: Option<f64>,
    mass_true_g: Option<f64>,
    thickness_true_um: Option<f64>,
}

/// The rehearsal object.
#[must_use]
pub fn rehearsal(of: &Rehearsal<'_>) -> Rehearsed {
    let record = of.record;
    let mut truths = of.truth.electrodes.iter();
    let with_truth = |row: &ElectrodeRow| {
        let truth = truths.next();
        WithTruth {
            piece: piece(row),
            charge_true_ah: truth.map(|truth| truth.charge.ah()),
            mass_true_g: truth.map(|truth| truth.mass.g()),
            thickness_true_um: truth.map(|truth| truth.thickness.um()),
        }
    };
    Rehearsed {
        job: record.head.job.clone(),
        outcome: record.state().word(),
        trip: trip(record.ending),
        run: record.id,
        seed: record.head.seed,
        charge_ah: record.charge.best.ah(),
        charge_low_ah: record.charge.low.ah(),
        charge_high_ah: record.charge.high.ah(),
        charge_true_ah: of.truth.charge.ah(),
        thickness_um: record.thickness.map(Length::um),
        thickness_true_um: of.truth.thickness.um(),
        target_um: record.head.target.map(Length::um),
        overshoot_fraction: of.overshoot,
        simulated_s: of.simulated.s(),
        wall_s: of.wall.s(),
        pieces: record.pieces().map(with_truth).collect(),
        hangers: record.hangers().map(hanger).collect(),
        events: record.events.iter().map(happened).collect(),
    }
}

/// All runs of a ledger.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Runs {
    runs: Vec<InList>,
}

#[derive(Clone, Debug, PartialEq, Serialize)]
struct InList {
    run: i64,
    job: String,
    station: String,
    bath: String,
    began: String,
    simulated: bool,
    outcome: Option<&'static str>,
    trip: Option<&'static str>,
    elapsed_s: Option<f64>,
    charge_ah: f64,
    charge_low_ah: f64,
    charge_high_ah: f64,
    thickness_um: Option<f64>,
    target_um: Option<f64>,
}

/// The object of `runs`; an outcome is null for a run whose end is not written.
#[must_use]
pub fn runs(rows: &[RunRow]) -> Runs {
    let in_list = |row: &RunRow| InList {
        run: row.id,
        job: row.job.clone(),
        station: row.station.clone(),
        bath: row.bath.clone(),
        began: row.began.clone(),
        simulated: row.simulated,
        outcome: row.ending.map(|ending| ending.outcome.state().word()),
        trip: trip(row.ending),
        elapsed_s: row.ending.map(|ending| ending.at.s()),
        charge_ah: row.charge.best.ah(),
        charge_low_ah: row.charge.low.ah(),
        charge_high_ah: row.charge.high.ah(),
        thickness_um: row.thickness.map(Length::um),
        target_um: row.target.map(Length::um),
    };
    Runs {
        runs: rows.iter().map(in_list).collect(),
    }
}

/// All pieces of a ledger.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Pieces {
    pieces: Vec<OfRun>,
}

#[derive(Clone, Debug, PartialEq, Serialize)]
struct OfRun {
    run: i64,
    began: String,
    simulated: bool,
    #[serde(flatten)]
    piece: Piece,
    weighed_g: Option<f64>,
    gauged_um: Option<f64>,
    gauge_doubt_um: Option<f64>,
}

/// The object of `pieces`.
#[must_use]
pub fn pieces(rows: &[PieceRow]) -> Pieces {
    let of_run = |row: &PieceRow| {
        let account = row.account;
        let area = (row.area_start, account.area);
        OfRun {
            run: row.run,
            began: row.began.clone(),
            simulated: row.simulated,
            piece: Piece::new(
                &row.name,
                area,
                account.charge.best,
                account.mass,
                account.thickness,
            ),
            weighed_g: row.weighed.map(|mass| mass.g()),
            gauged_um: row.gauged.map(Length::um),
            gauge_doubt_um: row.gauge_doubt.map(Length::um),
        }
    };
    Pieces {
        pieces: rows.iter().map(of_run).collect(),
    }
}

/// The guard that ended it.
fn trip(ending: Option<Ending>) -> Option<&'static str> {
    ending?.outcome.fault().map(Fault::code)
}

fn piece(row: &ElectrodeRow) -> Piece {
    let account = row.account;
    let area = (row.head.area, account.area);
    Piece::new(
        &row.head.name,
        area,
        account.charge.best,
        account.mass,
        account.thickness,
    )
}

fn kept(row: &ElectrodeRow) -> Kept {
    Kept {
        piece: piece(row),
        hangs: row.hangs,
    }
}

fn hanger(row: &ElectrodeRow) -> Hanger {
    Hanger {
        area_cm2: row.head.area.cm2(),
        charge_ah: row.account.charge.best.ah(),
        mass_g: row.account.mass.g(),
    }
}

fn entered(row: &StateRow) -> Entered {
    Entered {
        t_s: row.at.s(),
        state: row.state.word(),
    }
}

fn happened(row: &EventRow) -> Happened {
    Happened {
        t_s: row.at.s(),
        code: row.code.clone(),
        text: row.text.clone(),
    }
}
