//! Her water and her room, as options of every command that reckons a recipe.

use crate::units::{Concentration, Quantity, Temperature};

/// What the water brings, and how warm it all is.
#[derive(Debug, clap::Args)]
pub(super) struct RoomArgs {
    /// Chloride of your water, where it is not deionised
    #[arg(
        long,
        value_name = "CONCENTRATION",
        value_parser = Concentration::read,
        default_value = "0 mg/L"
    )]
    pub(super) water_chloride: Concentration,
    /// Temperature of the room, of what is measured out, and of the finished bath
    #[arg(
        long,
        value_name = "TEMPERATURE",
        value_parser = Temperature::read,
        default_value = "20 C"
    )]
    pub(super) at: Temperature,
}
