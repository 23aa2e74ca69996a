//! A station that works on while one thing after the other goes wrong: the real programs, one
//! daemon throughout, and what it holds of memory, descriptors and disk after each.

use super::plant::{Daemon, Plant, signal, wait};
use std::fs;
use std::io::Write;
use std::os::unix::net::UnixStream;
use std::thread::sleep;
use std::time::{Duration, Instant};

/// What goes wrong, in turn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Wrong {
    KeeperKilled,
    KeeperStopped,
    SupplySilent,
    SupplyUnplugged,
    DaemonStopped,
    LedgerHeld,
    Flooded,
    SecondDaemon,
    Paused,
    StoppedByHand,
}

pub(crate) const ALL: [Wrong; 10] = [
    Wrong::KeeperKilled,
    Wrong::KeeperStopped,
    Wrong::SupplySilent,
    Wrong::SupplyUnplugged,
    Wrong::DaemonStopped,
    Wrong::LedgerHeld,
    Wrong::Flooded,
    Wrong::SecondDaemon,
    Wrong::Paused,
    Wrong::StoppedByHand,
];

/// What the daemon holds while nothing runs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Held {
    pub(crate) resident_kb: u64,
    pub(crate) descriptors: usize,
    pub(crate) threads: u64,
    pub(crate) ledger_bytes: u64,
    /// What SQLite keeps beside it until it has a thousand pages.
    pub(crate) journal_bytes: u64,
    pub(crate) log_bytes: u64,
}

/// Lets it go wrong while current flows, sees the end of it by the emulator's own account, and has
/// the station at rest again. The state the run ended in.
pub(crate) fn goes_wrong(plant: &mut Plant, daemon: &Daemon, wrong: Wrong) -> String {
    let pid = daemon.child.id();
    match wrong {
        Wrong::KeeperKilled => signal(plant.keeper().unwrap(), "KILL"),
        Wrong::KeeperStopped => signal(plant.keeper().unwrap(), "STOP"),
        Wrong::SupplySilent => {
            signal(plant.emulator(), "STOP");
            sleep(Duration::from_secs(2));
            signal(plant.emulator(), "CONT");
        }
        Wrong::SupplyUnplugged => plant.replug(Duration::from_secs(1)),
        Wrong::DaemonStopped => {
            signal(pid, "STOP");
            sleep(Duration::from_secs(6));
            assert_eq!(plant.account()["output_on"], false, "the lease has lapsed");
            signal(pid, "CONT");
        }
        Wrong::LedgerHeld => {
            let holder = rusqlite::Connection::open(plant.path("state/ledger.db")).unwrap();
            holder.execute_batch("BEGIN IMMEDIATE").unwrap();
            plant.in_state("tripped");
            holder.execute_batch("ROLLBACK").unwrap();
        }
        Wrong::Flooded => flood(plant),
        Wrong::SecondDaemon => {
            let words = plant.serve_words();
            let second = plant.run(&words.each_ref().map(String::as_str));
            assert_eq!(second.refused(5), "busy");
        }
        Wrong::Paused => {
            plant.run(&["pause", "--json"]).json(0);
            assert_eq!(plant.account()["output_on"], false);
            plant.run(&["resume", "--json"]).json(0);
        }
        Wrong::StoppedByHand => {}
    }
    at_rest(plant, wrong)
}

/// What ends a run is waited for; what does not is followed by a person's stop.
fn at_rest(plant: &Plant, wrong: Wrong) -> String {
    let goes_on = match wrong {
        Wrong::Flooded | Wrong::SecondDaemon | Wrong::Paused | Wrong::StoppedByHand => true,
        Wrong::KeeperKilled
        | Wrong::KeeperStopped
        | Wrong::SupplySilent
        | Wrong::SupplyUnplugged
        | Wrong::DaemonStopped
        | Wrong::LedgerHeld => false,
    };
    if goes_on {
        plant.flows();
        plant.run(&["stop", "--json"]).json(0);
    }
    let over = wait("the end of the run", || {
        let state = plant.status()["state"].as_str().unwrap().to_owned();
        ["tripped", "interrupted", "stopped"]
            .contains(&state.as_str())
            .then_some(state)
    });
    assert_eq!(over == "stopped", goes_on, "{wrong:?} ended {over}");
    let account = plant.account();
    assert_eq!(account["output_on"], false, "{wrong:?}: {account}");
    plant.run(&["clear", "--json"]).json(0);
    plant.in_state("idle");
    over
}

fn flood(plant: &Plant) {
    let mut held = Vec::new();
    for at in 0..40 {
        let mut asker = UnixStream::connect(plant.path("state/nightvat.sock")).unwrap();
        let words: &[u8] = match at % 3 {
            0 => b"GET /status HTTP/1.1\r\nhost: n\r\n",
            1 => b"\x00\xff nonsense\r\n\r\n",
            _ => b"POST /start HTTP/1.1\r\nhost: n\r\ncontent-length: 900000000\r\n\r\n{",
        };
        // It may be hung up on.
        let _ = asker.write_all(words);
        held.push(asker);
    }
    sleep(Duration::from_secs(1));
}

/// What it holds now, at rest; connections that are being closed get a moment.
pub(crate) fn held(plant: &Plant, daemon: &Daemon) -> Held {
    sleep(Duration::from_millis(1500));
    let pid = daemon.child.id();
    let status = fs::read_to_string(format!("/proc/{pid}/status")).unwrap();
    let number = |key: &str| -> u64 {
        let line = status.lines().find(|line| line.starts_with(key)).unwrap();
        line.split_whitespace().nth(1).unwrap().parse().unwrap()
    };
    let size = |name: &str| fs::metadata(plant.path(name)).map_or(0, |file| file.len());
    Held {
        resident_kb: number("VmRSS:"),
        descriptors: fs::read_dir(format!("/proc/{pid}/fd")).unwrap().count(),
        threads: number("Threads:"),
        ledger_bytes: size("state/ledger.db"),
        journal_bytes: size("state/ledger.db-wal"),
        log_bytes: size("state/keeper.log"),
    }
}

/// Starts the next run and lets it flow for so long. False if it ended by itself: on a clock that
/// runs faster a busy machine looks like a supply that stalls.
pub(crate) fn flows_for(plant: &Plant, span: Duration) -> bool {
    let until = Instant::now() + span;
    // Where the proving itself fails the state below says so.
    if plant.run(&["start", "job.toml", "--json"]).code == Some(0) {
        sleep(until.saturating_duration_since(Instant::now()));
    }
    let status = plant.status();
    if status["state"] == "building" {
        return true;
    }
    let over = wait("the end of the run", || {
        Some(plant.status()).filter(|status| status["latch"].is_object())
    });
    println!("ended by itself: {}", over["latch"]);
    assert_eq!(plant.account()["output_on"], false, "{over}");
    plant.run(&["clear", "--json"]).json(0);
    plant.in_state("idle");
    false
}
