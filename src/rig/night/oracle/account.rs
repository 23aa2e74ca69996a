//! What the oracle is told, and what it says.

use crate::units::Moment;

/// A rule that did not hold.
#[derive(Clone, Debug, PartialEq)]
pub struct Broken {
    /// When.
    pub at: Moment,
    /// Its word.
    pub rule: &'static str,
    /// What was seen.
    pub text: String,
}

/// At most this, until then, as the ledger holds it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Allowed {
    /// Current, A.
    pub amps: f64,
    /// Voltage, V.
    pub volts: f64,
    /// Until then.
    pub until: Moment,
}

/// How a night ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// As asked.
    Finished,
    /// By a person.
    Stopped,
    /// By the guard with this code.
    Tripped(&'static str),
    /// By the loss of somebody.
    Interrupted(&'static str),
    /// The output was never proved off.
    Unconfirmed,
    /// The same with a supply whose word is known to be false, behind an open lead.
    Cut,
    /// The daemon died, and the keeper turned the output off.
    LeftToTheKeeper,
    /// It was still going on when everybody had gone.
    GivenUp,
}

/// What the house says of the night when it is over.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Account {
    /// How it ended.
    pub ending: Ending,
    /// The least that was delivered, C.
    pub low_c: f64,
    /// What was most likely delivered, C.
    pub best_c: f64,
    /// The most, C.
    pub high_c: f64,
    /// What the target cost, over what the plan said; none if it was not reached.
    pub of_plan: Option<f64>,
    /// The share of the plan by which soft starts may have changed that: while the current of a
    /// strike comes back, copper goes on over the paint at its own pace.
    pub softened: f64,
    /// What truly left the supply, C.
    pub truth_c: f64,
}
