//! Temporary.
mod clear; mod failure; mod off; mod paper; mod pause; mod resume; mod serve; mod start; mod status; mod stop; mod talk; mod watch;
pub use failure::{Exit, Failure};
use clap::{Parser, Subcommand};
use std::process::ExitCode;
/// x
#[derive(Debug, Parser)]
struct Words { #[arg(long, global = true)] json: bool, #[arg(short, long, global = true, action = clap::ArgAction::Count)] verbose: u8, #[command(subcommand)] command: Command }
#[derive(Debug, Subcommand)]
enum Command { Serve(serve::ServeArgs), Start(start::StartArgs), Status(status::StatusArgs), Watch(watch::WatchArgs), Pause(pause::PauseArgs), Resume(resume::ResumeArgs), Stop(stop::StopArgs), Clear(clear::ClearArgs), Off(off::OffArgs), Keeper }
/// x
#[must_use]
pub fn run() -> ExitCode {
    let words = Words::parse(); let json = words.json;
    let f = tracing_subscriber::EnvFilter::new(["error","info","debug","trace"][usize::from(words.verbose.min(3))]);
    tracing_subscriber::fmt().with_env_filter(f).with_writer(std::io::stderr).init();
    let done = match &words.command {
        Command::Serve(a) => serve::run(a, json), Command::Start(a) => start::run(a, json), Command::Status(a) => status::run(a, json), Command::Watch(a) => watch::run(a, json),
        Command::Pause(a) => pause::run(a, json), Command::Resume(a) => resume::run(a, json), Command::Stop(a) => stop::run(a, json), Command::Clear(a) => clear::run(a, json), Command::Off(a) => off::run(a, json),
        Command::Keeper => return crate::supply::keeper::main(),
    };
    match done { Ok(()) => ExitCode::from(0), Err(f) => { if json && !f.said { paper::print_json(&f.to_json()); } eprintln!("{f}"); ExitCode::from(f.exit as u8) } }
}
