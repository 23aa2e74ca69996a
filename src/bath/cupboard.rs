//! What she has to make a bath from.

use crate::units::{Concentration, Fraction, Temperature, Volume};

/// What stands on her shelf.
#[derive(Clone, Debug, PartialEq)]
pub struct Cupboard {
    /// Strength of the sulfuric acid by mass.
    pub acid: Fraction,
    /// Copper sulfate is bought without its crystal water.
    pub anhydrous: bool,
    /// Share of the copper sulfate that is copper sulfate.
    pub assay: Fraction,
    /// Chloride comes from hydrochloric acid of this strength; from salt without it.
    pub hydrochloric: Option<Fraction>,
    /// What the water brings by itself.
    pub water_chloride: Concentration,
    /// What the bath is mixed in.
    pub vessel: Option<Volume>,
    /// Temperature of the room, the chemicals and the finished bath.
    pub at: Temperature,
}

impl Default for Cupboard {
    fn default() -> Self {
        Self {
            acid: Fraction::from_percent(96.0),
            anhydrous: false,
            assay: Fraction::from_percent(100.0),
            hydrochloric: None,
            water_chloride: Concentration::ZERO,
            vessel: None,
            at: Temperature::from_c(20.0),
        }
    }
}

impl Cupboard {
    /// The water in words.
    pub(super) fn water(&self) -> &'static str {
        if self.water_chloride > Concentration::ZERO {
            "your water"
        } else {
            "distilled or deionised water"
        }
    }
}
