//! A mesh seen from two sides, coloured by how far it is from the contacts: where copper arrives
//! first, and where last.

use crate::shape::reach::Reach;
use std::fmt::Write;

/// Width and height of one view, px.
const SIZE: usize = 360;
/// Room around a view, px.
const EDGE: f64 = 16.0;
/// How far behind what is seen a contact may lie and still be ringed, px.
const RIM: f64 = 24.0;
/// Bands of distance.
const BANDS: usize = 8;
/// From the first band to the last: from copper to bare paint, lighter at each step, so that it
/// reads without colour as well.
const ENDS: [[f64; 3]; 2] = [[92.0, 38.0, 12.0], [236.0, 226.0, 214.0]];

type Point = [f64; 3];

/// One side from which a mesh is seen: which way is right, and which towards the eye.
struct View {
    title: &'static str,
    right: f64,
}

const VIEWS: [View; 2] = [
    View {
        title: "from the front (z up, x to the right)",
        right: 1.0,
    },
    View {
        title: "from the back (z up, x to the left)",
        right: -1.0,
    },
];

/// The mesh from the front and from the back, its distances in eight bands, its contacts ringed,
/// and a scale in millimetres.
#[must_use]
pub fn arrival(reach: &Reach) -> String {
    let frame = Frame::around(reach);
    let wide = SIZE as f64 + 2.0 * EDGE;
    let (width, height) = (2.0 * wide, SIZE as f64 + 108.0);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {width} {height}\" \
         width=\"{width}\" height=\"{height}\" font-family=\"sans-serif\" font-size=\"13\">\n\
         <rect width=\"{width}\" height=\"{height}\" fill=\"#ffffff\"/>\n"
    );
    for (view, left) in VIEWS.iter().zip([EDGE, EDGE + wide]) {
        let _ = writeln!(out, "<text x=\"{left}\" y=\"20\">{}</text>", view.title);
        let _ = writeln!(out, "<g transform=\"translate({left} 32)\">");
        out.push_str(&drawn(reach, view, &frame));
        out.push_str("</g>\n");
    }
    out.push_str(&scale(reach, SIZE as f64 + 52.0));
    out.push_str("</svg>\n");
    out
}

/// The scale of the bands, and what the picture says.
fn scale(reach: &Reach, top: f64) -> String {
    let farthest = reach.farthest().mm();
    let mut out = String::new();
    let _ = writeln!(
        out,
        "<text x=\"{EDGE}\" y=\"{top}\">\
         over the surface from the nearest contact (ringed), mm</text>"
    );
    let wide = 78.0;
    for band in 0..BANDS {
        let left = EDGE + wide * band as f64;
        let ends = [band, band + 1].map(|at| farthest * at as f64 / BANDS as f64);
        let _ = writeln!(
            out,
            "<rect x=\"{left}\" y=\"{}\" width=\"{wide}\" height=\"14\" fill=\"{}\"/>\
             <text x=\"{left}\" y=\"{}\" font-size=\"11\">{:.1} to {:.1}</text>",
            top + 8.0,
            colour(band),
            top + 36.0,
            ends[0],
            ends[1]
        );
    }
    out
}

fn colour(band: usize) -> String {
    let at = band as f64 / (BANDS - 1) as f64;
    let [r, g, b] = [0, 1, 2].map(|k| (ENDS[0][k] + (ENDS[1][k] - ENDS[0][k]) * at).round());
    format!("rgb({r} {g} {b})")
}

/// How millimetres come to pixels: the same on both views.
struct Frame {
    middle: Point,
    per_px: f64,
}

impl Frame {
    fn around(reach: &Reach) -> Self {
        let corners = || reach.parts().flat_map(|part| part.0);
        let edge = |k: usize, from: f64, pick: fn(f64, f64) -> f64| {
            corners().map(|corner| corner[k]).fold(from, pick)
        };
        let low = [0, 1, 2].map(|k| edge(k, f64::INFINITY, f64::min));
        let high = [0, 1, 2].map(|k| edge(k, f64::NEG_INFINITY, f64::max));
        let across = (high[0] - low[0]).max(high[2] - low[2]);
        Self {
            middle: [0, 1, 2].map(|k| f64::midpoint(low[k], high[k])),
            per_px: (across / (SIZE as f64 - 2.0)).max(f64::MIN_POSITIVE),
        }
    }

