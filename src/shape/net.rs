//! Triangles with their corners and edges joined: where a mesh bends, and whether it is closed.

use super::vector::{self, Point, cross, dot, length, minus};
use rustc_hash::{FxBuildHasher, FxHashMap};
use std::f64::consts::{PI, TAU};

/// An edge that bends inwards by more is sharp: 30°.
const SHARP_INWARD: f64 = PI / 6.0;
/// One that stands out by more is an edge to which current crowds: 60°.
const SHARP_OUTWARD: f64 = PI / 3.0;
/// An inward bend counts as this at most where the loss at it is bounded: 170°.
const MOST_INWARD: f64 = 170.0 / 180.0 * PI;

/// The triangles with their corners joined, in the order of the file. Corners are numbered as they
/// come; a triangle with two corners in one place stays, and counts for nothing.
pub(super) struct Net {
    pub(super) corners: Vec<Point>,
    pub(super) faces: Vec<[u32; 3]>,
}

/// What the edges of a net come to.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Edges {
    /// How many there are.
    pub(super) count: usize,
    /// How many do not join two faces that agree which side is outside.
    pub(super) open: usize,
    /// M over the others.
    pub(super) mean: f64,
    /// Length of those that bend inwards by more than 30°.
    pub(super) sharp_inward: f64,
    /// Length of those that stand out by more than 60°.
    pub(super) sharp_outward: f64,
    /// Σ length · (2·tan(θ/2) − θ) over those that bend inwards by θ.
    pub(super) inward_excess: f64,
    /// The same without the length, over ends of sharp inward edges where no other goes on.
    pub(super) inward_ends: f64,
}

impl Net {
    pub(super) fn woven(triangles: &[[Point; 3]]) -> Self {
        // A closed mesh has about half as many corners as triangles.
        let about = triangles.len() / 2 + 2;
        let mut known = FxHashMap::with_capacity_and_hasher(about, FxBuildHasher);
        let (mut corners, mut faces) = (
            Vec::with_capacity(about),
            Vec::with_capacity(triangles.len()),
        );
        for triangle in triangles {
            faces.push(triangle.map(|corner| {
                // Adding zero makes one zero of the two.
                let key = corner.map(|x| (x + 0.0).to_bits());
                *known.entry(key).or_insert_with(|| {
                    corners.push(corner);
                    number(corners.len() - 1)
                })
            }));
        }
        Self { corners, faces }
    }

