//! `rehearse`: a whole night on the simulated station.

use super::bench::Bench;
use super::paper::{print_json, print_text};
use super::pieces::unreadable;
use super::{Exit, Failure, report};
use crate::control::{Outcome, State};
use crate::ledger::{Batch, Ledger, RunHead, RunId, SqliteStore, Store};
use crate::plan::{Goal, Plan};
use crate::rig::bench::Bench as Simulated;
use crate::rig::cell::Truth;
use crate::rig::instrument::Instrument;
use crate::rig::rehearsal::{Manner, Rehearsed, rehearse};
use crate::rig::world::World;
use crate::run::{Habits, Run};
use crate::spec::{DEMO_JOB, DEMO_STATION, Shelf};
use crate::supply::link::Link;
use crate::units::{Charge, Length, Mass, Moment, Span};
use crate::view::{self, Rehearsal, TrueElectrode, TruthTable};
use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Instant;

/// A whole night on the simulated station, as fast as the machine goes.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  nightvat rehearse\n  \
    nightvat rehearse my-job.toml --station north-tank.toml --seed 7 --report night.html\n\n\
    The same decisions, the same bytes to the supply, the same ledger as a real night; only the \
    supply and the cell are simulated. Next: `nightvat serve STATION`, then `nightvat start JOB`.")]
pub(super) struct RehearseArgs {
    /// The job: a file, or the name of a built-in one
    #[arg(default_value = DEMO_JOB)]
    job: String,
    /// The station: a file, or the name of a built-in one
    #[arg(long, default_value = DEMO_STATION)]
    station: String,
    /// Which world is drawn: its true areas, its bath, its meter, its noise
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// A perfect meter and a quiet cell, everything as the job says
    #[arg(long)]
    clean: bool,
    /// The ledger the run goes to; without it `ledger.db` in the state folder
    #[arg(long, value_name = "FILE")]
    ledger: Option<PathBuf>,
    /// Where the report goes
    #[arg(long, value_name = "FILE.html", default_value = "rehearsal.html")]
    report: PathBuf,
}

/// Does it.
pub(super) fn run(args: &RehearseArgs, json: bool) -> Result<(), Failure> {
    let bench = Bench::open(&args.job, &args.station, &Shelf::disk())?;
    let path = match &args.ledger {
        Some(path) => path.clone(),
        None => crate::daemon::state_folder()?.join("ledger.db"),
    };
    let plan = Arc::new(bench.accepted_after(&path)?);
    let mut store = SqliteStore::open(&path, Batch::AtLeast(50_000)).map_err(unreadable)?;
    let head = RunHead {
        simulated: true,
        seed: Some(args.seed),
        ..bench.head(&plan)
    };
    let id = store.begin(&head).map_err(unreadable)?;
    let night = carry_out(args, &bench, &plan, &head, id, &mut store)?;
    store.thin(id).map_err(unreadable)?;
    drop(store);
    tell(args, &plan, &path, id, &night, json)
}

/// What a rehearsed night left.
struct Night {
    rehearsed: Rehearsed,
    truth: Truth,
    charge_at_goal: Vec<Charge>,
    wall: Span,
}

/// The night itself.
fn carry_out(
    args: &RehearseArgs,
    bench: &Bench,
    plan: &Arc<Plan>,
    head: &RunHead,
    id: RunId,
    store: &mut SqliteStore,
) -> Result<Night, Failure> {
    let world = World::draw(
        &bench.job,
        &bench.station,
        &bench.facts(),
        args.seed,
        args.clean,
    );
    let (kind, quirks, supply) = bench.simulated(args.clean)?;
    let mut line = Simulated::new(
        Instrument::new(kind, quirks, world, Moment::ZERO),
        Moment::ZERO,
    );
    // A crash would cost the rehearsal and nothing else: one large batch is enough.
    let habits = Habits {
        batch: Span::from_h(2.0),
        ..Habits::default()
    };
    let mut run = Run::new(
        Moment::ZERO,
        id,
        head,
        plan.clone(),
        supply,
        Link::new(bench.profile.clone()),
        habits,
    );
    let began = Instant::now();
    let mut progress = Progress::new(began);
    let rehearsed = rehearse(
        &mut run,
        id,
        &mut line,
        store,
        Manner::default(),
        |run, now, _| {
            progress.tell(run, now);
            None
        },
    )
    .map_err(unreadable)?;
    let wall = Span::from_s(began.elapsed().as_secs_f64());
    progress.end();
    let core = run.core();
    let rack = core.rack();
    let now = (0..rack.electrodes()).map(|index| rack.charge(index).best);
    let charge_at_goal = core
        .reached()
        .map_or_else(|| now.collect(), |at| at.charges.clone());
    Ok(Night {
        rehearsed,
        truth: line.truth(),
        charge_at_goal,
        wall,
    })
}

