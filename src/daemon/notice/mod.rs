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

pub(super) use ending::Ending;
pub(super) use program::run as run_program;
pub use trial::{Tried, try_each};

use super::board::{Board, Posted};
use super::inbox::Message;
use super::standing::{Standing, label_now};
use super::told;
use crate::ledger::RunId;
use crate::units::Span;
use clerk::{AGAIN, Clerk};
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
            others.push(thread("heartbeat", move || {
                life::beat(&heartbeat, &window)
            })?);
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
    std::thread::Builder::new()
        .name(name.to_owned())
        .spawn(work)
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::control::State;
    use crate::daemon::latch::{Latch, OffSince, ReadBy};
    use crate::spec::{self, Shelf};
    use crate::supply::clock::Clock;
    use std::path::PathBuf;
    use std::sync::mpsc::{Receiver, channel};

    const STATION: &str = "name = \"north tank\"\nsupply = \"scpi-standard\"\nport = \"/dev/x\"\n\
        [limits]\ncurrent = \"3 A\"\nvoltage = \"2.5 V\"\n[tank]\nvolume = \"6 L\"\n";

    fn standing(notices: &str) -> Arc<Standing> {
        let shelf = Shelf::embedded();
        let text = format!("{STATION}{notices}");
        let station = spec::station::read("s", &text, &shelf).expect("a station");
        let profile = Arc::new(spec::open_supply(&station.supply, &shelf).expect("a supply"));
        Arc::new(Standing {
            capability: profile.capability(),
            clock: Clock::start(1.0),
            socket: PathBuf::new(),
            ledger: PathBuf::new(),
            station,
            profile,
            shelf,
        })
    }

    fn posted(standing: &Standing, state: State, run: i64) -> Posted {
        let mut snapshot = standing.untouched();
        snapshot.state = state;
        snapshot.run = Some(run);
        let latch = (state == State::Tripped).then(|| Latch {
            run,
            state,
            code: "cell-voltage-high".to_owned(),
            text: "3.1 V".to_owned(),
            since: None,
            metal: None,
            off: OffSince {
                not_before: None,
                read_by: ReadBy::Run,
            },
            resumes: false,
        });
        Posted {
            snapshot,
            night: None,
            latch,
            at: Instant::now(),
            keeper: None,
        }
    }

    fn open(notices: &str, again: &'static [Duration]) -> (Notices, Arc<Standing>, Receiver<Told>) {
        let standing = standing(notices);
        let board = Board::new(posted(&standing, State::Idle, 0));
        let (report, reported) = channel();
        let report: Report = Arc::new(move |told| {
            let _ = report.send(told);
        });
        let notices = Notices::with(&standing, &board, report, again).expect("threads");
        (notices, standing, reported)
    }

    const PATIENCE: Duration = Duration::from_secs(10);

    #[test]
    fn a_stalled_program_stalls_nobody_and_what_finds_no_room_is_reported() {
        let stalled = "[[tell]]\nby = \"command\"\nrun = [\"sleep\", \"600\"]\nwithin = \"60 s\"\n";
        let (notices, standing, reported) = open(stalled, &[]);
        let mut slowest = Duration::ZERO;
        for run in 1..=100 {
            for state in [State::Building, State::Finished] {
                let posted = posted(&standing, state, run);
                let begun = Instant::now();
                notices.look(&posted);
                slowest = slowest.max(begun.elapsed());
            }
        }
        assert!(slowest < Duration::from_millis(100), "{slowest:?}");
        // One is with the program and 32 wait, of 200; the thread may have taken its one late.
        let dropped: Vec<Told> = reported.try_iter().collect();
        assert!((167..=168).contains(&dropped.len()), "{}", dropped.len());
        assert!(dropped.iter().all(|told| told.code == NOT_TOLD));
        assert!(
            dropped[0].text.contains("too many notices"),
            "{:?}",
            dropped[0]
        );
        // What must wake her finds room all the same.
        notices.look(&posted(&standing, State::Tripped, 101));
        let gone = reported.recv_timeout(PATIENCE).expect("one that gave way");
        assert!(!gone.text.starts_with("tripped"), "{gone:?}");
        let begun = Instant::now();
        notices.close(Duration::from_millis(300));
        assert!(
            begun.elapsed() < Duration::from_secs(3),
            "{:?}",
            begun.elapsed()
        );
        assert!(
            notices
                .0
                .clerks
                .iter()
                .all(|clerk| clerk.thread.is_finished())
        );
    }

    #[test]
    fn a_way_that_fails_is_tried_again_so_often_and_then_given_up() {
        const SOON: &[Duration] = &[Duration::from_millis(20), Duration::from_millis(40)];
        let folder = tempfile::tempdir().expect("a folder");
        let tries = folder.path().join("tries");
        let failing = format!(
            "[[tell]]\nby = \"command\"\nrun = [\"sh\", \"-c\", \"echo x >> {}; exit 7\"]\n",
            tries.display()
        );
        let (notices, standing, reported) = open(&failing, SOON);
        notices.look(&posted(&standing, State::Finished, 4));
        let told = reported.recv_timeout(PATIENCE).expect("a report");
        assert_eq!((told.code, told.about), (NOT_TOLD, Some((4, Span::ZERO))));
        assert_eq!(
            told.text,
            "finished not told by command sh: it ended with exit status: 7"
        );
        let text = std::fs::read_to_string(&tries).expect("tries");
        assert_eq!(text.lines().count(), 3);
        notices.close(Duration::ZERO);
    }

    #[test]
    fn each_thing_is_told_once_and_by_the_ways_it_is_for() {
        let ways = "[[tell]]\nby = \"command\"\nrun = [\"true\"]\nabout = \"wake\"\n\
                    [[tell]]\nby = \"command\"\nrun = [\"env\", \"true\"]\nabout = \"morning\"\n";
        let (notices, standing, reported) = open(ways, &[]);
        for state in [
            State::Proving,
            State::Building,
            State::Paused,
            State::Building,
        ] {
            notices.look(&posted(&standing, state, 1));
        }
        notices.look_due();
        notices.look(&posted(&standing, State::Stopping, 1));
        for _ in 0..3 {
            notices.look(&posted(&standing, State::Paused, 1));
        }
        notices.look(&posted(&standing, State::Tripped, 1));
        notices.look(&posted(&standing, State::Tripped, 1));
        // Shorter than the doubt that counts.
        notices.look(&posted(&standing, State::Unconfirmed, 1));
        notices.look(&posted(&standing, State::Idle, 1));
        let mut told: Vec<String> = (0..3)
            .map(|_| reported.recv_timeout(PATIENCE).expect("a report").text)
            .collect();
        told.sort();
        let expected = [
            "began told by command env",
            "look-due told by command env",
            "tripped told by command true",
        ];
        assert_eq!(told, expected);
        notices.close(PATIENCE);
        assert!(reported.try_recv().is_err());
    }

    #[test]
    fn off_that_stays_unproved_is_told_and_once() {
        let standing = standing("");
        let mut watch = Watch::default();
        let begun = Instant::now();
        let at = |s: f64| begun + Duration::from_secs_f64(s);
        let doubtful = posted(&standing, State::Unconfirmed, 1);
        assert_eq!(watch.look(&doubtful, at(0.0)), []);
        assert_eq!(watch.look(&doubtful, at(2.9)), []);
        let news = watch.look(&doubtful, at(3.1));
        assert_eq!(news[0].code.as_deref(), Some("unconfirmed"));
        assert_eq!(watch.look(&doubtful, at(60.0)), []);
    }

    #[test]
    fn a_keeper_that_dies_at_rest_is_told_and_one_that_is_hired_is_not() {
        let standing = standing("");
        let mut watch = Watch::default();
        let mut lost = |state, keeper| {
            let mut posted = posted(&standing, state, 1);
            posted.keeper = keeper;
            let news = watch.look(&posted, Instant::now());
            news.iter()
                .any(|news| news.event == event::Event::KeeperLost)
        };
        assert!(!lost(State::Idle, Some(10)));
        assert!(!lost(State::Unconfirmed, None));
        assert!(lost(State::Unconfirmed, Some(11)));
        assert!(!lost(State::Idle, Some(11)));
        // One that dies in a run ends it, and that is told.
        assert!(!lost(State::Building, Some(11)));
        assert!(!lost(State::Unconfirmed, None));
        assert!(!lost(State::Unconfirmed, Some(12)));
        assert!(!lost(State::Interrupted, Some(12)));
        assert!(lost(State::Unconfirmed, Some(13)));
    }

    #[test]
    fn a_hanging_loop_gives_no_sign_of_life() {
        let folder = tempfile::tempdir().expect("a folder");
        let mark = folder.path().join("alive");
        let standing = standing(&format!(
            "[heartbeat]\nrun = [\"touch\", \"{}\"]\n",
            mark.display()
        ));
        let heartbeat = standing.station.notices.heartbeat.clone().expect("one");
        let hung = Posted {
            at: Instant::now() - Duration::from_secs(11),
            ..posted(&standing, State::Building, 1)
        };
        let window = life::Window {
            board: Board::new(hung),
            standing: Arc::clone(&standing),
            ending: Ending::default(),
            report: Arc::new(|_| {}),
        };
        window.ending.begin();
        life::beat(&heartbeat, &window);
        assert!(!mark.exists());
        window.board.post(posted(&standing, State::Building, 1));
        let window = life::Window {
            ending: Ending::default(),
            ..window
        };
        let ending = window.ending.clone();
        let beating = std::thread::spawn(move || life::beat(&heartbeat, &window));
        wait_until(PATIENCE, || mark.exists());
        ending.begin();
        assert!(beating.join().is_ok() && mark.exists());
    }
}
