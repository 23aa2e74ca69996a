//! The ledger: what is durable when, what an older or a strange file does, and what thinning keeps.

use nightvat::control::{Envelope, Fault, Outcome, State};
use nightvat::exchange::Mode;
use nightvat::ledger::{
    Account, Batch, ElectrodeHead, Entry, HUNG, Ledger, Paper, ReadingEntry, Rehung, RunHead,
    RunId, SqliteStore, Store,
};
use nightvat::units::{Area, Bounded, Charge, Current, Length, Mass, Moment, Span, Voltage};
use rusqlite::Connection;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};

struct Folder(tempfile::TempDir);

impl Folder {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn ledger(&self) -> PathBuf {
        self.0.path().join("state").join("ledger.db")
    }
}

fn head() -> RunHead {
    let electrode = |name: &str, hanger, cm2| ElectrodeHead {
        name: name.to_owned(),
        hanger,
        area: Area::from_cm2(cm2),
    };
    RunHead {
        bath_ledger: None,
        stirred: Some(true),
        job: "seed heads, first rack".to_owned(),
        job_text: "name = \"seed heads, first rack\"\n".to_owned(),
        station: "north tank".to_owned(),
        bath: "acid-copper-bright".to_owned(),
        began: "2026-11-24T20:14:00+01:00".to_owned(),
        simulated: true,
        seed: Some(u64::MAX),
        target: Some(Length::from_um(200.0)),
        peak_to_mean: Some(1.7092),
        electrodes: vec![
            electrode("seed head a", false, 19.0),
            electrode("hanger 1", true, 8.0),
        ],
    }
}

fn s(seconds: f64) -> Span {
    Span::from_s(seconds)
}

fn reading(at_s: f64, current_a: f64) -> Entry {
    Entry::Reading(ReadingEntry {
        at: s(at_s),
        current: Some(Current::from_a(current_a)),
        voltage: Some(Voltage::from_v(1.25)),
        setpoint: Current::from_a(current_a),
        mode: Some(Mode::ConstantCurrent),
        charge: Charge::from_ah(at_s / 3600.0),
        thickness: Length::from_um(at_s / 100.0),
    })
}

fn envelope(at_s: f64, until_s: f64, current_a: f64) -> Entry {
    let envelope = Envelope {
        current: Current::from_a(current_a),
        voltage: Voltage::from_v(2.5),
        until: Moment::from_s(until_s),
    };
    Entry::Envelope {
        at: s(at_s),
        envelope,
        until: s(until_s),
    }
}

fn ah(low: f64, best: f64, high: f64) -> Bounded<Charge> {
    Bounded {
        low: Charge::from_ah(low),
        best: Charge::from_ah(best),
        high: Charge::from_ah(high),
    }
}

fn account(best_ah: f64, um: f64) -> Account {
    Account {
        charge: ah(best_ah - 0.25, best_ah, best_ah + 0.5),
        mass: Mass::from_g(8.0),
        thickness: Bounded {
            low: Length::from_um(um - 10.0),
            best: Length::from_um(um),
            high: Length::from_um(um + 20.0),
        },
        area: Area::from_cm2(21.0),
        on: s(7000.0),
    }
}

fn accounts(at_s: f64, best_ah: f64) -> Entry {
    let electrodes = vec![account(best_ah, 150.0), account(1.0, 90.0)];
    Entry::Accounts {
        at: s(at_s),
        charge: ah(best_ah - 0.5, best_ah, best_ah + 1.0),
        electrodes,
        shown: Length::from_um(150.0),
        governing: Some(0),
    }
}

fn ended(at_s: f64, outcome: Outcome) -> Entry {
    Entry::Ended {
        at: s(at_s),
        outcome,
        fault: outcome.fault(),
    }
}

fn append(store: &mut SqliteStore, run: RunId, entries: &[Entry]) {
    for entry in entries {
        store.append(run, entry).unwrap();
    }
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * b.abs().max(1.0)
}

