//! `plan`: what a night will be. It writes nothing.

use super::Failure;
use super::bath::now;
use super::bench::Bench;
use super::paper::{day_and_time, print_json, print_text};
use super::pieces::ledger_path;
use crate::control::blind;
use crate::daemon::as_kept;
use crate::plan::layers;
use crate::spec::{DEMO_JOB, DEMO_STATION, Shelf};
use crate::units::Span;
use crate::view::{self, Label, Tonight};
use std::path::PathBuf;

/// What a job will be: areas, currents, charge, mass, hours, and what would forbid it.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  nightvat plan seed-heads\n  \
    nightvat plan my-job.toml --station north-tank.toml\n\n\
    Refusals end with exit status 5. Next: `nightvat rehearse JOB`, then `nightvat start JOB`.")]
pub(super) struct PlanArgs {
    /// The job: a file, or the name of a built-in one
    #[arg(default_value = DEMO_JOB)]
    job: String,
    /// The station: a file, or the name of a built-in one
    #[arg(long, default_value = DEMO_STATION)]
    station: String,
    /// Another ledger than the one in the state folder: it knows the bath in the tank, and the
    /// gauged and weighed pieces that correct the plan
    #[arg(long, value_name = "FILE")]
    ledger: Option<PathBuf>,
}

/// Does it.
pub(super) fn run(args: &PlanArgs, json: bool) -> Result<(), Failure> {
    let mut bench = Bench::open(&args.job, &args.station, &Shelf::disk())?;
    let ledger = ledger_path(args.ledger.as_deref())?;
    let kept = as_kept(&bench.station, &bench.bath, &ledger, &Shelf::disk(), now())?;
    bench.station = kept.station;
    let mut outlook = bench.outlook_after(&ledger)?;
    outlook.warnings.extend(kept.said);
    let layers = layers(&bench.supply, outlook.plan.bounds.relay);
    let blind = blind(&outlook.plan, &bench.supply);
    let finish = finish_label(outlook.plan.forecast.duration);
    let finish = Label {
        at: &finish,
        said: &day_and_time(&finish),
    };
    let tonight = Tonight::of(&outlook, &layers, &blind, Some(finish));
    if json {
        print_json(&view::json::plan(&tonight));
    } else {
        print_text(&view::text::plan(&tonight));
    }
    // The plan's object holds the refusals, and is the only one.
    outlook
        .accept()
        .map_err(|refused| Failure::from(refused).said(json))?;
    Ok(())
}

/// When it would be finished if it were started now.
fn finish_label(duration: Span) -> String {
    #[allow(clippy::cast_possible_truncation)] // a night is far from 2^63 s
    let seconds = chrono::TimeDelta::seconds(duration.s().round() as i64);
    (chrono::Local::now() + seconds).to_rfc3339_opts(chrono::SecondsFormat::Secs, false)
}
