//! `bath add`: what was done to a bath, written down.

use super::{kept, now, seconds, unknown};
use crate::bath::keep::{Deed, MISMATCH};
use crate::bath::{BathFault, BathProfile, Note, volume_checked};
use crate::cli::paper::{print_json, print_text};
use crate::cli::pieces::{ledger_path, unreadable};
use crate::cli::{Exit, Failure};
use crate::ledger::{Batch, Ledger, SqliteStore, TankDeed, TankEntry};
use crate::run::{Losses, tank_state};
use crate::spec::{self, Shelf};
use crate::units::{Area, Mass, Quantity, Span, Temperature, Volume};
use crate::view;
use chrono::{DateTime, Local, NaiveDateTime, SecondsFormat};
use std::path::{Path, PathBuf};

/// Write down what you did to a bath.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    nightvat bath add 'north tank' --made acid-copper-bright --volume '6 L' --surface '300 cm2'\n  \
    nightvat bath add 'north tank' 'brightener 0.6 mL'\n  \
    nightvat bath add 'north tank' 'water 250 mL' --at '2026-03-01 21:30'\n  \
    nightvat bath add 'north tank' 'anode 420 g'\n\n\
    A profile of your own is read from its file, and kept here for when the file is gone.\n\
    A bath that was made holds a full dose of each additive. Its name is the station's \
    `tank.bath_ledger`: runs there are booked to it by themselves.\n\
    Next: `nightvat bath due`.")]
pub(in crate::cli) struct AddArgs {
    /// The bath, by its name in the ledger
    bath: String,
    /// What went in and how much: 'brightener 2 mL' (or '5 drops', of 0.05 mL), 'water 500 mL',
    /// 'drawn 1 L', 'anode 420 g', or SUBSTANCE [STRENGTH] AMOUNT
    #[arg(required_unless_present = "made", conflicts_with = "made")]
    what: Option<String>,
    /// It was made up: the name or path of its profile
    #[arg(long, value_name = "PROFILE", requires = "volume")]
    made: Option<String>,
    /// How much of it was made
    #[arg(long, value_parser = Volume::read, requires = "made", allow_hyphen_values = true)]
    volume: Option<Volume>,
    /// Surface of the liquid, for evaporation
    #[arg(long, value_name = "AREA", value_parser = Area::read, requires = "made")]
    surface: Option<Area>,
    /// When, if not now: RFC 3339, or YYYY-MM-DD HH:MM of this computer's time
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
    /// Another ledger than the one in the state folder
    #[arg(long, value_name = "FILE")]
    ledger: Option<PathBuf>,
}

/// Does it.
pub(super) fn run(args: &AddArgs, json: bool) -> Result<(), Failure> {
    if args.bath.trim().is_empty() {
        return Err(said("a bath without a name"));
    }
    let at = time(args.at.as_deref())?;
    let path = ledger_path(args.ledger.as_deref())?;
    let entry = match &args.made {
        Some(profile) => made(args, profile, &at)?,
        None => done(args, &path, &at)?,
    };
    let mut store = SqliteStore::open(&path, Batch::Each).map_err(unreadable)?;
    store.bath_entry(&args.bath, &entry).map_err(unreadable)?;
    drop(store);
    let (row, profile) = kept(Some(&path), &args.bath)?.parts();
    let losses = Losses {
        mismatch: MISMATCH,
        carried: Volume::ZERO,
    };
    let state = tank_state(&row, &profile, losses, now(), true);
    let notes: Vec<Note> = view::bath_notes(&state)
        .into_iter()
        .filter(|note| note.code == "overdose")
        .collect();
    if json {
        print_json(&view::json::bath_added(&args.bath, &entry, &state, &notes));
    } else {
        print_text(&view::text::bath_added(&args.bath, &entry, &state, &notes));
    }
    Ok(())
}

fn said(what: &str) -> Failure {
    let what = what.to_owned();
    BathFault::Said { what }.into()
}