    /// Pixels to the right and down, and how near the eye.
    fn seen(&self, view: &View, point: Point) -> Point {
        let [x, y, z] = [0, 1, 2].map(|k| (point[k] - self.middle[k]) / self.per_px);
        let half = SIZE as f64 / 2.0;
        [half + view.right * x, half - z, -view.right * y]
    }
}

/// What is nearest the eye at each pixel: how near, and how far from the contacts, 0 to 1.
fn drawn(reach: &Reach, view: &View, frame: &Frame) -> String {
    let mut nearest = vec![(f64::NEG_INFINITY, 0.0); SIZE * SIZE];
    let farthest = reach.farthest().m().max(f64::MIN_POSITIVE);
    for (corners, far) in reach.parts() {
        let seen = corners.map(|corner| frame.seen(view, corner));
        fill(&mut nearest, seen, far.map(|far| far / farthest));
    }
    let mut paths = vec![String::new(); BANDS];
    for (row, line) in nearest.chunks(SIZE).enumerate() {
        let mut column = 0;
        while column < SIZE {
            let band = band(line[column]);
            let long = line[column..]
                .iter()
                .take_while(|pixel| self::band(**pixel) == band)
                .count();
            if let Some(band) = band {
                let _ = write!(paths[band], "M{column} {row}.5h{long}");
            }
            column += long;
        }
    }
    let mut out = String::new();
    for (band, path) in paths.iter().enumerate() {
        let _ = writeln!(
            out,
            "<path stroke=\"{}\" fill=\"none\" d=\"{path}\"/>",
            colour(band)
        );
    }
    for contact in reach.contacts() {
        let [x, y, near] = frame.seen(view, *contact);
        let [column, row] = [x, y].map(pixel);
        // The contact lies on the surface it is compared with; at a rim that falls off steeply.
        if nearest[row * SIZE + column].0 <= near + RIM {
            let _ = writeln!(
                out,
                "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"6\" fill=\"none\" stroke=\"#000000\" \
                 stroke-width=\"2\"/>"
            );
        }
    }
    out
}

/// The band of a pixel; none where nothing is seen.
fn band((near, far): (f64, f64)) -> Option<usize> {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let band = (far * BANDS as f64) as usize;
    near.is_finite().then_some(band.min(BANDS - 1))
}

fn pixel(at: f64) -> usize {
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let pixel = at.max(0.0) as usize;
    pixel.min(SIZE - 1)
}

/// Fills one triangle where it is nearer than what was there.
fn fill(nearest: &mut [(f64, f64)], [a, b, c]: [Point; 3], far: [f64; 3]) {
    let doubled = (b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1]);
    if doubled.abs() < 1e-12 {
        return;
    }
    let edge = |k: usize, pick: fn(f64, f64) -> f64| pick(pick(a[k], b[k]), c[k]);
    let [columns, rows] = [0, 1].map(|k| pixel(edge(k, f64::min))..=pixel(edge(k, f64::max)));
    for row in rows {
        for column in columns.clone() {
            let [x, y] = [column, row].map(|at| at as f64 + 0.5);
            let of_b = ((x - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (y - a[1])) / doubled;
            let of_c = ((b[0] - a[0]) * (y - a[1]) - (x - a[0]) * (b[1] - a[1])) / doubled;
            let shares = [1.0 - of_b - of_c, of_b, of_c];
            // Half a pixel over the edge: no gaps between triangles that are as small as pixels.
            if shares
                .iter()
                .any(|share| *share < -0.5 / doubled.abs().sqrt())
            {
                continue;
            }
            let mix = |of: [f64; 3]| of.iter().zip(shares).map(|(one, share)| one * share).sum();
            let near: f64 = mix([a[2], b[2], c[2]]);
            let pixel = &mut nearest[row * SIZE + column];
            if near > pixel.0 {
                *pixel = (near, f64::clamp(mix(far), 0.0, 1.0));
            }
        }
    }
}
