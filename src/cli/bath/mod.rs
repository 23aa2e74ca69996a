//! `bath`: make a bath up, check it and keep it.

mod add;
mod check;
mod cupboard;
mod due;
mod look;
mod make;
mod panel;
mod reckon;
mod room;
mod show;

use super::pieces::{open_ledger, unreadable};
use super::{Exit, Failure};
use crate::bath::{BathFault, BathProfile};
use crate::ledger::TankRow;
use crate::spec::{self, Shelf};
use crate::units::Span;
use std::path::Path;

/// The commands of a bath.
#[derive(Debug, clap::Subcommand)]
pub(super) enum BathCommand {
    /// What to weigh and measure for so many litres, in the safe order
    Make(make::MakeArgs),
    /// Write down what you did to a bath: made, added, topped up, drawn off
    Add(add::AddArgs),
    /// What is due in a bath now, how much is too much, and when next
    Due(due::DueArgs),
    /// What was done to a bath, and its runs
    Show(show::ShowArgs),
    /// What an analysis says of it, and how it is brought right
    Check(check::CheckArgs),
    /// How a run's pieces look: what may be behind it
    Look(look::LookArgs),
    /// A Hull-cell panel, read: which current density was where
    Panel(panel::PanelArgs),
    /// What a bath made from these holds, against the window
    Reckon(reckon::ReckonArgs),
}

/// Does it.
pub(super) fn run(command: &BathCommand, json: bool) -> Result<(), Failure> {
    match command {
        BathCommand::Make(args) => make::run(args, json),
        BathCommand::Add(args) => add::run(args, json),
        BathCommand::Due(args) => due::run(args, json),
        BathCommand::Show(args) => show::run(args, json),
        BathCommand::Check(args) => check::run(args, json),
        BathCommand::Look(args) => look::run(args, json),
        BathCommand::Panel(args) => panel::run(args, json),
        BathCommand::Reckon(args) => reckon::run(args, json),
    }
}

impl From<BathFault> for Failure {
    fn from(fault: BathFault) -> Self {
        Self::new(Exit::BadInput, fault.code(), fault.to_string()).remedy(fault.remedy())
    }
}

/// Now, as seconds since 1970.
pub(super) fn now() -> Span {
    seconds(&chrono::Local::now())
}

/// A time of day as seconds since 1970.
fn seconds<Z: chrono::TimeZone>(at: &chrono::DateTime<Z>) -> Span {
    #[allow(clippy::cast_precision_loss)] // far below 2^53
    Span::from_s(at.timestamp() as f64)
}

/// A bath of the ledger.
struct Kept {
    row: TankRow,
    profile: BathProfile,
    /// The file of its profile is gone: its figures are those of when it was made.
    gone: bool,
}

impl Kept {
    fn parts(self) -> (TankRow, BathProfile) {
        (self.row, self.profile)
    }
}

/// A bath of the ledger and its profile.
fn kept(ledger: Option<&Path>, name: &str) -> Result<Kept, Failure> {
    let ledger = open_ledger(ledger)?;
    let found = ledger.bath(name).map_err(unreadable)?;
    let Some(row) = found else {
        let known = ledger.baths().map_err(unreadable)?;
        return Err(unknown(name, &known));
    };
    let (profile, gone) = spec::bath::open_kept(
        &row.made.substance,
        row.made.profile_text.as_deref(),
        &Shelf::disk(),
    )?;
    Ok(Kept {
        row: row.by(now()),
        profile,
        gone,
    })
}

fn unknown(name: &str, known: &[String]) -> Failure {
    let known = match known {
        [] => "there is none yet".to_owned(),
        names => format!("there is {}", names.join(", ")),
    };
    let text = format!("the ledger holds no bath {name:?}: {known}");
    Failure::new(Exit::BadInput, "bath-unknown", text)
        .remedy("`nightvat bath add NAME --made PROFILE --volume VOLUME` when you have made it")
}
