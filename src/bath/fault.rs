//! What cannot be reckoned with.

use super::strength::Acid;
use crate::units::{Concentration, Density, Fraction, Volume};

/// Why a bath cannot be made up, reckoned or checked as asked.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum BathFault {
    /// An acid of a strength that there is not.
    #[error(
        "{} of {:.2} %: there is more than 0 and at most {:.0} %",
        acid.name(), found.percent(), acid.strongest().percent()
    )]
    Strength {
        /// Which acid.
        acid: Acid,
        /// The strength that was said.
        found: Fraction,
    },
    /// A density that no strength of the acid has.
    #[error(
        "{} of {:.4} g/mL: its density goes from {:.4} to {:.4} g/mL at this temperature",
        acid.name(), found.g_per_cm3(), least.g_per_cm3(), most.g_per_cm3()
    )]
    NoStrength {
        /// Which acid.
        acid: Acid,
        /// The density that was said.
        found: Density,
        /// The least there is.
        least: Density,
        /// The most there is.
        most: Density,
    },
    /// A density that two strengths of the acid have.
    #[error(
        "{} of {:.4} g/mL is either {:.1} % or {:.1} %: it is densest near 97 %, and a density \
         does not say on which side it is",
        acid.name(), density.g_per_cm3(), low.percent(), high.percent()
    )]
    TwoStrengths {
        /// Which acid.
        acid: Acid,
        /// The density that was said.
        density: Density,
        /// The weaker one.
        low: Fraction,
        /// The stronger one.
        high: Fraction,
    },
    /// A strength or an assay for something that has none, or the other way round.
    #[error("{what}")]
    Said {
        /// What is wrong, in a sentence.
        what: String,
    },
    /// A number that may not be so small or so large.
    #[error("{what} is {found}; allowed is {allowed}")]
    Range {
        /// What it is of.
        what: String,
        /// As it was said.
        found: String,
        /// What may be said.
        allowed: String,
    },
    /// The bath does not go into the vessel.
    #[error("{:.2} L do not go into a vessel of {:.2} L", volume.l(), vessel.l())]
    Vessel {
        /// The bath.
        volume: Volume,
        /// The vessel.
        vessel: Volume,
    },
    /// The chemicals alone fill more than the volume.
    #[error(
        "the chemicals leave no room for water: {name} of this strength cannot give {:.0} g/L",
        target.g_per_l()
    )]
    TooWeak {
        /// The acid.
        name: String,
        /// What was to be reached.
        target: Concentration,
    },
    /// A measurement that no bath can give.
    #[error("{what}")]
    Impossible {
        /// What came out, and why it cannot be.
        what: String,
    },
}

/// Every code a fault can have that no other file of the program has.
pub const FAULTS: [&str; 4] = [
    "two-strengths",
    "vessel-small",
    "acid-weak",
    "impossible-bath",
];

impl BathFault {
    /// Its word code.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::Strength { .. } | Self::NoStrength { .. } | Self::Range { .. } => "out-of-range",
            Self::TwoStrengths { .. } => "two-strengths",
            Self::Said { .. } => "bad-value",
            Self::Vessel { .. } => "vessel-small",
            Self::TooWeak { .. } => "acid-weak",
            Self::Impossible { .. } => "impossible-bath",
        }
    }

    /// What to do about it.
    #[must_use]
    pub const fn remedy(&self) -> &'static str {
        match self {
            Self::Strength { .. } => "read the strength by mass from the bottle's label",
            Self::NoStrength { .. } => {
                "measure it again, cool and still, or say the strength from the label: \"96 %\""
            }
            Self::TwoStrengths { .. } => "say the strength from the label: \"96 %\"",
            Self::Said { .. } => "write it as the examples of `--help` have it",
            Self::Range { .. } => "look at the number and its unit",
            Self::Vessel { .. } => "make less, or name the vessel that you will use",
            Self::TooWeak { .. } => "use a stronger acid, or ask for less of it",
            Self::Impossible { .. } => {
                "look at the sample's volume, the titrant's normality and its factor, and titrate \
                 again"
            }
        }
    }
}
