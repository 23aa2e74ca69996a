//! `pause`: output off, and the run waits.

use super::Failure;
use super::stop::proved;
use super::talk::post;

/// Output off, read back, and the run waits for `resume`
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Lift the piece only when this says that the output is off, in gloves and \
    goggles. A wet piece oxidises: hang it again within minutes, or rinse and activate it first.\n\
    Next: `nightvat resume`."
)]
pub(super) struct PauseArgs {}

/// Does it.
///
/// # Errors
/// [`Failure`] if no daemon answers, no run is on, or no reading proves it.
pub(super) fn run(_args: &PauseArgs, json: bool) -> Result<(), Failure> {
    proved(&post("/pause", None)?, json)
}
