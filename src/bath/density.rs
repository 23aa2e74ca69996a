//! Density of what is in the tank, from what is dissolved in it.
//!
//! Laliberté and Cooper, J. Chem. Eng. Data 49 (2004) 1141, coefficients of Laliberté, J. Chem.
//! Eng. Data 54 (2009) 1725: each solute has an apparent density in the water of the mixture, and
//! the specific volumes add up. 10 to 60 °C, up to 28 % copper sulfate and 78 % sulfuric acid.

use super::chemical::{component, molar};
use crate::units::{Concentration, Density, Temperature};

/// c0 to c4 of one solute.
type Coefficients = [f64; 5];

const COPPER_SULFATE: Coefficients = [
    -0.000_001_120_782_94,
    0.000_000_606_850_591,
    -0.118_863_232_464,
    0.003_780_500_758_61,
    4_763.960_739_65,
];
const SULFURIC_ACID: Coefficients = [
    70.839_515_234_7,
    142.352_693_909,
    0.687_794_596_188,
    0.006_492_996_832_07,
    1_667.238_646_3,
];

/// More of a substance without coefficients than this, and no density is told.
const TRACE: f64 = 2.0;

/// Density of pure water: Laliberté and Cooper 2004, equation 5, kg/m³.
#[must_use]
pub fn water(at: Temperature) -> Density {
    let t = at.c();
    let top = (((((-2.805_425_3e-10 * t + 1.055_630_2e-7) * t - 4.617_046_1e-5) * t
        - 0.007_987_040_1)
        * t
        + 16.945_176)
        * t)
        + 999.839_52;
    Density::from_kg_per_m3(top / (1.0 + 0.016_879_85 * t))
}

/// Apparent density of a solute, kg/m³, where all solutes are this share of the mixture.
fn apparent(c: &Coefficients, solutes: f64, at: Temperature) -> f64 {
    let t = at.c();
    let warm = t + c[4];
    (c[0] * solutes + c[1]) * (1e-6 * warm * warm).exp() / (solutes + c[2] + c[3] * t)
}

/// Density of a mixture of copper sulfate (anhydrous) and sulfuric acid in water, by mass shares.
fn mixture(copper: f64, acid: f64, at: Temperature) -> f64 {
    let left = 1.0 - copper - acid;
    let volume = left / water(at).kg_per_m3()
        + copper / apparent(&COPPER_SULFATE, 1.0 - left, at)
        + acid / apparent(&SULFURIC_ACID, 1.0 - left, at);
    1.0 / volume
}

/// Density of sulfuric acid at a temperature over its density at 20 °C.
pub(super) fn sulfuric_ratio(share: f64, at: Temperature) -> f64 {
    mixture(0.0, share, at) / mixture(0.0, share, Temperature::from_c(20.0))
}

/// Density of a bath; `None` where something is dissolved in it that the model does not know.
#[must_use]
pub fn solution<'n>(
    contents: impl IntoIterator<Item = (&'n str, Concentration)>,
    at: Temperature,
) -> Option<Density> {
    let (mut copper, mut acid) = (0.0, 0.0);
    for (name, held) in contents {
        match name {
            component::COPPER => copper += held.g_per_l() * anhydrous(),
            component::ACID => acid += held.g_per_l(),
            _ if held.g_per_l() > TRACE => return None,
            _ => {}
        }
    }
    // Shares need the density, and it the shares: each round leaves a fifth of the error.
    let mut density = 1000.0;
    for _ in 0..40 {
        density = mixture(copper / density, acid / density, at);
    }
    (density.is_finite() && copper + acid < 0.6 * density).then(|| Density::from_kg_per_m3(density))
}

/// Grams of anhydrous copper sulfate in a gram of the pentahydrate.
pub(super) const fn anhydrous() -> f64 {
    molar::COPPER_SULFATE / molar::COPPER_SULFATE_PENTAHYDRATE
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn mixtures_are_as_dense_as_a_reference_library_says() {
        // PyPI thermo 0.6.1, `Laliberte_density` of 200 g/L pentahydrate and 50 g/L acid, kg/m³.
        for (at, expected) in [(20.0, 1153.94), (25.0, 1152.06), (40.0, 1145.50)] {
            let held = [
                (component::COPPER, Concentration::from_g_per_l(200.0)),
                (component::ACID, Concentration::from_g_per_l(50.0)),
            ];
            let found = solution(held, Temperature::from_c(at)).unwrap();
            assert!(
                (found.kg_per_m3() / expected - 1.0).abs() < 1e-4,
                "{found:?}"
            );
        }
    }

    #[test]
    fn each_solute_alone_agrees_with_the_handbook() {
        // CRC Handbook, 20 °C: 10 % H2SO4 1.0661, 30 % 1.2191; 18 % CuSO4 1.2059; water 0.9982.
        let at = Temperature::from_c(20.0);
        assert!((water(at).g_per_cm3() - 0.9982).abs() < 1e-4);
        for (copper, acid, expected) in
            [(0.0, 0.1, 1.0661), (0.0, 0.3, 1.2191), (0.18, 0.0, 1.2059)]
        {
            let found = mixture(copper, acid, at) / 1000.0;
            assert!((found / expected - 1.0).abs() < 5e-3, "{found}, {expected}");
        }
    }

    #[test]
    fn what_the_model_does_not_know_has_no_density() {
        let held = [("boric acid", Concentration::from_g_per_l(35.0))];
        assert_eq!(solution(held, Temperature::from_c(20.0)), None);
    }
}
