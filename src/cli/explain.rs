//! `explain`: the page of a word code.

use super::paper::{print_json, print_text};
use super::{Exit, Failure};
use crate::manual;

/// What a word code in a message means, and what to do.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  nightvat explain constant-current-lost")]
pub(super) struct ExplainArgs {
    /// The code, as a message shows it; without one, all codes are listed
    code: Option<String>,
}

/// Does it.
pub(super) fn run(args: &ExplainArgs, json: bool) -> Result<(), Failure> {
    let Some(code) = &args.code else {
        let codes: Vec<&str> = manual::codes().collect();
        if json {
            print_json(&serde_json::json!({ "codes": codes }));
        } else {
            print_text(&codes.join("\n"));
        }
        return Ok(());
    };
    let Some(page) = manual::page(code) else {
        let mut failure = Failure::new(
            Exit::BadInput,
            "unknown-code",
            format!("no page for `{code}`"),
        );
        failure.remedy = Some(match manual::nearest(code) {
            Some(near) => format!("did you mean `nightvat explain {near}`?"),
            None => "`nightvat explain` lists all codes".to_owned(),
        });
        return Err(failure);
    };
    if json {
        print_json(&serde_json::json!({ "code": code, "page": page }));
    } else {
        print_text(page);
    }
    Ok(())
}
