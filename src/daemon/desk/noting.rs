//! What became of a notice is an event of its run. Nothing else comes of it: a ledger that does not
//! take it is only logged.

use super::super::notice::Told;
use super::Desk;
use crate::ledger::{Entry, Ticket};

impl Desk {
    pub(super) fn noted(&mut self, told: Told) {
        let Some((run, then)) = told.about else {
            return;
        };
        let on = self.run.as_ref().filter(|active| active.id == run);
        let at = match on {
            Some(active) => active.run.snapshot(self.clock.now()).elapsed,
            None if self.rest.run == Some(run) => self.rest.elapsed,
            None => then,
        };
        let entry = Entry::Event {
            at,
            code: told.code,
            text: told.text,
        };
        let mut kept = self.scribe.append(run, entry);
        // While a run is on, its next batch takes this along.
        if self.run.is_none() {
            kept = kept.and_then(|()| self.scribe.commit(Ticket(0)));
        }
        if kept.is_err() {
            tracing::warn!(run, "the ledger does not take what became of a notice");
        }
    }
}
