//! The closed skins that a mesh is made of: those within another, where the bath does not come, and
//! those that overlap and count their area twice.

use super::mesh::{Changed, Mesh};
use super::narrow::place;
use super::tree::Tree;
use super::vector::{Triangle, cross, dot, length, minus, normal};
use super::{Body, MeshError};
use crate::units::Area;
use std::f64::consts::TAU;

/// Skins are compared with each other up to this many.
const COMPARED: usize = 64;
/// Corners of a skin that are tried against another.
const TRIED: usize = 24;
/// Places from which it is looked how much of the surface is hidden, the fewest and the most: from
/// 400 a share of ½ is found to 0.05.
const LOOKS: [usize; 2] = [20, 400];
/// Triangles that are looked at for that, all together.
const WORK: usize = 20_000_000;
/// How far off the surface that is, as a part of the width of a triangle.
const OFF: f64 = 1e-4;

/// The skins of a mesh.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shells {
    /// How many there are.
    pub count: usize,
    /// How many of them lie within another.
    pub inner: usize,
    /// The area of those.
    pub inner_area: Area,
    /// How many cut through another: part of their area is within it and counted all the same.
    pub overlapping: usize,
    /// Pairs of triangles of one skin that cut through each other.
    pub crossings: usize,
    /// The search for them was given up: too many triangles lie on one another.
    pub crossings_unknown: bool,
    /// There are too many to compare.
    pub uncompared: bool,
    /// The share of the area that lies within the mesh itself and is no surface; reckoned where it
    /// cuts through itself.
    pub hidden: f64,
    /// For each triangle of the mesh, whether it is of a skin within another.
    within: Vec<bool>,
}

impl Shells {
    /// Takes a mesh apart.
    #[must_use]
    pub fn of(mesh: &Mesh) -> Self {
        let (number, count) = mesh.skins();
        let mut found = Self {
            count,
            ..Self::default()
        };
        if count < 2 {
            found.note(mesh.triangles());
            if found.crossings > 0 {
                found.hidden = hidden(mesh);
            }
            return found;
        }
        if count > COMPARED {
            found.uncompared = true;
            return found;
        }
        let mut skins = vec![Vec::new(); count];
        for (triangle, skin) in mesh.triangles().iter().zip(number) {
            skins[*skin as usize].push(*triangle);
        }
        let mut inner = vec![false; count];
        for (at, skin) in skins.iter().enumerate() {
            found.note(skin);
            let (mut within, mut cuts) = (false, false);
            for (other, around) in skins.iter().enumerate() {
                if other == at || !boxes_meet(skin, around) {
                    continue;
                }
                let step = skin.len().div_ceil(TRIED);
                let tried = skin.iter().step_by(step);
                let inside: Vec<bool> = tried.map(|one| surrounds(around, one[0])).collect();
                within |= inside.iter().all(|inside| *inside);
                cuts |= inside.iter().any(|inside| *inside) && !inside.iter().all(|all| *all);
            }
            inner[at] = within;
            found.inner += usize::from(within);
            found.overlapping += usize::from(cuts && !within);
            if within {
                found.inner_area += Area::from_m2(skin.iter().map(area).sum());
            }
        }
        if found.crossings > 0 || found.overlapping > 0 {
            found.hidden = hidden(mesh);
        }
        found.within = number.iter().map(|skin| inner[*skin as usize]).collect();
        found
    }

    /// Adds where one skin crosses itself.
    fn note(&mut self, skin: &[Triangle]) {
        let crossed = Tree::over(skin).map(|tree| tree.crossings());
        self.crossings += crossed.map_or(0, |found| found.pairs);
        self.crossings_unknown |= crossed.is_none_or(|found| found.given_up);
    }
}

impl Mesh {
    /// The mesh without the skins that lie within another: where the bath reaches, if nothing leads
    /// into the hollow.
    #[must_use]
    pub fn outside(self) -> Self {
        if self.shells().inner == 0 {
            return self;
        }
        let shells = self.shells().clone();
        let changed = Changed {
            left_out: (shells.inner, shells.inner_area),
            ..self.changed()
        };
        let kept = self.into_triangles().into_iter().zip(shells.within);
        let triangles = kept.filter(|(_, within)| !within).map(|(one, _)| one);
        Self::new(triangles.collect()).changed_by(changed)
    }

    /// The body with the doubt of how its surface cuts through itself in its interval: what is
    /// hidden within counts in the area, and may have to come off.
    ///
    /// # Errors
    /// As [`Self::survey`].
    pub fn doubted(&self) -> Result<Body, MeshError> {
        let body = self.body()?;
        Ok(Body {
            uncertainty: (body.uncertainty + self.shells().hidden).min(0.9),
            ..body
        })
    }
}

/// The share of the area that is no surface, of a closed mesh that cuts through itself: from there
/// the next step outwards is still within it. Nothing where holes leave no inside.
///
/// The solid angle of all triangles, over 4π, says how many times a point is enclosed: a hollow's
/// walls, which face into it, take off what the outer skin adds.
fn hidden(mesh: &Mesh) -> f64 {
    let all = mesh.triangles();
    if !mesh.survey().is_ok_and(|found| found.watertight) {
        return 0.0;
    }
    let looks = (WORK / all.len().max(1)).clamp(LOOKS[0], LOOKS[1]);
    let whole: f64 = all.iter().map(area).sum();
    let step = whole / looks as f64;
    let (mut past, mut looked, mut within) = (0.0, 0_usize, 0_usize);
    for triangle in all {
        let size = area(triangle);
        past += size;
        while (looked as f64 + 0.5) * step < past && looked < looks {
            let from = off(triangle, size, looked);
            let angle: f64 = all.iter().map(|one| solid_angle(one, from)).sum();
            within += usize::from(angle > TAU);
            looked += 1;
        }
    }
    within as f64 / looked.max(1) as f64
}

/// A point just off a triangle, on its outer side; the `number`th.
fn off(triangle: &Triangle, size: f64, number: usize) -> [f64; 3] {
    let (at, normal) = (place(triangle, number), normal(*triangle));
    let lift = OFF / (2.0 * size.sqrt());
    std::array::from_fn(|k| at[k] + normal[k] * lift)
}

fn bounds(skin: &[Triangle]) -> [[f64; 2]; 3] {
    std::array::from_fn(|axis| {
        let along = skin.iter().flatten().map(|corner| corner[axis]);
        along.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], x| {
            [low.min(x), high.max(x)]
        })
    })
}

fn boxes_meet(one: &[Triangle], other: &[Triangle]) -> bool {
    let (one, other) = (bounds(one), bounds(other));
    (0..3).all(|axis| one[axis][0] <= other[axis][1] && other[axis][0] <= one[axis][1])
}

/// Whether a point is within a closed skin, whichever way it faces: the solid angle of all its
/// triangles together is 4π inside and nothing outside (van Oosterom and Strackee 1983).
fn surrounds(skin: &[Triangle], point: [f64; 3]) -> bool {
    let angle: f64 = skin
        .iter()
        .map(|triangle| solid_angle(triangle, point))
        .sum();
    angle.abs() > TAU
}

fn solid_angle(triangle: &Triangle, point: [f64; 3]) -> f64 {
    let [a, b, c] = triangle.map(|corner| minus(corner, point));
    let [la, lb, lc] = [a, b, c].map(length);
    let triple = dot(a, cross(b, c));
    let under = la * lb * lc + dot(a, b) * lc + dot(b, c) * la + dot(c, a) * lb;
    2.0 * triple.atan2(under)
}

fn area(triangle: &Triangle) -> f64 {
    length(normal(*triangle)) / 2.0
}
