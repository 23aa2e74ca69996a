//! The programs themselves, together: an emulated supply in a process of its own, whose account of
//! its cell is the last word on whether current flows, a daemon, its keeper, and the commands.

use serde_json::Value;
use std::fs;
use std::io::{BufRead, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

pub(crate) const EXE: &str = env!("CARGO_BIN_EXE_nightvat");
/// Whatever is waited for comes within this, or something is broken.
const PATIENCE: Duration = Duration::from_secs(60);

/// An emulated supply with a plate in its cell, a state folder, a station and a job.
pub(crate) struct Plant {
    pub(crate) folder: tempfile::TempDir,
    /// The state folder, within it.
    pub(crate) state: String,
    pub(crate) speed: u32,
    /// More words for the emulator.
    also: Vec<String>,
    emulator: Child,
    account: Arc<Mutex<Account>>,
    _turn: Option<MutexGuard<'static, ()>>,
}

/// What the emulator last said of its cell.
#[derive(Clone, Debug, Default)]
struct Account {
    lines: u64,
    last: Value,
}

/// Held by whoever lives with these programs.
pub(crate) static TURN: Mutex<()> = Mutex::new(());

impl Plant {
    /// One at a time: each is several processes on a hurried clock.
    pub(crate) fn open(speed: u32) -> Self {
        let turn = TURN.lock().unwrap_or_else(PoisonError::into_inner);
        let mut plant = Self::beside_others(speed);
        plant._turn = Some(turn);
        plant
    }

    /// The same with a relay in the output lead, which opens within 3 s, and something that goes
    /// wrong: more words for the emulator.
    pub(crate) fn with_relay(speed: u32, ails: &[&str]) -> Self {
        let turn = TURN.lock().unwrap_or_else(PoisonError::into_inner);
        let also = ["--relay-link", "relay"].iter().chain(ails);
        let mut plant = Self::new(speed, also.map(|word| (*word).to_owned()).collect());
        plant._turn = Some(turn);
        plant
    }

    /// However many there are.
    pub(crate) fn beside_others(speed: u32) -> Self {
        Self::new(speed, Vec::new())
    }

    fn new(speed: u32, also: Vec<String>) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let relay = format!(
            "[relay]\nport = \"{}\"\nline = \"tx\"\nevery = \"200 ms\"\n\
             opens_within = \"3 s\"\n",
            folder.path().join("relay").display()
        );
        let relay = if also.is_empty() { "" } else { &relay };
        let station = format!(
            "name = \"north tank\"\nsupply = \"scpi-standard\"\nport = \"{}\"\n[limits]\n\
             current = \"3 A\"\nvoltage = \"2.5 V\"\n[tank]\nvolume = \"6 L\"\nstirred = true\n\
             surface = \"300 cm2\"\ngap = \"9 cm\"\n[tank.anode]\narea = \"180 cm2\"\n\
             mass = \"420 g\"\n{relay}",
            folder.path().join("port").display()
        );
        fs::write(folder.path().join("station.toml"), station).unwrap();
        fs::write(folder.path().join("job.toml"), job_text("100 um")).unwrap();
        let account = Arc::new(Mutex::new(Account::default()));
        let emulator = emulate(folder.path(), speed, &also, Arc::clone(&account));
        let plant = Self {
            folder,
            state: "state".to_owned(),
            speed,
            also,
            emulator,
            account,
            _turn: None,
        };
        plant.account();
        plant
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// The emulator's process.
    pub(crate) fn emulator(&self) -> u32 {
        self.emulator.id()
    }

    /// Pulls the supply's plug and puts it in again, with a fresh cell, after a while.
    pub(crate) fn replug(&mut self, away: Duration) {
        let _ = self.emulator.kill();
        let _ = self.emulator.wait();
        thread::sleep(away);
        self.emulator = emulate(
            self.folder.path(),
            self.speed,
            &self.also,
            Arc::clone(&self.account),
        );
        self.account();
    }

    /// Adds a few lines to the station file.
    pub(crate) fn station_also(&self, lines: &str) {
        let path = self.path("station.toml");
        let text = fs::read_to_string(&path).unwrap();
        fs::write(path, format!("{text}{lines}")).unwrap();
    }

    /// The program with these words.
    pub(crate) fn command(&self, words: &[&str]) -> Command {
        let mut command = Command::new(EXE);
        command.args(words);
        self.at_home(&mut command);
        command
    }

    /// Runs in this plant's folder, with its state.
    pub(crate) fn at_home(&self, command: &mut Command) {
        command
            .current_dir(self.folder.path())
            .env("NIGHTVAT_STATE", self.path(&self.state))
            .stdin(Stdio::null());
    }

    pub(crate) fn run(&self, words: &[&str]) -> Done {
        Done::of(&self.command(words).output().unwrap())
    }

    /// The words that start a daemon here.
    pub(crate) fn serve_words(&self) -> [String; 6] {
        let speed = self.speed.to_string();
        ["serve", "station.toml", "--speed", &speed, "--json", "-v"].map(str::to_owned)
    }

    fn log_file(&self) -> fs::File {
        let mut options = fs::File::options();
        options.create(true).append(true);
        options.open(self.path("log")).unwrap()
    }

    pub(crate) fn log(&self) -> String {
        fs::read_to_string(self.path("log")).unwrap_or_default()
    }

    /// Starts a daemon and waits until it says that it answers.
    pub(crate) fn serve(&self) -> Daemon {
        let mut child = self
            .command(&self.serve_words().each_ref().map(String::as_str))
            .stdout(Stdio::piped())
            .stderr(self.log_file())
            .spawn()
            .unwrap();
        let mut line = String::new();
        let mut out = BufReader::new(child.stdout.take().unwrap());
        out.read_line(&mut line).unwrap();
        let said = serde_json::from_str(&line);
        Daemon {
            said: said.unwrap_or_else(|e| panic!("{e}: {line} {}", self.log())),
            child,
        }
    }

    /// Starts a run and waits until current flows for the job, not only for the proving.
    pub(crate) fn flowing(&self) -> Daemon {
        let daemon = self.serve();
        self.run(&["start", "job.toml", "--json"]).json(0);
        self.flows();
        daemon
    }

    /// The emulator's account of its cell, younger than this call.
    pub(crate) fn account(&self) -> Value {
        let look = || {
            let account = self.account.lock().unwrap();
            (account.lines, account.last.clone())
        };
        let asked = look().0;
        // One may have been on its way.
        wait("the emulator's account", || {
            Some(look()).filter(|(lines, _)| *lines > asked + 1)
        })
        .1
    }

    pub(crate) fn amps(&self) -> f64 {
        self.account()["current_a"].as_f64().unwrap()
    }

    pub(crate) fn flows(&self) {
        wait("current in the cell", || (self.amps() > 0.1).then_some(()));
    }

    /// Waits until nothing flows by the emulator's own account; how long that took.
    pub(crate) fn dead_within(&self, at_most: Duration) -> Duration {
        let begun = Instant::now();
        let account = wait("a dead cell", || {
            Some(self.account()).filter(|account| account["output_on"] == false)
        });
        let took = begun.elapsed();
        assert!(took <= at_most, "off only after {took:?}: {}", self.log());
        assert_eq!(
            account["current_a"].as_f64().map(|amps| amps.abs() < 1e-6),
            Some(true),
            "{account}"
        );
        took
    }

    pub(crate) fn status(&self) -> Value {
        self.run(&["status", "--json"]).json(0)
    }

    pub(crate) fn in_state(&self, state: &str) -> Value {
        wait(state, || {
            Some(self.status()).filter(|status| status["state"] == state)
        })
    }

    /// The keeper's process, from its lock.
    pub(crate) fn keeper(&self) -> Option<u32> {
        let text = fs::read_to_string(self.path(&self.state).join("keeper.lock")).ok()?;
        let pid: u32 = text.trim().parse().ok()?;
        is_alive(pid).then_some(pid)
    }

    /// The computer loses its power: daemon and keeper go, and neither can act on it.
    pub(crate) fn power_cut(&self, daemon: Daemon) {
        let keeper = self.keeper().unwrap();
        signal(keeper, "STOP");
        daemon.killed();
        signal(keeper, "KILL");
    }

    /// Waits until the keeper has written that it has read the output off, and why it was turned
    /// off.
    pub(crate) fn proved(&self, why: &str) {
        let record = wait("the keeper's proof", || {
            let text = fs::read_to_string(self.path(&self.state).join("keeper.json")).ok()?;
            let record: Value = serde_json::from_str(&text).ok()?;
            (record["confirmed_off"] == true).then_some(record)
        });
        assert_eq!(record["why"], why, "{record}");
    }
}

impl Drop for Plant {
    fn drop(&mut self) {
        // A keeper without its terminal would look for it by name.
        if let Some(pid) = self.keeper() {
            signal(pid, "KILL");
        }
        let _ = self.emulator.kill();
        let _ = self.emulator.wait();
        if thread::panicking() {
            eprintln!("{}", self.log());
        }
    }
}

fn emulate(folder: &Path, speed: u32, also: &[String], account: Arc<Mutex<Account>>) -> Child {
    let (speed, log) = (speed.to_string(), fs::File::create(folder.join("emulator")));
    let words = ["supply", "emulate", "--port-link", "port", "--json"];
    let which = ["--job", "job.toml", "--station", "station.toml", "--clean"];
    let mut emulator = Command::new(EXE)
        .args(words)
        .args(which)
        .args(["--speed", &speed])
        .args(also)
        .current_dir(folder)
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(log.unwrap())
        .spawn()
        .unwrap();
    let said = BufReader::new(emulator.stdout.take().unwrap());
    thread::spawn(move || {
        for line in said.lines().map_while(Result::ok) {
            let mut account = account.lock().unwrap();
            account.last = serde_json::from_str(&line).unwrap();
            account.lines += 1;
        }
    });
    emulator
}

/// A job on 50 cm² of bare metal at 1.5 A/dm2: 0.75 A.
pub(crate) fn job_text(target: &str) -> String {
    job_of(&format!("thickness = \"{target}\""))
}

/// The same with another target: a line of the job file.
pub(crate) fn job_of(target: &str) -> String {
    format!(
        "name = \"one plate\"\nbath = \"acid-copper-bright\"\n[target]\n{target}\n\
         [current]\ndensity = \"1.5 A/dm2\"\n[[piece]]\nname = \"plate\"\nsurface = \"metal\"\n\
         uncertainty = \"10 %\"\nshape = {{ kind = \"area\", area = \"50 cm2\" }}\n"
    )
}

pub(crate) fn wait<T>(what: &str, mut look: impl FnMut() -> Option<T>) -> T {
    let until = Instant::now() + PATIENCE;
    loop {
        if let Some(seen) = look() {
            return seen;
        }
        assert!(Instant::now() < until, "no {what} within {PATIENCE:?}");
        thread::sleep(Duration::from_millis(2));
    }
}

/// A command that has ended.
#[derive(Debug)]
pub(crate) struct Done {
    pub(crate) code: Option<i32>,
    pub(crate) out: String,
    pub(crate) err: String,
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
    pub(crate) fn json(&self, code: i32) -> Value {
        assert_eq!(self.code, Some(code), "{self:?}");
        serde_json::from_str(&self.out).unwrap_or_else(|e| panic!("{e}: {self:?}"))
    }

    /// The word code of its error, after this exit status.
    pub(crate) fn refused(&self, code: i32) -> String {
        let code = &self.json(code)["error"]["code"];
        code.as_str().unwrap().to_owned()
    }
}

/// A daemon; dropped, it is killed.
pub(crate) struct Daemon {
    pub(crate) child: Child,
    /// What it said when it answered.
    pub(crate) said: Value,
}

impl Daemon {
    pub(crate) fn signal(&self, name: &str) {
        signal(self.child.id(), name);
    }

    pub(crate) fn killed(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    /// Waits for its end: the exit status.
    pub(crate) fn ended(&mut self) -> Option<i32> {
        wait("end of the daemon", || self.child.try_wait().unwrap()).code()
    }
}

impl Drop for Daemon {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

pub(crate) fn signal(pid: u32, name: &str) {
    let sent = Command::new("kill")
        .args(["-s", name, &pid.to_string()])
        .status()
        .unwrap();
    assert!(sent.success(), "kill -s {name} {pid}");
}

pub(crate) fn is_alive(pid: u32) -> bool {
    let stat = fs::read_to_string(format!("/proc/{pid}/stat"));
    stat.is_ok_and(|stat| !stat.contains(") Z "))
}
