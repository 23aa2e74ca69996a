//! `status`: how the station stands.

use super::Failure;
use super::paper::{print_json, print_text};
use super::talk::get;

/// How the station stands: is it all right, how thick is it, when is it done
#[derive(Debug, clap::Args)]
#[command(after_help = "Next: `nightvat watch` shows it again every second.")]
pub(super) struct StatusArgs {}

/// Does it.
///
/// # Errors
/// [`Failure`] if no daemon answers.
pub(super) fn run(_args: &StatusArgs, json: bool) -> Result<(), Failure> {
    if json {
        print_json(&get("/status")?);
    } else {
        print_text(get("/screen")?["text"].as_str().unwrap_or_default());
    }
    Ok(())
}
