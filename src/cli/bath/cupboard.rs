//! What stands on her shelf, as options.

use super::room::RoomArgs;
use crate::bath::{Acid, BathFault, Cupboard};
use crate::units::{Density, Fraction, Quantity, Volume};

/// What there is to make a bath from.
#[derive(Debug, clap::Args)]
pub(super) struct CupboardArgs {
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
    /// Your copper sulfate is without its crystal water
    #[arg(long)]
    anhydrous: bool,
    /// Assay of your copper sulfate, if it is technical
    #[arg(long, value_name = "SHARE", value_parser = Fraction::read, default_value = "100 %")]
    assay: Fraction,
    /// What it is mixed in
    #[arg(long, value_name = "VOLUME", value_parser = Volume::read)]
    vessel: Option<Volume>,
    #[command(flatten)]
    room: RoomArgs,
}

impl CupboardArgs {
    /// Checked.
    pub(super) fn read(&self) -> Result<Cupboard, BathFault> {
        let acid = match (self.acid, self.acid_density) {
            (Some(strength), _) => Acid::Sulfuric.checked(strength)?,
            (None, Some(density)) => Acid::Sulfuric.strength(density, self.room.at)?,
            (None, None) => Cupboard::default().acid,
        };
        Ok(Cupboard {
            acid,
            anhydrous: self.anhydrous,
            assay: self.assay,
            hydrochloric: (self.chloride_from == "hydrochloric").then_some(self.hydrochloric),
            water_chloride: self.room.water_chloride,
            vessel: self.vessel,
            at: self.room.at,
        })
    }
}
