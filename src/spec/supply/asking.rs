//! What is asked, and where a reply says what.

use super::End;
use crate::exchange::Ask;
use serde::{Deserialize, Serialize};

/// A question and what its reply gives.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Question {
    /// The bytes to send.
    pub ask: String,
    /// How its reply ends, if not as the framing says.
    pub end: Option<End>,
    /// What the reply says; at least one thing.
    pub gives: Vec<Give>,
}

/// One thing a reply says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Give {
    /// A measured or a set figure.
    Figure(Figure, NumberIn),
    /// Yes or no.
    Truth(Flag, TruthIn),
    /// Constant current or constant voltage.
    Mode(ModeIn),
}

/// A figure that can be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Figure {
    /// Measured current.
    Current,
    /// Measured voltage.
    Voltage,
    /// Current setpoint.
    SetCurrent,
    /// Voltage setpoint.
    SetVoltage,
    /// Over-voltage protection level.
    OverVoltage,
    /// Over-current protection level.
    OverCurrent,
}

/// A yes or no that can be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Flag {
    /// The output is on.
    Output,
    /// A protection has tripped.
    Tripped,
    /// The output that is selected is this profile's.
    Channel,
}

/// Columns of a reply, counted from one, both ends included.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Columns {
    /// First column.
    pub first: usize,
    /// Last column.
    pub last: usize,
}

/// How a number stands in a reply.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NumberIn {
    /// Where, if not the whole reply.
    pub columns: Option<Columns>,
    /// A unit that may be glued to it.
    pub unit: Option<String>,
    /// SI units for one of what is written.
    pub scale: f64,
    /// Words that mean there is no reading.
    pub no_reading: Vec<String>,
}

/// How a yes or no stands in a reply.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TruthIn {
    /// As a word.
    Words {
        /// Where, if not the whole reply.
        columns: Option<Columns>,
        /// Words for yes.
        yes: Vec<String>,
        /// Words for no.
        no: Vec<String>,
    },
    /// As bits: yes if any bit of the mask is set, or the reverse.
    Bits {
        /// What carries them.
        carrier: Carrier,
        /// Which bits.
        mask: u32,
        /// Yes if any is set; else yes if none is.
        yes_when_set: bool,
    },
}

/// How the regulation mode stands in a reply.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ModeIn {
    /// As a word; any other word is neither.
    Words {
        /// Where, if not the whole reply.
        columns: Option<Columns>,
        /// Words for constant current.
        constant_current: Vec<String>,
        /// Words for constant voltage.
        constant_voltage: Vec<String>,
    },
    /// As one bit each; both or neither set is neither mode. Where only one bit is known, its
    /// absence is the other mode.
    Bits {
        /// What carries them.
        carrier: Carrier,
        /// The bit for constant current.
        constant_current: Option<u32>,
        /// The bit for constant voltage.
        constant_voltage: Option<u32>,
    },
}

/// What carries bits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Carrier {
    /// A whole number in the reply.
    Number,
    /// A raw byte of the reply, counted from one.
    Byte(usize),
}

impl Give {
    /// What it gives, as a set.
    #[must_use]
    pub fn asks(&self) -> Ask {
        match self {
            Self::Figure(Figure::Current, _) => Ask::CURRENT,
            Self::Figure(Figure::Voltage, _) => Ask::VOLTAGE,
            Self::Figure(Figure::SetCurrent, _) => Ask::SET_CURRENT,
            Self::Figure(Figure::SetVoltage, _) => Ask::SET_VOLTAGE,
            Self::Figure(Figure::OverVoltage, _) => Ask::OVER_VOLTAGE,
            Self::Figure(Figure::OverCurrent, _) => Ask::OVER_CURRENT,
            Self::Truth(Flag::Output, _) => Ask::OUTPUT,
            Self::Truth(Flag::Tripped, _) => Ask::TRIPPED,
            Self::Truth(Flag::Channel, _) => Ask::CHANNEL,
            Self::Mode(_) => Ask::MODE,
        }
    }
}

impl Question {
    /// Everything its reply gives.
    #[must_use]
    pub fn asks(&self) -> Ask {
        self.gives
            .iter()
            .fold(Ask::NOTHING, |all, give| all | give.asks())
    }
}