/// Prints what came of it and writes the report.
fn tell(
    args: &RehearseArgs,
    plan: &Plan,
    ledger: &Path,
    id: RunId,
    night: &Night,
    json: bool,
) -> Result<(), Failure> {
    let book = Ledger::open_read(ledger).map_err(unreadable)?;
    let record = book.run(id).map_err(unreadable)?;
    let readings = book.readings(id).map_err(unreadable)?;
    let mut truth = table(&night.truth);
    // What the cell says of the piece that ended the run, not of another one.
    if let Some(one) = record
        .governing
        .and_then(|index| truth.electrodes.get(index))
    {
        truth.thickness = one.thickness;
    }
    report::write(
        &args.report,
        &view::report::report(&record, &readings, Some(&truth)),
    )?;
    let of = Rehearsal {
        record: &record,
        truth: &truth,
        overshoot: overshoot(plan, &night.charge_at_goal),
        simulated: night.rehearsed.lasted,
        wall: night.wall,
    };
    if json {
        print_json(&view::json::rehearsal(&of));
    } else {
        print_text(&view::text::rehearsal(&of));
        print_text(&format!(
            "report: {}\nledger: {}, run {id}",
            args.report.display(),
            ledger.display()
        ));
    }
    match night.rehearsed.outcome {
        Some(Outcome::Finished | Outcome::Stopped) => Ok(()),
        Some(Outcome::Tripped(fault) | Outcome::Interrupted(fault)) => Err(Failure::new(
            Exit::Failed,
            fault.code(),
            format!("the rehearsal tripped: {}", fault.guard().sees),
        )
        .remedy(format!("nightvat explain {}", fault.code()))),
        None => Err(Failure::new(
            Exit::NotConfirmedOff,
            "not-finished",
            "the rehearsal was given up; its output was never confirmed off",
        )),
    }
}

/// How far past its goal the governing piece was when the output went off or down to the hold.
fn overshoot(plan: &Plan, charges: &[Charge]) -> Option<f64> {
    let over = |index: usize| {
        let target = plan.pieces.get(index)?.target_charge?;
        Some(*charges.get(index)? / target - 1.0)
    };
    match plan.goal {
        Goal::Piece(index) => over(index),
        Goal::Thinnest => (0..plan.pieces.len()).filter_map(over).reduce(f64::min),
        Goal::RackMean(_) | Goal::Hours(_) => None,
    }
}

fn table(truth: &Truth) -> TruthTable {
    TruthTable {
        charge: Charge::from_ah(truth.charge_ah),
        thickness: Length::from_um(truth.thickness_um),
        electrodes: truth
            .electrodes
            .iter()
            .map(|one| TrueElectrode {
                name: one.name.to_string(),
                charge: Charge::from_ah(one.charge_ah),
                mass: Mass::from_g(one.mass_g),
                thickness: Length::from_um(one.thickness_um),
            })
            .collect(),
    }
}

/// Progress on standard error: in place on a terminal, a line a state elsewhere.
struct Progress {
    began: Instant,
    in_place: bool,
    shown: bool,
    state: State,
}

impl Progress {
    fn new(began: Instant) -> Self {
        let in_place = std::io::stderr().is_terminal();
        Self {
            began,
            in_place,
            shown: false,
            state: State::Idle,
        }
    }

    fn tell(&mut self, run: &Run, now: Moment) {
        let snapshot = run.snapshot(now);
        let line = format!(
            "{:>5.1} h  {:<9}  {:>6.3} A  {:>6.3} Ah  {:>6.1} um  {:>3.0} %",
            now.s() / 3600.0,
            snapshot.state.word(),
            snapshot.current.unwrap_or_default().a(),
            snapshot.charge.best.ah(),
            snapshot.thickness.um(),
            snapshot.progress * 100.0
        );
        if snapshot.state != self.state {
            self.state = snapshot.state;
            eprintln!("{}{line}", if self.in_place { "\r\x1b[K" } else { "" });
        } else if self.in_place && self.began.elapsed().as_millis() > 100 {
            eprint!("\r\x1b[K{line}");
            self.shown = true;
        }
    }

    fn end(&self) {
        if self.shown {
            eprint!("\r\x1b[K");
        }
    }
}
