//! `bath make --json` and what the other commands of a bath print.

use crate::bath::{Checked, Note, Recipe};
use crate::units::{Mass, Volume};
use serde_json::{Value, json};

/// The object of `bath make`.
#[must_use]
pub fn bath_made(recipe: &Recipe) -> Value {
    let additions: Vec<Value> = recipe
        .additions
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
        .collect();
    json!({
        "volume_l": recipe.volume.l(),
        "additions": additions,
        "check": checked(&recipe.check),
        "cautions": recipe.cautions(),
        "density_g_per_ml": recipe.density.map(|density| density.g_per_cm3()),
        "warnings": noted(&recipe.warnings),
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
