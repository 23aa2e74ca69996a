//! Turns a wanted current into setpoints the supply can hold.

use crate::exchange::Capability;
use crate::units::{Current, Moment, Span};

/// Between these two, rounding to the nearest step is good enough; below, two steps are taken in
/// turn.
const DITHER_BELOW_STEPS: f64 = 200.0;

/// Chooses setpoints: multiples of the supply's step, no faster than it allows, and on average what
/// is wanted.
#[derive(Clone, Debug)]
pub struct Stepper {
    step: f64,
    least_interval: Span,
    set: Option<(Moment, Current)>,
    owed: f64,
    looked: Moment,
}

impl Stepper {
    /// For a supply, with nothing set yet.
    #[must_use]
    pub fn new(supply: &Capability) -> Self {
        Self {
            step: supply.set_current.step,
            least_interval: supply.least_set_interval,
            set: None,
            owed: 0.0,
            looked: Moment::ZERO,
        }
    }

    /// What stands, by the last [`Stepper::took`].
    #[must_use]
    pub fn standing(&self) -> Option<Current> {
        self.set.map(|(_, current)| current)
    }

    /// The supply took a setpoint.
    pub fn took(&mut self, now: Moment, current: Current) {
        self.set = Some((now, current));
        self.looked = now;
    }

    /// Nothing stands any more: the output is off.
    pub fn forget(&mut self) {
        self.set = None;
        self.owed = 0.0;
    }

    /// The setpoint to send now, if it is time for another one. It is never above `most`.
    pub fn next(&mut self, now: Moment, wanted: Current, most: Current) -> Option<Current> {
        let wanted = wanted.min(most);
        let Some((at, standing)) = self.set else {
            self.looked = now;
            return Some(self.at_most(self.round(wanted), most));
        };
        // What the standing setpoint has fallen short of, in ampere-seconds, is owed.
        self.owed += (wanted - standing).a() * now.since(self.looked).s();
        self.looked = now;
        if now.since(at) < self.least_interval {
            return None;
        }
        let choice = self.choose(wanted, standing);
        let chosen = self.at_most(choice, most);
        (chosen != standing).then_some(chosen)
    }

    /// The setpoint nearest to what is wanted, at least one step, whatever the interval: for a step
    /// that cannot wait. It never follows another one soon.
    #[must_use]
    pub fn at_once(&self, wanted: Current) -> Current {
        self.round(wanted.max(Current::from_a(self.step)))
    }

    /// The setpoint nearest to what is wanted and not above `most`, whatever stands: for when it is
    /// not known what does.
    #[must_use]
    pub fn afresh(&self, wanted: Current, most: Current) -> Current {
        self.at_most(self.round(wanted.min(most)), most)
    }

    /// A setpoint at least this far below what stands.
    #[must_use]
    pub fn below(&self, standing: Current, by: f64) -> Current {
        let step = self.step.max(1e-6);
        self.round(standing - Current::from_a((by / step).ceil() * step))
    }

    fn choose(&mut self, wanted: Current, standing: Current) -> Current {
        if self.step <= 0.0 {
            self.owed = 0.0;
            let far = (wanted - standing).abs().a() > wanted.a() * 1e-4;
            return if far { wanted } else { standing };
        }
        if wanted.a() > self.step * DITHER_BELOW_STEPS {
            self.owed = 0.0;
            // Two thirds of a step of slack keep the setpoint from hopping to and fro.
            let far = (wanted - standing).abs().a() > self.step * 0.67;
            return if far { self.round(wanted) } else { standing };
        }
        let below = (wanted.a() / self.step).floor() * self.step;
        let chosen = if self.owed > 0.0 {
            below + self.step
        } else {
            below
        };
        self.owed = self.owed.clamp(-self.step * 60.0, self.step * 60.0);
        self.exact(chosen)
    }

    fn round(&self, current: Current) -> Current {
        if self.step <= 0.0 {
            current
        } else {
            self.exact(current.a())
        }
    }

    fn at_most(&self, current: Current, most: Current) -> Current {
        if current <= most || self.step <= 0.0 {
            return current.min(most);
        }
        self.exact((most.a() / self.step + 1e-9).floor() * self.step)
    }

    /// A multiple of the step without the dust of earlier sums.
    fn exact(&self, ampere: f64) -> Current {
        Current::from_a((ampere / self.step).round() * self.step)
    }
}
