//! Somebody is told. The loop hands over what it has posted and goes on at once; each way has a
//! bounded queue and a thread of its own, and whatever becomes of a notice changes nothing else.

mod clerk;
mod ending;
mod event;
mod letter;
mod life;
mod mail;
mod program;
mod tray;
mod trial;
mod watch;
mod way;
mod webhook;

pub use trial::{Tried, try_each};

use super::board::{Board, Posted};
use super::inbox::Message;
use super::standing::{Standing, label_now};
use super::told;
use crate::ledger::RunId;
use crate::units::Span;
use clerk::{AGAIN, Clerk};
use ending::Ending;
use letter::{Around, Letter};
use std::fmt;
use std::sync::mpsc::Sender;
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};
use watch::{News, Watch};

/// The code of the event that somebody was told.
pub(super) const TOLD: &str = "told";
/// The code of the event that somebody could not be told.
pub(super) const NOT_TOLD: &str = "not-told";
/// The code of the event that holds what a program of hers printed.
pub(super) const KEPT: &str = "kept";
/// The code of the event that a program of hers failed.
pub(super) const NOT_KEPT: &str = "not-kept";

/// Threads that have nothing more to do are gone within this.
const GONE_WITHIN: Duration = Duration::from_millis(1200);

/// What became of a notice, for the log and the ledger.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Told {
    /// The run it belongs to, and how long that had gone on.
    pub(super) about: Option<(RunId, Span)>,
    pub(super) code: &'static str,
    pub(super) text: String,
}

impl Told {
    fn of(letter: &Letter, by: &str) -> Self {
        Self {
            about: letter.run,
            code: TOLD,
            text: format!("{} told by {by}", letter.event.word()),
        }
    }

    fn not(letter: &Letter, by: &str, why: &str) -> Self {
        Self {
            about: letter.run,
            code: NOT_TOLD,
            text: format!("{} not told by {by}: {why}", letter.event.word()),
        }
    }
}

/// Where it is said what became of a notice.
type Report = Arc<dyn Fn(Told) + Send + Sync>;

/// All who tell somebody.
#[derive(Clone)]
pub(super) struct Notices(Arc<Office>);

struct Office {
    standing: Arc<Standing>,
    watch: Mutex<Watch>,
    clerks: Vec<Clerk>,
    report: Report,
    ending: Ending,
    /// The sign of life and what is done each hour.
    others: Vec<JoinHandle<()>>,
}

impl fmt::Debug for Notices {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Notices").field(&self.0.clerks).finish()
    }
}

impl Notices {
    /// Starts a thread for each way of the station. What becomes of notices is said to `inbox`.
    pub(super) fn open(
        standing: &Arc<Standing>,
        board: &Board,
        inbox: Sender<Message>,
    ) -> std::io::Result<Self> {
        let report: Report = Arc::new(move |told: Told| {
            say(&told);
            // At the end nobody listens any more; the log has it.
            let _ = inbox.send(Message::Told(told));
        });
        Self::with(standing, board, report, &AGAIN)
    }

    fn with(
        standing: &Arc<Standing>,
        board: &Board,
        report: Report,
        again: &'static [Duration],
    ) -> std::io::Result<Self> {
        let notices = &standing.station.notices;
        let ending = Ending::default();
        let start = |tell| Clerk::start(tell, again, ending.clone(), Arc::clone(&report));
        let clerks = notices.tell.iter().map(start).collect::<Result<_, _>>()?;
        let window = life::Window {
            board: board.clone(),
            standing: Arc::clone(standing),
            ending: ending.clone(),
            report: Arc::clone(&report),
        };
        let mut others = Vec::new();
        if let Some(heartbeat) = notices.heartbeat.clone() {
            let window = window.clone();
            others.push(thread("heartbeat", move || life::beat(&heartbeat, &window))?);
        }
        if let Some(hourly) = notices.hourly.clone() {
            others.push(thread("hourly", move || life::hourly(&hourly, &window))?);
        }
        Ok(Self(Arc::new(Office {
            standing: Arc::clone(standing),
            watch: Mutex::default(),
            clerks,
            report,
            ending,
            others,
        })))
    }

    /// The next pause is a planned look.
    pub(super) fn look_due(&self) {
        self.watch().look_due();
    }

    /// Looks at what is posted, and has told what is new. It never waits.
    pub(super) fn look(&self, posted: &Posted) {
        let news = self.watch().look(posted, Instant::now());
        for news in news {
            self.tell(&news, posted);
        }
    }

    fn tell(&self, news: &News, posted: &Posted) {
        let office = &self.0;
        if office.clerks.is_empty() {
            return;
        }
        let snapshot = &posted.snapshot;
        let screen = told::screen(posted, &office.standing);
        let letter = Arc::new(Letter::write(
            news,
            Around {
                station: &snapshot.station,
                run: snapshot.run.map(|run| (run, snapshot.elapsed)),
                job: snapshot.job.as_deref(),
                at: label_now(),
                status: screen["status"].clone(),
                screen: screen["text"].as_str().unwrap_or_default(),
            },
        ));
        for clerk in &office.clerks {
            if let Some(told) = clerk.hand(&letter) {
                (office.report)(told);
            }
        }
    }

    /// Somebody has heard: sounds stop. True if there was one.
    pub(super) fn hush(&self) -> bool {
        let hushed: Vec<bool> = self.0.clerks.iter().map(Clerk::hush).collect();
        hushed.contains(&true)
    }

    /// Has told what was never tried yet, but does not wait longer than this. Programs that still
    /// run then are killed.
    pub(super) fn close(&self, at_most: Duration) {
        let office = &self.0;
        office.clerks.iter().for_each(Clerk::close);
        let clerks = || office.clerks.iter().all(|clerk| clerk.thread.is_finished());
        wait_until(at_most, clerks);
        office.ending.begin();
        let all = || clerks() && office.others.iter().all(JoinHandle::is_finished);
        wait_until(GONE_WITHIN, all);
    }

    fn watch(&self) -> std::sync::MutexGuard<'_, Watch> {
        self.0.watch.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn thread(name: &str, work: impl FnOnce() + Send + 'static) -> std::io::Result<JoinHandle<()>> {
    std::thread::Builder::new().name(name.to_owned()).spawn(work)
}

fn wait_until(at_most: Duration, done: impl Fn() -> bool) {
    let until = Instant::now() + at_most;
    while !done() && Instant::now() < until {
        std::thread::sleep(Duration::from_millis(5));
    }
}

/// The log's line.
fn say(told: &Told) {
    let run = told.about.map(|(run, _)| run);
    match told.code {
        NOT_TOLD | NOT_KEPT => tracing::error!(run, "{}", told.text),
        _ => tracing::info!(run, "{}", told.text),
    }
}
