//! What the ledger has been asked to make durable and has not answered yet.

use super::Habits;
use crate::control::Envelope;
use crate::ledger::Ticket;
use crate::units::{Moment, Span};
use std::collections::VecDeque;

/// A commit that has waited this long is worth a word to the guards: a moment after their limit.
const SLOW: Span = Span::from_ms(5100.0);

/// A commit that has not been answered.
#[derive(Clone, Copy, Debug)]
struct Pending {
    ticket: Ticket,
    since: Moment,
    envelope: Option<Envelope>,
}

/// The run's side of the ledger's promises.
#[derive(Debug)]
pub(super) struct Book {
    habits: Habits,
    next: u64,
    pending: VecDeque<Pending>,
    written: Moment,
    /// When the ledger last answered: while it does, one commit after the other, it writes.
    answered: Moment,
    /// The newest commit of whose waiting the guards were told.
    told: Option<Ticket>,
}

impl Book {
    pub(super) fn new(now: Moment, habits: Habits) -> Self {
        Self {
            habits,
            next: 1,
            pending: VecDeque::new(),
            written: now,
            answered: now,
            told: None,
        }
    }

    /// A new ticket; with an envelope if something waits for it.
    pub(super) fn ticket(&mut self, now: Moment, envelope: Option<Envelope>) -> Ticket {
        let ticket = Ticket(self.next);
        self.next += 1;
        self.written = now;
        self.pending.push_back(Pending {
            ticket,
            since: now,
            envelope,
        });
        ticket
    }

    /// This ticket, and all before it, are durable. The newest envelope among them stands.
    pub(super) fn committed(&mut self, now: Moment, ticket: Ticket) -> Option<Envelope> {
        self.answered = now;
        let mut stands = None;
        while self
            .pending
            .front()
            .is_some_and(|first| first.ticket <= ticket)
        {
            let done = self.pending.pop_front()?;
            stands = done.envelope.or(stands);
        }
        stands
    }

    /// The ledger has been given up: nothing is waited for any more.
    pub(super) fn failed(&mut self) {
        self.pending.clear();
    }

    /// True if readings have waited long enough, and the ledger is not still busy with the last
    /// ones.
    pub(super) fn due(&self, now: Moment) -> bool {
        self.pending.is_empty() && now.since(self.written) >= self.habits.batch
    }

    /// Since when the ledger has been at the oldest commit: what was asked for before it is done.
    fn at_it_since(&self) -> Option<Moment> {
        let first = self.pending.front()?;
        Some(first.since.max(self.answered))
    }

    /// How long the ledger has been at the oldest commit, if that is too long.
    pub(super) fn late(&self, now: Moment) -> Option<Span> {
        let takes = now.since(self.at_it_since()?);
        (now >= self.deadline()?).then_some(takes)
    }

    /// How long the oldest commit has waited, once, when that is worth a word to the guards.
    pub(super) fn slow(&mut self, now: Moment) -> Option<Span> {
        let first = self.pending.front()?;
        if now < first.since + SLOW || self.told >= Some(first.ticket) {
            return None;
        }
        self.told = Some(first.ticket);
        Some(now.since(first.since))
    }

    /// True, once, when the commit of whose waiting the guards were told has been answered.
    pub(super) fn quick_again(&mut self) -> bool {
        let waits = |told| {
            self.pending
                .front()
                .is_some_and(|first| first.ticket <= told)
        };
        let over = self.told.is_some_and(|told| !waits(told));
        if over {
            self.told = None;
        }
        over
    }

    /// When the oldest commit is worth a word.
    pub(super) fn slow_at(&self) -> Option<Moment> {
        let first = self.pending.front()?;
        (self.told < Some(first.ticket)).then_some(first.since + SLOW)
    }

    /// When the oldest commit becomes late.
    pub(super) fn deadline(&self) -> Option<Moment> {
        let since = self.at_it_since()?;
        Some(since + self.habits.ledger_patience)
    }
}
