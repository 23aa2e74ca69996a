//! `plan --json` and `area --json`: what is known before a run.

use super::{Hanger, Piece};
use crate::control::Blind;
use crate::plan::Remark;
use crate::units::{Length, Volume};
use crate::view::{AreaFacts, Layer, Tonight};
use serde::Serialize;

/// What a night will come to.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Planned<'a> {
    job: &'a str,
    area_cm2: f64,
    charge_ah: f64,
    mass_g: f64,
    duration_s: f64,
    current_start_a: f64,
    current_peak_a: f64,
    finish_at: Option<&'a str>,
    /// The setpoint against time with the output on.
    curve: Vec<Point>,
    pieces: Vec<Piece>,
    peaks: Vec<Peak<'a>>,
    hangers: Vec<Hanger>,
    warnings: &'a [Remark],
    refusals: &'a [Remark],
    layers: &'a [Layer],
    blind: &'a [Blind],
}

/// What edges and tips of a piece get against its mean.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
struct Peak<'a> {
    name: &'a str,
    peak_to_mean: f64,
}

/// A point of the curve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
struct Point {
    t_s: f64,
    current_a: f64,
}

/// The plan object.
#[must_use]
pub fn plan<'a>(tonight: &Tonight<'a>) -> Planned<'a> {
    let forecast = tonight.forecast;
    let piece = |piece: &crate::plan::PieceForecast| {
        let area = (piece.area, piece.area_end);
        Piece::new(&piece.name, area, piece.charge, piece.mass, piece.thickness)
    };
    let hanger = |hanger: &crate::plan::HangerForecast| Hanger {
        area_cm2: hanger.area.cm2(),
        charge_ah: hanger.charge.ah(),
        mass_g: hanger.mass.g(),
    };
    let peak = |piece: &'a crate::plan::PieceForecast| Peak {
        name: &piece.name,
        peak_to_mean: piece.peak_to_mean,
    };
    Planned {
        job: tonight.job,
        area_cm2: forecast.area.cm2(),
        charge_ah: forecast.charge.ah(),
        mass_g: forecast.mass.g(),
        duration_s: forecast.duration.s(),
        current_start_a: forecast.current_start.a(),
        current_peak_a: forecast.current_peak.a(),
        finish_at: tonight.finish.map(|label| label.at),
        curve: forecast
            .curve
            .iter()
            .map(|(on, current)| Point {
                t_s: on.s(),
                current_a: current.a(),
            })
            .collect(),
        pieces: forecast.pieces.iter().map(piece).collect(),
        peaks: forecast.pieces.iter().map(peak).collect(),
        hangers: forecast.hangers.iter().map(hanger).collect(),
        warnings: tonight.warnings,
        refusals: tonight.refusals,
        layers: tonight.layers,
        blind: tonight.blind,
    }
}

/// The surface of a shape.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Area {
    area_cm2: f64,
    low_cm2: f64,
    high_cm2: f64,
    mean_curvature_cm: Option<f64>,
    gauss_term: Option<f64>,
    volume_cm3: Option<f64>,
    watertight: Option<bool>,
    triangles: Option<usize>,
    grown: Vec<Grown>,
    cautions: Vec<String>,
    pictures: Vec<String>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    reach: Vec<Reached>,
}

/// Within this distance of a contact, over the surface, lies this share of the area.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
struct Reached {
    covered_fraction: f64,
    distance_mm: f64,
}

#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
struct Grown {
    thickness_um: f64,
    area_cm2: f64,
    charge_ah: f64,
    mass_g: f64,
}

/// The area object.
#[must_use]
pub fn area(facts: &AreaFacts) -> Area {
    let grown = |grown: &crate::view::Grown| Grown {
        thickness_um: grown.thickness.um(),
        area_cm2: grown.area.cm2(),
        charge_ah: grown.charge.ah(),
        mass_g: grown.mass.g(),
    };
    Area {
        area_cm2: facts.area.best.cm2(),
        low_cm2: facts.area.low.cm2(),
        high_cm2: facts.area.high.cm2(),
        mean_curvature_cm: facts.mean_curvature.map(Length::cm),
        gauss_term: facts.gauss,
        volume_cm3: facts.volume.map(Volume::cm3),
        watertight: facts.watertight,
        triangles: facts.triangles,
        grown: facts.grown.iter().map(grown).collect(),
        cautions: facts.cautions.clone(),
        pictures: facts.pictures.clone(),
        reach: facts
            .reach
            .iter()
            .map(|(share, distance)| Reached {
                covered_fraction: *share,
                distance_mm: distance.mm(),
            })
            .collect(),
    }
}
