//! Bodies with a closed form. Every length is a full width, as a calliper reads it.
//!
//! The integrated mean curvature of a convex body counts its edges, each with ½ · length · exterior
//! angle.

use super::{Body, ShapeError};
use crate::units::{Area, Length, Mass, SurfaceMass, Volume};
use std::f64::consts::{FRAC_PI_2, PI};

/// Half-widths of the 95 % interval of an area, as shares of it, where the person states none.
///
/// They are this project's own estimates for dimensions taken with a calliper on a real piece,
/// without a published source. Most of each is the piece not being the shape; a calliper's own
/// tenth of a millimetre is a part of it.
pub mod uncertainty {
    /// Turned, drawn or sawn shapes: rod, tube, disc, plate, cone, prism, ring, sphere.
    pub const MADE: f64 = 0.05;
    /// Drawn wire: its diameter is the one length that matters, and it is even.
    pub const WIRE: f64 = 0.03;
    /// A leaf or a cut sheet from its outline: its relief is left out.
    pub const LEAF: f64 = 0.10;
    /// Wrapped foil against a weighed square of it, on a smooth body it is `like`. Foil is known to
    /// err much on reliefs: on corals it did on every form, against X-ray tomography (Veal et al.,
    /// Limnol. Oceanogr. Methods 8 (2010) 241, abstract). The figures are this project's own.
    pub const FOIL_LIKE: f64 = 0.15;
    /// The same where nothing is known of the form.
    pub const FOIL: f64 = 0.25;
    /// An ellipsoid: almost always a stand-in for something grown.
    pub const GROWN: f64 = 0.08;
    /// A closed mesh: scanning, scaling and facets.
    pub const MESH: f64 = 0.03;
    /// A mesh with holes or inconsistent faces.
    pub const OPEN_MESH: f64 = 0.10;
    /// An area found by foil, wax or reckoning, with the curvature of a body it is like.
    pub const LIKE: f64 = 0.10;
    /// An area and nothing else: that it grows with the deposit is left out, so the interval is
    /// wider.
    pub const PLAIN: f64 = 0.20;
}

/// The Gauss term of a closed convex body: the whole sphere of directions.
const CONVEX: f64 = 4.0 * PI;

/// A length in metres, if it is more than nothing.
fn positive(shape: &'static str, what: &'static str, value: Length) -> Result<f64, ShapeError> {
    if value > Length::ZERO && value.is_finite() {
        Ok(value.m())
    } else {
        Err(ShapeError::NotPositive { shape, what, value })
    }
}

/// A body from SI numbers, if they are numbers.
fn checked(
    shape: &'static str,
    area: f64,
    mean_curvature: f64,
    gauss: f64,
    volume: f64,
    uncertainty: f64,
) -> Result<Body, ShapeError> {
    let reached =
        area > 0.0 && area.is_finite() && volume.is_finite() && mean_curvature.is_finite();
    if !reached {
        return Err(ShapeError::OutOfReach { shape });
    }
    Ok(Body {
        area: Area::from_m2(area),
        mean_curvature: Length::from_m(mean_curvature),
        gauss,
        volume: Volume::from_m3(volume),
        uncertainty,
    })
}

/// A ball: A = πD², M = 2πD.
///
/// # Errors
/// [`ShapeError`] if the diameter is not more than nothing.
pub fn sphere(diameter: Length) -> Result<Body, ShapeError> {
    let d = positive("sphere", "diameter", diameter)?;
    let (area, volume) = (PI * d * d, PI * d.powi(3) / 6.0);
    checked(
        "sphere",
        area,
        2.0 * PI * d,
        CONVEX,
        volume,
        uncertainty::MADE,
    )
}

/// An ellipsoid with full axes a, b, c. With half axes: A = 4π·R_G(a²b², a²c², b²c²) and
/// M = 4π·R_G(a², b², c²), R_G being Carlson's symmetric integral (DLMF 19.16.3, 19.33.2).
///
/// # Errors
/// [`ShapeError`] if an axis is not more than nothing.
pub fn ellipsoid(a: Length, b: Length, c: Length) -> Result<Body, ShapeError> {
    const SHAPE: &str = "ellipsoid";
    let a = positive(SHAPE, "axis a", a)? / 2.0;
    let b = positive(SHAPE, "axis b", b)? / 2.0;
    let c = positive(SHAPE, "axis c", c)? / 2.0;
    let carlson = |x: f64, y: f64, z: f64| {
        ellip::elliprg(x * x, y * y, z * z).map_err(|_| ShapeError::OutOfReach { shape: SHAPE })
    };
    let area = 4.0 * PI * carlson(a * b, a * c, b * c)?;
    let mean = 4.0 * PI * carlson(a, b, c)?;
    let volume = 4.0 / 3.0 * PI * a * b * c;
    checked(SHAPE, area, mean, CONVEX, volume, uncertainty::GROWN)
}

