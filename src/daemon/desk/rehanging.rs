//! Pieces are lifted out of the run that is on, or hung into it: the output goes off first, a
//! reading proves it, the ledger takes the change, and only then is the person told to reach into
//! the bath. The current comes back when she says so.

use super::super::inbox::Reply;
use super::super::refusal::{NOT_CONFIRMED_OFF, REFUSED, Refusal};
use super::super::rehang::Rehanging;
use super::Desk;
use super::asked::{closing, may_pause};
use crate::control::{State, Wish};
use crate::ledger::Ticket;
use crate::plan::Outlook;
use crate::run::{Change, Input};
use crate::units::Moment;
use serde_json::json;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Whoever waits is answered after this, with or without the change.
const AT_MOST: Duration = Duration::from_secs(15);

/// A change that is under way.
#[derive(Debug)]
pub(super) struct Changing {
    rehanging: Rehanging,
    reply: Reply,
    since: Moment,
    pub(super) due: Instant,
    /// The run has been told, and the ledger is to make it durable; with what was said of it.
    writing: Option<(Ticket, Outlook)>,
}

impl Desk {
    /// Somebody asks for a change. What forbids it is said before anything is turned off.
    pub(super) fn rehang(&mut self, rehanging: Rehanging, reply: Reply) {
        if let Err(refusal) = self.may_rehang(&rehanging) {
            reply.send(Err(refusal));
            return;
        }
        self.changing = Some(Changing {
            rehanging,
            reply,
            since: self.clock.now(),
            due: Instant::now() + AT_MOST,
            writing: None,
        });
        // It may be paused already: then this changes nothing.
        self.tell(Input::Asked(Wish::Pause));
    }

    fn may_rehang(&self, rehanging: &Rehanging) -> Result<(), Refusal> {
        let active = self.run.as_ref().ok_or_else(|| self.nothing_runs())?;
        if self.closing.is_some() {
            return Err(closing());
        }
        if self.changing.is_some() {
            let text = "another change of what hangs is under way";
            return Err(Refusal::new(REFUSED, "busy", text));
        }
        if active.id != rehanging.run {
            let text = "that run is over, and another one is on";
            return Err(Refusal::new(REFUSED, "not-now", text).remedy("see `nightvat status`"));
        }
        may_pause(active.run.state())?;
        self.judged(rehanging).map(|_| ())
    }

    fn judged(&self, rehanging: &Rehanging) -> Result<(Change, Outlook), Refusal> {
        let active = self.run.as_ref().ok_or_else(|| self.nothing_runs())?;
        let core = active.run.core();
        let (delivered, reached) = (core.charge().best, core.reached().is_some());
        rehanging.judge(&self.standing.capability, core.rack(), delivered, reached)
    }

    /// Carries the change on as far as it has come: the pause is proved, or it took too long.
    pub(super) fn carry_change_on(&mut self, now: Instant) {
        let Some(changing) = &self.changing else {
            return;
        };
        let is_off = self
            .run
            .as_ref()
            .is_some_and(|active| active.paused && active.run.state() == State::Paused);
        if changing.writing.is_none() && is_off {
            self.change();
        } else if self.run.is_none() {
            self.refuse_change(over());
        } else if changing.due <= now {
            let late = if is_off { not_written() } else { not_off() };
            self.refuse_change(late);
        }
    }

    /// The output is off, and a reading says so.
    fn change(&mut self) {
        let Some(mut changing) = self.changing.take() else {
            return;
        };
        match self.judged(&changing.rehanging) {
            Err(refusal) => changing.reply.send(Err(refusal.remedy(
                "the run is paused, its output off; nothing was changed: `nightvat resume` goes on",
            ))),
            Ok((change, outlook)) => {
                self.tell(Input::Rehung(Box::new(change)));
                if let Some(active) = &mut self.run {
                    active.papers = Arc::clone(&changing.rehanging.papers);
                }
                changing.writing = Some((self.last_ticket, outlook));
                self.changing = Some(changing);
            }
        }
    }

    /// The ledger holds everything up to this ticket.
    pub(super) fn change_is_kept(&mut self, ticket: Ticket) {
        let kept = self.changing.take_if(|changing| {
            let writing = changing.writing.as_ref();
            writing.is_some_and(|(awaited, _)| *awaited <= ticket)
        });
        let Some(Changing {
            rehanging,
            reply,
            since,
            writing: Some((_, outlook)),
            ..
        }) = kept
        else {
            return;
        };
        let names = rehanging.names();
        let warnings: Vec<_> = rehanging.news(&outlook).collect();
        let (lifted, hung) = if rehanging.lifts() {
            (names, Vec::new())
        } else {
            (Vec::new(), names)
        };
        self.post(Instant::now());
        reply.send(Ok(json!({
            "run": rehanging.run,
            "state": self.shown_state(),
            "output_on": false,
            "confirmed": true,
            "lifted": lifted,
            "hung": hung,
            "warnings": warnings,
            "charge_ah": self.charge_ah(),
            "took_s": self.since(since).s(),
        })));
    }

    /// The change comes to nothing, as far as anybody knows.
    pub(super) fn refuse_change(&mut self, refusal: Refusal) {
        if let Some(changing) = self.changing.take() {
            changing.reply.send(Err(refusal));
        }
    }
}

fn not_off() -> Refusal {
    let text = "off was sent, and no reading proves it; nothing was changed";
    Refusal::new(NOT_CONFIRMED_OFF, "unconfirmed", text)
        .remedy("keep your hands out of the bath; turn the supply off by hand")
}

/// What the ledger refused, or has not answered for.
pub(super) fn not_written() -> Refusal {
    let text = "the output is off and confirmed, and the ledger has not taken the change";
    Refusal::new(REFUSED, "ledger-not-writing", text)
        .remedy("look at the disk that holds the ledger; `nightvat stop` ends the run")
}

fn over() -> Refusal {
    let text = "the run ended meanwhile; nothing was changed";
    Refusal::new(REFUSED, "not-now", text).remedy("see `nightvat status`")
}