#[test]
fn a_whole_run_reads_back_after_the_file_was_closed() {
    let folder = Folder::new();
    let mut store = SqliteStore::open(&folder.ledger(), Batch::Each).unwrap();
    let run = store.begin(&head()).unwrap();
    let event = Entry::Event {
        at: s(70.0),
        code: "gap",
        text: "nobody looked for 3 s".to_owned(),
    };
    append(
        &mut store,
        run,
        &[
            Entry::Entered {
                at: s(0.0),
                state: State::Proving,
            },
            Entry::Supply {
                identity: "ACME,1,2,3".to_owned(),
            },
            envelope(10.0, 610.0, 0.25),
            reading(12.0, 0.005),
            Entry::Entered {
                at: s(20.0),
                state: State::Striking,
            },
            accounts(60.0, 2.0),
            event,
            accounts(120.0, 3.0),
            Entry::Reached {
                at: s(130.0),
                charge: ah(2.5, 3.0, 4.0),
            },
            ended(140.0, Outcome::Tripped(Fault::ConstantCurrentLost)),
        ],
    );
    store.commit().unwrap();
    drop(store);

    let ledger = Ledger::open_read(&folder.ledger()).unwrap();
    let record = ledger.run(run).unwrap();
    assert_eq!((run, &record.head), (1, &head()));
    assert_eq!(record.identity.as_deref(), Some("ACME,1,2,3"));
    assert_eq!(record.states.len(), 2);
    assert_eq!(
        (record.states[1].at, record.states[1].state),
        (s(20.0), State::Striking)
    );
    assert_eq!(record.events[0].code, "gap");
    assert_eq!(record.accounted, s(120.0));
    assert!(close(record.charge.high.ah(), 4.0) && close(record.charge.low.ah(), 2.5));
    assert_eq!(record.pieces().count(), 1);
    assert_eq!(record.hangers().next().unwrap().head.name, "hanger 1");
    assert!(close(record.electrodes[0].account.charge.best.ah(), 3.0));
    assert!(close(
        record.electrodes[0].account.thickness.high.um(),
        170.0
    ));
    assert_eq!(record.envelopes[0].until, s(610.0));
    assert_eq!(record.reached.unwrap().at, s(130.0));
    let ending = record.ending.unwrap();
    assert_eq!(ending.outcome, Outcome::Tripped(Fault::ConstantCurrentLost));
    assert_eq!(
        (record.state(), record.lasted()),
        (State::Tripped, s(140.0))
    );

    let Entry::Reading(kept) = reading(12.0, 0.005) else {
        unreachable!()
    };
    let back = ledger.readings(run).unwrap();
    assert_eq!(
        (back.len(), back[0].mode, back[0].current),
        (1, kept.mode, kept.current)
    );
    assert!(close(back[0].charge.c(), kept.charge.c()));
    // The closing account is shown, not the last reading.
    let row = &ledger.runs().unwrap()[0];
    assert_eq!(
        (row.thickness.map(|t| t.um().round()), row.governing),
        (Some(150.0), Some(0))
    );
    assert!(ledger.unfinished().unwrap().is_empty());
}

#[test]
fn what_was_not_committed_is_lost_in_a_crash_and_nothing_else_is() {
    let folder = Folder::new();
    let mut store = SqliteStore::open(&folder.ledger(), Batch::Each).unwrap();
    let run = store.begin(&head()).unwrap();
    append(&mut store, run, &[reading(1.0, 0.1), reading(2.0, 0.1)]);
    store.commit().unwrap();
    append(&mut store, run, &[reading(3.0, 0.1), accounts(3.0, 1.0)]);
    drop(store); // as a crash: nothing is flushed on the way out

    let mut store = SqliteStore::open(&folder.ledger(), Batch::Each).unwrap();
    let ledger = Ledger::open_read(&folder.ledger()).unwrap();
    assert_eq!(ledger.readings(run).unwrap().len(), 2);
    assert_eq!(ledger.run(run).unwrap().accounted, s(0.0));

    // The run goes on in the same file, after the readings that are there.
    append(&mut store, run, &[reading(9.0, 0.1)]);
    store.commit().unwrap();
    let times: Vec<f64> = ledger
        .readings(run)
        .unwrap()
        .iter()
        .map(|row| row.at.s())
        .collect();
    assert_eq!(times, [1.0, 2.0, 9.0]);
}

#[test]
fn a_large_batch_reaches_the_disk_when_it_is_full_or_the_run_has_ended() {
    let folder = Folder::new();
    let mut store = SqliteStore::open(&folder.ledger(), Batch::AtLeast(3)).unwrap();
    let run = store.begin(&head()).unwrap();
    let ledger = Ledger::open_read(&folder.ledger()).unwrap();
    let held = || ledger.readings(run).unwrap().len();
    for (at_s, expected) in [(1.0, 0), (2.0, 0), (3.0, 3), (4.0, 3)] {
        append(&mut store, run, &[reading(at_s, 0.1)]);
        store.commit().unwrap();
        assert_eq!(held(), expected, "after {at_s} s");
    }
    append(&mut store, run, &[ended(5.0, Outcome::Finished)]);
    store.commit().unwrap();
    assert_eq!(held(), 4);
    append(&mut store, run, &[reading(6.0, 0.1)]);
    store.flush().unwrap();
    assert_eq!(held(), 5);
}

