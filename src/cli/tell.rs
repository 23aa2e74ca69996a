//! `tell`: a trial of every way by which somebody is told.

use super::paper::{print_json, print_text};
use super::{Exit, Failure};
use crate::daemon::{Tried, try_each};
use crate::spec::{self, Shelf};
use serde_json::json;

/// Try every way by which the station tells somebody: each is used once, now
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  nightvat tell north-tank.toml\n\n\
    The ways are the [[tell]], [heartbeat] and [hourly] tables of the station file. No daemon is \
    asked, and nothing is energised. Do it in the evening, from the account that the daemon runs \
    in.\nNext: `nightvat serve STATION`.")]
pub(super) struct TellArgs {
    /// The station: a file, or the name of a built-in one
    station: String,
}

/// Does it.
///
/// # Errors
/// [`Failure`] if the station cannot be read, has nobody to tell, or one of its ways failed.
pub(super) fn run(args: &TellArgs, json: bool) -> Result<(), Failure> {
    let station = spec::station::open(&args.station, &Shelf::disk())?;
    let tried = try_each(&station, |tried| {
        if !json {
            print_text(&line(tried));
        }
    });
    if json {
        print_json(&json!({ "station": station.name, "ways": tried }));
    }
    let failed = tried.iter().filter(|tried| !tried.ok).count();
    if tried.is_empty() {
        let text = format!("{} tells nobody anything", station.name);
        return Err(Failure::new(Exit::BadInput, "nobody-told", text)
            .at(&args.station)
            .remedy("add a [[tell]] table to the station file")
            .said(json));
    }
    if failed > 0 {
        let text = format!("{failed} of {} ways failed", tried.len());
        return Err(Failure::new(Exit::Failed, "not-told", text)
            .at(&args.station)
            .remedy("mend them, or take them out, and try again")
            .said(json));
    }
    Ok(())
}

fn line(tried: &Tried) -> String {
    let word = if tried.ok { "ok" } else { "FAILED" };
    let text = tried
        .text
        .as_ref()
        .map(|text| format!(": {}", text.replace('\n', " / ")))
        .unwrap_or_default();
    format!("{word:<7} {} ({:.1} s){text}", tried.way, tried.took_s)
}
