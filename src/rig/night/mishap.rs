//! What can go wrong in a night, each from a physical cause in cell, supply, link, ledger or host,
//! or from a person; how bad, when, and for how long.

mod aim;
mod class;
mod draw;

pub use aim::{Aimed, aimed};
pub use class::Class;
pub use draw::{faulted, of_hands, of_relay, rough};

use crate::rig::cell::{CellFault, RelayAil};
use crate::rig::instrument::Ail;
use crate::units::Span;

/// What is done to the world.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Deed {
    /// The mishap with this number begins: the oracle is told.
    Begins(usize),
    /// To the cell.
    Cell(CellFault),
    /// An electrode, by its number among all of them, gets a contact of so many ohms more.
    Contact(usize, f64),
    /// An electrode, by its number among all of them, falls.
    Falls(usize),
    /// Inside the supply.
    Supply(Ail),
    /// To the relay in the output lead.
    Relay(RelayAil),
    /// The port of that relay is pulled out.
    RelayPulled,
    /// Someone turns the current knob, to this multiple of what is set.
    CurrentKnob(f64),
    /// Someone turns the voltage knob, to this multiple of what is set.
    VoltageKnob(f64),
    /// Someone presses the output button.
    Button,
    /// Mains goes, or comes back.
    Mains(bool),
    /// On the line.
    Link(Link),
    /// In the ledger.
    Ledger(Ledger),
    /// The computer.
    Host(Host),
    /// A person asks.
    Asks(Word),
}

/// What happens on the line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Link {
    /// So large a part of the replies is lost.
    LosesReplies(f64),
    /// So large a part of what is sent never arrives.
    LosesCommands(f64),
    /// In so large a part of the replies one bit is another.
    GarblesReplies(f64),
    /// So large a part of the replies has a byte in it that is no text.
    SmearsReplies(f64),
    /// In so large a part of what is sent one bit is another.
    GarblesCommands(f64),
    /// So large a part of the replies comes late, by up to this share of what the supply's
    /// description allows.
    Delays(f64, f64),
    /// What is sent comes back before the reply, or does so no longer.
    Echoes(bool),
    /// Nothing passes either way for so long.
    Silent(Span),
    /// The port is gone for so long.
    Away(Span),
}

/// What happens to the ledger.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ledger {
    /// It takes no entry any more.
    RefusesEntries,
    /// It takes entries and cannot make them durable.
    RefusesCommits,
    /// A commit takes this long from now on.
    Takes(Span),
}

/// What happens to the computer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Host {
    /// The loop hangs for so many milliseconds; the keeper goes on.
    Stalls(u32),
    /// The whole computer stands still for so many milliseconds. Afterwards the keeper comes to
    /// itself first, or the loop does.
    Sleeps(u32, bool),
    /// The keeper dies.
    KeeperDies,
    /// The daemon dies; the keeper goes on.
    DaemonDies,
}

/// What a person asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Word {
    /// Stop.
    Stop,
    /// Pause.
    Pause,
    /// Go on.
    Resume,
    /// The piece with this number, among all of them, is lifted if it hangs, and else hung again.
    Rehang(usize),
}

/// When a mishap begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum When {
    /// So long after the night began.
    At(Span),
    /// So long after the run first came into the state with this word.
    In(&'static str, Span),
}

/// One mishap.
#[derive(Clone, Debug, PartialEq)]
pub struct Mishap {
    /// Its kind.
    pub class: Class,
    /// When it begins.
    pub when: When,
    /// What is done, each so long after it begins.
    pub deeds: Vec<(Span, Deed)>,
    /// How long it lasts; zero for what stays or is done at once.
    pub lasts: Span,
    /// A run that is on its way must get over it.
    pub tolerable: bool,
    /// A run that is on its way must have sent off within this, whatever it would rather do.
    pub off_within: Option<Span>,
    /// While it lasts, nobody can be expected to see or to do anything.
    pub blinds: bool,
    /// It can make current flow that nobody asked for.
    pub raises: bool,
}
