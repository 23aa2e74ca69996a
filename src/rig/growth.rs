//! True surfaces: how large a body is, and how it grows under an even deposit.
//!
//! Each body has a law of its own, the area of the surface a distance d outside it, written for
//! that body from its radii, profile, support function or triangles. The volume of the deposit is
//! the integral of that area, tabulated once and interpolated by cubics, which is exact for every
//! law that is a polynomial of second degree.

mod ellipsoid;
mod mesh;
mod revolved;

use crate::spec::Form;
use std::f64::consts::{PI, TAU};

/// Thickness between two nodes of the table, in metres.
const STEP_M: f64 = 125e-6;
/// Segments of the table; beyond the last one its cubic goes on.
const SEGMENTS: usize = 32;

/// The area, in square metres, of the surface a distance in metres outside a body.
pub type Law = Box<dyn Fn(f64) -> f64>;

/// One body's table: volume of deposit and area over thickness.
#[derive(Clone, Debug, PartialEq)]
pub struct Growth {
    /// Volume of the deposit in cubic metres and area in square metres, every [`STEP_M`].
    nodes: Vec<[f64; 2]>,
}

impl Growth {
    /// Tabulates what a person described.
    #[must_use]
    pub fn of(form: &Form) -> Self {
        Self::tabulate(&law(form))
    }

    /// Tabulates a law: the volume by Simpson's rule over each segment.
    #[must_use]
    pub fn tabulate(law: &Law) -> Self {
        let mut nodes = Vec::with_capacity(SEGMENTS + 1);
        let (mut volume, mut area) = (0.0, law(0.0));
        nodes.push([volume, area]);
        for segment in 0..SEGMENTS {
            let start = segment as f64 * STEP_M;
            let next = law(start + STEP_M);
            volume += STEP_M / 6.0 * (area + 4.0 * law(start + STEP_M / 2.0) + next);
            area = next;
            nodes.push([volume, area]);
        }
        Self { nodes }
    }

    /// The same body with a rough skin: `texture` is true area over smooth area, and multiplies the
    /// area at the start but not the growth.
    #[must_use]
    pub fn roughened(mut self, texture: f64) -> Self {
        let extra = self.area_m2(0.0) * (texture - 1.0);
        for (index, node) in self.nodes.iter_mut().enumerate() {
            node[0] += extra * index as f64 * STEP_M;
            node[1] += extra;
        }
        self
    }

    /// Volume of a deposit of this thickness, in cubic metres.
    #[must_use]
    pub fn volume_m3(&self, thickness_m: f64) -> f64 {
        self.at(thickness_m)[0]
    }

    /// Area under a deposit of this thickness, in square metres.
    #[must_use]
    pub fn area_m2(&self, thickness_m: f64) -> f64 {
        self.at(thickness_m)[1]
    }

    /// The thickness a volume of deposit makes, in metres, by Newton's method from a guess.
    #[must_use]
    pub fn thickness_m(&self, volume_m3: f64, guess_m: f64) -> f64 {
        let mut thickness = guess_m.max(0.0);
        for _ in 0..50 {
            let [volume, area] = self.at(thickness);
            if area <= 0.0 {
                break;
            }
            let step = (volume_m3 - volume) / area;
            thickness = (thickness + step).max(0.0);
            if step.abs() < 1e-15 {
                break;
            }
        }
        thickness
    }

    /// Volume and area at a thickness: the cubic whose ends and end slopes are the table's, and its
    /// slope.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // clamped to the table
    fn at(&self, thickness_m: f64) -> [f64; 2] {
        let place = thickness_m / STEP_M;
        let index = (place.max(0.0) as usize).min(SEGMENTS - 1);
        let t = place - index as f64;
        let ([v0, a0], [v1, a1]) = (self.nodes[index], self.nodes[index + 1]);
        let (s0, s1) = (a0 * STEP_M, a1 * STEP_M);
        let rise = v1 - v0;
        let square = 3.0 * rise - 2.0 * s0 - s1;
        let cube = s0 + s1 - 2.0 * rise;
        let volume = v0 + t * (s0 + t * (square + t * cube));
        let area = (s0 + t * (2.0 * square + t * 3.0 * cube)) / STEP_M;
        [volume, area]
    }
}

