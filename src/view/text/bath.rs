//! A bath, as it reads in a terminal.

use super::layout::{Side, Table, WIDTH, labelled, wrap};
use crate::bath::conductivity::{AT, DOUBT};
use crate::bath::panel::{self, Bright};
use crate::bath::{Addition, BathProfile, Checked, Correction, Note, Recipe};
use crate::units::{Concentration, Current, CurrentDensity, Volume};

/// A recipe.
#[must_use]
pub fn bath_made(profile: &BathProfile, recipe: &Recipe) -> String {
    let mut out = String::new();
    let mut cautions = recipe.cautions().into_iter();
    if let Some(first) = cautions.next() {
        out.push_str(&labelled("First", first));
        out.push('\n');
    }
    out.push_str(&steps(&recipe.additions, 1));
    out.push('\n');
    out.push_str(&table(&recipe.check));
    if let Some(density) = recipe.density {
        let text = format!("{:.4} g/mL at {:.0} C", density.g_per_cm3(), recipe.at.c());
        out.push_str(&labelled("Density", &text));
    }
    out.push_str(&conducts(recipe.conductivity));
    out.push_str(&working(profile));
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

/// How well it conducts, where that can be told.
fn conducts(conductivity: Option<f64>) -> String {
    conductivity.map_or_else(String::new, |found| {
        let text = format!(
            "{:.2} S/cm at {:.0} C, an estimate within {:.0} %: 10 cm of it take {:.2} V at \
             1 A/dm2",
            found / 100.0,
            AT.c(),
            DOUBT * 100.0,
            DECIMETRE / found
        );
        labelled("Conducts", &text)
    })
}

/// 1 A/dm² over 10 cm, A/m.
const DECIMETRE: f64 = 10.0;

/// How the bath is worked.
fn working(profile: &BathProfile) -> String {
    let [low, high] = profile.temperature;
    let mut out = labelled("Work it", &format!("{:.0} to {:.0} C", low.c(), high.c()));
    if let Some(anode) = &profile.anode {
        let [low, high] = anode.ratio;
        let text = format!(
            "{}, {low:.1} to {high:.1} times the cathode's area, bagged",
            anode.kind
        );
        out.push_str(&labelled("Anode", &text));
    }
    if let Some(agitation) = &profile.agitation {
        out.push_str(&labelled("Stir", agitation));
    }
    out
}

fn steps(additions: &[Addition], first: usize) -> String {
    let mut out = String::new();
    for (step, order) in additions.iter().zip(first..) {
        out.push_str(&labelled(&format!("Step {order}"), &step.text));
        for caution in &step.cautions {
            out.push_str(&labelled("  caution", caution));
        }
    }
    out
}

/// An analysis, and the correction.
#[must_use]
pub fn bath_checked(
    volume: Volume,
    check: &[Checked],
    (notes, conductivity): (&[Note], Option<f64>),
    correction: &Correction,
) -> String {
    let mut out = bath_reckoned(volume, check, notes);
    out.push_str(&conducts(conductivity));
    out.push('\n');
    if correction.is_nothing() {
        out.push_str(&labelled("Correction", "none: leave it as it is"));
        return out;
    }
    let cautions = correction.cautions();
    if let Some(first) = cautions.first() {
        out.push_str(&labelled("First", first));
    }
    let drawn = correction.draw_off.cm3() >= 1.0;
    if drawn {
        let text = format!(
            "draw off {:.3} L of the bath into a labelled canister, and keep it: it tops up later",
            correction.draw_off.l()
        );
        out.push_str(&labelled("Step 1", &text));
    }
    out.push_str(&steps(&correction.additions, 1 + usize::from(drawn)));
    out.push('\n');
    out.push_str(&table(&correction.after));
    if let Some(last) = cautions.last() {
        out.push('\n');
        out.push_str(&labelled("After", last));
    }
    out
}

/// A panel.
#[must_use]
pub fn bath_panel(
    current: Current,
    bright: Option<&Bright>,
    profile: Option<&BathProfile>,
) -> String {
    let mut ruler = Table::new(&[
        ("mm from the high end", Side::Figure),
        ("formula A/dm2", Side::Figure),
        ("exact map A/dm2", Side::Figure),
    ]);
    let shown = |density: Option<CurrentDensity>| {
        density.map_or_else(|| "–".to_owned(), |it| format!("{:.2}", it.a_per_dm2()))
    };
    for (mm, formula, primary) in panel::ruler(current) {
        ruler.row([mm.to_string(), shown(formula), shown(primary)]);
    }
    let mut out = ruler.text();
    let ends = |[low, high]: [CurrentDensity; 2]| {
        format!("{:.2} to {:.2} A/dm2", low.a_per_dm2(), high.a_per_dm2())
    };
    if let Some(bright) = bright {
        out.push('\n');
        let text = format!(
            "{}, where formula and map agree; edges and tips of a piece take more than its mean, \
             so stay well below the high end",
            ends(bright.window)
        );
        out.push_str(&labelled("Window", &text));
    }
    if let Some(profile) = profile {
        let text = format!(
            "{}: {} still, {} stirred",
            profile.name,
            ends(profile.window_still),
            ends(profile.window_stirred)
        );
        out.push_str(&labelled("Profile", &text));
    }
    out
}
