//! All that can reach the loop, through its one inbox.

use super::going_on::GoOn;
use super::hand::Heard;
use super::notice::Told;
use super::prepare::Prepared;
use super::refusal::Refusal;
use super::rehang::Rehanging;
use super::scribe::Written;
use crate::control::Sense;
use serde_json::Value;
use tokio::sync::oneshot;

/// A message to the loop.
#[derive(Debug)]
pub(super) enum Message {
    /// The keeper says something; the number tells which keeper.
    Keeper(u64, Box<Heard>),
    /// The ledger says something.
    Ledger(Written),
    /// A person asks, over the API.
    Asked(Want, Reply),
    /// The computer or a sensor noticed something.
    Sensed(Sense),
    /// What became of a notice.
    Told(Told),
    /// The system asks the process to end.
    Signal(i32),
}

/// What a person wants.
#[derive(Debug)]
pub(super) enum Want {
    /// Begin this run.
    Start(Box<Prepared>),
    /// End the run.
    Stop,
    /// Output off, whatever is on.
    Off,
    /// Output off, and wait.
    Pause,
    /// Output off, and other pieces hang from now on.
    Rehang(Box<Rehanging>),
    /// Go on after a pause.
    Resume,
    /// Go on after an interruption.
    GoOn(Box<GoOn>),
    /// The reason of a trip was read.
    Clear,
    /// The sound was heard.
    Hush,
}

/// Where the answer goes. Whoever asked may be gone; that changes nothing.
#[derive(Debug)]
pub(super) struct Reply(pub(super) oneshot::Sender<Result<Value, Refusal>>);

impl Reply {
    /// Answers.
    pub(super) fn send(self, answer: Result<Value, Refusal>) {
        // The asker may have hung up.
        let _ = self.0.send(answer);
    }
}
