//! `hush`: the sound was heard.

use super::Failure;
use super::paper::{print_json, print_text};
use super::talk::post;

/// Say that you have heard the sound: it stops; nothing else changes
#[derive(Debug, clap::Args)]
#[command(after_help = "Next: `nightvat status` says what it was about.")]
pub(super) struct HushArgs {}

/// Does it.
///
/// # Errors
/// [`Failure`] if no daemon answers.
pub(super) fn run(_args: &HushArgs, json: bool) -> Result<(), Failure> {
    let answer = post("/hush", None)?;
    if json {
        print_json(&answer);
    } else if answer["hushed"] == true {
        print_text("hushed\nnext: nightvat status");
    } else {
        print_text("nothing was sounding");
    }
    Ok(())
}
