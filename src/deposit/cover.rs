//! How far copper has spread over paint.

use super::DepositError;
use crate::units::{Area, Span};

/// The covered share of a piece against the time its current has flowed.
///
/// On paint copper starts at the contact patch and its edge moves outwards. The law is our own and
/// simple: the edge moves at an even pace, so that the square root of the covered share rises in a
/// straight line, share(t) = (√s₀ + (1 − √s₀)·t/T)², from s₀ = patch/area to 1 at the stated cover
/// time T. Real fronts slow down or speed up with the paint's resistance; T is what a person has
/// seen, and the ramp only decides how the gentle start rises. On metal the share is 1 from the
/// start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cover {
    /// √s₀.
    start: f64,
    over: Span,
}

impl Cover {
    /// Covered from the start.
    pub const METAL: Self = Self {
        start: 1.0,
        over: Span::ZERO,
    };

    /// Paint, covered from a contact patch over the whole area in a time.
    ///
    /// # Errors [`DepositError`] if the patch or the time is not more than nothing, or the patch is
    /// larger than the piece.
    pub fn paint(contact: Area, area: Area, over: Span) -> Result<Self, DepositError> {
        if !(contact > Area::ZERO && contact <= area && area.is_finite()) {
            return Err(DepositError::Contact { contact, area });
        }
        if !(over > Span::ZERO && over.is_finite()) {
            return Err(DepositError::CoverTime { over });
        }
        Ok(Self {
            start: (contact / area).sqrt(),
            over,
        })
    }

    /// Share of the piece that is covered once its current has flowed for a time; from 0 to 1.
    #[must_use]
    pub fn share(&self, flowed: Span) -> f64 {
        if flowed >= self.over {
            return 1.0;
        }
        let along = (flowed / self.over).max(0.0);
        (self.start + (1.0 - self.start) * along).powi(2)
    }

    /// The time after which all of it is covered.
    #[must_use]
    pub const fn whole_after(&self) -> Span {
        self.over
    }
}
