//! `off`: the output off now. Over the daemon's socket, else over the keeper, else over the port
//! itself.

use super::paper::{print_json, print_text, say};
use super::stop::{proved, unproved};
use super::talk::{get, post};
use super::{Exit, Failure};
use crate::daemon::state_folder;
use crate::spec::{self, Shelf, Station};
use crate::supply::clock::Clock;
use crate::supply::keeper::{
    Asked, Record, Settings, ask_off, last_record, last_settings, note_off,
};
use crate::supply::off::OffReport;
use crate::supply::port::{PortError, off_now};
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
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
    if let Some((name, answer)) = by_daemon(station.as_ref().ok()) {
        if let Err(failure) = &station {
            say(&format!(
                "{failure}\nso off goes to the station that the daemon here has: {name}"
            ));
        }
        return proved(&answer, json);
    }
    // Without a daemon the port must be known; a station that cannot be read is the problem, unless
    // a keeper has left behind what it knew.
    let last = last_settings(&state_folder()?);
    let port = match (station.as_ref(), &last) {
        (Ok(station), _) => PathBuf::from(&station.port),
        (Err(failure), Some(last)) => {
            say(&format!(
                "{failure}\nso off goes to the port of the last keeper"
            ));
            last.port.clone()
        }
        (Err(failure), None) => return Err(failure.clone()),
    };
    match by_keeper(&port)? {
        Kept::Nobody => {}
        Kept::Trying => {
            let cut = last_record(&state_folder()?).is_some_and(|record| record.cut.is_some());
            let text = if cut {
                "the keeper has sent off and goes on trying to prove it; THE RELAY HAS CUT THE \
                 OUTPUT LEAD, which is no proof"
            } else {
                "the keeper has sent off and goes on trying to prove it"
            };
            return told((None, cut), false, begun, text, json);
        }
        Kept::Done(record) if record.confirmed_off => {
            return told((Some(false), false), true, begun, &record.text, json);
        }
        // It has ended and left no proof: its disk may be full. The port is free now.
        Kept::Done(_) => {}
    }
    let left = last.filter(|last| real(&last.port) == real(&port));
    match by_port(&port, station.as_ref().ok(), left.as_ref())? {
        Ok(report) => {
            if let Some(Err(fault)) = left.map(|left| note_off(&left, &report)) {
                say(&format!("this off is not in the keeper's record: {fault}"));
            }
            let on = report.reading.as_ref().and_then(|reading| reading.output);
            told((on, false), report.confirmed, begun, &report.text(), json)
        }
        Err(fault) => {
            let done = told((None, false), false, begun, &fault.to_string(), json);
            done.map_err(|failure| failure.at(port.display().to_string()))
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

/// The daemon's station and answer, if one answers that serves this station and proves it.
fn by_daemon(station: Option<&Station>) -> Option<(String, Value)> {
    // One that does not even tell its status would only be waited for.
    let status = get("/status").ok()?;
    if station.is_some_and(|station| status["station"] != station.name.as_str()) {
        return None;
    }
    let answer = post("/off", None).ok()?;
    let name = status["station"].as_str().unwrap_or_default().to_owned();
    (answer["confirmed"] == true).then_some((name, answer))
}

/// Has the keeper of the state folder end, if there is one and it holds this port.
fn by_keeper(port: &Path) -> Result<Kept, Failure> {
    let folder = state_folder()?;
    let same = |record: &Record| real(&record.port) == real(port);
    if last_record(&folder).is_some_and(|record| !same(&record)) {
        return Ok(Kept::Nobody);
    }
    Ok(match ask_off(&folder, KEEPER) {
        Ok(Asked::NoKeeper) => Kept::Nobody,
        // One that had another port says nothing of this one.
        Ok(Asked::Record(record)) if same(&record) => Kept::Done(record),
        Ok(Asked::Record(_)) => Kept::Nobody,
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

/// Says off on the port itself. A profile that cannot be read is no reason to leave the output on
/// where a keeper has left behind the one it used on this port.
fn by_port(
    port: &Path,
    station: Option<&Station>,
    left: Option<&Settings>,
) -> Result<Result<OffReport, PortError>, Failure> {
    let left = left.map(|left| left.profile.clone());
    let profile = match station {
        Some(station) => match (spec::open_supply(&station.supply, &Shelf::disk()), left) {
            (Ok(profile), _) => profile,
            (Err(problems), Some(left)) => {
                say(&format!(
                    "{}\nso off is said as the last keeper said it",
                    Failure::from(problems)
                ));
                left
            }
            (Err(problems), None) => return Err(problems.into()),
        },
        None => left.ok_or_else(|| {
            Failure::new(Exit::BadInput, "not-found", "no supply profile is known")
        })?,
    };
    let (profile, clock) = (Arc::new(profile), Clock::start(1.0));
    Ok(off_now(port, &profile, clock, PORT))
}

fn told(
    (output_on, cut): (Option<bool>, bool),
    confirmed: bool,
    begun: Instant,
    text: &str,
    json: bool,
) -> Result<(), Failure> {
    let answer = json!({
        "output_on": output_on,
        "confirmed": confirmed,
        "cut": cut,
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
