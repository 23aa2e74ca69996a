//! What every shape comes down to: four integrals and how sure they are.

use super::ShapeError;
use crate::units::{Area, Bounded, Fraction, Length, Volume};

/// A body as a growing deposit sees it.
///
/// For a deposit of even thickness d, Steiner's formula gives the area A(d) = A₀ + 2Md + Gd² and
/// the deposit's volume V(d) = A₀d + Md² + Gd³/3.
///
/// It is exact for convex bodies at every thickness, edges and corners included, since a deposit
/// rounds them; for a smooth body that bends inwards it is exact until the thickness reaches the
/// smallest inward radius, or until two faces meet: a tube until its bore closes, a ring until its
/// hole does. At a sharp edge that bends inwards by θ the true loss of area is 2d·tan(θ/2) per
/// length, not θd, so that there it overstates the area.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Body {
    /// Area at the start, A₀, with the texture in it.
    pub area: Area,
    /// Integrated mean curvature M = ∫½(κ₁+κ₂) dA. Its unit is a length.
    pub mean_curvature: Length,
    /// Integrated Gauss curvature G: 4π for a closed convex body, 0 for a ring, 2πχ for a closed
    /// mesh.
    pub gauss: f64,
    /// Volume enclosed, zero where the shape encloses none.
    pub volume: Volume,
    /// Half-width of the 95 % interval of the area, as a share of it (JCGM 100).
    pub uncertainty: f64,
}

impl Body {
    /// The area under a deposit of this thickness; at the start for a negative one, and nothing
    /// once the body has closed ([`Self::closes_at`]).
    #[must_use]
    pub fn area_at(&self, thickness: Length) -> Area {
        let d = self.reached(thickness);
        let m = self.mean_curvature.m();
        Area::from_m2((self.area.m2() + d * (2.0 * m + d * self.gauss)).max(0.0))
    }

    /// The volume of a deposit of this thickness; nothing for a negative one, and what there was
    /// room for once the body has closed.
    #[must_use]
    pub fn deposit_volume(&self, thickness: Length) -> Volume {
        Volume::from_m3(self.volume_over(self.reached(thickness)))
    }

    /// The thickness at which the formula leaves no area to grow on: a bore that fills up. None for
    /// every convex body, and for all with M ≥ 0 and G ≥ 0.
    #[must_use]
    pub fn closes_at(&self) -> Option<Length> {
        let (a, m, g) = (self.area.m2(), self.mean_curvature.m(), self.gauss);
        if m >= 0.0 && g >= 0.0 {
            return None;
        }
        if g == 0.0 {
            return Some(Length::from_m(-a / (2.0 * m)));
        }
        let under_root = m * m - g * a;
        if under_root < 0.0 {
            return None;
        }
        // Both roots without the difference of near-equal numbers.
        let q = -(m + under_root.sqrt().copysign(m));
        let roots = [q / g, a / q];
        let first = roots
            .into_iter()
            .filter(|root| *root > 0.0)
            .reduce(f64::min);
        first.map(Length::from_m)
    }

    /// The even thickness that a deposit of this volume has: the inverse of
    /// [`Self::deposit_volume`].
    ///
    /// None if the volume is negative or no number, if there is no area, or if the body closes
    /// before it has taken that much.
    #[must_use]
    pub fn thickness_for(&self, volume: Volume) -> Option<Length> {
        self.thickness_near(volume, Length::ZERO)
    }

    /// As [`Self::thickness_for`], looking first near a thickness that is probably close, such as
    /// the last one: the answer is the same, in one or two steps.
    #[must_use]
    pub fn thickness_near(&self, volume: Volume, near: Length) -> Option<Length> {
        let (v, a) = (volume.m3(), self.area.m2());
        if !(v >= 0.0 && v.is_finite() && a > 0.0 && a.is_finite()) {
            return None;
        }
        let end = self.closes_at().map_or(f64::INFINITY, Length::m);
        if end.is_finite() && self.volume_over(end) < v {
            return None;
        }
        let flat = (v / a).min(0.5 * end);
        let near = near.m();
        let start = if near > 0.0 && near < end { near } else { flat };
        Some(Length::from_m(self.descend(v, start, end)))
    }

