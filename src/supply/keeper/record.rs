//! What a keeper leaves behind: a lock while it lives, a plain record of what it last did.

use super::{Limits, Mark, Settings, Why};
use crate::supply::off::OffReport;
use crate::units::{Moment, Span};
use rustix::fs::{FlockOperation, flock};
use rustix::process::{Pid, Signal, kill_process};
use serde::{Deserialize, Serialize};
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};
use std::thread;
use std::time::{Duration, Instant};

const CUT: &str = "CUT BY THE RELAY";
const RECORD: &str = "keeper.json";
const LOCK: &str = "keeper.lock";
const SETTINGS: &str = "keeper-settings.json";
/// How often a lock that is held is tried again.
const LOOK: Duration = Duration::from_millis(10);

/// What a keeper last did, in `keeper.json` of the state folder. It is on the disk before the
/// owner hears that a run is armed, and after every attempt to turn off.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Record {
    /// The keeper's process.
    pub pid: u32,
    /// Its port.
    pub port: PathBuf,
    /// False while something may flow: armed, or off not confirmed.
    pub confirmed_off: bool,
    /// What happened, in words.
    pub text: String,
    /// When, on the wall clock.
    pub at: String,
    /// Why the output was turned off.
    pub why: Option<Why>,
    /// What came of it.
    pub off: Option<OffReport>,
    /// The limits of a run that is armed.
    pub limits: Option<Limits>,
    /// The first reading that proved off what was armed last.
    #[serde(default)]
    pub proof: Option<Proof>,
    /// When the relay was let go since off was not confirmed, on the wall clock.
    #[serde(default)]
    pub cut: Option<String>,
    /// Which start of the computer it was written in, where the system tells.
    #[serde(default)]
    pub boot: Option<String>,
}

/// A reading that proved the output off.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Proof {
    /// The run that it ended, if the keeper was told.
    pub run: Option<i64>,
    /// How long after the run began it was read.
    pub after: Option<Span>,
    /// When, on the wall clock.
    pub at: String,
}

impl Proof {
    /// Proved at this moment of the line's clock.
    pub(super) fn new(mark: Option<Mark>, now: Moment) -> Self {
        Self {
            run: mark.map(|mark| mark.run),
            after: mark.map(|mark| mark.since(now)),
            at: chrono::Local::now().to_rfc3339(),
        }
    }
}

/// Which start of the computer this is, where the system tells.
fn boot() -> Option<String> {
    let id = std::fs::read_to_string("/proc/sys/kernel/random/boot_id").ok()?;
    Some(id.trim().to_owned())
}

/// True if the computer was not started again since its keeper wrote; false where nothing tells.
/// One without a clock of its own may not know the time after a start.
#[must_use]
pub fn same_boot(record: Option<&Record>) -> bool {
    let then = record.and_then(|record| record.boot.as_ref());
    then.is_some_and(|then| boot().as_ref() == Some(then))
}

impl Record {
    fn new(settings: &Settings, confirmed_off: bool, text: String) -> Self {
        Self {
            pid: std::process::id(),
            port: settings.port.clone(),
            confirmed_off,
            text,
            at: chrono::Local::now().to_rfc3339(),
            why: None,
            off: None,
            limits: None,
            proof: None,
            cut: None,
            boot: boot(),
        }
    }

    pub(super) fn armed(settings: &Settings, limits: &Limits) -> Self {
        let text = "a run is armed: the output may be on".to_owned();
        Self {
            limits: Some(*limits),
            ..Self::new(settings, false, text)
        }
    }

    pub(super) fn disarmed(settings: &Settings) -> Self {
        Self::new(
            settings,
            true,
            "no run is armed; the output was read to be off".to_owned(),
        )
    }

    pub(super) fn off(settings: &Settings, why: &Why, report: &OffReport) -> Self {
        let text = format!("{}: {why}", report.text());
        let record = Self::new(settings, report.confirmed, text);
        Self {
            why: Some(why.clone()),
            off: Some(report.clone()),
            ..record
        }
    }

    /// The relay was let go, off not being confirmed.
    pub(super) fn cut(settings: &Settings, asked: bool) -> Self {
        let by = if asked {
            "the daemon asked for it"
        } else {
            "its time was over"
        };
        Self::new(
            settings,
            false,
            format!("{CUT}, OUTPUT NOT CONFIRMED OFF: {by}"),
        )
    }

    /// The same record after a cut at this time of day: what is not confirmed is cut.
    pub(super) fn after(mut self, cut: Option<&String>) -> Self {
        if cut.is_some() && !self.confirmed_off && !self.text.starts_with(CUT) {
            self.text = format!("{CUT}, {}", self.text);
        }
        Self {
            cut: cut.cloned(),
            ..self
        }
    }

