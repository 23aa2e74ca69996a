//! What a titration says: from millilitres in the burette to grams in a litre.

use super::chemical::{component, molar};
use super::fault::BathFault;
use super::put::split;
use crate::units::{Concentration, Quantity, Volume};

/// What is titrated, and with what.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Titrated {
    /// Copper with EDTA, one to one (PAN or murexide shows the end).
    CopperByEdta,
    /// Copper with iodide and thiosulfate: 2 Cu²⁺ set free one I₂, which takes two thiosulfate.
    CopperByThiosulfate,
    /// Sulfuric acid with sodium hydroxide to methyl orange, one to two.
    Acid,
    /// Chloride with silver nitrate, one to one.
    Chloride,
}

impl Titrated {
    /// The component it tells of.
    #[must_use]
    pub const fn component(self) -> &'static str {
        match self {
            Self::CopperByEdta | Self::CopperByThiosulfate => component::COPPER,
            Self::Acid => component::ACID,
            Self::Chloride => component::CHLORIDE,
        }
    }

    /// Grams of the component for a mole of titrant.
    #[must_use]
    pub const fn grams_a_mole(self) -> f64 {
        match self {
            Self::CopperByEdta | Self::CopperByThiosulfate => molar::COPPER_SULFATE_PENTAHYDRATE,
            Self::Acid => molar::SULFURIC_ACID / 2.0,
            Self::Chloride => molar::CHLORIDE,
        }
    }
}

/// One titration.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Titration {
    /// Bath that was taken, before it was diluted.
    pub sample: Volume,
    /// Titrant to the end point, less the blank.
    pub titrant: Volume,
    /// Moles of titrant in a litre, by its label.
    pub normality: f64,
    /// True strength over the label's, found against a standard.
    pub factor: f64,
}

impl Titration {
    /// What a litre of the bath holds: normality × factor × titrant × grams a mole / sample.
    #[must_use]
    pub fn held(&self, what: Titrated) -> Concentration {
        let moles = self.normality * self.factor * self.titrant.l();
        Concentration::from_g_per_l(moles * what.grams_a_mole() / self.sample.l())
    }

    /// Reads `SAMPLE TITRANT NORMALITY [FACTOR]`: `1 mL 8.15 mL 0.1 N 1.005`.
    ///
    /// # Errors
    /// [`BathFault`] says what is missing or out of range.
    pub fn read(text: &str) -> Result<Self, BathFault> {
        let wanted = || BathFault::Said {
            what: format!(
                "{text:?}: wanted is SAMPLE TITRANT NORMALITY [FACTOR]: \
                 \"1 mL 8.15 mL 0.1 N 1.005\""
            ),
        };
        let (name, figures) = split(text);
        let (sample, titrant, normality, factor) = match figures.as_slice() {
            [sample, titrant, normality] => (sample, titrant, normality, None),
            [sample, titrant, normality, factor] => (sample, titrant, normality, Some(factor)),
            _ => return Err(wanted()),
        };
        if !name.is_empty() {
            return Err(wanted());
        }
        let volume = |text: &str, most: f64| {
            let read = Volume::read(text).map_err(|_| wanted())?;
            in_range(text, read.cm3(), [0.0, most], "mL").map(Volume::from_cm3)
        };
        let normal = normality
            .strip_suffix('N')
            .or_else(|| normality.strip_suffix("mol/L"))
            .or_else(|| normality.strip_suffix('M'))
            .and_then(|number| number.trim().parse().ok())
            .ok_or_else(wanted)?;
        let factor_text = factor.map_or("1", String::as_str);
        let factor = factor_text.parse().map_err(|_| wanted())?;
        Ok(Self {
            sample: volume(sample, 1000.0)?,
            titrant: volume(titrant, 1000.0)?,
            normality: in_range(normality, normal, [0.0, 10.0], "N")?,
            factor: in_range(factor_text, factor, [0.5, 2.0], "")?,
        })
    }
}

fn in_range(text: &str, number: f64, [low, high]: [f64; 2], unit: &str) -> Result<f64, BathFault> {
    if number > low && number <= high {
        return Ok(number);
    }
    Err(BathFault::Range {
        what: "a figure of the titration".to_owned(),
        found: text.to_owned(),
        allowed: format!("more than {low} and at most {high} {unit}")
            .trim()
            .to_owned(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const COPPER_IN_PENTAHYDRATE: f64 = 63.546 / 249.684_855;

    fn ask(text: &str, what: Titrated) -> f64 {
        Titration::read(text).unwrap().held(what).g_per_l()
    }

    #[test]
    fn eight_measured_titrations_come_out_as_printed() {
        // A titrator maker's application sheet of 5 April 2019, grams of copper a litre; the sheet
        // does not print its factors, 1.0050 and 0.9949 are inferred and reproduce all eight.
        let iodometric = [(9.623, 61.456), (9.622, 61.450), (9.632, 61.514)];
        for (titrant, expected) in iodometric {
            let text = format!("1 mL {titrant} mL 0.1 M 1.0050");
            let copper = ask(&text, Titrated::CopperByThiosulfate) * COPPER_IN_PENTAHYDRATE;
            assert!(
                (copper / expected - 1.0).abs() < 1e-4,
                "{copper}, {expected}"
            );
        }
        let edta = [
            (7.623, 9.639),
            (7.603, 9.614),
            (7.622, 9.638),
            (7.611, 9.624),
            (7.595, 9.603),
        ];
        for (titrant, expected) in edta {
            let text = format!("5 mL {titrant} mL 0.1 M 0.9949");
            let copper = ask(&text, Titrated::CopperByEdta) * COPPER_IN_PENTAHYDRATE;
            assert!(
                (copper / expected - 1.0).abs() < 2e-4,
                "{copper}, {expected}"
            );
        }
    }

    #[test]
    fn round_titrations_come_out_as_stoichiometry_has_it() {
        // By molar masses of PyPI molmass 2026.1.8.
        let cases = [
            ("1.00 mL 8.15 mL 0.1000 M", Titrated::CopperByEdta, 203.49),
            ("2.00 mL 2.45 mL 1.000 N", Titrated::Acid, 60.07),
            ("50 mL 0.95 mL 0.1000 N", Titrated::Chloride, 0.067_36),
            ("10 mL 1 mL 0.01 N", Titrated::Chloride, 0.035_453),
            ("5 mL 1 mL 0.1 N", Titrated::Acid, 0.980_78),
        ];
        for (text, what, expected) in cases {
            let found = ask(text, what);
            assert!((found / expected - 1.0).abs() < 2e-4, "{text}: {found}");
        }
    }

    #[test]
    fn what_no_burette_says_is_refused() {
        for text in [
            "",
            "1 mL 8 mL",
            "1 mL 8 mL 0.1",
            "1 mL -8 mL 0.1 N",
            "0 mL 8 mL 0.1 N",
            "1 mL 8 mL 0.1 N 3",
            "1 mL 8 mL 50 N",
            "1 g 8 mL 0.1 N",
            "x 1 mL 8 mL 0.1 N",
        ] {
            assert!(Titration::read(text).is_err(), "{text}");
        }
    }
}
