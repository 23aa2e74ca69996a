//! What the reply to a question says, thing by thing.

use super::lossy;
use super::number::{Number, bits, number};
use crate::exchange::{DeviceError, Mode, Reading};
use crate::spec::supply::{
    Carrier, Columns, Figure, Flag, Give, ModeIn, NumberIn, Question, TruthIn,
};
use crate::units::{Current, Voltage};
use std::fmt;

/// A reply that means nothing, quoted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Garbled(pub String);

impl Garbled {
    /// Quotes a reply, as far as it is worth quoting.
    #[must_use]
    pub fn of(reply: &[u8]) -> Self {
        const QUOTED: usize = 80;
        Self(lossy(reply.get(..QUOTED).unwrap_or(reply)))
    }
}

impl fmt::Display for Garbled {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "`{}`", self.0)
    }
}

/// Takes everything a reply gives into a reading. `raw` is the reply as it came, `text` the same
/// without blanks.
///
/// # Errors
/// [`Garbled`] where any part of it means nothing; the reading then holds what came before that
/// part.
pub fn take(
    question: &Question,
    raw: &[u8],
    text: &[u8],
    reading: &mut Reading,
) -> Result<(), Garbled> {
    for give in &question.gives {
        match give {
            Give::Figure(figure, read) => {
                let part = part(read.columns, raw, text)?;
                put(*figure, figure_of(read, part)?, reading);
            }
            Give::Truth(flag, read) => {
                let truth = truth_of(read, raw, text)?;
                match flag {
                    Flag::Output => reading.output = Some(truth),
                    // Several questions may tell of a trip; any of them counts.
                    Flag::Channel => reading.channel = Some(truth),
                    Flag::Tripped => reading.tripped = Some(truth || reading.tripped == Some(true)),
                }
            }
            Give::Mode(read) => reading.mode = Some(mode_of(read, raw, text)?),
        }
    }
    Ok(())
}

fn put(figure: Figure, value: Option<f64>, reading: &mut Reading) {
    match figure {
        Figure::Current => reading.current = value.map(Current::from_a),
        Figure::Voltage => reading.voltage = value.map(Voltage::from_v),
        Figure::SetCurrent => reading.set_current = value.map(Current::from_a),
        Figure::SetVoltage => reading.set_voltage = value.map(Voltage::from_v),
        Figure::OverVoltage => reading.over_voltage = value.map(Voltage::from_v),
        Figure::OverCurrent => reading.over_current = value.map(Current::from_a),
    }
}

/// The columns of a reply, or all of it. Columns count from the first byte that came.
fn part<'r>(columns: Option<Columns>, raw: &'r [u8], text: &'r [u8]) -> Result<&'r [u8], Garbled> {
    let Some(Columns { first, last }) = columns else {
        return Ok(text);
    };
    raw.get(first.saturating_sub(1)..last)
        .ok_or_else(|| Garbled::of(raw))
}

fn figure_of(read: &NumberIn, part: &[u8]) -> Result<Option<f64>, Garbled> {
    if is_one_of(&read.no_reading, part.trim_ascii()) {
        return Ok(None);
    }
    match number(part, read.unit.as_deref())? {
        Number::Is(value) => Ok(Some(value * read.scale)),
        Number::NoReading => Ok(None),
    }
}

fn is_one_of(words: &[String], text: &[u8]) -> bool {
    words
        .iter()
        .any(|word| word.as_bytes().eq_ignore_ascii_case(text))
}

fn truth_of(read: &TruthIn, raw: &[u8], text: &[u8]) -> Result<bool, Garbled> {
    match read {
        TruthIn::Words { columns, yes, no } => {
            let part = part(*columns, raw, text)?.trim_ascii();
            match (is_one_of(yes, part), is_one_of(no, part)) {
                (true, _) => Ok(true),
                (false, true) => Ok(false),
                (false, false) => Err(Garbled::of(part)),
            }
        }
        TruthIn::Bits {
            carrier,
            mask,
            yes_when_set,
        } => {
            let set = carried(*carrier, raw, text)? & mask != 0;
            Ok(set == *yes_when_set)
        }
    }
}

fn mode_of(read: &ModeIn, raw: &[u8], text: &[u8]) -> Result<Mode, Garbled> {
    let (current, voltage) = match read {
        ModeIn::Words {
            columns,
            constant_current,
            constant_voltage,
        } => {
            let part = part(*columns, raw, text)?.trim_ascii();
            (
                is_one_of(constant_current, part),
                is_one_of(constant_voltage, part),
            )
        }
        ModeIn::Bits {
            carrier,
            constant_current,
            constant_voltage,
        } => {
            let bits = carried(*carrier, raw, text)?;
            let set = |bit: u32| bits & (1 << bit) != 0;
            match (constant_current.map(set), constant_voltage.map(set)) {
                (Some(current), Some(voltage)) => (current, voltage),
                (Some(current), None) => (current, !current),
                (None, Some(voltage)) => (!voltage, voltage),
                (None, None) => (false, false),
            }
        }
    };
    Ok(match (current, voltage) {
        (true, false) => Mode::ConstantCurrent,
        (false, true) => Mode::ConstantVoltage,
        (true, true) | (false, false) => Mode::Unregulated,
    })
}

fn carried(carrier: Carrier, raw: &[u8], text: &[u8]) -> Result<u32, Garbled> {
    match carrier {
        Carrier::Number => bits(text),
        Carrier::Byte(at) => {
            let byte = at.checked_sub(1).and_then(|at| raw.get(at));
            byte.map(|byte| u32::from(*byte))
                .ok_or_else(|| Garbled::of(raw))
        }
    }
}

/// Reads an entry of the error queue, `<code>,"<text>"`; only the code counts, since supplies add
/// detail to the text, or leave it out (SCPI-99 vol. 2 §21.8).
///
/// # Errors
/// [`Garbled`] where it does not begin with a whole number.
pub fn entry(reply: &[u8]) -> Result<DeviceError, Garbled> {
    let (code, text) = match reply.iter().position(|byte| *byte == b',') {
        Some(at) => (&reply[..at], &reply[at + 1..]),
        None => (reply, &[][..]),
    };
    let code = std::str::from_utf8(code)
        .ok()
        .and_then(|code| code.trim().parse().ok());
    let code = code.ok_or_else(|| Garbled::of(reply))?;
    let text = lossy(text.trim_ascii());
    let text = text.strip_prefix('"').unwrap_or(&text);
    let text = text.strip_suffix('"').unwrap_or(text).to_owned();
    Ok(DeviceError { code, text })
}
