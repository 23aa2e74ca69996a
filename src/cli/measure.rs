//! `gauge` and `weigh`: what a finished piece measures, into the ledger.

use super::paper::{print_json, print_text};
use super::pieces::{ledger_path, unreadable};
use super::{Exit, Failure};

use crate::ledger::{Batch, Ledger, PieceRow, RunId, SqliteStore};
use crate::units::{Length, Mass, Quantity};
use std::path::PathBuf;

/// What a calliper or gauge reads on a piece: it corrects the area of the next one like it.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  nightvat gauge 12/stem '210 um'\n  \
    nightvat gauge 12/stem '210 um' --doubt '8 um'\n\n\
    Read several spots and give their mean. The next job with a piece of the same name, shape and \
    texture reckons with the area that follows; `nightvat plan` says so. The last reading counts.")]
pub(super) struct GaugeArgs {
    /// The piece: the run's number, a slash, its name; see `nightvat pieces`
    #[arg(value_name = "RUN/PIECE")]
    piece: String,
    /// Mean thickness of the deposit
    #[arg(value_name = "THICKNESS", value_parser = Length::read, allow_hyphen_values = true)]
    thickness: Length,
    /// How far that may be from the true mean, 95 %: what the spots differ by, what the instrument
    /// is good for; where it is not said, 10 % of the reading
    #[arg(long, value_name = "THICKNESS", value_parser = Length::read, allow_hyphen_values = true)]
    doubt: Option<Length>,
    /// Another ledger than the one in the state folder
    #[arg(long, value_name = "FILE")]
    ledger: Option<PathBuf>,
}

/// What a piece gained on the scale: it corrects the mass for each amp-hour, not the area.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  nightvat weigh 12/stem '3.42 g'\n\n\
    Give what it gained: dry mass after less dry mass before. Weigh all pieces of a rack, since \
    the share of one is unsure. The next job with such pieces in the same bath reckons with it; \
    `nightvat plan` says so. The last weighing counts.")]
pub(super) struct WeighArgs {
    /// The piece: the run's number, a slash, its name; see `nightvat pieces`
    #[arg(value_name = "RUN/PIECE")]
    piece: String,
    /// What it gained
    #[arg(value_name = "MASS", value_parser = Mass::read, allow_hyphen_values = true)]
    mass: Mass,
    /// Another ledger than the one in the state folder
    #[arg(long, value_name = "FILE")]
    ledger: Option<PathBuf>,
}

/// Said of a run that was none.
const SIMULATED: &str = "The run was simulated, so it teaches no other.";

/// A thickness this many times off the reckoned one is a slip of the unit.
const THICKNESS_OFF: f64 = 4.0;
/// A mass outside these shares of the reckoned one is a slip, or not the gain.
const MASS_OFF: [f64; 2] = [0.5, 1.3];

/// Notes a thickness.
pub(super) fn gauge(args: &GaugeArgs, json: bool) -> Result<(), Failure> {
    let path = ledger_path(args.ledger.as_deref())?;
    let row = find(&path, &args.piece)?;
    let reckoned = row.account.thickness.best;
    let ratio = args.thickness / reckoned;
    if !(ratio > 1.0 / THICKNESS_OFF && ratio < THICKNESS_OFF) {
        let text = format!(
            "{:.1} um on a piece that had charge for {:.1} um",
            args.thickness.um(),
            reckoned.um()
        );
        return Err(absurd(text, "thickness"));
    }
    let doubted = |doubt: &Length| *doubt > Length::ZERO && *doubt <= args.thickness / 2.0;
    if let Some(other) = args.doubt.filter(|doubt| !doubted(doubt)) {
        let text = format!(
            "a doubt of {:.1} um on {:.1} um; allowed is more than nothing, and at most half of it",
            other.um(),
            args.thickness.um()
        );
        return Err(absurd(text, "doubt"));
    }
    let mut store = SqliteStore::open(&path, Batch::Each).map_err(unreadable)?;
    store
        .gauge(row.run, &row.name, (args.thickness, args.doubt), &now())
        .map_err(unreadable)?;
    if json {
        print_json(&serde_json::json!({
            "run": row.run, "piece": row.name, "gauged_um": args.thickness.um(),
            "doubt_um": args.doubt.map(Length::um),
            "reckoned_um": reckoned.um(), "teaches": !row.simulated,
        }));
    } else {
        let doubt = args
            .doubt
            .map(|doubt| format!(", give or take {:.1} um", doubt.um()));
        print_text(&format!(
            "{}/{}: {:.1} um gauged{}, {:.1} um reckoned. {}",
            row.run,
            row.name,
            args.thickness.um(),
            doubt.unwrap_or_default(),
            reckoned.um(),
            if row.simulated {
                SIMULATED
            } else {
                "The next piece like it is planned with the area that follows."
            }
        ));
    }
    Ok(())
}

