//! `serve`: the daemon of one station.

use super::paper::{print_json, say};
use super::{Exit, Failure};
use crate::daemon::{self, End, Place, Serving, Settings};
use std::path::PathBuf;
use std::sync::mpsc::channel;
use std::time::Duration;

/// A terminal takes what is said within this, or the night goes on without.
const TALK: Duration = Duration::from_millis(200);

/// The daemon of one station: runs jobs, answers the other commands
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  nightvat serve north-tank.toml\n  \
    nightvat serve bench.toml --speed 100     (a simulated supply only)\n\n\
    The first thing it does is to turn the output off and read that back. Ctrl-C or SIGTERM stops \
    the run, waits until a reading proves the output off, and ends; a closed terminal changes \
    nothing.\n\
    No program helps against a power cut of this computer: a mains timer set a little past the \
    end of the run does.\n\nNext: `nightvat start JOB` in another terminal.")]
pub(super) struct ServeArgs {
    /// The station: a file, or the name of a built-in one
    station: String,
    /// Another ledger than the one in the state folder
    #[arg(long, value_name = "FILE")]
    ledger: Option<PathBuf>,
    /// Run the clock so many times faster; refused on anything but a pseudo-terminal
    #[arg(long, value_name = "N", default_value_t = 1.0, value_parser = speed)]
    speed: f64,
}

fn speed(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(speed) if (1.0..=10_000.0).contains(&speed) => Ok(speed),
        Ok(_) | Err(_) => Err("a number from 1 to 10000".to_owned()),
    }
}

/// Does it.
///
/// # Errors
/// [`Failure`] if it cannot begin, or how it ended.
pub(super) fn run(args: &ServeArgs, json: bool) -> Result<(), Failure> {
    let exe = std::env::current_exe().map_err(|fault| {
        Failure::new(
            Exit::Failed,
            "no-program",
            format!("where is this program? {fault}"),
        )
    })?;
    let settings = Settings {
        station: args.station.clone(),
        place: Place::of_environment()?,
        ledger: args.ledger.clone(),
        speed: args.speed,
        exe,
    };
    let ready = |serving: &Serving| {
        let serving = serving.clone();
        aside(move || welcome(&serving, json));
    };
    match daemon::serve(&settings, ready)? {
        End::Clean => {
            aside(|| say(&"ended; the output is off, read back"));
            Ok(())
        }
        End::Failed => Err(Failure::new(
            Exit::Failed,
            "run-failed",
            "the run had tripped or was interrupted; the output is off, confirmed",
        )
        .remedy("`nightvat runs` shows it; the next daemon asks for `nightvat clear`")),
        End::Unconfirmed => Err(unconfirmed(
            "no reading proves that the output is off; the keeper goes on trying",
        )),
        End::Cut => Err(unconfirmed(
            "no reading proves that the output is off; THE RELAY HAS CUT THE OUTPUT LEAD, which \
             is no proof; the keeper goes on trying",
        )),
    }
}

fn unconfirmed(text: &str) -> Failure {
    Failure::new(Exit::NotConfirmedOff, "unconfirmed", text).remedy("turn the supply off by hand")
}

/// Talks without being held up for long by a terminal that is stopped.
fn aside(talk: impl FnOnce() + Send + 'static) {
    let (done, said) = channel();
    let talking = std::thread::Builder::new().spawn(move || {
        talk();
        // Whoever waited may have gone on.
        let _ = done.send(());
    });
    if talking.is_ok() {
        let _ = said.recv_timeout(TALK);
    }
}

fn welcome(serving: &Serving, json: bool) {
    if json {
        print_json(serving);
    }
    let supply = serving
        .supply
        .as_deref()
        .unwrap_or("a supply that does not say its name");
    let off = if serving.confirmed_off {
        "output off, read back"
    } else {
        "OUTPUT NOT CONFIRMED OFF, trying on"
    };
    say(&format!(
        "{}: {supply} on {}; {off}",
        serving.station, serving.port
    ));
    say(&format!("answers on {}", serving.socket.display()));
    if let Some(page) = &serving.page {
        say(&format!(
            "page: {page} (`nightvat pair STATION` lets a phone act)"
        ));
    }
    match &serving.latch {
        Some(reason) => {
            let card = serving.card.as_deref().unwrap_or(reason);
            say(&format!(
                "\n{card}\nbefore another run: nightvat clear; `nightvat status` says this again"
            ));
        }
        None => say(&"next: nightvat start JOB"),
    }
}
