//! What the resistance of a paint says: how far ahead of the copper it takes current, and about how
//! fast the copper's edge can walk.

use super::Metal;
use crate::units::{CurrentDensity, Length, Resistance, Speed};
use std::f64::consts::PI;

/// Resistance of the interface between paint and bath for a small current, Ω·m² (order of
/// magnitude, from memory).
pub const INTERFACE_OHM_M2: f64 = 1e-3;

/// Copper conducts sideways once its islands have grown together, at about this thickness (order of
/// magnitude, from memory).
pub const COALESCENCE: Length = Length::from_um(1.0);

/// Sheet resistance, ohm per square, of a strip of paint held by clips across its whole width:
/// R·w/l (definition).
#[must_use]
pub fn of_strip(measured: Resistance, long: Length, wide: Length) -> Resistance {
    measured * (wide / long)
}

/// Sheet resistance, ohm per square, from two round tips of one diameter pressed on a painted
/// surface that is wide against the distance of their middles: πR/arccosh(s/d), as for two round
/// conductors side by side (textbook electrostatics). `None` if the tips overlap.
#[must_use]
pub fn of_tips(measured: Resistance, apart: Length, tip: Length) -> Option<Resistance> {
    let ratio = apart / tip;
    (ratio > 1.0 && ratio.is_finite()).then(|| measured * (PI / ratio.acosh()))
}

/// How far bare paint beside the copper still takes current: the length √(r/R) over which it falls
/// by e, for an interface of r Ω·m² and R ohm per square. Not a number for a resistance of nothing.
#[must_use]
pub fn fringe(sheet: Resistance, interface_ohm_m2: f64) -> Length {
    Length::from_m((interface_ohm_m2 / sheet.ohm()).sqrt())
}

/// About how fast the copper's edge walks: one fringe in the time in which the islands on it grow
/// together at this density. Real paints are three times slower or faster.
#[must_use]
pub fn pace(fringe: Length, metal: &Metal, density: CurrentDensity, coalescence: Length) -> Speed {
    let per_s = density.a_per_m2() * metal.kg_per_c() / metal.density.kg_per_m3();
    Speed::from_m_per_s(fringe.m() * per_s / coalescence.m())
}

/// Density at the contact and at the far end of a painted strip before there is any copper, each
/// over the mean: m·coth m and m/sinh m with m = length/fringe (terminal effect; Tobias and Wijsman
/// 1953, from memory).
#[must_use]
pub fn along_strip(long: Length, fringe: Length) -> [f64; 2] {
    let m = long / fringe;
    if m < 1e-6 {
        return [1.0, 1.0];
    }
    [m / m.tanh(), m / m.sinh()]
}
