//! The setpoint under way: when it was ordered and taken, and whether the supply has missed it.

use crate::exchange::{Capability, Reading};
use crate::units::{Current, Moment, Span};

/// What is known of the setpoint that was sent last.
#[derive(Clone, Copy, Debug)]
pub(super) struct Setting {
    under_way: bool,
    /// The last one came to nothing, or may have been lost: nobody knows which one stands.
    unsure: bool,
    ordered: Moment,
    taken: Moment,
    took: Span,
    /// The supply has told since that it holds it.
    confirmed: bool,
}

impl Setting {
    /// Nothing is under way. A command is expected to take so long.
    pub(super) const fn new(now: Moment, took: Span) -> Self {
        Self {
            under_way: false,
            unsure: false,
            ordered: now,
            taken: now,
            took,
            confirmed: false,
        }
    }

    /// One is under way.
    pub(super) fn order(&mut self, now: Moment) {
        self.under_way = true;
        self.ordered = now;
    }

    /// The supply took it, by an exchange between these two moments, as far as anybody can tell.
    pub(super) fn taken(&mut self, sent: Moment, received: Moment) {
        (self.under_way, self.unsure, self.confirmed) = (false, false, false);
        (self.taken, self.took) = (received, received.since(sent));
    }

    /// It came to nothing.
    pub(super) fn failed(&mut self) {
        (self.under_way, self.unsure) = (false, true);
    }

    /// It may have gone the way of a reply.
    pub(super) fn doubt(&mut self) {
        self.unsure = true;
    }

    pub(super) const fn is_under_way(&self) -> bool {
        self.under_way
    }

    pub(super) const fn is_unsure(&self) -> bool {
        self.unsure
    }

    /// When it was ordered.
    pub(super) const fn ordered(&self) -> Moment {
        self.ordered
    }

    /// How long the last command took.
    pub(super) const fn took(&self) -> Span {
        self.took
    }

    /// This reading can be judged by it: while a new setpoint is on its way, the old one is not
    /// what should be read back.
    pub(super) fn is_settled(&self, reading: &Reading, settle: Span) -> bool {
        !self.under_way && !self.unsure && reading.sent.since(self.taken) > settle
    }

    /// A reading that can be judged by it. If the supply has not held this setpoint since it was
    /// sent, the line has lost the command, or a digit of it, without a trace: it is to be said
    /// again. Who turns a knob does so when it was held.
    pub(super) fn read_back(&mut self, reading: &Reading, set: Current, supply: &Capability) {
        if let Some(held) = reading.set_current {
            self.confirmed |= supply.holds(held, set);
            self.unsure |= !self.confirmed;
        }
    }
}
