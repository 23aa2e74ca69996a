//! How far copper has spread over paint.

use super::DepositError;
use crate::shape::reach::WAY;
use crate::units::{Area, Span};

/// The covered share of a piece against the time its current has flowed.
///
/// On paint copper starts at the contact patch and its edge moves outwards, at an even pace, from
/// the edge of the patch to the farthest place, which it reaches at the cover time T. Where the way
/// over the surface is known, the share is the area within the edge's distance. Where it is not,
/// the law is our own and simple: the square root of the share rises in a straight line, share(t) =
/// (√s₀ + (1 − √s₀)·t/T)², from s₀ = patch/area to 1, as on a flat disc. Real fronts slow down or
/// speed up with the paint's resistance; T is what a person has seen, and the ramp only decides how
/// the gentle start rises. On metal the share is 1 from the start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cover {
    law: Law,
    over: Span,
}

// A plan holds a few of them, and a copy needs no owner.
#[allow(clippy::large_enum_variant)]
#[derive(Clone, Copy, Debug, PartialEq)]
enum Law {
    /// √s₀ of the simple law.
    Simple(f64),
    /// The covered share at even steps of the way.
    Way([f64; WAY]),
}

impl Cover {
    /// Covered from the start.
    pub const METAL: Self = Self {
        law: Law::Simple(1.0),
        over: Span::ZERO,
    };

    /// Paint, covered from a contact patch over the whole area in a time, by the simple law.
    ///
    /// # Errors [`DepositError`] if the patch or the time is not more than nothing, or the patch is
    /// larger than the piece.
    pub fn paint(contact: Area, area: Area, over: Span) -> Result<Self, DepositError> {
        if !(contact > Area::ZERO && contact <= area && area.is_finite()) {
            return Err(DepositError::Contact { contact, area });
        }
        Self::timed(Law::Simple((contact / area).sqrt()), over)
    }

    /// Paint over which the way is known: the covered share at even steps from the edge of the
    /// contact patch to the farthest place ([`crate::shape::reach::Reach::way`]).
    ///
    /// # Errors [`DepositError`] if the time is not more than nothing.
    pub fn along(way: [f64; WAY], over: Span) -> Result<Self, DepositError> {
        Self::timed(Law::Way(way), over)
    }

    fn timed(law: Law, over: Span) -> Result<Self, DepositError> {
        if !(over > Span::ZERO && over.is_finite()) {
            return Err(DepositError::CoverTime { over });
        }
        Ok(Self { law, over })
    }

    /// Share of the piece that is covered once its current has flowed for a time; from 0 to 1.
    #[must_use]
    pub fn share(&self, flowed: Span) -> f64 {
        if flowed >= self.over {
            return 1.0;
        }
        let along = (flowed / self.over).max(0.0);
        match &self.law {
            Law::Simple(start) => (start + (1.0 - start) * along).powi(2),
            Law::Way(way) => {
                let at = along * (WAY - 1) as f64;
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
                let step = (at.floor() as usize).min(WAY - 2);
                way[step] + (way[step + 1] - way[step]) * (at - step as f64)
            }
        }
    }

    /// The time after which this share of it is covered, to a billionth of the whole time; the
    /// start where it is so from the start.
    #[must_use]
    pub fn when(&self, share: f64) -> Span {
        let [mut early, mut late] = [Span::ZERO, self.over];
        if self.share(early) >= share {
            return early;
        }
        for _ in 0..30 {
            let middle = (early + late) * 0.5;
            if self.share(middle) < share {
                early = middle;
            } else {
                late = middle;
            }
        }
        late
    }

    /// The time after which all of it is covered.
    #[must_use]
    pub const fn whole_after(&self) -> Span {
        self.over
    }
}