#[test]
fn file_and_folder_are_for_their_owner_alone() {
    let folder = Folder::new();
    let mut store = SqliteStore::open(&folder.ledger(), Batch::Each).unwrap();
    store.begin(&head()).unwrap();
    let mode = |path: &Path| std::fs::metadata(path).unwrap().permissions().mode() & 0o777;
    let path = folder.ledger();
    assert_eq!(mode(&path), 0o600);
    assert_eq!(mode(path.parent().unwrap()), 0o700);
    assert_eq!(mode(&path.with_extension("db-wal")), 0o600);
}

#[test]
fn any_sqlite_tool_reads_the_columns_by_their_units() {
    let folder = Folder::new();
    SqliteStore::open(&folder.ledger(), Batch::Each).unwrap();
    let plain = Connection::open(folder.ledger()).unwrap();
    let columns = |table: &str| -> String {
        let sql = format!("SELECT group_concat(name, ' ') FROM pragma_table_info('{table}')");
        plain.query_row(&sql, [], |row| row.get(0)).unwrap()
    };
    assert_eq!(
        columns("readings"),
        "run number t_s current_a voltage_v setpoint_a mode charge_ah thickness_um"
    );
    assert_eq!(
        columns("envelopes"),
        "id run t_s current_a voltage_v until_s"
    );
    assert_eq!(columns("weighings"), "id run number weighed mass_g");
    let wal: String = plain
        .query_row("PRAGMA journal_mode", [], |row| row.get(0))
        .unwrap();
    assert_eq!(wal, "wal");
}

/// The first layout as it was shipped, with a run in it.
const FIRST_LAYOUT: &str = "
PRAGMA application_id = 1853251956;
CREATE TABLE runs (run INTEGER PRIMARY KEY, job TEXT NOT NULL, job_text TEXT NOT NULL,
  station TEXT NOT NULL, bath TEXT NOT NULL, began TEXT NOT NULL, simulated INTEGER NOT NULL,
  seed TEXT, target_um REAL, supply_identity TEXT, accounts_s REAL NOT NULL DEFAULT 0,
  charge_ah REAL NOT NULL DEFAULT 0, charge_low_ah REAL NOT NULL DEFAULT 0,
  charge_high_ah REAL NOT NULL DEFAULT 0, reached_s REAL, reached_ah REAL, reached_low_ah REAL,
  reached_high_ah REAL, ended_s REAL, outcome TEXT, fault TEXT,
  thinned INTEGER NOT NULL DEFAULT 0);
CREATE TABLE electrodes (run INTEGER NOT NULL REFERENCES runs, number INTEGER NOT NULL,
  name TEXT NOT NULL, hanger INTEGER NOT NULL, area_start_cm2 REAL NOT NULL,
  area_cm2 REAL NOT NULL, charge_ah REAL NOT NULL DEFAULT 0,
  charge_low_ah REAL NOT NULL DEFAULT 0, charge_high_ah REAL NOT NULL DEFAULT 0,
  mass_g REAL NOT NULL DEFAULT 0, thickness_um REAL NOT NULL DEFAULT 0,
  thickness_low_um REAL NOT NULL DEFAULT 0, thickness_high_um REAL NOT NULL DEFAULT 0,
  PRIMARY KEY (run, number)) WITHOUT ROWID;
CREATE TABLE envelopes (id INTEGER PRIMARY KEY, run INTEGER NOT NULL REFERENCES runs,
  t_s REAL NOT NULL, current_a REAL NOT NULL, voltage_v REAL NOT NULL, until_s REAL NOT NULL);
CREATE TABLE readings (run INTEGER NOT NULL, number INTEGER NOT NULL, t_s REAL NOT NULL,
  current_a REAL, voltage_v REAL, setpoint_a REAL NOT NULL, mode TEXT, charge_ah REAL NOT NULL,
  thickness_um REAL NOT NULL, PRIMARY KEY (run, number)) WITHOUT ROWID;
CREATE TABLE events (id INTEGER PRIMARY KEY, run INTEGER NOT NULL REFERENCES runs,
  t_s REAL NOT NULL, code TEXT NOT NULL, text TEXT NOT NULL);
CREATE TABLE states (id INTEGER PRIMARY KEY, run INTEGER NOT NULL REFERENCES runs,
  t_s REAL NOT NULL, state TEXT NOT NULL);
INSERT INTO runs (run, job, job_text, station, bath, began, simulated, charge_ah, ended_s, outcome)
  VALUES (7, 'one stem', '', 'north tank', 'acid-copper-plain', 'then', 0, 1.5, 3600, 'finished');
