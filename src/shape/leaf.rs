//! Flat pieces with any outline: a leaf, a cut sheet.

use super::{Body, ShapeError, uncertainty};
use crate::units::{Area, Length};
use std::f64::consts::PI;

/// A flat shape as seen from above.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outline {
    /// Area of one face, holes taken out.
    pub area: Area,
    /// Length of its rim, with those of the holes.
    pub perimeter: Length,
    /// How many holes go through it.
    pub holes: u32,
    /// Half-width of the 95 % interval of its area, as a share of it.
    pub uncertainty: f64,
}

impl Outline {
    /// An outline whose area and perimeter were measured by hand; holes are not known of.
    #[must_use]
    pub const fn stated(area: Area, perimeter: Length) -> Self {
        Self {
            area,
            perimeter,
            holes: 0,
            uncertainty: uncertainty::LEAF,
        }
    }
}

/// A sheet of even thickness t over an outline with area F, perimeter P and h holes, both faces and
/// the rim wetted: A = 2F + Pt, M = ½πP + πt(1−h), G = 4π(1−h). The two edges of each rim give
/// ½ · π/2 each a length, the wall of the outer rim turns once, that of each hole back. It is exact
/// where the outline bends outwards, and until a hole or a bay closes elsewhere.
///
/// # Errors
/// [`ShapeError`] if a figure is not more than nothing, or no outline has so short a perimeter: a
/// circle has the shortest, √(4πF).
pub fn leaf(outline: &Outline, thickness: Length) -> Result<Body, ShapeError> {
    for (what, value) in [("perimeter", outline.perimeter), ("thickness", thickness)] {
        if !(value > Length::ZERO && value.is_finite()) {
            let shape = "leaf";
            return Err(ShapeError::NotPositive { shape, what, value });
        }
    }
    if !(outline.area > Area::ZERO && outline.area.is_finite()) {
        return Err(ShapeError::NoArea {
            value: outline.area,
        });
    }
    let (f, p, t) = (outline.area.m2(), outline.perimeter.m(), thickness.m());
    let least = (4.0 * PI * f).sqrt();
    // A measured circle may fall a little short.
    if p < 0.99 * least {
        return Err(ShapeError::ShortPerimeter {
            perimeter: outline.perimeter,
            least: Length::from_m(least),
        });
    }
    let turns = 1.0 - f64::from(outline.holes);
    Ok(Body {
        area: Area::from_m2(2.0 * f + p * t),
        mean_curvature: Length::from_m(PI * p / 2.0 + PI * t * turns),
        gauss: 4.0 * PI * turns,
        volume: outline.area * thickness,
        uncertainty: outline.uncertainty,
    })
}
