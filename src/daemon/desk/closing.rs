//! The end of the daemon: the run is stopped, its output proved off, and only then is it over.

use super::super::refusal::{REFUSED, Refusal};
use super::Desk;
use crate::control::{Outcome as Ending, Wish};
use crate::run::Input;
use std::time::{Duration, Instant};

/// The output is proved off within this, or the daemon ends saying that it is not.
const AT_MOST: Duration = Duration::from_secs(15);
/// When the keeper has proved it, the run gets this long to prove it too and be written down.
const RUN_MAY_TAKE: Duration = Duration::from_secs(3);

/// How the daemon ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// The output is off, and a reading says so.
    Clean,
    /// The same, but the run that was on had tripped or was interrupted.
    Failed,
    /// No reading says that the output is off; the keeper goes on trying.
    Unconfirmed,
    /// The same, but the relay has cut the output lead.
    Cut,
}

/// The daemon was asked to end.
#[derive(Debug)]
pub(super) struct Closing {
    pub(super) due: Instant,
    signals: u32,
    /// How the run ended that was on.
    pub(super) outcome: Option<Ending>,
    /// The keeper has proved off, though the run has not.
    keeper_proved: bool,
}

impl Desk {
    /// The system asks the process to end; asked twice, off goes out at once.
    pub(super) fn signal(&mut self, signal: i32) {
        let again = self.closing.is_some();
        let closing = self.closing.get_or_insert_with(|| Closing {
            due: Instant::now() + AT_MOST,
            signals: 0,
            outcome: None,
            keeper_proved: false,
        });
        closing.signals += 1;
        tracing::info!(signal, times = closing.signals, "asked to end");
        if again {
            self.off_now();
            return;
        }
        self.pulse.ending();
        self.cancel_opening("the daemon is ending");
        self.tell(Input::Asked(Wish::Stop));
    }

    /// The keeper's own proof, while the run is still on its way.
    pub(super) fn keeper_proved(&mut self) {
        if let Some(closing) = &mut self.closing {
            closing.keeper_proved = true;
            closing.due = closing.due.min(Instant::now() + RUN_MAY_TAKE);
        }
    }

    /// How it ends, once it does.
    pub(super) fn end(&mut self) -> Option<End> {
        let closing = self.closing.as_ref()?;
        let proved = self.run.is_none() && self.off_proved;
        let end = if proved {
            match closing.outcome {
                None | Some(Ending::Finished | Ending::Stopped) => End::Clean,
                Some(Ending::Tripped(_) | Ending::Interrupted(_)) => End::Failed,
            }
        } else if closing.due > Instant::now() {
            return None;
        } else if closing.keeper_proved {
            // The run's own end is not in the ledger: the next daemon closes it as interrupted.
            End::Failed
        } else if self.is_cut() {
            End::Cut
        } else {
            End::Unconfirmed
        };
        let reply = Refusal::new(REFUSED, "closing", "the daemon has ended");
        self.waiters.refuse_all(&reply);
        Some(end)
    }
}
