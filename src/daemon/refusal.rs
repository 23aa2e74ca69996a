//! Why the daemon does not do what was asked, as its replies say it.

use crate::plan::Refused;
use crate::spec::{Problem, Problems};
use serde::{Deserialize, Serialize};

/// Bad usage or bad input.
pub const BAD_INPUT: u8 = 2;
/// The supply cannot be reached or does not obey; the output was never on.
pub const NO_SUPPLY: u8 = 4;
/// Refused, or busy.
pub const REFUSED: u8 = 5;
/// The output is not confirmed off.
pub const NOT_CONFIRMED_OFF: u8 = 6;

/// A refusal with the exit status that a command ends with.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, thiserror::Error)]
#[error("{text}")]
pub struct Refusal {
    /// The exit status.
    pub exit: u8,
    /// A word code.
    pub code: String,
    /// What is wrong, in a sentence or a few lines.
    pub text: String,
    /// Where: a file, a port, a socket.
    pub place: Option<String>,
    /// What to do.
    pub remedy: Option<String>,
}

impl Refusal {
    /// A refusal with this status, code and text.
    #[must_use]
    pub fn new(exit: u8, code: &str, text: impl Into<String>) -> Self {
        Self {
            exit,
            code: code.to_owned(),
            text: text.into(),
            place: None,
            remedy: None,
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
}

impl From<Problems> for Refusal {
    fn from(problems: Problems) -> Self {
        let first = problems.0.first();
        Self {
            exit: BAD_INPUT,
            code: first.map_or("bad-input", |first| first.code).to_owned(),
            text: problems.to_string(),
            place: first.map(place),
            remedy: first
                .map(|first| first.remedy.clone())
                .filter(|text| !text.is_empty()),
        }
    }
}

/// Where a problem is; a file that is not there has no lines.
fn place(problem: &Problem) -> String {
    match problem.line {
        0 => problem.file.clone(),
        line => format!("{}:{line}:{}", problem.file, problem.column),
    }
}

impl From<Refused> for Refusal {
    fn from(refused: Refused) -> Self {
        Self::new(REFUSED, refused.code(), refused.to_string())
            .remedy(format!("nightvat explain {}", refused.code()))
    }
}
