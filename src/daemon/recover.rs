//! What the ledger says of the last run of this station: one that nobody ended, or one whose end
//! nobody has read.

mod broken;

pub(super) use broken::Unfinished;

use super::going_on;
use super::latch::{CLEARED, INTERRUPTED, Latch, OffSince, ReadBy};
use super::standing::Standing;
use crate::control::{Fault, State};
use crate::ledger::{Ledger, RunRecord, StoreFault};
use crate::run::{PieceState, Snapshot};
use crate::supply::keeper::Record;
use crate::units::Span;

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

/// Looks into the ledger, and at what the last keeper wrote.
pub(super) fn look(standing: &Standing, keeper: Option<&Record>) -> Result<Found, StoreFault> {
    let ledger = Ledger::open_read(&standing.ledger)?;
    let ours = |station: &str, rehearsed: bool| station == standing.station.name && !rehearsed;
    let open = ledger.unfinished()?;
    let unfinished = open
        .into_iter()
        .filter(|row| ours(&row.station, row.rehearsed))
        .map(|row| {
            let record = ledger.run(row.id)?;
            let readings = ledger.readings(row.id)?;
            Ok(Unfinished::new(row, record, &readings, keeper))
        });
    let unfinished = unfinished.collect::<Result<Vec<_>, StoreFault>>()?;
    if let Some(newest) = unfinished.first() {
        let mut rest = snapshot(standing, newest.record(), State::Interrupted);
        newest.show(standing, &mut rest);
        return Ok(Found {
            latch: Some(newest.latch(standing)),
            unfinished,
            rest,
        });
    }
    let none = Found {
        unfinished: Vec::new(),
        latch: None,
        rest: standing.untouched(),
    };
    let runs = ledger.runs()?;
    let Some(last) = runs.iter().find(|row| ours(&row.station, row.rehearsed)) else {
        return Ok(none);
    };
    let record = ledger.run(last.id)?;
    let last_reading = ledger.last_reading(last.id)?.map(|reading| reading.at);
    Ok(match uncleared(standing, &record, last_reading, keeper) {
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

/// The reason of a run that ended badly, unless a person has read it.
fn uncleared(
    standing: &Standing,
    record: &RunRecord,
    last_reading: Option<Span>,
    keeper: Option<&Record>,
) -> Option<Latch> {
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
    let since = when(standing, &record.head.began, ending.at);
    let off = if fault == Fault::DaemonLost {
        // Its end was written by a later daemon, perhaps long after.
        let known = last_reading.unwrap_or(ending.at);
        let known = when(standing, &record.head.began, known);
        broken::off_since(broken::proof_of(record.id, keeper).as_ref(), known)
    } else {
        OffSince {
            not_before: since.clone(),
            read_by: ReadBy::Run,
        }
    };
    let interrupted = ending.outcome.state() == State::Interrupted;
    Some(Latch {
        run: record.id,
        state: ending.outcome.state(),
        code: code.to_owned(),
        text: said.map_or_else(|| fault.guard().sees.to_owned(), |event| event.text.clone()),
        since,
        metal: broken::metal_of(standing, record),
        off,
        resumes: interrupted && going_on::may(record),
    })
}

/// A label for a time of a run that began at another label.
fn when(standing: &Standing, began: &str, after: Span) -> Option<String> {
    let began = chrono::DateTime::parse_from_rfc3339(began).ok()?;
    Some((began + standing.clock.real(after)).to_rfc3339_opts(chrono::SecondsFormat::Secs, false))
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
            hangs: electrode.hangs,
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
