//! `bath`: make a bath up, check it and keep it.

mod check;
mod cupboard;
mod make;
mod panel;
mod reckon;

use super::{Exit, Failure};
use crate::bath::BathFault;

/// The commands of a bath.
#[derive(Debug, clap::Subcommand)]
pub(super) enum BathCommand {
    /// What to weigh and measure for so many litres, in the safe order
    Make(make::MakeArgs),
    /// What an analysis says of it, and how it is brought right
    Check(check::CheckArgs),
    /// A Hull-cell panel, read: which current density was where
    Panel(panel::PanelArgs),
    /// What a bath made from these holds, against the window
    Reckon(reckon::ReckonArgs),
}

/// Does it.
pub(super) fn run(command: &BathCommand, json: bool) -> Result<(), Failure> {
    match command {
        BathCommand::Make(args) => make::run(args, json),
        BathCommand::Check(args) => check::run(args, json),
        BathCommand::Panel(args) => panel::run(args, json),
        BathCommand::Reckon(args) => reckon::run(args, json),
    }
}

impl From<BathFault> for Failure {
    fn from(fault: BathFault) -> Self {
        Self::new(Exit::BadInput, fault.code(), fault.to_string()).remedy(fault.remedy())
    }
}
