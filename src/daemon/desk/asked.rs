//! What people ask for over the API.

use super::super::going_on::{By, GoOn, cannot};
use super::super::inbox::{Reply, Want};
use super::super::latch::CLEARED;
use super::super::refusal::{NOT_CONFIRMED_OFF, REFUSED, Refusal};
use super::Desk;
use super::waiters::For;
use crate::control::{State, Wish};
use crate::ledger::{Entry, Ticket};
use crate::run::Input;
use crate::units::Span;
use serde_json::json;

impl Desk {
    pub(super) fn asked(&mut self, want: Want, reply: Reply) {
        // Whoever asks for one of these has heard.
        let heard = match &want {
            // A rule has heard nothing.
            Want::GoOn(go_on) if go_on.by == By::Rule => false,
            Want::Start(_) | Want::Resume | Want::GoOn(_) | Want::Clear | Want::Hush => {
                self.notices.hush()
            }
            Want::Stop | Want::Off | Want::Pause | Want::Rehang(_) => false,
        };
        match want {
            Want::Start(prepared) => self.start(*prepared, reply),
            Want::Stop | Want::Off => self.stop(reply),
            Want::Pause => self.pause(reply),
            Want::Rehang(rehanging) => self.rehang(*rehanging, reply),
            Want::Resume => self.resume(reply),
            Want::GoOn(go_on) => self.go_on(go_on, reply),
            Want::Clear => self.clear(reply),
            Want::Hush => reply.send(Ok(json!({ "hushed": heard }))),
        }
    }

    /// Stop and off are one: they are taken in every state, and the answer is a reading.
    fn stop(&mut self, reply: Reply) {
        self.wait(For::Off, reply);
        self.cancel_opening("it was stopped before it began");
        if self.shown_state() == State::Unconfirmed || self.run.is_none() {
            self.off_now();
        }
        self.tell(Input::Asked(Wish::Stop));
    }

    fn pause(&mut self, reply: Reply) {
        let state = self.run.as_ref().map(|active| active.run.state());
        match state.ok_or_else(|| self.nothing_runs()).and_then(may_pause) {
            Ok(()) => {
                self.wait(For::Pause, reply);
                self.tell(Input::Asked(Wish::Pause));
            }
            Err(refusal) => reply.send(Err(refusal)),
        }
    }

    fn resume(&mut self, reply: Reply) {
        let Some(active) = &self.run else {
            reply.send(Err(self.nothing_runs()));
            return;
        };
        if self.closing.is_some() {
            reply.send(Err(closing()));
            return;
        }
        if self.changing.is_some() {
            let text = "what hangs is being changed";
            let refusal = Refusal::new(REFUSED, "busy", text);
            reply.send(Err(refusal.remedy("wait for its answer")));
            return;
        }
        if active.run.state() != State::Paused || !active.paused {
            let text = format!("the run is {}, not paused", active.run.state().word());
            reply.send(Err(Refusal::new(REFUSED, "not-now", text)));
            return;
        }
        let run = active.id;
        self.tell(Input::Asked(Wish::Resume));
        reply.send(Ok(json!({"run": run, "state": self.shown_state()})));
    }

    /// A person has read the reason.
    fn clear(&mut self, reply: Reply) {
        if self.run.is_some() {
            let text = "a run is on: there is nothing to clear until it is over";
            reply.send(Err(Refusal::new(REFUSED, "busy", text)));
            return;
        }
        if !self.off_proved {
            let text = "no reading proves that the output is off; that comes first";
            reply.send(Err(Refusal::new(NOT_CONFIRMED_OFF, "unconfirmed", text)
                .remedy("look at the supply and turn its output off by hand")));
            return;
        }
        let cleared = self.latch.take();
        if let Some(latch) = &cleared {
            let text = format!("a person has read: {}", latch.text);
            let at = self.rest.elapsed.max(Span::ZERO);
            let entry = Entry::Event {
                at,
                code: CLEARED,
                text,
            };
            let kept = self.scribe.append(latch.run, entry);
            // Tickets of runs begin with 1: nobody waits for this one.
            if kept.and_then(|()| self.scribe.commit(Ticket(0))).is_err() {
                tracing::error!(
                    "the ledger does not take that run {} was cleared",
                    latch.run
                );
            }
        }
        self.rest = self.standing.at_rest(&self.rest);
        self.post(std::time::Instant::now());
        reply.send(Ok(json!({"cleared": cleared, "state": self.shown_state()})));
    }

