//! Reading a ledger back, while others write it or long after.

mod bath;
mod earlier;

use super::StoreFault;
use super::entry::{Account, ElectrodeHead, Paper, RunHead, RunId};
use super::rows::{
    ElectrodeRow, Ending, EnvelopeRow, EventRow, PieceRow, ReachedRow, ReadingRow, RunRecord,
    RunRow, StateRow, UnfinishedRow,
};
use super::store::{connect, fault, refused};
use crate::control::{Fault, Outcome, State};
use crate::exchange::Mode;
use crate::units::{Area, Bounded, Charge, Current, Length, Mass, Span, Voltage};
use rusqlite::{Connection, Params, Row};
use std::path::{Path, PathBuf};

type Read<T> = rusqlite::Result<T>;

/// A ledger open for reading.
#[derive(Debug)]
pub struct Ledger {
    connection: Connection,
    path: PathBuf,
}

const RUN_COLUMNS: &str = "runs.run, job, station, bath, began, simulated, target_um, \
    charge_low_ah, charge_ah, charge_high_ah, ended_s, outcome, fault, \
    coalesce(shown_um, (SELECT thickness_um FROM readings WHERE readings.run = runs.run \
    ORDER BY number DESC LIMIT 1)), governing, seed IS NOT NULL";

const ACCOUNT_COLUMNS: &str = "electrodes.charge_low_ah, electrodes.charge_ah, \
    electrodes.charge_high_ah, mass_g, thickness_low_um, electrodes.thickness_um, \
    thickness_high_um, area_cm2, coalesce(on_s, 0)";

const READING_COLUMNS: &str =
    "t_s, current_a, voltage_v, setpoint_a, mode, charge_ah, thickness_um";

impl Ledger {
    /// Opens a ledger that is there. One of an older layout is brought up to date first.
    ///
    /// # Errors
    /// [`StoreFault`] if it is not there, is no ledger, or is newer than this program.
    pub fn open_read(path: &Path) -> Result<Self, StoreFault> {
        if !path.exists() {
            return Err(refused(
                path,
                "is not there: no run has been written to it yet (`nightvat rehearse` makes one)",
            ));
        }
        let connection = connect(path)?;
        let only = connection.execute_batch("PRAGMA query_only = ON");
        only.map_err(|e| fault(path, &e))?;
        Ok(Self {
            connection,
            path: path.to_owned(),
        })
    }

    /// All runs, the newest first.
    ///
    /// # Errors
    /// [`StoreFault`] if the file does not give them.
    pub fn runs(&self) -> Result<Vec<RunRow>, StoreFault> {
        let sql = format!("SELECT {RUN_COLUMNS} FROM runs ORDER BY runs.run DESC");
        self.rows(&sql, [], run_row)
    }

    /// One run, whole but for its readings.
    ///
    /// # Errors
    /// [`StoreFault`] if it is not there or the file does not give it.
    pub fn run(&self, run: RunId) -> Result<RunRecord, StoreFault> {
        let sql = format!("SELECT {RUN_COLUMNS} FROM runs WHERE runs.run = ?1");
        let Some(row) = self.rows(&sql, [run], run_row)?.pop() else {
            return Err(refused(
                &self.path,
                &format!("holds no run {run}: see `nightvat runs`"),
            ));
        };
        let mut rest = self.rows(
            "SELECT job_text, seed, supply_identity, accounts_s, reached_s, reached_low_ah,
             reached_ah, reached_high_ah, thinned, peak_to_mean FROM runs WHERE run = ?1",
            [run],
            rest_of_run,
        )?;
        let rest = rest.pop().unwrap_or_default();
        let electrodes = self.electrodes(run)?;
        let (bath_ledger, stirred) = self.bath_of(run)?;
        Ok(RunRecord {
            id: row.id,
            head: RunHead {
                job: row.job,
                job_text: rest.job_text,
                station: row.station,
                bath: row.bath,
                bath_ledger,
                stirred,
                began: row.began,
                simulated: row.simulated,
                seed: rest.seed,
                target: row.target,
                peak_to_mean: rest.peak_to_mean,
                electrodes: electrodes
                    .iter()
                    .map(|electrode| electrode.head.clone())
                    .collect(),
            },
            identity: rest.identity,
            accounted: rest.accounted,
            charge: row.charge,
            thickness: row.thickness,
            governing: row.governing,
            states: self.states(run)?,
            events: self.events(run)?,
            electrodes,
            papers: self.papers(run)?,
            envelopes: self.envelopes(run)?,
            reached: rest.reached,
            ending: row.ending,
            thinned: rest.thinned,
        })
    }

