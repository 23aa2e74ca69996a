//! The daemon's words about itself, as its replies give them.

use super::board::Posted;
use super::latch::ReadBy;
use super::standing::Standing;
use crate::run::{Evening, Snapshot};
use crate::units::{Moment, Span};
use crate::view::page::Beside;
use crate::view::{self, salvage};
use serde_json::{Value, json};

/// The status, and what is added to it: what waits for a person, and how old what is shown is.
pub(super) fn status(posted: &Posted, standing: &Standing) -> Value {
    let mut status = json!(view::json::status(&fresh(posted, standing), &|at| standing.label(at)));
    if let Value::Object(fields) = &mut status {
        fields.insert("latch".into(), json!(posted.latch));
        let salvage = aftermath(posted, standing).map(|(facts, _)| facts);
        fields.insert("salvage".into(), json!(salvage));
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
        if let Some((_, card)) = aftermath(posted, standing) {
            text.push_str(&format!("\n{card}"));
        }
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

/// The page, whole.
pub(super) fn page(posted: &Posted, standing: &Standing) -> String {
    drawn(posted, standing, view::page::page)
}

/// The part of the page that changes.
pub(super) fn now(posted: &Posted, standing: &Standing) -> String {
    drawn(posted, standing, view::page::now)
}

fn drawn(
    posted: &Posted,
    standing: &Standing,
    draw: impl Fn(&Snapshot, &Beside<'_>, &dyn Fn(Moment) -> String) -> String,
) -> String {
    let latch = posted.latch.as_ref();
    let beside = Beside {
        latch: latch.map(|latch| (latch.code.as_str(), latch.text.as_str())),
        resumes: latch.is_some_and(|latch| latch.resumes),
    };
    let day = |at| standing.time_of(at).format("%a %H:%M").to_string();
    draw(&fresh(posted, standing), &beside, &day)
}

/// The one answer before she sleeps: as an object, and as she reads it.
pub(super) fn bedtime(posted: &Posted, standing: &Standing) -> Value {
    let now = fresh(posted, standing);
    let evening = Evening {
        snapshot: &now,
        night: posted
            .night
            .as_ref()
            .map(|night| (&*night.plan, night.covered)),
        surface: standing.station.tank.surface,
        supply: &standing.capability,
        relay: standing.opens_within(),
        tells: !standing.station.notices.tell.is_empty(),
        kept: posted.keeper.is_some(),
    };
    let answer = evening.bedtime();
    let finish = answer.time_left.map(|left| now.now + left);
    let at = finish.map(|finish| standing.label(finish));
    let said = finish.map(|finish| standing.time_of(finish).format("%a %H:%M").to_string());
    json!({
        "text": view::text::bedtime(&answer, said.as_deref()),
        "bedtime": view::json::bedtime(&answer, at.as_deref()),
    })
}

/// What happened to the run that was broken off and what can be done for its pieces: as facts, and
/// as a person reads it.
pub(super) fn aftermath(posted: &Posted, standing: &Standing) -> Option<(Value, String)> {
    let latch = posted.latch.as_ref()?;
    let of = &fresh(posted, standing);
    let metal = latch.metal.as_deref();
    let off_for = latch.off.not_before.as_deref().and_then(ago);
    let card = salvage::salvage(metal, off_for, latch.resumes);
    let minute = |label: &str| {
        let time = chrono::DateTime::parse_from_rfc3339(label);
        time.map_or(String::new(), |time| time.format("%a %H:%M").to_string())
    };
    let at = latch.off.not_before.as_deref().map(minute);
    let at = at.unwrap_or_else(|| "a time that is not known".to_owned());
    let since = match latch.off.read_by {
        ReadBy::Run => format!("Off since {at}, as a reading said."),
        ReadBy::Keeper => format!("Off since {at}, as its keeper read then."),
        ReadBy::Nobody => format!(
            "When it went off nobody read: some time after {at}, when the last thing known of it \
             was written."
        ),
    };
    let words = view::text::Aftermath {
        run: latch.run,
        job: of.job.as_deref().unwrap_or_default(),
        what: &latch.text,
        charge: of.charge,
        output_on: of.output_on,
        current: of.current,
        read_at: of.long_ago().map(|at| minute(&standing.label(at))),
        since: &since,
        off_for,
    };
    let facts = json!({
        "run": latch.run,
        "what": latch.text,
        "charge_ah": of.charge.best.ah(),
        "charge_low_ah": of.charge.low.ah(),
        "charge_high_ah": of.charge.high.ah(),
        "output_on": of.output_on,
        "current_a": of.current.map(|current| current.a()),
        "off_since": latch.off.not_before,
        "off_read_by": latch.off.read_by,
        "off_for_s": off_for.map(|off_for| off_for.s()),
        "metal": metal,
        "effect": card.effect,
        "steps": card.steps,
        "source": salvage::SOURCE,
        "resumes": latch.resumes,
    });
    Some((facts, view::text::salvage(&words, &card)))
}

/// How long ago a label was, on the wall clock; `None` if that clock was set back.
pub(super) fn ago(label: &str) -> Option<Span> {
    let then = chrono::DateTime::parse_from_rfc3339(label).ok()?;
    let since = chrono::Local::now().signed_duration_since(then);
    // Labels are cut to seconds.
    let seconds = since.num_milliseconds() as f64 / 1e3;
    (seconds >= 0.0).then(|| Span::from_s(seconds))
}

/// What was posted, as old as it is now.
fn fresh(posted: &Posted, standing: &Standing) -> Snapshot {
    Snapshot {
        now: standing.clock.now(),
        ..posted.snapshot.clone()
    }
}
