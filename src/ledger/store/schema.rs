//! The tables, and the steps that brought them here. A step is never changed once it has been
//! shipped.

use super::fault::{fault, refused};
use crate::ledger::StoreFault;
use rusqlite::{Connection, TransactionBehavior};
use std::path::Path;

/// Marks an SQLite file as a nightvat ledger (`PRAGMA application_id`): the letters `nvat`.
const APPLICATION: i64 = 0x6e76_6174;

/// The first layout. Times are seconds since the run began; every other unit is in the column's
/// name.
const RUNS: &str = "
CREATE TABLE runs (
    run               INTEGER PRIMARY KEY,
    job               TEXT NOT NULL,
    job_text          TEXT NOT NULL,
    station           TEXT NOT NULL,
    bath              TEXT NOT NULL,
    began             TEXT NOT NULL,
    simulated         INTEGER NOT NULL,
    seed              TEXT,
    target_um         REAL,
    supply_identity   TEXT,
    accounts_s        REAL NOT NULL DEFAULT 0,
    charge_ah         REAL NOT NULL DEFAULT 0,
    charge_low_ah     REAL NOT NULL DEFAULT 0,
    charge_high_ah    REAL NOT NULL DEFAULT 0,
    reached_s         REAL,
    reached_ah        REAL,
    reached_low_ah    REAL,
    reached_high_ah   REAL,
    ended_s           REAL,
    outcome           TEXT,
    fault             TEXT,
    thinned           INTEGER NOT NULL DEFAULT 0
);
CREATE TABLE electrodes (
    run               INTEGER NOT NULL REFERENCES runs,
    number            INTEGER NOT NULL,
    name              TEXT NOT NULL,
    hanger            INTEGER NOT NULL,
    area_start_cm2    REAL NOT NULL,
    area_cm2          REAL NOT NULL,
    charge_ah         REAL NOT NULL DEFAULT 0,
    charge_low_ah     REAL NOT NULL DEFAULT 0,
    charge_high_ah    REAL NOT NULL DEFAULT 0,
    mass_g            REAL NOT NULL DEFAULT 0,
    thickness_um      REAL NOT NULL DEFAULT 0,
    thickness_low_um  REAL NOT NULL DEFAULT 0,
    thickness_high_um REAL NOT NULL DEFAULT 0,
    PRIMARY KEY (run, number)
) WITHOUT ROWID;
CREATE TABLE envelopes (
    id                INTEGER PRIMARY KEY,
    run               INTEGER NOT NULL REFERENCES runs,
    t_s               REAL NOT NULL,
    current_a         REAL NOT NULL,
    voltage_v         REAL NOT NULL,
    until_s           REAL NOT NULL
);
CREATE INDEX envelopes_of_run ON envelopes (run);
CREATE TABLE readings (
    run               INTEGER NOT NULL,
    number            INTEGER NOT NULL,
    t_s               REAL NOT NULL,
    current_a         REAL,
    voltage_v         REAL,
    setpoint_a        REAL NOT NULL,
    mode              TEXT,
    charge_ah         REAL NOT NULL,
    thickness_um      REAL NOT NULL,
    PRIMARY KEY (run, number)
) WITHOUT ROWID;
CREATE TABLE events (
    id                INTEGER PRIMARY KEY,
    run               INTEGER NOT NULL REFERENCES runs,
    t_s               REAL NOT NULL,
    code              TEXT NOT NULL,
    text              TEXT NOT NULL
);
CREATE INDEX events_of_run ON events (run);
CREATE TABLE states (
    id                INTEGER PRIMARY KEY,
    run               INTEGER NOT NULL REFERENCES runs,
    t_s               REAL NOT NULL,
    state             TEXT NOT NULL
);
CREATE INDEX states_of_run ON states (run);
";

