//! A Hull-cell panel read: where on it which current density was.
//!
//! The 267 mL cell: parallel sides of 47.625 and 127 mm, anode 63.5 mm, filled 48.2 mm deep. The
//! trade's formula is a fit to plated thickness. The exact primary distribution is the conformal
//! map of the trapezoid onto a rectangle; both electrodes are equipotential, all else insulates.

use super::fault::BathFault;
use crate::units::{Area, Current, CurrentDensity, Length};

const NEAR_SIDE: f64 = 47.625;
const FAR_SIDE: f64 = 127.0;
const ANODE: f64 = 63.5;
const DEPTH: f64 = 48.2;
/// Half-plane places of the anode's corners, the cathode's being −1 and 1: solved from the ratio of
/// the near side to the cathode.
const CORNER: f64 = 6.941_080_313_653;
/// Where the trade's formula holds, mm from the high end.
pub const LOG_RANGE: [Length; 2] = [Length::from_mm(6.4), Length::from_mm(82.5)];

/// Length of the panel.
#[must_use]
pub fn length() -> Length {
    Length::from_mm((FAR_SIDE - NEAR_SIDE).hypot(ANODE))
}

/// Plated area of the panel.
#[must_use]
pub fn area() -> Area {
    Area::from_mm2(length().mm() * DEPTH)
}

/// The trade's formula, i = I (5.10 − 5.24 lg L) with L in cm; `None` outside its range.
#[must_use]
pub fn by_formula(current: Current, place: Length) -> Option<CurrentDensity> {
    let inside = (LOG_RANGE[0].mm()..=LOG_RANGE[1].mm()).contains(&place.mm());
    let density = current.a() * (5.10 - 5.24 * place.cm().log10());
    inside.then(|| CurrentDensity::from_a_per_dm2(density))
}

/// The exact primary current density at a place on the panel.
///
/// # Errors
/// [`BathFault::Range`] if the place is not on it.
pub fn primary(current: Current, place: Length) -> Result<CurrentDensity, BathFault> {
    let long = length();
    if !(place > Length::ZERO && place < long) {
        return Err(BathFault::Range {
            what: "a place on the panel".to_owned(),
            found: format!("{:.1} mm", place.mm()),
            allowed: format!(
                "more than 0 and less than {:.1} mm from the high end",
                long.mm()
            ),
        });
    }
    Ok(current / area() * relative(place / long))
}

/// Current density over its mean, at a share of the panel's length from the high end.
fn relative(share: f64) -> f64 {
    // Along the cathode ζ = tanh t; t runs far enough that what is left out is below 1e-9.
    const FROM: f64 = -40.0;
    const STEP: f64 = 0.01;
    const STEPS: u32 = 14_000;
    let far_angle = (ANODE / (FAR_SIDE - NEAR_SIDE)).atan() / std::f64::consts::PI;
    let near_angle = 1.0 - far_angle;
    let skew = near_angle - 0.5;
    // 1 + tanh t and 1 − tanh t, without cancelling.
    let side = |t: f64| 2.0 / (1.0 + (-2.0 * t).exp());
    let stretch = |t: f64| {
        let (near, far) = (side(t), side(-t));
        near.powf(near_angle) * far.powf(far_angle) / (CORNER * CORNER - t.tanh() * t.tanh()).sqrt()
    };
    let field = |t: f64| (-2.0 * skew * t).exp();
    let at = |k: u32| FROM + STEP * (f64::from(k) + 0.5);
    let (mut long, mut flow) = (0.0, 0.0);
    for k in 0..STEPS {
        long += stretch(at(k));
        flow += stretch(at(k)) * field(at(k));
    }
    let mut gone = 0.0;
    for k in 0..STEPS {
        let piece = stretch(at(k));
        if gone + piece >= share * long {
            let t = at(k) + STEP * ((share * long - gone) / piece - 0.5);
            return field(t) * long / flow;
        }
        gone += piece;
    }
    0.0
}

/// A panel's bright range as densities, by both ways.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bright {
    /// Lowest and highest by the trade's formula, where it holds.
    pub formula: Option<[CurrentDensity; 2]>,
    /// Lowest and highest by the exact map.
    pub primary: [CurrentDensity; 2],
    /// What both agree on: the window to use.
    pub window: [CurrentDensity; 2],
}

