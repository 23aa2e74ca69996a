//! A small supply for the keeper's tests, with a latency and faults that a test can turn: as a
//! line in this process, or on a pseudo-terminal. Its commands are written by hand.

use nightvat::supply::wire::{Exchange, Line, Outcome, ReplyEnd, WireFault};
use nightvat::units::{Moment, Span};
use rustix::fs::{Mode, OFlags, fcntl_getfl, fcntl_setfl, open};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
use std::ffi::OsStr;
use std::os::fd::OwnedFd;
use std::os::unix::ffi::OsStrExt;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

/// What the supply is.
#[derive(Clone, Debug, Default)]
pub(crate) struct Model {
    pub(crate) output: bool,
    pub(crate) amps: f64,
    pub(crate) volts: f64,
    /// It accepts off and stays on.
    pub(crate) deaf_to_off: bool,
    /// It answers nothing.
    pub(crate) mute: bool,
    /// What it answers to every question instead: rubbish.
    pub(crate) babbles: Option<String>,
    /// Who it says it is, if it is somebody else.
    pub(crate) identity: Option<String>,
    pub(crate) latency: Duration,
    /// Every message it got.
    pub(crate) heard: Vec<String>,
    pub(crate) clock: Span,
    /// Its own watchdog: after so long without a word to it the output goes off.
    pub(crate) watchdog: Option<Duration>,
    pub(crate) renewed: Option<Instant>,
    /// It knows no watchdog, and says so in its error queue.
    pub(crate) no_watchdog: bool,
    pub(crate) error: bool,
}

impl Model {
    /// The current that flows.
    pub(crate) fn flows(&self) -> f64 {
        let acted = self.renewed.zip(self.watchdog);
        if acted.is_some_and(|(renewed, after)| renewed.elapsed() > after) {
            return 0.0;
        }
        if self.output { self.amps } else { 0.0 }
    }

    /// Takes one message, gives its reply.
    fn take(&mut self, said: &str) -> Option<String> {
        self.heard.push(said.to_owned());
        if let Some(word) = said.strip_prefix("WDOG ") {
            self.error = self.no_watchdog;
            match word {
                "OFF" => (self.watchdog, self.renewed) = (None, None),
                "RES" => self.renewed = Some(Instant::now()),
                seconds => {
                    self.watchdog = Some(Duration::from_secs_f64(seconds.parse().unwrap()));
                    self.renewed = Some(Instant::now());
                }
            }
            return None;
        }
        let (header, data) = said.split_once(' ').unwrap_or((said, ""));
        let reply = match (header, data) {
            (_, _) if self.babbles.is_some() && header.ends_with('?') => self.babbles.clone(),
            ("*IDN?", _) => {
                let known = "FAKE,KEEPER-TEST,0,1.0".to_owned();
                Some(self.identity.clone().unwrap_or(known))
            }
            ("SYST:ERR?", _) if std::mem::take(&mut self.error) => {
                Some("-113,\"Undefined header\"".to_owned())
            }
            ("SYST:ERR?", _) => Some("0,\"No error\"".to_owned()),
            ("MEAS:CURR?", _) => Some(format!("{:.4}", self.flows())),
            ("MEAS:VOLT?", _) => Some(format!("{:.4}", if self.output { 1.2 } else { 0.0 })),
            ("OUTP?", _) => Some(u8::from(self.output).to_string()),
            ("CURR?", _) => Some(format!("{:.4}", self.amps)),
            ("VOLT?", _) => Some(format!("{:.4}", self.volts)),
            ("STAT:QUES:COND?", _) => Some("2".to_owned()),
            ("OUTP", "ON") => {
                self.output = true;
                None
            }
            ("OUTP", "OFF") => {
                self.output &= self.deaf_to_off;
                None
            }
            ("CURR", amps) => {
                self.amps = amps.parse().unwrap();
                None
            }
            ("VOLT", volts) => {
                self.volts = volts.parse().unwrap();
                None
            }
            _ => None,
        };
        reply.filter(|_| !self.mute)
    }
}