/// Notes a mass.
pub(super) fn weigh(args: &WeighArgs, json: bool) -> Result<(), Failure> {
    let path = ledger_path(args.ledger.as_deref())?;
    let row = find(&path, &args.piece)?;
    let reckoned = row.account.mass;
    let ratio = args.mass / reckoned;
    if !(MASS_OFF[0]..=MASS_OFF[1]).contains(&ratio) {
        let text = format!(
            "{:.3} g on a piece that had charge for {:.3} g",
            args.mass.g(),
            reckoned.g()
        );
        return Err(absurd(text, "gain in mass, after less before, dry"));
    }
    let mut store = SqliteStore::open(&path, Batch::Each).map_err(unreadable)?;
    store
        .weigh(row.run, &row.name, args.mass, &now())
        .map_err(unreadable)?;
    let per_ah = args.mass.g() / row.account.charge.best.ah();
    if json {
        print_json(&serde_json::json!({
            "run": row.run, "piece": row.name, "weighed_g": args.mass.g(),
            "reckoned_g": reckoned.g(), "per_ah_g": per_ah, "teaches": !row.simulated,
        }));
    } else {
        print_text(&format!(
            "{}/{}: {:.3} g weighed, {:.3} g reckoned: {per_ah:.4} g for each Ah. It says nothing \
             about the area; `nightvat gauge` does. {}",
            row.run,
            row.name,
            args.mass.g(),
            reckoned.g(),
            if row.simulated { SIMULATED } else { "" }
        ));
    }
    Ok(())
}

fn absurd(text: String, what: &str) -> Failure {
    Failure::new(Exit::BadInput, "bad-value", text).remedy(format!(
        "give the {what}, and look at its unit; nothing was noted"
    ))
}

/// The piece that `RUN/PIECE` names.
fn find(path: &std::path::Path, word: &str) -> Result<PieceRow, Failure> {
    let parts = word.split_once('/').and_then(|(run, name)| {
        let run: RunId = run.trim().parse().ok()?;
        Some((run, name))
    });
    let Some((run, name)) = parts else {
        let text = format!("`{word}` is no RUN/PIECE, such as 12/stem");
        return Err(
            Failure::new(Exit::BadInput, "bad-value", text).remedy("`nightvat pieces` lists them")
        );
    };
    let all = Ledger::open_read(path)
        .and_then(|ledger| ledger.pieces())
        .map_err(unreadable)?;
    let names: Vec<String> = all
        .iter()
        .filter(|row| row.run == run)
        .map(|row| row.name.clone())
        .collect();
    let found = all
        .into_iter()
        .find(|row| row.run == run && row.name == name);
    found.ok_or_else(|| {
        let text = if names.is_empty() {
            format!("the ledger holds no run {run}")
        } else {
            format!(
                "run {run} has no piece `{name}`; it has {}",
                names.join(", ")
            )
        };
        Failure::new(Exit::BadInput, "not-found", text).remedy("`nightvat pieces` lists them")
    })
}

fn now() -> String {
    chrono::Local::now().to_rfc3339_opts(chrono::SecondsFormat::Secs, false)
}