    /// The readings of a run, in their order.
    ///
    /// # Errors
    /// [`StoreFault`] if the file does not give them.
    pub fn readings(&self, run: RunId) -> Result<Vec<ReadingRow>, StoreFault> {
        let sql = format!("SELECT {READING_COLUMNS} FROM readings WHERE run = ?1 ORDER BY number");
        self.rows(&sql, [run], reading_row)
    }

    /// The last reading of a run.
    ///
    /// # Errors
    /// [`StoreFault`] if the file does not give it.
    pub fn last_reading(&self, run: RunId) -> Result<Option<ReadingRow>, StoreFault> {
        let sql = format!(
            "SELECT {READING_COLUMNS} FROM readings WHERE run = ?1 ORDER BY number DESC LIMIT 1"
        );
        Ok(self.rows(&sql, [run], reading_row)?.pop())
    }

    /// Every piece of every run, the newest run first; hangers are left out.
    ///
    /// # Errors
    /// [`StoreFault`] if the file does not give them.
    pub fn pieces(&self) -> Result<Vec<PieceRow>, StoreFault> {
        self.pieces_as_of(None)
    }

    /// The same with what was weighed and gauged by the time of a label.
    fn pieces_as_of(&self, label: Option<&str>) -> Result<Vec<PieceRow>, StoreFault> {
        let gauged = |column: &str| {
            format!(
                "(SELECT g.{column} FROM gaugings g WHERE g.run = electrodes.run
                 AND g.number = electrodes.number
                 AND (?1 IS NULL OR julianday(g.gauged) <= julianday(?1))
                 ORDER BY g.id DESC LIMIT 1)"
            )
        };
        let (read, doubt) = (gauged("thickness_um"), gauged("doubt_um"));
        let sql = format!(
            "SELECT {ACCOUNT_COLUMNS}, runs.run, began, name, simulated, area_start_cm2,
             (SELECT w.mass_g FROM weighings w WHERE w.run = electrodes.run
              AND w.number = electrodes.number
              AND (?1 IS NULL OR julianday(w.weighed) <= julianday(?1))
              ORDER BY w.id DESC LIMIT 1), {read}, {doubt}
             FROM electrodes JOIN runs USING (run) WHERE NOT hanger ORDER BY runs.run DESC, number"
        );
        self.rows(&sql, [label], piece_row)
    }

    /// The runs whose end nobody wrote, the newest first, with the most that can have flowed in
    /// them.
    ///
    /// # Errors
    /// [`StoreFault`] if the file does not give them.
    pub fn unfinished(&self) -> Result<Vec<UnfinishedRow>, StoreFault> {
        let sql = format!(
            "SELECT {RUN_COLUMNS}, accounts_s FROM runs WHERE ended_s IS NULL
             ORDER BY runs.run DESC"
        );
        let open = self.rows(&sql, [], |row| Ok((run_row(row)?, span(row, 16)?)))?;
        open.into_iter()
            .map(|(run, accounted)| {
                let envelopes = self.envelopes(run.id)?;
                Ok(UnfinishedRow {
                    id: run.id,
                    job: run.job,
                    station: run.station,
                    began: run.began,
                    rehearsed: run.rehearsed,
                    last_reading: self.last_reading(run.id)?,
                    accounted,
                    charge: run.charge,
                    charge_at_most: run.charge.high + allowed_after(accounted, &envelopes),
                    allowed_until: envelopes
                        .iter()
                        .map(|e| e.until)
                        .fold(Span::ZERO, Span::max),
                })
            })
            .collect()
    }

    fn electrodes(&self, run: RunId) -> Result<Vec<ElectrodeRow>, StoreFault> {
        let sql = format!(
            "SELECT {ACCOUNT_COLUMNS}, name, hanger, area_start_cm2, hangs FROM electrodes
             WHERE run = ?1 ORDER BY number"
        );
        self.rows(&sql, [run], |row| {
            let head = ElectrodeHead {
                name: row.get(9)?,
                hanger: row.get(10)?,
                area: area(row, 11)?,
            };
            Ok(ElectrodeRow {
                head,
                account: account(row)?,
                hangs: row.get(12)?,
            })
        })
    }

    fn states(&self, run: RunId) -> Result<Vec<StateRow>, StoreFault> {
        self.rows(
            "SELECT t_s, state FROM states WHERE run = ?1 ORDER BY id",
            [run],
            |row| {
                Ok(StateRow {
                    at: span(row, 0)?,
                    state: word(row, 1, State::from_word)?,
                })
            },
        )
    }

    fn events(&self, run: RunId) -> Result<Vec<EventRow>, StoreFault> {
        self.rows(
            "SELECT t_s, code, text FROM events WHERE run = ?1 ORDER BY id",
            [run],
            |row| {
                Ok(EventRow {
                    at: span(row, 0)?,
                    code: row.get(1)?,
                    text: row.get(2)?,
                })
            },
        )
    }

    fn papers(&self, run: RunId) -> Result<Vec<Paper>, StoreFault> {
        let sql = "SELECT path, pieces_text FROM papers WHERE run = ?1 ORDER BY id";
        self.rows(sql, [run], |row| {
            Ok(Paper {
                path: row.get(0)?,
                text: row.get(1)?,
            })
        })
    }

    fn envelopes(&self, run: RunId) -> Result<Vec<EnvelopeRow>, StoreFault> {
        let sql =
            "SELECT t_s, current_a, voltage_v, until_s FROM envelopes WHERE run = ?1 ORDER BY id";
        self.rows(sql, [run], |row| {
            Ok(EnvelopeRow {
                at: span(row, 0)?,
                current: Current::from_a(row.get(1)?),
                voltage: Voltage::from_v(row.get(2)?),
                until: span(row, 3)?,
            })
        })
    }

    fn rows<T>(
        &self,
        sql: &str,
        with: impl Params,
        each: impl FnMut(&Row<'_>) -> Read<T>,
    ) -> Result<Vec<T>, StoreFault> {
        let read = || {
            self.connection
                .prepare_cached(sql)?
                .query_map(with, each)?
                .collect()
        };
        let read: Read<Vec<T>> = read();
        read.map_err(|e| fault(&self.path, &e))
    }
}

