//! The door to the disk: one SQLite file, and what of it is durable when.

mod bath;
mod fault;
mod schema;
mod thin;
mod write;

pub(super) use fault::{fault, refused};

use super::entry::{Entry, RunHead, RunId};
use super::{Store, StoreFault};
use crate::units::{Length, Mass};
use fault::file_fault;
use rusqlite::{
    Connection, OpenFlags, OptionalExtension, Transaction, TransactionBehavior, params,
};
use std::collections::HashMap;
use std::fs::{DirBuilder, OpenOptions};
use std::os::unix::fs::{DirBuilderExt, OpenOptionsExt};
use std::path::{Path, PathBuf};
use std::time::Duration;
use write::{Accounts, Waiting};

/// How long another program's writing is waited for.
const PATIENCE: Duration = Duration::from_secs(4);
/// 256 KiB of pages in memory, in place of the usual 2 MiB.
const SMALL_CACHE: &str = "PRAGMA cache_size = -256";
/// No more entries than this wait for a disk that does not take them.
const MOST_WAITING: usize = 1_000_000;

/// When a commit reaches the disk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Batch {
    /// Each time: for runs on a real supply.
    Each,
    /// Once so many entries wait, and when a run has ended: for rehearsals, where nothing is lost
    /// with them.
    AtLeast(usize),
}

/// A ledger open for writing.
///
/// Entries wait in memory between commits, and a commit writes them in one transaction. So the file
/// is locked for milliseconds, and a commit that failed can be tried again with nothing lost.
#[derive(Debug)]
pub struct SqliteStore {
    connection: Connection,
    path: PathBuf,
    batch: Batch,
    waiting: Vec<Waiting>,
    accounts: Vec<Accounts>,
    runs: HashMap<RunId, Known>,
    ended: bool,
}

/// What the store remembers of a run it writes to.
#[derive(Clone, Copy, Debug)]
struct Known {
    electrodes: usize,
    next_reading: i64,
}

impl SqliteStore {
    /// Opens a ledger for writing, and makes it if it is not there: the file for its owner alone
    /// (mode 0600), missing folders too (0700). An older layout is brought up to date.
    ///
    /// # Errors
    /// [`StoreFault`] if it cannot be opened or made, is no ledger, or is newer than this program.
    pub fn open(path: &Path, batch: Batch) -> Result<Self, StoreFault> {
        make_file(path).map_err(|e| file_fault(path, &e))?;
        let connection = connect(path)?;
        if batch == Batch::Each {
            // A daemon that writes some rows every few seconds, for months, keeps few pages.
            connection
                .execute_batch(SMALL_CACHE)
                .map_err(|e| fault(path, &e))?;
        }
        Ok(Self {
            connection,
            path: path.to_owned(),
            batch,
            waiting: Vec::new(),
            accounts: Vec::new(),
            runs: HashMap::new(),
            ended: false,
        })
    }

    /// Makes everything durable that waits, however small the batch.
    ///
    /// # Errors
    /// [`StoreFault`] if the disk does not take it; it goes on waiting then.
    pub fn flush(&mut self) -> Result<(), StoreFault> {
        if self.waiting.is_empty() && self.accounts.is_empty() {
            return Ok(());
        }
        let waiting = std::mem::take(&mut self.waiting);
        let accounts = std::mem::take(&mut self.accounts);
        let done = self.transact(|to| write::all(to, &waiting, &accounts));
        if done.is_err() {
            self.waiting = waiting;
            self.accounts = accounts;
        } else {
            self.ended = false;
        }
        done
    }

    /// Thins the readings of a run that has ended to about two thousand, and keeps ten minutes
    /// around every event and change of state whole. Kept readings are not altered, so their
    /// running charge stays exact, and with it the mean current between any two. Says how many are
    /// left.
    ///
    /// # Errors
    /// [`StoreFault`] if the run is not there, has not ended, or the disk does not take it.
    pub fn thin(&mut self, run: RunId) -> Result<usize, StoreFault> {
        self.flush()?;
        let ended: Option<Option<f64>> = self
            .connection
            .query_row("SELECT ended_s FROM runs WHERE run = ?1", [run], |row| {
                row.get(0)
            })
            .optional()
            .map_err(|e| fault(&self.path, &e))?;
        match ended {
            None => Err(refused(&self.path, &format!("holds no run {run}"))),
            Some(None) => Err(refused(
                &self.path,
                &format!("thins a run only when it is over, and {run} is not"),
            )),
            Some(Some(_)) => self.transact(|to| thin::thin(to, run)),
        }
    }

