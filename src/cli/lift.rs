//! `lift`: pieces come out of the run that is on.

use super::Failure;
use super::paper::{print_json, print_text, say};
use super::talk::{get, post};
use crate::daemon::Named;
use crate::view::cards::{self, MORNING};
use serde_json::{Value, json};

/// Take a piece out of the run: output off and confirmed, then lift it; its account is closed
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  nightvat lift stem\n  \
    nightvat lift \"seed head a\" \"seed head b\"\n\n\
    The run pauses, and this answers when a reading proves that the output is off: only then reach \
    into the bath, in gloves and goggles. What still hangs keeps its account, and the rest of the \
    night is reckoned anew. A piece that was lifted can be hung again: `nightvat hang --again`.\n\
    Next: `nightvat resume`.")]
pub(super) struct LiftArgs {
    /// The names of the pieces, as the job has them
    #[arg(required = true)]
    piece: Vec<String>,
}

/// Does it.
///
/// # Errors
/// [`Failure`] if no daemon answers, no run is on, it has no such piece, or no reading proves off.
pub(super) fn run(args: &LiftArgs, json: bool) -> Result<(), Failure> {
    let named = Named {
        pieces: args.piece.clone(),
    };
    let answer = post("/lift", Some(&json!(named)))?;
    if json {
        print_json(&answer);
        return Ok(());
    }
    warn(&answer);
    print_text(&format!(
        "{}\nLift now: {}.\n{}{}next: nightvat resume",
        off(&answer),
        listed(&answer["lifted"]),
        accounts(&answer["lifted"])?,
        cards::lines(&MORNING)
    ));
    Ok(())
}

/// What each of them has got.
fn accounts(lifted: &Value) -> Result<String, Failure> {
    let status = get("/status")?;
    let pieces = status["pieces"].as_array().into_iter().flatten();
    let names: Vec<&Value> = lifted.as_array().into_iter().flatten().collect();
    let figure = |piece: &Value, key: &str| piece[key].as_f64().unwrap_or_default();
    let account = |piece: &Value| {
        format!(
            "  {}: {:.4} Ah, {:.3} g, {:.1} um ({:.1} to {:.1})\n",
            piece["name"].as_str().unwrap_or_default(),
            figure(piece, "charge_ah"),
            figure(piece, "mass_g"),
            figure(piece, "thickness_um"),
            figure(piece, "thickness_low_um"),
            figure(piece, "thickness_high_um")
        )
    };
    Ok(pieces
        .filter(|piece| names.contains(&&piece["name"]))
        .map(account)
        .collect())
}

/// What the plan of the rest of the night has to say.
pub(super) fn warn(answer: &Value) {
    for warning in answer["warnings"].as_array().into_iter().flatten() {
        let word = |key: &str| warning[key].as_str().unwrap_or_default();
        say(&format!("warning: {}: {}", word("code"), word("text")));
    }
}

/// That the output is off, and what was delivered until then.
pub(super) fn off(answer: &Value) -> String {
    format!(
        "output off, confirmed by reading after {:.1} s; {:.4} Ah delivered",
        answer["took_s"].as_f64().unwrap_or_default(),
        answer["charge_ah"].as_f64().unwrap_or_default()
    )
}

/// Names in a row.
pub(super) fn listed(names: &Value) -> String {
    let names = names.as_array().into_iter().flatten();
    let names: Vec<&str> = names.filter_map(Value::as_str).collect();
    names.join(", ")
}
