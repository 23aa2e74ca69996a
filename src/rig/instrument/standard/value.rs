//! Program data: decimal numbers with units, limits by name, Booleans; and how numbers are
//! answered.

use super::status::Slip;

/// A number, or a limit by its name.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Numeric {
    Value(f64),
    Minimum,
    Maximum,
    Default,
}

/// Reads a decimal number with an optional unit, or MINimum, MAXimum, DEFault.
pub(super) fn numeric(text: &[u8], unit: &str) -> Result<Numeric, Slip> {
    match limit(text) {
        Some(limit) => Ok(limit),
        None => Ok(Numeric::Value(number(text, unit)?)),
    }
}

/// MINimum, MAXimum or DEFault.
pub(super) fn limit(text: &[u8]) -> Option<Numeric> {
    let is = |long: &[u8], short: &[u8]| {
        text.eq_ignore_ascii_case(long) || text.eq_ignore_ascii_case(short)
    };
    if is(b"MINIMUM", b"MIN") {
        Some(Numeric::Minimum)
    } else if is(b"MAXIMUM", b"MAX") {
        Some(Numeric::Maximum)
    } else if is(b"DEFAULT", b"DEF") {
        Some(Numeric::Default)
    } else {
        None
    }
}

/// A decimal number (NRf) and, after it, a unit with an optional multiplier.
fn number(text: &[u8], unit: &str) -> Result<f64, Slip> {
    if !matches!(text.first(), Some(b'+' | b'-' | b'.' | b'0'..=b'9')) {
        return Err(Slip::DataType);
    }
    let mantissa = text
        .iter()
        .position(|byte| !matches!(byte, b'+' | b'-' | b'.' | b'0'..=b'9'))
        .unwrap_or(text.len());
    let end = mantissa + exponent_length(&text[mantissa..]);
    let value: f64 = std::str::from_utf8(&text[..end])
        .ok()
        .and_then(|digits| digits.parse().ok())
        .ok_or(Slip::InvalidNumber)?;
    Ok(value * multiplier(text[end..].trim_ascii(), unit)?)
}

/// Length of `E`, a sign and digits, if that is what follows.
fn exponent_length(text: &[u8]) -> usize {
    if !matches!(text.first(), Some(b'e' | b'E')) {
        return 0;
    }
    let sign = usize::from(matches!(text.get(1), Some(b'+' | b'-')));
    let digits = text[1 + sign..]
        .iter()
        .take_while(|byte| byte.is_ascii_digit())
        .count();
    if digits == 0 { 0 } else { 1 + sign + digits }
}

/// What a unit's multiplier amounts to; in front of these units `M` is milli.
fn multiplier(suffix: &[u8], unit: &str) -> Result<f64, Slip> {
    if suffix.is_empty() {
        return Ok(1.0);
    }
    let (first, last) = suffix.split_at(suffix.len() - 1);
    if !last.eq_ignore_ascii_case(unit.as_bytes()) {
        return Err(Slip::InvalidSuffix);
    }
    match first.to_ascii_uppercase().as_slice() {
        b"" => Ok(1.0),
        b"M" => Ok(1e-3),
        b"U" => Ok(1e-6),
        b"K" => Ok(1e3),
        _ => Err(Slip::InvalidSuffix),
    }
}

/// ON, OFF, or a number that is rounded, any but zero being on.
pub(super) fn boolean(text: &[u8]) -> Result<bool, Slip> {
    if text.eq_ignore_ascii_case(b"ON") {
        return Ok(true);
    }
    if text.eq_ignore_ascii_case(b"OFF") {
        return Ok(false);
    }
    match number(text, "") {
        Ok(value) => Ok(value.round() != 0.0),
        Err(Slip::DataType) => Err(Slip::IllegalValue),
        Err(slip) => Err(slip),
    }
}

/// A mask of status bits, at most `most`.
pub(super) fn mask(text: &[u8], most: u16) -> Result<u16, Slip> {
    let value = number(text, "")?.round();
    if !(0.0..=f64::from(most)).contains(&value) {
        return Err(Slip::OutOfRange);
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // within a mask
    let mask = value as u16;
    Ok(mask)
}

/// A number as it is answered: NR2, or NR3 with a sign and two digits of exponent.
pub(super) fn answered(value: f64, decimals: usize, exponents: bool) -> String {
    if !exponents {
        return format!("{value:.decimals$}");
    }
    let text = format!("{value:+.decimals$E}");
    let (mantissa, exponent) = text.split_once('E').unwrap_or((&text, "0"));
    let exponent: i32 = exponent.parse().unwrap_or(0);
    format!("{mantissa}E{exponent:+03}")
}
