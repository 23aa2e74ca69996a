//! `bedtime`: may she sleep?

use super::paper::{print_json, print_text};
use super::talk::get;
use super::{Exit, Failure};
use serde_json::Value;

/// The one answer before you sleep: go, or what to mend now
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Ask it when the pieces are covered. With something to mend it ends with 5.\n\
    Hands into the bath only in gloves and goggles."
)]
pub(super) struct BedtimeArgs {}

/// Does it.
///
/// # Errors
/// [`Failure`] if no daemon answers, or if something is to be mended.
pub(super) fn run(_args: &BedtimeArgs, json: bool) -> Result<(), Failure> {
    let answer = get("/bedtime")?;
    let bedtime = &answer["bedtime"];
    if json {
        print_json(bedtime);
    } else {
        print_text(answer["text"].as_str().unwrap_or_default());
    }
    if bedtime["go"] == true {
        return Ok(());
    }
    let word = |key: &str| bedtime["fix"][0][key].as_str().unwrap_or("not-now");
    let more = bedtime["fix"].as_array().map_or(0, Vec::len);
    let text = format!("{more} to mend first: {}", word("text"));
    let remedy = format!("`nightvat explain {}`", word("code"));
    let failure = Failure::new(Exit::Refused, word("code"), text).remedy(remedy);
    // The object has it all in `fix`.
    Err(failure.said(json && bedtime["go"] != Value::Null))
}
