//! What goes over the wire: one exchange at a time, whole.

use crate::exchange::Contact;
use crate::units::{Current, Moment, Span, Voltage};
use serde::{Deserialize, Serialize};

/// How the end of a reply is known.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ReplyEnd {
    /// No reply follows: the exchange is over when its bytes have left.
    None,
    /// The reply ends at the first of these bytes that follows anything else; leading ones are
    /// skipped.
    Byte(Vec<u8>),
    /// The reply has this many bytes.
    Count(usize),
    /// The reply ends when nothing has come for this many milliseconds after its first byte.
    Quiet(u32),
}

/// What an exchange may raise if the supply obeys it. The keeper holds it against its limits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Raise {
    /// A current is set to this.
    pub current: Option<Current>,
    /// A voltage is set to this.
    pub voltage: Option<Voltage>,
    /// The output is turned on.
    pub output: bool,
}

impl Raise {
    /// True if nothing is raised.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        self.current.is_none() && self.voltage.is_none() && !self.output
    }
}

/// One exchange: bytes out, and at most one reply.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Exchange {
    /// The bytes to send, terminator included.
    pub send: Vec<u8>,
    /// How the reply ends.
    pub end: ReplyEnd,
    /// The reply's first byte comes within this, or the exchange has failed.
    pub first_byte: Span,
    /// Each further byte comes within this.
    pub between: Span,
    /// Nothing is sent for this long afterwards.
    pub gap: Span,
    /// What it may raise.
    pub raises: Raise,
}

/// Why an exchange failed on the wire.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum WireFault {
    /// Nothing came back.
    Silent,
    /// Some bytes came, but not the end.
    Partial(Vec<u8>),
    /// More came than any reply of the dialect has.
    TooLong,
    /// The port is gone or cannot be used.
    PortLost(String),
    /// The keeper would not: beyond its limits, or not armed.
    Forbidden(String),
    /// The keeper itself is gone.
    KeeperLost,
}

/// What an exchange came to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Outcome {
    /// When the first byte left.
    pub sent: Moment,
    /// When the last byte of the reply had come, or when it was given up.
    pub received: Moment,
    /// The reply without its terminator (empty where none was expected), or the fault.
    pub reply: Result<Vec<u8>, WireFault>,
}

/// Something that carries exchanges out: the keeper's port, or the simulated bench.
///
/// Whatever came in before an exchange begins is dropped when it begins: it answers nobody. That
/// is what lets a link find its way back after a late reply.
pub trait Line {
    /// Carries one exchange out, whole, and waits for it.
    fn exchange(&mut self, exchange: &Exchange) -> Outcome;
    /// The clock of `sent` and `received`.
    fn now(&self) -> Moment;
    /// Lets time pass without sending.
    fn rest(&mut self, span: Span);
    /// Moves the relay in the output lead, where that is part of the line: on the simulated bench
    /// it is, and a real one has a port of its own.
    fn relay(&mut self, _contact: Contact) {}
}
