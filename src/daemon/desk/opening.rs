//! The beginning of a run: it has a number in the ledger before anything is sent.

use super::super::going_on::{By, GoOn, JOB_FILE};
use super::super::inbox::Reply;
use super::super::prepare::Prepared;
use super::super::refusal::{REFUSED, Refusal};
use super::super::told::ago;
use super::{Active, Desk};
use crate::control::{Outcome as Ending, State};
use crate::ledger::{Entry, RunId, Ticket};
use crate::plan::layers;
use crate::run::{Habits, Input, Run};
use crate::supply::link::Link;
use crate::units::Span;
use serde_json::json;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// The ledger gives a number within this, or there is no run.
const LEDGER_PATIENCE: Duration = Duration::from_secs(15);

/// A run that waits for its number.
#[derive(Debug)]
pub(super) struct Opening {
    /// `None` when it was given up: the number is awaited all the same.
    asked: Option<(Prepared, Reply)>,
    pub(super) due: Instant,
}

impl Desk {
    /// The supply is there: the run gets its number.
    pub(super) fn open(&mut self, prepared: Prepared, reply: Reply) {
        if self.scribe.begin(prepared.head.clone()).is_err() {
            reply.send(Err(no_number("the ledger's disk is too slow")));
            return;
        }
        let due = Instant::now() + LEDGER_PATIENCE;
        self.opening = Some(Opening {
            asked: Some((prepared, reply)),
            due,
        });
    }

    /// The ledger gave a number, or none.
    pub(super) fn began(&mut self, number: Result<RunId, String>) {
        let Some(opening) = self.opening.take() else {
            return;
        };
        match (opening.asked, number) {
            (Some((_, reply)), Err(why)) => reply.send(Err(no_number(&why))),
            (None, Err(_)) => {}
            (None, Ok(id)) => self.never_began(id),
            (Some((prepared, reply)), Ok(id)) => match self.no_start() {
                None => self.begin(id, prepared, reply),
                Some(refusal) => {
                    reply.send(Err(refusal));
                    self.never_began(id);
                }
            },
        }
    }

    fn begin(&mut self, id: RunId, prepared: Prepared, reply: Reply) {
        let now = self.clock.now();
        let forecast = prepared.outlook.plan.forecast.clone();
        let job_path = prepared.papers.job_path.clone();
        let standing = Arc::clone(&self.standing);
        let run = Run::new(
            now,
            id,
            &prepared.head,
            Arc::new(prepared.outlook.plan),
            standing.capability.clone(),
            Link::new(Arc::clone(&standing.profile)),
            Habits::default(),
        );
        self.run = Some(Active {
            run,
            id,
            papers: Arc::new(prepared.papers),
            wake: None,
            paused: false,
        });
        self.off_proved = false;
        tracing::info!(run = id, job = prepared.head.job, "begins");
        let from = Entry::Event {
            at: Span::ZERO,
            code: JOB_FILE,
            text: job_path,
        };
        let kept = self.scribe.append(id, from);
        self.kept(kept);
        self.tell(Input::Begin);
        self.post(Instant::now());
        reply.send(Ok(json!({
            "run": id,
            "job": prepared.head.job,
            "state": self.shown_state(),
            "charge_ah": forecast.charge.ah(),
            "duration_s": forecast.duration.s(),
            "finish_at": self.standing.label(now + forecast.duration),
            "warnings": prepared.outlook.warnings,
            "layers": layers(&self.standing.capability, self.standing.opens_within()),
        })));
    }

    /// An interrupted run goes on, under its number and with its accounts.
    pub(super) fn begin_again(&mut self, go_on: GoOn, reply: Reply) {
        // It may have been asked for something else while the supply was asked who it is.
        if let Some(refusal) = self.no_going_on(&go_on) {
            reply.send(Err(refusal));
            return;
        }
        let (id, prepared, standing) = (go_on.run, go_on.prepared, Arc::clone(&self.standing));
        let off = self.latch.take().and_then(|latch| latch.off.not_before);
        let off = off.as_deref().and_then(ago).map_or_else(
            || "a time that is not known".to_owned(),
            |off| format!("{:.0} s or less", off.s()),
        );
        let now = self.clock.now();
        let began = ago(&go_on.began).unwrap_or_default() * standing.clock.speed;
        let before = began.max(go_on.lasted);
        let run = Run::new(
            now,
            id,
            &prepared.head,
            Arc::new(prepared.outlook.plan),
            standing.capability.clone(),
            Link::new(Arc::clone(&standing.profile)),
            Habits::default(),
        );
        self.run = Some(Active {
            run: run.carry(now, before, &go_on.carried),
            id,
            papers: Arc::new(prepared.papers),
            wake: None,
            paused: false,
        });
        self.off_proved = false;
        let who = match go_on.by {
            By::Person => "a person had it go on",
            By::Rule => "the rule of the station file had it go on",
        };
        let text = format!("{who}, after {off} without current");
        tracing::warn!(run = id, job = prepared.head.job, "{text}");
        let kept = self.scribe.append(id, Entry::WentOn { at: before, text });
        self.kept(kept);
        self.tell(Input::Begin);
        self.post(Instant::now());
        reply.send(Ok(json!({ "run": id, "state": self.shown_state() })));
    }

    /// A number was given to a run that nobody wants any more: nothing of it was sent.
    fn never_began(&mut self, id: RunId) {
        let entries = [
            Entry::Entered {
                at: Span::ZERO,
                state: State::Stopped,
            },
            Entry::Ended {
                at: Span::ZERO,
                outcome: Ending::Stopped,
                fault: None,
            },
        ];
        let kept = entries
            .into_iter()
            .try_for_each(|entry| self.scribe.append(id, entry))
            .and_then(|()| self.scribe.commit(Ticket(0)));
        if kept.is_err() {
            tracing::error!(
                run = id,
                "the ledger does not take that this run never began"
            );
        }
    }

    /// Gives the run up that waits for its number.
    pub(super) fn cancel_opening(&mut self, why: &str) {
        let refusal = Refusal::new(REFUSED, "stopped", why);
        self.greeting_cancelled(&refusal);
        if let Some((_, reply)) = self
            .opening
            .as_mut()
            .and_then(|opening| opening.asked.take())
        {
            reply.send(Err(refusal));
        }
    }

    pub(super) fn opening_is_late(&mut self, now: Instant) {
        let Some(opening) = &mut self.opening else {
            return;
        };
        if opening.due > now {
            return;
        }
        // Looked at again now and then; the ledger still owes the number.
        opening.due = now + LEDGER_PATIENCE;
        if let Some((_, reply)) = opening.asked.take() {
            reply.send(Err(no_number("its disk has not answered for 15 s")));
        }
    }
}

fn no_number(why: &str) -> Refusal {
    let text = format!("the ledger does not take the run: {why}; nothing was energised");
    Refusal::new(REFUSED, "ledger-not-writing", text)
        .remedy("look at the disk that holds the ledger")
}