/// The bath was made up.
fn made(args: &AddArgs, profile: &str, at: &DateTime<Local>) -> Result<TankEntry, Failure> {
    let found = Shelf::disk().find(spec::shelf::Sort::Bath, profile, None)?;
    spec::bath::read(&found.path, &found.text)?;
    let volume = args.volume.map(volume_checked).transpose()?;
    // A person's own profile is found again from any folder, and kept for when it is gone.
    let built_in = spec::shelf::Sort::Bath.names().any(|name| name == profile);
    let named = match std::path::absolute(profile) {
        Ok(path) if !built_in => path.display().to_string(),
        Ok(_) | Err(_) => profile.to_owned(),
    };
    let surface = args.surface.filter(|area| *area > Area::ZERO);
    if surface != args.surface {
        return Err(said(
            "a surface of nothing: measure the open liquid, as \"300 cm2\"",
        ));
    }
    Ok(TankEntry {
        at: label(at),
        when: seconds(at),
        kind: TankDeed::Made,
        substance: named,
        mass: None,
        volume,
        surface,
        held: None,
        profile_text: (!built_in).then_some(found.text),
    })
}

/// Something was done to a bath that is there.
fn done(args: &AddArgs, path: &Path, at: &DateTime<Local>) -> Result<TankEntry, Failure> {
    if !path.exists() {
        return Err(unknown(&args.bath, &[]));
    }
    Ledger::open_read(path).map_err(unreadable)?;
    let (row, profile) = kept(Some(path), &args.bath)?.parts();
    if seconds(at) < row.made.when {
        let text = format!("the bath was made {}, after that", row.made.at);
        return Err(
            Failure::new(Exit::BadInput, "out-of-range", text).remedy("look at the date of `--at`")
        );
    }
    let deed = deed(args, &profile)?;
    let (kind, substance, mass, volume): (TankDeed, String, Option<Mass>, Option<Volume>) =
        match deed {
            Deed::Additive(name, volume) => (TankDeed::Added, name, None, Some(volume)),
            Deed::Water(volume) => (TankDeed::Water, "water".to_owned(), None, Some(volume)),
            Deed::Drawn(volume) => (TankDeed::Drawn, "bath".to_owned(), None, Some(volume)),
            Deed::Anode(mass) => (TankDeed::Anode, "anode".to_owned(), Some(mass), None),
            Deed::Chemical(put) => (TankDeed::Added, put.name, Some(put.mass), put.volume),
        };
    let most = row.volume();
    if kind == TankDeed::Drawn && volume.is_some_and(|volume| volume > most) {
        return Err(said(&format!(
            "the bath has {:.2} L, and no more can be drawn off",
            most.l()
        )));
    }
    Ok(TankEntry {
        at: label(at),
        when: seconds(at),
        kind,
        substance,
        mass,
        volume,
        surface: None,
        held: None,
        profile_text: None,
    })
}

fn deed(args: &AddArgs, profile: &BathProfile) -> Result<Deed, BathFault> {
    let text = args.what.as_deref().unwrap_or_default();
    Deed::read(text, profile, Temperature::from_c(20.0))
}

pub(super) fn label(at: &DateTime<Local>) -> String {
    at.to_rfc3339_opts(SecondsFormat::Secs, false)
}

/// When it was; never later than now.
fn time(text: Option<&str>) -> Result<DateTime<Local>, Failure> {
    let now = Local::now();
    let Some(text) = text else { return Ok(now) };
    let written = DateTime::parse_from_rfc3339(text).map(|at| at.with_timezone(&Local));
    let found = written.ok().or_else(|| {
        let plain = NaiveDateTime::parse_from_str(text, "%Y-%m-%d %H:%M").ok()?;
        plain.and_local_timezone(Local).earliest()
    });
    let Some(at) = found else {
        return Err(said(&format!(
            "{text:?} is no time: write it as \"2026-03-01 21:30\" or as RFC 3339"
        )));
    };
    let ahead = seconds(&at) - seconds(&now);
    if ahead > Span::from_s(0.0) {
        let text = format!("{text} is in the future: a ledger holds what was done");
        return Err(Failure::new(Exit::BadInput, "in-future", text)
            .remedy("look at the date, and at this computer's clock"));
    }
    Ok(at)
}
