//! What the loop last said of itself. Readers look here and never reach the loop.

use super::latch::Latch;
use super::prepare::Papers;
use crate::ledger::RunId;
use crate::plan::Plan;
use crate::run::Snapshot;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Instant;

/// What is on the board.
#[derive(Clone, Debug)]
pub(super) struct Posted {
    /// The run, or the station at rest.
    pub(super) snapshot: Snapshot,
    /// The run that is on.
    pub(super) night: Option<Night>,
    /// What a person has not cleared yet.
    pub(super) latch: Option<Latch>,
    /// When it was posted.
    pub(super) at: Instant,
    /// The keeper's process.
    pub(super) keeper: Option<u32>,
}

/// What a reader may want of the run that is on, beyond its snapshot.
#[derive(Clone, Debug)]
pub(super) struct Night {
    /// Its number.
    pub(super) run: RunId,
    /// Its plan.
    pub(super) plan: Arc<Plan>,
    /// The share of its pieces that is covered.
    pub(super) covered: f64,
    /// What it is made from.
    pub(super) papers: Arc<Papers>,
}

/// The board.
#[derive(Clone, Debug)]
pub(super) struct Board(Arc<Mutex<Arc<Posted>>>);

impl Board {
    /// A board with a first post.
    pub(super) fn new(posted: Posted) -> Self {
        Self(Arc::new(Mutex::new(Arc::new(posted))))
    }

    /// Replaces what is on it.
    pub(super) fn post(&self, posted: Posted) {
        let posted = Arc::new(posted);
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = posted;
    }

    /// What is on it.
    pub(super) fn look(&self) -> Arc<Posted> {
        Arc::clone(&self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}
