//! What to do with the pieces now, and the particulars of the run.

use crate::control::{Fault, Outcome};
use crate::ledger::RunRecord;
use crate::manual;
use crate::view::cards::MORNING;
use crate::view::words::{clean, h_mm};
use maud::{Markup, html};

pub(super) fn section(record: &RunRecord) -> Markup {
    let fault = record.ending.and_then(|ending| ending.outcome.fault());
    html! {
        section.morning {
            @if let Some(fault) = fault { (what_to_check(fault)) }
            h2 { (title(record)) }
            ol {
                @for step in &MORNING {
                    li { b { (step.word) } " " (step.text) }
                }
            }
            p.note {
                "Rinse water with copper in it, spent bath and filters go where your local rules "
                "send them, never down a drain or into the ground."
            }
        }
    }
}

fn title(record: &RunRecord) -> &'static str {
    match record.ending.map(|ending| ending.outcome) {
        Some(Outcome::Finished) => "In the morning",
        Some(Outcome::Stopped) => "Next",
        Some(Outcome::Tripped(_) | Outcome::Interrupted(_)) | None => "When the pieces come out",
    }
}

/// The page of the guard that ended the run.
fn what_to_check(fault: Fault) -> Markup {
    let page = manual::page(fault.code()).unwrap_or_default();
    html! {
        h2 { "First: " (fault.code()) }
        dl.page {
            @for (heading, text) in manual::sections(page) {
                dt { (heading) }
                dd { (text.replace('`', "")) }
            }
        }
    }
}

pub(super) fn particulars(record: &RunRecord) -> Markup {
    let head = &record.head;
    html! {
        section.particulars {
            h2 { "Particulars" }
            dl {
                dt { "Began" } dd { (clean(&head.began)) }
                dt { "Lasted" } dd { (h_mm(record.lasted())) " h" }
                dt { "Station" } dd { (clean(&head.station)) }
                dt { "Bath" } dd { (clean(&head.bath)) }
                @if let Some(identity) = &record.identity {
                    dt { "Supply" } dd { (clean(identity)) }
                }
                @if let Some(seed) = head.seed {
                    dt { "Seed of the rehearsal" } dd { (seed) }
                }
            }
            @if !head.job_text.is_empty() {
                details {
                    summary { "The job as it was read" }
                    pre { (head.job_text) }
                }
            }
        }
    }
}
