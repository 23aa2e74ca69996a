//! `bath make`: what to weigh and measure.

use crate::bath::{self, Acid, BathFault, Cupboard};
use crate::cli::Failure;
use crate::cli::paper::{print_json, print_text};
use crate::spec::{self, Shelf};
use crate::units::{Concentration, Density, Fraction, Quantity, Temperature, Volume};
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
    your own is a copy of one with changes, named by its path.\nNext: `nightvat bath add`, so that the \
    ledger knows of it.")]
pub(in crate::cli) struct MakeArgs {
    /// The bath: the name of a built-in profile, or a path
    profile: String,
    /// How much of it
    #[arg(long, value_parser = Volume::read)]
    volume: Volume,
    /// Strength of your sulfuric acid by mass; 96 % without it
    #[arg(
        long,
        value_name = "STRENGTH",
        value_parser = Fraction::read,
        conflicts_with = "acid_density"
    )]
    acid: Option<Fraction>,
    /// Density of your sulfuric acid, as a hydrometer says it (battery acid)
    #[arg(long, value_name = "DENSITY", value_parser = Density::read)]
    acid_density: Option<Density>,
    /// Where the chloride comes from
    #[arg(
        long,
        value_name = "SOURCE",
        value_parser = ["salt", "hydrochloric"],
        default_value = "salt"
    )]
    chloride_from: String,
    /// Strength of your hydrochloric acid by mass
    #[arg(long, value_name = "STRENGTH", value_parser = Fraction::read, default_value = "37 %")]
    hydrochloric: Fraction,
    /// Chloride of your water
    #[arg(
        long,
        value_name = "CONCENTRATION",
        value_parser = Concentration::read,
        default_value = "0 mg/L"
    )]
    water_chloride: Concentration,
    /// Your copper sulfate is without its crystal water
    #[arg(long)]
    anhydrous: bool,
    /// Assay of your copper sulfate, if it is technical
    #[arg(long, value_name = "SHARE", value_parser = Fraction::read, default_value = "100 %")]
    assay: Fraction,
    /// COMPONENT=CONCENTRATION, in place of the profile's; may be given again
    #[arg(long, value_name = "TARGET")]
    target: Vec<String>,
    /// What it is mixed in
    #[arg(long, value_name = "VOLUME", value_parser = Volume::read)]
    vessel: Option<Volume>,
    /// Temperature of the room and of the finished bath
    #[arg(
        long,
        value_name = "TEMPERATURE",
        value_parser = Temperature::read,
        default_value = "20 C"
    )]
    at: Temperature,
}

/// Does it.
pub(super) fn run(args: &MakeArgs, json: bool) -> Result<(), Failure> {
    let profile = spec::bath::open(&args.profile, &Shelf::disk())?;
    let targets = args
        .target
        .iter()
        .map(|text| bath::read_share(text))
        .collect::<Result<Vec<_>, BathFault>>()?;
    let acid = match (args.acid, args.acid_density) {
        (Some(strength), _) => Acid::Sulfuric.checked(strength)?,
        (None, Some(density)) => Acid::Sulfuric.strength(density, args.at)?,
        (None, None) => Cupboard::default().acid,
    };
    let cupboard = Cupboard {
        acid,
        anhydrous: args.anhydrous,
        assay: args.assay,
        hydrochloric: (args.chloride_from == "hydrochloric").then_some(args.hydrochloric),
        water_chloride: args.water_chloride,
        vessel: args.vessel,
        at: args.at,
    };
    let recipe = bath::make(&profile, args.volume, &targets, &cupboard)?;
    if json {
        print_json(&view::json::bath_made(&recipe));
    } else {
        print_text(&view::text::bath_made(&recipe));
    }
    Ok(())
}
