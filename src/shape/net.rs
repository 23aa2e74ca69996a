//! Triangles with their corners and edges joined: where a mesh bends, and whether it is closed.

use std::collections::HashMap;
use std::f64::consts::{PI, TAU};

/// An inward bend counts as this at most where the loss at it is bounded: 170°.
const MOST_INWARD: f64 = 170.0 / 180.0 * PI;

/// How the edges of a net bend.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Bends {
    /// M.
    pub(super) mean: f64,
    /// Length of edges that bend inwards by more than 30°.
    pub(super) sharp_inward: f64,
    /// Length of edges that stand out by more than 60°.
    pub(super) sharp_outward: f64,
    /// Σ length · (2·tan(θ/2) − θ) over edges that bend inwards by θ.
    pub(super) inward_excess: f64,
    /// The same without the length, over ends of sharp inward edges where no other goes on.
    pub(super) inward_ends: f64,
}

/// A triangle whose three corners differ.
struct Face {
    corners: [usize; 3],
    /// Twice its area, outwards.
    normal: [f64; 3],
}

/// An edge and the faces at it.
struct Edge {
    /// Its corners, the lower index first.
    ends: (usize, usize),
    /// A face that runs along it from the first end to the second, and one that runs the other way.
    faces: [Option<usize>; 2],
    count: usize,
}

impl Edge {
    /// Its two faces, if it joins two that agree which side is outside.
    fn sound(&self) -> Option<[usize; 2]> {
        match (self.faces, self.count) {
            ([Some(up), Some(down)], 2) => Some([up, down]),
            _ => None,
        }
    }
}

/// The triangles with their corners and edges joined, in the order of the file, so that sums come
/// out the same to the last bit each time. Triangles with two corners in one place are left out.
#[derive(Default)]
pub(super) struct Net {
    corners: Vec<[f64; 3]>,
    faces: Vec<Face>,
    edges: Vec<Edge>,
}

impl Net {
    pub(super) fn woven(triangles: &[[[f64; 3]; 3]]) -> Self {
        let mut net = Self::default();
        let (mut known, mut joined) = (HashMap::new(), HashMap::new());
        for triangle in triangles {
            let corners = triangle.map(|corner| {
                // Adding zero makes one zero of the two.
                *known
                    .entry(corner.map(|x| (x + 0.0).to_bits()))
                    .or_insert_with(|| {
                        net.corners.push(corner);
                        net.corners.len() - 1
                    })
            });
            let [a, b, c] = corners;
            if a != b && b != c && c != a {
                net.add(corners, *triangle, &mut joined);
            }
        }
        net
    }

    fn add(
        &mut self,
        corners: [usize; 3],
        [a, b, c]: [[f64; 3]; 3],
        joined: &mut HashMap<(usize, usize), usize>,
    ) {
        let index = self.faces.len();
        self.faces.push(Face {
            corners,
            normal: cross(minus(b, a), minus(c, a)),
        });
        for (from, to) in [(0, 1), (1, 2), (2, 0)] {
            let (from, to) = (corners[from], corners[to]);
            let ends = (from.min(to), from.max(to));
            let at = *joined.entry(ends).or_insert_with(|| {
                self.edges.push(Edge {
                    ends,
                    faces: [None; 2],
                    count: 0,
                });
                self.edges.len() - 1
            });
            let edge = &mut self.edges[at];
            edge.faces[usize::from(from > to)] = Some(index);
            edge.count += 1;
        }
    }

    pub(super) fn area(&self) -> f64 {
        self.faces
            .iter()
            .map(|face| 0.5 * length(face.normal))
            .sum()
    }

    /// How many edges do not join two faces that agree.
    pub(super) fn open_edges(&self) -> usize {
        self.edges
            .iter()
            .filter(|edge| edge.sound().is_none())
            .count()
    }

    /// How the sound edges bend; `outwards` is −1 for a net that faces inwards, else 1.
    pub(super) fn bends(&self, outwards: f64) -> Bends {
        let mut found = Bends::default();
        let mut ends: HashMap<usize, (usize, f64)> = HashMap::new();
        for edge in &self.edges {
            let Some([up, down]) = edge.sound() else {
                continue;
            };
            let along = minus(self.corners[edge.ends.1], self.corners[edge.ends.0]);
            let long = length(along);
            let bend = outwards * bend(self.faces[up].normal, self.faces[down].normal, along, long);
            if bend < -PI / 6.0 {
                found.sharp_inward += long;
                for end in [edge.ends.0, edge.ends.1] {
                    let met = ends.entry(end).or_default();
                    *met = (met.0 + 1, excess(bend));
                }
            }
            if bend > PI / 3.0 {
                found.sharp_outward += long;
            }
            if bend < 0.0 {
                found.inward_excess += long * excess(bend);
            }
            found.mean += 0.5 * long * bend;
        }
        let mut alone: Vec<f64> = ends
            .into_values()
            .filter(|(met, _)| *met == 1)
            .map(|(_, excess)| excess)
            .collect();
        // In one order, so that the sum is the same to the last bit each time.
        alone.sort_by(f64::total_cmp);
        found.inward_ends = alone.iter().sum();
        found
    }

    /// Corners − edges + faces, of the corners that faces use.
    pub(super) fn euler(&self) -> f64 {
        let mut used = vec![false; self.corners.len()];
        for corner in self.faces.iter().flat_map(|face| face.corners) {
            used[corner] = true;
        }
        let corners = used.iter().filter(|used| **used).count();
        (corners + self.faces.len()) as f64 - self.edges.len() as f64
    }

    /// Σ (2π − angles of the faces) over the corners whose edges are all sound, and the largest of
    /// them.
    pub(super) fn missing_angle(&self) -> (f64, f64) {
        let mut missing = vec![TAU; self.corners.len()];
        let mut whole = vec![false; self.corners.len()];
        for face in &self.faces {
            for k in 0..3 {
                let [at, next, last] = [0, 1, 2].map(|step| face.corners[(k + step) % 3]);
                let one = minus(self.corners[next], self.corners[at]);
                let other = minus(self.corners[last], self.corners[at]);
                missing[at] -= length(cross(one, other)).atan2(dot(one, other));
                whole[at] = true;
            }
        }
        for edge in self.edges.iter().filter(|edge| edge.sound().is_none()) {
            whole[edge.ends.0] = false;
            whole[edge.ends.1] = false;
        }
        missing
            .iter()
            .zip(whole)
            .filter(|(_, whole)| *whole)
            .fold((0.0, 0.0), |(sum, most): (f64, f64), (angle, _)| {
                (sum + angle, most.max(*angle))
            })
    }
}

/// The volume of all the pyramids from one point to the triangles: negative if they face inwards.
pub(super) fn volume(triangles: &[[[f64; 3]; 3]]) -> f64 {
    let Some(&[origin, ..]) = triangles.first() else {
        return 0.0;
    };
    let pyramid = |triangle: &[[f64; 3]; 3]| {
        let [a, b, c] = triangle.map(|corner| minus(corner, origin));
        dot(a, cross(b, c)) / 6.0
    };
    triangles.iter().map(pyramid).sum()
}

/// The exterior angle between two faces, positive where the edge stands out; `along` runs as the
/// first face's corners do. A blade folded flat on itself stands out.
fn bend(first: [f64; 3], second: [f64; 3], along: [f64; 3], long: f64) -> f64 {
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

fn minus(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn length(a: [f64; 3]) -> f64 {
    dot(a, a).sqrt()
}
