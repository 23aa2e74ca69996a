//! Reading a bath back.

use super::{Ledger, Read, stranger};
use crate::ledger::StoreFault;
use crate::ledger::entry::RunId;
use crate::ledger::tank::{TankDeed, TankEntry, TankRow, TankRun};
use crate::units::{Area, Charge, Concentration, Mass, Span, Volume};
use rusqlite::Row;

/// Seconds since 1970 of a label, however its zone is written.
const ENTRY_COLUMNS: &str = "at, CAST(strftime('%s', at) AS REAL), kind, substance, mass_g, \
    volume_ml, surface_cm2, held_g_per_l, profile_text";

impl Ledger {
    /// The names of all baths.
    ///
    /// # Errors
    /// [`StoreFault`] if the file does not give them.
    pub fn baths(&self) -> Result<Vec<String>, StoreFault> {
        let sql = "SELECT DISTINCT bath FROM bath_entries WHERE kind = 'made' ORDER BY bath";
        self.rows(sql, [], |row| row.get(0))
    }

    /// A bath since it was last made; `None` if it never was.
    ///
    /// # Errors
    /// [`StoreFault`] if the file does not give it.
    pub fn bath(&self, name: &str) -> Result<Option<TankRow>, StoreFault> {
        let sql = format!(
            "SELECT {ENTRY_COLUMNS} FROM bath_entries WHERE bath = ?1
             ORDER BY strftime('%s', at) + 0, id"
        );
        let mut entries = self.rows(&sql, [name], entry)?;
        let Some(made) = entries
            .iter()
            .rposition(|entry| entry.kind == TankDeed::Made)
        else {
            return Ok(None);
        };
        let later = entries.split_off(made + 1);
        let Some(made) = entries.pop() else {
            return Ok(None);
        };
        let runs = self.rows(
            "SELECT run, job, began, charge_ah, ended_s IS NOT NULL, simulated,
             CAST(strftime('%s', began) AS REAL) + coalesce(ended_s, accounts_s),
             (SELECT count(*) FROM electrodes WHERE electrodes.run = runs.run AND NOT hanger)
             FROM runs WHERE bath_ledger = ?1 AND seed IS NULL ORDER BY 7",
            [name],
            run,
        )?;
        let since = made.when;
        Ok(Some(TankRow {
            name: name.to_owned(),
            made,
            entries: later,
            runs: runs.into_iter().filter(|run| run.until >= since).collect(),
        }))
    }

    /// How a run's pieces look, by her word.
    ///
    /// # Errors
    /// [`StoreFault`] if the file does not give it.
    pub fn looks(&self, run: RunId) -> Result<Vec<String>, StoreFault> {
        let sql = "SELECT look FROM looks WHERE run = ?1 ORDER BY id";
        self.rows(sql, [run], |row| row.get(0))
    }

    /// The bath whose ledger a run is booked to, and whether it was stirred.
    pub(super) fn bath_of(&self, run: RunId) -> Result<(Option<String>, Option<bool>), StoreFault> {
        let sql = "SELECT bath_ledger, stirred FROM runs WHERE run = ?1";
        let mut found = self.rows(sql, [run], |row| Ok((row.get(0)?, row.get(1)?)))?;
        Ok(found.pop().unwrap_or_default())
    }
}

fn entry(row: &Row<'_>) -> Read<TankEntry> {
    let kind: String = row.get(2)?;
    Ok(TankEntry {
        at: row.get(0)?,
        when: Span::from_s(row.get::<_, Option<f64>>(1)?.unwrap_or(0.0)),
        kind: TankDeed::from_word(&kind).ok_or_else(|| stranger(2, &kind))?,
        substance: row.get(3)?,
        mass: row.get::<_, Option<f64>>(4)?.map(Mass::from_g),
        volume: row.get::<_, Option<f64>>(5)?.map(Volume::from_cm3),
        surface: row.get::<_, Option<f64>>(6)?.map(Area::from_cm2),
        held: row
            .get::<_, Option<f64>>(7)?
            .map(Concentration::from_g_per_l),
        profile_text: row.get(8)?,
    })
}

fn run(row: &Row<'_>) -> Read<TankRun> {
    Ok(TankRun {
        run: row.get(0)?,
        job: row.get(1)?,
        began: row.get(2)?,
        charge: Charge::from_ah(row.get(3)?),
        over: row.get(4)?,
        simulated: row.get(5)?,
        until: Span::from_s(row.get::<_, Option<f64>>(6)?.unwrap_or(0.0)),
        pieces: row.get(7)?,
    })
}
