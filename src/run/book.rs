//! What the ledger has been asked to make durable and has not answered yet.

use super::Habits;
use crate::control::Envelope;
use crate::ledger::Ticket;
use crate::units::{Moment, Span};
use std::collections::VecDeque;

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
}

impl Book {
    pub(super) fn new(now: Moment, habits: Habits) -> Self {
        Self {
            habits,
            next: 1,
            pending: VecDeque::new(),
            written: now,
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
    pub(super) fn committed(&mut self, ticket: Ticket) -> Option<Envelope> {
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

    /// How long the oldest commit has waited, if that is too long.
    pub(super) fn late(&self, now: Moment) -> Option<Span> {
        let waited = now.since(self.pending.front()?.since);
        (waited >= self.habits.ledger_patience).then_some(waited)
    }

    /// When the oldest commit becomes late.
    pub(super) fn deadline(&self) -> Option<Moment> {
        self.pending
            .front()
            .map(|first| first.since + self.habits.ledger_patience)
    }
}
