//! A trial of every way: whether somebody would be told tonight.

use super::ending::Ending;
use super::letter::Letter;
use super::{program, way};
use crate::daemon::standing::label_now;
use crate::spec::Station;
use std::time::Instant;

/// What came of trying one way.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Tried {
    /// The way, and where it leads.
    pub way: String,
    /// True if it worked.
    pub ok: bool,
    /// What it printed, or why it failed.
    pub text: Option<String>,
    /// How long it took.
    pub took_s: f64,
}

/// Tries every way of a station once, one after the other, and says what came of each as soon as
/// it is known. Nothing is asked of a daemon or a supply.
pub fn try_each(station: &Station, mut said: impl FnMut(&Tried)) -> Vec<Tried> {
    let ending = Ending::default();
    let letter = Letter::trial(&station.name, label_now());
    let mut all = Vec::new();
    let mut tried = |way: String, go: &dyn Fn() -> Result<Option<String>, String>| {
        let begun = Instant::now();
        let done = go();
        let (ok, text) = match done {
            Ok(text) => (true, text),
            Err(why) => (false, Some(why)),
        };
        let took_s = begun.elapsed().as_secs_f64();
        let tried = Tried {
            way,
            ok,
            text,
            took_s,
        };
        said(&tried);
        all.push(tried);
    };
    let notices = &station.notices;
    for tell in &notices.tell {
        tried(way::label(tell), &|| {
            way::tell(tell, &letter, &ending).map(|()| None)
        });
    }
    if let Some(heartbeat) = &notices.heartbeat {
        let within = way::real(heartbeat.within);
        let label = format!("heartbeat {}", way::label_outward(&heartbeat.to));
        tried(label, &|| {
            way::beat(&heartbeat.to, &letter.json, within, &ending).map(|()| None)
        });
    }
    if let Some(hourly) = &notices.hourly {
        let within = way::real(hourly.within);
        let label = format!("hourly {}", way::of_command(&hourly.run));
        tried(label, &|| {
            let printed = program::run(&hourly.run, letter.json.as_bytes(), within, &ending)?;
            Ok(Some(printed).filter(|text| !text.is_empty()))
        });
    }
    all
}
