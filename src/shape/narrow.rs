//! Where Steiner's formula errs on a mesh: sharp inward edges, and walls that grow together.

use super::mesh::{Mesh, Survey};
use super::tree::Tree;
use super::vector::length;
use crate::units::{Area, Length};

/// Points of the surface that are looked from.
const LOOKS: usize = 8_192;
/// What a stretch leaves out at its start, as a share: the face it stands on.
const SKIP: f64 = 1e-6;

/// How far the formula overstates the area of a mesh under a deposit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Narrow {
    /// Under this thickness.
    pub thickness: Length,
    /// By edges that bend inwards: (L + nd)·d·(2·tan(θ/2) − θ) each, where n of its ends lie in a
    /// face across it.
    pub at_edges: Area,
    /// Area that looks at a wall nearer than twice the thickness: deposits meet there, and at most
    /// all of it is lost.
    pub closing: Area,
    /// Both, as a share of the area that the formula gives at that thickness; at most 1.
    pub share: f64,
}

impl Mesh {
    /// Where the formula errs under a deposit. `survey` is this mesh's.
    ///
    /// The sum bounds what the formula overstates while each edge's own loss fits on its two faces;
    /// walls are found from 8 192 places evenly over the area, so that a closing spot of less than
    /// a few thousandths of the area may be missed.
    #[must_use]
    pub fn narrow(&self, survey: &Survey, thickness: Length) -> Narrow {
        let d = thickness.m().max(0.0);
        let excess = survey.inward_excess.m() + d * survey.inward_ends;
        let at_edges = Area::from_m2(d * excess);
        let closing = survey.body.area * self.facing_within(2.0 * d);
        let grown = survey.body.area_at(thickness);
        let lost = at_edges + closing;
        let share = if lost > Area::ZERO {
            (lost / grown).min(1.0)
        } else {
            0.0
        };
        Narrow {
            thickness,
            at_edges,
            closing,
            share,
        }
    }

    /// The share of the area from which a wall that faces it is nearer than `reach`, in metres.
    fn facing_within(&self, reach: f64) -> f64 {
        if reach <= 0.0 || reach.is_nan() {
            return 0.0;
        }
        let net = self.net();
        let tree = Tree::over(net, net.numbers());
        let normals = net.normals();
        let whole: f64 = normals.iter().map(|normal| length(*normal)).sum();
        let (step, mut past, mut looked, mut met) = (whole / LOOKS as f64, 0.0, 0_usize, 0_usize);
        for (face, normal) in net.faces.iter().zip(normals) {
            let size = length(normal);
            past += size;
            while (looked as f64 + 0.5) * step < past && looked < LOOKS {
                let from = place(&net.triangle(*face), looked);
                let along = normal.map(|x| x / size * reach);
                looked += 1;
                met += usize::from(tree.meets(from, along, SKIP));
            }
        }
        met as f64 / looked.max(1) as f64
    }
}

/// A point within a triangle, the `number`th of a sequence that fills it evenly (steps by the
/// fractional parts of 1/p and 1/p², p³ = p + 1).
pub(super) fn place([a, b, c]: &[[f64; 3]; 3], number: usize) -> [f64; 3] {
    let step = |share: f64| (0.5 + share * (number + 1) as f64).fract();
    let (mut s, mut t) = (step(0.754_877_666_246_692_8), step(0.569_840_290_998_053_3));
    if s + t > 1.0 {
        (s, t) = (1.0 - s, 1.0 - t);
    }
    std::array::from_fn(|k| a[k] + s * (b[k] - a[k]) + t * (c[k] - a[k]))
}
