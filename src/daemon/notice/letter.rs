//! What is told, in the forms that the ways need.

use super::event::Event;
use super::watch::News;
use crate::ledger::RunId;
use crate::spec::notices::Rank;
use crate::units::Span;
use crate::view::cards::{self, MORNING};
use serde_json::{Value, json};

/// One notice, written.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Letter {
    pub(super) event: Event,
    /// The run it is about, and how long that had gone on.
    pub(super) run: Option<(RunId, Span)>,
    /// One line.
    pub(super) subject: String,
    /// Some lines.
    pub(super) text: String,
    /// One JSON object.
    pub(super) json: String,
}

/// What surrounds the news.
#[derive(Clone, Debug)]
pub(super) struct Around<'a> {
    pub(super) station: &'a str,
    pub(super) run: Option<(RunId, Span)>,
    pub(super) job: Option<&'a str>,
    /// Now, RFC 3339.
    pub(super) at: String,
    /// The status as its JSON has it; `null` in a trial.
    pub(super) status: Value,
    /// The status as a person reads it.
    pub(super) screen: &'a str,
}

impl Letter {
    pub(super) fn write(news: &News, around: Around<'_>) -> Self {
        let event = news.event;
        let run = around.run.map(|(run, _)| run);
        let about = run.map(|run| format!(", run {run}")).unwrap_or_default();
        let subject = format!("{}{about}: {}", around.station, loud(event));
        let explain = match &news.code {
            Some(code) => format!("`nightvat explain {code}` says what to do.\n"),
            None => String::new(),
        };
        let mut text = format!("{}\n{explain}\n{}", news.text, around.screen);
        if event == Event::Finished {
            text.push_str(&format!("\n{}", cards::text("In the morning", &MORNING)));
        }
        let json = json!({
            "event": event.word(),
            "rank": event.rank().word(),
            "code": news.code,
            "text": news.text,
            "at": around.at,
            "station": around.station,
            "run": run,
            "job": around.job,
            "status": around.status,
        });
        Self {
            event,
            run: around.run,
            subject,
            text,
            json: json.to_string(),
        }
    }

    /// The letter of a trial.
    pub(super) fn trial(station: &str, at: String) -> Self {
        let news = News {
            event: Event::Trial,
            code: None,
            text: Event::Trial.sentence().to_owned(),
        };
        let around = Around {
            station,
            run: None,
            job: None,
            at,
            status: Value::Null,
            screen: "",
        };
        Self::write(&news, around)
    }
}

/// The event's word, in capitals where it must wake her.
fn loud(event: Event) -> String {
    match event.rank() {
        Rank::Wake => event.word().to_uppercase(),
        Rank::Morning => event.word().to_owned(),
    }
}
