//! The contact of a cut-off relay in the output lead: a one-shot that every edge starts anew holds
//! it closed.

use super::Cell;
use crate::units::{Moment, Span};

/// Far beyond any night.
const ALWAYS: Moment = Moment::from_ns(u64::MAX);

/// What happens to a relay.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum RelayDeed {
    /// An edge comes on its line.
    Edge,
    /// Edges come again and again from now on.
    Held,
    /// The last edge has come.
    LetGo,
    /// Something is wrong with it, or it is mended.
    Ails(Option<RelayAil>),
}

/// What can be wrong with a relay.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RelayAil {
    /// Its contact has welded: it is closed for good.
    Welded,
    /// Its contact is burnt away: it closes no circuit.
    Burnt,
    /// Its one-shot is dead: no edge starts it any more.
    Dead,
}

/// The relay.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Relay {
    holds: Span,
    /// Closed until then.
    until: Moment,
    ails: Option<RelayAil>,
}

impl Relay {
    /// One that holds so long after an edge, and none has come yet.
    pub(super) const fn new(holds: Span) -> Self {
        Self {
            holds,
            until: Moment::ZERO,
            ails: None,
        }
    }

    fn is_closed(&self, now: Moment) -> bool {
        match self.ails {
            Some(RelayAil::Welded) => true,
            Some(RelayAil::Burnt) => false,
            Some(RelayAil::Dead) | None => now < self.until,
        }
    }

    fn takes(&mut self, now: Moment, deed: RelayDeed) {
        let holds = now + self.holds;
        match (deed, self.ails) {
            (RelayDeed::Ails(ails), _) => self.ails = ails,
            // What it still has runs out by itself.
            (RelayDeed::LetGo, _) => self.until = self.until.min(holds),
            (RelayDeed::Edge | RelayDeed::Held, Some(RelayAil::Dead)) => {}
            (RelayDeed::Edge, _) => self.until = holds,
            (RelayDeed::Held, _) => self.until = ALWAYS,
        }
        if self.ails == Some(RelayAil::Dead) {
            self.until = self.until.min(holds);
        }
    }
}

impl Cell {
    /// Something happens to the relay in its lead, if there is one.
    pub fn relay(&mut self, deed: RelayDeed) {
        let now = self.now;
        if let Some(relay) = &mut self.relay {
            relay.takes(now, deed);
        }
        self.contact_moves();
    }

    /// True if a relay holds the lead open.
    #[must_use]
    pub fn is_cut(&self) -> bool {
        self.relay_open
    }

    /// When the relay opens by itself, if that is before this moment.
    pub(super) fn opens_before(&self, to: Moment) -> Option<Moment> {
        let relay = self.relay.filter(|_| !self.relay_open)?;
        (!relay.is_closed(to) && relay.until > self.now).then_some(relay.until)
    }

    /// Opens or closes the lead as the relay is now.
    pub(super) fn contact_moves(&mut self) {
        let open = self.relay.is_some_and(|relay| !relay.is_closed(self.now));
        if open == self.relay_open {
            return;
        }
        self.book();
        self.relay_open = open;
        if open {
            self.amps = 0.0;
        }
        self.must_solve = true;
        self.settle();
    }
}
