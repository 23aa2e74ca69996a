//! SIGKILL of the daemon before the nth of its calls that change anything outside it: ledger,
//! sockets, the pipe to its keeper, files. The program is the real one and knows nothing of it; the
//! tracer stands between it and its kernel.
//!
//! One night is scripted: serve, start, proving, building, the target, thinning, SIGTERM. It is
//! lived once to its end to count its calls, then once for each of them.

use super::plant::{Plant, wait};
use super::tracer::{Call, Deed, Traced};
use nightvat::ledger::Ledger;
use serde_json::Value;
use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

/// The lease is 5 s; off is confirmed within a second more.
const LEASE_AND_A_SECOND: Duration = Duration::from_secs(6);
/// Readings are made durable every 5 s of the station's clock; one period more may be in hand.
const BATCH_S: f64 = 6.0;
/// A commit in flight, and the wake of a busy machine, in real seconds.
const IN_FLIGHT_S: f64 = 0.25;
const AMPS: f64 = 0.75;
/// No night lasts longer, whatever is done to it.
const LONGEST: Duration = Duration::from_secs(60);

/// What one death showed.
#[derive(Clone, Debug)]
pub(crate) struct Death {
    /// What was about to be done.
    pub(crate) at: String,
    /// From the death until the emulator's account said off; `None` if nothing was armed.
    pub(crate) off_s: f64,
    /// Seconds of the station's clock whose current is not in the ledger.
    pub(crate) lost_s: f64,
    /// The run was broken off, and the next daemon said so.
    pub(crate) interrupted: bool,
}

/// A night that has been lived.
pub(crate) struct Lived {
    /// The calls it made.
    pub(crate) calls: u64,
    /// The last state the person saw; `None` if the daemon did not answer.
    pub(crate) over: Option<String>,
    pub(crate) ended: Instant,
}

/// Lives the night, with each of its calls judged by `deed`.
pub(crate) fn night(plant: &Plant, deed: &mut dyn FnMut(&Call) -> Deed) -> Lived {
    let words = plant.serve_words();
    let command = plant.command(&words.each_ref().map(String::as_str));
    let mut traced = Traced::begin(&command);
    let pid = traced.child.id();
    let begun = Instant::now();
    let over = std::thread::scope(|scope| {
        let script = scope.spawn(|| script(plant, pid));
        traced.serve(deed, &mut || begun.elapsed() > LONGEST);
        assert!(
            traced.is_gone(),
            "a daemon that does not end: {}",
            plant.log()
        );
        script.join().unwrap()
    });
    Lived {
        calls: traced.calls,
        over,
        ended: Instant::now(),
    }
}

/// The person's part of the night. The daemon may be dead at any word.
fn script(plant: &Plant, daemon: u32) -> Option<String> {
    let alive = || super::plant::is_alive(daemon);
    let look = |states: &[&str]| {
        let until = Instant::now() + LONGEST / 2;
        while alive() && Instant::now() < until {
            let status = plant.run(&["status", "--json"]);
            let status: Value = serde_json::from_str(&status.out).unwrap_or_default();
            if let Some(state) = states.iter().find(|state| status["state"] == **state) {
                return Some((*state).to_owned());
            }
            std::thread::sleep(Duration::from_millis(100));
        }
        None
    };
    let mut over = look(&["idle", "interrupted"]);
    if over.as_deref() == Some("idle") {
        plant.run(&["start", "job.toml", "--json", "--no-wait"]);
        over = look(&["finished", "tripped", "interrupted", "stopped", "idle"]);
    }
    // Thinning follows the end.
    std::thread::sleep(Duration::from_millis(200));
    if alive() {
        super::plant::signal(daemon, "TERM");
    }
    over
}

/// How many calls the whole night makes. A machine with other work may stall for a sixth of a
/// second, which is a lost link on this hurried clock: such a night is not whole, and begun again.
pub(crate) fn count(plant: &mut Plant) -> u64 {
    for attempt in 1..=4 {
        plant.state = format!("state-whole-{attempt}");
        let lived = night(plant, &mut |_| Deed::Nothing);
        let ledger = plant.path(&plant.state).join("ledger.db");
        let run = Ledger::open_read(&ledger).unwrap().run(1).unwrap();
        let ending = run.ending.expect("a whole night");
        if ending.outcome.state().word() == "finished" {
            return lived.calls;
        }
    }
    panic!("four nights, and none was whole: {}", plant.log());
}

