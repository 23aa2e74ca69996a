//! A point on a clock that only runs forward.

use super::Span;
use std::ops::{Add, Sub};

/// A point in time on a monotonic clock, in nanoseconds since that clock's own zero. It says
/// nothing of the time of day. In a rehearsal the zero is the start of the night.
#[derive(
    Clone,
    Copy,
    Debug,
    Default,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Hash,
    serde::Serialize,
    serde::Deserialize,
)]
#[serde(transparent)]
pub struct Moment(u64);

impl Moment {
    /// The clock's own zero.
    pub const ZERO: Self = Self(0);

    /// From nanoseconds since the clock's zero.
    #[must_use]
    pub const fn from_ns(ns: u64) -> Self {
        Self(ns)
    }

    /// Nanoseconds since the clock's zero.
    #[must_use]
    pub const fn ns(self) -> u64 {
        self.0
    }

    /// From seconds since the clock's zero; negative and not-a-number become zero.
    #[must_use]
    // `as` saturates, as said above.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    pub fn from_s(s: f64) -> Self {
        Self((s * 1e9).round() as u64)
    }

    /// Seconds since the clock's zero.
    #[must_use]
    pub fn s(self) -> f64 {
        self.0 as f64 / 1e9
    }

    /// How long after `earlier` this is; zero if it is not after it.
    #[must_use]
    pub fn since(self, earlier: Self) -> Span {
        Span::from_s(self.0.saturating_sub(earlier.0) as f64 / 1e9)
    }
}

impl Add<Span> for Moment {
    type Output = Self;
    // Seconds to nanoseconds; ±292 years fit.
    #[allow(clippy::cast_possible_truncation, clippy::suspicious_arithmetic_impl)]
    fn add(self, span: Span) -> Self {
        Self(
            self.0
                .saturating_add_signed((span.s() * 1e9).round() as i64),
        )
    }
}

impl Sub<Span> for Moment {
    type Output = Self;
    fn sub(self, span: Span) -> Self {
        self + -span
    }
}
