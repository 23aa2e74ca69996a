//! Quantities as people write them: a number and a unit, `"1.5 A/dm2"`.

use super::{
    Area, Charge, Concentration, Current, CurrentDensity, Density, Dilution, Dosage, Fraction,
    Length, Mass, Resistance, Span, Speed, SurfaceMass, Temperature, Voltage, Volume,
};
use std::fmt;

/// One unit a quantity may be written in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unit {
    /// As it is written.
    pub text: &'static str,
    /// How many SI units it is.
    pub si: f64,
}

/// A quantity that people write.
pub trait Quantity: Copy + fmt::Debug {
    /// What it is, in words: "a thickness".
    const KIND: &'static str;
    /// The units it may be written in, the usual one first.
    const UNITS: &'static [Unit];
    /// Two or three ways to write it, for messages.
    const EXAMPLES: &'static str;
    /// From a number of SI units.
    fn from_si(value: f64) -> Self;
    /// The number of SI units it is.
    fn to_si(self) -> f64;

    /// Reads a number and a unit, with or without a blank between them.
    ///
    /// # Errors
    /// [`QuantityError`] names what is missing or wrong, and what may be written instead.
    fn read(text: &str) -> Result<Self, QuantityError> {
        let trimmed = text.trim();
        let split = number_end(trimmed);
        let (number, unit) = trimmed.split_at(split);
        let Ok(value) = number.trim().parse::<f64>() else {
            return Err(QuantityError::no_number::<Self>(text));
        };
        if !value.is_finite() {
            return Err(QuantityError::no_number::<Self>(text));
        }
        let unit = unit.trim();
        if unit.is_empty() {
            return Err(QuantityError::no_unit::<Self>(text));
        }
        match Self::UNITS.iter().find(|known| known.text == unit) {
            Some(known) => Ok(Self::from_si(value * known.si)),
            None => Err(QuantityError::wrong_unit::<Self>(unit)),
        }
    }
}

/// Where the number at the front of a text ends; an `e` counts only when digits follow it.
fn number_end(text: &str) -> usize {
    let bytes = text.as_bytes();
    let mut at = usize::from(matches!(bytes.first(), Some(b'+' | b'-')));
    while matches!(bytes.get(at), Some(b'0'..=b'9' | b'.')) {
        at += 1;
    }
    if matches!(bytes.get(at), Some(b'e' | b'E')) {
        let sign = usize::from(matches!(bytes.get(at + 1), Some(b'+' | b'-')));
        let mut end = at + 1 + sign;
        while matches!(bytes.get(end), Some(b'0'..=b'9')) {
            end += 1;
        }
        if end > at + 1 + sign {
            at = end;
        }
    }
    at
}

/// Why a text is not the quantity that was wanted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct QuantityError {
    /// What was found.
    pub found: String,
    /// What would be accepted.
    pub allowed: String,
}

impl QuantityError {
    fn allowed<Q: Quantity>() -> String {
        format!("{}, for example {}", Q::KIND, Q::EXAMPLES)
    }

    fn no_number<Q: Quantity>(text: &str) -> Self {
        Self {
            found: format!("`{text}`, which has no number"),
            allowed: Self::allowed::<Q>(),
        }
    }

    fn no_unit<Q: Quantity>(text: &str) -> Self {
        Self {
            found: format!("`{}` without a unit", text.trim()),
            allowed: Self::allowed::<Q>(),
        }
    }

    fn wrong_unit<Q: Quantity>(unit: &str) -> Self {
        let units: Vec<&str> = Q::UNITS.iter().map(|known| known.text).collect();
        Self {
            found: format!("the unit `{unit}`, which is no unit of {}", Q::KIND),
            allowed: format!("{}; units: {}", Self::allowed::<Q>(), units.join(", ")),
        }
    }
}

impl fmt::Display for QuantityError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "found {}; expected {}", self.found, self.allowed)
    }
}

impl std::error::Error for QuantityError {}

/// Gives a quantity its written units.
macro_rules! written {
    ($name:ident, $kind:literal, $examples:literal, $($text:literal = $si:expr),+ $(,)?) => {
        impl Quantity for $name {
            const KIND: &'static str = $kind;
            const UNITS: &'static [Unit] = &[$(Unit { text: $text, si: $si }),+];
            const EXAMPLES: &'static str = $examples;
            fn from_si(value: f64) -> Self { $name::from_si(value) }
            fn to_si(self) -> f64 { self.si() }
        }
        impl std::str::FromStr for $name {
            type Err = QuantityError;
            fn from_str(text: &str) -> Result<Self, QuantityError> { Self::read(text) }
        }
    };
}

const INCH: f64 = 0.0254;
const FOOT: f64 = 0.3048;
const POUND: f64 = 0.453_592_37;
const OUNCE: f64 = POUND / 16.0;
const US_GALLON: f64 = 3.785_411_784e-3;

