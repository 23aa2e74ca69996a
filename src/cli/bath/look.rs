//! `bath look`: how a run's pieces look, and what may be behind it.

use super::{kept, now};
use crate::bath::looks::{LOOKS, rank};
use crate::cli::Failure;
use crate::cli::paper::{print_json, print_text};
use crate::cli::pieces::{ledger_path, open_ledger, unreadable};
use crate::ledger::{Batch, RunId, SqliteStore};
use crate::run::{additive_state, evidence};
use crate::spec::{self, Shelf};
use crate::view;
use std::path::PathBuf;

/// Say how a run's pieces look: what may be behind it, and the one thing to change first.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  nightvat bath look 12 pink\n  \
    nightvat bath look 12 burnt rough\n\n\
    It is written to the ledger. Change one thing at a time: two at once tell nothing.\n\
    Next: `nightvat compare RUN RUN` after the next run.")]
pub(in crate::cli) struct LookArgs {
    /// The run
    run: RunId,
    /// How it looks
    #[arg(required = true, value_parser = LOOKS)]
    look: Vec<String>,
    /// Another ledger than the one in the state folder
    #[arg(long, value_name = "FILE")]
    ledger: Option<PathBuf>,
}

/// Does it.
pub(super) fn run(args: &LookArgs, json: bool) -> Result<(), Failure> {
    let path = ledger_path(args.ledger.as_deref())?;
    let ledger = open_ledger(Some(&path))?;
    let record = ledger.run(args.run).map_err(unreadable)?;
    let readings = ledger.readings(args.run).map_err(unreadable)?;
    let profile = spec::bath::open(&record.head.bath, &Shelf::disk());
    let tank = match &record.head.bath_ledger {
        Some(name) if ledger.baths().map_err(unreadable)?.contains(name) => {
            Some(kept(Some(&path), name)?.parts())
        }
        Some(_) | None => None,
    };
    // A person's own profile is known by its path to the bath's ledger only.
    let profile = match (&tank, profile) {
        (Some((_, profile)), _) => profile.clone(),
        (None, profile) => profile?,
    };
    let additive = tank.as_ref().and_then(|(row, profile)| {
        let until = row.runs.iter().find(|run| run.run == args.run);
        let at = until.map_or_else(now, |run| run.until);
        let first = profile.additives.first()?;
        (at >= row.made.when).then(|| additive_state(row, first, at, true))
    });
    let evidence = evidence(&record, &readings, &profile, additive.as_ref());
    let table = spec::looks::built_in()?;
    let ranked = rank(&table, &args.look, &evidence);
    let at = chrono::Local::now().to_rfc3339_opts(chrono::SecondsFormat::Secs, false);
    let mut store = SqliteStore::open(&path, Batch::Each).map_err(unreadable)?;
    store
        .note_looks(args.run, &args.look, &at)
        .map_err(unreadable)?;
    if json {
        print_json(&view::json::looked(
            args.run, &args.look, &ranked, &evidence,
        ));
    } else {
        print_text(&view::text::looked(args.run, &args.look, &ranked));
    }
    Ok(())
}
