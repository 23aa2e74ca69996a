//! `pieces`: the pieces in the ledger.

use super::paper::{print_json, print_text};
use super::{Exit, Failure};
use crate::ledger::{Ledger, StoreFault};
use crate::view;
use std::path::{Path, PathBuf};

/// The pieces in the ledger, with amp-hours, grams and thickness.
#[derive(Debug, clap::Args)]
pub(super) struct PiecesArgs {
    /// Another ledger than the one in the state folder
    #[arg(long, value_name = "FILE")]
    ledger: Option<PathBuf>,
}

/// Does it.
pub(super) fn run(args: &PiecesArgs, json: bool) -> Result<(), Failure> {
    let pieces = open_ledger(args.ledger.as_deref())?
        .pieces()
        .map_err(unreadable)?;
    if json {
        print_json(&view::json::pieces(&pieces));
    } else {
        print_text(&view::text::pieces(&pieces));
    }
    Ok(())
}

/// The ledger that is named, or the one in the state folder.
pub(super) fn ledger_path(named: Option<&Path>) -> Result<PathBuf, Failure> {
    match named {
        Some(path) => Ok(path.to_owned()),
        None => Ok(crate::daemon::state_folder()?.join("ledger.db")),
    }
}

/// Opens a ledger to read.
pub(super) fn open_ledger(named: Option<&Path>) -> Result<Ledger, Failure> {
    Ledger::open_read(&ledger_path(named)?).map_err(unreadable)
}

/// A ledger that cannot be read, as a failure.
pub(super) fn unreadable(fault: StoreFault) -> Failure {
    Failure::new(Exit::BadInput, "ledger-unreadable", fault.to_string())
        .remedy("`--ledger FILE` names another ledger; `nightvat rehearse` makes a first one")
}
