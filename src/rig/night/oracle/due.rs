//! What must be followed by off, and by when.

use super::RECOVERS;
use crate::rig::night::mishap::{Class, Deed, Host, Ledger, Mishap};
use crate::units::{Moment, Span};

/// A standstill no longer than this needs no way back.
const BRIEF: Span = Span::from_s(3.0);

/// After this something was committed, though a trouble on the line has held it up.
const COMMITS_WITHIN: Span = Span::from_s(20.0);

/// Something that must be followed by off.
#[derive(Clone, Copy, Debug)]
pub(super) struct Due {
    pub(super) class: &'static str,
    pub(super) since: Moment,
    pub(super) by: Moment,
    /// When it is over by itself, where only its going on asks for off.
    ends: Option<Moment>,
    /// The ledger tells of it.
    of_ledger: bool,
}

/// All of it.
#[derive(Clone, Debug, Default)]
pub(super) struct Dues {
    list: Vec<Due>,
    /// The computer stands still until then: neither daemon nor keeper can do anything.
    still_until: Option<Moment>,
    /// The longest that a commit takes.
    commits_take: Span,
}

impl Dues {
    /// A ledger that is slow refuses only what it has come to.
    pub(super) fn slows(&mut self, now: Moment, mishap: &Mishap) {
        if mishap.class == Class::LedgerSlow {
            // Another pace before anything was committed at the first one.
            let met = |due: &Due| now.since(due.since) > COMMITS_WITHIN;
            self.list
                .retain(|due| due.class != Class::LedgerSlow.word() || met(due));
        }
        for (_, deed) in &mishap.deeds {
            if let Deed::Ledger(Ledger::Takes(span)) = deed {
                self.commits_take = self.commits_take.max(*span);
                for due in self.list.iter_mut().filter(|due| due.of_ledger) {
                    due.by = due.by + *span * 2.0;
                }
            }
        }
    }

    /// What the computer cannot do while it stands still is due when it goes on; a silence that is
    /// over by then has not been seen.
    pub(super) fn stands_still(&mut self, now: Moment, mishap: &Mishap) {
        let longest = mishap.deeds.iter().filter_map(|(after, deed)| match deed {
            Deed::Host(Host::Stalls(ms) | Host::Sleeps(ms, _)) => {
                Some(now + *after + Span::from_ms(f64::from(*ms)))
            }
            _ => None,
        });
        let Some(until) = longest.reduce(Moment::max) else {
            return;
        };
        self.still_until = Some(self.still_until.map_or(until, |before| before.max(until)));
        self.list
            .retain(|due| due.by <= now || due.ends.is_none_or(|ends| ends > until));
        for due in self.list.iter_mut().filter(|due| due.by > now) {
            let still = until.since(now);
            due.by = if still > BRIEF {
                due.by.max(until + RECOVERS)
            } else {
                due.by + still
            };
        }
    }

    /// Daemon and keeper stand still at this moment.
    pub(super) fn is_still(&self, now: Moment) -> bool {
        self.still_until.is_some_and(|until| now <= until)
    }

    /// Off is due within so long from a moment on.
    pub(super) fn add(&mut self, now: Moment, mishap: &Mishap, from: Moment) {
        let Some(mut within) = mishap.off_within else {
            return;
        };
        let of_ledger = matches!(mishap.class, Class::EntriesRefused | Class::CommitsRefused);
        if of_ledger {
            within += self.commits_take * 2.0;
        }
        let passes = matches!(mishap.class, Class::Silence | Class::Unplugged);
        let ends = passes.then(|| now + mishap.lasts);
        let still = self.still_until.filter(|until| *until > now);
        if still.is_some_and(|until| ends.is_some_and(|ends| ends <= until)) {
            return;
        }
        let from = still.map_or(from, |until| from.max(until + RECOVERS));
        self.list.push(Due {
            class: mishap.class.word(),
            since: now,
            by: from + within,
            ends,
            of_ledger,
        });
    }

    /// One that is late.
    pub(super) fn late(&self, now: Moment) -> Option<Due> {
        self.list.iter().find(|due| due.by < now).copied()
    }

    /// Off was sent: none is due any more.
    pub(super) fn settle(&mut self) -> Vec<Due> {
        std::mem::take(&mut self.list)
    }
}
