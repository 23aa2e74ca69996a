//! `bath reckon`: what a bath made from these holds.

use super::room::RoomArgs;
use crate::bath::{self, BathFault, Put};
use crate::cli::Failure;
use crate::cli::paper::{print_json, print_text};
use crate::spec::{self, Shelf};
use crate::units::{Quantity, Volume};
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
    #[arg(long, value_parser = Volume::read, allow_hyphen_values = true)]
    volume: Volume,
    /// SUBSTANCE [STRENGTH] AMOUNT that went in; may be given again
    #[arg(long, value_name = "PUT", required = true)]
    put: Vec<String>,
    #[command(flatten)]
    room: RoomArgs,
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
        .map(|text| bath::read_put(text, &names, args.room.at))
        .collect::<Result<Vec<Put>, BathFault>>()?;
    bath::chloride_checked(args.room.water_chloride)?;
    let water = (args.room.water_chloride, args.room.at);
    let held = bath::reckon(&profile, args.volume, &puts, water);
    let check = bath::check(&profile, &held);
    let notes = bath::notes(&profile, &held, &puts, args.room.at);
    if json {
        print_json(&view::json::bath_reckoned(args.volume, &check, &notes));
    } else {
        print_text(&view::text::bath_reckoned(args.volume, &check, &notes));
    }
    Ok(())
}
