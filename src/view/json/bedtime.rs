//! `bedtime --json`.

use crate::control::Blind;
use crate::plan::Remark;
use crate::run::Bedtime;
use crate::view::Layer;
use serde::Serialize;

/// The answer before she sleeps.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Evening<'a> {
    go: bool,
    fix: &'a [Remark],
    know: &'a [Remark],
    state: &'static str,
    covered_fraction: Option<f64>,
    voltage_v: Option<f64>,
    voltage_limit_v: Option<f64>,
    finish_at: Option<&'a str>,
    water_l: Option<f64>,
    layers: &'a [Layer],
    blind: &'a [Blind],
}

/// The bedtime object; `finish` is a label, RFC 3339 with offset.
#[must_use]
pub fn bedtime<'a>(of: &'a Bedtime, finish: Option<&'a str>) -> Evening<'a> {
    Evening {
        go: of.go,
        fix: &of.fix,
        know: &of.know,
        state: of.state.word(),
        covered_fraction: of.covered,
        voltage_v: of.voltage.map(|(is, _)| is.v()),
        voltage_limit_v: of.voltage.map(|(_, may)| may.v()),
        finish_at: finish,
        water_l: of.water.map(|water| water.l()),
        layers: &of.layers,
        blind: &of.blind,
    }
}
