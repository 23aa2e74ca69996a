//! The daemon as people meet it: the real program, on a simulated supply lent on a pseudo-terminal.
//! Each way a run can end is closed by asking the supply's own cell whether current flows; the
//! program never sees that account.

use super::plant::TURN;
use super::plant::job_of;
use super::rig_studio::{clean, flat, job, piece};
use nightvat::ledger::Ledger;
use nightvat::rig::cell::Truth;
use nightvat::rig::instrument::{Instrument, Kind, Quirks};
use nightvat::rig::lend::{LendSettings, Lent};
use nightvat::spec::Surface;
use nightvat::units::Moment;
use rustix::fs::{OFlags, fcntl_getfl, fcntl_setfl};
use serde_json::Value;
use std::fs;
use std::io::{Read, Write};
use std::path::PathBuf;
use std::process::{Child, Command, Output, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

const EXE: &str = env!("CARGO_BIN_EXE_nightvat");
const SPEED: &str = "20";
/// Whatever a test waits for comes within this, or it has failed.
const PATIENCE: Duration = Duration::from_secs(40);

/// A studio: a state folder, a lent supply with a plate in its cell, a station and a job.
struct Studio {
    opened: Instant,
    state: String,
    folder: tempfile::TempDir,
    truth: Arc<Mutex<Option<Truth>>>,
    stop: Arc<AtomicBool>,
    /// While it is set the supply is there and says nothing, its output as it was.
    frozen: Arc<AtomicBool>,
    bench: Option<JoinHandle<()>>,
    /// One studio at a time: each is several processes on a hurried clock.
    _turn: MutexGuard<'static, ()>,
}

impl Studio {
    /// With a plate of this area in the cell; the job always says 50 cm².
    fn open(cm2: f64) -> Self {
        let turn = TURN.lock().unwrap_or_else(PoisonError::into_inner);
        let folder = tempfile::tempdir().unwrap();
        let truth = Arc::new(Mutex::new(None));
        let (stop, frozen) = (
            Arc::new(AtomicBool::new(false)),
            Arc::new(AtomicBool::new(false)),
        );
        let settings = LendSettings {
            link: Some(folder.path().join("port")),
            speed: SPEED.parse().unwrap(),
            start: Moment::ZERO,
            relay_link: None,
            mishaps: Vec::new(),
        };
        let (lent, opened) = (Lent::open(settings).unwrap(), Instant::now());
        let world = clean(&job(vec![piece("plate", Surface::Metal, flat(cm2))]));
        let kind = Kind::Standard;
        let instrument = Instrument::new(kind, Quirks::of(kind), world, Moment::ZERO);
        let (tell, ends, froze) = (Arc::clone(&truth), Arc::clone(&stop), Arc::clone(&frozen));
        let bench = std::thread::spawn(move || {
            let mut said = |truth: &Truth| {
                *tell.lock().unwrap() = Some(truth.clone());
                while froze.load(Ordering::Relaxed) && !ends.load(Ordering::Relaxed) {
                    std::thread::sleep(Duration::from_millis(5));
                }
            };
            lent.serve(instrument, &mut said, &ends).unwrap();
        });
        let port = folder.path().join("port");
        let station = format!(
            "name = \"north tank\"\nsupply = \"scpi-standard\"\nport = \"{}\"\n[limits]\n\
             current = \"3 A\"\nvoltage = \"2.5 V\"\n[tank]\nvolume = \"6 L\"\nstirred = true\n\
             surface = \"300 cm2\"\ngap = \"9 cm\"\n[tank.anode]\narea = \"180 cm2\"\n\
             mass = \"420 g\"\n",
            port.display()
        );
        fs::write(folder.path().join("station.toml"), station).unwrap();
        fs::write(folder.path().join("job.toml"), job_text("100 um")).unwrap();
        Self {
            opened,
            state: "state".to_owned(),
            folder,
            truth,
            stop,
            frozen,
            bench: Some(bench),
            _turn: turn,
        }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// The program with these words, in this studio.
    fn command(&self, words: &[&str]) -> Command {
        let mut command = Command::new(EXE);
        command.args(words).current_dir(self.folder.path());
        command
            .env("NIGHTVAT_STATE", self.path(&self.state))
            .stdin(Stdio::null());
        command
    }

    /// Runs the program to its end.
    fn run(&self, words: &[&str]) -> Done {
        Done::of(&self.command(words).output().unwrap())
    }

    /// Starts a daemon and waits until it answers.
    fn serve(&self) -> Daemon {
        let mut command =
            self.command(&["serve", "station.toml", "--speed", SPEED, "--json", "-v"]);
        let log = fs::File::options()
            .create(true)
            .append(true)
            .open(self.path("log"))
            .unwrap();
        let mut child = command.stdout(Stdio::piped()).stderr(log).spawn().unwrap();
        let mut line = String::new();
        let mut out = std::io::BufReader::new(child.stdout.take().unwrap());
        std::io::BufRead::read_line(&mut out, &mut line).unwrap();
        assert!(line.contains("north tank"), "{line} {}", self.log());
        Daemon { child }
    }

    fn log(&self) -> String {
        fs::read_to_string(self.path("log")).unwrap_or_default()
    }

    /// The cell's account, a simulated second old at most.
    fn truth(&self) -> Truth {
        wait("an account of the cell", || {
            self.truth.lock().unwrap().clone()
        })
    }

    /// Waits until current flows for the job, not only for the proving.
    fn flows(&self) {
        wait("current in the cell", || {
            (self.truth().current_a > 0.1).then_some(())
        });
    }

    /// Waits until nothing flows, as an account says that is younger than this call.
    fn dead_within(&self, at_most: Duration) {
        let (asked, begun) = (self.truth().t_s, Instant::now());
        let off = wait("a dead cell", || {
            let truth = self.truth();
            (truth.t_s > asked && !truth.output_on).then_some(truth)
        });
        assert!(
            begun.elapsed() <= at_most,
            "off only after {:?}",
            begun.elapsed()
        );
        assert!(
            off.current_a.abs() < 1e-6,
            "{} A flow through an output that is off",
            off.current_a
        );
    }

    /// Has the supply fall silent, or speak again.
    fn freeze(&self, silent: bool) {
        self.frozen.store(silent, Ordering::Relaxed);
        if !silent {
            // It lives through what it has missed before it hears anything.
            let speed: f64 = SPEED.parse().unwrap();
            let caught_up = || self.truth().t_s > self.opened.elapsed().as_secs_f64() * speed - 4.0;
            wait("the present", || caught_up().then_some(()));
        }
    }

    fn status(&self) -> Value {
        self.run(&["status", "--json"]).json(0)
    }

    fn in_state(&self, state: &str) -> Value {
        wait(state, || {
            Some(self.status()).filter(|status| status["state"] == state)
        })
    }
}

impl Drop for Studio {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        let ended = self.bench.take().unwrap().join();
        assert!(
            ended.is_ok() || std::thread::panicking(),
            "the lent supply broke"
        );
        if std::thread::panicking() {
            eprintln!("{}", self.log());
        }
    }
}

/// A job of half a night: 50 cm² at 1.5 A/dm2.
fn job_text(target: &str) -> String {
    job_of(&format!("thickness = \"{target}\""))
}

fn wait<T>(what: &str, mut look: impl FnMut() -> Option<T>) -> T {
    let until = Instant::now() + PATIENCE;
    loop {
        if let Some(seen) = look() {
            return seen;
        }
        assert!(Instant::now() < until, "no {what} within {PATIENCE:?}");
        std::thread::sleep(Duration::from_millis(20));
    }
}

/// A command that has ended.
#[derive(Debug)]
struct Done {
    code: Option<i32>,
    out: String,
    err: String,
}

impl Done {
    fn of(output: &Output) -> Self {
        Self {
            code: output.status.code(),
            out: String::from_utf8_lossy(&output.stdout).into_owned(),
            err: String::from_utf8_lossy(&output.stderr).into_owned(),
        }
    }

    /// Its one object, after this exit status.
    fn json(&self, code: i32) -> Value {
        assert_eq!(self.code, Some(code), "{self:?}");
        serde_json::from_str(&self.out).unwrap_or_else(|e| panic!("{e}: {self:?}"))
    }

    /// The word code of its error, after this exit status.
    fn refused(&self, code: i32) -> String {
        self.json(code)["error"]["code"]
            .as_str()
            .unwrap()
            .to_owned()
    }
}

/// A daemon; dropped, it is killed.
struct Daemon {
    child: Child,
}

impl Daemon {
    fn signal(&self, name: &str) {
        signal(self.child.id(), name);
    }

    /// Waits for its end: the exit status.
    fn ended(&mut self) -> Option<i32> {
        wait("end of the daemon", || self.child.try_wait().unwrap()).code()
    }
}

impl Drop for Daemon {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn signal(pid: u32, name: &str) {
    let sent = Command::new("kill")
        .args(["-s", name, &pid.to_string()])
        .status()
        .unwrap();
    assert!(sent.success(), "kill -s {name} {pid}");
}

fn keeper_of(status: &Value) -> u32 {
    u32::try_from(status["keeper"].as_u64().expect("a keeper")).unwrap()
}

#[test]
fn a_run_is_started_seen_and_stopped() {
    let studio = Studio::open(50.0);
    let mut daemon = studio.serve();
    let rest = studio.status();
    assert_eq!(
        (&rest["state"], &rest["output_on"]),
        (&Value::from("idle"), &Value::from(false))
    );
    assert_eq!(rest["run"], Value::Null);

    let begun = studio.run(&["start", "job.toml", "--json"]).json(0);
    assert_eq!(
        (&begun["run"], &begun["state"]),
        (&Value::from(1), &Value::from("building"))
    );
    studio.flows();
    assert_eq!(
        studio.run(&["start", "job.toml", "--json"]).refused(5),
        "busy"
    );
    // 1.5 A/dm2 on 50 cm2, and so much charge that the moments of on and off are little of it.
    let status = wait("a reading of the full current", || {
        Some(studio.status()).filter(|status| {
            status["current_a"].as_f64() > Some(0.7) && status["charge_ah"].as_f64() > Some(0.003)
        })
    });
    assert!(
        (status["current_a"].as_f64().unwrap() - 0.75).abs() < 0.01,
        "{status}"
    );
    assert_eq!(status["output_on"], true);
    assert!(status["finish_at"].is_string(), "{status}");

    let stopped = studio.run(&["stop", "--json"]).json(0);
    studio.dead_within(Duration::from_secs(2));
    assert_eq!(
        (&stopped["output_on"], &stopped["confirmed"]),
        (&false.into(), &true.into())
    );
    // The hard bounds of the account hold what the cell says truly flowed.
    let (over, flowed) = (studio.status(), studio.truth().charge_ah);
    let bound = |key: &str| over[key].as_f64().unwrap();
    assert_eq!(stopped["charge_ah"].as_f64(), Some(bound("charge_ah")));
    assert!(
        bound("charge_low_ah") <= flowed && flowed <= bound("charge_high_ah"),
        "{flowed} Ah flowed: {over}"
    );
    assert!(
        bound("charge_high_ah") < 1.2 * flowed,
        "a bound that says something: {over}"
    );
    assert_eq!(studio.status()["state"], "stopped");
    // Nothing to clear: the next run may begin.
    assert_eq!(
        studio
            .run(&["start", "job.toml", "--json", "--no-wait"])
            .json(0)["run"],
        2
    );
    studio.run(&["stop", "--json"]).json(0);
    daemon.signal("TERM");
    assert_eq!(daemon.ended(), Some(0), "{}", studio.log());
    studio.dead_within(Duration::from_secs(1));
}

#[test]
fn a_run_that_reaches_its_target_ends_the_watching_with_zero() {
    let studio = Studio::open(50.0);
    let _daemon = studio.serve();
    fs::write(studio.path("short.toml"), job_text("1 um")).unwrap();
    studio.run(&["start", "short.toml", "--json"]).json(0);
    let watched = studio.run(&["watch", "--json"]);
    assert_eq!(watched.code, Some(0), "{watched:?}");
    let last: Value = serde_json::from_str(watched.out.lines().last().unwrap()).unwrap();
    assert_eq!(last["state"], "finished");
    studio.dead_within(Duration::from_secs(1));
    // 1 um of copper (8.96 g/cm3 in this bench) on the 50 cm2 of the job; the cell's own account.
    let thickness = studio.truth().thickness_um;
    assert!((thickness - 1.0).abs() < 0.05, "{thickness} um");
    let again = studio.run(&["watch"]);
    assert_eq!(
        (again.code, again.out.starts_with("finished")),
        (Some(0), true),
        "{again:?}"
    );
}

#[test]
fn sigterm_and_ctrl_c_stop_the_run_before_the_daemon_ends() {
    for name in ["TERM", "INT"] {
        let studio = Studio::open(50.0);
        let mut daemon = studio.serve();
        studio.run(&["start", "job.toml", "--json"]).json(0);
        studio.flows();
        daemon.signal(name);
        assert_eq!(daemon.ended(), Some(0), "{name}: {}", studio.log());
        studio.dead_within(Duration::from_secs(1));
        let ledger = Ledger::open_read(&studio.path("state/ledger.db")).unwrap();
        let ending = ledger.run(1).unwrap().ending.expect("an end in the ledger");
        assert_eq!(ending.outcome.state().word(), "stopped");
    }
}

#[test]
fn a_closed_terminal_changes_nothing() {
    let studio = Studio::open(50.0);
    let daemon = studio.serve();
    studio.run(&["start", "job.toml", "--json"]).json(0);
    studio.flows();
    daemon.signal("HUP");
    std::thread::sleep(Duration::from_millis(500));
    assert_eq!(studio.status()["state"], "building");
    assert!(studio.truth().current_a > 0.7);
    studio.run(&["stop", "--json"]).json(0);
    studio.dead_within(Duration::from_secs(2));
}

#[test]
fn a_terminal_that_is_stopped_or_gone_does_not_hold_the_night_up() {
    for gone in [false, true] {
        let studio = Studio::open(50.0);
        // A pipe that nobody reads, with no room for a byte more; or one whose reader is gone.
        let (reader, mut writer) = std::io::pipe().unwrap();
        let flags = fcntl_getfl(&writer).unwrap();
        fcntl_setfl(&writer, flags | OFlags::NONBLOCK).unwrap();
        while writer.write(&[b'x'; 512]).is_ok() {}
        while writer.write(b"x").is_ok() {}
        fcntl_setfl(&writer, flags).unwrap();
        let reader = Some(reader).filter(|_| !gone);
        let words = ["serve", "station.toml", "--speed", SPEED, "-vvv"];
        let child = studio.command(&words).stderr(writer).spawn().unwrap();
        let mut daemon = Daemon { child };
        wait("a daemon", || {
            (studio.run(&["status", "--json"]).code == Some(0)).then_some(())
        });
        studio.run(&["start", "job.toml", "--json"]).json(0);
        studio.flows();
        daemon.signal("HUP");
        std::thread::sleep(Duration::from_secs(7));
        assert_eq!(studio.status()["state"], "building");
        assert!(
            studio.truth().current_a > 0.7,
            "the lease of 5 s was renewed"
        );
        daemon.signal("TERM");
        assert_eq!(daemon.ended(), Some(0));
        studio.dead_within(Duration::from_secs(1));
        drop(reader);
    }
}

#[test]
fn a_ledger_that_somebody_holds_ends_the_run_and_not_the_talking() {
    let studio = Studio::open(50.0);
    let _daemon = studio.serve();
    studio.run(&["start", "job.toml", "--json"]).json(0);
    studio.flows();
    let holder = rusqlite::Connection::open(studio.path("state/ledger.db")).unwrap();
    holder.execute_batch("BEGIN IMMEDIATE").unwrap();
    // A commit may take 15 s of the station's clock; then the run ends, though nothing can be
    // written.
    studio.dead_within(Duration::from_secs(4));
    studio.in_state("tripped");
    let begun = Instant::now();
    let status = studio.status();
    assert!(
        begun.elapsed() < Duration::from_secs(1),
        "{:?}",
        begun.elapsed()
    );
    assert_eq!(
        (&status["state"], &status["latch"]["code"]),
        (&"tripped".into(), &"ledger-not-writing".into())
    );
    holder.execute_batch("ROLLBACK").unwrap();
    studio.run(&["clear", "--json"]).json(0);
    studio.run(&["start", "job.toml", "--json"]).json(0);
    studio.flows();
    studio.run(&["stop", "--json"]).json(0);
    studio.dead_within(Duration::from_secs(1));
    let ledger = Ledger::open_read(&studio.path("state/ledger.db")).unwrap();
    let ending = ledger
        .run(1)
        .unwrap()
        .ending
        .expect("written when it could be");
    assert_eq!(
        ending.outcome.fault().map(|fault| fault.code()),
        Some("ledger-not-writing")
    );
}

#[test]
fn a_state_folder_of_any_length_is_found_again() {
    let mut studio = Studio::open(50.0);
    studio.state = format!("{}/{}", "s".repeat(100), "t".repeat(100));
    let mut daemon = studio.serve();
    wait("a station at rest", || {
        Some(studio.status()).filter(|status| status["state"] == "idle")
    });
    assert!(studio.path(&studio.state).join("ledger.db").exists());
    daemon.signal("TERM");
    assert_eq!(daemon.ended(), Some(0));
    assert_eq!(studio.run(&["status", "--json"]).refused(3), "no-daemon");
}

#[test]
fn a_killed_daemon_leaves_an_output_that_is_off_and_a_run_to_be_cleared() {
    let studio = Studio::open(50.0);
    let mut daemon = studio.serve();
    studio.run(&["start", "job.toml", "--json"]).json(0);
    studio.flows();
    // Long enough for accounts in the ledger: they are written every 5 s of the station's clock.
    std::thread::sleep(Duration::from_secs(1));
    daemon.child.kill().unwrap();
    daemon.child.wait().unwrap();
    studio.dead_within(Duration::from_secs(2));
    let flowed = studio.truth().charge_ah;
    assert_eq!(studio.run(&["status", "--json"]).refused(3), "no-daemon");

    let _daemon = studio.serve();
    let status = studio.status();
    assert_eq!(
        (&status["state"], &status["run"]),
        (&"interrupted".into(), &1.into())
    );
    assert_eq!(status["latch"]["code"], "interrupted");
    assert_eq!(
        studio.run(&["start", "job.toml", "--json"]).refused(5),
        "not-cleared"
    );
    assert!(studio.run(&["status"]).out.contains("nightvat clear"));
    let ledger = Ledger::open_read(&studio.path("state/ledger.db")).unwrap();
    let record = wait("the end of run 1", || {
        ledger.run(1).ok().filter(|run| run.ending.is_some())
    });
    let (low, high) = (record.charge.low.ah(), record.charge.high.ah());
    assert!(
        low <= flowed && flowed <= high,
        "{low} .. {high} Ah, and {flowed} Ah flowed"
    );
    assert!(low > 0.0, "accounts were written before the end");

    assert_eq!(
        studio.run(&["clear", "--json"]).json(0)["cleared"]["run"],
        1
    );
    wait("a station at rest", || {
        Some(studio.status()).filter(|status| status["state"] == "idle")
    });
    drop(_daemon);
    // It was read: no later daemon asks again.
    let _third = studio.serve();
    wait("a station at rest", || {
        Some(studio.status()).filter(|status| status["state"] == "idle")
    });
    studio
        .run(&["start", "job.toml", "--json", "--no-wait"])
        .json(0);
    studio.run(&["stop", "--json"]).json(0);
    studio.dead_within(Duration::from_secs(2));
}

#[test]
fn a_killed_keeper_is_replaced_by_one_that_turns_the_output_off() {
    let studio = Studio::open(50.0);
    let _daemon = studio.serve();
    studio.run(&["start", "job.toml", "--json"]).json(0);
    studio.flows();
    let first = keeper_of(&studio.status());
    signal(first, "KILL");
    studio.dead_within(Duration::from_secs(2));
    let status = studio.in_state("interrupted");
    assert_eq!(status["latch"]["code"], "keeper-lost");
    assert_ne!(keeper_of(&status), first);
    assert_eq!(studio.run(&["watch"]).code, Some(1));
    assert_eq!(
        studio.run(&["start", "job.toml", "--json"]).refused(5),
        "not-cleared"
    );
    studio.run(&["clear", "--json"]).json(0);
    studio.run(&["start", "job.toml", "--json"]).json(0);
    studio.flows();
    studio.run(&["stop", "--json"]).json(0);
    studio.dead_within(Duration::from_secs(2));
}

#[test]
fn a_stopped_keeper_is_killed_and_replaced() {
    let studio = Studio::open(50.0);
    let _daemon = studio.serve();
    studio.run(&["start", "job.toml", "--json"]).json(0);
    studio.flows();
    signal(keeper_of(&studio.status()), "STOP");
    studio.dead_within(Duration::from_secs(8));
    wait("an end", || {
        let state = studio.status()["state"].clone();
        (state == "tripped" || state == "interrupted").then_some(())
    });
}

#[test]
fn a_stopped_daemon_loses_its_lease() {
    let studio = Studio::open(50.0);
    let mut daemon = studio.serve();
    studio.run(&["start", "job.toml", "--json"]).json(0);
    studio.flows();
    daemon.signal("STOP");
    // The lease is 5 s; then off and its proof.
    studio.dead_within(Duration::from_secs(7));
    daemon.signal("CONT");
    let status = studio.in_state("interrupted");
    assert_eq!(status["output_on"], false, "{status}");
    daemon.signal("TERM");
    assert_eq!(daemon.ended(), Some(0));
    studio.dead_within(Duration::from_secs(1));
}

#[test]
fn a_trip_latches_until_it_is_cleared() {
    // What hangs in the cell is a hundredth of what the job says: as if the piece had slipped out
    // of the bath.
    let studio = Studio::open(0.5);
    let mut daemon = studio.serve();
    let started = studio.run(&["start", "job.toml", "--json"]);
    assert!(matches!(started.code, Some(0 | 1)), "{started:?}");
    let status = studio.in_state("tripped");
    studio.dead_within(Duration::from_secs(1));
    assert!(status["latch"]["code"].is_string(), "{status}");
    let watched = studio.run(&["watch", "--json"]);
    assert_eq!(watched.code, Some(1), "{watched:?}");
    assert_eq!(
        studio.run(&["start", "job.toml", "--json"]).refused(5),
        "not-cleared"
    );
    // A new daemon has not forgotten it.
    daemon.signal("TERM");
    assert_eq!(daemon.ended(), Some(0));
    let _daemon = studio.serve();
    let again = studio.status();
    assert_eq!(
        (&again["state"], &again["latch"]["code"]),
        (&"tripped".into(), &status["latch"]["code"])
    );
    assert_eq!(
        studio.run(&["start", "job.toml", "--json"]).refused(5),
        "not-cleared"
    );
    studio.run(&["clear", "--json"]).json(0);
    wait("a station at rest", || {
        Some(studio.status()).filter(|status| status["state"] == "idle")
    });
}

#[test]
fn a_pause_is_proved_and_the_run_goes_on_after_it() {
    let studio = Studio::open(50.0);
    let _daemon = studio.serve();
    assert_eq!(studio.run(&["pause", "--json"]).refused(5), "nothing-runs");
    studio.run(&["start", "job.toml", "--json"]).json(0);
    studio.flows();
    assert_eq!(studio.run(&["resume", "--json"]).refused(5), "not-now");
    let paused = studio.run(&["pause", "--json"]).json(0);
    studio.dead_within(Duration::from_secs(1));
    assert_eq!(paused["confirmed"], true);
    assert_eq!(studio.status()["state"], "paused");
    studio.run(&["resume", "--json"]).json(0);
    studio.flows();
    let ended = studio.run(&["off", "station.toml", "--json"]).json(0);
    assert_eq!(
        (&ended["output_on"], &ended["confirmed"]),
        (&false.into(), &true.into())
    );
    studio.dead_within(Duration::from_secs(1));
}

#[test]
fn off_needs_no_daemon() {
    let studio = Studio::open(50.0);
    let mut port = fs::File::options()
        .write(true)
        .open(studio.path("port"))
        .unwrap();
    port.write_all(b"VOLT 2.5\nCURR 0.5\nOUTP ON\n").unwrap();
    drop(port);
    studio.flows();
    let off = studio.run(&["off", "station.toml", "--json"]).json(0);
    studio.dead_within(Duration::from_secs(1));
    assert_eq!(
        (&off["output_on"], &off["confirmed"]),
        (&false.into(), &true.into())
    );
}

#[test]
fn off_works_past_a_daemon_that_hangs() {
    let studio = Studio::open(50.0);
    let daemon = studio.serve();
    studio.run(&["start", "job.toml", "--json"]).json(0);
    studio.flows();
    daemon.signal("STOP");
    let off = studio.run(&["off", "station.toml", "--json"]).json(0);
    studio.dead_within(Duration::from_secs(1));
    assert_eq!(off["confirmed"], true);
}

#[test]
fn off_that_cannot_be_proved_says_so_last_and_loudly() {
    let studio = Studio::open(50.0);
    let text = fs::read_to_string(studio.path("station.toml")).unwrap();
    fs::write(
        studio.path("gone.toml"),
        text.replace("/port\"", "/no-such-port\""),
    )
    .unwrap();
    let off = studio.run(&["off", "gone.toml"]);
    assert_eq!(off.code, Some(6), "{off:?}");
    let last = off.err.lines().last().unwrap();
    assert_eq!(last, last.to_uppercase());
    assert!(last.contains("OUTPUT NOT CONFIRMED OFF"), "{off:?}");
    let json = studio.run(&["off", "gone.toml", "--json"]).json(6);
    assert_eq!(json["confirmed"], false);
}

#[test]
fn a_supply_that_falls_silent_is_unconfirmed_until_a_reading_proves_it_off() {
    let studio = Studio::open(50.0);
    let _daemon = studio.serve();
    studio.run(&["start", "job.toml", "--json"]).json(0);
    studio.flows();
    studio.freeze(true);
    studio.in_state("unconfirmed");
    assert!(studio.truth().output_on, "the cell still takes current");
    let stop = studio.run(&["stop", "--json"]);
    assert_eq!(stop.json(6)["confirmed"], false);
    let last = stop.err.lines().last().unwrap();
    assert!(last.contains("OUTPUT NOT CONFIRMED OFF"), "{stop:?}");
    assert_eq!(studio.run(&["clear", "--json"]).refused(5), "busy");
    studio.freeze(false);
    studio.in_state("tripped");
    studio.dead_within(Duration::from_secs(1));
}

#[test]
fn a_daemon_that_must_end_on_a_silent_supply_says_so_and_leaves_the_keeper_at_it() {
    let studio = Studio::open(50.0);
    let mut daemon = studio.serve();
    studio.run(&["start", "job.toml", "--json"]).json(0);
    studio.flows();
    studio.freeze(true);
    std::thread::sleep(Duration::from_millis(200));
    daemon.signal("TERM");
    assert_eq!(daemon.ended(), Some(6), "{}", studio.log());
    let log = studio.log();
    assert!(
        log.lines()
            .last()
            .unwrap()
            .contains("OUTPUT NOT CONFIRMED OFF"),
        "{log}"
    );
    assert!(studio.truth().output_on, "the cell still takes current");
    studio.freeze(false);
    // No daemon any more: it is the keeper that turns it off.
    studio.dead_within(Duration::from_secs(10));
}

#[test]
fn a_supply_that_is_not_there_costs_a_refusal_and_no_run() {
    let studio = Studio::open(50.0);
    let daemon = studio.serve();
    studio.freeze(true);
    // It falls silent at its next second.
    std::thread::sleep(Duration::from_millis(200));
    assert_eq!(
        studio.run(&["start", "job.toml", "--json"]).refused(4),
        "supply-silent"
    );
    let status = studio.status();
    assert_eq!(
        (&status["state"], &status["run"]),
        (&"idle".into(), &Value::Null)
    );
    studio.freeze(false);
    studio.run(&["start", "job.toml", "--json"]).json(0);
    studio.flows();
    drop(daemon);
    studio.dead_within(Duration::from_secs(2));
}

#[test]
fn what_cannot_begin_is_refused_with_its_reason() {
    let studio = Studio::open(50.0);
    let serve = |extra: &[&str]| {
        let words = [&["serve"], extra, &["--json"]].concat();
        studio.run(&words)
    };
    assert_eq!(
        studio.run(&["start", "job.toml", "--json"]).refused(3),
        "no-daemon"
    );
    assert_eq!(studio.run(&["stop", "--json"]).refused(3), "no-daemon");
    let text = fs::read_to_string(studio.path("station.toml")).unwrap();
    fs::write(
        studio.path("gone.toml"),
        text.replace("/port\"", "/no-such-port\""),
    )
    .unwrap();
    assert_eq!(serve(&["gone.toml"]).refused(4), "port-not-there");
    fs::write(
        studio.path("real.toml"),
        text.replace(&*studio.path("port").to_string_lossy(), "/dev/null"),
    )
    .unwrap();
    assert_eq!(
        serve(&["real.toml", "--speed", "2"]).refused(2),
        "not-simulated"
    );

    let _daemon = studio.serve();
    let second = serve(&["station.toml", "--speed", SPEED]);
    assert_eq!(second.refused(5), "busy");
    // The first is still there.
    wait("a station at rest", || {
        Some(studio.status()).filter(|status| status["state"] == "idle")
    });
    fs::write(
        studio.path("bad.toml"),
        job_text("100 um").replace("\"1.5 A/dm2\"", "1.5"),
    )
    .unwrap();
    let bad = studio.run(&["start", "bad.toml"]);
    assert_eq!(bad.code, Some(2), "{bad:?}");
    assert!(
        bad.err.contains("bad.toml:6:11") && bad.err.contains('^'),
        "{bad:?}"
    );
}

#[test]
fn a_flood_of_slow_and_broken_askers_does_not_delay_control() {
    let studio = Studio::open(50.0);
    let daemon = studio.serve();
    studio.run(&["start", "job.toml", "--json"]).json(0);
    studio.flows();
    let socket = studio.path("state/nightvat.sock");
    let mut held = Vec::new();
    for at in 0..50 {
        let mut asker = std::os::unix::net::UnixStream::connect(&socket).unwrap();
        let words: &[u8] = match at % 3 {
            0 => b"GET /status HTTP/1.1\r\nhost: n\r\n",
            1 => b"\x00\xff nonsense\r\n\r\n",
            _ => b"POST /start HTTP/1.1\r\nhost: n\r\ncontent-length: 900000000\r\n\r\n{",
        };
        let _ = asker.write_all(words);
        held.push(asker);
    }
    std::thread::sleep(Duration::from_secs(6));
    assert!(
        studio.truth().current_a > 0.7,
        "the run goes on, its lease renewed"
    );
    let begun = Instant::now();
    assert_eq!(studio.status()["state"], "building");
    assert!(
        begun.elapsed() < Duration::from_secs(1),
        "{:?}",
        begun.elapsed()
    );
    let mut answer = String::new();
    held[2]
        .set_read_timeout(Some(Duration::from_secs(1)))
        .unwrap();
    // The connection is kept open; what counts is what has come.
    let _ = held[2].read_to_string(&mut answer);
    assert!(answer.contains("too-large"), "{answer}");
    drop(daemon);
    studio.dead_within(Duration::from_secs(2));
}