INSERT INTO electrodes (run, number, name, hanger, area_start_cm2, area_cm2, mass_g)
  VALUES (7, 0, 'stem', 0, 6.8, 7.9, 1.78);
INSERT INTO readings VALUES (7, 0, 1.0, 0.1, 1.2, 0.1, 'CC', 0.5, 12.5);
PRAGMA user_version = 1;
";

/// What the second layout added, as it was shipped.
const SECOND_LAYOUT: &str = "
CREATE TABLE weighings (id INTEGER PRIMARY KEY, run INTEGER NOT NULL, number INTEGER NOT NULL,
  weighed TEXT NOT NULL, mass_g REAL NOT NULL,
  FOREIGN KEY (run, number) REFERENCES electrodes (run, number));
CREATE TABLE gaugings (id INTEGER PRIMARY KEY, run INTEGER NOT NULL, number INTEGER NOT NULL,
  gauged TEXT NOT NULL, thickness_um REAL NOT NULL,
  FOREIGN KEY (run, number) REFERENCES electrodes (run, number));
INSERT INTO gaugings (run, number, gauged, thickness_um) VALUES (7, 0, 'then', 140.0);
PRAGMA user_version = 2;
";

/// What the third layout added, as it was shipped.
const THIRD_LAYOUT: &str = "
ALTER TABLE runs ADD COLUMN shown_um REAL;
ALTER TABLE runs ADD COLUMN governing INTEGER;
UPDATE runs SET shown_um = 13.5, governing = 0;
PRAGMA user_version = 3;
";

/// What the fourth layout added, as it was shipped.
const FOURTH_LAYOUT: &str = "
ALTER TABLE electrodes ADD COLUMN hangs INTEGER NOT NULL DEFAULT 1;
ALTER TABLE electrodes ADD COLUMN on_s REAL;
CREATE TABLE papers (id INTEGER PRIMARY KEY, run INTEGER NOT NULL REFERENCES runs,
  t_s REAL NOT NULL, path TEXT NOT NULL, pieces_text TEXT NOT NULL);
PRAGMA user_version = 4;
";

/// What the fifth layout added, as it was shipped.
const FIFTH_LAYOUT: &str = "
CREATE TABLE bath_entries (id INTEGER PRIMARY KEY, bath TEXT NOT NULL, at TEXT NOT NULL,
  kind TEXT NOT NULL, substance TEXT NOT NULL, mass_g REAL, volume_ml REAL, surface_cm2 REAL,
  held_g_per_l REAL);
CREATE INDEX bath_entries_of_bath ON bath_entries (bath);
ALTER TABLE runs ADD COLUMN bath_ledger TEXT;
CREATE TABLE looks (id INTEGER PRIMARY KEY, run INTEGER NOT NULL REFERENCES runs, at TEXT NOT NULL,
  look TEXT NOT NULL);
CREATE INDEX looks_of_run ON looks (run);
INSERT INTO bath_entries (bath, at, kind, substance, volume_ml)
  VALUES ('south tank', '2026-01-02T03:04:05+00:00', 'made', 'acid-copper-bright', 6000.0);
PRAGMA user_version = 5;
";

/// How sure the gauge reading of the first piece is.
fn piece_doubt(ledger: &Ledger) -> Option<f64> {
    ledger.pieces().unwrap()[0].gauge_doubt.map(Length::um)
}

/// What the sixth layout added, as it was shipped.
const SIXTH_LAYOUT: &str = "
ALTER TABLE bath_entries ADD COLUMN profile_text TEXT;
ALTER TABLE runs ADD COLUMN stirred INTEGER;
PRAGMA user_version = 6;
";