    /// Newton's method on V(d) = v from `start`, kept inside a bracket; V rises all the way to
    /// `end`.
    fn descend(&self, v: f64, start: f64, end: f64) -> f64 {
        let (mut low, mut high, mut d) = (0.0_f64, end, start);
        for _ in 0..200 {
            let miss = self.volume_over(d) - v;
            if miss > 0.0 {
                high = d;
            } else {
                low = d;
            }
            let slope = self.area.m2() + d * (2.0 * self.mean_curvature.m() + d * self.gauss);
            let newton = d - miss / slope;
            let next = if newton >= low && newton <= high {
                newton
            } else if high.is_finite() {
                f64::midpoint(low, high)
            } else {
                2.0 * d
            };
            if (next - d).abs() <= 4.0 * f64::EPSILON * next {
                return next;
            }
            d = next;
        }
        d
    }

    /// V(d), without limits.
    fn volume_over(&self, d: f64) -> f64 {
        d * (self.area.m2() + d * (self.mean_curvature.m() + d * self.gauss / 3.0))
    }

    /// A thickness within what the formula allows, in metres.
    fn reached(&self, thickness: Length) -> f64 {
        let end = self.closes_at().map_or(f64::INFINITY, Length::m);
        thickness.m().max(0.0).min(end)
    }

    /// The area at the start with its 95 % interval.
    #[must_use]
    pub fn area_interval(&self) -> Bounded<Area> {
        Bounded {
            low: self.area * (1.0 - self.uncertainty),
            best: self.area,
            high: self.area * (1.0 + self.uncertainty),
        }
    }

    /// Several equal ones. Their areas are wrong in the same direction, having been measured alike,
    /// so the uncertainty does not shrink with the count.
    ///
    /// # Errors
    /// [`ShapeError::NoneOfIt`] for a count of zero.
    pub fn times(&self, count: u32) -> Result<Self, ShapeError> {
        if count == 0 {
            return Err(ShapeError::NoneOfIt);
        }
        let n = f64::from(count);
        Ok(Self {
            area: self.area * n,
            mean_curvature: self.mean_curvature * n,
            gauss: self.gauss * n,
            volume: self.volume * n,
            uncertainty: self.uncertainty,
        })
    }

    /// Both together: everything adds up.
    ///
    /// The uncertainties add up too, in square centimetres: the parts are taken as wrong in the
    /// same direction, because one person measured them with one tool and one habit. That is the
    /// widest any correlation allows (JCGM 100, 5.2.2, with correlation 1).
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        let area = self.area + other.area;
        let unsure = self.area * self.uncertainty + other.area * other.uncertainty;
        Self {
            area,
            mean_curvature: self.mean_curvature + other.mean_curvature,
            gauss: self.gauss + other.gauss,
            volume: self.volume + other.volume,
            uncertainty: if area > Area::ZERO {
                unsure / area
            } else {
                0.0
            },
        }
    }

    /// With a texture: true area over smooth area, 1 or more. It multiplies the area at the start
    /// and not the growth, since fine roughness fills up and adds no curvature of its own to the
    /// body.
    ///
    /// # Errors
    /// [`ShapeError::Texture`] if it is below 1 or no number.
    pub fn with_texture(&self, texture: f64) -> Result<Self, ShapeError> {
        if !(texture >= 1.0 && texture.is_finite()) {
            return Err(ShapeError::Texture { value: texture });
        }
        Ok(Self {
            area: self.area * texture,
            ..*self
        })
    }

    /// With a stated half-width of the 95 % interval of the area.
    ///
    /// # Errors
    /// [`ShapeError::Uncertainty`] unless it is at least 0 % and below 100 %.
    pub fn with_uncertainty(&self, half_width: Fraction) -> Result<Self, ShapeError> {
        let value = half_width.share();
        if !(0.0..1.0).contains(&value) {
            return Err(ShapeError::Uncertainty { value });
        }
        Ok(Self {
            uncertainty: value,
            ..*self
        })
    }

    /// A body of the same proportions with another area: with s = √(new/old), lengths go with s,
    /// volumes with s³, and the Gauss term, which has no size, stays.
    ///
    /// # Errors
    /// [`ShapeError::NoArea`] unless both areas are more than nothing.
    pub fn resized(&self, area: Area) -> Result<Self, ShapeError> {
        for value in [area, self.area] {
            if !(value > Area::ZERO && value.is_finite()) {
                return Err(ShapeError::NoArea { value });
            }
        }
        let s = (area / self.area).sqrt();
        Ok(Self {
            area,
            mean_curvature: self.mean_curvature * s,
            volume: self.volume * (s * s * s),
            ..*self
        })
    }
}
