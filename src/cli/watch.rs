//! `watch`: the status, again and again, to the end of the run.

use super::paper::{print_json, print_text, say};
use super::talk::get;
use super::{Exit, Failure};
use crate::control::State;
use crate::view::cards;
use rustix::termios::isatty;
use serde_json::Value;
use signal_hook::consts::{SIGINT, SIGTERM};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

const EVERY: Duration = Duration::from_secs(1);
const LOOK: Duration = Duration::from_millis(50);

/// The status every second, until the run ends; Ctrl-C leaves the run going
#[derive(Debug, clap::Args)]
#[command(
    after_help = "It ends with the run: exit status 0 if it was finished or stopped, 1 if it was \
    tripped or interrupted. Where standard output is no terminal, one line a change of state."
)]
pub(super) struct WatchArgs {}

/// How it is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Manner {
    /// Objects, one a line.
    Json,
    /// In place; so many lines stand there.
    Screen(usize),
    /// One line a change of state.
    Lines,
}

/// Does it.
///
/// # Errors
/// [`Failure`] if no daemon answers, or by the end of the run.
pub(super) fn run(_args: &WatchArgs, json: bool) -> Result<(), Failure> {
    let left = Arc::new(AtomicBool::new(false));
    for signal in [SIGINT, SIGTERM] {
        signal_hook::flag::register(signal, Arc::clone(&left)).map_err(|fault| {
            Failure::new(
                Exit::Failed,
                "no-signals",
                format!("Ctrl-C cannot be caught: {fault}"),
            )
        })?;
    }
    let mut manner = manner(json);
    let mut last = None;
    loop {
        let screen = get("/screen").map_err(|fault| lost(fault.into(), last))?;
        let status = &screen["status"];
        let state = status["state"].as_str().and_then(State::from_word);
        show(&mut manner, &screen, state != last);
        last = state;
        if let Some(state) = state.filter(|state| over(*state)) {
            return ending(state, status, json);
        }
        let next = Instant::now() + EVERY;
        while Instant::now() < next {
            if left.load(Ordering::Relaxed) {
                return leave(state);
            }
            std::thread::sleep(LOOK);
        }
    }
}

fn manner(json: bool) -> Manner {
    let dumb = std::env::var_os("TERM").is_none_or(|term| term == "dumb");
    if json {
        Manner::Json
    } else if isatty(std::io::stdout()) && !dumb {
        Manner::Screen(0)
    } else {
        Manner::Lines
    }
}

fn show(manner: &mut Manner, screen: &Value, changed: bool) {
    let text = screen["text"].as_str().unwrap_or_default();
    match manner {
        Manner::Json => print_json(&screen["status"]),
        Manner::Screen(lines) => {
            let up = if *lines > 0 {
                format!("\x1b[{lines}A\x1b[J")
            } else {
                String::new()
            };
            let hint = "Ctrl-C ends this view and leaves the run going.";
            let whole = format!("{}\n\n{hint}", text.trim_end());
            print_text(&format!("{up}{whole}"));
            *lines = whole.lines().count();
        }
        Manner::Lines if changed => print_text(&line(&screen["status"])),
        Manner::Lines => {}
    }
}

/// One line for a change of state.
fn line(status: &Value) -> String {
    let figure = |key: &str| status[key].as_f64();
    let mut parts = vec![status["state"].as_str().unwrap_or_default().to_owned()];
    parts.extend(figure("thickness_um").map(|value| format!("{value:.1} um")));
    parts.extend(figure("charge_ah").map(|value| format!("{value:.4} Ah")));
    parts.extend(figure("current_a").map(|value| format!("{value:.3} A")));
    parts.extend(status["finish_at"].as_str().map(|at| format!("done {at}")));
    parts.join("  ")
}

fn over(state: State) -> bool {
    state.is_over() || state == State::Idle
}

fn ending(state: State, status: &Value, json: bool) -> Result<(), Failure> {
    match state {
        State::Tripped | State::Interrupted => {
            let word = |key: &str| status["latch"][key].as_str().unwrap_or_default().to_owned();
            let (code, text) = (word("code"), word("text"));
            let said = format!("the run was {}: {text}", state.word());
            Err(Failure::new(Exit::Failed, &code, said).remedy(format!(
                "`nightvat explain {code}`; when it is seen to, `nightvat clear`"
            )))
        }
        State::Finished => {
            if !json {
                print_text(&format!(
                    "\n{}",
                    cards::text("In the morning", &cards::MORNING)
                ));
            }
            Ok(())
        }
        State::Idle
        | State::Stopped
        | State::Proving
        | State::Striking
        | State::Ramping
        | State::Building
        | State::Holding
        | State::Paused
        | State::Stopping
        | State::Unconfirmed => Ok(()),
    }
}

/// Ctrl-C.
fn leave(state: Option<State>) -> Result<(), Failure> {
    if state == Some(State::Unconfirmed) {
        let text = "no reading proves that the output is off; the daemon goes on trying";
        return Err(Failure::new(Exit::NotConfirmedOff, "unconfirmed", text)
            .remedy("turn the supply off by hand"));
    }
    say(&"the run goes on; `nightvat stop` ends it");
    Ok(())
}

/// The daemon went away while it was watched.
fn lost(mut failure: Failure, last: Option<State>) -> Failure {
    if last.is_some() {
        failure
            .text
            .push_str("; it answered until now. Its keeper turns the output off without it");
    }
    failure
}