#[test]
fn a_file_of_any_older_layout_is_brought_up_to_date_with_its_runs() {
    let layouts = [
        FIRST_LAYOUT,
        SECOND_LAYOUT,
        THIRD_LAYOUT,
        FOURTH_LAYOUT,
        FIFTH_LAYOUT,
        SIXTH_LAYOUT,
    ];
    for count in 1..=layouts.len() {
        let folder = Folder::new();
        std::fs::create_dir(folder.ledger().parent().unwrap()).unwrap();
        let older = Connection::open(folder.ledger()).unwrap();
        for layout in &layouts[..count] {
            older.execute_batch(layout).unwrap();
        }
        drop(older);
        let mut store = SqliteStore::open(&folder.ledger(), Batch::Each).unwrap();
        let weighed = Mass::from_g(1.81);
        store
            .weigh(7, "stem", weighed, "the morning after")
            .unwrap();
        let ledger = Ledger::open_read(&folder.ledger()).unwrap();
        let record = ledger.run(7).unwrap();
        assert_eq!(
            (record.head.job.as_str(), record.state()),
            ("one stem", State::Finished)
        );
        let shown = if count >= 3 { 13.5 } else { 12.5 };
        assert!(close(record.thickness.unwrap().um(), shown), "from {count}");
        assert!(record.electrodes[0].hangs, "from {count}");
        let head = &record.head;
        assert_eq!((head.peak_to_mean, piece_doubt(&ledger)), (None, None));
        assert_eq!(
            (&head.bath_ledger, head.stirred),
            (&None, None),
            "from {count}"
        );
        assert!(
            ledger.bath("north tank").unwrap().is_none() && ledger.looks(7).unwrap().is_empty()
        );
        let south = ledger.bath("south tank").unwrap().map(|row| row.made);
        let found = south.map(|made| (made.substance, made.profile_text));
        let made = (count >= 5).then(|| ("acid-copper-bright".to_owned(), None));
        assert_eq!(found, made, "from {count}");
        let piece = &ledger.pieces().unwrap()[0];
        assert!(close(piece.weighed.unwrap().g(), 1.81));
        let gauged = piece.gauged.map(Length::um);
        assert_eq!(gauged, (count > 1).then_some(140.0), "from {count}");
        let plain = Connection::open(folder.ledger()).unwrap();
        let version: i64 = plain
            .query_row("PRAGMA user_version", [], |row| row.get(0))
            .unwrap();
        assert_eq!(version, 7);
    }
}

/// Pieces that are hung come after the others and before the hangers, each with its own account.
#[test]
fn pieces_that_are_hung_stand_before_the_hangers() {
    let folder = Folder::new();
    let mut store = SqliteStore::open(&folder.ledger(), Batch::Each).unwrap();
    let named = |name: &str, hanger: bool| ElectrodeHead {
        name: name.to_owned(),
        hanger,
        area: Area::from_cm2(if hanger { 2.0 } else { 10.0 }),
    };
    let first = [("a", false), ("hanger 1", true), ("hanger 2", true)];
    let run = store
        .begin(&RunHead {
            electrodes: first.map(|(name, hanger)| named(name, hanger)).into(),
            ..RunHead::default()
        })
        .unwrap();
    let accounts = |figures: &[f64]| Entry::Accounts {
        at: s(10.0),
        charge: ah(1.0, 2.0, 3.0),
        electrodes: figures.iter().map(|ah| account(*ah, 50.0)).collect(),
        shown: Length::from_um(50.0),
        governing: Some(0),
    };
    store.append(run, &accounts(&[1.0, 2.0, 3.0])).unwrap();
    store.commit().unwrap();
    // Accounts of before the change are superseded, not mixed up with those after it.
    store.append(run, &accounts(&[1.5, 2.5, 3.5])).unwrap();
    let paper = Paper {
        path: "more.toml".to_owned(),
        text: "[[piece]]".to_owned(),
    };
    let change = Rehung {
        code: HUNG,
        text: "hung: b".to_owned(),
        added: vec![named("b", false)],
        hang: vec![false, true, true, true],
        paper: Some(paper.clone()),
    };
    store
        .append(
            run,
            &Entry::Rehung {
                at: s(11.0),
                change,
            },
        )
        .unwrap();
    store.append(run, &accounts(&[4.0, 5.0, 6.0, 7.0])).unwrap();
    store.commit().unwrap();
    let record = Ledger::open_read(&folder.ledger())
        .unwrap()
        .run(run)
        .unwrap();
    let read = record.electrodes.iter().map(|one| {
        let name = one.head.name.as_str();
        (name, one.hangs, one.account.charge.best.ah())
    });
    assert_eq!(
        read.collect::<Vec<_>>(),
        [
            ("a", false, 4.0),
            ("b", true, 5.0),
            ("hanger 1", true, 6.0),
            ("hanger 2", true, 7.0)
        ]
    );
    assert_eq!(record.papers, [paper]);
    assert_eq!(record.events[0].code, "hung");
    let mistaken = store.append(run, &accounts(&[1.0, 2.0, 3.0]));
    assert!(mistaken.unwrap_err().to_string().contains("4 electrodes"));
}

