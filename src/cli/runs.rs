//! `runs`: the runs in the ledger.

use super::Failure;
use super::paper::{print_json, print_text};
use super::pieces::open_ledger;
use crate::view;

/// The runs in the ledger, newest first.
#[derive(Debug, clap::Args)]
#[command(after_help = "Next: `nightvat report RUN` writes the page of one.")]
pub(super) struct RunsArgs {
    /// Another ledger than the one in the state folder
    #[arg(long, value_name = "FILE")]
    ledger: Option<std::path::PathBuf>,
}

/// Does it.
pub(super) fn run(args: &RunsArgs, json: bool) -> Result<(), Failure> {
    let runs = open_ledger(args.ledger.as_deref())?
        .runs()
        .map_err(super::pieces::unreadable)?;
    if json {
        print_json(&view::json::runs(&runs));
    } else {
        print_text(&view::text::runs(&runs));
    }
    Ok(())
}