    /// There is no run, and why that is if a person has not read it yet.
    pub(super) fn nothing_runs(&self) -> Refusal {
        let Some(latch) = &self.latch else {
            let refusal = Refusal::new(REFUSED, "nothing-runs", "no run is on");
            return refusal.remedy("`nightvat start JOB` begins one");
        };
        let (run, state, code) = (latch.run, latch.state.word(), &latch.code);
        let text = format!("no run is on: run {run} was {state} ({code})");
        let anew = format!("{}; `nightvat start JOB` begins anew", latch.remedy());
        Refusal::new(REFUSED, "nothing-runs", text).remedy(anew)
    }

    /// Why no run can begin now.
    pub(super) fn no_start(&self) -> Option<Refusal> {
        if let Some(refusal) = self.not_free() {
            return Some(refusal);
        }
        if let Some(latch) = &self.latch {
            let (run, state) = (latch.run, latch.state.word());
            let text = format!("run {run} was {state} ({}): {}", latch.code, latch.text);
            let refusal = Refusal::new(REFUSED, "not-cleared", text);
            return Some(refusal.remedy(latch.remedy()));
        }
        self.in_doubt()
    }

    /// Why this interrupted run cannot go on now.
    pub(super) fn no_going_on(&self, go_on: &GoOn) -> Option<Refusal> {
        if let Some(refusal) = self.not_free().or_else(|| self.in_doubt()) {
            return Some(refusal);
        }
        let latched = self.latch.as_ref().filter(|latch| latch.run == go_on.run);
        let Some(latch) = latched.filter(|latch| latch.resumes) else {
            return Some(cannot("it is not the one that waits for a person"));
        };
        match go_on.by {
            By::Person => None,
            By::Rule => {
                let allowed = go_on.within_the_rule(&self.standing, latch);
                allowed.err().map(|why| cannot(&why))
            }
        }
    }

    /// Why nothing can begin now, whatever it is.
    fn not_free(&self) -> Option<Refusal> {
        if self.closing.is_some() {
            return Some(closing());
        }
        if let Some(active) = &self.run {
            let state = active.run.state();
            let text = format!("run {} is {}", active.id, state.word());
            let remedy = if state == State::Unconfirmed {
                "look at the supply and turn its output off by hand"
            } else if state == State::Paused {
                "`nightvat resume` goes on with it, `nightvat stop` ends it"
            } else {
                "wait for its end, or end it with `nightvat stop`"
            };
            return Some(Refusal::new(REFUSED, "busy", text).remedy(remedy));
        }
        if self.opening.is_some() || self.greeting.is_some() {
            let text = "another run is being opened";
            return Some(Refusal::new(REFUSED, "busy", text).remedy("see `nightvat status`"));
        }
        None
    }

    /// Nothing begins before a reading proves the output off.
    fn in_doubt(&self) -> Option<Refusal> {
        if !self.off_proved {
            let text = "no reading proves that the output is off";
            return Some(
                Refusal::new(NOT_CONFIRMED_OFF, "unconfirmed", text)
                    .remedy("look at the supply; `nightvat off` tries again"),
            );
        }
        None
    }
}

/// Whether a run in this state can be paused, or is so already.
pub(super) fn may_pause(state: State) -> Result<(), Refusal> {
    match state {
        State::Proving
        | State::Striking
        | State::Ramping
        | State::Building
        | State::Holding
        | State::Paused => Ok(()),
        State::Idle
        | State::Finished
        | State::Stopping
        | State::Stopped
        | State::Tripped
        | State::Interrupted
        | State::Unconfirmed => {
            let state = state.word();
            let text = format!("the run is {state}: its output is on its way off already");
            Err(Refusal::new(REFUSED, "not-now", text))
        }
    }
}

pub(super) fn closing() -> Refusal {
    Refusal::new(REFUSED, "closing", "the daemon is ending")
}
