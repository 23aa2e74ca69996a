//! The states of a run, as every screen, file and reply names them.

use serde::{Deserialize, Serialize};

/// Where a run is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum State {
    /// Nothing runs.
    Idle,
    /// Supply and cell are checked: output off, then a few mA for a few seconds.
    Proving,
    /// The gentle start.
    Striking,
    /// The density rises.
    Ramping,
    /// Full density.
    Building,
    /// The target is reached; a small current keeps the piece from dissolving.
    Holding,
    /// Done as asked; output confirmed off.
    Finished,
    /// Output off; a person looks.
    Paused,
    /// A person asked to stop; off is on its way.
    Stopping,
    /// Stopped by a person; output confirmed off.
    Stopped,
    /// A guard turned the output off; a person clears it.
    Tripped,
    /// The daemon, the computer or the keeper died in it.
    Interrupted,
    /// Off was sent and no reading proves it.
    Unconfirmed,
}

impl State {
    /// All states, in the order of the flow.
    pub const ALL: [Self; 13] = [
        Self::Idle,
        Self::Proving,
        Self::Striking,
        Self::Ramping,
        Self::Building,
        Self::Holding,
        Self::Finished,
        Self::Paused,
        Self::Stopping,
        Self::Stopped,
        Self::Tripped,
        Self::Interrupted,
        Self::Unconfirmed,
    ];

    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Idle => "idle",
            Self::Proving => "proving",
            Self::Striking => "striking",
            Self::Ramping => "ramping",
            Self::Building => "building",
            Self::Holding => "holding",
            Self::Finished => "finished",
            Self::Paused => "paused",
            Self::Stopping => "stopping",
            Self::Stopped => "stopped",
            Self::Tripped => "tripped",
            Self::Interrupted => "interrupted",
            Self::Unconfirmed => "unconfirmed",
        }
    }

    /// The state with this word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|state| state.word() == word)
    }

    /// True while current is meant to flow for the job.
    #[must_use]
    pub const fn is_live(self) -> bool {
        matches!(
            self,
            Self::Striking | Self::Ramping | Self::Building | Self::Holding
        )
    }

    /// True if the run is over and nothing more will happen in it.
    #[must_use]
    pub const fn is_over(self) -> bool {
        matches!(
            self,
            Self::Finished | Self::Stopped | Self::Tripped | Self::Interrupted
        )
    }
}
