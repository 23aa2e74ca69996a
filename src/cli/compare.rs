//! `compare`: two runs side by side.

use super::Failure;
use super::paper::{print_json, print_text};
use super::pieces::{open_ledger, unreadable};
use crate::ledger::{Ledger, RunId};
use crate::view::{self, Trial};
use std::path::PathBuf;

/// Two runs side by side: two recipes on the same piece at the same density.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  nightvat compare 11 12\n\n\
    A fair trial changes one thing: the bath. What else differs is said. Weigh and gauge both \
    before you believe either.\nNext: `nightvat bath look RUN` for how each came out.")]
pub(super) struct CompareArgs {
    /// One run
    one: RunId,
    /// The other
    other: RunId,
    /// Another ledger than the one in the state folder
    #[arg(long, value_name = "FILE")]
    ledger: Option<PathBuf>,
}

/// Does it.
pub(super) fn run(args: &CompareArgs, json: bool) -> Result<(), Failure> {
    let ledger = open_ledger(args.ledger.as_deref())?;
    let trials = [trial(&ledger, args.one)?, trial(&ledger, args.other)?];
    if json {
        print_json(&view::json::compared(&trials));
    } else {
        print_text(&view::text::compared(&trials));
    }
    Ok(())
}

fn trial(ledger: &Ledger, run: RunId) -> Result<Trial, Failure> {
    let record = ledger.run(run).map_err(unreadable)?;
    let readings = ledger.readings(run).map_err(unreadable)?;
    let mut pieces = ledger.pieces().map_err(unreadable)?;
    pieces.retain(|piece| piece.run == run);
    let looks = ledger.looks(run).map_err(unreadable)?;
    Ok(Trial::of(record, &readings, pieces, looks))
}
