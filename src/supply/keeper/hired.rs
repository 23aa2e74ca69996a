//! The owner's side of a keeper.

use super::record::OWN;
use super::{Limits, Report, Request, Settings};
use crate::supply::clock::Clock;
use crate::supply::port::PortError;
use crate::supply::wire::{Exchange, Line, Outcome, WireFault};
use crate::units::{Moment, Span};
use rustix::process::{Pid, Signal, kill_process};
use std::fmt;
use std::fs::{File, create_dir_all};
use std::io::{self, BufRead, BufReader, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::Path;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread;
use std::time::{Duration, Instant};

/// A keeper has the port within this, the wait for the one before included.
const READY_WITHIN: Duration = Duration::from_secs(15);

/// A keeper at work. Dropped, it closes the pipe: what was armed goes off.
#[derive(Debug)]
pub struct Hired {
    pid: u32,
    pipe: ChildStdin,
}

impl Hired {
    /// The keeper's process.
    #[must_use]
    pub fn pid(&self) -> u32 {
        self.pid
    }

    /// Asks something.
    ///
    /// # Errors
    /// The keeper is gone.
    pub fn send(&mut self, request: &Request) -> io::Result<()> {
        let mut line = serde_json::to_vec(request)?;
        line.push(b'\n');
        self.pipe.write_all(&line)
    }
}

/// Why no keeper could be hired.
#[derive(Debug)]
pub enum HireError {
    /// The process could not be started or spoken to.
    NotStarted(io::Error),
    /// It cannot use the port.
    Port(PortError),
    /// It ended without a word; its exit status.
    Died(Option<i32>),
}

impl fmt::Display for HireError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotStarted(error) => write!(f, "the keeper could not be started: {error}"),
            Self::Port(error) => error.fmt(f),
            Self::Died(Some(code)) => write!(f, "the keeper ended at once with status {code}"),
            Self::Died(None) => write!(f, "the keeper was killed as it began"),
        }
    }
}

impl std::error::Error for HireError {}

impl From<io::Error> for HireError {
    fn from(error: io::Error) -> Self {
        Self::NotStarted(error)
    }
}

/// Starts `exe keeper` and waits until it has the port. Reports come through the receiver; the
/// last one is [`Report::Gone`].
///
/// # Errors
/// [`HireError`]; nothing was sent to the supply then.
pub fn hire(exe: &Path, settings: &Settings) -> Result<(Hired, Receiver<Report>), HireError> {
    create_dir_all(&settings.state)?;
    // A disk that takes no log is no reason to do without a keeper.
    let log = File::options()
        .create(true)
        .append(true)
        .mode(OWN)
        .open(settings.state.join("keeper.log"))
        .map_or_else(|_| Stdio::null(), Stdio::from);
    let mut child = Command::new(exe)
        .arg("keeper")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(log)
        .current_dir("/")
        .spawn()?;
    let (Some(pipe), Some(voice)) = (child.stdin.take(), child.stdout.take()) else {
        return Err(io::Error::other("no pipe to the keeper").into());
    };
    let mut hired = Hired {
        pid: child.id(),
        pipe,
    };
    let mut first = serde_json::to_vec(settings).map_err(io::Error::from)?;
    first.push(b'\n');
    let mut voice = BufReader::new(voice);
    let bell = ring_after(hired.pid);
    let told = hired.pipe.write_all(&first).and_then(|()| {
        let mut line = String::new();
        voice.read_line(&mut line).map(|_| line)
    });
    drop(bell);
    match told.map(|line| serde_json::from_str(&line)) {
        Ok(Ok(Report::Ready { .. })) => {}
        Ok(Ok(Report::NoPort(error))) => {
            let _ended = child.wait();
            return Err(HireError::Port(error));
        }
        Ok(Ok(_) | Err(_)) | Err(_) => {
            drop(hired);
            return Err(HireError::Died(child.wait()?.code()));
        }
    }
    Ok((hired, listen(child, voice)))
}