/// Dies before the `nth` call, and looks at everything that must hold then; `None` if the night
/// made fewer.
pub(crate) fn death(plant: &mut Plant, nth: u64) -> Option<Death> {
    plant.state = format!("state-{nth}");
    let before = charge(&plant.account());
    let mut last = None;
    let mut deed = |call: &Call| {
        if call.number != nth {
            return Deed::Nothing;
        }
        last = Some(call.clone());
        Deed::Kill
    };
    let died = night(plant, &mut deed).ended;
    let call = last?;
    // Off, by the emulator's own account, and confirmed by the keeper's reading.
    let off = wait("a dead cell", || {
        let account = plant.account();
        (account["output_on"] == false).then(|| died.elapsed())
    });
    wait("no keeper that is still at it", || {
        plant.keeper().is_none().then_some(())
    });
    assert!(off <= LEASE_AND_A_SECOND, "{nth}: off only after {off:?}");
    let flowed = charge(&plant.account()) - before;
    let path = plant.path(&plant.state).join("ledger.db");
    let lost_s = sound(&path, nth).map_or(0.0, |known| (flowed - known).max(0.0) * 3600.0 / AMPS);
    // Off takes real time too, and the bound of the next daemon holds what flowed in it.
    let allowed = BATCH_S + (IN_FLIGHT_S + off.as_secs_f64()) * f64::from(plant.speed);
    assert!(lost_s <= allowed, "{nth}, {call:?}: {lost_s} s lost");
    let interrupted = reopens(plant, nth, flowed);
    let _ = fs::remove_dir_all(plant.path(&plant.state));
    Some(Death {
        at: format!("{} {}", call.name, kind(&call.on)),
        off_s: off.as_secs_f64(),
        lost_s,
        interrupted,
    })
}

/// The next daemon begins, says what there is to say, and raises nothing. Whether it found a run
/// that was broken off.
pub(crate) fn reopens(plant: &Plant, nth: u64, flowed: f64) -> bool {
    let mut next = plant.serve();
    assert_eq!(next.said["confirmed_off"], true, "{nth}: {}", next.said);
    let salvage = &next.said["salvage"];
    let broken = salvage.is_object();
    if broken {
        let bound = |key: &str| salvage[key].as_f64().unwrap();
        let (low, high) = (bound("charge_low_ah"), bound("charge_high_ah"));
        assert!(
            low <= flowed + 1e-9 && flowed <= high + 1e-9,
            "{nth}: {low}..{high} Ah, {flowed} Ah flowed"
        );
    }
    assert_eq!(
        plant.account()["output_on"],
        false,
        "{nth}: it raised something"
    );
    next.signal("TERM");
    assert_eq!(next.ended(), Some(0), "{nth}: {}", plant.log());
    broken
}

/// The file is sound, its readings are a prefix without a gap, and nothing was raised before it was
/// allowed. The charge it knows of the run, if it knows a run.
pub(crate) fn sound(path: &Path, nth: u64) -> Option<f64> {
    if !path.exists() || fs::metadata(path).is_ok_and(|file| file.len() == 0) {
        return None;
    }
    let file = rusqlite::Connection::open(path).unwrap();
    let said: String = file
        .query_row("PRAGMA integrity_check", [], |row| row.get(0))
        .unwrap();
    assert_eq!(said, "ok", "{nth}");
    let Ok(missing) = file.query_row(
        "SELECT coalesce(max(number) + 1, 0) - count(*) FROM readings WHERE run = 1",
        [],
        |row| row.get::<_, i64>(0),
    ) else {
        // It died before it had made its tables.
        return None;
    };
    drop(file);
    let ledger = Ledger::open_read(path).unwrap();
    let run = ledger.run(1).ok()?;
    let readings = ledger.readings(1).unwrap();
    assert!(
        run.thinned || missing == 0,
        "{nth}: {missing} readings are missing"
    );
    let in_order = readings.windows(2).all(|pair| pair[0].at <= pair[1].at);
    assert!(in_order, "{nth}: readings out of their order");
    let flowing = readings
        .iter()
        .find(|reading| reading.current.is_some_and(|current| current.a() > 0.02));
    if let Some(first) = flowing {
        let allowed = run.envelopes.first().expect("an envelope");
        assert!(
            allowed.at <= first.at,
            "{nth}: it flowed before it was allowed"
        );
    }
    Some(run.charge.best.ah())
}

pub(crate) fn charge(account: &Value) -> f64 {
    account["charge_true_ah"].as_f64().unwrap()
}

/// What a path is, without its folder.
pub(crate) fn kind(path: &Path) -> String {
    let text = path.to_string_lossy();
    match path.file_name() {
        _ if text.starts_with("pipe:") => "to the keeper".to_owned(),
        _ if text.starts_with("socket:") || text.starts_with("anon_inode") => "socket".to_owned(),
        Some(name) => name.to_string_lossy().into_owned(),
        None => String::new(),
    }
}

/// Deaths by what was about to be done.
pub(crate) fn by_call(deaths: &[Death]) -> BTreeMap<String, usize> {
    let mut counts = BTreeMap::new();
    for death in deaths {
        *counts.entry(death.at.clone()).or_default() += 1;
    }
    counts
}
