//! `off`: the output off now. Over the daemon's socket, else over the keeper, else over the port
//! itself.

use super::Failure;
use super::paper::{print_json, print_text, say};
use super::stop::{proved, unproved};
use super::talk::{get, post};
use crate::daemon::state_folder;
use crate::spec::{self, Shelf, Station};
use crate::supply::clock::Clock;
use crate::supply::keeper::{Asked, Record, ask_off, last_record};
use crate::supply::off::OffReport;
use crate::supply::port::{PortError, off_now};
use serde_json::{Value, json};
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// A keeper ends when its off is proved; this long is waited for it.
const KEEPER: Duration = Duration::from_secs(15);
/// A port that somebody holds is tried again for so long.
const PORT: Duration = Duration::from_secs(5);

/// Output off now, with or without a daemon, read back
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  nightvat off north-tank.toml\n\n\
    It asks the daemon; without one, the keeper; without that it opens the port itself. If no \
    reading proves that the output is off, the last line says so in capitals and the exit status \
    is 6: turn the supply off by hand.")]
pub(super) struct OffArgs {
    /// The station: a file, or the name of a built-in one
    station: String,
}

/// Does it.
///
/// # Errors
/// [`Failure`] if no reading proves it, or if neither daemon nor station is known.
pub(super) fn run(args: &OffArgs, json: bool) -> Result<(), Failure> {
    let begun = Instant::now();
    let station = spec::station::open(&args.station, &Shelf::disk()).map_err(Failure::from);
    if let Some(answer) = by_daemon(station.as_ref().ok()) {
        return proved(&answer, json);
    }
    // Without a daemon the port must be known: a station that cannot be read is the problem.
    let station = station?;
    match by_keeper(&station)? {
        Kept::Nobody => {}
        Kept::Trying => {
            let text = "the keeper has sent off and goes on trying to prove it";
            return told(None, false, begun, text, json);
        }
        Kept::Done(record) => {
            let output = record
                .off
                .as_ref()
                .and_then(|report| report.reading.as_ref()?.output);
            let on = if record.confirmed_off {
                Some(false)
            } else {
                output
            };
            return told(on, record.confirmed_off, begun, &record.text, json);
        }
    }
    match by_port(&station)? {
        Ok(report) => {
            let on = report.reading.as_ref().and_then(|reading| reading.output);
            told(on, report.confirmed, begun, &report.text(), json)
        }
        Err(fault) => {
            let done = told(None, false, begun, &fault.to_string(), json);
            done.map_err(|failure| failure.at(&station.port))
        }
    }
}

/// What came of asking the keeper.
enum Kept {
    /// There is none that holds this station's port.
    Nobody,
    /// It has not proved it yet.
    Trying,
    /// It has ended, and wrote this.
    Done(Box<Record>),
}

/// The daemon's answer, if one answers that serves this station and proves it.
fn by_daemon(station: Option<&Station>) -> Option<Value> {
    // One that does not even tell its status would only be waited for.
    let status = get("/status").ok()?;
    if station.is_some_and(|station| status["station"] != station.name.as_str()) {
        return None;
    }
    let answer = post("/off", None).ok()?;
    (answer["confirmed"] == true).then_some(answer)
}

/// Has the keeper of the state folder end, if there is one and it holds this station's port.
fn by_keeper(station: &Station) -> Result<Kept, Failure> {
    let folder = state_folder()?;
    let same = |record: &Record| real(&record.port) == real(Path::new(&station.port));
    if last_record(&folder).is_some_and(|record| !same(&record)) {
        return Ok(Kept::Nobody);
    }
    Ok(match ask_off(&folder, KEEPER) {
        Ok(Asked::NoKeeper) => Kept::Nobody,
        Ok(Asked::Record(record)) => Kept::Done(record),
        Ok(Asked::StillTrying) => Kept::Trying,
        Err(fault) => {
            say(&format!("the keeper cannot be asked: {fault}"));
            Kept::Nobody
        }
    })
}

fn real(path: &Path) -> std::path::PathBuf {
    std::fs::canonicalize(path).unwrap_or_else(|_| path.to_owned())
}

fn by_port(station: &Station) -> Result<Result<OffReport, PortError>, Failure> {
    let profile = Arc::new(spec::open_supply(&station.supply, &Shelf::disk())?);
    Ok(off_now(
        Path::new(&station.port),
        &profile,
        Clock::start(1.0),
        PORT,
    ))
}

fn told(
    output_on: Option<bool>,
    confirmed: bool,
    begun: Instant,
    text: &str,
    json: bool,
) -> Result<(), Failure> {
    let answer = json!({
        "output_on": output_on,
        "confirmed": confirmed,
        "took_s": begun.elapsed().as_secs_f64(),
        "charge_ah": null,
    });
    if !confirmed {
        return Err(unproved(answer, text, json));
    }
    if json {
        print_json(&answer);
    } else {
        print_text(text);
    }
    Ok(())
}
