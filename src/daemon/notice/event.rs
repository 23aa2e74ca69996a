//! What somebody may be told, and whether it must wake her: one table.

use crate::spec::notices::Rank;

/// What has happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Event {
    /// Off was sent and no reading proves it.
    Unconfirmed,
    /// A guard turned the output off.
    Tripped,
    /// The daemon, the computer or the keeper died in a run.
    Interrupted,
    /// The keeper died while nothing ran.
    KeeperLost,
    /// A guard speaks, and the run goes on; the piece may suffer before the morning.
    Warning,
    /// A guard speaks, and the run goes on.
    Alarm,
    /// A planned look: the output is off and the piece waits for her.
    LookDue,
    /// The current of the job flows.
    Began,
    /// Done as asked.
    Finished,
    /// Stopped by a person.
    Stopped,
    /// Nothing: somebody tries whether she would be told.
    Trial,
}

use Event::{
    Alarm, Began, Finished, Interrupted, KeeperLost, LookDue, Stopped, Trial, Tripped, Unconfirmed,
    Warning,
};
use Rank::{Morning, Wake};

/// The table: the event, its word, its rank, its sentence. What may do harm, or spoils the piece
/// while she sleeps, wakes her.
const TABLE: [(Event, &str, Rank, &str); 11] = [
    (
        Unconfirmed,
        "unconfirmed",
        Wake,
        "THE OUTPUT IS NOT CONFIRMED OFF: go to the bench and switch the supply off by hand",
    ),
    (
        Tripped,
        "tripped",
        Wake,
        "a guard ended the run; the output is confirmed off",
    ),
    (
        Interrupted,
        "interrupted",
        Wake,
        "the run was cut short; the output is confirmed off",
    ),
    (
        KeeperLost,
        "keeper-lost",
        Wake,
        "the process that holds the port died while nothing ran",
    ),
    (
        Warning,
        "warning",
        Wake,
        "a guard speaks, and the piece may suffer before the morning; the run goes on",
    ),
    (
        Alarm,
        "alarm",
        Morning,
        "a guard speaks, and the run goes on",
    ),
    (
        LookDue,
        "look-due",
        Morning,
        "a planned look is due: the output is off and the piece waits",
    ),
    (Began, "began", Morning, "the current of the job flows"),
    (
        Finished,
        "finished",
        Morning,
        "done as asked; the output is confirmed off",
    ),
    (
        Stopped,
        "stopped",
        Morning,
        "stopped by a person; the output is confirmed off",
    ),
    (
        Trial,
        "trial",
        Morning,
        "this is a trial: nothing has happened",
    ),
];

const _: () = {
    let mut at = 0;
    while at < TABLE.len() {
        assert!(TABLE[at].0 as usize == at);
        at += 1;
    }
};

impl Event {
    /// Its word.
    pub(super) const fn word(self) -> &'static str {
        TABLE[self as usize].1
    }

    /// Whether it must wake her.
    pub(super) const fn rank(self) -> Rank {
        TABLE[self as usize].2
    }

    /// What it means, in a sentence.
    pub(super) const fn sentence(self) -> &'static str {
        TABLE[self as usize].3
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_may_do_harm_wakes_her_and_what_can_wait_does_not() {
        let woken: Vec<&str> = TABLE
            .iter()
            .filter(|row| row.2 == Wake)
            .map(|row| row.1)
            .collect();
        assert_eq!(
            woken,
            [
                "unconfirmed",
                "tripped",
                "interrupted",
                "keeper-lost",
                "warning"
            ]
        );
        let wait: Vec<&str> = TABLE
            .iter()
            .filter(|row| row.2 == Morning)
            .map(|row| row.1)
            .collect();
        assert_eq!(
            wait,
            ["alarm", "look-due", "began", "finished", "stopped", "trial"]
        );
    }
}
