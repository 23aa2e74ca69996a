//! The keeper's process: threads that only listen, and one that only acts.
//!
//! The acting thread waits for nothing but a word from the others or the next deadline, so that
//! neither a stuck pipe nor a stuck reader nor a stuck disk can keep it from turning the output
//! off. What it reports it never waits to get rid of.

use super::grip::{CUT_AFTER, Grip};
use super::record::{Lock, Proof, Record, last_record, leave_settings};
use super::secretary::Secretary;
use super::toggle::toggle;
use super::watch::Watch;
use super::{Mark, Report, Request, Settings, Why};
use crate::exchange::Contact;
use crate::supply::link::Link;
use crate::supply::off::OffReport;
use crate::supply::port::{Port, PortError};
use crate::supply::wire::Line;
use rustix::fs::{OFlags, fcntl_getfl, fcntl_setfl};
use rustix::mm::{MlockAllFlags, mlockall};
use signal_hook::consts::{SIGABRT, SIGHUP, SIGINT, SIGQUIT, SIGTERM};
use signal_hook::iterator::Signals;
use std::fs::File;
use std::io::{self, BufRead, Write};
use std::os::fd::AsFd;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread;
use std::time::{Duration, Instant};

/// A keeper that still turns its output off may hold the lock; its successor waits so long for it.
const PATIENCE: Duration = Duration::from_secs(10);
/// What is armed is on the disk within this, or it is said that it is not.
const RECORDED_WITHIN: Duration = Duration::from_secs(2);
/// The last record is waited for this long at the end.
const LAST_WORDS: Duration = Duration::from_secs(5);
/// How long the acting thread waits at most without looking around.
const LOOK_AROUND: Duration = Duration::from_secs(3600);

/// What the listening threads tell the acting one.
enum Word {
    Said(Request),
    /// A line that is no request.
    Nonsense,
    Leave(Why),
    /// The relay's line cannot be toggled.
    RelayLost(String),
}

/// The process. It reads its settings from the first line of its standard input. Zero: it left
/// with nothing flowing that it had armed; anything else: it never began.
#[must_use]
pub fn main() -> ExitCode {
    // A session of its own: what kills the daemon's group or terminal does not reach it.
    let _leader = rustix::process::setsid();
    let mut first = String::new();
    let settings = io::stdin()
        .lock()
        .read_line(&mut first)
        .map(|_| serde_json::from_str(&first));
    let Ok(Ok(settings)) = settings else {
        say("it is started by `nightvat serve`, which sends its settings");
        return ExitCode::from(2);
    };
    match Keeper::begin(settings) {
        Ok(mut keeper) => {
            keeper.serve();
            keeper.secretary.close(LAST_WORDS);
            // Six is "output not confirmed off": here of a simulated supply that is no more.
            if keeper.watch.is_idle() {
                ExitCode::SUCCESS
            } else {
                ExitCode::from(6)
            }
        }
        Err(code) => code,
    }
}

/// Its log may be on a disk that is full: what cannot be said is not said, and nothing breaks.
pub(super) fn say(text: &str) {
    let _ = writeln!(io::stderr(), "nightvat keeper: {text}");
}

struct Keeper {
    settings: Settings,
    watch: Watch<Port>,
    words: Receiver<Word>,
    /// Set before the word to leave is sent: requests that still queue are skipped.
    leaving: Arc<AtomicBool>,
    out: Mouth,
    /// The run that is armed, if it was told.
    mark: Option<Mark>,
    /// The first reading that proved off what was armed last, by this keeper or the one before.
    proof: Option<Proof>,
    /// When the relay was let go since off was not confirmed, on the wall clock.
    cut: Option<String>,
    /// The keeper before left an output that it had not proved off, and this one has not either.
    inherited: bool,
    secretary: Secretary,
    /// Held until the end of the process.
    _lock: Lock,
}

