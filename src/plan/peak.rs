//! What edges and tips of a piece get against its mean.

use crate::shape::ellipsoid;
use crate::shape::mesh::Mesh;
use crate::spec::{Form, Piece};
use crate::units::Length;
use std::f64::consts::PI;

/// Where only an area is known, and at edges of plates, rims and wire ends (`common practice, no
/// source`; a real rack can be worse where tips point at the anode).
pub const PEAK_TO_MEAN: f64 = 1.5;
/// A body without edges, such as a ball: the side that faces the anode (`common practice,
/// no source`). Held against what the resistance of the bath alone gives a ball, which is the most,
/// since kinetics and levellers even it out (potential theory, image charges; the tests reckon it):
/// 1.18 where 1½ radii of bath are before a flat anode, 1.01 at 8 radii; 1.20 on the far sides of
/// two balls one radius apart, 1.32 where they touch. With walls all round and one anode it is 1
/// and 1.5 times the cathode's area over the tank's cross-section, so that 1.2 stands for pieces
/// that have 13 % of it.
const ROUND: f64 = 1.2;
/// A tip: the point of a cone, a sharp corner of a mesh (`common practice, no source`).
const TIP: f64 = 2.0;
/// A cone whose top is a smaller part of its bottom ends in a tip.
const POINTED: f64 = 0.25;
/// A corner of a mesh at which more than this angle is missing is a tip: it is missing from a round
/// cone of 60° in all.
const SHARP_CORNER: f64 = PI;

/// The highest density on a piece against its mean: what the job states, else what its shape says.
pub(super) fn of(piece: &Piece) -> f64 {
    piece.peak_to_mean.unwrap_or_else(|| form(&piece.form))
}

fn form(form: &Form) -> f64 {
    match form {
        Form::Sphere { .. } => ROUND,
        Form::Ring { across, wire } => outer_rim(*across / *wire),
        Form::Ellipsoid { a, b, c } => drawn_out([*a, *b, *c]),
        Form::Cone { bottom, top, .. } if top.min(*bottom) < top.max(*bottom) * POINTED => TIP,
        Form::Wire { .. }
        | Form::Rod { .. }
        | Form::Tube { .. }
        | Form::Plate { .. }
        | Form::Disc { .. }
        | Form::Cone { .. }
        | Form::Prism { .. }
        | Form::Coil { .. }
        | Form::Leaf { .. } => PEAK_TO_MEAN,
        Form::Plain { like, .. } | Form::Foil { like, .. } => {
            like.as_ref().map_or(PEAK_TO_MEAN, |like| self::form(like))
        }
        Form::Mesh(mesh) => self::mesh(mesh),
        Form::Many { each, .. } => self::form(each),
        Form::Together(parts) => parts.iter().map(self::form).fold(ROUND, f64::max),
    }
}

/// An ellipsoid alone in a wide bath whose resistance is all there is takes, at the ends of its
/// longest axis, A/(4πbc) of the mean, with half axes a ≥ b ≥ c: the charge on a conductor, σ =
/// Q·h/(4πabc) with h the distance of the tangent plane (potential theory; from memory). Kinetics
/// and levellers even it out, so that it is the worst, and no more than a tip's is taken.
fn drawn_out(axes: [Length; 3]) -> f64 {
    let mut half = axes.map(|axis| axis.m() / 2.0);
    half.sort_by(f64::total_cmp);
    let area = ellipsoid(axes[0], axes[1], axes[2]).map_or(0.0, |body| body.area.m2());
    (area / (4.0 * PI * half[0] * half[1])).clamp(ROUND, TIP)
}

/// A ring of so many wire diameters across, alone in a wide bath whose resistance is all there is:
/// its density goes as 1 + p·cos ψ round the wire, outwards at ψ = 0, with p = (ln 8n − 3/2)/n; the
/// mean of that over the ring's area is 1 + p/2n (potential theory: a line of sources bent to the
/// ring, with the pair beside it that keeps the wire at one potential; our own derivation, to the
/// first order in 1/n, and up to 3 % too much for thick rings). The worst, as for an ellipsoid.
fn outer_rim(n: f64) -> f64 {
    let p = ((8.0 * n).ln() - 1.5) / n;
    ((1.0 + p) / (1.0 + p / (2.0 * n))).clamp(ROUND, TIP)
}

/// A mesh by its proportions, its edges and its sharpest corner.
fn mesh(mesh: &Mesh) -> f64 {
    let Ok(survey) = mesh.survey() else {
        return PEAK_TO_MEAN;
    };
    let edges = if survey.sharp_outward > Length::ZERO {
        PEAK_TO_MEAN
    } else {
        ROUND
    };
    let tips = if mesh.sharpest() > SHARP_CORNER {
        TIP
    } else {
        ROUND
    };
    drawn_out(survey.extent).max(edges).max(tips)
}
