//! `clear`: a person has read why the last run ended.

use super::Failure;
use super::paper::{print_json, print_text};
use super::talk::post;

/// Say that you have read why the last run tripped or was interrupted; only then can another start
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Look at the cause first: `nightvat status`, `nightvat explain CODE`, and the \
    tank itself."
)]
pub(super) struct ClearArgs {}

/// Does it.
///
/// # Errors
/// [`Failure`] if no daemon answers, a run is on, or the output is not confirmed off.
pub(super) fn run(_args: &ClearArgs, json: bool) -> Result<(), Failure> {
    let answer = post("/clear", None)?;
    if json {
        print_json(&answer);
        return Ok(());
    }
    let cleared = &answer["cleared"];
    match cleared["text"].as_str() {
        Some(text) => print_text(&format!(
            "run {} is cleared. It had said {}: {text}\nnext: nightvat start JOB",
            cleared["run"],
            cleared["code"].as_str().unwrap_or_default()
        )),
        None => print_text("there was nothing to clear"),
    }
    Ok(())
}
