//! What every shape comes down to: four integrals and how sure they are.

use crate::units::{Area, Length, Volume};

/// A body as a growing deposit sees it.
///
/// For a deposit of even thickness d, Steiner's formula gives the area A(d) = A₀ + 2Md + Gd² and the
/// deposit's volume V(d) = A₀d + Md² + Gd³/3. It is exact for convex bodies and for smooth ones below their
/// local radius.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Body {
    /// Area at the start, A₀, with the texture in it.
    pub area: Area,
    /// Integrated mean curvature M = ∫½(κ₁+κ₂) dA. Its unit is a length.
    pub mean_curvature: Length,
    /// Integrated Gauss curvature G: 4π for a closed convex body, 0 for a ring, 2πχ for a closed mesh.
    pub gauss: f64,
    /// Volume enclosed, zero where the shape encloses none.
    pub volume: Volume,
    /// Half-width of the 95 % interval of the area, as a share of it (JCGM 100).
    pub uncertainty: f64,
}
