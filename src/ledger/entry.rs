//! What is written down: one entry for each thing that can be asked about afterwards.

use crate::control::{Envelope, Fault, Outcome, State};
use crate::exchange::Mode;
use crate::plan::Plan;
use crate::spec::{Job, Station, Target};
use crate::units::{Area, Bounded, Charge, Current, Length, Mass, Moment, Span, Voltage};

/// The number of a run in its ledger, from 1.
pub type RunId = i64;

/// The code of the event that a run went on after an interruption.
pub const WENT_ON: &str = "went-on";
/// The code of the event that a piece was hung into a run.
pub const HUNG: &str = "hung";
/// The code of the event that a piece was lifted out of a run.
pub const LIFTED: &str = "lifted";

/// What is known of a run before it begins.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RunHead {
    /// The job's name.
    pub job: String,
    /// The job file as it was read, whole.
    pub job_text: String,
    /// The station's name.
    pub station: String,
    /// The bath profile's name.
    pub bath: String,
    /// The bath of the station's tank, by its name in the ledger.
    pub bath_ledger: Option<String>,
    /// Whether the tank was stirred, by its station; `None` in a ledger of before it was asked.
    pub stirred: Option<bool>,
    /// When it began, RFC 3339 with offset; a label, nothing is computed from it.
    pub began: String,
    /// True if supply and cell are simulated: in a rehearsal, or on a pseudo-terminal.
    pub simulated: bool,
    /// The seed of a rehearsal's world.
    pub seed: Option<u64>,
    /// The target thickness that is shown, where the job has one.
    pub target: Option<Length>,
    /// The highest density against the mean over the pieces it begins with; `None` in a ledger of
    /// before it was kept.
    pub peak_to_mean: Option<f64>,
    /// Pieces first, then hangers.
    pub electrodes: Vec<ElectrodeHead>,
}

impl RunHead {
    /// What is known of a run of this job, on this station, by this plan.
    #[must_use]
    pub fn of(job: &Job, job_text: &str, station: &Station, bath: &str, plan: &Plan) -> Self {
        let pieces = plan.pieces.iter().map(|piece| ElectrodeHead {
            name: piece.name.clone(),
            hanger: false,
            area: piece.body.area,
        });
        let hangers = plan
            .hangers
            .iter()
            .enumerate()
            .map(|(index, body)| ElectrodeHead {
                name: format!("hanger {}", index + 1),
                hanger: true,
                area: body.area,
            });
        Self {
            job: job.name.clone(),
            job_text: job_text.to_owned(),
            station: station.name.clone(),
            stirred: Some(station.tank.stirred),
            bath: bath.to_owned(),
            target: match job.target {
                Target::Thickness(thickness) => Some(thickness),
                Target::Mass(_) | Target::Charge(_) | Target::Hours(_) => None,
            },
            peak_to_mean: Some(plan.peak_to_mean()),
            electrodes: pieces.chain(hangers).collect(),
            ..Self::default()
        }
    }
}

/// A piece or hanger before the run.
#[derive(Clone, Debug, PartialEq)]
pub struct ElectrodeHead {
    /// Its name; hangers are named `hanger 1` and so on.
    pub name: String,
    /// True for a hanger.
    pub hanger: bool,
    /// Its area at the start.
    pub area: Area,
}

/// One entry of a run.
#[derive(Clone, Debug, PartialEq)]
pub enum Entry {
    /// At most this may flow until then. Durable before anything within it is raised.
    Envelope {
        /// Time since the run began.
        at: Span,
        /// The envelope.
        envelope: Envelope,
        /// Its end, as time since the run began.
        until: Span,
    },
    /// One reading.
    Reading(ReadingEntry),
    /// The run came into a state.
    Entered {
        /// Time since the run began.
        at: Span,
        /// The state.
        state: State,
    },
    /// Something happened.
    Event {
        /// Time since the run began.
        at: Span,
        /// A word code: a guard's, or the event's own.
        code: &'static str,
        /// A sentence.
        text: String,
    },
    /// The accounts as they stand; each replaces the one before.
    Accounts {
        /// Time since the run began.
        at: Span,
        /// Charge of the run with its hard bounds.
        charge: Bounded<Charge>,
        /// One for each electrode, pieces first.
        electrodes: Vec<Account>,
        /// The thickness shown for the run.
        shown: Length,
        /// The piece it is of; `None` for a mean of all.
        governing: Option<usize>,
    },
    /// The target is reached; the copper of a hold comes on top.
    Reached {
        /// Time since the run began.
        at: Span,
        /// Charge until then.
        charge: Bounded<Charge>,
    },
    /// The supply said who it is.
    Supply {
        /// Its identity.
        identity: String,
    },
    /// What hangs in a run has changed, while its output was off.
    Rehung {
        /// Time since the run began.
        at: Span,
        /// The change.
        change: Rehung,
    },
    /// A run that was interrupted, and whose end was written, goes on.
    WentOn {
        /// Time since the run began, the interruption counted.
        at: Span,
        /// By whom, in a sentence.
        text: String,
    },
    /// The run is over, and its output confirmed off.
    Ended {
        /// Time since the run began.
        at: Span,
        /// How.
        outcome: Outcome,
        /// The guard that ended it.
        fault: Option<Fault>,
    },
}