/// The second layout: what a scale and a gauge say of a piece afterwards.
const MEASURED: &str = "
CREATE TABLE weighings (
    id                INTEGER PRIMARY KEY,
    run               INTEGER NOT NULL,
    number            INTEGER NOT NULL,
    weighed           TEXT NOT NULL,
    mass_g            REAL NOT NULL,
    FOREIGN KEY (run, number) REFERENCES electrodes (run, number)
);
CREATE INDEX weighings_of_piece ON weighings (run, number);
CREATE TABLE gaugings (
    id                INTEGER PRIMARY KEY,
    run               INTEGER NOT NULL,
    number            INTEGER NOT NULL,
    gauged            TEXT NOT NULL,
    thickness_um      REAL NOT NULL,
    FOREIGN KEY (run, number) REFERENCES electrodes (run, number)
);
CREATE INDEX gaugings_of_piece ON gaugings (run, number);
";

/// The third layout: the thickness shown for a run and the piece it is of, with its accounts.
const SHOWN: &str = "
ALTER TABLE runs ADD COLUMN shown_um REAL;
ALTER TABLE runs ADD COLUMN governing INTEGER;
";

/// The fourth layout: pieces that are hung into a run and lifted out of it. Of a run of before,
/// how long each electrode's current flowed is not known by itself.
const REHUNG: &str = "
ALTER TABLE electrodes ADD COLUMN hangs INTEGER NOT NULL DEFAULT 1;
ALTER TABLE electrodes ADD COLUMN on_s REAL;
CREATE TABLE papers (
    id                INTEGER PRIMARY KEY,
    run               INTEGER NOT NULL REFERENCES runs,
    t_s               REAL NOT NULL,
    path              TEXT NOT NULL,
    pieces_text       TEXT NOT NULL
);
CREATE INDEX papers_of_run ON papers (run);
";

/// The seventh layout: how sure a gauge reading is, where she says so, and the highest density of a
/// run's pieces against the mean. Of what was before neither is known.
const DOUBTED: &str = "
ALTER TABLE gaugings ADD COLUMN doubt_um REAL;
ALTER TABLE runs ADD COLUMN peak_to_mean REAL;
";

/// The steps, in order; `PRAGMA user_version` counts those that have been taken.
const STEPS: [&str; 7] = [
    RUNS,
    MEASURED,
    SHOWN,
    REHUNG,
    super::bath::BATHS,
    super::bath::KEPT,
    DOUBTED,
];

/// Brings a file to the newest layout, or says why it is not to be touched.
///
/// # Errors
/// [`StoreFault`] if the file is no ledger, is newer than this program, or does not take the step.
pub(super) fn bring_up(connection: &mut Connection, path: &Path) -> Result<(), StoreFault> {
    if taken(connection, path)? == STEPS.len() {
        return Ok(());
    }
    let steps = connection
        .transaction_with_behavior(TransactionBehavior::Immediate)
        .map_err(|e| fault(path, &e))?;
    // Another process may have taken the steps while this one waited for its turn.
    let from = taken(&steps, path)?;
    let step = |sql: &str| steps.execute_batch(sql).map_err(|e| fault(path, &e));
    step(&format!("PRAGMA application_id = {APPLICATION}"))?;
    for sql in &STEPS[from..] {
        step(sql)?;
    }
    step(&format!("PRAGMA user_version = {}", STEPS.len()))?;
    steps.commit().map_err(|e| fault(path, &e))
}

/// How many steps the file has taken; an empty file has taken none.
fn taken(connection: &Connection, path: &Path) -> Result<usize, StoreFault> {
    let number = |sql: &str| {
        connection
            .query_row(sql, [], |row| row.get::<_, i64>(0))
            .map_err(|e| fault(path, &e))
    };
    let application = number("SELECT application_id FROM pragma_application_id")?;
    let version = number("SELECT user_version FROM pragma_user_version")?;
    let tables = number("SELECT count(*) FROM sqlite_master")?;
    if tables == 0 && version == 0 && application == 0 {
        return Ok(0);
    }
    if application != APPLICATION {
        return Err(refused(
            path,
            "is an SQLite file of another program: name another file with --ledger",
        ));
    }
    match usize::try_from(version) {
        Ok(version) if (1..=STEPS.len()).contains(&version) => Ok(version),
        Ok(_) | Err(_) => Err(refused(
            path,
            &format!(
                "has layout {version}, and this nightvat knows 1 to {}: use the version that wrote \
                 it, or a newer one",
                STEPS.len()
            ),
        )),
    }
}