impl Keeper {
    fn begin(settings: Settings) -> Result<Self, ExitCode> {
        let mut out = Mouth::new();
        let busy = || Report::NoPort(PortError::Busy(settings.port.clone()));
        let lock = match Lock::take(&settings.state, PATIENCE) {
            Ok(Some(lock)) => lock,
            Ok(None) => return Err(out.last_words(&busy())),
            Err(error) => {
                let (path, text) = (settings.state.clone(), error.to_string());
                return Err(out.last_words(&Report::NoPort(PortError::Unusable { path, text })));
            }
        };
        let (tell, words) = channel();
        let leaving = Arc::new(AtomicBool::new(false));
        // Before the port is touched, so that no signal ends the process while it matters.
        let ends = Ends {
            leaving: leaving.clone(),
            grip: settings.relay.as_ref().map(|_| Grip::new(Instant::now())),
        };
        listen_to_signals(tell.clone(), ends.clone());
        let port = match Port::open(&settings.port, &settings.profile, settings.clock) {
            Ok(port) => port,
            Err(error) => return Err(out.last_words(&Report::NoPort(error))),
        };
        listen_to_owner(tell.clone(), ends.clone());
        // The port is what counts: a disk that does not take them costs only a way to say off.
        if let Err(error) = leave_settings(&settings) {
            say(&format!("its settings could not be left behind: {error}"));
        }
        // The off path must not wait for a page to come back from a slow disk; without the right
        // to it, it may.
        let flags = MlockAllFlags::CURRENT | MlockAllFlags::FUTURE | MlockAllFlags::ONFAULT;
        let _locked = mlockall(flags);
        let link = Link::new(Arc::new(settings.profile.clone()));
        let mut watch = Watch::new(port, link, settings.clock);
        if let (Some(relay), Some(grip)) = (&settings.relay, ends.grip) {
            let opens_within = settings.clock.real(relay.opens_within);
            watch = watch.with_relay(grip.clone(), opens_within);
            toggle(relay.clone(), settings.clock, grip, move |text| {
                let _heard = tell.send(Word::RelayLost(text));
            });
        }
        out.tell(&Report::Ready {
            pid: std::process::id(),
        });
        let last = last_record(&settings.state);
        Ok(Self {
            mark: None,
            inherited: last
                .as_ref()
                .is_some_and(|last| !last.confirmed_off && last.port == settings.port),
            proof: last.and_then(|record| record.proof),
            cut: None,
            secretary: Secretary::start(&settings.state),
            settings,
            watch,
            words,
            leaving,
            out,
            _lock: lock,
        })
    }

    /// Serves until it may leave. A panic is met like the loss of the owner: off, proved, and out.
    fn serve(&mut self) {
        let mut leave = None;
        while catch_unwind(AssertUnwindSafe(|| self.attend(&mut leave))).is_err() {
            leave = Some(Why::Broken);
            self.leaving.store(true, Ordering::SeqCst);
            self.watch
                .start_anew(Instant::now() + Duration::from_millis(100));
        }
    }

    fn attend(&mut self, leave: &mut Option<Why>) {
        loop {
            self.look_at_relay();
            if let Some((why, report)) = self.watch.due(Instant::now()) {
                self.look_at_relay();
                self.turned_off(why, report);
            }
            let free = self.watch.is_idle() || self.watch.line().is_abandoned();
            if leave.is_some() && free {
                return;
            }
            let wait = self.watch.idle_for(Instant::now()).unwrap_or(LOOK_AROUND);
            match self.words.recv_timeout(wait.min(LOOK_AROUND)) {
                Ok(Word::Said(request)) if !self.leaving.load(Ordering::SeqCst) => {
                    // What came due while it waited comes first: what is asked may raise.
                    if let Some((why, report)) = self.watch.due(Instant::now()) {
                        self.turned_off(why, report);
                    }
                    self.act(request);
                }
                Ok(Word::Said(_) | Word::Nonsense) | Err(RecvTimeoutError::Timeout) => {}
                Ok(Word::Leave(why)) => self.leave(why, leave),
                Ok(Word::RelayLost(text)) => self.out.tell(&Report::RelayLost(text)),
                Err(RecvTimeoutError::Disconnected) => self.leave(Why::OwnerGone, leave),
            }
        }
    }

    /// The relay is let go by the clock alone; here it is only told and written down.
    fn look_at_relay(&mut self) {
        if self.watch.cuts(Instant::now()) {
            self.is_cut(false);
        }
    }

    fn is_cut(&mut self, asked: bool) {
        self.cut = Some(chrono::Local::now().to_rfc3339());
        self.out.tell(&Report::Cut { asked });
        self.record(Record::cut(&self.settings, asked));
    }

    /// A signal means off in any case; an owner who is gone means off if anything may flow, or
    /// if nobody knows.
    fn leave(&mut self, why: Why, leave: &mut Option<Why>) {
        let always = matches!(why, Why::Signal(_));
        if always || self.inherited || !self.watch.is_idle() {
            self.watch.order_off(why.clone(), Instant::now());
        }
        leave.get_or_insert(why);
    }

