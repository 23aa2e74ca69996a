//! How strong an acid is and how dense: the two acids of a bath.
//!
//! Densities at 20 °C: CRC Handbook of Chemistry and Physics, 102nd edition, "Concentrative
//! properties of aqueous solutions". Sulfuric acid is densest near 97 %, so a density does not say
//! which side of that it is on.

use super::density::sulfuric_ratio;
use super::fault::BathFault;
use crate::units::{Density, Fraction, Temperature};

/// An acid that is bought by strength.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Acid {
    /// H₂SO₄.
    Sulfuric,
    /// HCl in water.
    Hydrochloric,
}

/// Mass percent and g/mL at 20 °C.
type Row = (f64, f64);

/// The strongest that the formula for the change with temperature holds for.
const MODEL_END: f64 = 0.78;
/// Change of the density of stronger sulfuric acid, g/mL per kelvin: handbook tables at 20 and
/// 30 °C, from memory.
const STRONG_SLOPE: f64 = -1.0e-3;
/// Change of the density of hydrochloric acid of 30 to 38 %, g/mL per kelvin (handbook tables, from
/// memory).
const HYDROCHLORIC_SLOPE: f64 = -0.6e-3;

const SULFURIC: [Row; 59] = [
    (0.0, 0.9982),
    (0.5, 1.0016),
    (1.0, 1.0049),
    (2.0, 1.0116),
    (3.0, 1.0183),
    (4.0, 1.0250),
    (5.0, 1.0318),
    (6.0, 1.0385),
    (7.0, 1.0453),
    (8.0, 1.0522),
    (9.0, 1.0591),
    (10.0, 1.0661),
    (11.0, 1.0731),
    (12.0, 1.0802),
    (13.0, 1.0874),
    (14.0, 1.0947),
    (15.0, 1.1020),
    (16.0, 1.1094),
    (17.0, 1.1169),
    (18.0, 1.1245),
    (19.0, 1.1321),
    (20.0, 1.1398),
    (22.0, 1.1554),
    (24.0, 1.1714),
    (26.0, 1.1872),
    (28.0, 1.2031),
    (30.0, 1.2191),
    (32.0, 1.2353),
    (34.0, 1.2518),
    (36.0, 1.2685),
    (38.0, 1.2855),
    (40.0, 1.3028),
    (42.0, 1.3205),
    (44.0, 1.3386),
    (46.0, 1.3570),
    (48.0, 1.3759),
    (50.0, 1.3952),
    (52.0, 1.4149),
    (54.0, 1.4351),
    (56.0, 1.4558),
    (58.0, 1.4770),
    (60.0, 1.4987),
    (64.0, 1.5421),
    (68.0, 1.5874),
    (70.0, 1.6105),
    (72.0, 1.6338),
    (74.0, 1.6574),
    (76.0, 1.6810),
    (80.0, 1.7272),
    (82.0, 1.7491),
    (84.0, 1.7693),
    (86.0, 1.7872),
    (88.0, 1.8022),
    (90.0, 1.8144),
    (92.0, 1.8240),
    (94.0, 1.8312),
    (96.0, 1.8355),
    (98.0, 1.8361),
    (100.0, 1.8305),
];

const HYDROCHLORIC: [Row; 17] = [
    (0.0, 0.9982),
    (1.0, 1.0031),
    (2.0, 1.0081),
    (5.0, 1.0228),
    (10.0, 1.0476),
    (15.0, 1.0726),
    (20.0, 1.0980),
    (22.0, 1.1083),
    (24.0, 1.1185),
    (26.0, 1.1288),
    (28.0, 1.1391),
    (30.0, 1.1492),
    (32.0, 1.1594),
    (34.0, 1.1693),
    (36.0, 1.1791),
    (38.0, 1.1886),
    (40.0, 1.1977),
];

