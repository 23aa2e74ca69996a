//! Why the daemon does not do what was asked, as its replies say it.

use crate::exchange::LinkFault;
use crate::plan::Refused;
use crate::spec::{Problem, Problems};
use serde::{Deserialize, Serialize};
use serde_json::Value;

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
    /// Each problem of a file that has several, as an object like this one.
    #[serde(default, skip_serializing_if = "<[Value]>::is_empty")]
    pub problems: Box<[Value]>,
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
            problems: Box::default(),
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
        let place = problems.0.first().map(Problem::place);
        let (code, remedy) = match problems.0.as_slice() {
            [one] => (one.code, one.remedy.as_str()),
            _ => ("several-problems", "mend each of `problems`"),
        };
        let each = problems.0.iter().filter(|_| problems.0.len() > 1);
        Self {
            exit: BAD_INPUT,
            code: code.to_owned(),
            text: problems.to_string(),
            place,
            remedy: Some(remedy.to_owned()).filter(|text| !text.is_empty()),
            // An object of strings is always written.
            problems: each
                .filter_map(|it| serde_json::to_value(it).ok())
                .collect(),
        }
    }
}

/// The supply is not there, or is another one, and its output was never on.
impl From<&LinkFault> for Refusal {
    fn from(fault: &LinkFault) -> Self {
        let text = format!("{fault}; nothing was energised");
        Self::new(NO_SUPPLY, fault.code(), text).remedy(fault.remedy())
    }
}

impl From<Refused> for Refusal {
    fn from(refused: Refused) -> Self {
        Self::new(REFUSED, refused.code(), refused.to_string())
            .remedy(format!("nightvat explain {}", refused.code()))
    }
}
