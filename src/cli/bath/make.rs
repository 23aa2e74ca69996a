//! `bath make`: what to weigh and measure.

use super::cupboard::CupboardArgs;
use crate::bath::{self, BathFault};
use crate::cli::Failure;
use crate::cli::paper::{print_json, print_text};
use crate::spec::{self, Shelf};
use crate::units::{Quantity, Volume};
use crate::view;

/// What to weigh and measure for a bath, in the safe order, from the chemicals that you have.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    nightvat bath make acid-copper-bright --volume '6 L'\n  \
    nightvat bath make acid-copper-bright --volume '6 L' --acid '37 %' --chloride-from salt\n  \
    nightvat bath make acid-copper-bright --volume '1 L' \
    --acid-density '1.28 g/mL' \
    --target 'sulfuric acid=60 g/L'\n\n\
    Built in: acid-copper-bright, acid-copper-plain, acid-copper-high-throw, nickel-sulfamate; \
    your own is a copy of one with changes, named by its path.\nNext: `nightvat bath add`, so that \
    the ledger knows of it.")]
pub(in crate::cli) struct MakeArgs {
    /// The bath: the name of a built-in profile, or a path
    profile: String,
    /// How much of it
    #[arg(long, value_parser = Volume::read, allow_hyphen_values = true)]
    volume: Volume,
    /// COMPONENT=CONCENTRATION, in place of the profile's; may be given again
    #[arg(long, value_name = "TARGET")]
    target: Vec<String>,
    #[command(flatten)]
    cupboard: CupboardArgs,
}

/// Does it.
pub(super) fn run(args: &MakeArgs, json: bool) -> Result<(), Failure> {
    let profile = spec::bath::open(&args.profile, &Shelf::disk())?;
    let targets = args
        .target
        .iter()
        .map(|text| bath::read_share(text))
        .collect::<Result<Vec<_>, BathFault>>()?;
    let cupboard = args.cupboard.read()?;
    let recipe = bath::make(&profile, args.volume, &targets, &cupboard)?;
    if json {
        print_json(&view::json::bath_made(&profile, &recipe));
    } else {
        print_text(&view::text::bath_made(&profile, &recipe));
    }
    Ok(())
}
