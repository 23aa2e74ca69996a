//! How it stands with a bath, in a terminal.

use super::bath::noted;
use super::layout::{Side, Table, labelled};
use crate::bath::Note;
use crate::bath::keep::EVAPORATION_DOUBT;
use crate::ledger::TankEntry;
use crate::run::{AdditiveState, TankState};
use crate::view::BathDue;
use crate::view::kept::{days, ml};
use crate::view::words::{ah, day, g};

/// What was written down.
#[must_use]
pub fn bath_added(bath: &str, done: &TankEntry, state: &TankState, notes: &[Note]) -> String {
    let mut out = labelled("Written", &format!("{bath}: {}", deed(done)));
    for one in &state.additives {
        out.push_str(&additive(one));
    }
    out.push_str(&noted(notes));
    out
}

fn deed(entry: &TankEntry) -> String {
    if let Some(held) = entry.held {
        return format!("analysed {} {:.3} g/L", entry.substance, held.g_per_l());
    }
    let amount = match (entry.volume, entry.mass) {
        (Some(volume), _) if volume.l() >= 1.0 => format!("{:.2} L", volume.l()),
        (Some(volume), _) => ml(volume),
        (None, Some(mass)) => format!("{} g", g(mass)),
        (None, None) => String::new(),
    };
    let what = match entry.kind.word() {
        word if word == entry.substance => word.to_owned(),
        word => format!("{word} {}", entry.substance),
    };
    format!("{what} {amount}").trim().to_owned()
}

fn additive(one: &AdditiveState) -> String {
    let level = &one.level;
    let next = match (level.due(), level.next_charge.is_finite()) {
        (true, _) => format!(
            "DUE: add {}; more than {} would be too much",
            ml(level.add()),
            ml(level.room())
        ),
        (false, true) => {
            let days = level.next_time.map_or_else(String::new, |next| {
                format!(", or in {} without a run", days(next))
            });
            format!("next in {} Ah{days}", ah(level.next_charge))
        }
        (false, false) => "by the day only".to_owned(),
    };
    let text = format!(
        "{} of {} (low {}, too much {}); {} Ah and {} since it was added; {next}",
        ml(level.held),
        ml(level.full),
        ml(level.low),
        ml(level.most),
        ah(level.since),
        days(level.ago)
    );
    labelled(&one.additive.name, &text)
}

fn head(due: &BathDue<'_>) -> String {
    let row = due.row;
    labelled(
        "Bath",
        &format!(
            "{}: {:.2} L of {}, made {}; {} Ah in {} run{} since",
            row.name,
            row.volume().l(),
            due.profile.name,
            day(&row.made.at),
            ah(due.state.charge),
            row.runs.len(),
            if row.runs.len() == 1 { "" } else { "s" }
        ),
    )
}

/// What is due.
#[must_use]
pub fn bath_due(due: &BathDue<'_>) -> String {
    let mut out = head(due);
    for one in &due.state.additives {
        out.push_str(&additive(one));
    }
    match due.state.anode {
        Some(anode) => out.push_str(&labelled(
            "Anode",
            &format!(
                "{} g of {} g are used, {} g are left",
                g(anode.used),
                g(anode.hung),
                g(anode.left())
            ),
        )),
        None => out.push_str(&labelled(
            "Anode",
            "not noted: `nightvat bath add` with 'anode 420 g' when you hang one",
        )),
    }
    match due.gone {
        Some(gone) => out.push_str(&labelled(
            "Water",
            &format!(
                "{:.2} L are missing by evaporation alone, {:.0} mm of level, within a factor of \
                 {EVAPORATION_DOUBT}; {} since water was last added",
                gone.water.l(),
                gone.fallen.mm(),
                days(due.state.dry_for())
            ),
        )),
        None => out.push_str(&labelled(
            "Water",
            "say the surface, and it is told: `--surface`",
        )),
    }
    let drift = due.state.drift;
    out.push_str(&labelled(
        "Drift",
        &format!(
            "metal {:+.2} g/L, acid {:+.2} g/L since {} by charge and drag-out: an estimate; an \
             analysis knows",
            drift.metal.g_per_l(),
            drift.acid.g_per_l(),
            day(&due.state.drift_since)
        ),
    ));
    out.push_str(&noted(&due.notes()));
    out
}

/// The history.
#[must_use]
pub fn bath_shown(due: &BathDue<'_>) -> String {
    let mut out = head(due);
    for one in &due.state.additives {
        out.push_str(&additive(one));
    }
    out.push('\n');
    let mut rows: Vec<(f64, [String; 3])> = Vec::new();
    for entry in std::iter::once(&due.row.made).chain(&due.row.entries) {
        let cells = [day(&entry.at), deed(entry), String::new()];
        rows.push((entry.when.s(), cells));
    }
    for run in &due.row.runs {
        let kind = if run.simulated { " (simulated)" } else { "" };
        let what = format!("run {}{kind}: {}", run.run, run.job);
        rows.push((run.until.s(), [day(&run.began), what, ah(run.charge)]));
    }
    rows.sort_by(|(a, _), (b, _)| a.total_cmp(b));
    let mut table = Table::new(&[
        ("when", Side::Word),
        ("what", Side::Name),
        ("Ah", Side::Figure),
    ]);
    for (_, cells) in rows {
        table.row(cells);
    }
    out.push_str(&table.text());
    out.push_str(&noted(&due.notes()));
    out
}
