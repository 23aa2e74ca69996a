//! A bath, as it reads in a terminal.

use super::layout::{Side, Table, WIDTH, labelled, wrap};
use crate::bath::{Checked, Note, Recipe};
use crate::units::{Concentration, Volume};

/// A recipe.
#[must_use]
pub fn bath_made(recipe: &Recipe) -> String {
    let mut out = String::new();
    let mut cautions = recipe.cautions().into_iter();
    if let Some(first) = cautions.next() {
        out.push_str(&labelled("First", first));
        out.push('\n');
    }
    for (step, order) in recipe.additions.iter().zip(1..) {
        out.push_str(&labelled(&format!("Step {order}"), &step.text));
        for caution in &step.cautions {
            out.push_str(&labelled("  caution", caution));
        }
    }
    out.push('\n');
    out.push_str(&table(&recipe.check));
    if let Some(density) = recipe.density {
        let text = format!(
            "{:.4} g/mL when it is as warm as you said",
            density.g_per_cm3()
        );
        out.push_str(&labelled("Density", &text));
    }
    out.push_str(&noted(&recipe.warnings));
    if let Some(last) = cautions.last() {
        out.push('\n');
        out.push_str(&labelled("After", last));
    }
    out
}

/// What a bath holds.
#[must_use]
pub fn bath_reckoned(volume: Volume, check: &[Checked], notes: &[Note]) -> String {
    format!("{:.2} L\n\n{}{}", volume.l(), table(check), noted(notes))
}

pub(super) fn table(check: &[Checked]) -> String {
    let mut table = Table::new(&[
        ("component", Side::Name),
        ("g/L", Side::Figure),
        ("from", Side::Figure),
        ("to", Side::Figure),
        ("", Side::Word),
    ]);
    let shown = |held: Concentration| match held.g_per_l() {
        small if small < 1.0 => format!("{small:.3}"),
        large => format!("{large:.1}"),
    };
    for one in check {
        table.row([
            one.component.clone(),
            shown(one.held),
            shown(one.low),
            shown(one.high),
            if one.ok() { "ok" } else { "OUTSIDE" }.to_owned(),
        ]);
    }
    table.text()
}

pub(super) fn noted(notes: &[Note]) -> String {
    let mut out = String::new();
    for note in notes {
        let text = format!("{}: {}", note.code, note.text);
        for (line, number) in wrap(&text, WIDTH - 2).into_iter().zip(0..) {
            out.push_str(if number == 0 { "! " } else { "  " });
            out.push_str(&line);
            out.push('\n');
        }
    }
    out
}
