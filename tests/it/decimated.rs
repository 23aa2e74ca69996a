//! The same solid at several resolutions: copies that were decimated agree.

#![allow(clippy::unwrap_used)] // test code, its helpers included

use super::surface::{Triangle, icosphere, in_mm};
use std::collections::{BTreeSet, HashMap};

type Point = [f64; 3];

fn minus(a: Point, b: Point) -> Point {
    std::array::from_fn(|k| a[k] - b[k])
}

fn cross(a: Point, b: Point) -> Point {
    std::array::from_fn(|k| a[(k + 1) % 3] * b[(k + 2) % 3] - a[(k + 2) % 3] * b[(k + 1) % 3])
}

fn dot(a: Point, b: Point) -> f64 {
    (0..3).map(|k| a[k] * b[k]).sum()
}

/// Corners that triangles share, and the triangles on them.
struct Coarse {
    corners: Vec<Point>,
    faces: Vec<[usize; 3]>,
}

impl Coarse {
    fn of(triangles: &[Triangle]) -> Self {
        let mut number = HashMap::new();
        let mut corners = Vec::new();
        let mut at = |corner: Point| {
            *number.entry(corner.map(f64::to_bits)).or_insert_with(|| {
                corners.push(corner);
                corners.len() - 1
            })
        };
        let faces = triangles.iter().map(|one| one.map(&mut at)).collect();
        Self { corners, faces }
    }

    fn triangles(&self) -> Vec<Triangle> {
        let corner = |at: usize| self.corners[at];
        self.faces.iter().map(|face| face.map(corner)).collect()
    }

    /// Takes out edges, the shortest first, until at most so many triangles are left. Both ends of
    /// an edge become one corner, placed off its middle so that the volume stays as it was.
    fn decimate(&mut self, most: usize) {
        while self.faces.len() > most {
            let before = self.faces.len();
            self.pass(most);
            assert!(self.faces.len() < before, "stuck at {before} triangles");
        }
    }

    fn pass(&mut self, most: usize) {
        let mut on: Vec<Vec<usize>> = vec![Vec::new(); self.corners.len()];
        let mut edges = BTreeSet::new();
        for (face, corners) in self.faces.iter().enumerate() {
            for k in 0..3 {
                let (a, b) = (corners[k], corners[(k + 1) % 3]);
                on[a].push(face);
                let along = minus(self.corners[b], self.corners[a]);
                edges.insert((dot(along, along).to_bits(), a.min(b), a.max(b)));
            }
        }
        let around = |at: usize, faces: &[[usize; 3]]| -> BTreeSet<usize> {
            let all = on[at].iter().flat_map(|face| faces[*face]);
            all.filter(|other| *other != at).collect()
        };
        let mut touched = vec![false; self.corners.len()];
        let mut gone = vec![false; self.faces.len()];
        let mut left = self.faces.len();
        for (_, a, b) in edges {
            let (near, far) = (around(a, &self.faces), around(b, &self.faces));
            let ring: BTreeSet<usize> = near.union(&far).copied().collect();
            let alone = ring.iter().all(|at| !touched[*at]);
            if left <= most || !alone || near.intersection(&far).count() != 2 {
                continue;
            }
            let faces: BTreeSet<usize> = on[a].iter().chain(&on[b]).copied().collect();
            if let Some(at) = self.placed(a, b, &faces) {
                self.corners[a] = at;
                for face in faces {
                    let corners = &mut self.faces[face];
                    gone[face] = corners.contains(&a) && corners.contains(&b);
                    corners
                        .iter_mut()
                        .filter(|at| **at == b)
                        .for_each(|at| *at = a);
                }
                left -= 2;
                ring.into_iter().for_each(|at| touched[at] = true);
            }
        }
        let mut gone = gone.into_iter();
        self.faces.retain(|_| !gone.next().unwrap());
    }

