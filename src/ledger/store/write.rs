//! How an entry becomes a row.

use crate::exchange::Mode;
use crate::ledger::entry::{
    Account, ElectrodeHead, Entry, ReadingEntry, Rehung, RunHead, RunId, WENT_ON,
};
use crate::units::{Bounded, Charge, Length, Span};
use rusqlite::{CachedStatement, Connection, Result, Transaction, params};

/// One entry that waits, with its number among the run's readings.
#[derive(Clone, Debug)]
pub(super) struct Waiting {
    pub(super) run: RunId,
    pub(super) number: i64,
    pub(super) entry: Entry,
}

/// The last accounts of a run; only the last matter.
#[derive(Clone, Debug)]
pub(super) struct Accounts {
    pub(super) run: RunId,
    pub(super) at: Span,
    pub(super) charge: Bounded<Charge>,
    pub(super) electrodes: Vec<Account>,
    pub(super) shown: Length,
    pub(super) governing: Option<usize>,
}

/// The word a column keeps for a regulation mode.
pub(super) const fn mode_word(mode: Mode) -> &'static str {
    match mode {
        Mode::ConstantCurrent => "CC",
        Mode::ConstantVoltage => "CV",
        Mode::Unregulated => "neither",
    }
}

/// Writes a new run with its electrodes.
pub(super) fn begin(to: &Transaction<'_>, head: &RunHead) -> Result<RunId> {
    to.execute(
        "INSERT INTO runs (job, job_text, station, bath, began, simulated, seed, target_um,
         peak_to_mean) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
        params![
            head.job,
            head.job_text,
            head.station,
            head.bath,
            head.began,
            head.simulated,
            head.seed.map(|seed| seed.to_string()),
            head.target.map(|target| target.um()),
            head.peak_to_mean,
        ],
    )?;
    let run = to.last_insert_rowid();
    for (number, electrode) in (0_i64..).zip(&head.electrodes) {
        insert_electrode(to, run, number, electrode)?;
    }
    Ok(run)
}

/// Writes everything that waited, in order, and the last accounts.
pub(super) fn all(to: &Transaction<'_>, waiting: &[Waiting], last: &[Accounts]) -> Result<()> {
    let mut readings = to.prepare_cached(
        "INSERT INTO readings (run, number, t_s, current_a, voltage_v, setpoint_a, mode, charge_ah,
         thickness_um) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
    )?;
    for one in waiting {
        match &one.entry {
            Entry::Reading(reading) => insert_reading(&mut readings, one, reading)?,
            other => insert(to, one.run, other)?,
        }
    }
    last.iter()
        .try_for_each(|accounts| update_accounts(to, accounts))
}

fn insert_reading(
    readings: &mut CachedStatement<'_>,
    one: &Waiting,
    reading: &ReadingEntry,
) -> Result<()> {
    readings.execute(params![
        one.run,
        one.number,
        reading.at.s(),
        reading.current.map(|current| current.a()),
        reading.voltage.map(|voltage| voltage.v()),
        reading.setpoint.a(),
        reading.mode.map(mode_word),
        reading.charge.ah(),
        reading.thickness.um(),
    ])?;
    Ok(())
}

/// Writes an entry that comes seldom.
fn insert(to: &Connection, run: RunId, entry: &Entry) -> Result<()> {
    let row = |sql: &str, with: &[&dyn rusqlite::ToSql]| {
        to.prepare_cached(sql)?.execute(with)?;
        Ok(())
    };
    match entry {
        Entry::Envelope {
            at,
            envelope,
            until,
        } => row(
            "INSERT INTO envelopes (run, t_s, current_a, voltage_v, until_s)
             VALUES (?1, ?2, ?3, ?4, ?5)",
            params![
                run,
                at.s(),
                envelope.current.a(),
                envelope.voltage.v(),
                until.s()
            ],
        ),
        Entry::Entered { at, state } => row(
            "INSERT INTO states (run, t_s, state) VALUES (?1, ?2, ?3)",
            params![run, at.s(), state.word()],
        ),
        Entry::Event { at, code, text } => row(
            "INSERT INTO events (run, t_s, code, text) VALUES (?1, ?2, ?3, ?4)",
            params![run, at.s(), code, text],
        ),
        Entry::Reached { at, charge } => row(
            "UPDATE runs SET reached_s = ?2, reached_ah = ?3, reached_low_ah = ?4,
             reached_high_ah = ?5 WHERE run = ?1",
            params![
                run,
                at.s(),
                charge.best.ah(),
                charge.low.ah(),
                charge.high.ah()
            ],
        ),
        Entry::Supply { identity } => row(
            "UPDATE runs SET supply_identity = ?2 WHERE run = ?1",
            params![run, identity],
        ),
        Entry::WentOn { at, text } => {
            row(
                "UPDATE runs SET ended_s = NULL, outcome = NULL, fault = NULL WHERE run = ?1",
                params![run],
            )?;
            row(
                "INSERT INTO events (run, t_s, code, text) VALUES (?1, ?2, ?3, ?4)",
                params![run, at.s(), WENT_ON, text],
            )
        }
        Entry::Rehung { at, change } => rehang(to, run, *at, change),
        Entry::Ended { at, outcome, fault } => row(
            "UPDATE runs SET ended_s = ?2, outcome = ?3, fault = ?4 WHERE run = ?1",
            params![
                run,
                at.s(),
                outcome.state().word(),
                fault.or(outcome.fault()).map(|fault| fault.code())
            ],
        ),
        // The store keeps these two apart: readings for their number, accounts because the last
        // counts.
        Entry::Reading(_) | Entry::Accounts { .. } => Ok(()),
    }
}

