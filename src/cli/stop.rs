//! `stop`: the run ends, and a reading proves that its output is off.

use super::paper::{print_json, print_text};
use super::talk::post;
use super::{Exit, Failure};
use serde_json::Value;

/// End the run: output off, read back
#[derive(Debug, clap::Args)]
#[command(
    after_help = "It is taken in every state and waits for nothing but the reading that proves it. \
    If it cannot be proved, the last line says so in capitals and the exit status is 6: turn the \
    supply off by hand."
)]
pub(super) struct StopArgs {}

/// Does it.
///
/// # Errors
/// [`Failure`] if no daemon answers or no reading proves it.
pub(super) fn run(_args: &StopArgs, json: bool) -> Result<(), Failure> {
    proved(&post("/stop", None)?, json)
}

/// Prints what came of turning off, and ends with 6 if nothing proves it.
pub(super) fn proved(answer: &Value, json: bool) -> Result<(), Failure> {
    if answer["confirmed"] != true {
        let text = if answer["cut"] == true {
            "off was sent, and no reading proves it; THE RELAY HAS CUT THE OUTPUT LEAD, which is \
             no proof; off is sent again and again"
        } else {
            "off was sent, and no reading proves it; it is sent again and again"
        };
        return Err(unproved(answer.clone(), text, json));
    }
    if json {
        print_json(answer);
    } else {
        let took = answer["took_s"].as_f64().unwrap_or_default();
        let charge = answer["charge_ah"]
            .as_f64()
            .map(|charge| format!("; {charge:.4} Ah delivered"));
        let charge = charge.unwrap_or_default();
        print_text(&format!(
            "output off, confirmed by reading after {took:.1} s{charge}"
        ));
    }
    Ok(())
}

/// No reading proves that the output is off. With `--json` the command's object carries the
/// failure.
pub(super) fn unproved(mut answer: Value, text: &str, json: bool) -> Failure {
    let failure = Failure::new(Exit::NotConfirmedOff, "unconfirmed", text)
        .remedy("turn the supply off by hand");
    if json {
        answer["error"] = failure.to_json()["error"].clone();
        print_json(&answer);
    }
    failure.said(json)
}
