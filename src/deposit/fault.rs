//! Why a deposit cannot be reckoned.

use crate::units::{Area, Density, Span};

/// Why figures do not describe a deposit.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum DepositError {
    /// An efficiency that cannot be.
    #[error("a cathode efficiency of {} % is impossible: it is above 0 % and at most 110 %",
        .value * 100.0)]
    Efficiency {
        /// What was given, as a share of one.
        value: f64,
    },
    /// An uncertainty of the efficiency that cannot be.
    #[error("an uncertainty of {} % of the efficiency is impossible: at least 0 %, below 100 %",
        .value * 100.0)]
    EfficiencyUncertainty {
        /// What was given, as a share of one.
        value: f64,
    },
    /// A density that cannot be.
    #[error("a deposit density of {} g/cm3 is impossible: it is more than nothing",
        .value.g_per_cm3())]
    Density {
        /// What was given.
        value: Density,
    },
    /// A contact patch that cannot be.
    #[error(
        "a contact patch of {} mm2 cannot start the copper: it is more than nothing and at most \
         the piece, {} mm2",
        .contact.mm2(), .area.mm2()
    )]
    Contact {
        /// What was given.
        contact: Area,
        /// Area of the piece.
        area: Area,
    },
    /// A cover time that cannot be.
    #[error("a cover time of {} min is impossible: it is more than nothing", .over.min_value())]
    CoverTime {
        /// What was given.
        over: Span,
    },
}