/// The law of a described shape.
#[must_use]
pub fn law(form: &Form) -> Law {
    match form {
        Form::Sphere { diameter } => {
            let radius = diameter.m() / 2.0;
            Box::new(move |d| 4.0 * PI * (radius + d).powi(2))
        }
        Form::Ellipsoid { a, b, c } => ellipsoid::law([a.m() / 2.0, b.m() / 2.0, c.m() / 2.0]),
        Form::Wire { diameter, length } => {
            let (radius, length) = (diameter.m() / 2.0, length.m());
            Box::new(move |d| TAU * (radius + d) * length)
        }
        Form::Rod { diameter, length } => {
            revolved::frustum(diameter.m() / 2.0, diameter.m() / 2.0, length.m())
        }
        Form::Disc {
            diameter,
            thickness,
        } => revolved::frustum(diameter.m() / 2.0, diameter.m() / 2.0, thickness.m()),
        Form::Cone {
            bottom,
            top,
            height,
        } => revolved::frustum(bottom.m() / 2.0, top.m() / 2.0, height.m()),
        Form::Tube {
            outer,
            inner,
            length,
        } => revolved::tube(outer.m() / 2.0, inner.m() / 2.0, length.m()),
        Form::Ring { across, wire } => {
            let (ring, radius) = (across.m() / 2.0, wire.m() / 2.0);
            Box::new(move |d| TAU * ring * TAU * (radius + d))
        }
        Form::Plate {
            length,
            width,
            thickness,
        } => boxed(length.m(), width.m(), thickness.m()),
        Form::Prism {
            sides,
            edge,
            height,
        } => prism(*sides, edge.m(), height.m()),
        Form::Coil {
            across,
            wire,
            pitch,
            turns,
        } => wound(across.m(), wire.m() / 2.0, pitch.m(), *turns),
        Form::Leaf {
            outline: o,
            thickness: t,
            ..
        } => sheet(o.area.m2(), o.perimeter.m(), t.m(), o.holes),
        Form::Plain { area, like } => plain(area.m2(), like.as_deref()),
        Form::Foil {
            mass,
            per_area,
            like,
        } => plain(mass.kg() / per_area.si(), like.as_deref()),
        Form::Mesh(mesh) => mesh::law(mesh.triangles()),
        Form::Many { count, each } => {
            let (count, each) = (f64::from(*count), law(each));
            Box::new(move |d| count * each(d))
        }
        Form::Together(parts) => {
            let parts: Vec<Law> = parts.iter().map(law).collect();
            Box::new(move |d| parts.iter().map(|part| part(d)).sum())
        }
    }
}

/// A box whose edges and corners round off as it thickens: six faces that stay, quarter cylinders
/// along twelve edges, and the eight corners that together make one ball.
fn boxed(length: f64, width: f64, thickness: f64) -> Law {
    let faces = 2.0 * (length * width + length * thickness + width * thickness);
    let edges = 4.0 * (length + width + thickness);
    Box::new(move |d| faces + edges * (PI / 2.0) * d + 4.0 * PI * d * d)
}

/// A prism on a regular polygon: faces, a quarter cylinder along each edge of both ends, a sliver
/// of 2π/n along each upright edge, and a ball at the corners.
fn prism(sides: u32, edge: f64, height: f64) -> Law {
    let n = f64::from(sides);
    let end = n * edge * edge / (4.0 * (PI / n).tan());
    let faces = 2.0 * end + n * edge * height;
    let rims = 2.0 * n * edge * (PI / 2.0);
    let uprights = n * height * (TAU / n);
    Box::new(move |d| faces + (rims + uprights) * d + 4.0 * PI * d * d)
}

/// A wire of a radius on a helix: its length times its way round.
fn wound(across: f64, radius: f64, pitch: f64, turns: f64) -> Law {
    let around = PI * across;
    let along = turns * (around * around + pitch * pitch).sqrt();
    Box::new(move |d| TAU * (radius + d) * along)
}

/// A flat sheet: its faces stay; its walls move outwards, a wall that goes once round gains 2πd in
/// length and one round a hole loses as much; each of the two rims of a wall turns into a quarter
/// of a torus, ½π·d·length ± 2πd² by Pappus.
fn sheet(face: f64, rim: f64, thickness: f64, holes: u32) -> Law {
    let round = 1.0 - f64::from(holes);
    Box::new(move |d| {
        let walls = (rim + TAU * d * round) * thickness;
        let rims = 2.0 * (PI / 2.0 * d * rim + TAU * d * d * round);
        2.0 * face + walls + rims
    })
}

