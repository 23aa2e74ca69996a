//! Numbers as supplies write them: NR1, NR2 and NR3 of IEEE 488.2 §8.7, with blanks, a sign and a
//! unit.

use super::Garbled;

/// A magnitude from which on a number is no reading: SCPI-99 vol. 1 §7.2.1 writes ±infinity as
/// ±9.9E37 and not-a-number as 9.91E37.
const NO_READING: f64 = 9.9e37;

/// What a number in a reply says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Number {
    /// A figure.
    Is(f64),
    /// The supply says that it has no reading.
    NoReading,
}

/// A text that is no number, or more than one.
pub type NumberFault = Garbled;

/// Reads the one number of a text; `unit` may be glued to it or stand after a blank.
///
/// # Errors
/// [`NumberFault`] where there is no number, a second one, or anything else beside the unit.
pub fn number(text: &[u8], unit: Option<&str>) -> Result<Number, NumberFault> {
    let text = text.trim_ascii();
    let split = number_end(text);
    let (digits, rest) = text.split_at(split);
    if !digits.iter().any(u8::is_ascii_digit) || !is_tail(rest.trim_ascii(), unit) {
        return Err(Garbled::of(text));
    }
    let value = std::str::from_utf8(digits)
        .ok()
        .and_then(|digits| digits.parse::<f64>().ok());
    match value {
        // An exponent beyond any double reads as infinity here, which is no reading either.
        Some(value) if value.abs() >= NO_READING => Ok(Number::NoReading),
        Some(value) => Ok(Number::Is(value)),
        None => Err(Garbled::of(text)),
    }
}

/// True if what follows a number is nothing or the unit.
fn is_tail(rest: &[u8], unit: Option<&str>) -> bool {
    rest.is_empty() || unit.is_some_and(|unit| rest.eq_ignore_ascii_case(unit.as_bytes()))
}

/// Where the number at the front ends: sign, digits, point, digits, and an exponent if it has
/// digits.
fn number_end(text: &[u8]) -> usize {
    let digits = |mut at: usize| {
        while matches!(text.get(at), Some(b'0'..=b'9')) {
            at += 1;
        }
        at
    };
    let sign = |at: usize| at + usize::from(matches!(text.get(at), Some(b'+' | b'-')));
    let mut at = digits(sign(0));
    if text.get(at) == Some(&b'.') {
        at = digits(at + 1);
    }
    if matches!(text.get(at), Some(b'e' | b'E')) {
        let from = sign(at + 1);
        let end = digits(from);
        if end > from {
            at = end;
        }
    }
    at
}

/// A whole number that carries bits; a point or an exponent is allowed where the value is whole.
///
/// # Errors
/// [`NumberFault`] where it is no whole number from 0 to 2^32 - 1.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // checked just before
pub(super) fn bits(text: &[u8]) -> Result<u32, NumberFault> {
    match number(text, None)? {
        Number::Is(value) if value.fract() == 0.0 && (0.0..4_294_967_296.0).contains(&value) => {
            Ok(value as u32)
        }
        Number::Is(_) | Number::NoReading => Err(Garbled::of(text)),
    }
}
