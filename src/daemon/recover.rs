//! What the ledger says of the last run of this station: one that nobody ended, or one whose end
//! nobody has read.

use super::latch::{CLEARED, INTERRUPTED, Latch};
use super::scribe::{Full, Scribe};
use super::standing::Standing;
use crate::control::{Fault, Outcome, State};
use crate::ledger::{Account, Entry, Ledger, RunId, RunRecord, StoreFault, Ticket, UnfinishedRow};
use crate::run::{PieceState, Snapshot};
use crate::units::{Bounded, Charge, Length, Span};

/// A run whose end nobody wrote, with the most that can have flowed in it.
#[derive(Debug)]
pub(super) struct Unfinished {
    id: RunId,
    at: Span,
    charge: Bounded<Charge>,
    electrodes: Vec<Account>,
    shown: Length,
    governing: Option<usize>,
    text: String,
}

/// What a daemon finds when it begins.
#[derive(Debug)]
pub(super) struct Found {
    /// Runs to be closed once the output is proved off, the newest first.
    pub(super) unfinished: Vec<Unfinished>,
    /// What a person must read first.
    pub(super) latch: Option<Latch>,
    /// The station as it is shown until the next run.
    pub(super) rest: Snapshot,
}

/// Looks into the ledger.
pub(super) fn look(standing: &Standing) -> Result<Found, StoreFault> {
    let ledger = Ledger::open_read(&standing.ledger)?;
    let ours = |station: &str, simulated: bool| station == standing.station.name && !simulated;
    let rows = ledger.unfinished()?;
    let open: Vec<UnfinishedRow> = rows
        .into_iter()
        .filter(|row| ours(&row.station, row.simulated))
        .collect();
    if let Some(newest) = open.first() {
        let record = ledger.run(newest.id)?;
        let latch = interrupted(newest);
        let unfinished = open
            .iter()
            .map(|row| Ok(unfinished(row, &ledger.run(row.id)?)));
        let unfinished = unfinished.collect::<Result<Vec<_>, StoreFault>>()?;
        let mut rest = snapshot(standing, &record, State::Interrupted);
        if let Some(newest) = unfinished.first() {
            newest.show(&mut rest);
        }
        return Ok(Found {
            unfinished,
            latch: Some(latch),
            rest,
        });
    }
    let none = Found {
        unfinished: Vec::new(),
        latch: None,
        rest: standing.untouched(),
    };
    let runs = ledger.runs()?;
    let Some(last) = runs.iter().find(|row| ours(&row.station, row.simulated)) else {
        return Ok(none);
    };
    let record = ledger.run(last.id)?;
    Ok(match uncleared(&record) {
        Some(latch) => {
            let rest = snapshot(standing, &record, latch.state);
            Found {
                latch: Some(latch),
                rest,
                ..none
            }
        }
        None => none,
    })
}

/// The reason that must be read of a run the last daemon did not survive.
fn interrupted(row: &UnfinishedRow) -> Latch {
    Latch {
        run: row.id,
        state: State::Interrupted,
        code: INTERRUPTED.to_owned(),
        text: what_is_known(row),
        since: when(&row.began, row.accounted),
    }
}

/// What it delivered, in words.
fn what_is_known(row: &UnfinishedRow) -> String {
    format!(
        "the daemon or the computer died in this run, {:.0} min after it began or later; it \
         delivered {:.4} Ah or more, {:.4} Ah at the most",
        row.accounted
            .max(row.last_reading.map_or(Span::ZERO, |last| last.at))
            .s()
            / 60.0,
        row.charge.low.ah(),
        row.charge_at_most.ah(),
    )
}

