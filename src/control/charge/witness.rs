//! Two witnesses of one current: what was set, and what is read.

use crate::exchange::{Capability, Tolerance};
use crate::units::{Bounded, Current};

/// Nothing is beyond what is stated.
pub(super) const TRUE: [Current; 2] = [Current::ZERO; 2];

/// How far each of them may be off.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tolerances {
    set: Tolerance,
    pub(super) read: Tolerance,
}

impl Tolerances {
    pub(super) fn of(supply: &Capability) -> Self {
        Self {
            set: supply.set_current,
            read: supply.read_current,
        }
    }

    /// The interval around a setpoint that is held.
    pub(super) fn around_set(&self, set: Current) -> Bounded<Current> {
        around(set, self.set.half_width(set.a()))
    }

    /// Setpoint and readback combined by their stated limits: in constant current both hold, so the
    /// truth is where they overlap. And by how much it can be beyond that if only one holds.
    pub(super) fn best_of(
        &self,
        measured: Current,
        set: Current,
        held: bool,
    ) -> (Bounded<Current>, [Current; 2]) {
        let read = around(measured, self.read.half_width(measured.a()));
        let commanded = self.around_set(set);
        if !held {
            // The cell takes what it takes, but a supply gives no more than is set: either the
            // meter is wrong, and then it says nothing, or the setting is.
            let false_one = read.low > commanded.high;
            let low = if false_one { Current::ZERO } else { read.low };
            return (Bounded { low, ..read }, TRUE);
        }
        let low = read.low.max(commanded.low);
        let high = read.high.min(commanded.high);
        let (lowest, highest) = (read.low.min(commanded.low), read.high.max(commanded.high));
        if low > high {
            // One of the two lies, and nobody knows which.
            let best = read.best;
            let (low, high) = (lowest, highest);
            return (Bounded { low, best, high }, TRUE);
        }
        let narrower = if commanded.high - commanded.low < read.high - read.low {
            set
        } else {
            measured
        };
        let best = narrower.max(low).min(high);
        let apart = !(read.low..=read.high).contains(&set)
            && !(commanded.low..=commanded.high).contains(&measured);
        // Both are right only if each is off by nearly all it may be, and to different sides. More
        // likely one is worse than it states, and the meter has seen what the other only wanted.
        let (low, high) = if apart {
            (read.low, read.high)
        } else {
            (low, high)
        };
        (Bounded { low, best, high }, [low - lowest, highest - high])
    }
}

fn around(value: Current, half: f64) -> Bounded<Current> {
    let half = Current::from_a(half);
    Bounded {
        low: (value - half).max(Current::ZERO),
        best: value.max(Current::ZERO),
        high: value + half,
    }
}