#[test]
fn strange_files_are_refused_and_left_as_they_are() {
    let folder = Folder::new();
    let path = folder.ledger();
    std::fs::create_dir(path.parent().unwrap()).unwrap();
    let open = || {
        SqliteStore::open(&path, Batch::Each)
            .unwrap_err()
            .to_string()
    };

    std::fs::write(
        &path,
        "a shopping list, and long enough to be taken for a header of a file\n".repeat(9),
    )
    .unwrap();
    assert!(open().contains("not even an SQLite file"), "{}", open());

    std::fs::remove_file(&path).unwrap();
    let theirs = Connection::open(&path).unwrap();
    theirs
        .execute_batch("CREATE TABLE birds (name TEXT)")
        .unwrap();
    assert!(open().contains("another program"), "{}", open());
    let tables: i64 = theirs
        .query_row("SELECT count(*) FROM sqlite_master", [], |row| row.get(0))
        .unwrap();
    assert_eq!(tables, 1);

    theirs
        .execute_batch("PRAGMA application_id = 1853251956; PRAGMA user_version = 99")
        .unwrap();
    assert!(
        open().contains("layout 99") && open().contains("newer"),
        "{}",
        open()
    );

    let nowhere = Ledger::open_read(&folder.0.path().join("none.db")).unwrap_err();
    assert!(nowhere.what.contains("is not there"), "{nowhere}");
    assert!(!folder.0.path().join("none.db").exists());

    let under_a_file = SqliteStore::open(&path.join("ledger.db"), Batch::Each).unwrap_err();
    assert!(
        under_a_file.what.contains("cannot be made"),
        "{under_a_file}"
    );
}

#[test]
fn an_interrupted_run_that_goes_on_has_no_end_until_it_ends_again() {
    let folder = Folder::new();
    let mut store = SqliteStore::open(&folder.ledger(), Batch::Each).unwrap();
    let run = store.begin(&head()).unwrap();
    let broken = Outcome::Interrupted(Fault::DaemonLost);
    append(&mut store, run, &[reading(1.0, 0.1), ended(2.0, broken)]);
    store.commit().unwrap();
    let text = "a person had it go on".to_owned();
    let went = Entry::WentOn { at: s(60.0), text };
    append(&mut store, run, &[went, reading(61.0, 0.1)]);
    store.commit().unwrap();
    let ledger = Ledger::open_read(&folder.ledger()).unwrap();
    assert_eq!(ledger.run(run).unwrap().ending, None);
    assert_eq!(ledger.unfinished().unwrap()[0].id, run);
    let event = ledger.run(run).unwrap().events.pop().unwrap();
    assert_eq!((event.at, event.code.as_str()), (s(60.0), "went-on"));
    append(&mut store, run, &[ended(70.0, Outcome::Finished)]);
    store.commit().unwrap();
    let ending = ledger.run(run).unwrap().ending.unwrap();
    assert_eq!((ending.at, ending.outcome), (s(70.0), Outcome::Finished));
    assert_eq!(ledger.readings(run).unwrap().len(), 2);
}

#[test]
fn an_entry_the_disk_would_refuse_does_not_stop_those_after_it() {
    let folder = Folder::new();
    let mut store = SqliteStore::open(&folder.ledger(), Batch::Each).unwrap();
    let run = store.begin(&head()).unwrap();
    let refusals = [
        (run, reading(f64::NAN, 0.1), "not a number"),
        (run, reading(1.0, f64::INFINITY), "not a number"),
        (run, accounts(1.0, f64::NAN), "not a number"),
        (run + 5, reading(1.0, 0.1), "no run 6"),
        (
            run,
            Entry::Accounts {
                at: s(1.0),
                charge: ah(0.0, 1.0, 2.0),
                electrodes: Vec::new(),
                shown: Length::ZERO,
                governing: None,
            },
            "2 electrodes",
        ),
    ];
    for (run, entry, what) in &refusals {
        let said = store.append(*run, entry).unwrap_err().to_string();
        assert!(said.contains(what), "{said}");
    }
    append(&mut store, run, &[reading(2.0, 0.1)]);
    store.commit().unwrap();
    assert_eq!(
        Ledger::open_read(&folder.ledger())
            .unwrap()
            .readings(run)
            .unwrap()
            .len(),
        1
    );
}

#[test]
fn two_stations_write_one_ledger_by_turns() {
    let folder = Folder::new();
    let mut north = SqliteStore::open(&folder.ledger(), Batch::Each).unwrap();
    let mut south = SqliteStore::open(&folder.ledger(), Batch::Each).unwrap();
    let (a, b) = (north.begin(&head()).unwrap(), south.begin(&head()).unwrap());
    assert_ne!(a, b);
    append(&mut north, a, &[reading(1.0, 0.1)]); // waits, and locks nobody out
    append(&mut south, b, &[reading(1.0, 0.2), reading(2.0, 0.2)]);
    south.commit().unwrap();
    north.commit().unwrap();
    let ledger = Ledger::open_read(&folder.ledger()).unwrap();
    assert_eq!(ledger.readings(a).unwrap().len(), 1);
    assert_eq!(ledger.readings(b).unwrap().len(), 2);
}