impl Acid {
    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Sulfuric => "sulfuric acid",
            Self::Hydrochloric => "hydrochloric acid",
        }
    }

    const fn rows(self) -> &'static [Row] {
        match self {
            Self::Sulfuric => &SULFURIC,
            Self::Hydrochloric => &HYDROCHLORIC,
        }
    }

    /// The strongest the table knows.
    #[must_use]
    pub fn strongest(self) -> Fraction {
        let (percent, _) = self.rows()[self.rows().len() - 1];
        Fraction::from_percent(percent)
    }

    /// Checks a strength by mass.
    ///
    /// # Errors
    /// [`BathFault::Strength`] where no such acid can be.
    pub fn checked(self, strength: Fraction) -> Result<Fraction, BathFault> {
        let strongest = self.strongest();
        if strength > Fraction::ZERO && strength <= strongest {
            return Ok(strength);
        }
        Err(BathFault::Strength {
            acid: self,
            found: strength,
        })
    }

    /// Density of the acid of a strength that was [`Acid::checked`], at a temperature.
    #[must_use]
    pub fn density(self, strength: Fraction, at: Temperature) -> Density {
        let percent = strength.percent();
        let rows = self.rows();
        let end = rows
            .iter()
            .position(|(known, _)| *known >= percent)
            .unwrap_or(rows.len() - 1)
            .max(1);
        let ((p0, d0), (p1, d1)) = (rows[end - 1], rows[end]);
        let at20 = d0 + (d1 - d0) * (percent - p0) / (p1 - p0);
        Density::from_g_per_cm3(self.warmed(at20, strength.share(), at))
    }

    /// A density at 20 °C, taken to another temperature.
    fn warmed(self, at20: f64, share: f64, at: Temperature) -> f64 {
        match self {
            Self::Sulfuric if share <= MODEL_END => at20 * sulfuric_ratio(share, at),
            Self::Sulfuric => at20 + STRONG_SLOPE * (at.c() - 20.0),
            Self::Hydrochloric => at20 + HYDROCHLORIC_SLOPE * (at.c() - 20.0),
        }
    }

    /// The strength of the acid that has a density at a temperature.
    ///
    /// # Errors
    /// [`BathFault::NoStrength`] where the table has no such density, and
    /// [`BathFault::TwoStrengths`] where it has it twice.
    pub fn strength(self, density: Density, at: Temperature) -> Result<Fraction, BathFault> {
        let wanted = density.g_per_cm3();
        let warm = |(percent, at20): Row| (percent, self.warmed(at20, percent / 100.0, at));
        let mut found: Vec<f64> = Vec::new();
        for pair in self.rows().windows(2) {
            let ((p0, d0), (p1, d1)) = (warm(pair[0]), warm(pair[1]));
            let (low, high) = (d0.min(d1), d0.max(d1));
            if !(low..=high).contains(&wanted) || low == high {
                continue;
            }
            let percent = p0 + (p1 - p0) * (wanted - d0) / (d1 - d0);
            if !found.iter().any(|known| (known - percent).abs() < 1e-6) {
                found.push(percent);
            }
        }
        match found.as_slice() {
            [one] if *one > 0.0 => Ok(Fraction::from_percent(*one)),
            [low, high, ..] => Err(BathFault::TwoStrengths {
                acid: self,
                density,
                low: Fraction::from_percent(*low),
                high: Fraction::from_percent(*high),
            }),
            [_] | [] => {
                let ends = self.rows().iter().map(|row| warm(*row).1);
                let most = ends.clone().fold(f64::MIN, f64::max);
                let least = ends.fold(f64::MAX, f64::min);
                Err(BathFault::NoStrength {
                    acid: self,
                    found: density,
                    least: Density::from_g_per_cm3(least),
                    most: Density::from_g_per_cm3(most),
                })
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const AT20: Temperature = Temperature::from_c(20.0);

    #[test]
    fn densities_are_those_of_the_handbooks() {
        // Perry's Chemical Engineers' Handbook, 20 °C, from memory; CRC for the rest.
        let perry = [
            (37.0, 1.2769),
            (50.0, 1.3951),
            (93.0, 1.8279),
            (95.0, 1.8337),
            (96.0, 1.8355),
            (98.0, 1.8361),
            (62.0, 1.5200),
            (66.0, 1.5646),
            (78.0, 1.7043),
        ];
        for (percent, expected) in perry {
            let found = Acid::Sulfuric.density(Fraction::from_percent(percent), AT20);
            let off = found.g_per_cm3() / expected - 1.0;
            assert!(off.abs() < 5e-4, "{percent} %: {found:?}");
        }
        // CRC: 37 % between 36 % (1.1791) and 38 % (1.1886); PyPI thermo 0.6.1 says 1.184603.
        let found = Acid::Hydrochloric.density(Fraction::from_percent(37.0), AT20);
        assert!((found.g_per_cm3() - 1.1839).abs() < 2e-4, "{found:?}");
    }

    #[test]
    fn battery_acid_has_the_strength_of_an_independent_formula() {
        // Myhre 1998 by PyPI chempy 0.10.2, inverted with scipy's brentq, at 20 °C.
        let rows = [
            (1.215, 29.52),
            (1.250, 33.76),
            (1.265, 35.55),
            (1.280, 37.31),
            (1.285, 37.90),
            (1.300, 39.63),
        ];
        for (density, percent) in rows {
            let density = Density::from_g_per_cm3(density);
            let found = Acid::Sulfuric.strength(density, AT20).unwrap().percent();
            assert!((found / percent - 1.0).abs() < 5e-3, "{found}, {percent}");
        }
    }

    #[test]
    fn battery_acid_thins_with_warmth_as_hydrometers_are_corrected() {
        // Battery practice: 0.0007 g/mL a kelvin at 1.28 (common practice, from memory).
        let full = Fraction::from_percent(37.3);
        let cold = Acid::Sulfuric.density(full, AT20);
        let warm = Acid::Sulfuric.density(full, Temperature::from_c(30.0));
        let slope = (warm - cold).g_per_cm3() / 10.0;
        assert!((slope + 0.0007).abs() < 1e-4, "{slope}");
    }

    #[test]
    fn a_density_near_the_maximum_has_two_strengths_and_beyond_it_none() {
        // CRC: 96 % has 1.8355, and the curve falls from 98 % (1.8361) to 100 % (1.8305).
        let ask = |density| Acid::Sulfuric.strength(Density::from_g_per_cm3(density), AT20);
        let Err(BathFault::TwoStrengths { low, high, .. }) = ask(1.834) else {
            panic!("{:?}", ask(1.834));
        };
        assert!((94.0..96.0).contains(&low.percent()), "{low:?}");
        assert!((98.0..100.0).contains(&high.percent()), "{high:?}");
        assert!(matches!(ask(1.84), Err(BathFault::NoStrength { .. })));
        assert!(matches!(ask(0.99), Err(BathFault::NoStrength { .. })));
        assert!(matches!(ask(1.82), Ok(one) if (one.percent() - 91.2).abs() < 0.3));
        for percent in [0.0, -3.0, 101.0] {
            assert!(
                Acid::Sulfuric
                    .checked(Fraction::from_percent(percent))
                    .is_err()
            );
        }
        assert!(
            Acid::Hydrochloric
                .checked(Fraction::from_percent(41.0))
                .is_err()
        );
    }
}