impl Entry {
    /// True if every figure in it is a number; a ledger takes nothing else.
    #[must_use]
    pub fn is_finite(&self) -> bool {
        match self {
            Self::Envelope {
                at,
                envelope,
                until,
            } => {
                let figures = [
                    at.s(),
                    until.s(),
                    envelope.current.a(),
                    envelope.voltage.v(),
                ];
                figures.iter().all(|figure| figure.is_finite())
            }
            Self::Reading(reading) => reading.is_finite(),
            Self::Entered { at, .. }
            | Self::Event { at, .. }
            | Self::WentOn { at, .. }
            | Self::Ended { at, .. } => at.is_finite(),
            Self::Rehung { at, change } => {
                at.is_finite() && change.added.iter().all(|added| added.area.is_finite())
            }
            Self::Accounts {
                at,
                charge,
                electrodes,
                shown,
                governing: _,
            } => {
                at.is_finite()
                    && shown.is_finite()
                    && finite(charge, Charge::c)
                    && electrodes.iter().all(Account::is_finite)
            }
            Self::Reached { at, charge } => at.is_finite() && finite(charge, Charge::c),
            Self::Supply { .. } => true,
        }
    }
}

/// A change of what hangs in a run.
#[derive(Clone, Debug, PartialEq)]
pub struct Rehung {
    /// A word code: [`HUNG`] or [`LIFTED`].
    pub code: &'static str,
    /// A sentence.
    pub text: String,
    /// Pieces that the run did not have before; they stand after its other pieces.
    pub added: Vec<ElectrodeHead>,
    /// Which electrodes hang from now on: pieces first, the added ones among them.
    pub hang: Vec<bool>,
    /// The file the added pieces were read from.
    pub paper: Option<Paper>,
}

/// A file of pieces as it was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Paper {
    /// Where it was read.
    pub path: String,
    /// Its text, whole.
    pub text: String,
}

/// One reading as it is kept.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReadingEntry {
    /// Time since the run began, middle of the query for the current.
    pub at: Span,
    /// Measured current.
    pub current: Option<Current>,
    /// Measured voltage.
    pub voltage: Option<Voltage>,
    /// The setpoint that stood.
    pub setpoint: Current,
    /// Regulation mode.
    pub mode: Option<Mode>,
    /// Charge of the run so far.
    pub charge: Charge,
    /// Thickness of the piece that governs the end.
    pub thickness: Length,
}

impl ReadingEntry {
    fn is_finite(&self) -> bool {
        self.at.is_finite()
            && self.current.is_none_or(Current::is_finite)
            && self.voltage.is_none_or(Voltage::is_finite)
            && self.setpoint.is_finite()
            && self.charge.is_finite()
            && self.thickness.is_finite()
    }
}

/// The account of one electrode.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Account {
    /// Charge through it.
    pub charge: Bounded<Charge>,
    /// Metal on it.
    pub mass: Mass,
    /// Mean thickness on it with its 95 % interval.
    pub thickness: Bounded<Length>,
    /// Its area as it stands.
    pub area: Area,
    /// Time its current has flowed.
    pub on: Span,
}

impl Account {
    fn is_finite(&self) -> bool {
        let whole = self.mass.is_finite() && self.area.is_finite() && self.on.is_finite();
        whole && finite(&self.charge, Charge::c) && finite(&self.thickness, Length::m)
    }
}

/// True if a value and its limits are numbers.
fn finite<T: Copy>(value: &Bounded<T>, number: impl Fn(T) -> f64) -> bool {
    [value.low, value.best, value.high]
        .into_iter()
        .all(|one| number(one).is_finite())
}

/// A number the ledger hands out for a commit, so that its answer can be told from others.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Ticket(pub u64);

/// What a run's times count from.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Origin {
    at: Moment,
    before: Span,
}

impl Origin {
    /// A run that at this moment has gone on for so long: not at all, when it begins.
    #[must_use]
    pub const fn new(at: Moment, before: Span) -> Self {
        Self { at, before }
    }

    /// The moment, and how long the run had gone on then.
    #[must_use]
    pub const fn parts(self) -> (Moment, Span) {
        (self.at, self.before)
    }

    /// Time since the run began.
    #[must_use]
    pub fn since(self, now: Moment) -> Span {
        self.before + now.since(self.at)
    }
}
