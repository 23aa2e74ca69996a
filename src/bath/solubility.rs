//! What will not stay dissolved.

use super::chemical::component;
use super::density::{anhydrous, solution};
use crate::units::{Concentration, Temperature};

/// Celsius, and mass percent of anhydrous copper sulfate at saturation: CRC Handbook, aqueous
/// solubility of inorganic compounds at various temperatures, from memory.
const COPPER_SULFATE: [(f64, f64); 8] = [
    (0.0, 12.4),
    (10.0, 14.4),
    (20.0, 16.7),
    (25.0, 18.0),
    (30.0, 19.3),
    (40.0, 22.2),
    (50.0, 25.4),
    (60.0, 28.8),
];
/// Celsius, and grams of boric acid that 100 g of water hold: handbooks, from memory.
const BORIC_ACID: [(f64, f64); 7] = [
    (0.0, 2.52),
    (10.0, 3.49),
    (20.0, 4.72),
    (30.0, 6.23),
    (40.0, 8.08),
    (50.0, 10.27),
    (60.0, 12.97),
];
/// Share of the solubility of copper sulfate that each g/L of sulfuric acid takes (common ion):
/// at 25 °C about 86 g/L of copper without acid, 65 to 70 with 100 g/L and 45 to 50 with 200. From
/// memory, ±15 %.
const COMMON_ION: f64 = 0.0022;
/// How far the common-ion figure may be off.
const COMMON_ION_DOUBT: f64 = 0.15;

/// How sure it is that something stays dissolved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dissolves {
    /// It does.
    Yes,
    /// It lies within the doubt of the figure.
    Perhaps,
    /// It does not.
    No,
}

fn between(rows: &[(f64, f64)], at: f64) -> f64 {
    let end = rows
        .iter()
        .position(|(t, _)| *t >= at)
        .unwrap_or(rows.len() - 1)
        .max(1);
    let ((t0, y0), (t1, y1)) = (rows[end - 1], rows[end]);
    y0 + (y1 - y0) * (at.clamp(rows[0].0, rows[rows.len() - 1].0) - t0) / (t1 - t0)
}

/// The most copper sulfate pentahydrate that a litre of solution holds without acid.
#[must_use]
pub fn copper_sulfate(at: Temperature) -> Concentration {
    let share = between(&COPPER_SULFATE, at.c()) / 100.0;
    // The litre weighs what a saturated solution weighs: found with its own contents.
    let mut held = Concentration::from_g_per_l(300.0);
    for _ in 0..60 {
        let density = solution([(component::COPPER, held)], at).map_or(1190.0, |it| it.kg_per_m3());
        held = Concentration::from_g_per_l(density * share / anhydrous());
    }
    held
}

/// The same with sulfuric acid in it: the common ion lowers it. A coarse figure.
#[must_use]
pub fn copper_sulfate_in_acid(at: Temperature, acid: Concentration) -> Concentration {
    copper_sulfate(at) * (1.0 - COMMON_ION * acid.g_per_l()).max(0.1)
}

/// Whether so much copper sulfate pentahydrate stays dissolved beside the acid.
#[must_use]
pub fn copper_dissolves(copper: Concentration, acid: Concentration, at: Temperature) -> Dissolves {
    let most = copper_sulfate_in_acid(at, acid);
    if copper > copper_sulfate(at) || copper > most * (1.0 + COMMON_ION_DOUBT) {
        Dissolves::No
    } else if copper > most * (1.0 - COMMON_ION_DOUBT) {
        Dissolves::Perhaps
    } else {
        Dissolves::Yes
    }
}

/// The highest temperature, to 1 °C, at which copper sulfate may crystallise; `None` above 0 °C.
#[must_use]
pub fn crystallises_at(copper: Concentration, acid: Concentration) -> Option<Temperature> {
    (0..=40)
        .rev()
        .map(|c| Temperature::from_c(f64::from(c)))
        .find(|at| copper_dissolves(copper, acid, *at) != Dissolves::Yes)
}

/// The most boric acid that a litre holds; a litre of bath is taken to hold 0.9 L of water.
#[must_use]
pub fn boric_acid(at: Temperature) -> Concentration {
    Concentration::from_g_per_l(between(&BORIC_ACID, at.c()) * 10.0 * 0.9)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn copper_sulfate_saturates_as_tabled() {
        // Grams of pentahydrate in a litre of saturated solution: CRC solubilities with densities
        // of PyPI thermo 0.6.1 (above 18 % they extrapolate: 1 %).
        let rows = [
            (0.0, 221.0),
            (10.0, 262.0),
            (20.0, 311.0),
            (25.0, 339.0),
            (40.0, 435.0),
        ];
        for (at, expected) in rows {
            let found = copper_sulfate(Temperature::from_c(at)).g_per_l();
            assert!((found / expected - 1.0).abs() < 0.01, "{at} °C: {found}");
        }
    }

    #[test]
    fn acid_makes_it_hold_less() {
        // At 25 °C: 65 to 70 g/L of copper beside 100 g/L of acid, 45 to 50 beside 200 (memory).
        let at = Temperature::from_c(25.0);
        for (acid, low, high) in [(100.0, 65.0, 70.0), (200.0, 45.0, 50.0)] {
            let held = copper_sulfate_in_acid(at, Concentration::from_g_per_l(acid));
            let copper = held.g_per_l() * 63.546 / 249.68;
            assert!((low..=high).contains(&copper), "{acid}: {copper}");
        }
    }

    #[test]
    fn a_usual_bath_dissolves_at_20_and_a_cold_one_may_not() {
        // 200 to 220 g/L with 50 to 60 g/L of acid: safe at 20 °C, close to crystallising at 5 to
        // 10 °C (from memory).
        let ask = |copper, acid, at| {
            copper_dissolves(
                Concentration::from_g_per_l(copper),
                Concentration::from_g_per_l(acid),
                Temperature::from_c(at),
            )
        };
        assert_eq!(ask(200.0, 50.0, 20.0), Dissolves::Yes);
        assert_ne!(ask(220.0, 60.0, 5.0), Dissolves::Yes);
        assert_eq!(ask(75.0, 190.0, 20.0), Dissolves::Yes);
        assert_eq!(ask(330.0, 0.0, 20.0), Dissolves::No);
        assert_eq!(ask(240.0, 200.0, 20.0), Dissolves::No);
    }
}
