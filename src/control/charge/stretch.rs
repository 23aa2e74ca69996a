//! What flows between two samples of the current.

use crate::units::{Bounded, Charge, Current, Moment, Span};

/// What can hide between two readings of an undisturbed output, as a share of the charge between
/// them.
const BETWEEN_READINGS: f64 = 0.001;

/// One timed value of the current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Sample {
    pub(super) at: Moment,
    pub(super) slack: Span,
    pub(super) current: Bounded<Current>,
    /// By how much the truth can be below and above that if either the meter or the setting is
    /// worse than it states.
    pub(super) beyond: [Current; 2],
    /// It is what was set: the supply holds the current.
    pub(super) held: bool,
}

/// What a reading leaves open that shows neither what stood before a step nor what was commanded:
/// it, or all that stood before it, can have flowed at any time since the last sample.
pub(super) struct Open {
    /// The least and the most of it.
    current: Bounded<Current>,
    pub(super) charge: Bounded<Charge>,
    at: Moment,
    /// A supply that sits at its voltage before and after has its current from the cell: what is
    /// commanded never flows.
    free: bool,
}

impl Open {
    pub(super) fn new(last: Sample, now: Sample) -> Self {
        let mut it = Self {
            current: last.current,
            charge: Bounded::default(),
            at: last.at,
            free: false,
        };
        it.step(now.current);
        it.free = !last.held && !now.held;
        it
    }

    pub(super) fn step(&mut self, to: Bounded<Current>) {
        if !self.free {
            self.current.low = self.current.low.min(to.low);
            self.current.high = self.current.high.max(to.high);
        }
    }

    pub(super) fn until(&mut self, at: Moment) {
        let span = at.since(self.at);
        self.charge.low += self.current.low * span;
        self.charge.high += self.current.high * span;
        self.at = at;
    }
}

/// Charge between two samples: the trapezoid, with the meter's limits, the slack of their times and
/// what can hide between readings. Where the two differ by more than the limits allow, the change
/// can have come at any time between them.
pub(super) fn between(a: Sample, b: Sample) -> Bounded<Charge> {
    let span = b.at.since(a.at);
    let mean = |x: Current, y: Current| (x + y) * 0.5 * span;
    let hidden = mean(a.current.best, b.current.best) * BETWEEN_READINGS;
    let change = (b.current.best - a.current.best).abs();
    let open = hidden + change * (a.slack + b.slack);
    let mut charge = Bounded {
        low: mean(a.current.low, b.current.low) - open,
        best: mean(a.current.best, b.current.best),
        high: mean(a.current.high, b.current.high) + open,
    };
    let half = |current: Bounded<Current>| (current.high - current.low) * 0.5;
    if change > half(a.current) + half(b.current) {
        charge.low = charge.low.min(a.current.low.min(b.current.low) * span);
        charge.high = charge.high.max(a.current.high.max(b.current.high) * span);
    }
    charge
}