    fn act(&mut self, request: Request) {
        let Some(report) = self.watch.handle(request, Instant::now()) else {
            return;
        };
        match &report {
            Report::Cut { asked } => return self.is_cut(*asked),
            Report::Off { why, report } => return self.turned_off(why.clone(), report.clone()),
            Report::Armed(limits) => {
                // Before the owner hears of it: whoever finds the record knows that the output may
                // be on.
                (self.mark, self.proof, self.cut) = (limits.mark, None, None);
                let written = self.record(Record::armed(&self.settings, limits));
                // Nothing flows yet: this once it may wait for the disk.
                if written.recv_timeout(RECORDED_WITHIN).is_err() {
                    say("the disk does not take the record of what is armed");
                }
            }
            Report::Disarmed => {
                self.proved();
                let _written = self.record(Record::disarmed(&self.settings));
            }
            Report::Ready { .. }
            | Report::NoPort(_)
            | Report::Exchanged { .. }
            | Report::NotArmed(_)
            | Report::RelayLost(_)
            | Report::Gone(_) => {}
        }
        self.out.tell(&report);
    }

    /// Tells and writes down what came of turning off: first the owner, who may wait for it.
    fn turned_off(&mut self, why: Why, report: OffReport) {
        if report.confirmed {
            self.proved();
        }
        let record = Record::off(&self.settings, &why, &report);
        self.out.tell(&Report::Off { why, report });
        let _written = self.record(record);
    }

    /// A reading has just proved the output off. The first one since a run was armed counts.
    fn proved(&mut self) {
        self.inherited = false;
        let (mark, now) = (self.mark.take(), self.watch.line().now());
        self.proof.get_or_insert_with(|| Proof::new(mark, now));
    }

    /// Has a record written; the receiver tells when it is.
    fn record(&self, record: Record) -> Receiver<()> {
        let proof = self.proof.clone();
        let record = Record { proof, ..record }.after(self.cut.as_ref());
        self.secretary.write(record)
    }
}

/// What the listening threads do by themselves, before the acting one has heard.
#[derive(Clone)]
struct Ends {
    /// Requests that still queue are skipped.
    leaving: Arc<AtomicBool>,
    grip: Option<Arc<Grip>>,
}

impl Ends {
    /// Off is due: the relay has no longer than that may take.
    fn leave(&self) {
        self.leaving.store(true, Ordering::SeqCst);
        if let Some(grip) = &self.grip {
            grip.no_longer_than(Instant::now() + CUT_AFTER);
        }
    }

    /// What opens the relay waits for no exchange.
    fn heard(&self, word: &Word) {
        if let (Word::Said(Request::Relay(Contact::LetGo | Contact::Cut { .. })), Some(grip)) =
            (word, &self.grip)
        {
            grip.want(false);
        }
    }
}

/// Reads requests until the pipe is closed.
fn listen_to_owner(tell: Sender<Word>, ends: Ends) {
    thread::spawn(move || {
        for line in io::stdin().lock().lines() {
            let Ok(line) = line else { break };
            let word = serde_json::from_str(&line).map_or(Word::Nonsense, Word::Said);
            ends.heard(&word);
            if tell.send(word).is_err() {
                return;
            }
        }
        ends.leave();
        let _heard = tell.send(Word::Leave(Why::OwnerGone));
    });
}

/// Catches what asks a process to end. SIGPIPE is ignored from the start in every Rust program.
/// SIGKILL and SIGSTOP cannot be caught; SIGABRT can when it is sent, not when this process aborts
/// itself.
fn listen_to_signals(tell: Sender<Word>, ends: Ends) {
    let mut signals = match Signals::new([SIGTERM, SIGINT, SIGHUP, SIGQUIT, SIGABRT]) {
        Ok(signals) => signals,
        Err(error) => {
            say(&format!("signals cannot be caught: {error}"));
            return;
        }
    };
    thread::spawn(move || {
        for signal in signals.forever() {
            let name = signal_hook::low_level::signal_name(signal).unwrap_or("a signal");
            ends.leave();
            if tell
                .send(Word::Leave(Why::Signal(name.to_owned())))
                .is_err()
            {
                return;
            }
        }
    });
}

/// The standard output, never waited for: an owner that does not read loses reports, and with them
/// its lease.
struct Mouth {
    out: Option<File>,
}

impl Mouth {
    fn new() -> Self {
        let out = io::stdout()
            .as_fd()
            .try_clone_to_owned()
            .ok()
            .map(File::from);
        if let Some(file) = &out
            && let Ok(flags) = fcntl_getfl(file)
        {
            let _set = fcntl_setfl(file, flags | OFlags::NONBLOCK);
        }
        Self { out }
    }

    /// Reports. After a report that could not be got rid of it is silent: half a line cannot be
    /// mended.
    fn tell(&mut self, report: &Report) {
        let Ok(mut line) = serde_json::to_vec(report) else {
            return;
        };
        line.push(b'\n');
        let written = self.out.as_mut().map_or(Ok(()), |out| out.write_all(&line));
        if written.is_err() {
            self.out = None;
        }
    }

    fn last_words(&mut self, report: &Report) -> ExitCode {
        self.tell(report);
        ExitCode::from(4)
    }
}