/// The most charge that envelopes allow after a moment. Where two overlap the larger current
/// counts, since nothing says which of the two stood.
fn allowed_after(from: Span, envelopes: &[EnvelopeRow]) -> Charge {
    let mut edges: Vec<f64> = envelopes
        .iter()
        .flat_map(|e| [e.at.s(), e.until.s()])
        .chain([from.s()])
        .collect();
    edges.retain(|edge| *edge >= from.s());
    edges.sort_by(f64::total_cmp);
    let most = |start: f64| {
        let standing = envelopes
            .iter()
            .filter(|e| e.at.s() <= start && start < e.until.s());
        standing
            .map(|e| e.current)
            .fold(Current::ZERO, Current::max)
    };
    edges
        .windows(2)
        .map(|edge| most(edge[0]) * Span::from_s(edge[1] - edge[0]))
        .sum()
}

/// What a run's record holds beyond its row in a list.
#[derive(Default)]
struct Rest {
    job_text: String,
    seed: Option<u64>,
    identity: Option<String>,
    accounted: Span,
    reached: Option<ReachedRow>,
    thinned: bool,
    peak_to_mean: Option<f64>,
}

fn rest_of_run(row: &Row<'_>) -> Read<Rest> {
    let reached: Option<f64> = row.get(4)?;
    Ok(Rest {
        job_text: row.get(0)?,
        seed: row
            .get::<_, Option<String>>(1)?
            .and_then(|seed| seed.parse().ok()),
        identity: row.get(2)?,
        accounted: span(row, 3)?,
        reached: match reached {
            Some(at) => Some(ReachedRow {
                at: Span::from_s(at),
                charge: charge(row, 5)?,
            }),
            None => None,
        },
        thinned: row.get(8)?,
        peak_to_mean: row.get(9)?,
    })
}