/// New pieces come after the others and before the hangers, which move back.
fn rehang(to: &Connection, run: RunId, at: Span, change: &Rehung) -> Result<()> {
    let all = i64::try_from(change.hang.len()).unwrap_or(i64::MAX);
    let more = i64::try_from(change.added.len()).unwrap_or(i64::MAX);
    let hangers: i64 = to.query_row(
        "SELECT count(*) FROM electrodes WHERE run = ?1 AND hanger",
        [run],
        |row| row.get(0),
    )?;
    // Through negative numbers: none may stand twice, not even for a moment.
    to.prepare_cached("UPDATE electrodes SET number = -1 - number WHERE run = ?1 AND hanger")?
        .execute([run])?;
    to.prepare_cached(
        "UPDATE electrodes SET number = ?2 - 1 - number WHERE run = ?1 AND number < 0",
    )?
    .execute(params![run, more])?;
    for (number, head) in (all - hangers - more..).zip(&change.added) {
        insert_electrode(to, run, number, head)?;
    }
    let mut hangs =
        to.prepare_cached("UPDATE electrodes SET hangs = ?3 WHERE run = ?1 AND number = ?2")?;
    for (number, hang) in (0_i64..).zip(&change.hang) {
        hangs.execute(params![run, number, hang])?;
    }
    if let Some(paper) = &change.paper {
        to.prepare_cached(
            "INSERT INTO papers (run, t_s, path, pieces_text) VALUES (?1, ?2, ?3, ?4)",
        )?
        .execute(params![run, at.s(), paper.path, paper.text])?;
    }
    to.prepare_cached("INSERT INTO events (run, t_s, code, text) VALUES (?1, ?2, ?3, ?4)")?
        .execute(params![run, at.s(), change.code, change.text])?;
    Ok(())
}

fn insert_electrode(to: &Connection, run: RunId, number: i64, head: &ElectrodeHead) -> Result<()> {
    let area = head.area.cm2();
    to.prepare_cached(
        "INSERT INTO electrodes (run, number, name, hanger, area_start_cm2, area_cm2)
         VALUES (?1, ?2, ?3, ?4, ?5, ?5)",
    )?
    .execute(params![run, number, head.name, head.hanger, area])?;
    Ok(())
}

fn update_accounts(to: &Connection, accounts: &Accounts) -> Result<()> {
    let charge = accounts.charge;
    to.prepare_cached(
        "UPDATE runs SET accounts_s = ?2, charge_ah = ?3, charge_low_ah = ?4, charge_high_ah = ?5,
         shown_um = ?6, governing = ?7 WHERE run = ?1",
    )?
    .execute(params![
        accounts.run,
        accounts.at.s(),
        charge.best.ah(),
        charge.low.ah(),
        charge.high.ah(),
        accounts.shown.um(),
        accounts
            .governing
            .and_then(|index| i64::try_from(index).ok()),
    ])?;
    let mut update = to.prepare_cached(
        "UPDATE electrodes SET area_cm2 = ?3, charge_ah = ?4, charge_low_ah = ?5,
         charge_high_ah = ?6, mass_g = ?7, thickness_um = ?8, thickness_low_um = ?9,
         thickness_high_um = ?10, on_s = ?11 WHERE run = ?1 AND number = ?2",
    )?;
    for (number, account) in (0_i64..).zip(&accounts.electrodes) {
        update.execute(params![
            accounts.run,
            number,
            account.area.cm2(),
            account.charge.best.ah(),
            account.charge.low.ah(),
            account.charge.high.ah(),
            account.mass.g(),
            account.thickness.best.um(),
            account.thickness.low.um(),
            account.thickness.high.um(),
            account.on.s(),
        ])?;
    }
    Ok(())
}
