//! `bath due`: what a bath needs now.

use super::{Kept, kept, now};
use crate::bath::keep::Air;
use crate::bath::{BathFault, volume_checked};
use crate::cli::Failure;
use crate::cli::paper::{print_json, print_text};
use crate::run::{self, Losses, tank_state};
use crate::units::{Area, Fraction, Length, Quantity, Temperature, Volume};
use crate::view::{self, BathDue};
use std::path::PathBuf;

/// What is due in a bath now, how much is too much, and when next.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  nightvat bath due 'north tank'\n  \
    nightvat bath due 'north tank' --temperature '26 C' --humidity '40 %' --above '20 mm'\n\n\
    Water: evaporation alone is counted, from when the bath was made or filled up. A top-up of \
    about what was missing counts as filled to the mark; of less, the rest stays missing.\n\
    What it knows is the account of what you wrote down and of the runs: it cannot see the bath. A \
    Hull-cell panel can (`nightvat bath panel`), and an analysis (`nightvat bath check`).")]
pub(in crate::cli) struct DueArgs {
    /// The bath, by its name in the ledger
    bath: String,
    /// Temperature of the bath
    #[arg(long, value_parser = Temperature::read, default_value = "23 C")]
    temperature: Temperature,
    /// Temperature of the room
    #[arg(
        long,
        value_name = "TEMPERATURE",
        value_parser = Temperature::read,
        default_value = "20 C"
    )]
    room: Temperature,
    /// Relative humidity of the room
    #[arg(long, value_parser = Fraction::read, default_value = "50 %")]
    humidity: Fraction,
    /// Surface of the liquid; without it, what was said when the bath was made
    #[arg(long, value_name = "AREA", value_parser = Area::read)]
    surface: Option<Area>,
    /// Liquid above the highest piece or the anode's wetted top when it last stood at its mark
    #[arg(long, value_name = "LENGTH", value_parser = Length::read)]
    above: Option<Length>,
    /// How much more metal the anode gives than the cathode takes
    #[arg(long, value_name = "SHARE", value_parser = Fraction::read, default_value = "1 %")]
    mismatch: Fraction,
    /// Bath that a piece carries out
    #[arg(long, value_name = "VOLUME", value_parser = Volume::read, default_value = "2 mL")]
    drag_out: Volume,
    /// Another ledger than the one in the state folder
    #[arg(long, value_name = "FILE")]
    ledger: Option<PathBuf>,
}

/// Does it.
pub(super) fn run(args: &DueArgs, json: bool) -> Result<(), Failure> {
    checked(args)?;
    let Kept { row, profile, gone } = kept(args.ledger.as_deref(), &args.bath)?;
    volume_checked(row.volume())?;
    let losses = Losses {
        mismatch: args.mismatch.share(),
        carried: args.drag_out,
    };
    let state = tank_state(&row, &profile, losses, now(), true);
    let air = Air {
        temperature: args.room,
        humidity: args.humidity.share(),
        ..Air::default()
    };
    let surface = args.surface.or(row.made.surface);
    let due = BathDue {
        row: &row,
        profile: &profile,
        state: &state,
        gone: surface.map(|surface| run::gone(&state, surface, args.temperature, air)),
        profile_gone: gone,
        above: args.above,
    };
    if json {
        print_json(&view::json::bath_due(&due));
    } else {
        print_text(&view::text::bath_due(&due));
    }
    Ok(())
}

fn checked(args: &DueArgs) -> Result<(), BathFault> {
    let limits = [
        (
            "the bath's temperature",
            args.temperature.c(),
            [0.0, 95.0],
            "C",
        ),
        ("the room's temperature", args.room.c(), [-10.0, 50.0], "C"),
        ("the humidity", args.humidity.percent(), [0.0, 100.0], "%"),
        ("the mismatch", args.mismatch.percent(), [-20.0, 20.0], "%"),
        ("the drag-out", args.drag_out.cm3(), [0.0, 1000.0], "mL"),
        (
            "the surface",
            args.surface.map_or(1.0, Area::cm2),
            [0.1, 2e5],
            "cm2",
        ),
    ];
    for (what, found, [low, high], unit) in limits {
        if !(low..=high).contains(&found) {
            return Err(BathFault::Range {
                what: what.to_owned(),
                found: format!("{found} {unit}"),
                allowed: format!("{low} to {high} {unit}"),
            });
        }
    }
    Ok(())
}
