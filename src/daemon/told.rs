//! The daemon's words about itself, as its replies give them.

use super::board::Posted;
use super::standing::Standing;
use serde_json::{Value, json};

/// What is added to the status of a run: what waits for a person, and how old what is shown is.
pub(super) fn status(posted: &Posted, standing: &Standing) -> Value {
    let snapshot = &posted.snapshot;
    let finish_at =
        snapshot.time_left.map(|left| standing.label(posted.moment + left));
    let since = |moment| standing.label(moment);
    let mut status = crate::view::json::status(snapshot, finish_at, &since);
    if let Value::Object(fields) = &mut status {
        fields.insert("latch".into(), json!(posted.latch));
        fields.insert("age_s".into(), json!(posted.at.elapsed().as_secs_f64()));
        fields.insert("keeper".into(), json!(posted.keeper));
        fields.insert("speed".into(), json!(standing.clock.speed));
    }
    status
}
