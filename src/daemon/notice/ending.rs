//! The end of the daemon, as those see it who wait for something else.

use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// True once the daemon ends; everybody who waits on it is woken then.
#[derive(Clone, Debug, Default)]
pub(in crate::daemon) struct Ending(Arc<(Mutex<bool>, Condvar)>);

impl Ending {
    /// The daemon ends now.
    pub(in crate::daemon) fn begin(&self) {
        *self.0.0.lock().unwrap_or_else(PoisonError::into_inner) = true;
        self.0.1.notify_all();
    }

    /// True if it ends.
    pub(in crate::daemon) fn is_begun(&self) -> bool {
        *self.0.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Waits this long, or until it ends. True if it ends.
    pub(in crate::daemon) fn wait(&self, at_most: Duration) -> bool {
        let until = Instant::now() + at_most;
        let mut begun = self.0.0.lock().unwrap_or_else(PoisonError::into_inner);
        loop {
            let left = until.saturating_duration_since(Instant::now());
            if *begun || left.is_zero() {
                return *begun;
            }
            let woken = self.0.1.wait_timeout(begun, left);
            begun = woken.unwrap_or_else(PoisonError::into_inner).0;
        }
    }
}