fn run_row(row: &Row<'_>) -> Read<RunRow> {
    Ok(RunRow {
        id: row.get(0)?,
        job: row.get(1)?,
        station: row.get(2)?,
        bath: row.get(3)?,
        began: row.get(4)?,
        simulated: row.get(5)?,
        target: row.get::<_, Option<f64>>(6)?.map(Length::from_um),
        charge: charge(row, 7)?,
        ending: ending(row)?,
        thickness: row.get::<_, Option<f64>>(13)?.map(Length::from_um),
        governing: row
            .get::<_, Option<i64>>(14)?
            .and_then(|number| usize::try_from(number).ok()),
        rehearsed: row.get(15)?,
    })
}

fn ending(row: &Row<'_>) -> Read<Option<Ending>> {
    let Some(at) = row.get::<_, Option<f64>>(10)? else {
        return Ok(None);
    };
    let fault = || word(row, 12, Fault::from_code);
    let outcome = match word(row, 11, State::from_word)? {
        State::Finished => Outcome::Finished,
        State::Stopped => Outcome::Stopped,
        State::Tripped => Outcome::Tripped(fault()?),
        State::Interrupted => Outcome::Interrupted(fault()?),
        State::Idle
        | State::Proving
        | State::Striking
        | State::Ramping
        | State::Building
        | State::Holding
        | State::Paused
        | State::Stopping
        | State::Unconfirmed => return Err(stranger(11, &row.get::<_, String>(11)?)),
    };
    Ok(Some(Ending {
        at: Span::from_s(at),
        outcome,
    }))
}

fn reading_row(row: &Row<'_>) -> Read<ReadingRow> {
    Ok(ReadingRow {
        at: span(row, 0)?,
        current: row.get::<_, Option<f64>>(1)?.map(Current::from_a),
        voltage: row.get::<_, Option<f64>>(2)?.map(Voltage::from_v),
        setpoint: Current::from_a(row.get(3)?),
        mode: row.get::<_, Option<String>>(4)?.as_deref().and_then(mode),
        charge: Charge::from_ah(row.get(5)?),
        thickness: Length::from_um(row.get(6)?),
    })
}

fn mode(word: &str) -> Option<Mode> {
    match word {
        "CC" => Some(Mode::ConstantCurrent),
        "CV" => Some(Mode::ConstantVoltage),
        "neither" => Some(Mode::Unregulated),
        _ => None,
    }
}

fn piece_row(row: &Row<'_>) -> Read<PieceRow> {
    Ok(PieceRow {
        run: row.get(9)?,
        began: row.get(10)?,
        name: row.get(11)?,
        simulated: row.get(12)?,
        area_start: area(row, 13)?,
        account: account(row)?,
        weighed: row.get::<_, Option<f64>>(14)?.map(Mass::from_g),
        gauged: row.get::<_, Option<f64>>(15)?.map(Length::from_um),
        gauge_doubt: row.get::<_, Option<f64>>(16)?.map(Length::from_um),
    })
}

/// The columns of [`ACCOUNT_COLUMNS`], which come first.
fn account(row: &Row<'_>) -> Read<Account> {
    Ok(Account {
        charge: charge(row, 0)?,
        mass: Mass::from_g(row.get(3)?),
        thickness: Bounded {
            low: Length::from_um(row.get(4)?),
            best: Length::from_um(row.get(5)?),
            high: Length::from_um(row.get(6)?),
        },
        area: area(row, 7)?,
        on: span(row, 8)?,
    })
}

/// Low, best and high, in three columns.
fn charge(row: &Row<'_>, at: usize) -> Read<Bounded<Charge>> {
    Ok(Bounded {
        low: Charge::from_ah(row.get(at)?),
        best: Charge::from_ah(row.get(at + 1)?),
        high: Charge::from_ah(row.get(at + 2)?),
    })
}

fn span(row: &Row<'_>, at: usize) -> Read<Span> {
    row.get(at).map(Span::from_s)
}

fn area(row: &Row<'_>, at: usize) -> Read<Area> {
    row.get(at).map(Area::from_cm2)
}

/// A word that must be one of ours.
fn word<T>(row: &Row<'_>, at: usize, known: impl Fn(&str) -> Option<T>) -> Read<T> {
    let text: Option<String> = row.get(at)?;
    let text = text.unwrap_or_default();
    known(&text).ok_or_else(|| stranger(at, &text))
}

fn stranger(at: usize, word: &str) -> rusqlite::Error {
    let what = format!("`{word}` is a word this nightvat does not know");
    rusqlite::Error::FromSqlConversionFailure(at, rusqlite::types::Type::Text, what.into())
}
