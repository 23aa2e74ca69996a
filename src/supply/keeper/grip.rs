//! The grip on the relay in the output lead: whether its line may be toggled now. Who decides only
//! sets it, who toggles only looks, and neither waits for the other.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// Off that is not confirmed within this lets the relay go.
pub const CUT_AFTER: Duration = Duration::from_secs(5);
/// What must end, however it comes about, is cut within this: off tried, and the relay open.
pub const CUT_BY: Duration = Duration::from_secs(10);

/// Nothing is late that a busy machine may do, even where simulated time runs fast.
const BUSY: Duration = Duration::from_millis(250);

/// After so long without an edge a relay that opens within a time may have opened: half of that
/// time, since nobody knows how much sooner than stated it does.
#[must_use]
pub fn late(opens_within: Duration) -> Duration {
    (opens_within / 2).max(BUSY)
}

/// The grip on a relay. It opens by itself when its time is over.
#[derive(Debug)]
pub struct Grip {
    base: Instant,
    wanted: AtomicBool,
    /// Nanoseconds from `base`; nothing is held from then on.
    until: AtomicU64,
}

impl Grip {
    /// An open one; `base` is before every moment that it is told of.
    #[must_use]
    pub fn new(base: Instant) -> Arc<Self> {
        Arc::new(Self {
            base,
            wanted: AtomicBool::new(false),
            until: AtomicU64::new(0),
        })
    }

    /// Somebody wants it closed, or open.
    pub fn want(&self, closed: bool) {
        self.wanted.store(closed, Ordering::SeqCst);
    }

    /// It may be closed until then; `None`: not at all.
    pub fn allow(&self, until: Option<Instant>) {
        let until = until.map_or(0, |until| self.count(until));
        self.until.store(until, Ordering::SeqCst);
    }

    /// It may not be closed any longer than until then.
    pub fn no_longer_than(&self, until: Instant) {
        self.until.fetch_min(self.count(until), Ordering::SeqCst);
    }

    /// True if its line may be toggled.
    #[must_use]
    pub fn holds(&self, now: Instant) -> bool {
        let allowed = self.count(now) < self.until.load(Ordering::SeqCst);
        allowed && self.wanted.load(Ordering::SeqCst)
    }

    fn count(&self, at: Instant) -> u64 {
        let since = at.saturating_duration_since(self.base).as_nanos();
        u64::try_from(since).unwrap_or(u64::MAX)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_holds_only_while_it_is_wanted_and_allowed() {
        let base = Instant::now();
        let at = |s: u64| base + Duration::from_secs(s);
        let grip = Grip::new(base);
        assert!(!grip.holds(at(1)));
        grip.want(true);
        assert!(!grip.holds(at(1)), "wanted is not allowed");
        grip.allow(Some(at(5)));
        assert!(grip.holds(at(4)) && !grip.holds(at(5)));
        grip.no_longer_than(at(7));
        assert!(!grip.holds(at(5)), "an end never moves away");
        grip.no_longer_than(at(3));
        assert!(grip.holds(at(2)) && !grip.holds(at(3)));
        grip.want(false);
        assert!(!grip.holds(at(2)));
        grip.want(true);
        grip.allow(None);
        assert!(!grip.holds(at(0)));
    }
}
