//! Now and then the setpoint steps down for one reading: a meter that follows is alive, and the
//! slope of voltage over current tells how much surface takes part.

use super::blind::frozen_a;
use super::night::Night;
use super::state::State;
use super::watch::{Step, limit};
use crate::exchange::{Mode, Reading};
use crate::units::{Current, Moment, Span, Voltage};

/// In a strike on paint copper spreads by the minute.
const SPREADING: (Span, f64) = (Span::from_min(2.0), 0.30);
/// Elsewhere the meter alone is tried.
const CALM: (Span, f64) = (Span::from_min(10.0), 0.05);
/// After a step that did not show, the next follows within this.
const SOON: Span = Span::from_s(10.0);
/// A supply that may not be set more often than this is left alone.
const PATIENCE: Span = Span::from_s(10.0);

/// Where the trying stands.
#[derive(Clone, Copy, Debug)]
pub(super) struct Probe {
    due: Moment,
    before: Option<(Current, Current, Voltage)>,
}

impl Probe {
    pub(super) fn new(now: Moment) -> Self {
        Self {
            due: now + SPREADING.0,
            before: None,
        }
    }

    /// True while the setpoint is down for a reading.
    pub(super) const fn is_down(&self) -> bool {
        self.before.is_some()
    }

    /// Gives the step up; what the setpoint should be follows by itself.
    pub(super) fn give_up(&mut self) {
        self.before = None;
    }

    /// The setpoint to step down to, if it is time and this settled reading can be compared with.
    pub(super) fn begin(
        &mut self,
        night: &Night,
        now: Moment,
        state: State,
        reading: &Reading,
        set: Current,
    ) -> Option<Current> {
        if now < self.due || night.supply.least_set_interval > PATIENCE {
            return None;
        }
        let (current, voltage) = (reading.current?, reading.voltage?);
        let held = match reading.mode {
            Some(mode) => mode == Mode::ConstantCurrent,
            None => voltage < night.plan.limits.voltage * 0.97,
        };
        let low = night.stepper.below(set, deep(night, state, set)?);
        if !held || low <= Current::ZERO {
            return None;
        }
        self.before = Some((set, current, voltage));
        Some(low)
    }

    /// The reading in the step: what the step did. The next is due after a while.
    pub(super) fn end(
        &mut self,
        night: &Night,
        now: Moment,
        state: State,
        reading: &Reading,
        set: Current,
    ) -> Option<Step> {
        let (was, current, voltage) = self.before.take()?;
        self.due = now + pace(night, state).0;
        Some(Step {
            set: [was, set],
            current: [current, reading.current?],
            voltage: [voltage, reading.voltage?],
        })
    }

    /// The next step follows soon.
    pub(super) fn hurry(&mut self, now: Moment) {
        self.due = now + SOON;
    }
}

/// How often, and how deep.
fn pace(night: &Night, state: State) -> (Span, f64) {
    let painted = night
        .plan
        .pieces
        .iter()
        .any(|piece| piece.hangs && piece.cover.whole_after() > Span::ZERO);
    if painted && state == State::Striking {
        SPREADING
    } else {
        CALM
    }
}

/// How deep a step must be to show on this meter, A; `None` where that is too deep for the job.
fn deep(night: &Night, state: State, set: Current) -> Option<f64> {
    let deep = (pace(night, state).1 * set.a()).max(frozen_a(&night.supply));
    (deep <= limit::DEEPEST_STEP * set.a()).then_some(deep)
}
