//! What earlier pieces have taught: those that a gauge or a scale has seen.

use super::Ledger;
use crate::ledger::{RunId, StoreFault};
use crate::plan::Earlier;
use crate::spec::kinds;

impl Ledger {
    /// Pieces of real runs that were gauged or weighed, the newest run first; with `before` only
    /// those of runs before it, as they were known when it began: what it has learnt does not
    /// change under it.
    ///
    /// # Errors
    /// [`StoreFault`] if the file does not give them.
    pub fn earlier(&self, before: Option<RunId>) -> Result<Vec<Earlier>, StoreFault> {
        let mut texts = self.rows(
            "SELECT run, job_text, bath FROM runs WHERE simulated = 0",
            [],
            |row| {
                let text: String = row.get(1)?;
                Ok((
                    row.get::<_, RunId>(0)?,
                    (kinds(&text), row.get::<_, String>(2)?),
                ))
            },
        )?;
        texts.sort_by_key(|(run, _)| *run);
        let began = match before {
            Some(run) => {
                let sql = "SELECT began FROM runs WHERE run = ?1";
                self.rows(sql, [run], |row| row.get::<_, String>(0))?.pop()
            }
            None => None,
        };
        let mut found = Vec::new();
        for row in self.pieces_as_of(began.as_deref())? {
            let measured = row.gauged.is_some() || row.weighed.is_some();
            if !measured || before.is_some_and(|before| row.run >= before) {
                continue;
            }
            let Ok(at) = texts.binary_search_by_key(&row.run, |(run, _)| *run) else {
                continue;
            };
            let (kinds, bath) = &texts[at].1;
            let Some(kind) = kinds.get(&row.name) else {
                continue;
            };
            let rack = self.electrodes(row.run)?;
            found.push(Earlier {
                run: row.run,
                kind: kind.clone(),
                bath: bath.clone(),
                name: row.name,
                area: row.area_start,
                rack: rack.iter().map(|one| one.head.area).sum(),
                charge: row.account.charge,
                mass: row.account.mass,
                gauged: row.gauged,
                weighed: row.weighed,
            });
        }
        Ok(found)
    }
}