impl Line for Model {
    fn exchange(&mut self, exchange: &Exchange) -> Outcome {
        let sent = self.now();
        self.clock += Span::from_ms(20.0);
        let reply = self.take(std::str::from_utf8(&exchange.send).unwrap().trim_end());
        let reply = match (reply, &exchange.end) {
            (Some(reply), _) => Ok(reply.into_bytes()),
            (None, ReplyEnd::None) => Ok(Vec::new()),
            (None, _) => Err(WireFault::Silent),
        };
        Outcome {
            sent,
            received: self.now(),
            reply,
        }
    }

    fn now(&self) -> Moment {
        Moment::ZERO + self.clock
    }

    fn rest(&mut self, span: Span) {
        self.clock += span;
    }
}

/// The supply on a pseudo-terminal of its own.
pub(crate) struct Fake {
    model: Arc<Mutex<Model>>,
    path: PathBuf,
    stop: Arc<AtomicBool>,
    server: Option<JoinHandle<()>>,
}

impl Fake {
    pub(crate) fn lend(model: Model) -> Self {
        let master =
            openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        let name = ptsname(&master, Vec::new()).unwrap();
        let path = PathBuf::from(OsStr::from_bytes(name.to_bytes()));
        let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC;
        let user_end = open(&path, flags, Mode::empty()).unwrap();
        let mut raw = tcgetattr(&user_end).unwrap();
        raw.make_raw();
        tcsetattr(&user_end, OptionalActions::Now, &raw).unwrap();
        fcntl_setfl(&master, fcntl_getfl(&master).unwrap() | OFlags::NONBLOCK).unwrap();
        let model = Arc::new(Mutex::new(model));
        let stop = Arc::new(AtomicBool::new(false));
        let (shared, halt) = (model.clone(), stop.clone());
        let server = Some(thread::spawn(move || {
            serve(&master, user_end, &shared, &halt)
        }));
        Self {
            model,
            path,
            stop,
            server,
        }
    }

    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    fn model(&self) -> MutexGuard<'_, Model> {
        self.model.lock().unwrap()
    }

    /// The current that flows, by the supply's own account.
    pub(crate) fn flows(&self) -> f64 {
        self.model().flows()
    }

    pub(crate) fn heard(&self) -> Vec<String> {
        self.model().heard.clone()
    }

    pub(crate) fn set_latency(&self, latency: Duration) {
        self.model().latency = latency;
    }

    pub(crate) fn change(&self, change: impl FnOnce(&mut Model)) {
        change(&mut self.model());
    }

    /// Takes the terminal away, as a cable pulled does; the supply itself goes on.
    pub(crate) fn unplug(&mut self) -> Model {
        self.stop.store(true, Ordering::SeqCst);
        self.server.take().unwrap().join().unwrap();
        self.model().clone()
    }
}

impl Drop for Fake {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::SeqCst);
        if let Some(server) = self.server.take() {
            let _ended = server.join();
        }
    }
}

/// Serves until it is stopped; the user's end is kept open so that the line lives on between two
/// users.
fn serve(master: &OwnedFd, user_end: OwnedFd, model: &Mutex<Model>, stop: &AtomicBool) {
    let (mut pending, mut chunk) = (Vec::new(), [0_u8; 256]);
    while !stop.load(Ordering::SeqCst) {
        match rustix::io::read(master, &mut chunk) {
            Ok(count) => pending.extend_from_slice(&chunk[..count]),
            Err(_) => thread::sleep(Duration::from_micros(200)),
        }
        while let Some(at) = pending.iter().position(|byte| *byte == b'\n') {
            let line: Vec<u8> = pending.drain(..=at).collect();
            let said = String::from_utf8_lossy(&line);
            let (reply, latency) = {
                let mut model = model.lock().unwrap();
                (model.take(said.trim_end()), model.latency)
            };
            let Some(reply) = reply else { continue };
            thread::sleep(latency);
            rustix::io::write(master, format!("{reply}\r\n").as_bytes()).unwrap();
        }
    }
    drop(user_end);
}
