//! How copper spreads over a painted piece: its contacts, their patch, the pace of its edge.

use super::form::Form;
use super::job::{Paint, Surface};
use super::table::Table;
use crate::shape::reach::{Reach, ReachError, Side, Touch};
use crate::units::{Area, Length, Quantity, Speed};
use std::sync::Arc;

/// What a contact may be written as.
const POINT: &str = "\"X, Y, Z\" in the mesh's own frame, or a side: top, bottom, left, right, \
                     front, back";

/// Reads the keys of a painted piece; none of them may stand on metal.
pub(super) fn paint(
    table: &Table<'_>,
    surface: Option<Surface>,
    form: Option<&Form>,
) -> Option<Paint> {
    let contact = table.quantity::<Area>("contact").and_then(|patch| {
        let (low, high) = (Area::from_mm2(0.01), Area::from_cm2(100.0));
        table.in_range("contact", patch, low, high, "a contact patch")
    });
    let front_speed = table.quantity::<Speed>("front_speed").and_then(|pace| {
        let (low, high) = (Speed::from_mm_per_h(0.1), Speed::from_mm_per_h(5000.0));
        table.in_range(
            "front_speed",
            pace,
            low,
            high,
            "the pace of the copper's edge",
        )
    });
    let at = table.texts("contact_at");
    for key in ["contact", "contact_at", "front_speed"] {
        if surface == Some(Surface::Metal) && table.has(key) {
            let allowed = format!("`{key}` only on paint: copper covers metal at once");
            let remedy = format!("take `{key}` out, or write surface = \"paint\"");
            table.problem_at(key, &format!("`{key}` on metal"), &allowed, &remedy);
            return None;
        }
    }
    let reach = match (at.as_slice(), form) {
        ([], _) | (_, None) => None,
        (texts, Some(form)) => Some(Arc::new(reach(table, texts, form)?)),
    };
    Some(Paint {
        contact,
        front_speed,
        reach,
    })
}

fn reach(table: &Table<'_>, texts: &[String], form: &Form) -> Option<Reach> {
    let one = match form {
        Form::Many { each, .. } => each,
        other => other,
    };
    let Form::Mesh(mesh) = one else {
        let found = "a place of contact on a shape that is no mesh";
        let remedy = "take `contact_at` out, or give the mesh of the piece";
        table.problem_at("contact_at", found, "`contact_at` on a mesh only", remedy);
        return None;
    };
    let mut touches = Vec::with_capacity(texts.len());
    for text in texts {
        let Some(one) = touch(text) else {
            let remedy = "write contact_at = [\"0 mm, 0 mm, 41 mm\"] or [\"top\"]";
            table.problem_at("contact_at", &format!("{text:?}"), POINT, remedy);
            return None;
        };
        touches.push(one);
    }
    match Reach::over(mesh, &touches) {
        Ok(reach) => Some(reach),
        Err(fault) => {
            let (allowed, remedy) = advice(&fault);
            table.problem_at("contact_at", &fault.to_string(), allowed, remedy);
            None
        }
    }
}

/// Reads where a clip touches a mesh: a side, or three lengths.
#[must_use]
pub fn touch(text: &str) -> Option<Touch> {
    let word = text.trim();
    if let Some((_, side)) = Side::ALL.iter().find(|(name, _)| *name == word) {
        return Some(Touch::Side(*side));
    }
    let parts = word
        .split(',')
        .map(|part| Length::read(part).map(Length::m));
    let parts = parts.collect::<Result<Vec<_>, _>>().ok()?;
    <[f64; 3]>::try_from(parts).ok().map(Touch::At)
}

/// What is allowed where there is no way over a mesh, and what to do.
#[must_use]
pub fn advice(fault: &ReachError) -> (&'static str, &'static str) {
    match fault {
        ReachError::NoContact => (
            "at least one contact",
            "name a place or a side where the clip touches",
        ),
        ReachError::OffTheMesh { .. } => (
            "a place on the mesh, in its own frame",
            "read the place off in the program that made the mesh, or name a side",
        ),
        ReachError::Apart { .. } => (
            "a mesh whose every part hangs together with a contact: copper gets nowhere else",
            "join its parts and export it again, or give each part a contact",
        ),
    }
}
