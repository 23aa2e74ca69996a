//! The relay's line, with whoever toggles it.

use crate::exchange::Contact;
use crate::supply::keeper::Grip;
use crate::units::Moment;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// The line of the relay.
#[derive(Debug)]
pub(super) struct Toggled {
    grip: Arc<Grip>,
    /// The moment zero, as the grip counts.
    base: Instant,
    held: bool,
    /// Its port is out.
    pub(super) pulled: bool,
    asleep_until: Moment,
    /// How long nothing was toggled that should have been, and from when on that counts.
    dozed: Duration,
    late: Duration,
    /// An edge could not be sent, or came too late.
    pub(super) lost: bool,
}

impl Toggled {
    /// A keeper takes over what was before.
    pub(super) fn new(
        grip: Arc<Grip>,
        base: Instant,
        late: Duration,
        before: Option<&Self>,
    ) -> Self {
        Self {
            grip,
            base,
            held: before.is_some_and(|it| it.held),
            pulled: before.is_some_and(|it| it.pulled),
            asleep_until: before.map_or(Moment::ZERO, |it| it.asleep_until),
            dozed: Duration::ZERO,
            late,
            lost: false,
        }
    }

    /// Nothing is toggled before this: the computer stands still.
    pub(super) fn sleeps(&mut self, now: Moment, until: Moment) {
        self.asleep_until = until;
        if self.held {
            self.dozed = Duration::from_secs_f64(until.since(now).s().max(0.0));
        }
    }

    /// The relay is held while its line is toggled: what it does now, if that is new.
    pub(super) fn contact(&mut self, now: Moment) -> Option<Contact> {
        let at = self.base + Duration::from_nanos(now.ns());
        let awake = now >= self.asleep_until;
        let wants = self.grip.holds(at) && awake;
        let fails = self.pulled || self.dozed > self.late;
        if awake {
            self.dozed = Duration::ZERO;
        }
        if wants && fails {
            self.grip.want(false);
            self.lost = true;
        }
        let holds = wants && !fails;
        let is_new = std::mem::replace(&mut self.held, holds) != holds;
        is_new.then_some(if holds { Contact::Hold } else { Contact::LetGo })
    }
}
