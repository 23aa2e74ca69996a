//! Why a job comes to no plan at all.

use crate::deposit::DepositError;
use crate::shape::ShapeError;

/// Why a job comes to no plan at all.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// A piece or a hanger has no body.
    #[error("{place}: {fault}")]
    Shape {
        /// Which one.
        place: String,
        /// What is wrong with it.
        #[source]
        fault: ShapeError,
    },
    /// The bath's or a piece's figures describe no deposit.
    #[error("{place}: {fault}")]
    Deposit {
        /// Where they stand.
        place: String,
        /// What is wrong with them.
        #[source]
        fault: DepositError,
    },
    /// A painted piece in a job without a strike.
    #[error("piece {piece:?} is painted and the job has no strike; add [current.strike]")]
    PaintWithoutStrike {
        /// Its name.
        piece: String,
    },
    /// The piece that is to end the job is not in it.
    #[error("`until` names {name:?}, and no piece of the job is called that")]
    NoSuchPiece {
        /// The name.
        name: String,
    },
    /// Nothing to do.
    #[error("the job has no piece")]
    NoPiece,
    /// The target is never reached.
    #[error(
        "the target is never reached: {why}; check the shapes, the target and the current density"
    )]
    Endless {
        /// What is in the way.
        why: &'static str,
    },
}
