//! How well a copper bath conducts, from what is dissolved in it: a figure to check a bath and the
//! voltage over its gap against.
//!
//! Each solute alone has a published figure; the mixture is this project's estimate from the two,
//! within [`DOUBT`]: the acid's own conductivity, slowed by what copper sulfate does to viscosity,
//! and a share of the copper sulfate's, since its sulfate is held back by the acid's.

use super::chemical::{component, molar};
use super::density::{anhydrous, solution};
use crate::units::{Concentration, Temperature};

/// Where the figure holds, and where a conductivity meter is read.
pub const AT: Temperature = Temperature::from_c(25.0);
/// How far the figure of a mixture may be off, as a share of it.
pub const DOUBT: f64 = 0.15;

/// Mass percent of copper sulfate, without crystal water, alone in water, and S/m at 20 °C: CRC
/// Handbook of Chemistry and Physics, "Electrical conductivity of aqueous solutions".
const COPPER_SULFATE: [(f64, f64); 7] = [
    (0.0, 0.0),
    (0.5, 0.29),
    (1.0, 0.54),
    (2.0, 0.93),
    (5.0, 1.90),
    (10.0, 3.22),
    (15.0, 4.23),
];
/// Mass percent of the same, and its viscosity over that of water at 20 °C (1.002 mPa·s): CRC
/// Handbook, "Concentrative properties of aqueous solutions".
const THICKER: [(f64, f64); 6] = [
    (0.0, 1.0),
    (1.0, 1.034),
    (5.0, 1.219),
    (10.0, 1.540),
    (14.0, 1.885),
    (18.0, 2.444),
];
/// Growth of the copper sulfate's part from 20 to 25 °C: 1 to 2 % a kelvin (from memory).
const WARMER: f64 = 1.075;
/// Share of the copper sulfate's own conductivity that is left beside acid (an estimate).
const BESIDE_ACID: f64 = 0.6;
/// The most acid that the formula holds for, mol/m³.
const MOST_ACID: f64 = 5000.0;
/// More of anything else than this in a litre, and nothing is told, g.
const TRACE: f64 = 2.0;

/// Conductivity at [`AT`] of a bath that holds this, S/m; `None` without acid or copper sulfate,
/// with anything else in it, or outside the tables.
#[must_use]
pub fn conductivity(held: &[(String, Concentration)]) -> Option<f64> {
    let (mut copper, mut acid) = (None, None);
    for (name, held) in held {
        match name.as_str() {
            component::COPPER => copper = Some(*held),
            component::ACID => acid = Some(*held),
            _ if held.g_per_l() > TRACE => return None,
            _ => {}
        }
    }
    let (copper, acid) = copper.zip(acid)?;
    let mixture = [(component::COPPER, copper), (component::ACID, acid)];
    let density = solution(mixture, AT)?;
    let percent = 100.0 * copper.g_per_l() * anhydrous() / density.kg_per_m3();
    let slowed = of_acid(acid)? / between(&THICKER, percent)?;
    let own = between(&COPPER_SULFATE, percent)? * WARMER;
    let share = if acid > Concentration::ZERO {
        BESIDE_ACID
    } else {
        1.0
    };
    Some(slowed + share * own)
}

/// Sulfuric acid alone in water at 25 °C, S/m: the fit of Gu, Wang and Liaw, J. Electrochem. Soc.
/// 144 (1997) 2053 (the page from memory), up to 5 mol/L.
fn of_acid(acid: Concentration) -> Option<f64> {
    let c = acid.g_per_l() * 1e3 / molar::SULFURIC_ACID;
    (c <= MOST_ACID).then(|| c * (6.23 - 1.34e-4 * c - 1.61e-8 * c * c).exp() * 1e-4)
}

/// Between the rows of a table; `None` beyond its end.
fn between(rows: &[(f64, f64)], at: f64) -> Option<f64> {
    let pair = rows
        .windows(2)
        .find(|pair| (pair[0].0..=pair[1].0).contains(&at))?;
    let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
    Some(y0 + (y1 - y0) * (at - x0) / (x1 - x0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(copper: f64, acid: f64) -> Option<f64> {
        let held = |name: &str, g| (name.to_owned(), Concentration::from_g_per_l(g));
        conductivity(&[held(component::COPPER, copper), held(component::ACID, acid)])
    }

    #[test]
    fn acid_alone_conducts_as_published() {
        // PyPI pybamm 26.10.1.1, parameter set "Sulzer2019", after Gu, Wang and Liaw 1997: S/m at
        // 25 °C for 500, 1000, 2000 and 3728.6 mol/m³ (98.078 g/mol).
        for (mol, expected) in [
            (0.5, 23.647),
            (1.0, 43.699),
            (2.0, 72.832),
            (3.7286, 91.834),
        ] {
            let found = of(0.0, mol * 98.078).unwrap();
            assert!((found / expected - 1.0).abs() < 2e-3, "{mol}: {found}");
        }
        // CRC Handbook, 20 °C, from memory: 5 % (51.59 g/L by CRC's 1.0318 g/mL) 21.1 S/m; acid
        // conducts 1 to 2 % a kelvin better when warmer.
        let warmer = of(0.0, 51.59).unwrap() / 21.1;
        assert!((1.05..1.20).contains(&warmer), "{warmer}");
    }

    #[test]
    fn copper_sulfate_alone_conducts_as_the_handbook_has_it() {
        // CRC Handbook, 20 °C: 5 % 1.90 and 10 % 3.22 S/m; g/L of pentahydrate by CRC densities
        // 1.0511 and 1.1070. Five kelvins are worth 5 to 10 %.
        for (copper, expected) in [(82.22, 1.90), (173.2, 3.22)] {
            let warmer = of(copper, 0.0).unwrap() / expected;
            assert!((1.05..1.10).contains(&warmer), "{copper}: {warmer}");
        }
    }

    #[test]
    fn baths_conduct_as_the_trade_measures_them() {
        // S/cm at 25 °C: trade figures of 0.2 for a bright bath and 0.5 to 0.55 for one of high
        // throw (from memory); the others by scaling the acid with viscosities of PyPI thermo
        // 0.6.1, ±15 % as here.
        let rows = [
            (200.0, 50.0, 0.17, 0.20),
            (220.0, 60.0, 0.20, 0.20),
            (75.0, 188.0, 0.50, 0.61),
            (150.0, 100.0, 0.33, 0.33),
            (125.0, 25.0, 0.11, 0.11),
        ];
        for (copper, acid, low, high) in rows {
            let found = of(copper, acid).unwrap() / 100.0;
            let near = low * (1.0 - DOUBT)..=high * (1.0 + DOUBT);
            assert!(near.contains(&found), "{copper} + {acid}: {found}");
        }
    }

    #[test]
    fn beyond_its_tables_it_tells_nothing() {
        assert_eq!(of(400.0, 10.0), None, "more copper than the tables know");
        assert_eq!(of(50.0, 700.0), None, "more acid than the formula knows");
        let boric = ("boric acid".to_owned(), Concentration::from_g_per_l(35.0));
        assert_eq!(conductivity(&[boric]), None);
        let acid = (
            component::ACID.to_owned(),
            Concentration::from_g_per_l(60.0),
        );
        assert_eq!(conductivity(&[acid]), None, "copper was not said");
    }
}
