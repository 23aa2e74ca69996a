//! One clear error: what, where, what to do, and the exit status it ends with.

use crate::daemon::Refusal;
use crate::plan::Refused;
use crate::spec::Problems;
use serde_json::{Value, json};
use std::fmt;

/// The exit statuses. Anything else is a failure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// Done.
    Done = 0,
    /// Failed or tripped, output confirmed off.
    Failed = 1,
    /// Bad usage or bad input.
    BadInput = 2,
    /// No daemon answers.
    NoDaemon = 3,
    /// The supply cannot be reached or does not obey; the output was never on.
    NoSupply = 4,
    /// Refused or busy.
    Refused = 5,
    /// The output is not confirmed off.
    NotConfirmedOff = 6,
}

/// Why a command did not do what was asked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Failure {
    /// The exit status.
    pub exit: Exit,
    /// A word code.
    pub code: String,
    /// What went wrong, in a sentence or a few lines.
    pub text: String,
    /// Where: a file, a port, a socket.
    pub place: Option<String>,
    /// What to do.
    pub remedy: Option<String>,
    /// With `--json`: the command has printed its object, with this failure in it.
    pub said: bool,
}

impl Failure {
    /// A failure with this status, code and text.
    #[must_use]
    pub fn new(exit: Exit, code: &str, text: impl Into<String>) -> Self {
        Self {
            exit,
            code: code.to_owned(),
            text: text.into(),
            place: None,
            remedy: None,
            said: false,
        }
    }

    /// Says where.
    #[must_use]
    pub fn at(mut self, place: impl Into<String>) -> Self {
        self.place = Some(place.into());
        self
    }

    /// Says what to do.
    #[must_use]
    pub fn remedy(mut self, remedy: impl Into<String>) -> Self {
        self.remedy = Some(remedy.into());
        self
    }

    /// Says that its JSON is printed already.
    #[must_use]
    pub fn said(mut self, said: bool) -> Self {
        self.said = said;
        self
    }

    /// As `--json` prints it.
    #[must_use]
    pub fn to_json(&self) -> Value {
        json!({"error": {
            "code": self.code,
            "text": self.text,
            "place": self.place,
            "remedy": self.remedy,
        }})
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.exit == Exit::NotConfirmedOff {
            // The loud sentence is the last line on standard error.
            writeln!(f, "error: {}", self.text)?;
            if let Some(remedy) = &self.remedy {
                writeln!(f, "  do: {remedy}")?;
            }
            return write!(f, "OUTPUT NOT CONFIRMED OFF");
        }
        write!(f, "error: {}", self.text)?;
        if self.text.contains('\n') {
            // A list says of each of its entries where it is and what to do.
            return Ok(());
        }
        if let Some(place) = &self.place {
            write!(f, "\n  at: {place}")?;
        }
        if let Some(remedy) = &self.remedy {
            write!(f, "\n  do: {remedy}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Failure {}

impl From<Problems> for Failure {
    fn from(problems: Problems) -> Self {
        Refusal::from(problems).into()
    }
}

impl From<Refused> for Failure {
    fn from(refused: Refused) -> Self {
        Refusal::from(refused).into()
    }
}