/// Only an area: it grows as the body it is like, blown up or shrunk to that area; flat without
/// one.
fn plain(area: f64, like: Option<&Form>) -> Law {
    let Some(like) = like else {
        return Box::new(move |_| area);
    };
    let like = law(like);
    let scale = (area / like(0.0)).sqrt();
    Box::new(move |d| scale * scale * like(d / scale))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Length;

    fn mm(value: f64) -> Length {
        Length::from_mm(value)
    }

    /// Area in mm².
    fn area(form: &Form) -> f64 {
        Growth::of(form).area_m2(0.0) * 1e6
    }

    #[test]
    fn areas_match_published_formulas() {
        // scipy 1.17.1: torus R 20, r 5; frustum 30, 20, 40; tube 10, 8, 50; cylinder r 10, h 50;
        // hexagonal prism.
        let ring = Form::Ring {
            across: mm(40.0),
            wire: mm(10.0),
        };
        assert!((area(&ring) - 3_947.841_760).abs() < 1e-6);
        let frustum = Form::Cone {
            bottom: mm(60.0),
            top: mm(40.0),
            height: mm(40.0),
        };
        assert!((area(&frustum) - 10_560.629_62).abs() < 1e-5);
        let cone = Form::Cone {
            bottom: mm(30.0),
            top: mm(0.0),
            height: mm(40.0),
        };
        assert!((area(&cone) - 2_719.991_802).abs() < 1e-6);
        let tube = Form::Tube {
            outer: mm(20.0),
            inner: mm(16.0),
            length: mm(50.0),
        };
        assert!((area(&tube) - 5_881.061_448).abs() < 1e-6);
        let rod = Form::Rod {
            diameter: mm(20.0),
            length: mm(50.0),
        };
        assert!((area(&rod) - 3_769.911_184).abs() < 1e-6);
        let prism = Form::Prism {
            sides: 6,
            edge: mm(10.0),
            height: mm(25.0),
        };
        assert!((area(&prism) - 2_019.615_242).abs() < 1e-6);
        let plate = Form::Plate {
            length: mm(60.0),
            width: mm(40.0),
            thickness: mm(12.0),
        };
        assert!((area(&plate) - 7_200.0).abs() < 1e-9);
    }

    #[test]
    fn a_wire_thickens_as_a_cylinder() {
        // Exact: π·((0.5 + 0.3)² − 0.5²)·180 mm³ = 220.5398... mm³ for a 1 mm wire, 180 mm long,
        // 0.3 mm of copper.
        let wire = Growth::of(&Form::Wire {
            diameter: mm(1.0),
            length: mm(180.0),
        });
        let volume = wire.volume_m3(0.3e-3) * 1e9;
        assert!((volume - 220.539_804_3).abs() < 1e-6, "{volume}");
        assert!((wire.thickness_m(volume * 1e-9, 0.0) - 0.3e-3).abs() < 1e-15);
    }

    #[test]
    fn a_ball_thickens_as_a_ball_past_the_table() {
        // Exact: 4/3·π·(16³ − 11³) mm³ = 11 582.0051... mm³, 5 mm on a radius of 11 mm.
        let ball = Growth::of(&Form::Sphere { diameter: mm(22.0) });
        let volume = ball.volume_m3(5e-3) * 1e9;
        assert!((volume - 11_582.004_918_7).abs() < 1e-4, "{volume}");
    }

    #[test]
    fn texture_multiplies_the_start_and_not_the_growth() {
        let smooth = Growth::of(&Form::Sphere { diameter: mm(22.0) });
        let rough = smooth.clone().roughened(1.25);
        let ratio = rough.area_m2(0.0) / smooth.area_m2(0.0);
        assert!((ratio - 1.25).abs() < 1e-12);
        let grown = rough.area_m2(1e-3) - rough.area_m2(0.0);
        assert!((grown - (smooth.area_m2(1e-3) - smooth.area_m2(0.0))).abs() < 1e-15);
    }

    #[test]
    fn an_area_like_a_ball_grows_as_the_ball_of_that_area() {
        // A ball of 22 mm has 1520.5308 mm²; 0.5 mm later it is the ball of 23 mm, 1661.9025 mm².
        let like = Some(Box::new(Form::Sphere {
            diameter: mm(100.0),
        }));
        let area = crate::units::Area::from_mm2(1_520.530_844);
        let growth = Growth::of(&Form::Plain { area, like });
        assert!((growth.area_m2(0.5e-3) * 1e6 - 1_661.902_514).abs() < 1e-4);
    }
}
