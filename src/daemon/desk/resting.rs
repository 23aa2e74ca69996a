//! The station at rest: nothing is energised, and a reading says so.

use super::super::latch::{Latch, OffSince, ReadBy};
use super::Desk;
use crate::control::Outcome as Ending;
use crate::deposit::Metal;
use crate::run::Input;
use crate::supply::keeper::Why;
use crate::supply::off::OffReport;
use std::time::{Duration, Instant};

/// Off that was not proved is sent again after this, for ever.
const AGAIN: Duration = Duration::from_secs(2);

impl Desk {
    /// Has the keeper turn the output off and prove it.
    pub(super) fn off_now(&mut self) {
        if self.hand.off() {
            self.off_again = None;
            self.off_due = Some(Instant::now() + self.off_patience());
        } else if self.hand.pid().is_some() {
            // It may have died before anybody listened to it.
            self.keeper_gone("its pipe is closed");
        } else {
            self.off_again = Some(Instant::now() + AGAIN);
        }
    }

    /// The keeper says what came of its off.
    pub(super) fn off_reported(&mut self, why: &Why, report: &OffReport) {
        self.off_due = None;
        self.off_was_tried(report.confirmed);
        if report.confirmed {
            tracing::info!(took_s = report.took.s(), "{}: {why}", report.text());
        } else {
            tracing::error!("{}: {why}", report.text());
        }
        if self.run.is_some() {
            // The run proves it for itself; this counts only for who must end at once.
            if report.confirmed {
                self.keeper_proved();
                let read = report.reading.as_ref().map(|reading| reading.received);
                // Off that was asked for is the run's own.
                if let Some(read) = read.filter(|_| *why != Why::Asked) {
                    self.keeper_off = self.keeper_off.or(Some(read));
                    self.tell(Input::KeptOff(report.begun, read));
                }
            }
            return;
        }
        self.rest.output_on = report.reading.as_ref().and_then(|reading| reading.output);
        self.off_proved = report.confirmed;
        if report.confirmed {
            self.rest.current = report.reading.as_ref().and_then(|reading| reading.current);
            self.rest.last_reply = report.reading.as_ref().map(|reading| reading.received);
            self.close_unfinished();
            self.settle_all();
        } else {
            self.off_again = Some(Instant::now() + AGAIN);
        }
    }

    /// Writes the end of the run that the last daemon did not survive, now that its output is
    /// proved off.
    pub(super) fn close_unfinished(&mut self) {
        for run in std::mem::take(&mut self.unfinished) {
            let id = run.id();
            if run.close(&self.standing, &self.scribe).is_err() {
                tracing::error!(run = id, "the ledger does not take the end of this run");
            }
        }
    }

    /// What a person must read before the next run.
    pub(super) fn latch_of(
        &self,
        run: i64,
        outcome: Ending,
        metal: Metal,
        reached: bool,
    ) -> Option<Latch> {
        let fault = match outcome {
            Ending::Finished | Ending::Stopped => return None,
            Ending::Tripped(fault) | Ending::Interrupted(fault) => fault,
        };
        let said = self
            .rest
            .alarms
            .iter()
            .rev()
            .find(|alarm| alarm.fault == fault);
        let text = said.map_or_else(|| fault.guard().sees.to_owned(), |alarm| alarm.text.clone());
        let now = super::super::standing::label_now();
        let off = match self.keeper_off {
            Some(at) => OffSince {
                not_before: Some(self.standing.label(at)),
                read_by: ReadBy::Keeper,
            },
            None => OffSince {
                not_before: Some(now.clone()),
                read_by: ReadBy::Run,
            },
        };
        Some(Latch {
            run,
            state: outcome.state(),
            code: fault.code().to_owned(),
            text,
            since: Some(now),
            metal: Some(metal.name.to_owned()),
            off,
            resumes: matches!(outcome, Ending::Interrupted(_)) && !reached,
        })
    }
}
