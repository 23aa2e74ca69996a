//! What control can be told, and what it can ask for.

use super::guard::Fault;
use super::permit::{ConfirmedOff, Envelope, Permit};
use super::sense::Sense;
use super::state::State;
use crate::exchange::{Answer, Contact, LinkFault, Order};
use crate::plan::Plan;
use crate::units::{Area, Moment, Span};
use std::sync::Arc;

/// What a person wants.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wish {
    /// End the run.
    Stop,
    /// Output off, and wait.
    Pause,
    /// Go on after a pause.
    Resume,
}

/// What control is told.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// Begin with proving.
    Begin,
    /// An order was carried out.
    Answered(Order, Answer),
    /// An order came to nothing.
    Failed(Order, LinkFault),
    /// The ledger holds this envelope.
    Recorded(Envelope),
    /// The ledger refused, or is too slow.
    LedgerFailed(String),
    /// The keeper process is gone.
    KeeperLost,
    /// The keeper turned the output off by itself and read it off, between these two moments.
    KeptOff(Moment, Moment),
    /// The line of the relay in the output lead cannot be toggled: it opens. The system's words.
    RelayLost(String),
    /// The keeper has let the relay go by itself.
    RelayCut,
    /// A person asks.
    Asked(Wish),
    /// The output is off, and from now on other pieces hang: the plan of the rest of the night.
    /// Taken only in a pause.
    Rehung(Arc<Plan>),
    /// Something beside the supply was noticed.
    Sensed(Sense),
    /// The moment of [`Action::Wake`] has come.
    Woke,
}

/// What control asks for. Few, and their order is meaning.
#[derive(Clone, Debug, PartialEq)]
pub enum Action {
    /// Carry this order out: it reads, or it lowers.
    Send(Order),
    /// Carry this order out: it may raise, and here is the right to.
    Energise(Order, Permit),
    /// Drop every order that has not begun; the next one is more urgent.
    DropQueue,
    /// Make this envelope durable, then say [`Event::Recorded`].
    Widen(Envelope),
    /// Something happened that people will ask about.
    Note(Note),
    /// A period is complete: reading taken and judged. The keeper's lease may be renewed.
    PeriodDone,
    /// Say [`Event::Woke`] at this moment, if nothing moves it.
    Wake(Moment),
    /// Do this with the relay in the output lead. Never asked for where there is none.
    Relay(Contact),
    /// The run is over; here is the proof.
    End(Outcome, ConfirmedOff),
}

/// How a run ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// As asked.
    Finished,
    /// By a person.
    Stopped,
    /// By a guard.
    Tripped(Fault),
    /// The keeper or the computer died in it.
    Interrupted(Fault),
}

impl Outcome {
    /// The state this is.
    #[must_use]
    pub const fn state(self) -> State {
        match self {
            Self::Finished => State::Finished,
            Self::Stopped => State::Stopped,
            Self::Tripped(_) => State::Tripped,
            Self::Interrupted(_) => State::Interrupted,
        }
    }

    /// The guard that ended it, if one did.
    #[must_use]
    pub const fn fault(self) -> Option<Fault> {
        match self {
            Self::Finished | Self::Stopped => None,
            Self::Tripped(fault) | Self::Interrupted(fault) => Some(fault),
        }
    }
}

/// What people will ask about.
#[derive(Clone, Debug, PartialEq)]
pub enum Note {
    /// The state changed.
    Entered(State),
    /// A guard spoke; the evidence in words.
    Spoke(Fault, String),
    /// An alarm falls silent: its cause has been gone for a while.
    Quiet(Fault),
    /// The target is reached.
    Reached,
    /// A planned look is due.
    LookDue,
    /// A pause for another reason.
    PausedByHand,
    /// Copper on paint is behind: no more than `most` can take part where `should` be covered. The
    /// current follows.
    Behind {
        /// What should be covered.
        should: Area,
        /// What takes part at most.
        most: Area,
    },
    /// A stretch in which nobody looked.
    Gap(Span),
    /// The first off was not proved; it is sent again.
    OffAgain(u32),
    /// The relay was let go since off could not be proved in time. That is a cut and no proof.
    Cut,
}
