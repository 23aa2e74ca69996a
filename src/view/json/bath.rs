//! `bath make --json` and what the other commands of a bath print.

use crate::bath::panel::{self, Bright};
use crate::bath::{Addition, BathProfile, Checked, Correction, Note, Recipe};
use crate::units::{Current, CurrentDensity, Mass, Volume};
use serde_json::{Value, json};

/// The object of `bath make`.
#[must_use]
pub fn bath_made(profile: &BathProfile, recipe: &Recipe) -> Value {
    json!({
        "volume_l": recipe.volume.l(),
        "additions": additions(&recipe.additions),
        "check": checked(&recipe.check),
        "cautions": recipe.cautions(),
        "density_g_per_ml": recipe.density.map(|density| density.g_per_cm3()),
        "conductivity_s_per_cm": recipe.conductivity.map(|found| found / 100.0),
        "warnings": noted(&recipe.warnings),
        "profile": profile.name,
        "temperature_low_c": profile.temperature[0].c(),
        "temperature_high_c": profile.temperature[1].c(),
        "agitation": profile.agitation,
        "anode": profile.anode.as_ref().map(|anode| json!({
            "kind": anode.kind,
            "ratio_low": anode.ratio[0],
            "ratio_high": anode.ratio[1],
        })),
        "sources": profile.sources,
    })
}

/// The object of `bath reckon`.
#[must_use]
pub fn bath_reckoned(volume: Volume, check: &[Checked], notes: &[Note]) -> Value {
    json!({
        "volume_l": volume.l(),
        "check": checked(check),
        "warnings": noted(notes),
    })
}

pub(super) fn checked(check: &[Checked]) -> Vec<Value> {
    check
        .iter()
        .map(|one| {
            json!({
                "component": one.component,
                "g_per_l": one.held.g_per_l(),
                "low_g_per_l": one.low.g_per_l(),
                "high_g_per_l": one.high.g_per_l(),
                "ok": one.ok(),
            })
        })
        .collect()
}

pub(super) fn noted(notes: &[Note]) -> Vec<Value> {
    notes
        .iter()
        .map(|note| json!({ "code": note.code, "text": note.text }))
        .collect()
}

/// The steps, in their order.
fn additions(steps: &[Addition]) -> Vec<Value> {
    steps
        .iter()
        .zip(1..)
        .map(|(step, order)| {
            json!({
                "substance": step.substance,
                "mass_g": step.mass.map(Mass::g),
                "volume_ml": step.volume.map(Volume::cm3),
                "order": order,
                "text": step.text,
                "cautions": step.cautions,
            })
        })
        .collect()
}

/// The object of `bath check`.
#[must_use]
pub fn bath_checked(
    volume: Volume,
    check: &[Checked],
    (notes, conductivity): (&[Note], Option<f64>),
    correction: &Correction,
) -> Value {
    let mut object = bath_reckoned(volume, check, notes);
    object["conductivity_s_per_cm"] = json!(conductivity.map(|found| found / 100.0));
    object["correction"] = json!({
        "draw_off_l": correction.draw_off.l(),
        "additions": additions(&correction.additions),
        "check": checked(&correction.after),
    });
    object["cautions"] = json!(correction.cautions());
    object
}

/// The object of `bath panel`: a place every five millimetres, and the window.
#[must_use]
pub fn bath_panel(
    current: Current,
    bright: Option<&Bright>,
    profile: Option<&BathProfile>,
) -> Value {
    let row = |(mm, formula, primary): panel::Row| {
        json!({
            "position_mm": mm,
            "formula_a_per_dm2": formula.map(CurrentDensity::a_per_dm2),
            "primary_a_per_dm2": primary.map(CurrentDensity::a_per_dm2),
        })
    };
    let ends = |[low, high]: [CurrentDensity; 2]| [low.a_per_dm2(), high.a_per_dm2()];
    json!({
        "current_a": current.a(),
        "length_mm": panel::length().mm(),
        "area_cm2": panel::area().cm2(),
        "ruler": panel::ruler(current).map(row).collect::<Vec<_>>(),
        "bright": bright.map(|bright| json!({
            "formula_a_per_dm2": bright.formula.map(ends),
            "primary_a_per_dm2": ends(bright.primary),
            "low_a_per_dm2": bright.window[0].a_per_dm2(),
            "high_a_per_dm2": bright.window[1].a_per_dm2(),
        })),
        "profile": profile.map(|profile| json!({
            "name": profile.name,
            "still_a_per_dm2": ends(profile.window_still),
            "stirred_a_per_dm2": ends(profile.window_stirred),
        })),
    })
}
