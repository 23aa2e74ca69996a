//! An interrupted run goes on: by a person's word, or by the station's rule, and from what the
//! ledger holds of it. Nothing here touches the supply.

use super::desk::LOOK_DUE;
use super::latch::Latch;
use super::prepare::{Papers, Prepared, drawn};
use super::refusal::{REFUSED, Refusal};
use super::standing::Standing;
use super::told::ago;
use crate::control::{Carried, Fault, Response, State};
use crate::ledger::{ElectrodeHead, HUNG, LIFTED, Ledger, RunId, RunRecord, WENT_ON};
use crate::plan::{OnRecord, Rack, rehang};
use crate::units::Span;
use crate::view::salvage::holds_for;

/// The code of the event that names the job's file.
pub(super) const JOB_FILE: &str = "job-file";
/// The rule of a station resumes one run no more often than this: what breaks off again and again
/// needs a person.
const MOST_BY_RULE: usize = 3;

/// Who wants it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum By {
    /// A person.
    Person,
    /// The `[resume]` table of the station file.
    Rule,
}

/// An interrupted run that may go on.
#[derive(Debug)]
pub(super) struct GoOn {
    /// Its number.
    pub(super) run: RunId,
    /// The job, read and planned again.
    pub(super) prepared: Prepared,
    /// What it brings with it.
    pub(super) carried: Carried,
    /// When it began, RFC 3339.
    pub(super) began: String,
    /// How long it had lasted when its end was written.
    pub(super) lasted: Span,
    /// Who wants it.
    pub(super) by: By,
    /// How often it has gone on before.
    times: usize,
    /// It broke off while it ran, and in no pause: a rule may have it go on.
    ran: bool,
}

/// What a run was at when it broke off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Broke {
    /// It ran, and nothing was wrong with it.
    Running,
    /// It waited for a person.
    Waiting,
    /// It had not begun, or was on its way to another end.
    Otherwise,
}

/// Whether a run that is interrupted may go on, by a person's word at least.
pub(super) fn may(record: &RunRecord) -> bool {
    record.reached.is_none() && broke(record) != Broke::Otherwise
}

/// A run that wrote its own end knew what it was leaving for. Of one that died its last state
/// tells, and what its guards had said: a trip that was not yet proved off is a trip.
fn broke(record: &RunRecord) -> Broke {
    let by_itself = |fault: Option<Fault>| fault != Some(Fault::DaemonLost);
    if record
        .ending
        .is_some_and(|ending| by_itself(ending.outcome.fault()))
    {
        return Broke::Running;
    }
    let went_on = record
        .events
        .iter()
        .rposition(|event| event.code == WENT_ON);
    let tripped = record.events[went_on.unwrap_or(0)..]
        .iter()
        .filter_map(|event| Fault::from_code(&event.code))
        .any(trips);
    let states = record.states.iter().rev().map(|row| row.state);
    match states
        .into_iter()
        .find(|state| *state != State::Interrupted)
    {
        _ if tripped => Broke::Otherwise,
        Some(State::Paused) => Broke::Waiting,
        Some(state) if state.is_live() || state == State::Proving => Broke::Running,
        Some(_) | None => Broke::Otherwise,
    }
}

/// A guard that ends a run for a person to look at.
fn trips(fault: Fault) -> bool {
    let broken_off = [
        Fault::KeeperLost,
        Fault::DaemonLost,
        Fault::HostSlept,
        Fault::SupplyPowerCycled,
    ];
    fault.guard().response != Response::Alarm && !broken_off.contains(&fault)
}

/// Reads what a run needs to go on; `None` while its end is not written yet.
///
/// # Errors
/// Why it cannot go on.
pub(super) fn read(standing: &Standing, run: RunId, by: By) -> Result<Option<GoOn>, Refusal> {
    let ledger = Ledger::open_read(&standing.ledger)?;
    let record = ledger.run(run)?;
    let Some(ending) = record.ending else {
        return Ok(None);
    };
    if ending.outcome.state() != State::Interrupted || !may(&record) {
        let state = ending.outcome.state().word();
        return Err(cannot(&format!(
            "it is {state}, and only one that was broken off while it ran can"
        )));
    }
    let path = said(&record, JOB_FILE).last();
    let papers = Papers {
        job_text: record.head.job_text.clone(),
        job_path: path.unwrap_or("job.toml").to_owned(),
        hung: record.papers.clone(),
    };
    let seen = ledger.last_reading(run)?.map_or(Span::ZERO, |last| last.at);
    let carried = carried(&record, time_on(&record, seen));
    let prepared = planned(standing, papers, &record, &carried)?;
    if !same(&prepared.head.electrodes, &record.head.electrodes) {
        return Err(cannot("its pieces are not what they were when it began"));
    }
    Ok(Some(GoOn {
        run,
        prepared,
        carried,
        began: record.head.began.clone(),
        lasted: ending.at,
        by,
        times: said(&record, WENT_ON).count(),
        ran: broke(&record) == Broke::Running,
    }))
}

