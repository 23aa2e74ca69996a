//! What earlier pieces have taught: those that a gauge or a scale has seen.

use super::Ledger;
use crate::ledger::{RunId, StoreFault};
use crate::plan::Earlier;
use crate::spec::kinds;
use rusqlite::Row;
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

impl Ledger {
    /// Pieces that were gauged or weighed, those that were hung into a run later among them, the
    /// newest run first; with `before` only those of runs before it, as they were known when it
    /// began: what it has learnt does not change under it.
    ///
    /// # Errors
    /// [`StoreFault`] if the file does not give them.
    pub fn earlier(&self, before: Option<RunId>) -> Result<Vec<Earlier>, StoreFault> {
        let began = match before {
            Some(run) => {
                let sql = "SELECT began FROM runs WHERE run = ?1";
                self.rows(sql, [run], |row| row.get::<_, String>(0))?.pop()
            }
            None => None,
        };
        let mut known = BTreeMap::new();
        let mut found = Vec::new();
        for row in self.pieces_as_of(began.as_deref())? {
            let measured = row.gauged.is_some() || row.weighed.is_some();
            if !measured || before.is_some_and(|before| row.run >= before) {
                continue;
            }
            let (bath, kinds) = match known.entry(row.run) {
                Entry::Occupied(seen) => seen.into_mut(),
                Entry::Vacant(new) => new.insert(self.kinds_of(row.run)?),
            };
            let Some(kind) = kinds.get(&row.name) else {
                continue;
            };
            let rack = self.electrodes(row.run)?;
            found.push(Earlier {
                run: row.run,
                simulated: row.simulated,
                kind: kind.clone(),
                bath: bath.clone(),
                name: row.name,
                area: row.area_start,
                rack: rack.iter().map(|one| one.head.area).sum(),
                charge: row.account.charge,
                mass: row.account.mass,
                gauged: row.gauged,
                gauge_doubt: row.gauge_doubt,
                weighed: row.weighed,
            });
        }
        Ok(found)
    }

    /// The bath of a run, and the kinds of its pieces: of its job, and of what was hung into it.
    fn kinds_of(&self, run: RunId) -> Result<(String, Kinds), StoreFault> {
        let sql = "SELECT bath, job_text FROM runs WHERE run = ?1";
        let texts = |row: &Row<'_>| Ok((row.get::<_, String>(0)?, row.get::<_, String>(1)?));
        let (bath, job) = self.rows(sql, [run], texts)?.pop().unwrap_or_default();
        let mut all = kinds(&job);
        for paper in self.papers(run)? {
            all.extend(kinds(&paper.text));
        }
        Ok((bath, all))
    }
}

/// The kind of each piece, by its name.
type Kinds = BTreeMap<String, String>;
