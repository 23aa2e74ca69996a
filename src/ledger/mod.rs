//! What can be proved afterwards. This room knows runs, pieces, readings and events as SQLite
//! tables, and what a crash can cost: the readings of one batch, never more. It must never know a
//! port, a guard's reasons or a screen. Its door is `store`; run and everything below come in.

mod entry;
mod read;
mod rows;
mod store;
mod tank;

pub use entry::{
    Account, ElectrodeHead, Entry, HUNG, LIFTED, Origin, Paper, ReadingEntry, Rehung, RunHead,
    RunId, Ticket, WENT_ON,
};
pub use read::Ledger;
pub use rows::{
    ElectrodeRow, Ending, EnvelopeRow, EventRow, PieceRow, ReachedRow, ReadingRow, RunRecord,
    RunRow, StateRow, UnfinishedRow,
};
pub use store::{Batch, SqliteStore};
pub use tank::{TankDeed, TankEntry, TankRow, TankRun};

/// Why the ledger did not take something.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the ledger {place} {what}")]
pub struct StoreFault {
    /// The file.
    pub place: String,
    /// What went wrong, in words.
    pub what: String,
}

/// Something that takes entries. What was appended is durable after the next [`Store::commit`].
#[cfg_attr(test, mockall::automock)]
pub trait Store {
    /// Opens a run and gives it a number; durable when it returns.
    ///
    /// # Errors
    /// [`StoreFault`] if the ledger cannot take it.
    fn begin(&mut self, head: &RunHead) -> Result<RunId, StoreFault>;

    /// Takes one entry of a run.
    ///
    /// # Errors
    /// [`StoreFault`] if the ledger cannot take it.
    fn append(&mut self, run: RunId, entry: &Entry) -> Result<(), StoreFault>;

    /// Makes everything durable that was appended.
    ///
    /// # Errors
    /// [`StoreFault`] if the ledger cannot promise that.
    fn commit(&mut self) -> Result<(), StoreFault>;
}
