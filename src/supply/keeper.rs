//! DOOR: the keeper, a small process of the same binary that owns the serial port and turns the
//! output off when the daemon falls silent.
//!
//! It runs in a session of its own, carries out whole exchanges for its owner, and holds what they
//! may raise against limits given when a run is armed. Its owner renews a lease with every judged
//! period. The lease lapsed, the latest end reached, the pipe closed, or a signal caught: output
//! off, confirmed by reading, tried again until it is.
//!
//! Where there is a relay in the output lead, a thread toggles its line while the acting thread
//! allows it, and never longer: armed, the lease renewed, no off that waits for its proof.
//!
//! Requests and reports are JSON lines on its standard input and output; the first line it reads
//! is its [`Settings`]. [`Hired`] is the owner's side, [`main`] is the process.

mod grip;
mod hired;
mod post;
mod record;
mod secretary;
mod toggle;
mod watch;

pub use grip::{CUT_AFTER, CUT_BY, Grip, late};
pub use hired::{HireError, Hired, KeptLine, hire};
pub use post::main;
pub use record::{Asked, Proof, Record, ask_off, last_record, last_settings, note_off, same_boot};
pub use watch::Watch;

use super::clock::Clock;
use super::off::OffReport;
use super::port::PortError;
use super::wire::{Exchange, Outcome};
use crate::exchange::Contact;
use crate::spec::{Relay, SupplyProfile};
use crate::units::{Current, Moment, Span, Voltage};
use serde::{Deserialize, Serialize};
use std::fmt;
use std::path::PathBuf;

/// What a keeper needs to begin.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Settings {
    /// The supply.
    pub profile: SupplyProfile,
    /// Its port.
    pub port: PathBuf,
    /// The owner's clock, so that both speak of the same moments.
    pub clock: Clock,
    /// The folder for its lock, its record and its log.
    pub state: PathBuf,
    /// The relay in the output lead, if there is one.
    #[serde(default)]
    pub relay: Option<Relay>,
}

/// What a run may do while it is armed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Limits {
    /// No current above this is set.
    pub max_current: Current,
    /// No voltage above this is set.
    pub max_voltage: Voltage,
    /// The output is off after this, on the line's clock, whatever the owner says.
    pub end_within: Span,
    /// The owner renews within this, in real seconds.
    pub lease: Span,
    /// The run they are for, so that the record says how long current can have flowed in it.
    #[serde(default)]
    pub mark: Option<Mark>,
}

/// A run, and how long it had gone on at a moment of the line's clock.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Mark {
    /// The run's number in its owner's books.
    pub run: i64,
    /// The moment.
    pub at: Moment,
    /// How long the run had gone on then.
    pub before: Span,
}

impl Mark {
    /// How long the run has gone on at another moment.
    #[must_use]
    pub fn since(self, now: Moment) -> Span {
        self.before + now.since(self.at)
    }
}

/// What an owner asks.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Request {
    /// Carry this out, whole.
    Exchange {
        /// Comes back with the outcome.
        id: u64,
        /// What to carry out.
        exchange: Exchange,
    },
    /// From now on exchanges may raise, within these limits. While armed, limits only ever get
    /// narrower; to widen them, disarm first.
    Arm(Limits),
    /// The last period was completed and judged.
    Renew,
    /// The run is over; granted only if the keeper itself reads that the output is off.
    Disarm,
    /// Output off now, and prove it.
    Off,
    /// Do this with the relay. It is held only while armed.
    Relay(Contact),
}

/// What a keeper reports.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Report {
    /// It has the port and listens.
    Ready {
        /// Its process.
        pid: u32,
    },
    /// It cannot use the port, and ends.
    NoPort(PortError),
    /// An exchange was carried out, or refused.
    Exchanged {
        /// Of the request.
        id: u64,
        /// What it came to.
        outcome: Outcome,
    },
    /// Armed with these limits.
    Armed(Limits),
    /// It would not arm.
    NotArmed(String),
    /// The output was read to be off; nothing may be raised now.
    Disarmed,
    /// It turned the output off, or tried to.
    Off {
        /// Why.
        why: Why,
        /// What came of it.
        report: OffReport,
    },
    /// It let the relay go since off is not confirmed: the lead opens, and that is no proof.
    Cut {
        /// Its owner asked for it.
        asked: bool,
    },
    /// The relay's line cannot be toggled: it opens. The system's words.
    RelayLost(String),
    /// It is gone; the exit status, if it had one. Told by the owner's side.
    Gone(Option<i32>),
}

/// Why a keeper turned the output off.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Why {
    /// Its owner asked for it.
    Asked,
    /// A run was to be disarmed although the output was not off.
    StillOn,
    /// Its owner fell silent for longer than the lease.
    LeaseLapsed,
    /// The latest end of the run was reached.
    EndReached,
    /// The pipe to its owner is closed.
    OwnerGone,
    /// It was told to by a signal.
    Signal(String),
    /// Something in the keeper itself broke.
    Broken,
}

impl fmt::Display for Why {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Asked => write!(f, "the daemon asked for it"),
            Self::StillOn => write!(f, "the run was over and the output was not off"),
            Self::LeaseLapsed => write!(f, "the daemon fell silent"),
            Self::EndReached => write!(f, "the latest end of the run was reached"),
            Self::OwnerGone => write!(f, "the daemon is gone"),
            Self::Signal(name) => write!(f, "the keeper was sent {name}"),
            Self::Broken => write!(f, "something in the keeper broke"),
        }
    }
}
