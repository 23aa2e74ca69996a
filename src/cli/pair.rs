//! `pair`: the address that lets a browser act.

use super::paper::{print_json, print_text};
use super::{Exit, Failure};
use crate::daemon::{Place, token};
use crate::spec::{self, Shelf};
use serde_json::json;

/// The address that lets a phone or another browser act on the run, not only look
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  nightvat pair north-tank.toml\n  \
    nightvat pair north-tank.toml --anew\n\n\
    The station file has a [page] table with the address to listen on. Whoever reaches that \
    address may look; only a browser that has opened the address printed here may pause, go on or \
    stop. The page is plain HTTP: use it in a network you trust, never through an open port.\n\
    Next: open the address on the phone.")]
pub(super) struct PairArgs {
    /// The station: a file, or the name of a built-in one
    station: String,
    /// Make another token: every browser that was paired before may only look from now on
    #[arg(long)]
    anew: bool,
}

/// Does it.
///
/// # Errors
/// [`Failure`] if the station has no page, or the state folder does not take a token.
pub(super) fn run(args: &PairArgs, json: bool) -> Result<(), Failure> {
    let station = spec::station::open(&args.station, &Shelf::disk())?;
    let Some(page) = &station.page else {
        let text = format!("{} has no page", station.name);
        return Err(Failure::new(Exit::BadInput, "no-page", text)
            .at(&args.station)
            .remedy("add [page] with listen = \"127.0.0.1:8737\" to the station file"));
    };
    let place = Place::of_environment()?;
    place.make()?;
    let token = token(&place, args.anew).map_err(|fault| {
        let text = format!("the state folder takes no token: {fault}");
        Failure::new(Exit::BadInput, "state-unusable", text)
            .at(place.folder().display().to_string())
            .remedy("make it a folder of your own, or set NIGHTVAT_STATE to another")
    })?;
    let everywhere = page.listen.ip().is_unspecified();
    let host = match page.names.first() {
        Some(name) => format!("{name}:{}", page.listen.port()),
        None if everywhere => format!("ADDRESS-OF-THIS-COMPUTER:{}", page.listen.port()),
        None => page.listen.to_string(),
    };
    let url = format!("http://{host}/#token={token}");
    if json {
        print_json(&json!({ "url": url, "listen": page.listen.to_string() }));
    } else {
        print_text(&format!(
            "{url}\nOpen it once on the phone. Whoever has this address can stop a run: send it to \
             nobody else."
        ));
    }
    Ok(())
}
