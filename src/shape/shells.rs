//! The closed skins that a mesh is made of: those within another, where the bath does not come, and
//! those that overlap and count their area twice.

use super::mesh::{Changed, Mesh};
use super::narrow::place;
use super::net::Net;
use super::tree::{Tree, meet, span};
use super::vector::{Point, Triangle, cross, dot, length, minus, normal};
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
        let skins = Skin::all(mesh);
        let mut found = Self::nested(mesh, &skins);
        for skin in &skins {
            let crossed = Tree::over(mesh.net(), skin.faces.iter().copied()).crossings();
            found.crossings += crossed.pairs;
            found.crossings_unknown |= crossed.given_up;
        }
        if found.crossings > 0 || found.overlapping > 0 {
            found.hidden = hidden(mesh);
        }
        found
    }

    /// Which skins lie within which; whether one crosses itself is not looked for.
    fn nested(mesh: &Mesh, skins: &[Skin<'_>]) -> Self {
        let (number, count) = mesh.skins();
        let mut found = Self {
            count,
            uncompared: count > COMPARED,
            ..Self::default()
        };
        let mut inner = vec![false; count];
        for (at, skin) in skins.iter().enumerate() {
            let (mut within, mut cuts) = (false, false);
            for (other, around) in skins.iter().enumerate() {
                if other == at || !meet(&skin.span, &around.span) {
                    continue;
                }
                let step = skin.faces.len().div_ceil(TRIED);
                let tried = skin.triangles().step_by(step);
                let inside: Vec<bool> = tried.map(|one| around.surrounds(one[0])).collect();
                within |= inside.iter().all(|inside| *inside);
                cuts |= inside.iter().any(|inside| *inside) && !inside.iter().all(|all| *all);
            }
            found.overlapping += usize::from(cuts && !within);
            if within {
                inner[at] = true;
                found.inner += 1;
                found.inner_area += Area::from_m2(skin.triangles().map(area).sum());
            }
        }
        if found.inner > 0 {
            found.within = number.iter().map(|skin| inner[*skin as usize]).collect();
        }
        found
    }
}

impl Mesh {
    /// The mesh without the skins that lie within another: where the bath reaches, if nothing leads
    /// into the hollow.
    #[must_use]
    pub fn outside(self) -> Self {
        let shells = Shells::nested(&self, &Skin::all(&self));
        if shells.inner == 0 {
            return self;
        }
        let changed = Changed {
            left_out: (shells.inner, shells.inner_area),
            ..self.changed()
        };
        let net = self.net();
        let kept = net.faces.iter().zip(shells.within);
        let faces = kept.filter(|(_, within)| !within).map(|(face, _)| *face);
        let triangles: Vec<Triangle> = faces.map(|face| net.triangle(face)).collect();
        Self::new(triangles).changed_by(changed)
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
    let net = mesh.net();
    let all = || net.faces.iter().map(|face| net.triangle(*face));
    if !mesh.survey().is_ok_and(|found| found.watertight) {
        return 0.0;
    }
    let looks = (WORK / net.faces.len().max(1)).clamp(LOOKS[0], LOOKS[1]);
    let whole: f64 = all().map(area).sum();
    let step = whole / looks as f64;
    let (mut past, mut looked, mut within) = (0.0, 0_usize, 0_usize);
    for triangle in all() {
        let size = area(triangle);
        past += size;
        while (looked as f64 + 0.5) * step < past && looked < looks {
            let from = off(&triangle, size, looked);
            let angle: f64 = all().map(|one| solid_angle(&one, from)).sum();
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

/// One skin of a mesh.
struct Skin<'a> {
    net: &'a Net,
    /// The numbers of its faces.
    faces: Vec<u32>,
    span: [Point; 2],
}

impl<'a> Skin<'a> {
    /// The skins of a mesh in their order; none if there are too many to compare.
    fn all(mesh: &'a Mesh) -> Vec<Self> {
        let (number, count) = mesh.skins();
        let net = mesh.net();
        if count > COMPARED {
            return Vec::new();
        }
        let mut faces = vec![Vec::new(); count.max(1)];
        for face in net.numbers() {
            // Where all are of one skin they have no number.
            let skin = number.get(face as usize).map_or(0, |skin| *skin as usize);
            faces[skin].push(face);
        }
        let skin = |faces: Vec<u32>| {
            let triangles = faces.iter().map(|face| net.faces[*face as usize]);
            let span = span(triangles.flat_map(|face| net.triangle(face)));
            Self { net, faces, span }
        };
        faces.into_iter().map(skin).collect()
    }

    fn triangles(&self) -> impl Iterator<Item = Triangle> + '_ {
        let faces = self.faces.iter();
        faces.map(|face| self.net.triangle(self.net.faces[*face as usize]))
    }

    /// Whether a point is within it, whichever way it faces: the solid angle of all its triangles
    /// together is 4π inside and nothing outside (van Oosterom and Strackee 1983).
    fn surrounds(&self, point: Point) -> bool {
        let solid = |triangle| solid_angle(&triangle, point);
        meet(&[point, point], &self.span) && self.triangles().map(solid).sum::<f64>().abs() > TAU
    }
}

fn solid_angle(triangle: &Triangle, point: [f64; 3]) -> f64 {
    let [a, b, c] = triangle.map(|corner| minus(corner, point));
    let [la, lb, lc] = [a, b, c].map(length);
    let triple = dot(a, cross(b, c));
    let under = la * lb * lc + dot(a, b) * lc + dot(b, c) * la + dot(c, a) * lb;
    2.0 * triple.atan2(under)
}

fn area(triangle: Triangle) -> f64 {
    length(normal(triangle)) / 2.0
}