    /// Notes what a piece gained on the scale; `when` is a label.
    ///
    /// # Errors
    /// [`StoreFault`] if the run has no such piece or the disk does not take it.
    pub fn weigh(
        &mut self,
        run: RunId,
        piece: &str,
        gained: Mass,
        when: &str,
    ) -> Result<(), StoreFault> {
        let number = self.piece(run, piece)?;
        self.transact(|to| {
            to.execute(
                "INSERT INTO weighings (run, number, weighed, mass_g) VALUES (?1, ?2, ?3, ?4)",
                params![run, number, when, gained.g()],
            )
        })?;
        Ok(())
    }

    /// Notes what a gauge or calliper reads on a piece, and how far that may be from its mean where
    /// that is said; `when` is a label.
    ///
    /// # Errors
    /// [`StoreFault`] if the run has no such piece or the disk does not take it.
    pub fn gauge(
        &mut self,
        run: RunId,
        piece: &str,
        (read, doubt): (Length, Option<Length>),
        when: &str,
    ) -> Result<(), StoreFault> {
        let number = self.piece(run, piece)?;
        let doubt = doubt.map(Length::um);
        self.transact(|to| {
            to.execute(
                "INSERT INTO gaugings (run, number, gauged, thickness_um, doubt_um)
                 VALUES (?1, ?2, ?3, ?4, ?5)",
                params![run, number, when, read.um(), doubt],
            )
        })?;
        Ok(())
    }

    /// The number of a piece in its run.
    fn piece(&self, run: RunId, name: &str) -> Result<i64, StoreFault> {
        self.connection
            .query_row(
                "SELECT number FROM electrodes WHERE run = ?1 AND name = ?2 AND NOT hanger",
                params![run, name],
                |row| row.get(0),
            )
            .optional()
            .map_err(|e| fault(&self.path, &e))?
            .ok_or_else(|| {
                refused(
                    &self.path,
                    &format!("holds no piece `{name}` of a run {run}"),
                )
            })
    }

    /// Does it in one transaction, or not at all.
    fn transact<T>(
        &mut self,
        work: impl FnOnce(&Transaction<'_>) -> rusqlite::Result<T>,
    ) -> Result<T, StoreFault> {
        let to = self
            .connection
            .transaction_with_behavior(TransactionBehavior::Immediate);
        to.and_then(|to| {
            let done = work(&to)?;
            to.commit()?;
            Ok(done)
        })
        .map_err(|e| fault(&self.path, &e))
    }

    /// What there is to know of a run before an entry of it is taken.
    fn known(&mut self, run: RunId) -> Result<&mut Known, StoreFault> {
        if !self.runs.contains_key(&run) {
            let known = self.look_up(run)?;
            self.runs.insert(run, known);
        }
        self.runs
            .get_mut(&run)
            .ok_or_else(|| refused(&self.path, &format!("holds no run {run}")))
    }

    fn look_up(&self, run: RunId) -> Result<Known, StoreFault> {
        let number = |sql: &str| {
            self.connection
                .query_row(sql, [run], |row| row.get::<_, i64>(0))
                .map_err(|e| fault(&self.path, &e))
        };
        if number("SELECT count(*) FROM runs WHERE run = ?1")? == 0 {
            return Err(refused(&self.path, &format!("holds no run {run}")));
        }
        let electrodes = number("SELECT count(*) FROM electrodes WHERE run = ?1")?;
        Ok(Known {
            electrodes: usize::try_from(electrodes).unwrap_or(0),
            next_reading: number(
                "SELECT coalesce(max(number) + 1, 0) FROM readings WHERE run = ?1",
            )?,
        })
    }
}

impl Store for SqliteStore {
    fn begin(&mut self, head: &RunHead) -> Result<RunId, StoreFault> {
        let run = self.transact(|to| {
            let run = write::begin(to, head)?;
            bath::book(to, run, head)?;
            Ok(run)
        })?;
        self.runs.insert(
            run,
            Known {
                electrodes: head.electrodes.len(),
                next_reading: 0,
            },
        );
        Ok(run)
    }

    fn append(&mut self, run: RunId, entry: &Entry) -> Result<(), StoreFault> {
        if self.waiting.len() >= MOST_WAITING {
            return Err(refused(
                &self.path,
                "has not taken a million entries: look at its disk before anything goes on",
            ));
        }
        // An entry the disk would refuse for its content is refused here, else it would block all
        // after it.
        if !entry.is_finite() {
            return Err(refused(&self.path, "takes no figure that is not a number"));
        }
        let known = self.known(run)?;
        let mut number = 0;
        if let Entry::Reading(_) = entry {
            number = known.next_reading;
            known.next_reading += 1;
        }
        if let Entry::Accounts {
            at,
            charge,
            electrodes,
            shown,
            governing,
        } = entry
        {
            if electrodes.len() != known.electrodes {
                let held = known.electrodes;
                let what = format!(
                    "holds {held} electrodes of run {run}, not {}",
                    electrodes.len()
                );
                return Err(refused(&self.path, &what));
            }
            self.accounts.retain(|accounts| accounts.run != run);
            let electrodes = electrodes.clone();
            self.accounts.push(Accounts {
                run,
                at: *at,
                charge: *charge,
                electrodes,
                shown: *shown,
                governing: *governing,
            });
            return Ok(());
        }
        if let Entry::Rehung { change, .. } = entry {
            known.electrodes += change.added.len();
            // They count other electrodes; new ones follow.
            self.accounts.retain(|accounts| accounts.run != run);
        }
        self.ended |= matches!(entry, Entry::Ended { .. });
        self.waiting.push(Waiting {
            run,
            number,
            entry: entry.clone(),
        });
        Ok(())
    }

