//! Triangles with their corners and edges joined: where a mesh bends, and whether it is closed.

use super::vector::{Point, Triangle, cross, dot, length, minus, normal};
use hashbrown::hash_table::{Entry, HashTable};
use rustc_hash::{FxBuildHasher, FxHashMap};
use std::f64::consts::{PI, TAU};
use std::hash::BuildHasher;

/// An edge that bends inwards by more is sharp: 30°.
const SHARP_INWARD: f64 = PI / 6.0;
/// One that stands out by more is an edge to which current crowds: 60°.
const SHARP_OUTWARD: f64 = PI / 3.0;
/// An inward bend counts as this at most where the loss at it is bounded: 170°.
const MOST_INWARD: f64 = 170.0 / 180.0 * PI;

/// Triangles with their corners joined, in the order of the file. Corners are numbered as they
/// come, so that each is a face's; a triangle with two corners in one place stays, and counts for
/// nothing.
#[derive(Clone, Debug, PartialEq)]
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
    pub(super) fn woven(triangles: impl ExactSizeIterator<Item = Triangle>) -> Self {
        // A closed mesh has about half as many corners as triangles.
        let about = triangles.len() / 2 + 2;
        let mut corners: Vec<Point> = Vec::with_capacity(about);
        // Numbers alone: the corners themselves stand in their list, once.
        let mut known: HashTable<u32> = HashTable::with_capacity(about);
        let mut joined = |corner: Point| {
            let own = bits(corner);
            let same = |at: &u32| bits(corners[*at as usize]) == own;
            let hash = |at: &u32| FxBuildHasher.hash_one(bits(corners[*at as usize]));
            match known.entry(FxBuildHasher.hash_one(own), same, hash) {
                Entry::Occupied(there) => *there.get(),
                Entry::Vacant(free) => {
                    let next = number(corners.len());
                    free.insert(next);
                    corners.push(corner);
                    next
                }
            }
        };
        let faces = triangles.map(|one| one.map(&mut joined)).collect();
        Self { corners, faces }
    }

    /// Makes it larger.
    pub(super) fn scale(&mut self, times: f64) {
        for x in self.corners.iter_mut().flatten() {
            *x *= times;
        }
    }

    /// Turns every face over.
    pub(super) fn turn(&mut self) {
        for face in &mut self.faces {
            face.swap(1, 2);
        }
    }

    /// The first face with a corner that is nowhere.
    pub(super) fn not_finite(&self) -> Option<usize> {
        let sound = |corner: &Point| corner.iter().all(|x| x.is_finite());
        if self.corners.iter().all(sound) {
            return None;
        }
        let bad = |face: &[u32; 3]| face.iter().any(|corner| !sound(&self.at(*corner)));
        self.faces.iter().position(bad)
    }

    /// The lowest and the highest coordinate along each axis.
    pub(super) fn bounds(&self) -> [Point; 2] {
        let start = [[f64::INFINITY; 3], [f64::NEG_INFINITY; 3]];
        self.corners.iter().fold(start, |[low, high], corner| {
            let of = |one: Point, pick: fn(f64, f64) -> f64| {
                std::array::from_fn(|axis| pick(one[axis], corner[axis]))
            };
            [of(low, f64::min), of(high, f64::max)]
        })
    }

    /// The numbers of all faces.
    pub(super) fn numbers(&self) -> std::ops::Range<u32> {
        0..number(self.faces.len())
    }

    /// The corners of a face.
    pub(super) fn triangle(&self, face: [u32; 3]) -> Triangle {
        face.map(|corner| self.at(corner))
    }

    /// The faces whose three corners differ, each with its place in the file.
    pub(super) fn whole(&self) -> impl Iterator<Item = (usize, [u32; 3])> + '_ {
        let faces = self.faces.iter().copied().enumerate();
        faces.filter(|(_, [a, b, c])| a != b && b != c && c != a)
    }

    fn at(&self, corner: u32) -> Point {
        self.corners[corner as usize]
    }

    /// Twice the area of each face, outwards.
    pub(super) fn normals(&self) -> Vec<Point> {
        let faces = self.faces.iter();
        faces.map(|face| normal(self.triangle(*face))).collect()
    }

    /// The volume of all the pyramids from one point to the faces, whose normals these are:
    /// negative if they face inwards.
    pub(super) fn volume(&self, normals: &[Point]) -> f64 {
        let Some(&origin) = self.corners.first() else {
            return 0.0;
        };
        let pyramid = |([corner, ..], normal): (&[u32; 3], &Point)| {
            dot(minus(self.at(*corner), origin), *normal) / 6.0
        };
        self.faces.iter().zip(normals).map(pyramid).sum()
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
        let mut sides = vec![Side(0); count];
        let mut next = ends.clone();
        for (face, corners) in self.whole() {
            for (from, to) in around(corners) {
                let place = &mut next[from.min(to) as usize];
                sides[*place as usize] = Side::new(from, to, number(face));
                *place += 1;
            }
        }
        for corner in 0..self.corners.len() {
            let own = &mut sides[ends[corner] as usize..ends[corner + 1] as usize];
            own.sort_unstable();
            for edge in own.chunk_by(|one, other| one.far() == other.far()) {
                let joins = match edge {
                    [up, down] if !up.runs_down() && down.runs_down() => {
                        Some([up.face(), down.face()])
                    }
                    _ => None,
                };
                call([number(corner), edge[0].far()], joins);
            }
        }
    }

    /// What the edges come to between faces of these normals; `outwards` is −1 for a net that faces
    /// inwards, else 1.
    pub(super) fn edges(&self, normals: &[Point], outwards: f64) -> Edges {
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
            let bend = outwards * bend(normals[up], normals[down], along, long);
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

    /// The skin each face belongs to, numbered as they come, and how many there are. Faces with a
    /// corner in common are of one skin.
    pub(super) fn skins(&self) -> (Vec<u32>, usize) {
        let mut parent: Vec<u32> = (0..number(self.corners.len())).collect();
        for face in &self.faces {
            let roots = face.map(|corner| root(&mut parent, corner));
            let least = roots.into_iter().fold(u32::MAX, u32::min);
            for other in roots {
                parent[other as usize] = least;
            }
        }
        // No parent has a higher number than its corner: in their order, each parent is told first.
        let (mut skins, mut count) = (parent, 0_u32);
        for corner in 0..skins.len() {
            let parent = skins[corner];
            if parent == number(corner) {
                skins[corner] = count;
                count += 1;
            } else {
                skins[corner] = skins[parent as usize];
            }
        }
        let faces = self.faces.iter();
        let of_faces = faces.map(|[corner, ..]| skins[*corner as usize]);
        (of_faces.collect(), count as usize)
    }
}

/// One side of a face as it is sorted among those of its lower corner: the number of the higher
/// one; whether it runs from that down to the lower, so that such sides come last; the face.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Side(u64);

impl Side {
    const RUNS_DOWN: u64 = 1 << 31;

    fn new(from: u32, to: u32, face: u32) -> Self {
        let runs_down = if from > to { Self::RUNS_DOWN } else { 0 };
        Self(u64::from(from.max(to)) << 32 | runs_down | u64::from(face))
    }

    fn far(self) -> u32 {
        (self.0 >> 32) as u32
    }

    fn runs_down(self) -> bool {
        self.0 & Self::RUNS_DOWN != 0
    }

    fn face(self) -> usize {
        (self.0 & (Self::RUNS_DOWN - 1)) as u32 as usize
    }
}

/// A corner as it is told from others: to the bit, but that the two zeros are one.
fn bits(corner: Point) -> [u64; 3] {
    corner.map(|x| (x + 0.0).to_bits())
}

/// No file that is read holds so many.
pub(super) fn number(of: usize) -> u32 {
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
