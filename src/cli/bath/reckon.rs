//! `bath reckon`: what a bath made from these holds.

use crate::bath::{self, BathFault, Put};
use crate::cli::Failure;
use crate::cli::paper::{print_json, print_text};
use crate::spec::{self, Shelf};
use crate::units::{Concentration, Quantity, Temperature, Volume};
use crate::view;

/// What a bath made from these holds, against the window.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    nightvat bath reckon acid-copper-bright --volume '1 L' --put 'copper sulfate 200 g' \
    --put 'sulfuric acid 98 % 40 mL' --put 'sodium chloride 150 mg'\n\n\
    Next: `nightvat bath make` for what it should be.")]
pub(in crate::cli) struct ReckonArgs {
    /// The bath: the name of a built-in profile, or a path
    profile: String,
    /// The finished volume
    #[arg(long, value_parser = Volume::read)]
    volume: Volume,
    /// SUBSTANCE [STRENGTH] AMOUNT that went in; may be given again
    #[arg(long, value_name = "PUT", required = true)]
    put: Vec<String>,
    /// Chloride of the water
    #[arg(
        long,
        value_name = "CONCENTRATION",
        value_parser = Concentration::read,
        default_value = "0 mg/L"
    )]
    water_chloride: Concentration,
    /// Temperature at which volumes were measured, and of the bath
    #[arg(
        long,
        value_name = "TEMPERATURE",
        value_parser = Temperature::read,
        default_value = "20 C"
    )]
    at: Temperature,
}

/// Does it.
pub(super) fn run(args: &ReckonArgs, json: bool) -> Result<(), Failure> {
    let profile = spec::bath::open(&args.profile, &Shelf::disk())?;
    bath::volume_checked(args.volume)?;
    let names: Vec<&str> = profile
        .components
        .iter()
        .map(|one| one.name.as_str())
        .collect();
    let puts = args
        .put
        .iter()
        .map(|text| bath::read_put(text, &names, args.at))
        .collect::<Result<Vec<Put>, BathFault>>()?;
    let held = bath::reckon(&profile, args.volume, &puts, args.water_chloride);
    let check = bath::check(&profile, &held);
    let notes = bath::notes(&profile, &held, &puts, args.at);
    if json {
        print_json(&view::json::bath_reckoned(args.volume, &check, &notes));
    } else {
        print_text(&view::text::bath_reckoned(args.volume, &check, &notes));
    }
    Ok(())
}