fn unfinished(row: &UnfinishedRow, record: &RunRecord) -> Unfinished {
    let last = row.last_reading.map_or(Span::ZERO, |last| last.at);
    let charge = Bounded {
        low: row.charge.low,
        best: row.charge.best,
        high: row.charge_at_most.max(row.charge.high),
    };
    // All that nobody saw may have gone through any one of them: while paint is being covered,
    // shares change many times over.
    let unseen = (charge.high - row.charge.high).max(Charge::ZERO);
    let electrodes = record
        .electrodes
        .iter()
        .map(|electrode| {
            let mut account = electrode.account;
            let before = account.charge.high;
            account.charge.high += unseen;
            // More charge never makes a deposit thicker than in proportion: its area does not
            // shrink that fast.
            if before > Charge::ZERO {
                account.thickness.high = account.thickness.high * (account.charge.high / before);
            }
            account
        })
        .collect();
    let at = row.accounted.max(last);
    Unfinished {
        id: row.id,
        at,
        charge,
        electrodes,
        shown: record.thickness.unwrap_or_default(),
        governing: record.governing,
        text: what_is_known(row),
    }
}

impl Unfinished {
    /// Shows its widened bounds until the next run.
    fn show(&self, rest: &mut Snapshot) {
        rest.charge = self.charge;
        rest.time_on = self.at;
        rest.elapsed = self.at;
        let shown = rest.pieces.iter_mut().chain(&mut rest.hangers);
        for (state, account) in shown.zip(&self.electrodes) {
            state.charge = account.charge;
            state.thickness = account.thickness;
        }
    }

    /// Its number.
    pub(super) fn id(&self) -> RunId {
        self.id
    }

    /// Writes its end.
    pub(super) fn close(self, scribe: &Scribe) -> Result<(), Full> {
        let (id, at) = (self.id, self.at);
        let outcome = Outcome::Interrupted(Fault::DaemonLost);
        let entries = [
            Entry::Event {
                at,
                code: INTERRUPTED,
                text: self.text,
            },
            Entry::Entered {
                at,
                state: State::Interrupted,
            },
            Entry::Accounts {
                at,
                charge: self.charge,
                electrodes: self.electrodes,
                shown: self.shown,
                governing: self.governing,
            },
            Entry::Ended {
                at,
                outcome,
                fault: None,
            },
        ];
        entries
            .into_iter()
            .try_for_each(|entry| scribe.append(id, entry))?;
        scribe.commit(Ticket(0))
    }
}

/// The reason of a run that ended badly, unless a person has read it.
fn uncleared(record: &RunRecord) -> Option<Latch> {
    let ending = record.ending?;
    let fault = ending.outcome.fault()?;
    if record.events.iter().any(|event| event.code == CLEARED) {
        return None;
    }
    let said = record
        .events
        .iter()
        .rev()
        .find(|event| event.code == INTERRUPTED || event.code == fault.code());
    let code = said.map_or(fault.code(), |event| event.code.as_str());
    Some(Latch {
        run: record.id,
        state: ending.outcome.state(),
        code: code.to_owned(),
        text: said.map_or_else(|| fault.guard().sees.to_owned(), |event| event.text.clone()),
        since: when(&record.head.began, ending.at),
    })
}

/// A label for a time after another label.
fn when(began: &str, after: Span) -> Option<String> {
    let began = chrono::DateTime::parse_from_rfc3339(began).ok()?;
    let after = std::time::Duration::try_from_secs_f64(after.s()).ok()?;
    Some((began + after).to_rfc3339_opts(chrono::SecondsFormat::Secs, false))
}

/// A run of the ledger as a view shows it.
fn snapshot(standing: &Standing, record: &RunRecord, state: State) -> Snapshot {
    let mut electrodes: Vec<PieceState> = record
        .electrodes
        .iter()
        .map(|electrode| PieceState {
            name: electrode.head.name.clone(),
            charge: electrode.account.charge,
            mass: electrode.account.mass,
            thickness: electrode.account.thickness,
            area: electrode.account.area,
        })
        .collect();
    let hangers = electrodes.split_off(record.pieces().count());
    Snapshot {
        state,
        run: Some(record.id),
        job: Some(record.head.job.clone()),
        charge: record.charge,
        thickness: record.thickness.unwrap_or_default(),
        target: record.head.target,
        progress: match (record.thickness, record.head.target) {
            (Some(thickness), Some(target)) => (thickness / target).clamp(0.0, 1.0),
            (None, _) | (_, None) => 0.0,
        },
        elapsed: record.accounted,
        pieces: electrodes,
        hangers,
        identity: record.identity.clone(),
        ..standing.untouched()
    }
}
