//! A run on one page: HTML that needs nothing beside itself, for a screen, a phone and paper.

mod course;
mod morning;
mod pieces;
mod top;

use super::TruthTable;
use crate::ledger::{ReadingRow, RunRecord};
use maud::{DOCTYPE, PreEscaped, html};

const STYLE: &str = include_str!("report.css");

/// The report of a run. `truth` is what the simulated cell says, where the run was a rehearsal.
#[must_use]
pub fn report(record: &RunRecord, readings: &[ReadingRow], truth: Option<&TruthTable>) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (super::words::clean(&record.head.job)) " · run " (record.id) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                main {
                    (top::section(record, truth))
                    (pieces::section(record, truth))
                    (course::pictures(record, readings))
                    (course::timeline(record))
                    (morning::section(record))
                    (morning::particulars(record))
                }
            }
        }
    };
    page.into_string()
}
