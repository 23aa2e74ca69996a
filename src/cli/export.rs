//! `export`: the readings of a run, for other programs.

use super::paper::{print_json, print_text};
use super::pieces::{open_ledger, unreadable};
use super::{Exit, Failure};
use crate::ledger::RunId;
use crate::view;
use std::path::PathBuf;

/// The readings of a run as CSV, or with --json as one object.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  nightvat export 12 > night.csv\n  \
    nightvat export 12 --out night.csv\n  nightvat export 12 --json\n\n\
    Times are seconds since the run began. An old run keeps some two thousand readings; its charge \
    stays exact.\nNext: `nightvat report RUN` for the same as a picture.")]
pub(super) struct ExportArgs {
    /// The run
    run: RunId,
    /// Write to this file in place of standard output
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Another ledger than the one in the state folder
    #[arg(long, value_name = "FILE")]
    ledger: Option<PathBuf>,
}

/// Does it.
pub(super) fn run(args: &ExportArgs, json: bool) -> Result<(), Failure> {
    let ledger = open_ledger(args.ledger.as_deref())?;
    let record = ledger.run(args.run).map_err(unreadable)?;
    let readings = ledger.readings(args.run).map_err(unreadable)?;
    let Some(path) = &args.out else {
        if json {
            print_json(&view::json::exported(&record, &readings));
        } else {
            print_text(&view::text::exported(&readings));
        }
        return Ok(());
    };
    let text = if json {
        view::json::line(&view::json::exported(&record, &readings))
    } else {
        view::text::exported(&readings)
    };
    std::fs::write(path, text).map_err(|fault| {
        let text = format!("cannot write the readings: {fault}");
        Failure::new(Exit::BadInput, "not-writable", text)
            .at(path.display().to_string())
            .remedy("name a file in a folder you may write to")
    })?;
    if json {
        print_json(&serde_json::json!({
            "run": args.run,
            "file": path,
            "readings_count": readings.len(),
        }));
    } else {
        let text = format!(
            "{} readings of run {} are in {}",
            readings.len(),
            args.run,
            path.display()
        );
        print_text(&text);
    }
    Ok(())
}
