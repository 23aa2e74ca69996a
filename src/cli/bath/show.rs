//! `bath show`: the history of a bath.

use super::{Kept, kept, now};
use crate::bath::keep::MISMATCH;
use crate::cli::paper::{print_json, print_text};
use crate::cli::{Exit, Failure};
use crate::run::{Losses, tank_state};
use crate::units::Volume;
use crate::view::{self, BathDue};
use std::path::PathBuf;

/// What was done to a bath, its runs, and how its brightener stood.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  nightvat bath show 'north tank'\n  \
    nightvat bath show 'north tank' --svg north.svg\n\nNext: `nightvat bath due`.")]
pub(in crate::cli) struct ShowArgs {
    /// The bath, by its name in the ledger
    bath: String,
    /// Write a plot of its first additive over time
    #[arg(long, value_name = "FILE")]
    svg: Option<PathBuf>,
    /// Another ledger than the one in the state folder
    #[arg(long, value_name = "FILE")]
    ledger: Option<PathBuf>,
}

/// Does it.
pub(super) fn run(args: &ShowArgs, json: bool) -> Result<(), Failure> {
    let Kept { row, profile, gone } = kept(args.ledger.as_deref(), &args.bath)?;
    let losses = Losses {
        mismatch: MISMATCH,
        carried: Volume::ZERO,
    };
    let now = now();
    let state = tank_state(&row, &profile, losses, now, true);
    let due = BathDue {
        row: &row,
        profile: &profile,
        state: &state,
        gone: None,
        profile_gone: gone,
        above: None,
    };
    if let Some(path) = &args.svg {
        std::fs::write(path, view::picture::bath(&row, &profile, now)).map_err(|fault| {
            let text = format!("cannot write the plot: {fault}");
            Failure::new(Exit::BadInput, "not-writable", text)
                .at(path.display().to_string())
                .remedy("name a file in a folder you may write to")
        })?;
    }
    if json {
        let mut done = view::json::bath_shown(&due);
        done["file"] = serde_json::json!(args.svg);
        print_json(&done);
    } else {
        print_text(&view::text::bath_shown(&due));
    }
    Ok(())
}
