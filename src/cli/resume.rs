//! `resume`: a paused or interrupted run goes on.

use super::Failure;
use super::paper::{print_json, print_text};
use super::talk::post;

/// Go on after a pause or an interruption: supply and cell are proved again first
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Hands out of the bath, gloves and goggles on, piece covered, leads on.\n\
    Next: `nightvat watch`."
)]
pub(super) struct ResumeArgs {}

/// Does it.
///
/// # Errors
/// [`Failure`] if no daemon answers or no run waits.
pub(super) fn run(_args: &ResumeArgs, json: bool) -> Result<(), Failure> {
    let answer = post("/resume", None)?;
    if json {
        print_json(&answer);
    } else {
        let state = answer["state"].as_str().unwrap_or_default();
        print_text(&format!(
            "run {} goes on: {state}\nnext: nightvat watch",
            answer["run"]
        ));
    }
    Ok(())
}
