//! What stays until a person has read it.

use crate::control::State;
use crate::ledger::RunId;
use serde::Serialize;

/// The code of the event that says a person has read the reason.
pub(super) const CLEARED: &str = "cleared";
/// The code of the event that closes a run which the daemon or the computer did not survive.
pub(super) const INTERRUPTED: &str = "interrupted";

/// The end of a run that a person must read before the next one.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(super) struct Latch {
    /// The run.
    pub(super) run: RunId,
    /// Tripped or interrupted.
    pub(super) state: State,
    /// The guard's word code, or `interrupted`.
    pub(super) code: String,
    /// The evidence.
    pub(super) text: String,
    /// When, RFC 3339.
    pub(super) since: Option<String>,
}
