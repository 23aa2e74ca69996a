//! What was asked, what came, and how it ended.

use crate::control::{Outcome, State};
use crate::ledger::RunRecord;
use crate::units::Mass;
use crate::view::TruthTable;
use crate::view::words::{Bounds, ah, clean, ending, g, governing, minute, um};
use maud::{Markup, html};

pub(super) fn section(record: &RunRecord, truth: Option<&TruthTable>) -> Markup {
    let head = &record.head;
    html! {
        header {
            p.over {
                "Run " (record.id) " · " (clean(&head.station)) " · " (clean(&head.bath)) " · "
                (minute(&head.began))
            }
            h1 { (clean(&head.job)) }
            p.lead { (asked_and_came(record)) }
            p class=(tone(record)) { (ending(record)) }
            @if head.simulated {
                p.rehearsed {
                    "A rehearsal on the simulated station: no metal was deposited."
                }
            }
            p.sums { (sums(record, truth)) }
        }
    }
}

/// The first line: what was asked and what came.
fn asked_and_came(record: &RunRecord) -> String {
    let asked = record
        .head
        .target
        .map(|target| format!("{} µm asked", um(target)));
    let Some(came) = record.thickness else {
        let asked = asked.map_or_else(|| "A run".to_owned(), |asked| format!("{asked}, a run"));
        return format!("{asked} without a single reading.");
    };
    let on = governing(record);
    let where_ = on.map_or_else(
        || "as the mean of the pieces".to_owned(),
        |piece| {
            let thickness = piece.account.thickness;
            format!(
                "on {}, {} to {} µm within its 95 % interval",
                clean(&piece.head.name),
                um(thickness.low),
                um(thickness.high)
            )
        },
    );
    match asked {
        Some(asked) => format!("{asked}; {} µm came {where_}.", um(came)),
        None => format!("{} µm came {where_}.", um(came)),
    }
}

/// How the sentence of the outcome looks: calm, or not.
fn tone(record: &RunRecord) -> &'static str {
    match record.ending.map(|ending| ending.outcome) {
        Some(Outcome::Finished | Outcome::Stopped) => "outcome well",
        Some(Outcome::Tripped(_) | Outcome::Interrupted(_)) | None => "outcome ill",
    }
}

/// Charge and metal of the whole rack, and what a hold laid on top.
fn sums(record: &RunRecord, truth: Option<&TruthTable>) -> String {
    let charge = Bounds::of(record.charge);
    let mass = |hangers: bool| -> Mass {
        let rows = record
            .electrodes
            .iter()
            .filter(|row| row.head.hanger == hangers);
        rows.map(|row| row.account.mass).sum()
    };
    let mut said = format!(
        "{} Ah went through, surely {} to {}. {} g of metal came onto the pieces",
        charge.best,
        charge.low,
        charge.high,
        g(mass(false))
    );
    if record.hangers().next().is_some() {
        said.push_str(&format!(" and {} g onto the hangers", g(mass(true))));
    }
    said.push('.');
    let held = record.states.iter().any(|row| row.state == State::Holding);
    if let (Some(reached), true) = (record.reached, held) {
        let more = record.charge.best - reached.charge.best;
        said.push_str(&format!(
            " The hold added {} Ah of it after the target.",
            ah(more)
        ));
    }
    if let Some(truth) = truth {
        said.push_str(&format!(
            " The simulated cell took {} Ah.",
            charge.beside(truth.charge)
        ));
    }
    said
}
