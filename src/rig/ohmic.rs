//! Resistances of the electrolyte between simple electrodes, from potential theory, and the path
//! each electrode of the simulated cell takes through it.

use crate::spec::Form;
use crate::units::Length;
use std::f64::consts::PI;

/// Two parallel plates with insulating walls around them, in ohms: d/(κA).
#[must_use]
pub fn parallel_plates(kappa_s_per_m: f64, gap_m: f64, area_m2: f64) -> f64 {
    gap_m / (kappa_s_per_m * area_m2)
}

/// A disk in an insulating plane, the other electrode far away, in ohms: 1/(4κR) (Newman 1966).
#[must_use]
pub fn disk(kappa_s_per_m: f64, radius_m: f64) -> f64 {
    1.0 / (4.0 * kappa_s_per_m * radius_m)
}

/// A ball alone, the other electrode far away, in ohms: 1/(4πκa).
#[must_use]
pub fn lone_sphere(kappa_s_per_m: f64, radius_m: f64) -> f64 {
    1.0 / (4.0 * PI * kappa_s_per_m * radius_m)
}

/// A ball inside a shell, in ohms: (1/a − 1/b)/(4πκ).
#[must_use]
pub fn concentric_spheres(kappa_s_per_m: f64, inner_m: f64, outer_m: f64) -> f64 {
    (1.0 / inner_m - 1.0 / outer_m) / (4.0 * PI * kappa_s_per_m)
}

/// A cylinder inside a pipe, in ohms: ln(b/a)/(2πκL).
#[must_use]
pub fn concentric_cylinders(kappa_s_per_m: f64, inner_m: f64, outer_m: f64, length_m: f64) -> f64 {
    (outer_m / inner_m).ln() / (2.0 * PI * kappa_s_per_m * length_m)
}

/// How the current finds its way from the anode to the electrodes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Path {
    /// Each bit of active surface has its own column of electrolyte, gap/(κA): a rack with a well
    /// placed anode. Density is then even but for position, contact and film.
    Even,
    /// Each electrode has the resistance of its own shape alone in a wide tank: thin wires take far
    /// more than their share, hollows less. For nights that study an uneven rack.
    OwnShape,
}

/// The field around one shape alone, for [`Path::OwnShape`].
#[derive(Clone, Debug, PartialEq)]
pub enum Field {
    /// Like a ball of this radius, in metres.
    Ball(f64),
    /// Like a cylinder of this radius and length, in metres.
    Cylinder(f64, f64),
    /// Like a disk of this radius, in metres, open on both sides.
    Disk(f64),
    /// Like a flat wall of this area, in square metres.
    Wall(f64),
    /// Several next to each other.
    Several(Vec<(f64, Field)>),
}

impl Field {
    /// The field of a described shape; `area_m2` is the shape's own, for those known by their area
    /// only.
    #[must_use]
    pub fn of(form: &Form, area_m2: f64) -> Self {
        let ball = || Self::Ball((area_m2 / (4.0 * PI)).sqrt());
        let half = |across: &Length| across.m() / 2.0;
        match form {
            Form::Sphere { diameter } => Self::Ball(half(diameter)),
            Form::Wire { diameter, length } | Form::Rod { diameter, length } => {
                Self::Cylinder(half(diameter), length.m())
            }
            Form::Tube { outer, length, .. } => Self::Cylinder(half(outer), length.m()),
            Form::Ring { across, wire } => Self::Cylinder(half(wire), PI * across.m()),
            Form::Disc { diameter, .. } => Self::Disk(half(diameter)),
            Form::Plate { length, width, .. } => Self::Disk((length.m() * width.m() / PI).sqrt()),
            Form::Coil { wire, .. } => {
                let radius = half(wire);
                Self::Cylinder(radius, area_m2 / (2.0 * PI * radius))
            }
            Form::Leaf { outline, .. } => Self::Disk((outline.area.m2() / PI).sqrt()),
            Form::Plain { like: None, .. } | Form::Foil { like: None, .. } => Self::Wall(area_m2),
            Form::Plain { like: Some(_), .. }
            | Form::Foil { like: Some(_), .. }
            | Form::Ellipsoid { .. }
            | Form::Cone { .. }
            | Form::Prism { .. }
            | Form::Mesh(_) => ball(),
            Form::Many { count, each } => {
                let count = f64::from(*count);
                Self::Several(vec![(count, Self::of(each, area_m2 / count))])
            }
            Form::Together(parts) => Self::Several(
                parts
                    .iter()
                    .map(|part| (1.0, Self::of(part, own_area(part))))
                    .collect(),
            ),
        }
    }

    /// Conductance to an anode `gap_m` away from the shape, in siemens.
    #[must_use]
    pub fn siemens(&self, kappa_s_per_m: f64, gap_m: f64) -> f64 {
        match self {
            Self::Ball(radius) => 1.0 / concentric_spheres(kappa_s_per_m, *radius, radius + gap_m),
            Self::Cylinder(radius, length) => {
                1.0 / concentric_cylinders(kappa_s_per_m, *radius, radius + gap_m, *length)
            }
            Self::Disk(radius) => 2.0 / disk(kappa_s_per_m, *radius),
            Self::Wall(area) => 1.0 / parallel_plates(kappa_s_per_m, gap_m, *area),
            Self::Several(parts) => parts
                .iter()
                .map(|(count, field)| count * field.siemens(kappa_s_per_m, gap_m))
                .sum(),
        }
    }
}

/// Area of one part of a shape, in square metres.
fn own_area(form: &Form) -> f64 {
    super::growth::law(form)(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn resistances_match_potential_theory() {
        // κ = 0.2 S/cm = 20 S/m. Elementary potential theory; disk: Newman, J. Electrochem. Soc.
        // 113 (1966) 501.
        let kappa = 20.0;
        assert!((parallel_plates(kappa, 0.1, 0.01) - 0.5).abs() < 1e-12);
        assert!((disk(kappa, 0.01) - 1.25).abs() < 1e-12);
        assert!((lone_sphere(kappa, 0.01) - 0.397_887).abs() < 1e-6);
        assert!((concentric_spheres(kappa, 0.01, 0.1) - 0.358_099).abs() < 1e-6);
        assert!((concentric_cylinders(kappa, 0.01, 0.1, 0.1) - 0.183_234).abs() < 1e-6);
    }

    #[test]
    fn shapes_take_the_field_they_resemble() {
        // Same figures through the shapes: a ball of 2 cm with 9 cm of gap, and a wire of 2 cm, 10
        // cm long.
        let ball = Form::Sphere {
            diameter: Length::from_cm(2.0),
        };
        let siemens = Field::of(&ball, 1.0).siemens(20.0, 0.09);
        assert!((1.0 / siemens - 0.358_099).abs() < 1e-6);
        let wire = Form::Wire {
            diameter: Length::from_cm(2.0),
            length: Length::from_cm(10.0),
        };
        let pair = Form::Many {
            count: 2,
            each: Box::new(wire),
        };
        let siemens = Field::of(&pair, 1.0).siemens(20.0, 0.09);
        assert!((1.0 / siemens - 0.183_234 / 2.0).abs() < 1e-6);
    }
}
