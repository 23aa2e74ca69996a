//! `start`: a job becomes a run.

use super::paper::{absolute, day_and_time, print_json, print_text, say};
use super::talk::{get, post};
use super::{Exit, Failure};
use crate::daemon::Asking;
use crate::spec::shelf::Sort;
use crate::spec::{self, Shelf};
use crate::view::cards::{self, CHECKLIST};
use serde_json::{Value, json};
use std::time::{Duration, Instant};

/// Proving takes some seconds; a line in trouble takes longer.
const PROVING: Duration = Duration::from_secs(120);
const LOOK: Duration = Duration::from_millis(100);
/// Faults that a supply which does not obey gives before anything flows.
const NOT_OBEYING: &[&str] = &[
    "command-failed",
    "wrong-supply",
    "supply-error",
    "limits-not-taken",
    "reading-stale",
];

/// Begin a job on the daemon's station
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  nightvat start seed-heads\n  \
    nightvat start my-job.toml --no-wait\n\n\
    The job is checked first, then the supply and the cell with a few mA; only then the current \
    rises. A checklist is shown before that: run down it while the supply is checked.\n\
    The bath is acid: gloves, goggles, air that moves.\n\
    Next: `nightvat watch`.")]
pub(super) struct StartArgs {
    /// The job: a file, or the name of a built-in one
    job: String,
    /// Return as soon as the run is in the ledger, without waiting for the proving
    #[arg(long)]
    no_wait: bool,
}

/// Does it.
///
/// # Errors
/// [`Failure`]: the job's problems, a daemon that refuses, or a proving that failed.
pub(super) fn run(args: &StartArgs, json: bool) -> Result<(), Failure> {
    let shelf = Shelf::disk();
    let found = shelf.find(Sort::Job, &args.job, None)?;
    // Read here first: problems show with their place before anybody is asked.
    spec::job::read(&found.path, &found.text, &shelf)?;
    let asking = Asking {
        job_text: Some(found.text),
        job_path: absolute(&found.path),
    };
    let begun = post("/start", Some(&json!(asking)))?;
    if !json {
        // A start that is refused needs no checklist; one that is not takes its time to prove.
        print_text(&cards::text("Before the current rises", &CHECKLIST));
    }
    for warning in begun["warnings"].as_array().into_iter().flatten() {
        let word = |key: &str| warning[key].as_str().unwrap_or_default();
        say(&format!("warning: {}: {}", word("code"), word("text")));
    }
    let run = &begun["run"];
    let state = if args.no_wait {
        begun["state"].clone()
    } else {
        proved(run)?
    };
    let answer = json!({
        "run": run,
        "job": begun["job"],
        "state": state,
        "finish_at": begun["finish_at"],
        "charge_ah": begun["charge_ah"],
        "duration_s": begun["duration_s"],
        "warnings": begun["warnings"],
        "layers": begun["layers"],
        "checklist": CHECKLIST,
    });
    if json {
        print_json(&answer);
    } else {
        print_text(&summary(&answer));
    }
    Ok(())
}

/// Waits until the proving is over: the state after it.
fn proved(run: &Value) -> Result<Value, Failure> {
    let until = Instant::now() + PROVING;
    loop {
        let status = get("/status")?;
        let state = &status["state"];
        // A proving that failed is stopping until a reading proves the output off.
        let waits = &status["run"] == run && (state == "proving" || state == "stopping");
        if !waits || Instant::now() >= until {
            return match state.as_str() {
                Some("tripped" | "interrupted") => Err(failed(&status)),
                Some("unconfirmed") => Err(Failure::new(
                    Exit::NotConfirmedOff,
                    "unconfirmed",
                    "the proving failed, and no reading proves that the output is off",
                )
                .remedy("turn the supply off by hand")),
                Some(_) | None => Ok(state.clone()),
            };
        }
        std::thread::sleep(LOOK);
    }
}

/// The proving failed: by the supply before anything flowed, or by what it saw.
fn failed(status: &Value) -> Failure {
    let word = |key: &str| {
        status["latch"][key]
            .as_str()
            .unwrap_or("unknown")
            .to_owned()
    };
    let (code, text) = (word("code"), word("text"));
    let flowed = status["charge_ah"]
        .as_f64()
        .is_none_or(|charge| charge > 0.0);
    let exit = if !flowed && NOT_OBEYING.contains(&code.as_str()) {
        Exit::NoSupply
    } else {
        Exit::Failed
    };
    Failure::new(
        exit,
        &code,
        format!("the proving failed, output off and confirmed: {text}"),
    )
    .remedy(format!(
        "`nightvat explain {code}`; when it is seen to, `nightvat clear`"
    ))
}

fn summary(answer: &Value) -> String {
    let hours = answer["duration_s"].as_f64().unwrap_or_default() / 3600.0;
    let mut text = format!(
        "run {} is {}: {}, {:.3} Ah in {hours:.1} h with the output on\n",
        answer["run"],
        answer["state"].as_str().unwrap_or_default(),
        answer["job"].as_str().unwrap_or_default(),
        answer["charge_ah"].as_f64().unwrap_or_default(),
    );
    if let Some(at) = answer["finish_at"].as_str() {
        let at = day_and_time(at);
        text.push_str(&format!("done {at}, if nothing comes between\n"));
    }
    for layer in answer["layers"].as_array().into_iter().flatten() {
        let stands = match layer["active"].as_bool() {
            Some(true) => "yes",
            Some(false) => "NO",
            None => "yours",
        };
        let (name, about) = (layer["name"].as_str(), layer["text"].as_str());
        let (name, about) = (name.unwrap_or_default(), about.unwrap_or_default());
        text.push_str(&format!("  {stands:<5} {name:<16} {about}\n"));
    }
    text.push_str("next: nightvat watch; `nightvat stop` ends it at any time");
    text
}
