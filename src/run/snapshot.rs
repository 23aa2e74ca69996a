//! All that any view may show of a run, as plain data.

use crate::control::{Fault, State, limit};
use crate::ledger::RunId;
use crate::units::{Area, Bounded, Charge, Current, Length, Mass, Moment, Span, Voltage};

/// A run, or a station at rest, at one moment.
#[derive(Clone, Debug, PartialEq)]
pub struct Snapshot {
    /// When it was taken, on the run's clock.
    pub now: Moment,
    /// The station's name.
    pub station: String,
    /// The state.
    pub state: State,
    /// Since when, on the run's clock; `None` where nothing of this daemon entered it.
    pub state_since: Option<Moment>,
    /// The run's number.
    pub run: Option<RunId>,
    /// The job's name.
    pub job: Option<String>,
    /// Whether the output is on, as far as the last reading or acknowledged order says.
    pub output_on: Option<bool>,
    /// Measured current.
    pub current: Option<Current>,
    /// The setpoint that stands.
    pub setpoint: Option<Current>,
    /// Measured voltage.
    pub voltage: Option<Voltage>,
    /// Charge delivered.
    pub charge: Bounded<Charge>,
    /// Mean thickness of the piece that governs the end.
    pub thickness: Length,
    /// The target thickness, where the job has one.
    pub target: Option<Length>,
    /// Share of the way to the goal.
    pub progress: f64,
    /// Time until the goal at the schedule's currents; `None` while it is not advancing.
    pub time_left: Option<Span>,
    /// How long the run has gone on.
    pub elapsed: Span,
    /// Time with the output on.
    pub time_on: Span,
    /// What guards have said and nobody has cleared.
    pub alarms: Vec<Alarm>,
    /// The pieces.
    pub pieces: Vec<PieceState>,
    /// The hangers.
    pub hangers: Vec<PieceState>,
    /// Who the supply says it is.
    pub identity: Option<String>,
    /// When the last usable reply came.
    pub last_reply: Option<Moment>,
    /// The relay in the output lead was let go since off could not be confirmed, and off is not
    /// confirmed yet.
    pub cut: bool,
}

impl Snapshot {
    /// When the last usable reply came, where that is so long ago that it says nothing of now.
    #[must_use]
    pub fn long_ago(&self) -> Option<Moment> {
        self.last_reply
            .filter(|last| self.now.since(*last).s() > limit::PAUSE_STALE_S)
    }
}

/// A guard that spoke.
#[derive(Clone, Debug, PartialEq)]
pub struct Alarm {
    /// The guard.
    pub fault: Fault,
    /// Its evidence.
    pub text: String,
    /// When it spoke, on the run's clock.
    pub since: Moment,
}

/// One electrode.
#[derive(Clone, Debug, PartialEq)]
pub struct PieceState {
    /// Its name.
    pub name: String,
    /// Charge through it.
    pub charge: Bounded<Charge>,
    /// Metal on it.
    pub mass: Mass,
    /// Mean thickness on it with its 95 % interval.
    pub thickness: Bounded<Length>,
    /// Its area as it stands.
    pub area: Area,
    /// It hangs in the bath; false for a piece that was lifted out of the run.
    pub hangs: bool,
}