    /// Where the corner goes that both ends become; none where a triangle would turn over.
    fn placed(&self, a: usize, b: usize, faces: &BTreeSet<usize>) -> Option<Point> {
        let corner = |at: usize| self.corners[at];
        let normal = |[p, q, r]: [Point; 3]| cross(minus(q, p), minus(r, p));
        let six = |[p, q, r]: [Point; 3]| dot(p, cross(q, r));
        let (mut before, mut after, mut up) = (0.0, 0.0, [0.0; 3]);
        let middle: Point = std::array::from_fn(|k| f64::midpoint(corner(a)[k], corner(b)[k]));
        let moved = |face: usize, to: Point| {
            self.faces[face].map(|at| if at == a || at == b { to } else { corner(at) })
        };
        for face in faces {
            before += six(self.faces[*face].map(corner));
            after += six(moved(*face, middle));
            let n = normal(moved(*face, middle));
            up = std::array::from_fn(|k| up[k] + n[k]);
        }
        // The volume is linear in the corner: its slope along `up` is up·up.
        let lift = (before - after) / dot(up, up);
        let to: Point = std::array::from_fn(|k| middle[k] + lift * up[k]);
        let turns = faces.iter().any(|face| {
            let kept = !(self.faces[*face].contains(&a) && self.faces[*face].contains(&b));
            kept && dot(
                normal(self.faces[*face].map(corner)),
                normal(moved(*face, to)),
            ) <= 0.0
        });
        (!turns).then_some(to)
    }
}

/// A pod with six ribs, 24 by 40 mm, of 20 480 triangles.
fn ribbed() -> Vec<Triangle> {
    let bent = |[x, y, z]: Point| {
        let around = y.atan2(x);
        let out = 1.0 + 0.12 * (6.0 * around).cos() * (1.0 - z * z);
        [12.0 * out * x, 12.0 * out * y, 20.0 * z]
    };
    icosphere(1.0, 5).iter().map(|one| one.map(bent)).collect()
}

/// A ring, 20 mm across, of 4 mm wire, of 20 480 triangles.
fn ring() -> Vec<Triangle> {
    let (around, across) = (160, 64);
    let at = |u: usize, v: usize| {
        let (sin, cos) = (std::f64::consts::TAU * (u % around) as f64 / around as f64).sin_cos();
        let (up, out) = (std::f64::consts::TAU * (v % across) as f64 / across as f64).sin_cos();
        let far = 10.0 + 2.0 * out;
        [far * cos, far * sin, 2.0 * up]
    };
    let mut triangles = Vec::new();
    for u in 0..around {
        for v in 0..across {
            let corners = [at(u, v), at(u + 1, v), at(u + 1, v + 1), at(u, v + 1)];
            triangles.extend(super::surface::quad(corners));
        }
    }
    triangles
}

#[test]
fn decimated_copies_agree_within_one_percent() {
    for (name, whole) in [
        ("pod", ribbed()),
        ("ring", ring()),
        ("ball", icosphere(11.0, 5)),
    ] {
        assert_eq!(whole.len(), 20_480, "{name}");
        let fine = in_mm(&whole).survey().unwrap();
        let mut copy = Coarse::of(&whole);
        for most in [10_240, 5_120, 2_560] {
            copy.decimate(most);
            let found = in_mm(&copy.triangles()).survey().unwrap();
            assert!(
                found.watertight && found.triangles <= most,
                "{name}: {found:?}"
            );
            let off = |ours: f64, theirs: f64| (ours / theirs - 1.0) * 100.0;
            let area = off(found.body.area.m2(), fine.body.area.m2());
            let volume = off(found.body.volume.m3(), fine.body.volume.m3());
            let mean = off(found.body.mean_curvature.m(), fine.body.mean_curvature.m());
            println!("{name}, {most}: area {area:+.3} %, volume {volume:+.5} %, M {mean:+.3} %");
            assert!(
                area.abs() < 1.0 && volume.abs() < 1.0,
                "{name}: {area}, {volume}"
            );
            assert!(mean.abs() < 2.0, "{name}: {mean}");
            // The Gauss term does not know resolution: χ stays.
            assert!((found.body.gauss - fine.body.gauss).abs() < 1e-9, "{name}");
        }
    }
}
