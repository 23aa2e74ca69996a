//! What is done to a bath, written down.

use super::SqliteStore;
use crate::ledger::StoreFault;
use crate::ledger::entry::{RunHead, RunId};
use crate::ledger::tank::TankEntry;
use rusqlite::{Transaction, params};

/// The layout of baths: what was done to each, and which one a run's tank held.
pub(super) const BATHS: &str = "
CREATE TABLE bath_entries (
    id                INTEGER PRIMARY KEY,
    bath              TEXT NOT NULL,
    at                TEXT NOT NULL,
    kind              TEXT NOT NULL,
    substance         TEXT NOT NULL,
    mass_g            REAL,
    volume_ml         REAL,
    surface_cm2       REAL,
    held_g_per_l      REAL
);
CREATE INDEX bath_entries_of_bath ON bath_entries (bath);
ALTER TABLE runs ADD COLUMN bath_ledger TEXT;
CREATE TABLE looks (
    id                INTEGER PRIMARY KEY,
    run               INTEGER NOT NULL REFERENCES runs,
    at                TEXT NOT NULL,
    look              TEXT NOT NULL
);
CREATE INDEX looks_of_run ON looks (run);
";

/// The layout after it: a person's own bath profile is kept with the bath that was made by it,
/// and whether a run's tank was stirred.
pub(super) const KEPT: &str = "
ALTER TABLE bath_entries ADD COLUMN profile_text TEXT;
ALTER TABLE runs ADD COLUMN stirred INTEGER;
";

impl SqliteStore {
    /// Writes down what was done to a bath.
    ///
    /// # Errors
    /// [`StoreFault`] if the disk does not take it.
    pub fn bath_entry(&mut self, bath: &str, entry: &TankEntry) -> Result<(), StoreFault> {
        self.transact(|to| {
            to.execute(
                "INSERT INTO bath_entries
                 (bath, at, kind, substance, mass_g, volume_ml, surface_cm2, held_g_per_l,
                 profile_text) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
                params![
                    bath,
                    entry.at,
                    entry.kind.word(),
                    entry.substance,
                    entry.mass.map(crate::units::Mass::g),
                    entry.volume.map(crate::units::Volume::cm3),
                    entry.surface.map(crate::units::Area::cm2),
                    entry.held.map(crate::units::Concentration::g_per_l),
                    entry.profile_text,
                ],
            )
        })?;
        Ok(())
    }
}

impl SqliteStore {
    /// Writes down how a run's pieces look, in place of what was said before.
    ///
    /// # Errors
    /// [`StoreFault`] if the disk does not take it.
    pub fn note_looks(&mut self, run: RunId, looks: &[String], at: &str) -> Result<(), StoreFault> {
        self.transact(|to| {
            to.execute("DELETE FROM looks WHERE run = ?1", [run])?;
            for look in looks {
                to.execute(
                    "INSERT INTO looks (run, at, look) VALUES (?1, ?2, ?3)",
                    params![run, at, look],
                )?;
            }
            Ok(())
        })
    }
}

/// Books a run to the bath of its tank, and how that was stirred.
pub(super) fn book(to: &Transaction<'_>, run: RunId, head: &RunHead) -> rusqlite::Result<()> {
    to.execute(
        "UPDATE runs SET bath_ledger = ?2, stirred = ?3 WHERE run = ?1",
        params![run, head.bath_ledger, head.stirred],
    )?;
    Ok(())
}
