//! Those who asked for off or a pause, and are answered when a reading proves it.

use super::super::inbox::Reply;
use super::super::refusal::Refusal;
use super::Desk;
use crate::control::State;
use crate::units::Moment;
use serde_json::{Value, json};
use std::time::{Duration, Instant};

/// Whoever waits for a proof is answered after this, with or without it.
const AT_MOST: Duration = Duration::from_secs(15);

/// What somebody waits for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum For {
    /// The end of the run, or the proof that the resting output is off.
    Off,
    /// The proof that the output of a paused run is off.
    Pause,
}

/// Somebody who waits.
#[derive(Debug)]
struct Waiter {
    wants: For,
    since: Moment,
    due: Instant,
    reply: Reply,
}

/// All who wait.
#[derive(Debug, Default)]
pub(super) struct Waiters(Vec<Waiter>);

impl Waiters {
    /// When the first of them has waited long enough.
    pub(super) fn due(&self) -> Option<Instant> {
        self.0.iter().map(|waiter| waiter.due).min()
    }

    /// Answers all with a refusal.
    pub(super) fn refuse_all(&mut self, refusal: &Refusal) {
        for waiter in std::mem::take(&mut self.0) {
            waiter.reply.send(Err(refusal.clone()));
        }
    }
}

impl Desk {
    /// Has somebody wait.
    pub(super) fn wait(&mut self, wants: For, reply: Reply) {
        let since = self.clock.now();
        self.waiters.0.push(Waiter {
            wants,
            since,
            due: Instant::now() + AT_MOST,
            reply,
        });
    }

    /// Answers all who wait: the output is off, and a reading says so.
    pub(super) fn settle_all(&mut self) {
        for waiter in std::mem::take(&mut self.waiters.0) {
            let answer = self.off_answer(waiter.since, true);
            waiter.reply.send(Ok(answer));
        }
    }

    /// Answers those whose pause is proved, and those who have waited long enough.
    pub(super) fn settle_due(&mut self, now: Instant) {
        let paused = self
            .run
            .as_ref()
            .is_some_and(|active| active.paused && active.run.state() == State::Paused);
        let (settled, waiting) = std::mem::take(&mut self.waiters.0)
            .into_iter()
            .partition(|it: &Waiter| it.due <= now || (paused && it.wants == For::Pause));
        self.waiters.0 = waiting;
        for waiter in settled {
            let proved = paused && waiter.wants == For::Pause;
            let answer = self.off_answer(waiter.since, proved);
            waiter.reply.send(Ok(answer));
        }
    }

    /// The relay has cut the lead of the run that is on, and its off is not confirmed.
    pub(super) fn is_cut(&self) -> bool {
        let run = self.run.as_ref();
        run.is_some_and(|active| active.run.core().is_cut())
    }

    /// The reply of stop, off and pause.
    pub(super) fn off_answer(&self, since: Moment, proved: bool) -> Value {
        let output_on = if proved {
            Some(false)
        } else {
            self.output_on()
        };
        json!({
            "output_on": output_on,
            "confirmed": proved,
            "cut": !proved && self.is_cut(),
            "took_s": self.since(since).s(),
            "charge_ah": self.charge_ah(),
        })
    }
}