#[test]
fn an_unfinished_run_says_how_much_can_have_flowed() {
    let folder = Folder::new();
    let mut store = SqliteStore::open(&folder.ledger(), Batch::Each).unwrap();
    let run = store.begin(&head()).unwrap();
    append(
        &mut store,
        run,
        &[
            envelope(0.0, 1_200.0, 2.0),
            reading(598.0, 1.5),
            accounts(600.0, 1.0), // its upper bound is 2 Ah
            envelope(900.0, 1_500.0, 3.0),
        ],
    );
    store.commit().unwrap();
    let open = Ledger::open_read(&folder.ledger())
        .unwrap()
        .unfinished()
        .unwrap();
    assert_eq!((open.len(), open[0].id), (1, run));
    assert_eq!(open[0].last_reading.unwrap().at, s(598.0));
    // By hand: 600 to 900 s at 2 A, 900 to 1500 s at 3 A: 2400 A·s, which is 2/3 Ah.
    assert!(
        close(open[0].charge_at_most.ah(), 2.0 + 2.0 / 3.0),
        "{:?}",
        open[0]
    );
    assert_eq!(open[0].allowed_until, s(1_500.0));
}

/// An hour and a half of readings in 90 s steps of current, with an event in the middle.
fn long_run(store: &mut SqliteStore) -> RunId {
    let run = store.begin(&head()).unwrap();
    append(
        store,
        run,
        &[Entry::Entered {
            at: s(0.0),
            state: State::Building,
        }],
    );
    for second in 0..43_200_i32 {
        let at = f64::from(second);
        append(
            store,
            run,
            &[reading(at, 1.0 + f64::from(second % 90) * 0.01)],
        );
    }
    let event = Entry::Event {
        at: s(20_000.0),
        code: "gap",
        text: "a gap".to_owned(),
    };
    append(store, run, &[event]);
    run
}

#[test]
fn thinning_keeps_the_charge_exact_and_the_minutes_around_events_whole() {
    let folder = Folder::new();
    let mut store = SqliteStore::open(&folder.ledger(), Batch::AtLeast(100_000)).unwrap();
    let run = long_run(&mut store);
    let early = store.thin(run).unwrap_err();
    assert!(early.what.contains("only when it is over"), "{early}");
    append(&mut store, run, &[ended(43_200.0, Outcome::Finished)]);
    store.commit().unwrap();
    let ledger = Ledger::open_read(&folder.ledger()).unwrap();
    let before = ledger.readings(run).unwrap();
    let left = store.thin(run).unwrap();
    let after = ledger.readings(run).unwrap();

    assert_eq!((before.len(), after.len()), (43_200, left));
    // 600 s after the start, 600 s on both sides of the event, 600 s before the end: 2401 rows, and
    // at most 2000 of the rest.
    assert!((2_401..=4_402).contains(&left), "{left}");
    let within = |row: &&ReadingEntry| (19_400.0..=20_600.0).contains(&row.at.s());
    assert_eq!(after.iter().filter(within).count(), 1_201);
    for row in &after {
        let at = before.iter().find(|other| other.at == row.at);
        assert_eq!(at, Some(row), "a kept reading was altered");
    }
    assert_eq!(after.last(), before.last());
    let highest = |rows: &[ReadingEntry]| {
        rows.iter()
            .filter_map(|row| row.current)
            .fold(Current::ZERO, Current::max)
    };
    assert_eq!(highest(&after), highest(&before));
    assert!(ledger.run(run).unwrap().thinned);
    assert_eq!(
        store.thin(run).unwrap(),
        left,
        "a second thinning finds less to keep"
    );
}

#[test]
fn the_scale_and_the_gauge_stand_beside_the_piece_they_measured() {
    let folder = Folder::new();
    let mut store = SqliteStore::open(&folder.ledger(), Batch::Each).unwrap();
    let run = store.begin(&head()).unwrap();
    store
        .weigh(run, "seed head a", Mass::from_g(7.8), "first")
        .unwrap();
    store
        .weigh(run, "seed head a", Mass::from_g(7.9), "dry")
        .unwrap();
    store
        .gauge(
            run,
            "seed head a",
            (Length::from_um(180.0), Some(Length::from_um(6.0))),
            "wet",
        )
        .unwrap();
    let ledger = Ledger::open_read(&folder.ledger()).unwrap();
    assert_eq!(piece_doubt(&ledger), Some(6.0));
    store
        .gauge(run, "seed head a", (Length::from_um(188.0), None), "dry")
        .unwrap();
    let wrong = store
        .weigh(run, "hanger 1", Mass::from_g(1.0), "dry")
        .unwrap_err();
    assert!(wrong.what.contains("no piece `hanger 1`"), "{wrong}");
    let pieces = Ledger::open_read(&folder.ledger())
        .unwrap()
        .pieces()
        .unwrap();
    assert_eq!(pieces.len(), 1);
    assert!(close(pieces[0].weighed.unwrap().g(), 7.9));
    assert!(close(pieces[0].gauged.unwrap().um(), 188.0));
    // The last reading counts with its own doubt, and nothing was said of that one.
    assert_eq!(piece_doubt(&ledger), None);
}

