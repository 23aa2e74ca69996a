//! `bath add --json`, `bath due --json`, `bath show --json`.

use super::bath::noted;
use crate::bath::Note;
use crate::ledger::{TankEntry, TankRow};
use crate::run::{AdditiveState, TankState};
use crate::units::{Area, Charge, Concentration, Length, Mass, Volume};
use crate::view::BathDue;
use serde_json::{Value, json};

fn additive(one: &AdditiveState) -> Value {
    let level = &one.level;
    json!({
        "additive": one.additive.name,
        "held_ml": level.held.cm3(),
        "low_ml": level.low.cm3(),
        "full_ml": level.full.cm3(),
        "most_ml": level.most.cm3(),
        "due": level.due(),
        "too_much": level.too_much(),
        "add_ml": level.add().cm3(),
        "too_much_above_ml": level.room().cm3(),
        "since_ah": level.since.ah(),
        "since_s": level.ago.s(),
        "next_ah": Some(level.next_charge).filter(|next| next.is_finite()).map(Charge::ah),
        "next_s": level.next_time.map(|next| next.s()),
        "last": one.last.iter().map(|(at, volume)| json!({
            "at": at,
            "volume_ml": volume.cm3(),
        })).collect::<Vec<_>>(),
    })
}

fn entry(entry: &TankEntry) -> Value {
    json!({
        "at": entry.at,
        "kind": entry.kind.word(),
        "substance": entry.substance,
        "mass_g": entry.mass.map(Mass::g),
        "volume_ml": entry.volume.map(Volume::cm3),
        "surface_cm2": entry.surface.map(Area::cm2),
        "held_g_per_l": entry.held.map(Concentration::g_per_l),
    })
}

fn head(row: &TankRow, profile: &str, state: &TankState) -> Value {
    json!({
        "bath": row.name,
        "profile": profile,
        "volume_l": row.volume().l(),
        "made": row.made.at,
        "charge_ah": state.charge.ah(),
        "runs_count": row.runs.len(),
        "additives": state.additives.iter().map(additive).collect::<Vec<_>>(),
    })
}

/// The object of `bath add`.
#[must_use]
pub fn bath_added(bath: &str, done: &TankEntry, state: &TankState, notes: &[Note]) -> Value {
    json!({
        "bath": bath,
        "entry": entry(done),
        "additives": state.additives.iter().map(additive).collect::<Vec<_>>(),
        "warnings": noted(notes),
    })
}

/// The object of `bath due`.
#[must_use]
pub fn bath_due(due: &BathDue<'_>) -> Value {
    let state = due.state;
    let mut object = head(due.row, &due.profile.name, state);
    object["anode"] = json!(state.anode.map(|anode| json!({
        "hung_g": anode.hung.g(),
        "used_g": anode.used.g(),
        "left_g": anode.left().g(),
    })));
    object["water"] = json!(due.gone.map(|gone| json!({
        "since_s": state.dry_for().s(),
        "evaporated_l": gone.water.l(),
        "fallen_mm": gone.fallen.mm(),
        "above_mm": due.above.map(|above| (above - gone.fallen).mm()),
    })));
    object["drift"] = json!({
        "metal_g_per_l": state.drift.metal.g_per_l(),
        "acid_g_per_l": state.drift.acid.g_per_l(),
        "since": state.drift_since,
    });
    object["above_mm"] = json!(due.above.map(Length::mm));
    object["warnings"] = json!(noted(&due.notes()));
    object
}

/// The object of `bath show`.
#[must_use]
pub fn bath_shown(due: &BathDue<'_>) -> Value {
    let mut object = head(due.row, &due.profile.name, due.state);
    object["entries"] = std::iter::once(&due.row.made)
        .chain(&due.row.entries)
        .map(entry)
        .collect();
    object["runs"] = due
        .row
        .runs
        .iter()
        .map(|run| {
            json!({
                "run": run.run,
                "job": run.job,
                "began": run.began,
                "charge_ah": run.charge.ah(),
                "pieces_count": run.pieces,
                "over": run.over,
                "simulated": run.simulated,
            })
        })
        .collect();
    object["warnings"] = json!(noted(&due.notes()));
    object
}
