//! Words: what a person types, and what is printed. This room knows commands, exit statuses and
//! which of the two outputs a line belongs to. It must never know how anything is decided. Nobody
//! may come in but `main`.

mod area;
mod bath;
mod bedtime;
mod bench;
mod clear;
mod compare;
mod explain;
mod export;
mod failure;
mod hang;
mod hush;
mod keeper;
mod log;
mod measure;
mod off;
mod paint;
mod paper;
mod lift;
mod pause;
mod pair;
mod pieces;
mod plan;
mod rehearse;
mod report;
mod resume;
mod runs;
mod serve;
mod start;
mod status;
mod stop;
mod supply;
mod talk;
mod tell;
mod unit;
mod watch;

pub use failure::{Exit, Failure};

use clap::{Parser, Subcommand};
use std::process::ExitCode;

/// Runs an electroforming bath through the night so that its owner can sleep.
#[derive(Debug, Parser)]
#[command(
    name = "nightvat",
    version,
    propagate_version = true,
    max_term_width = 100,
    after_help = "Start with `nightvat rehearse`: a whole night of the demo studio on a simulated \
                  bench, in seconds. Any word code in a message has a page: \
                  `nightvat explain CODE`."
)]
struct Words {
    /// Print JSON on standard output and nothing else there
    #[arg(long, global = true)]
    json: bool,
    /// Say more on standard error: -v what happens, -vv every exchange
    #[arg(short, long, global = true, action = clap::ArgAction::Count)]
    verbose: u8,
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// What a job will be: areas, currents, charge, mass, hours; writes nothing
    Plan(plan::PlanArgs),
    /// A whole night on the simulated station, as fast as the machine goes
    Rehearse(rehearse::RehearseArgs),
    /// The daemon: runs jobs on a station, through the night
    Serve(serve::ServeArgs),
    /// Start a job on the daemon's station
    Start(start::StartArgs),
    /// How it stands, in one screen
    Status(status::StatusArgs),
    /// How it stands, again and again, until the run is over
    Watch(watch::WatchArgs),
    /// The one answer before you sleep: go, or what to mend now
    Bedtime(bedtime::BedtimeArgs),
    /// Output off, and wait
    Pause(pause::PauseArgs),
    /// Take a piece out of the run: output off and confirmed first
    Lift(lift::LiftArgs),
    /// Put a piece into the run: output off and confirmed first
    Hang(hang::HangArgs),
    /// Go on after a pause
    Resume(resume::ResumeArgs),
    /// End the run; answers when the output is confirmed off
    Stop(stop::StopArgs),
    /// Say that you have read why a run ended
    Clear(clear::ClearArgs),
    /// Say that you have heard the sound
    Hush(hush::HushArgs),
    /// Output off now, with or without a daemon, and confirmed
    Off(off::OffArgs),
    /// The address that lets a phone act on the run, not only look
    Pair(pair::PairArgs),
    /// Try every way by which the station tells somebody
    Tell(tell::TellArgs),
    /// The systemd unit of a station, to be put into a file
    Unit(unit::UnitArgs),
    /// The area of one shape or mesh, now and as it thickens
    Area(area::AreaArgs),
    /// What the resistance of a conductive paint says, as a meter reads it
    Paint(paint::PaintArgs),
    /// Make a bath up, check it, keep it
    #[command(subcommand)]
    Bath(bath::BathCommand),
    /// The runs in the ledger
    Runs(runs::RunsArgs),
    /// The pieces in the ledger, with amp-hours, grams and thickness
    Pieces(pieces::PiecesArgs),
    /// What a gauge reads on a finished piece; corrects the area of the next one
    Gauge(measure::GaugeArgs),
    /// What a finished piece gained on the scale; corrects the mass for each Ah
    Weigh(measure::WeighArgs),
    /// The report of a run as one HTML file
    Report(report::ReportArgs),
    /// Two runs side by side
    Compare(compare::CompareArgs),
    /// The readings of a run as CSV or JSON
    Export(export::ExportArgs),
    /// What a word code in a message means, and what to do
    Explain(explain::ExplainArgs),
    /// Find, ask and simulate supplies
    #[command(subcommand)]
    Supply(supply::SupplyCommand),
    /// The process that holds the port; the daemon starts it
    #[command(hide = true)]
    Keeper(keeper::KeeperArgs),
}

/// Reads the command line and does what it says.
#[must_use]
pub fn run() -> ExitCode {
    let words = match Words::try_parse() {
        Ok(words) => words,
        Err(asked) => return usage(&asked),
    };
    // A daemon says each change of state without being asked.
    let serves = u8::from(matches!(words.command, Command::Serve(_)));
    let _log = log::start(words.verbose.max(serves));
    let json = words.json;
    let done = match &words.command {
        Command::Plan(args) => plan::run(args, json),
        Command::Rehearse(args) => rehearse::run(args, json),
        Command::Serve(args) => serve::run(args, json),
        Command::Start(args) => start::run(args, json),
        Command::Status(args) => status::run(args, json),
        Command::Watch(args) => watch::run(args, json),
        Command::Bedtime(args) => bedtime::run(args, json),
        Command::Pause(args) => pause::run(args, json),
        Command::Lift(args) => lift::run(args, json),
        Command::Hang(args) => hang::run(args, json),
        Command::Resume(args) => resume::run(args, json),
        Command::Stop(args) => stop::run(args, json),
        Command::Clear(args) => clear::run(args, json),
        Command::Hush(args) => hush::run(args, json),
        Command::Off(args) => off::run(args, json),
        Command::Pair(args) => pair::run(args, json),
        Command::Tell(args) => tell::run(args, json),
        Command::Unit(args) => unit::run(args, json),
        Command::Area(args) => area::run(args, json),
        Command::Bath(command) => bath::run(command, json),
        Command::Runs(args) => runs::run(args, json),
        Command::Pieces(args) => pieces::run(args, json),
        Command::Gauge(args) => measure::gauge(args, json),
        Command::Weigh(args) => measure::weigh(args, json),
        Command::Paint(args) => paint::run(args, json),
        Command::Report(args) => report::run(args, json),
        Command::Compare(args) => compare::run(args, json),
        Command::Export(args) => export::run(args, json),
        Command::Explain(args) => explain::run(args, json),
        Command::Supply(command) => supply::run(command, json),
        Command::Keeper(args) => return keeper::run(args),
    };
    match done {
        Ok(()) => ExitCode::from(Exit::Done as u8),
        Err(failure) => {
            if json && !failure.said {
                paper::print_json(&failure.to_json());
            }
            paper::say(&failure);
            ExitCode::from(failure.exit as u8)
        }
    }
}

/// Help and version are answers; anything else is bad usage. With `--json` it is an error object
/// too.
fn usage(asked: &clap::Error) -> ExitCode {
    let is_answer = !asked.use_stderr();
    if !is_answer && std::env::args().any(|arg| arg == "--json") {
        let text = asked.render().to_string();
        let failure = Failure::new(Exit::BadInput, "bad-usage", text.trim());
        paper::print_json(&failure.remedy("see `nightvat --help`").to_json());
    }
    // A closed pipe behind `--help` is nobody's fault.
    let _ = asked.print();
    ExitCode::from(if is_answer {
        Exit::Done as u8
    } else {
        Exit::BadInput as u8
    })
}
