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
    /// What hangs there, by the name of its metal.
    pub(super) metal: Option<String>,
    /// When the output went off.
    pub(super) off: OffSince,
    /// The run can go on with `nightvat resume`.
    pub(super) resumes: bool,
}

impl Latch {
    /// What a person does before anything else can begin.
    pub(super) fn remedy(&self) -> String {
        format!(
            "see to the cause (`nightvat explain {}`), then `nightvat clear`",
            self.code
        )
    }
}

/// When an output went off, as far as it is known.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub(super) struct OffSince {
    /// Not before, RFC 3339.
    pub(super) not_before: Option<String>,
    /// Who read it then.
    pub(super) read_by: ReadBy,
}

/// Who read that an output was off.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum ReadBy {
    /// The run itself.
    Run,
    /// The keeper, when the daemon was gone or silent.
    Keeper,
    /// Nobody: it went off some time after it was last seen on, or this daemon turned it off.
    Nobody,
}