/// The window that a panel shows which looked bright from one place to another.
///
/// # Errors
/// [`BathFault`] if the places are not on the panel, or not in order, or leave nothing.
pub fn bright(current: Current, from: Length, to: Length) -> Result<Bright, BathFault> {
    if from >= to {
        return Err(BathFault::Range {
            what: "the bright range".to_owned(),
            found: format!("{:.1} to {:.1} mm", from.mm(), to.mm()),
            allowed: "its high-current end first: the smaller distance".to_owned(),
        });
    }
    let primary = [primary(current, to)?, primary(current, from)?];
    let ends = by_formula(current, to).zip(by_formula(current, from));
    let formula = ends.map(|(low, high)| [low, high]);
    let window = match formula {
        Some([low, high]) => [low.max(primary[0]), high.min(primary[1])],
        None => primary,
    };
    if window[0] >= window[1] {
        return Err(BathFault::Said {
            what: "a bright range so narrow that formula and map do not meet in it: no window to \
                   use comes of it"
                .to_owned(),
        });
    }
    Ok(Bright {
        formula,
        primary,
        window,
    })
}

/// A place on a panel, mm, and the density there by the formula and by the exact map.
pub type Row = (u32, Option<CurrentDensity>, Option<CurrentDensity>);

/// What a panel's ruler tells: a place every five millimetres.
pub fn ruler(current: Current) -> impl Iterator<Item = Row> {
    (1..=20).map(move |step| {
        let mm = step * 5;
        let place = Length::from_mm(f64::from(mm));
        (mm, by_formula(current, place), primary(current, place).ok())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const ONE_A: Current = Current::from_a(1.0);

    #[test]
    fn the_map_is_that_of_an_independent_computation() {
        // Schwarz–Christoffel by mpmath 1.3.0 at 30 digits, which a finite-element run of
        // scikit-fem 12.0.2 meets to 7e-8; i over its mean at mm from the high end.
        let mean = (ONE_A / area()).a_per_dm2();
        let rows = [
            (6.604, 2.554),
            (10.0, 2.150),
            (13.21, 1.899),
            (20.0, 1.542),
            (25.91, 1.324),
            (38.1, 0.9872),
            (50.8, 0.7146),
            (63.5, 0.4829),
            (76.2, 0.2812),
            (77.47, 0.2627),
            (82.5, 0.1927),
            (87.63, 0.1273),
            (92.20, 0.0754),
        ];
        for (mm, expected) in rows {
            let found = primary(ONE_A, Length::from_mm(mm)).unwrap().a_per_dm2() / mean;
            assert!((found / expected - 1.0).abs() < 7e-4, "{mm}: {found}");
        }
        // A published table, McCormick and Kuhn 1993, is within 5 % from 0.26 to 3.05 in.
        for (inches, expected) in [(0.26, 2.5), (0.52, 1.8), (1.02, 1.30), (3.05, 0.26)] {
            let found = primary(ONE_A, Length::from_mm(inches * 25.4))
                .unwrap()
                .a_per_dm2()
                / mean;
            assert!((found / expected - 1.0).abs() < 0.055, "{inches}: {found}");
        }
    }

    #[test]
    fn the_formula_is_the_trades() {
        // A/dm² for an ampere at cm, from memory of the trade's formula.
        let rows = [
            (1.0, 5.1000),
            (2.0, 3.5226),
            (2.54, 2.9787),
            (5.0, 1.4374),
            (5.08, 1.4013),
            (7.62, 0.4786),
            (8.25, 0.2978),
        ];
        for (cm, expected) in rows {
            let found = by_formula(ONE_A, Length::from_cm(cm)).unwrap().a_per_dm2();
            assert!((found - expected).abs() < 5e-4, "{cm}: {found}");
        }
        assert_eq!(by_formula(ONE_A, Length::from_cm(0.5)), None);
        assert_eq!(by_formula(ONE_A, Length::from_cm(9.0)), None);
    }

    #[test]
    fn the_cell_has_the_size_of_its_name() {
        // hypot(127 − 47.625, 63.5) = 101.65 mm; (47.625 + 127)/2 × 63.5 × 48.2 mm³ = 267 mL.
        assert!((length().mm() - 101.65).abs() < 0.01);
        assert!(((NEAR_SIDE + FAR_SIDE) / 2.0 * ANODE * DEPTH / 1000.0 - 267.0).abs() < 0.5);
        assert!((area().cm2() - 48.995).abs() < 0.01);
    }

    #[test]
    fn a_bright_range_becomes_the_window_both_ways_agree_on() {
        let two = Current::from_a(2.0);
        let found = bright(two, Length::from_mm(10.0), Length::from_mm(50.8)).unwrap();
        // 2 A: formula 10.2 at 10 mm and 2.80 at 50.8 mm; map 2.150 and 0.7146 of 4.082 A/dm².
        assert!(
            (found.window[1].a_per_dm2() - 8.777).abs() < 0.01,
            "{found:?}"
        );
        assert!(
            (found.window[0].a_per_dm2() - 2.917).abs() < 0.01,
            "{found:?}"
        );
        assert!(bright(two, Length::from_mm(50.0), Length::from_mm(10.0)).is_err());
        assert!(bright(two, Length::from_mm(50.0), Length::from_mm(120.0)).is_err());
    }
}
