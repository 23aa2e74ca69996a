//! Distances that march over a net of triangles from corner to corner, the nearest first.

use super::net::{Net, number};
use super::vector::{Point, Triangle, dot, length, minus, normal};
use rustc_hash::FxHashMap;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Corners, the triangles on them, and which triangles are at each corner.
pub(super) struct Paths {
    pub(super) corners: Vec<Point>,
    pub(super) faces: Vec<[u32; 3]>,
    /// The numbers of the triangles at the first corner, at the second and so on, and where those
    /// of each corner begin.
    at: Vec<u32>,
    begin: Vec<u32>,
}

impl Paths {
    /// The net's corners and its faces whose three corners differ.
    pub(super) fn over(net: &Net) -> Self {
        let faces = net.whole().map(|(_, face)| face);
        Self::joined(net.corners.clone(), faces.collect())
    }

    fn joined(corners: Vec<Point>, faces: Vec<[u32; 3]>) -> Self {
        let mut begin = vec![0_u32; corners.len() + 1];
        for corner in faces.as_flattened() {
            begin[*corner as usize] += 1;
        }
        // For now where those of each end: putting them in from the last moves it to the beginning.
        let mut sum = 0;
        for count in &mut begin {
            sum += *count;
            *count = sum;
        }
        let mut at = vec![0_u32; 3 * faces.len()];
        for (which, face) in faces.iter().enumerate().rev() {
            for corner in face {
                let place = &mut begin[*corner as usize];
                *place -= 1;
                at[*place as usize] = number(which);
            }
        }
        Self {
            corners,
            faces,
            at,
            begin,
        }
    }

    /// The triangles at a corner.
    fn around(&self, corner: u32) -> &[u32] {
        let [from, to] = [0, 1].map(|next| self.begin[corner as usize + next] as usize);
        &self.at[from..to]
    }

    /// The same surface in four times the triangles, each cut at the middles of its edges.
    pub(super) fn cut(self) -> Self {
        let mut corners = self.corners;
        let mut middles = FxHashMap::default();
        let mut faces = Vec::with_capacity(4 * self.faces.len());
        for face in &self.faces {
            let [ab, bc, ca] = [(0, 1), (1, 2), (2, 0)].map(|(from, to)| {
                let (from, to) = (face[from], face[to]);
                *middles
                    .entry((from.min(to), from.max(to)))
                    .or_insert_with(|| {
                        let (a, b) = (corners[from as usize], corners[to as usize]);
                        corners.push([0, 1, 2].map(|k| f64::midpoint(a[k], b[k])));
                        number(corners.len() - 1)
                    })
            });
            let [a, b, c] = *face;
            faces.extend([[a, ab, ca], [ab, b, bc], [ca, bc, c], [ab, bc, ca]]);
        }
        Self::joined(corners, faces)
    }

    /// The corner nearest to a point, and how far that is.
    pub(super) fn nearest(&self, point: Point) -> Option<(u32, f64)> {
        let apart = |corner: &Point| {
            let d = minus(*corner, point);
            dot(d, d)
        };
        let all = (0_u32..).zip(self.corners.iter().map(apart));
        all.min_by(|one, other| one.1.total_cmp(&other.1))
            .map(|(corner, square)| (corner, square.sqrt()))
    }

    /// The distance of each corner over the surface from the nearest of these; infinite where no
    /// way leads.
    ///
    /// A corner is reached through an edge whose ends are known: the source is unfolded into the
    /// plane of the triangle (the update of Novotni and Klein, 2002, from memory). On a surface
    /// that can be unrolled this is the straight line; elsewhere it errs by a share that falls with
    /// the size of the triangles.
    pub(super) fn march(&self, sources: &[u32]) -> Vec<f64> {
        let mut far = vec![f64::INFINITY; self.corners.len()];
        let mut done = vec![false; self.corners.len()];
        let mut heap = BinaryHeap::new();
        for source in sources {
            far[*source as usize] = 0.0;
            heap.push(Reverse((0_u64, *source)));
        }
        while let Some(Reverse((_, here))) = heap.pop() {
            if std::mem::replace(&mut done[here as usize], true) {
                continue;
            }
            for face in self.around(here) {
                let face = self.faces[*face as usize];
                for corner in 0..3 {
                    let [to, one, other] = [0, 1, 2].map(|step| face[(corner + step) % 3]);
                    if done[to as usize] {
                        continue;
                    }
                    let ends = [one, other];
                    let reached = self.across(to, ends, ends.map(|end| far[end as usize]));
                    if reached < far[to as usize] {
                        far[to as usize] = reached;
                        // Distances are not negative, so their bits sort as they do.
                        heap.push(Reverse((reached.to_bits(), to)));
                    }
                }
            }
        }
        far
    }

    /// The distance of a corner through an edge whose ends have these, or along either side.
    fn across(&self, to: u32, ends: [u32; 2], [da, db]: [f64; 2]) -> f64 {
        let [a, b, c] = [ends[0], ends[1], to].map(|corner| self.corners[corner as usize]);
        let [ab, ac, bc] = [minus(b, a), minus(c, a), minus(c, b)];
        let along = (da + length(ac)).min(db + length(bc));
        let long = length(ab);
        if !(da.is_finite() && db.is_finite() && long > 0.0) {
            return along;
        }
        // The edge lies along x, the corner above it, the source below it.
        let cx = dot(ac, ab) / long;
        let cy = (dot(ac, ac) - cx * cx).max(0.0).sqrt();
        let sx = (da * da - db * db + long * long) / (2.0 * long);
        let below = da * da - sx * sx;
        if below < 0.0 || cy <= 0.0 {
            return along;
        }
        let sy = below.sqrt();
        let crossing = sx + (cx - sx) * sy / (cy + sy);
        if (0.0..=long).contains(&crossing) {
            (cx - sx).hypot(cy + sy).min(along)
        } else {
            along
        }
    }

    fn triangle(&self, face: [u32; 3]) -> Triangle {
        face.map(|corner| self.corners[corner as usize])
    }

    pub(super) fn area(&self, face: [u32; 3]) -> f64 {
        length(normal(self.triangle(face))) / 2.0
    }
}
