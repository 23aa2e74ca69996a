//! The ledger of a night: when it answers, and what it holds.

use super::Plant;
use crate::ledger::{Entry, ReadingEntry, Ticket};
use crate::rig::night::mishap::Ledger;
use crate::rig::night::oracle::{Allowed, Oracle};
use crate::run::Input;
use crate::units::{Moment, Span};
use std::collections::VecDeque;

/// A commit usually takes this long.
const USUAL: Span = Span::from_ms(8.0);

/// A commit that has not been answered.
#[derive(Clone, Copy, Debug)]
struct Answer {
    begins: Moment,
    at: Moment,
    ticket: Ticket,
    good: bool,
    allowed: Option<Allowed>,
}

/// The ledger as the loop knows it.
#[derive(Clone, Debug)]
pub(super) struct Book {
    plant: Plant,
    takes: Span,
    refuses_entries: bool,
    refuses_commits: bool,
    /// An entry was refused; the next commit must not promise it.
    lost: bool,
    busy_until: Moment,
    answers: VecDeque<Answer>,
    allowed: Option<Allowed>,
    readings: u64,
    /// What was told, but for readings and accounts.
    pub(super) told: Vec<String>,
}

impl Book {
    pub(super) fn new(plant: Plant) -> Self {
        Self {
            plant,
            takes: USUAL,
            refuses_entries: false,
            refuses_commits: false,
            lost: false,
            busy_until: Moment::ZERO,
            answers: VecDeque::new(),
            allowed: None,
            readings: 0,
            told: Vec::new(),
        }
    }

    pub(super) fn change(&mut self, change: Ledger) {
        match change {
            Ledger::RefusesEntries => self.refuses_entries = true,
            Ledger::RefusesCommits => self.refuses_commits = true,
            Ledger::Takes(span) => self.takes = span,
        }
    }

    /// It takes everything again.
    pub(super) fn mend(&mut self) {
        (self.takes, self.refuses_entries, self.refuses_commits) = (USUAL, false, false);
    }

    /// When the next answer comes.
    pub(super) fn answers_at(&self) -> Option<Moment> {
        self.answers.front().map(|answer| answer.at)
    }

    /// Takes an entry, and shows it to the oracle.
    pub(super) fn record(&mut self, now: Moment, entry: &Entry, oracle: &mut Oracle) {
        if self.refuses_entries {
            self.lost = true;
            return;
        }
        match entry {
            Entry::Reading(reading) => self.reading(now, reading, oracle),
            Entry::Envelope { at, envelope, .. } => {
                oracle.other(now, *at, false);
                self.allowed = Some(Allowed {
                    amps: envelope.current.a(),
                    volts: envelope.voltage.v(),
                    until: envelope.until,
                });
            }
            Entry::Event { at, code, .. } => oracle.other(now, *at, *code == "gap"),
            Entry::Rehung { at, .. } => oracle.other(now, *at, false),
            Entry::Entered { at, .. } | Entry::Accounts { at, .. } | Entry::Reached { at, .. } => {
                oracle.other(now, *at, false);
            }
            // Its time is that of the proof, which was read before the entry was written.
            Entry::Ended { .. } | Entry::Supply { .. } | Entry::WentOn { .. } => {}
        }
        match entry {
            Entry::Event { at, code, text } => {
                self.told.push(format!("{:.3} s {code}: {text}", at.s()));
            }
            Entry::Rehung { at, change } => {
                let (code, text) = (change.code, &change.text);
                self.told.push(format!("{:.3} s {code}: {text}", at.s()));
            }
            Entry::Entered { at, state } => {
                self.told.push(format!("{:.3} s {}", at.s(), state.word()));
            }
            Entry::Reading(_)
            | Entry::Accounts { .. }
            | Entry::Envelope { .. }
            | Entry::Reached { .. }
            | Entry::Supply { .. }
            | Entry::WentOn { .. }
            | Entry::Ended { .. } => {}
        }
        match entry {
            Entry::Reading(_) => {}
            Entry::Accounts { at, charge, .. } => {
                for word in [at.s(), charge.low.c(), charge.best.c(), charge.high.c()] {
                    oracle.digest.word(word.to_bits());
                }
            }
            Entry::Envelope { .. }
            | Entry::Entered { .. }
            | Entry::Event { .. }
            | Entry::Rehung { .. }
            | Entry::Reached { .. }
            | Entry::Supply { .. }
            | Entry::WentOn { .. }
            | Entry::Ended { .. } => oracle.digest.bytes(format!("{entry:?}").as_bytes()),
        }
    }

    fn reading(&mut self, now: Moment, reading: &ReadingEntry, oracle: &mut Oracle) {
        self.readings += 1;
        if self.plant == Plant::ReadingsAreLost && !self.readings.is_multiple_of(5) {
            return;
        }
        oracle.reading(now, reading.at);
        for word in [
            reading.at.s(),
            reading.current.unwrap_or_default().a(),
            reading.voltage.unwrap_or_default().v(),
            reading.charge.c(),
            reading.thickness.m(),
        ] {
            oracle.digest.word(word.to_bits());
        }
    }

    pub(super) fn commit(&mut self, now: Moment, ticket: Ticket) {
        let begins = self.busy_until.max(now);
        // What waits is written together.
        let joins = self.answers.back().filter(|last| last.begins > now);
        let (begins, at) =
            joins.map_or((begins, begins + self.takes), |last| (last.begins, last.at));
        self.busy_until = at;
        let good = !self.refuses_commits && !std::mem::take(&mut self.lost);
        let allowed = self.allowed.take();
        if !good {
            let same = self.answers.iter_mut().rev();
            let same = same.take_while(|other| other.begins == begins);
            same.for_each(|other| other.good = false);
        }
        self.answers.push_back(Answer {
            begins,
            at,
            ticket,
            good,
            allowed,
        });
    }

    /// The next answer; what it makes durable is durable from now on.
    pub(super) fn answer(&mut self, oracle: &mut Oracle) -> Option<Input> {
        let answer = self.answers.pop_front()?;
        if !answer.good {
            return Some(Input::LedgerFailed("there is no room".to_owned()));
        }
        if let Some(allowed) = answer.allowed
            && self.plant != Plant::LedgerPromises
        {
            oracle.durable(allowed);
        }
        Some(Input::Committed(answer.ticket))
    }
}
