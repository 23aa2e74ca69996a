//! The one clock of a line: monotonic, and faster than the wall's only on a simulated supply.

use crate::units::{Moment, Span};
use rustix::time::{ClockId, clock_gettime};
use serde::{Deserialize, Serialize};
use std::time::Duration;

/// No real time-out on a hurried line is shorter than this: a simulated supply needs to be
/// scheduled, too.
const LEAST_WAIT: Duration = Duration::from_millis(50);

/// The machine's time that this clock counts. It goes on while the machine sleeps: a sleep is then
/// a gap between two readings, and a guard sees it.
#[cfg(target_os = "linux")]
const COUNTS: ClockId = ClockId::Boottime;
/// Elsewhere the monotonic time does that.
#[cfg(not(target_os = "linux"))]
const COUNTS: ClockId = ClockId::Monotonic;

/// A clock on the machine's monotonic time, shared by the daemon and its keeper. It goes on while
/// the machine sleeps.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Clock {
    /// The machine's monotonic time, in nanoseconds, at this clock's zero.
    pub origin_ns: u64,
    /// How many of this clock's seconds pass in a real one; 1 on any real port.
    pub speed: f64,
}

impl Clock {
    /// A clock whose zero is now. A speed that is not a number of one or more is one.
    #[must_use]
    pub fn start(speed: f64) -> Self {
        let speed = if speed.is_finite() {
            speed.max(1.0)
        } else {
            1.0
        };
        Self {
            origin_ns: monotonic_ns(),
            speed,
        }
    }

    /// Now.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 500 years fit
    pub fn now(&self) -> Moment {
        let real = monotonic_ns().saturating_sub(self.origin_ns);
        if self.speed == 1.0 {
            return Moment::from_ns(real);
        }
        Moment::from_ns((real as f64 * self.speed).round() as u64)
    }

    /// How long a span of this clock really is.
    #[must_use]
    pub fn real(&self, span: Span) -> Duration {
        Duration::try_from_secs_f64(span.s() / self.speed).unwrap_or(Duration::ZERO)
    }

    /// How long to wait for something that takes a span of this clock at most. On a hurried clock
    /// the wait is never under 50 ms, unless the span itself is.
    #[must_use]
    pub fn patience(&self, span: Span) -> Duration {
        let whole = Duration::try_from_secs_f64(span.s()).unwrap_or(Duration::ZERO);
        self.real(span).max(LEAST_WAIT.min(whole))
    }
}

/// The machine's monotonic time in nanoseconds.
fn monotonic_ns() -> u64 {
    let time = clock_gettime(COUNTS);
    let seconds = u64::try_from(time.tv_sec).unwrap_or(0);
    seconds * 1_000_000_000 + u64::try_from(time.tv_nsec).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_hurried_clock_shortens_waits_only_so_far() {
        let clock = Clock {
            origin_ns: 0,
            speed: 1000.0,
        };
        assert_eq!(clock.patience(Span::from_s(1.0)), Duration::from_millis(50));
        assert_eq!(
            clock.patience(Span::from_ms(20.0)),
            Duration::from_millis(20)
        );
        assert_eq!(clock.real(Span::from_s(1.0)), Duration::from_millis(1));
        let real = Clock {
            origin_ns: 0,
            speed: 1.0,
        };
        assert_eq!(real.patience(Span::from_s(1.0)), Duration::from_secs(1));
    }

    #[test]
    fn a_clock_starts_at_zero_and_never_slows() {
        let clock = Clock::start(f64::NAN);
        assert_eq!(clock.speed, 1.0);
        assert!(clock.now().s() < 1.0);
        assert_eq!(
            Clock::start(0.1).speed,
            1.0,
            "a slow clock would stretch every deadline"
        );
    }
}
