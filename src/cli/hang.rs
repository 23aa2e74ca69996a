//! `hang`: pieces come into the run that is on.

use super::Failure;
use super::lift::{listed, off, warn};
use super::paper::{absolute, print_json, print_text};
use super::talk::post;
use crate::daemon::{Named, Newly};
use crate::spec::Shelf;
use crate::spec::shelf::Sort;
use crate::view::cards::{self, CHECKLIST};
use serde_json::json;

/// Put a piece into the run: output off and confirmed, then hang it; it keeps its own account
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  nightvat hang more.toml\n  nightvat hang --again stem\n\n\
    The file holds [[piece]] tables and nothing else, each as in a job, with names that the run \
    has not had. The run pauses, and this answers when a reading proves that the output is off: \
    only then reach into the bath, in gloves and goggles. Each piece gets the job's target, \
    counted from when it was hung. With new paint the strike begins again for all that hangs; on \
    metal the current comes back by a short ramp.\nNext: `nightvat resume`."
)]
pub(super) struct HangArgs {
    /// A file with the new pieces
    #[arg(required_unless_present = "again", conflicts_with = "again")]
    pieces: Option<String>,
    /// A piece that was lifted out of this run is hung again; may be repeated
    #[arg(long, value_name = "PIECE")]
    again: Vec<String>,
}

/// Does it.
///
/// # Errors
/// [`Failure`]: the problems of the file, a daemon that refuses, or an off that no reading proves.
pub(super) fn run(args: &HangArgs, json: bool) -> Result<(), Failure> {
    let body = match &args.pieces {
        None => json!(Named {
            pieces: args.again.clone(),
        }),
        Some(path) => {
            let found = Shelf::disk().find(Sort::Pieces, path, None)?;
            json!(Newly {
                pieces_text: found.text,
                pieces_path: absolute(&found.path),
            })
        }
    };
    let answer = post("/hang", Some(&body))?;
    if json {
        print_json(&answer);
        return Ok(());
    }
    warn(&answer);
    print_text(&format!(
        "{}\nHang now: {}.\n{}next: nightvat resume",
        off(&answer),
        listed(&answer["hung"]),
        cards::lines(&CHECKLIST)
    ));
    Ok(())
}