/// What the run brings with it.
fn carried(record: &RunRecord, on: Span) -> Carried {
    let rehung = is_rehung(record);
    let electrodes = record.electrodes.iter().map(|one| OnRecord {
        charge: one.account.charge,
        // What has hung all the time has had the run's own time.
        on: if rehung { one.account.on } else { on },
    });
    Carried {
        charge: record.charge,
        electrodes: electrodes.collect(),
        on,
        looks_taken: said(record, LOOK_DUE).count(),
    }
}

/// The plan to go on by. What hangs is what hung last.
fn planned(
    standing: &Standing,
    papers: Papers,
    record: &RunRecord,
    carried: &Carried,
) -> Result<Prepared, Refusal> {
    let mut drawn = drawn(standing, &papers, Some(record.id))?;
    if is_rehung(record) {
        let mut plan = drawn.outlook.plan;
        let hang = record.electrodes.iter().map(|one| one.hangs);
        for (piece, hangs) in plan.pieces.iter_mut().zip(hang) {
            piece.hangs = hangs;
        }
        let rack = Rack::resume(&plan, &carried.electrodes, carried.on);
        let by = (&drawn.bath, &drawn.station, &standing.capability);
        drawn.outlook = rehang(plan, &rack, carried.charge.best, &drawn.job, by)
            .map_err(|fault| cannot(&fault.to_string()))?;
    }
    drawn.outlook.accept()?;
    Ok(drawn.prepared(standing, papers))
}

/// True if pieces were lifted out of the run or hung into it.
fn is_rehung(record: &RunRecord) -> bool {
    record
        .events
        .iter()
        .any(|event| [HUNG, LIFTED].contains(&event.code.as_str()))
}

impl GoOn {
    /// Whether the rule of the station file allows it now. It resumes interruptions only, within
    /// the time the file gives and the time the metal gives, and not for ever.
    ///
    /// # Errors
    /// Why a person must.
    pub(super) fn within_the_rule(&self, standing: &Standing, latch: &Latch) -> Result<(), String> {
        let Some(rule) = standing.station.resume else {
            return Err("the station file has no rule for it".to_owned());
        };
        if !self.ran {
            return Err("it was paused when it broke off: a person has it go on".to_owned());
        }
        let Some(off_for) = latch.off.not_before.as_deref().and_then(ago) else {
            return Err("this computer's clock does not tell how long it was off".to_owned());
        };
        let holds = holds_for(latch.metal.as_deref());
        allowed(off_for, rule.within, holds, self.times)
    }
}

fn allowed(off_for: Span, within: Span, holds: Span, times: usize) -> Result<(), String> {
    let off = format!("it was off for up to {:.0} s", off_for.s());
    if off_for > within {
        return Err(format!(
            "{off}, and the station file allows {:.0} s",
            within.s()
        ));
    }
    if off_for > holds {
        return Err(format!(
            "{off}, and on this metal new metal may peel after {:.0} s",
            holds.s()
        ));
    }
    if times >= MOST_BY_RULE {
        return Err(format!("it has gone on {times} times already"));
    }
    Ok(())
}

pub(super) fn cannot(why: &str) -> Refusal {
    Refusal::new(REFUSED, "not-now", format!("the run cannot go on: {why}"))
        .remedy("`nightvat clear`, then `nightvat start` a job for what is missing")
}

fn said<'a>(record: &'a RunRecord, code: &'a str) -> impl Iterator<Item = &'a str> {
    let events = record.events.iter().filter(move |event| event.code == code);
    events.map(|event| event.text.as_str())
}

/// The same electrodes, each with the area it had.
fn same(now: &[ElectrodeHead], then: &[ElectrodeHead]) -> bool {
    let alike = |(a, b): (&ElectrodeHead, &ElectrodeHead)| {
        let area = (a.area.cm2() - b.area.cm2()).abs() <= 1e-6 * b.area.cm2();
        a.name == b.name && a.hanger == b.hanger && area
    };
    now.len() == then.len() && now.iter().zip(then).all(alike)
}

/// Time with the output on for the job, as far as anybody saw it; a hold comes after the target.
pub(super) fn time_on(record: &RunRecord, seen: Span) -> Span {
    let mut on = Span::ZERO;
    for (index, row) in record.states.iter().enumerate() {
        let next = record.states.get(index + 1).map_or(seen, |next| next.at);
        if row.state.is_live() {
            on += (next.min(seen) - row.at).max(Span::ZERO);
        }
    }
    on
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rule_holds_at_its_bounds_and_not_beyond() {
        let s = Span::from_s;
        assert_eq!(allowed(s(600.0), s(600.0), s(600.0), 2), Ok(()));
        let why = |off, within, holds, times| allowed(s(off), s(within), s(holds), times);
        assert!(
            why(601.0, 600.0, 900.0, 0)
                .unwrap_err()
                .contains("allows 600 s")
        );
        assert!(
            why(31.0, 600.0, 30.0, 0)
                .unwrap_err()
                .contains("peel after 30 s")
        );
        assert!(why(1.0, 600.0, 600.0, 3).unwrap_err().contains("3 times"));
    }
}
