//! The closed skins that a mesh is made of: those within another, where the bath does not come, and
//! those that overlap and count their area twice.

use super::mesh::Mesh;
use super::tree::Tree;
use super::vector::{Triangle, cross, dot, length, minus, normal};
use crate::units::Area;
use std::f64::consts::TAU;

/// Skins are compared with each other up to this many.
const COMPARED: usize = 64;
/// Corners of a skin that are tried against another.
const TRIED: usize = 24;

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
        let shells = Shells::of(&self);
        if shells.inner == 0 {
            return self;
        }
        let kept = self.into_triangles().into_iter().zip(shells.within);
        let triangles = kept.filter(|(_, within)| !within).map(|(one, _)| one);
        Self::new(triangles.collect())
    }
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