    /// The faces whose three corners differ, each with its place in the file.
    pub(super) fn whole(&self) -> impl Iterator<Item = (usize, [u32; 3])> + '_ {
        let faces = self.faces.iter().copied().enumerate();
        faces.filter(|(_, [a, b, c])| a != b && b != c && c != a)
    }

    fn at(&self, corner: u32) -> Point {
        self.corners[corner as usize]
    }

    /// Twice the area of a face, outwards.
    fn normal(&self, face: usize) -> Point {
        vector::normal(self.faces[face].map(|corner| self.at(corner)))
    }

    pub(super) fn area(&self) -> f64 {
        let whole = self.whole();
        whole.map(|(face, _)| 0.5 * length(self.normal(face))).sum()
    }

    /// Calls with each edge: its corners, the lower number first; a face that runs along it from
    /// the first to the second and one that runs the other way, if it joins just these two.
    fn each_edge(&self, mut call: impl FnMut([u32; 2], Option<[usize; 2]>)) {
        // The edges of each corner that is the lower of their two stand side by side.
        let mut ends = vec![0_u32; self.corners.len() + 1];
        for (_, face) in self.whole() {
            for (from, to) in around(face) {
                ends[from.min(to) as usize + 1] += 1;
            }
        }
        for at in 1..ends.len() {
            ends[at] += ends[at - 1];
        }
        let count = ends.last().map_or(0, |all| *all as usize);
        let mut sides = vec![(0_u32, 0_u32, false); count];
        let mut next = ends.clone();
        for (face, corners) in self.whole() {
            for (from, to) in around(corners) {
                let place = &mut next[from.min(to) as usize];
                sides[*place as usize] = (from.max(to), number(face), from > to);
                *place += 1;
            }
        }
        for corner in 0..self.corners.len() {
            let own = &mut sides[ends[corner] as usize..ends[corner + 1] as usize];
            own.sort_unstable();
            for edge in own.chunk_by(|one, other| one.0 == other.0) {
                let joins = match edge {
                    [(_, up, false), (_, down, true)] | [(_, down, true), (_, up, false)] => {
                        Some([*up as usize, *down as usize])
                    }
                    _ => None,
                };
                call([number(corner), edge[0].0], joins);
            }
        }
    }

    /// What the edges come to; `outwards` is −1 for a net that faces inwards, else 1.
    pub(super) fn edges(&self, outwards: f64) -> Edges {
        let mut sum = Edges::default();
        let mut ending: FxHashMap<u32, (usize, f64)> = FxHashMap::default();
        self.each_edge(|ends, joins| {
            sum.count += 1;
            let Some([up, down]) = joins else {
                sum.open += 1;
                return;
            };
            let along = minus(self.at(ends[1]), self.at(ends[0]));
            let long = length(along);
            let bend = outwards * bend(self.normal(up), self.normal(down), along, long);
            if bend < -SHARP_INWARD {
                sum.sharp_inward += long;
                for end in ends {
                    let met = ending.entry(end).or_default();
                    *met = (met.0 + 1, excess(bend));
                }
            }
            if bend > SHARP_OUTWARD {
                sum.sharp_outward += long;
            }
            if bend < 0.0 {
                sum.inward_excess += long * excess(bend);
            }
            sum.mean += 0.5 * long * bend;
        });
        let alone = ending.into_values().filter(|(met, _)| *met == 1);
        let mut alone: Vec<f64> = alone.map(|(_, excess)| excess).collect();
        // In one order, so that the sum is the same to the last bit each time.
        alone.sort_by(f64::total_cmp);
        sum.inward_ends = alone.iter().sum();
        sum
    }

    /// Corners − edges + faces, of the corners that faces use.
    pub(super) fn euler(&self, edges: usize) -> f64 {
        let mut used = vec![false; self.corners.len()];
        let mut faces = 0_usize;
        for (_, face) in self.whole() {
            faces += 1;
            for corner in face {
                used[corner as usize] = true;
            }
        }
        let corners = used.iter().filter(|used| **used).count();
        (corners + faces) as f64 - edges as f64
    }

    /// Σ (2π − angles of the faces) over the corners whose edges are all sound, and the largest of
    /// them.
    pub(super) fn missing_angle(&self) -> (f64, f64) {
        let mut missing = vec![TAU; self.corners.len()];
        let mut whole = vec![false; self.corners.len()];
        for (_, face) in self.whole() {
            for k in 0..3 {
                let [at, next, last] = [0, 1, 2].map(|step| face[(k + step) % 3]);
                let one = minus(self.at(next), self.at(at));
                let other = minus(self.at(last), self.at(at));
                missing[at as usize] -= length(cross(one, other)).atan2(dot(one, other));
                whole[at as usize] = true;
            }
        }
        self.each_edge(|ends, joins| {
            if joins.is_none() {
                for end in ends {
                    whole[end as usize] = false;
                }
            }
        });
        let sound = missing.iter().zip(whole).filter(|(_, whole)| *whole);
        sound.fold((0.0, 0.0), |(sum, most): (f64, f64), (angle, _)| {
            (sum + angle, most.max(*angle))
        })
    }

    /// The skin each triangle belongs to, and how many there are. Triangles with a corner in common
    /// are of one skin.
    pub(super) fn skins(&self) -> (Vec<u32>, usize) {
        let mut parent: Vec<u32> = (0..number(self.corners.len())).collect();
        for face in &self.faces {
            let roots = face.map(|corner| root(&mut parent, corner));
            let least = roots.into_iter().fold(u32::MAX, u32::min);
            for other in roots {
                parent[other as usize] = least;
            }
        }
        let mut numbers = FxHashMap::default();
        let skins = self.faces.iter().map(|face| {
            let top = root(&mut parent, face[0]);
            let next = number(numbers.len());
            *numbers.entry(top).or_insert(next)
        });
        let skins = skins.collect();
        (skins, numbers.len())
    }
}

/// No file that is read holds so many.
fn number(of: usize) -> u32 {
    u32::try_from(of).unwrap_or(u32::MAX)
}

/// The edges of a face, as it runs.
fn around([a, b, c]: [u32; 3]) -> [(u32, u32); 3] {
    [(a, b), (b, c), (c, a)]
}

/// The lowest corner of its group, with the way to it made shorter.
fn root(parent: &mut [u32], mut at: u32) -> u32 {
    while parent[at as usize] != at {
        parent[at as usize] = parent[parent[at as usize] as usize];
        at = parent[at as usize];
    }
    at
}

/// The volume of all the pyramids from one point to the triangles: negative if they face inwards.
pub(super) fn volume(triangles: &[[Point; 3]]) -> f64 {
    let Some(&[origin, ..]) = triangles.first() else {
        return 0.0;
    };
    let pyramid = |triangle: &[Point; 3]| {
        let [a, b, c] = triangle.map(|corner| minus(corner, origin));
        dot(a, cross(b, c)) / 6.0
    };
    triangles.iter().map(pyramid).sum()
}

/// The exterior angle between two faces, positive where the edge stands out; `along` runs as the
/// first face's corners do. A blade folded flat on itself stands out.
fn bend(first: Point, second: Point, along: Point, long: f64) -> f64 {
    let angle = (dot(cross(first, second), along) / long).atan2(dot(first, second));
    if angle < 1e-9 - PI {
        angle + TAU
    } else {
        angle
    }
}

/// What an inward bend takes from each unit of length and thickness beyond what M says.
fn excess(bend: f64) -> f64 {
    let inward = (-bend).min(MOST_INWARD);
    2.0 * (inward / 2.0).tan() - inward
}
