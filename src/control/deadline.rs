//! Every timer of control in one table.

use crate::units::Moment;

/// What a timer is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Deadline {
    /// When to take the next reading.
    Period,
    /// When the goal is reached, by the controller's own charge.
    Goal,
    /// When to send off again, or to ask again for its proof.
    OffAgain,
    /// When the relay is let go, off not being confirmed.
    Cut,
    /// When a hold has lasted as long as the job allows.
    HoldEnd,
}

const COUNT: usize = 5;

/// The table: at most one moment for each timer.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Deadlines([Option<Moment>; COUNT]);

impl Deadlines {
    const ORDER: [Deadline; COUNT] = [
        Deadline::Goal,
        Deadline::HoldEnd,
        Deadline::Cut,
        Deadline::OffAgain,
        Deadline::Period,
    ];

    const fn slot(deadline: Deadline) -> usize {
        match deadline {
            Deadline::Goal => 0,
            Deadline::HoldEnd => 1,
            Deadline::OffAgain => 2,
            Deadline::Period => 3,
            Deadline::Cut => 4,
        }
    }

    /// Sets a timer.
    pub(super) fn set(&mut self, deadline: Deadline, at: Moment) {
        self.0[Self::slot(deadline)] = Some(at);
    }

    /// When a timer is due.
    #[must_use]
    pub(super) fn at(&self, deadline: Deadline) -> Option<Moment> {
        self.0[Self::slot(deadline)]
    }

    /// Forgets a timer.
    pub(super) fn clear(&mut self, deadline: Deadline) {
        self.0[Self::slot(deadline)] = None;
    }

    /// Forgets them all.
    pub(super) fn clear_all(&mut self) {
        self.0 = [None; COUNT];
    }

    /// The earliest moment in the table.
    #[must_use]
    pub(super) fn next(&self) -> Option<Moment> {
        self.0.iter().flatten().min().copied()
    }

    /// Takes out one timer that is due; the goal comes before everything.
    pub(super) fn take_due(&mut self, now: Moment) -> Option<Deadline> {
        let due = Self::ORDER
            .into_iter()
            .find(|d| self.0[Self::slot(*d)].is_some_and(|at| at <= now))?;
        self.clear(due);
        Some(due)
    }
}
