//! Bodies of revolution with a convex section, by Pappus: an arc's area is its length times the way
//! of its centroid.

use super::Law;
use std::f64::consts::{FRAC_PI_2, TAU};

/// A straight piece of the outline.
#[derive(Clone, Copy)]
struct Edge {
    /// Its length.
    length: f64,
    /// Distance of its middle from the axis.
    middle: f64,
    /// Direction of its outward normal: 0 away from the axis, +π/2 up.
    normal: f64,
}

/// A corner of the outline, which becomes an arc.
#[derive(Clone, Copy)]
struct Corner {
    /// Its distance from the axis.
    radius: f64,
    /// Normal before it.
    from: f64,
    /// Normal after it, not less than `from`.
    to: f64,
}

/// A closed cone, stump of one, or cylinder; radii and height in metres, either radius may be zero.
pub(super) fn frustum(bottom: f64, top: f64, height: f64) -> Law {
    let outline = [[0.0, 0.0], [bottom, 0.0], [top, height], [0.0, height]];
    let edges = edges(&outline);
    let mut corners = Vec::new();
    let mut before = -FRAC_PI_2;
    let mut radius = 0.0;
    for (edge, end) in &edges {
        corners.push(Corner {
            radius,
            from: before,
            to: edge.normal,
        });
        before = edge.normal;
        radius = end[0];
    }
    corners.push(Corner {
        radius,
        from: before,
        to: FRAC_PI_2,
    });
    swept(edges.into_iter().map(|(edge, _)| edge).collect(), corners)
}

/// An open tube wetted on both sides; radii and length in metres.
pub(super) fn tube(outer: f64, inner: f64, length: f64) -> Law {
    let outline = [
        [inner, 0.0],
        [outer, 0.0],
        [outer, length],
        [inner, length],
        [inner, 0.0],
    ];
    let edges = edges(&outline);
    let corners = (0..edges.len())
        .map(|index| {
            let (edge, end) = edges[index];
            let from = edge.normal;
            Corner {
                radius: end[0],
                from,
                to: from + FRAC_PI_2,
            }
        })
        .collect();
    swept(edges.into_iter().map(|(edge, _)| edge).collect(), corners)
}

/// The pieces of an outline walked with the outside on the right, and where each ends; empty ones
/// left out.
fn edges(outline: &[[f64; 2]]) -> Vec<(Edge, [f64; 2])> {
    outline
        .windows(2)
        .filter_map(|ends| {
            let ([r0, z0], [r1, z1]) = (ends[0], ends[1]);
            let (along, up) = (r1 - r0, z1 - z0);
            let length = along.hypot(up);
            let normal = (-along).atan2(up);
            let middle = f64::midpoint(r0, r1);
            (length > 0.0).then_some((
                Edge {
                    length,
                    middle,
                    normal,
                },
                [r1, z1],
            ))
        })
        .collect()
}

/// The law of an outline swept round the axis. A bore that has grown shut has no area left.
fn swept(edges: Vec<Edge>, corners: Vec<Corner>) -> Law {
    Box::new(move |d| {
        let straight: f64 = edges
            .iter()
            .map(|edge| edge.length * TAU * (edge.middle + d * edge.normal.cos()).max(0.0))
            .sum();
        let arcs: f64 = corners
            .iter()
            .map(|c| TAU * d * (c.radius * (c.to - c.from) + d * (c.to.sin() - c.from.sin())))
            .sum();
        straight + arcs
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    #[test]
    fn a_cylinder_grows_by_its_side_its_rims_and_a_ball() {
        // Textbook: side 2π(r + d)h, two discs πr², and half a tube round each rim: π²rd + 2πd²
        // each.
        let (r, h, d): (f64, f64, f64) = (10.0, 50.0, 2.0);
        let exact = TAU * (r + d) * h + TAU * r * r + 2.0 * PI * PI * r * d + 4.0 * PI * d * d;
        assert!((frustum(r, r, h)(d) - exact).abs() < 1e-9);
    }

    #[test]
    fn a_sharp_tip_becomes_part_of_a_ball() {
        // A needle of no radius is a line: the surface a distance d away is a capsule, 2πdh + 4πd².
        let capsule = frustum(0.0, 0.0, 30.0)(2.0);
        assert!(
            (capsule - (TAU * 2.0 * 30.0 + 4.0 * PI * 4.0)).abs() < 1e-9,
            "{capsule}"
        );
    }

    #[test]
    fn a_tube_has_no_ball_in_it() {
        // Outside and bore change by ±2πdL and cancel; the four rims add π²d(ro + ri); 8 and 10 mm,
        // 50 long.
        let tube = tube(10.0, 8.0, 50.0);
        let grown = tube(1.0) - tube(0.0);
        assert!((grown - TAU * PI * 18.0).abs() < 1e-9, "{grown}");
    }
}
