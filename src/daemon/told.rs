//! The daemon's words about itself, as its replies give them.

use super::board::Posted;
use super::standing::Standing;
use crate::run::Snapshot;
use crate::view;
use serde_json::{Value, json};

/// The status, and what is added to it: what waits for a person, and how old what is shown is.
pub(super) fn status(posted: &Posted, standing: &Standing) -> Value {
    let mut status = json!(view::json::status(&fresh(posted, standing), &|at| standing.label(at)));
    if let Value::Object(fields) = &mut status {
        fields.insert("latch".into(), json!(posted.latch));
        fields.insert("age_s".into(), json!(posted.at.elapsed().as_secs_f64()));
        fields.insert("keeper".into(), json!(posted.keeper));
        fields.insert("speed".into(), json!(standing.clock.speed));
    }
    status
}

/// The status as a person reads it, with the status itself beside it.
pub(super) fn screen(posted: &Posted, standing: &Standing) -> Value {
    let day = |at| standing.time_of(at).format("%a %H:%M").to_string();
    let mut text = view::text::status(&fresh(posted, standing), &day);
    if let Some(latch) = &posted.latch {
        let run = latch.run;
        text.push_str(&format!(
            "\nRun {run} must be read before the next one can start:\n"
        ));
        text.push_str(&format!("  {}: {}\n", latch.code, latch.text));
        text.push_str(&format!(
            "  nightvat explain {}\n  nightvat clear\n",
            latch.code
        ));
    }
    json!({ "text": text, "status": status(posted, standing) })
}

/// What was posted, as old as it is now.
fn fresh(posted: &Posted, standing: &Standing) -> Snapshot {
    Snapshot {
        now: standing.clock.now(),
        ..posted.snapshot.clone()
    }
}
