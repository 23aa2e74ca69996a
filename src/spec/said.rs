//! Quantities and numbers as messages say them.

use crate::units::Quantity;

/// Something that has a range and can be said.
pub trait Said: Copy + PartialOrd {
    /// As a message says it, with its unit.
    fn said(self) -> String;
    /// Within a range, ends included.
    fn within(self, low: Self, high: Self) -> bool {
        low <= self && self <= high
    }
    /// The same number in another unit that lies between `low` and `high`, where a unit slip is
    /// likely.
    fn slip(written: &str, low: Self, high: Self) -> Option<String>;
}

impl Said for f64 {
    fn said(self) -> String {
        format!("{self}")
    }
    fn slip(_written: &str, _low: Self, _high: Self) -> Option<String> {
        None
    }
}

impl Said for u64 {
    fn said(self) -> String {
        format!("{self}")
    }
    fn slip(_written: &str, _low: Self, _high: Self) -> Option<String> {
        None
    }
}

impl<Q: Quantity + PartialOrd> Said for Q {
    fn said(self) -> String {
        let (number, unit) = in_best_unit(self);
        format!("{number} {unit}")
    }

    /// The ends have a slack of a billionth, so that "5000 um" is within "5 mm".
    fn within(self, low: Self, high: Self) -> bool {
        let (low, value, high) = (low.to_si(), self.to_si(), high.to_si());
        low - 1e-9 * low.abs() <= value && value <= high + 1e-9 * high.abs()
    }

    fn slip(written: &str, low: Self, high: Self) -> Option<String> {
        let letters = written.trim_matches(|c: char| c.is_alphanumeric() && !c.is_ascii_digit());
        let number = letters.split_whitespace().next()?;
        Q::UNITS.iter().find_map(|unit| {
            let other = format!("{number} {}", unit.text);
            let value = Q::read(&other).ok()?;
            (low <= value && value <= high).then_some(other)
        })
    }
}

/// The metric units a quantity climbs through in messages, smallest first.
fn ladder(usual: &'static str) -> &'static [&'static str] {
    match usual {
        "um" => &["um", "mm", "m"],
        "s" => &["s", "min", "h"],
        "A" => &["mA", "A"],
        "V" => &["mV", "V"],
        "g" => &["mg", "g", "kg"],
        "L" => &["mL", "L"],
        "cm2" => &["mm2", "cm2", "m2"],
        "Ah" => &["mAh", "Ah"],
        _ => &[],
    }
}

/// The number, without an idle tail of digits, and the largest unit in which it is 1 or more.
fn in_best_unit<Q: Quantity>(quantity: Q) -> (f64, &'static str) {
    let si = quantity.to_si();
    let names = ladder(Q::UNITS[0].text);
    let known = |name: &&str| Q::UNITS.iter().find(|unit| unit.text == *name);
    let fits = |unit: &&crate::units::Unit| si.abs() >= unit.si * (1.0 - 1e-9);
    let steps = || names.iter().filter_map(known);
    let unit = steps()
        .rfind(fits)
        .or_else(|| steps().next())
        .unwrap_or(&Q::UNITS[0]);
    ((si / unit.si * 1e6).round() / 1e6, unit.text)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Area, CurrentDensity, Length, Span};

    #[test]
    fn says_quantities_in_the_unit_people_use() {
        assert_eq!(Length::from_um(1.0).said(), "1 um");
        assert_eq!(Length::from_mm(5.0).said(), "5 mm");
        assert_eq!(Length::from_um(50.0).said(), "50 um");
        assert_eq!(CurrentDensity::from_a_per_dm2(0.001).said(), "0.001 A/dm2");
        assert_eq!(Span::from_h(1.5).said(), "1.5 h");
        assert_eq!(Area::from_cm2(4.0).said(), "4 cm2");
    }

    #[test]
    fn sees_the_unit_that_was_meant() {
        let (low, high) = (Length::from_um(1.0), Length::from_mm(5.0));
        assert_eq!(Length::slip("250 mm", low, high), Some("250 um".to_owned()));
        assert_eq!(Length::slip("250mm", low, high), Some("250 um".to_owned()));
        assert_eq!(Length::slip("-250 mm", low, high), None);
    }

    #[test]
    fn the_ends_belong_to_a_range_in_any_unit() {
        let (low, high) = (Length::from_um(1.0), Length::from_mm(5.0));
        for text in ["1 um", "0.001 mm", "1e-6 m", "5000 um", "5 mm", "0.005 m"] {
            assert!(Length::read(text).unwrap().within(low, high), "{text}");
        }
        for text in ["0.999 um", "5.001 mm", "0 um", "-3 um"] {
            assert!(!Length::read(text).unwrap().within(low, high), "{text}");
        }
    }
}
