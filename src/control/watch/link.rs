//! How the link to the supply behaves.

use super::electrical::plausible;
use super::{Sees, Sight, from, limit, news};
use crate::exchange::LinkFault;
use crate::units::Moment;
use std::collections::VecDeque;

/// What is remembered of the link.
#[derive(Clone, Debug)]
pub(super) struct Link {
    /// When the last usable reading came.
    good: Moment,
    /// When anything came at all, rubbish included.
    heard: Moment,
    /// When replies were asked for again, and how many.
    repeats: VecDeque<(Moment, u32)>,
}

impl Link {
    pub(super) fn new(now: Moment) -> Self {
        Self {
            good: now,
            heard: now,
            repeats: VecDeque::new(),
        }
    }

    pub(super) const fn heard(&self) -> Moment {
        self.heard
    }

    pub(super) fn answered(&mut self, now: Moment) {
        self.heard = now;
    }

    pub(super) fn measures_nothing(&mut self, now: Moment) {
        self.heard = now;
        self.good = now;
    }

    pub(super) fn failed(&mut self, now: Moment, fault: &LinkFault) {
        match fault {
            LinkFault::Garbled(_) => {
                self.heard = now;
                self.repeats.push_back((now, limit::FAILED_COUNTS));
            }
            LinkFault::Silent => self.repeats.push_back((now, limit::FAILED_COUNTS)),
            LinkFault::Refused(_) | LinkFault::Stranger(_) => self.heard = now,
            LinkFault::PortLost(_) | LinkFault::Forbidden(_) | LinkFault::KeeperLost => {}
        }
    }

    /// Notes what a reading says of the link it came over.
    pub(super) fn note(&mut self, sight: &Sight<'_>) {
        while let Some((at, _)) = self.repeats.front()
            && sight.now.since(*at).s() > limit::REPEATS_S
        {
            self.repeats.pop_front();
        }
        let Some(reading) = sight.reading else { return };
        self.heard = sight.now;
        if reading.repeated > 0 {
            let count = u32::from(reading.repeated);
            self.repeats.push_back((sight.now, count));
        }
        if plausible(reading, sight.supply) {
            self.good = sight.now;
        }
    }

    /// While nothing comes at all the station's allowance counts, not this.
    pub(super) fn stale(&self, sight: &Sight<'_>) -> Sees {
        let comes = sight.now.since(self.heard).s() <= limit::STALE_S;
        from(comes && sight.now.since(self.good).s() > limit::STALE_S)
    }

    pub(super) fn lost(&self, sight: &Sight<'_>) -> Sees {
        from(sight.now.since(self.heard) > sight.bounds.link_allowance)
    }

    pub(super) fn garbled(&self) -> Sees {
        from(self.repeated() > limit::REPEATS)
    }

    /// How many replies were asked for again of late.
    pub(super) fn repeated(&self) -> u32 {
        self.repeats.iter().map(|(_, count)| count).sum()
    }

    /// When the last usable reading came.
    pub(super) const fn good(&self) -> Moment {
        self.good
    }
}

pub(super) fn late(sight: &Sight<'_>) -> Sees {
    news(sight.reading, |_| sight.took > sight.period)
}