/// What a run has learnt does not change under it: a reading that was taken after it began counts
/// for the next one only, whatever the offset it is written with.
#[test]
fn a_run_that_goes_on_knows_what_was_known_when_it_began() {
    let folder = Folder::new();
    let mut store = SqliteStore::open(&folder.ledger(), Batch::Each).unwrap();
    let job = "[[piece]]\nname = \"stem\"\nsurface = \"metal\"\n\
               shape = { kind = \"area\", area = \"5 cm2\" }\n";
    let mut run = |began: &str| {
        let head = RunHead {
            job_text: job.to_owned(),
            began: began.to_owned(),
            electrodes: vec![ElectrodeHead {
                name: "stem".to_owned(),
                hanger: false,
                area: Area::from_cm2(5.0),
            }],
            ..RunHead::default()
        };
        store.begin(&head).unwrap()
    };
    let first = run("2026-11-20T20:00:00+01:00");
    let second = run("2026-11-24T20:00:00+01:00");
    let mut gauge = |um: f64, when: &str| {
        let read = Length::from_um(um);
        store.gauge(first, "stem", (read, None), when).unwrap();
    };
    gauge(150.0, "2026-11-21T09:00:00+01:00");
    // An hour after the second began, though the hand of its clock shows less.
    gauge(170.0, "2026-11-24T15:00:00-05:00");
    gauge(180.0, "2026-11-24T20:30:00+01:00");
    let ledger = Ledger::open_read(&folder.ledger()).unwrap();
    let gauged = |before: Option<RunId>| {
        let earlier = ledger.earlier(before).unwrap();
        earlier.first().and_then(|one| one.gauged).map(Length::um)
    };
    assert_eq!(gauged(Some(second)), Some(150.0));
    assert_eq!(gauged(None), Some(180.0));
}

/// A piece that was hung into a run is of the kind that its own file of pieces says, and what was
/// measured on it is known like that of any other.
#[test]
fn a_piece_that_was_hung_later_is_known_by_its_own_file() {
    let folder = Folder::new();
    let mut store = SqliteStore::open(&folder.ledger(), Batch::Each).unwrap();
    let piece = |name: &str, mm: u32| {
        format!(
            "[[piece]]\nname = \"{name}\"\nsurface = \"metal\"\n\
             shape = {{ kind = \"wire\", diameter = \"1.2 mm\", length = \"{mm} mm\" }}\n"
        )
    };
    let named = |name: &str| ElectrodeHead {
        name: name.to_owned(),
        hanger: false,
        area: Area::from_cm2(6.8),
    };
    let head = RunHead {
        job_text: piece("stem", 180),
        bath: "acid-copper-plain".to_owned(),
        electrodes: vec![named("stem")],
        ..RunHead::default()
    };
    let run = store.begin(&head).unwrap();
    let change = Rehung {
        code: HUNG,
        text: "hung: stalk".to_owned(),
        added: vec![named("stalk")],
        hang: vec![true, true],
        paper: Some(Paper {
            path: "more.toml".to_owned(),
            text: piece("stalk", 150),
        }),
    };
    let at = s(11.0);
    store.append(run, &Entry::Rehung { at, change }).unwrap();
    store.commit().unwrap();
    let read = Length::from_um(120.0);
    store.gauge(run, "stalk", (read, None), "dry").unwrap();
    let earlier = Ledger::open_read(&folder.ledger()).unwrap();
    let earlier = earlier.earlier(None).unwrap();
    let [one] = earlier.as_slice() else {
        panic!("{earlier:?}");
    };
    assert_eq!((one.name.as_str(), one.gauged), ("stalk", Some(read)));
    assert_eq!(one.bath, "acid-copper-plain");
    // A job that has such a piece knows it by the same kind; one of another length does not.
    let kind = |mm| nightvat::spec::kinds(&piece("stalk", mm))["stalk"].clone();
    assert_eq!(one.kind, kind(150));
    assert_ne!(one.kind, kind(180));
}
