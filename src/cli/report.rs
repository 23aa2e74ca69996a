//! `report`: one run as one HTML file.

use super::paper::{print_json, print_text};
use super::pieces::{open_ledger, unreadable};
use super::{Exit, Failure};
use crate::ledger::RunId;
use crate::view;
use std::path::{Path, PathBuf};

/// The report of a run as one HTML file, with nothing to load from elsewhere.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  nightvat report 3 --out night.html")]
pub(super) struct ReportArgs {
    /// The run's number; see `nightvat runs`
    run: RunId,
    /// Where to write it
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Another ledger than the one in the state folder
    #[arg(long, value_name = "FILE")]
    ledger: Option<PathBuf>,
}

/// Does it.
pub(super) fn run(args: &ReportArgs, json: bool) -> Result<(), Failure> {
    let ledger = open_ledger(args.ledger.as_deref())?;
    let record = ledger.run(args.run).map_err(unreadable)?;
    let readings = ledger.readings(args.run).map_err(unreadable)?;
    let page = view::report::report(&record, &readings, None);
    let path = args
        .out
        .clone()
        .unwrap_or_else(|| PathBuf::from(format!("run-{}.html", args.run)));
    write(&path, &page)?;
    if json {
        print_json(&view::json::filed(&record, &path.display().to_string()));
    } else {
        print_text(&format!("run {} is in {}", args.run, path.display()));
    }
    Ok(())
}

/// Writes a page.
pub(super) fn write(path: &Path, page: &str) -> Result<(), Failure> {
    std::fs::write(path, page).map_err(|fault| {
        Failure::new(
            Exit::BadInput,
            "not-writable",
            format!("cannot write the report: {fault}"),
        )
        .at(path.display().to_string())
        .remedy("name a file in a folder you may write to")
    })
}