/// A keeper that says nothing for too long as it begins is killed: another may do better. Dropped,
/// the bell does not ring. Its process is not waited for before, so that the number is still its.
fn ring_after(pid: u32) -> Sender<()> {
    let (bell, silence) = channel();
    thread::spawn(move || {
        let timeout = silence.recv_timeout(READY_WITHIN) == Err(RecvTimeoutError::Timeout);
        let pid = i32::try_from(pid).ok().and_then(Pid::from_raw);
        if let Some(pid) = pid.filter(|_| timeout) {
            let _ = kill_process(pid, Signal::KILL);
        }
    });
    bell
}

/// Passes reports on until the keeper is gone.
fn listen(mut child: Child, voice: BufReader<ChildStdout>) -> Receiver<Report> {
    let (tell, reports) = channel();
    thread::spawn(move || {
        for line in voice.lines().map_while(Result::ok) {
            if let Ok(report) = serde_json::from_str(&line) {
                let _heard = tell.send(report);
            }
        }
        let code = child.wait().ok().and_then(|status| status.code());
        let _heard = tell.send(Report::Gone(code));
    });
    reports
}

/// A keeper as a plain line, for those who do one thing after the other. Reports other than of its
/// own exchanges are kept for [`KeptLine::next_report`].
#[derive(Debug)]
pub struct KeptLine {
    /// The keeper.
    pub hired: Hired,
    reports: Receiver<Report>,
    clock: Clock,
    id: u64,
    others: Vec<Report>,
    patience: Duration,
}

impl KeptLine {
    /// Waits for the reply to an exchange no longer than the profile's longest exchange, with room
    /// to spare.
    #[must_use]
    pub fn new(hired: Hired, reports: Receiver<Report>, settings: &Settings) -> Self {
        let longest = settings.profile.longest_exchange();
        let patience = settings.clock.patience(longest) * 2 + Duration::from_secs(5);
        Self {
            hired,
            reports,
            clock: settings.clock,
            id: 0,
            others: Vec::new(),
            patience,
        }
    }

    /// Arms the keeper; true if it did.
    #[must_use]
    pub fn arm(&mut self, limits: Limits) -> bool {
        let asked = self.hired.send(&Request::Arm(limits)).is_ok();
        asked && matches!(self.next_report(self.patience), Some(Report::Armed(_)))
    }

    /// The next report that is not of an exchange.
    pub fn next_report(&mut self, patience: Duration) -> Option<Report> {
        if self.others.is_empty() {
            return self.reports.recv_timeout(patience).ok();
        }
        Some(self.others.remove(0))
    }

    /// Waits for the outcome of an exchange that was asked for with [`Hired::send`].
    ///
    /// # Errors
    /// The keeper is gone, or does not answer in time.
    pub fn outcome(&mut self, id: u64) -> Result<Outcome, WireFault> {
        let until = Instant::now() + self.patience;
        loop {
            let left = until.saturating_duration_since(Instant::now());
            match self.reports.recv_timeout(left) {
                Ok(Report::Exchanged { id: of, outcome }) if of == id => return Ok(outcome),
                Ok(Report::Exchanged { .. }) => {}
                Ok(Report::Gone(code)) => {
                    self.others.push(Report::Gone(code));
                    return Err(WireFault::KeeperLost);
                }
                Ok(other) => self.others.push(other),
                Err(RecvTimeoutError::Timeout | RecvTimeoutError::Disconnected) => {
                    return Err(WireFault::KeeperLost);
                }
            }
        }
    }
}

impl Line for KeptLine {
    fn exchange(&mut self, exchange: &Exchange) -> Outcome {
        self.id += 1;
        let (id, exchange) = (self.id, exchange.clone());
        let sent = self.clock.now();
        let asked = self.hired.send(&Request::Exchange { id, exchange });
        let outcome = asked
            .map_err(|_| WireFault::KeeperLost)
            .and_then(|()| self.outcome(id));
        outcome.unwrap_or_else(|fault| Outcome {
            sent,
            received: self.clock.now(),
            reply: Err(fault),
        })
    }

    fn now(&self) -> Moment {
        self.clock.now()
    }

    fn rest(&mut self, span: Span) {
        thread::sleep(self.clock.patience(span));
    }
}