/// A wire, straight or bent, without its ends: A = πDL, M = πL, G = 0. Exact for a bent wire too,
/// as long as neighbouring turns stay apart.
///
/// # Errors
/// [`ShapeError`] if a length is not more than nothing.
pub fn wire(diameter: Length, length: Length) -> Result<Body, ShapeError> {
    let d = positive("wire", "diameter", diameter)?;
    let l = positive("wire", "length", length)?;
    let volume = FRAC_PI_2 * d * d * l / 2.0;
    checked("wire", PI * d * l, PI * l, 0.0, volume, uncertainty::WIRE)
}

/// A wire wound to a helix of even pitch, its ends ignored: `across` is the diameter of the centre
/// line. With N turns of pitch p its length is L = N·√((π·across)² + p²), and then as [`wire`]
/// (Pappus), until neighbouring turns meet.
///
/// # Errors
/// [`ShapeError`] if a length is not more than nothing, the wire fills the coil, or turns touch.
pub fn coil(across: Length, wire: Length, pitch: Length, turns: f64) -> Result<Body, ShapeError> {
    const SHAPE: &str = "coil";
    let around = PI * positive(SHAPE, "diameter across", across)?;
    let d = positive(SHAPE, "wire", wire)?;
    let p = positive(SHAPE, "pitch", pitch)?;
    if !(turns > 0.0 && turns.is_finite()) {
        return Err(ShapeError::Turns { turns });
    }
    if wire >= across {
        return Err(ShapeError::NoHole { wire, across });
    }
    if coil_gap(across, wire, pitch) <= Length::ZERO {
        return Err(ShapeError::TurnsTouch { wire, pitch });
    }
    let l = turns * around.hypot(p);
    let volume = FRAC_PI_2 * d * d * l / 2.0;
    checked(SHAPE, PI * d * l, PI * l, 0.0, volume, uncertainty::WIRE)
}

/// The gap between neighbouring turns of a coil, square to the wire.
#[must_use]
pub fn coil_gap(across: Length, wire: Length, pitch: Length) -> Length {
    let around = PI * across.m();
    pitch * (around / around.hypot(pitch.m())) - wire
}

/// A closed cylinder: A = πDL + ½πD², M = πL + ½π²D.
///
/// # Errors
/// [`ShapeError`] if a length is not more than nothing.
pub fn rod(diameter: Length, length: Length) -> Result<Body, ShapeError> {
    cylinder("rod", "length", diameter, length)
}

/// A flat closed cylinder: as [`rod`].
///
/// # Errors
/// [`ShapeError`] if a length is not more than nothing.
pub fn disc(diameter: Length, thickness: Length) -> Result<Body, ShapeError> {
    cylinder("disc", "thickness", diameter, thickness)
}

fn cylinder(
    shape: &'static str,
    along: &'static str,
    diameter: Length,
    length: Length,
) -> Result<Body, ShapeError> {
    let d = positive(shape, "diameter", diameter)?;
    let l = positive(shape, along, length)?;
    let area = PI * d * l + FRAC_PI_2 * d * d;
    let mean = PI * l + FRAC_PI_2 * PI * d;
    checked(
        shape,
        area,
        mean,
        CONVEX,
        PI * d * d * l / 4.0,
        uncertainty::MADE,
    )
}

/// An open tube, wetted inside and out, with its two rims: with radii R and r, A = 2π(R+r)L +
/// 2π(R²−r²), M = π²(R+r), G = 0. What the outside gains in area the bore loses; only the rims'
/// four edges add. Exact until the bore closes, at a thickness of half the inner diameter.
///
/// # Errors
/// [`ShapeError`] if a length is not more than nothing or the tube has no wall.
pub fn tube(outer: Length, inner: Length, length: Length) -> Result<Body, ShapeError> {
    let big = positive("tube", "outer diameter", outer)? / 2.0;
    let small = positive("tube", "inner diameter", inner)? / 2.0;
    let l = positive("tube", "length", length)?;
    if small >= big {
        return Err(ShapeError::NoWall { inner, outer });
    }
    let rim = PI * (big - small) * (big + small);
    let area = 2.0 * PI * (big + small) * l + 2.0 * rim;
    checked(
        "tube",
        area,
        PI * PI * (big + small),
        0.0,
        rim * l,
        uncertainty::MADE,
    )
}

/// A torus. With R the radius of the centre line and r that of the wire: A = 4π²Rr, M = 2π²R, G =
/// 0. Exact until the hole closes, at a thickness of R − r.
///
/// # Errors
/// [`ShapeError`] if a length is not more than nothing or the wire fills the hole.
pub fn ring(across: Length, wire: Length) -> Result<Body, ShapeError> {
    let big = positive("ring", "diameter across", across)? / 2.0;
    let small = positive("ring", "wire", wire)? / 2.0;
    if small >= big {
        return Err(ShapeError::NoHole { wire, across });
    }
    let round = 2.0 * PI * PI * big;
    checked(
        "ring",
        2.0 * round * small,
        round,
        0.0,
        round * small * small,
        uncertainty::MADE,
    )
}