written!(
    Current,
    "a current",
    "\"1.5 A\" or \"300 mA\"",
    "A" = 1.0,
    "mA" = 1e-3
);
written!(
    Voltage,
    "a voltage",
    "\"2.5 V\" or \"300 mV\"",
    "V" = 1.0,
    "mV" = 1e-3
);
written!(
    Resistance,
    "a resistance",
    "\"40 ohm\"",
    "ohm" = 1.0,
    "Ω" = 1.0,
    "kohm" = 1e3,
    "mohm" = 1e-3
);
written!(
    Charge,
    "a charge",
    "\"4.5 Ah\"",
    "Ah" = 3600.0,
    "mAh" = 3.6,
    "C" = 1.0
);
written!(
    Length,
    "a length",
    "\"250 um\" or \"22 mm\"",
    "um" = 1e-6,
    "µm" = 1e-6,
    "mm" = 1e-3,
    "cm" = 1e-2,
    "m" = 1.0,
    "in" = INCH,
    "mil" = INCH * 1e-3,
);
written!(
    Speed,
    "a speed",
    "\"15 mm/h\" or \"0.5 mm/min\"",
    "mm/h" = 1e-3 / 3600.0,
    "mm/min" = 1e-3 / 60.0,
    "cm/h" = 1e-2 / 3600.0,
    "um/s" = 1e-6
);
written!(
    Area,
    "an area",
    "\"45 cm2\" or \"4 mm2\"",
    "cm2" = 1e-4,
    "cm²" = 1e-4,
    "mm2" = 1e-6,
    "mm²" = 1e-6,
    "dm2" = 1e-2,
    "dm²" = 1e-2,
    "m2" = 1.0,
    "in2" = INCH * INCH,
    "ft2" = FOOT * FOOT,
);
written!(
    Volume,
    "a volume",
    "\"6 L\" or \"250 mL\"",
    "L" = 1e-3,
    "l" = 1e-3,
    "mL" = 1e-6,
    "ml" = 1e-6,
    "cm3" = 1e-6,
    "mm3" = 1e-9,
    "m3" = 1.0,
    "gal" = US_GALLON,
);
written!(
    Mass,
    "a mass",
    "\"4.2 g\" or \"1.5 kg\"",
    "g" = 1e-3,
    "mg" = 1e-6,
    "kg" = 1.0,
    "oz" = OUNCE,
    "lb" = POUND,
);
written!(
    Density,
    "a density",
    "\"1.28 g/mL\"",
    "g/mL" = 1e3,
    "g/cm3" = 1e3,
    "kg/L" = 1e3,
    "kg/m3" = 1.0
);
written!(
    CurrentDensity,
    "a current density",
    "\"1.5 A/dm2\" or \"14 A/ft2\"",
    "A/dm2" = 100.0,
    "A/dm²" = 100.0,
    "A/ft2" = 1.0 / (FOOT * FOOT),
    "mA/cm2" = 10.0,
    "mA/cm²" = 10.0,
    "A/m2" = 1.0,
);
written!(
    Span,
    "a time",
    "\"40 min\" or \"2 h\"",
    "s" = 1.0,
    "ms" = 1e-3,
    "min" = 60.0,
    "h" = 3600.0,
    "d" = 86400.0,
);
written!(
    Concentration,
    "a concentration",
    "\"60 g/L\" or \"90 mg/L\"",
    "g/L" = 1.0,
    "g/l" = 1.0,
    "mg/L" = 1e-3,
    "mg/l" = 1e-3,
    "oz/gal" = OUNCE / US_GALLON,
);
written!(
    Temperature,
    "a temperature",
    "\"22 C\"",
    "C" = 1.0,
    "°C" = 1.0
);
written!(Fraction, "a percentage", "\"10 %\"", "%" = 1e-2);
written!(
    SurfaceMass,
    "a mass per area",
    "\"4.1 mg/cm2\"",
    "mg/cm2" = 1e-2,
    "mg/cm²" = 1e-2,
    "g/m2" = 1e-3
);

written!(
    Dosage,
    "a volume for a charge",
    "\"0.15 mL/Ah\" or \"150 mL/kAh\"",
    "mL/Ah" = 1e-6 / 3600.0,
    "mL/kAh" = 1e-9 / 3600.0,
);
written!(
    Dilution,
    "a volume in a litre",
    "\"0.25 mL/L\"",
    "mL/L" = 1e-3,
    "ml/l" = 1e-3
);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_number_and_unit_with_or_without_a_blank() {
        assert_eq!("250 um".parse::<Length>(), Ok(Length::from_um(250.0)));
        assert_eq!("250um".parse::<Length>(), Ok(Length::from_um(250.0)));
        assert_eq!("1e-1 mm".parse::<Length>().unwrap().um().round(), 100.0);
        assert_eq!("-3 C".parse::<Temperature>(), Ok(Temperature::from_c(-3.0)));
    }

    #[test]
    fn ampere_per_square_foot_matches_pint() {
        // pint 0.24.4: 20 A/ft2 = 2.15278208 A/dm2.
        let density: CurrentDensity = "20 A/ft2".parse().unwrap();
        assert!((density.a_per_dm2() - 2.152_782_08).abs() < 1e-8);
        // pint 0.24.4: 1 oz/US gal = 7.48915171 g/L.
        let strength: Concentration = "1 oz/gal".parse().unwrap();
        assert!((strength.g_per_l() - 7.489_151_71).abs() < 1e-8);
    }

    #[test]
    fn refuses_what_is_not_the_quantity() {
        for text in [
            "",
            "um",
            "250",
            "0.25",
            "nan um",
            "inf um",
            "250 g",
            "250 um um",
            "1..2 um",
        ] {
            assert!(text.parse::<Length>().is_err(), "{text}");
        }
        let slip = "1.5 A".parse::<CurrentDensity>().unwrap_err();
        assert!(slip.to_string().contains("A/dm2"), "{slip}");
    }
}