    fn commit(&mut self) -> Result<(), StoreFault> {
        match self.batch {
            Batch::AtLeast(entries) if self.waiting.len() < entries && !self.ended => Ok(()),
            Batch::AtLeast(_) | Batch::Each => self.flush(),
        }
    }
}

/// Makes the file and its folders, for their owner alone, unless they are there.
fn make_file(path: &Path) -> std::io::Result<()> {
    if let Some(folder) = path
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty())
    {
        DirBuilder::new()
            .recursive(true)
            .mode(0o700)
            .create(folder)?;
    }
    match OpenOptions::new()
        .write(true)
        .create_new(true)
        .mode(0o600)
        .open(path)
    {
        Ok(_) => Ok(()),
        Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => Ok(()),
        Err(e) => Err(e),
    }
}

/// Opens a file that is there, and brings it to the newest layout.
pub(super) fn connect(path: &Path) -> Result<Connection, StoreFault> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let opened = Connection::open_with_flags(path, flags).and_then(|connection| {
        connection.busy_timeout(PATIENCE)?;
        Ok(connection)
    });
    let mut connection = opened.map_err(|e| fault(path, &e))?;
    schema::bring_up(&mut connection, path)?;
    // Only now is it known to be ours, and may be changed.
    connection
        .query_row("PRAGMA journal_mode = WAL", [], |row| {
            row.get::<_, String>(0)
        })
        .and_then(|_| {
            connection.execute_batch("PRAGMA synchronous = FULL; PRAGMA foreign_keys = ON")
        })
        .map_err(|e| fault(path, &e))?;
    Ok(connection)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Span;

    fn store(folder: &tempfile::TempDir) -> (SqliteStore, RunId) {
        let path = folder.path().join("ledger.db");
        let mut store = SqliteStore::open(&path, Batch::Each).unwrap();
        let run = store.begin(&RunHead::default()).unwrap();
        (store, run)
    }

    fn event(length: usize) -> Entry {
        Entry::Event {
            at: Span::ZERO,
            code: "gap",
            text: "x".repeat(length),
        }
    }

    fn events(store: &SqliteStore) -> i64 {
        store
            .connection
            .query_row("SELECT count(*) FROM events", [], |row| row.get(0))
            .unwrap()
    }

    #[test]
    fn a_full_disk_is_named_and_what_waited_is_taken_when_there_is_room_again() {
        let folder = tempfile::tempdir().unwrap();
        let (mut store, run) = store(&folder);
        let pages: i64 = store
            .connection
            .query_row("PRAGMA page_count", [], |row| row.get(0))
            .unwrap();
        let limit = |store: &SqliteStore, pages: i64| {
            store
                .connection
                .query_row(&format!("PRAGMA max_page_count = {pages}"), [], |row| {
                    row.get::<_, i64>(0)
                })
                .unwrap();
        };
        limit(&store, pages + 2);
        store.append(run, &event(10)).unwrap();
        store.append(run, &event(100_000)).unwrap();
        let said = store.commit().unwrap_err().to_string();
        assert!(said.contains("disk is full"), "{said}");
        assert_eq!(events(&store), 0, "half a batch was written");
        limit(&store, pages + 1_000);
        store.commit().unwrap();
        assert_eq!(events(&store), 2);
    }

    #[test]
    fn a_ledger_that_may_not_be_written_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let (mut store, run) = store(&folder);
        store
            .connection
            .execute_batch("PRAGMA query_only = ON")
            .unwrap();
        store.append(run, &event(1)).unwrap();
        let said = store.commit().unwrap_err().to_string();
        assert!(
            said.contains("read-only") && said.contains("chmod u+rw"),
            "{said}"
        );
    }

    #[test]
    fn every_commit_waits_for_the_disk() {
        let folder = tempfile::tempdir().unwrap();
        let (store, _) = store(&folder);
        let number = |pragma: &str| -> i64 {
            store
                .connection
                .query_row(pragma, [], |row| row.get(0))
                .unwrap()
        };
        // https://www.sqlite.org/pragma.html#pragma_synchronous: 2 is FULL.
        assert_eq!(number("PRAGMA synchronous"), 2);
        assert_eq!(number("PRAGMA foreign_keys"), 1);
    }
}