/// A box: A = 2(LW + LT + WT), M = π(L + W + T).
///
/// # Errors
/// [`ShapeError`] if a length is not more than nothing.
pub fn plate(length: Length, width: Length, thickness: Length) -> Result<Body, ShapeError> {
    let l = positive("plate", "length", length)?;
    let w = positive("plate", "width", width)?;
    let t = positive("plate", "thickness", thickness)?;
    let area = 2.0 * (l * w + l * t + w * t);
    checked(
        "plate",
        area,
        PI * (l + w + t),
        CONVEX,
        l * w * t,
        uncertainty::MADE,
    )
}

/// A closed cone or the stump of one. With radii p at the bottom and q at the top, height h, slant
/// s = √(h² + (p−q)²) and α = atan((p−q)/h): A = π(p+q)s + π(p²+q²), M = πh + π[p(π/2+α) +
/// q(π/2−α)]. The slope gives πh; each rim gives ½ · 2πp · its exterior angle.
///
/// # Errors [`ShapeError`] if the bottom or the height is not more than nothing, or the top is less
/// than nothing.
pub fn cone(bottom: Length, top: Length, height: Length) -> Result<Body, ShapeError> {
    let p = positive("cone", "bottom diameter", bottom)? / 2.0;
    let h = positive("cone", "height", height)?;
    if !(top >= Length::ZERO && top.is_finite()) {
        let (shape, what) = ("cone", "top diameter");
        return Err(ShapeError::Negative {
            shape,
            what,
            value: top,
        });
    }
    let q = top.m() / 2.0;
    let slope = (p - q).atan2(h);
    let area = PI * (p + q) * h.hypot(p - q) + PI * (p * p + q * q);
    let rims = PI * (p * (FRAC_PI_2 + slope) + q * (FRAC_PI_2 - slope));
    let volume = PI * h * (p * p + p * q + q * q) / 3.0;
    checked(
        "cone",
        area,
        PI * h + rims,
        CONVEX,
        volume,
        uncertainty::MADE,
    )
}

/// A closed prism on a regular polygon of n edges e: with P = ne²/(4 tan(π/n)), A = neh + 2P,
/// M = πh + ½πne.
///
/// # Errors
/// [`ShapeError`] if a length is not more than nothing or there are fewer than three sides.
pub fn prism(sides: u32, edge: Length, height: Length) -> Result<Body, ShapeError> {
    if sides < 3 {
        return Err(ShapeError::TooFewSides { sides });
    }
    let e = positive("prism", "edge", edge)?;
    let h = positive("prism", "height", height)?;
    let n = f64::from(sides);
    let polygon = n * e * e / (4.0 * (PI / n).tan());
    let area = n * e * h + 2.0 * polygon;
    let mean = PI * h + FRAC_PI_2 * n * e;
    checked("prism", area, mean, CONVEX, polygon * h, uncertainty::MADE)
}

/// Only an area. Without a body it is like, it has no curvature and no volume, and a wider
/// interval; with one, it is that body [resized](Body::resized) to the area.
///
/// # Errors
/// [`ShapeError::NoArea`] if the area is not more than nothing.
pub fn plain(area: Area, like: Option<&Body>) -> Result<Body, ShapeError> {
    if !(area > Area::ZERO && area.is_finite()) {
        return Err(ShapeError::NoArea { value: area });
    }
    match like {
        Some(body) => Ok(Body {
            uncertainty: uncertainty::LIKE,
            ..body.resized(area)?
        }),
        None => checked("area", area.m2(), 0.0, 0.0, 0.0, uncertainty::PLAIN),
    }
}

/// What a wrapped foil covers: its mass over that of a known square of the same foil. With a body
/// it is like, that body [resized](Body::resized); see [`uncertainty::FOIL`] for how sure it is.
///
/// # Errors
/// [`ShapeError::Foil`] if a figure is not more than nothing.
pub fn foil(mass: Mass, per_area: SurfaceMass, like: Option<&Body>) -> Result<Body, ShapeError> {
    let weighed = mass > Mass::ZERO && mass.is_finite();
    if !(weighed && per_area > SurfaceMass::ZERO && per_area.is_finite()) {
        return Err(ShapeError::Foil { mass, per_area });
    }
    let uncertainty = like.map_or(uncertainty::FOIL, |_| uncertainty::FOIL_LIKE);
    Ok(Body {
        uncertainty,
        ..plain(mass / per_area, like)?
    })
}