    /// Writes the record so that a crash leaves the old one or the new one, whole.
    pub(super) fn write(&self, state: &Path) -> io::Result<()> {
        let (draft, path) = (state.join("keeper.json.new"), state.join(RECORD));
        let mut file = own(&draft)?;
        file.write_all(&serde_json::to_vec_pretty(self)?)?;
        file.write_all(b"\n")?;
        file.sync_all()?;
        fs::rename(&draft, &path)?;
        File::open(state)?.sync_all()
    }
}

/// The last record of a state folder; `None` where there is none that can be read.
#[must_use]
pub fn last_record(state: &Path) -> Option<Record> {
    serde_json::from_slice(&fs::read(state.join(RECORD)).ok()?).ok()
}

/// Nobody else may read what a keeper leaves.
pub(super) const OWN: u32 = 0o600;

/// A new file of the owner's own.
fn own(path: &Path) -> io::Result<File> {
    let mut options = OpenOptions::new();
    let options = options.write(true).create(true).truncate(true);
    options.mode(OWN).open(path)
}

/// Leaves the settings of a keeper that has the port: with them off can be said without any other
/// file.
pub(super) fn leave_settings(settings: &Settings) -> io::Result<()> {
    let (draft, path) = (
        settings.state.join("keeper-settings.json.new"),
        settings.state.join(SETTINGS),
    );
    own(&draft)?.write_all(&serde_json::to_vec(settings)?)?;
    fs::rename(&draft, &path)
}

/// Writes that a hand without a keeper has proved off what the last keeper left in doubt, so that
/// whoever comes next knows since when.
///
/// # Errors
/// The record could not be written.
pub fn note_off(settings: &Settings, report: &OffReport) -> io::Result<()> {
    let Some(last) = last_record(&settings.state) else {
        return Ok(());
    };
    if last.confirmed_off || !report.confirmed || last.port != settings.port {
        return Ok(());
    }
    let mark = last.limits.as_ref().and_then(|limits| limits.mark);
    // The clock that the mark is on began anew with the computer.
    let ours = same_boot(Some(&last));
    let now = || Proof::new(mark, settings.clock.now());
    Record {
        proof: last.proof.or_else(|| ours.then(now)),
        cut: last.cut,
        ..Record::off(settings, &Why::Asked, report)
    }
    .write(&settings.state)
}

/// The settings of the last keeper of a state folder that had its port; `None` where there are none
/// that can be read.
#[must_use]
pub fn last_settings(state: &Path) -> Option<Settings> {
    serde_json::from_slice(&fs::read(state.join(SETTINGS)).ok()?).ok()
}

/// Held by a keeper as long as it lives; the file holds its process number.
#[derive(Debug)]
pub(super) struct Lock {
    _file: File,
}

impl Lock {
    /// Takes the lock; waits for another keeper to end. `None` if it does not.
    pub(super) fn take(state: &Path, patience: Duration) -> io::Result<Option<Self>> {
        fs::create_dir_all(state)?;
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .mode(OWN)
            .open(state.join(LOCK))?;
        let until = Instant::now() + patience;
        while flock(&file, FlockOperation::NonBlockingLockExclusive).is_err() {
            if Instant::now() >= until {
                return Ok(None);
            }
            thread::sleep(LOOK);
        }
        // Written over what is there, in the same place: a full disk still takes that. One that
        // takes nothing costs a way to be asked for off, and no keeper.
        let _ = writeln!(file, "{:>10}", std::process::id());
        Ok(Some(Self { _file: file }))
    }
}

/// The keeper that lives with this state folder.
fn living(state: &Path) -> Option<Pid> {
    let file = File::open(state.join(LOCK)).ok()?;
    if flock(&file, FlockOperation::NonBlockingLockShared).is_ok() {
        return None;
    }
    let text = fs::read_to_string(state.join(LOCK)).ok()?;
    Pid::from_raw(text.trim().parse().ok()?)
}

/// What came of asking a keeper.
#[derive(Clone, Debug, PartialEq)]
pub enum Asked {
    /// No keeper lives with this state folder.
    NoKeeper,
    /// It turned the output off, or says why not, and what it wrote.
    Record(Box<Record>),
    /// It still tries.
    StillTrying,
}

/// Asks the keeper of a state folder to turn its output off and end, and waits for it so long.
///
/// # Errors
/// The signal could not be sent.
pub fn ask_off(state: &Path, patience: Duration) -> io::Result<Asked> {
    let Some(pid) = living(state) else {
        return Ok(Asked::NoKeeper);
    };
    kill_process(pid, Signal::TERM)?;
    let until = Instant::now() + patience;
    while living(state) == Some(pid) {
        if Instant::now() >= until {
            return Ok(Asked::StillTrying);
        }
        thread::sleep(LOOK);
    }
    Ok(last_record(state).map_or(Asked::NoKeeper, |record| Asked::Record(Box::new(record))))
}
