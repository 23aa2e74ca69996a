//! What the loop says of itself on the board.

use super::super::board::{Night, Posted};
use super::Desk;
use crate::control::State;
use crate::units::{Moment, Span};
use std::sync::Arc;
use std::time::Instant;

impl Desk {
    pub(super) fn shown_state(&self) -> State {
        match &self.run {
            // Off is on its way and not proved yet, whatever it is on its way for.
            Some(active) if active.run.state().is_over() => State::Stopping,
            Some(active) if active.run.state() == State::Paused && !active.paused => {
                State::Stopping
            }
            Some(active) => active.run.state(),
            None if !self.off_proved => State::Unconfirmed,
            None => self.rest.state,
        }
    }

    /// Says on the board how things stand.
    pub(super) fn post(&mut self, now: Instant) {
        let moment = self.clock.now();
        let mut snapshot = match &self.run {
            Some(active) => active.run.snapshot(moment),
            None => self.rest.clone(),
        };
        snapshot.state = self.shown_state();
        self.posted = now;
        self.posted_state = snapshot.state;
        let posted = Posted {
            snapshot,
            night: self.run.as_ref().map(|active| {
                let core = active.run.core();
                Night {
                    run: active.id,
                    plan: Arc::clone(core.plan()),
                    covered: core.rack().covered_share(),
                    papers: Arc::clone(&active.papers),
                }
            }),
            latch: self.latch.clone(),
            at: now,
            keeper: self.hand.pid(),
        };
        self.notices.look(&posted);
        self.board.post(posted);
    }

    /// While current may flow for a run only its completed periods are signs of life; otherwise the
    /// loop's turning is.
    pub(super) fn feed_at_rest(&mut self) {
        let state = self.run.as_ref().map(|active| active.run.state());
        if state.is_none_or(|state| !state.is_live() && state != State::Proving) {
            self.pulse.feed();
        }
    }

    /// Charge of the run that is on, or of the last one shown, if there is one.
    pub(super) fn charge_ah(&self) -> Option<f64> {
        match &self.run {
            Some(active) => Some(active.run.core().charge().best.ah()),
            None => self.rest.run.map(|_| self.rest.charge.best.ah()),
        }
    }

    /// Whether the output is on, as far as anybody knows.
    pub(super) fn output_on(&self) -> Option<bool> {
        let moment = self.clock.now();
        self.run.as_ref().map_or(self.rest.output_on, |active| {
            active.run.snapshot(moment).output_on
        })
    }

    /// How long ago, on the station's clock.
    pub(super) fn since(&self, then: Moment) -> Span {
        self.clock.now().since(then)
    }
}
