//! How a daemon begins: everything that can be wrong is found before anything may flow, and the
//! output is off and proved off before anybody can ask for a run. And how it ends.

use super::api::Api;
use super::board::{Board, Posted};
use super::desk::{Desk, End, Opened};
use super::first::{FirstLook, first_look};
use super::hand::Hand;
use super::inbox::Message;
use super::notice::Notices;
use super::place::{Lock, Place, PlaceFault};
use super::pulse::Pulse;
use super::recover::{self, Found};
use super::refusal::{BAD_INPUT, REFUSED, Refusal};
use super::scribe::{Scribe, Thins};
use super::senses::Senses;
use super::signals::Ears;
use super::standing::Standing;
use crate::ledger::{Batch, RunId, SqliteStore, StoreFault};
use crate::run::Snapshot;
use crate::spec::{self, Shelf};
use crate::supply::clock::Clock;
use crate::supply::keeper::{self, last_record};
use crate::supply::port::is_pseudo_terminal;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::{Duration, Instant};

/// What waits for the disk at the end gets this long.
const LAST_WORDS: Duration = Duration::from_secs(5);
/// Somebody is still told what happened at the end, within this.
const LAST_NOTICES: Duration = Duration::from_secs(4);

/// What a daemon is told when it is started.
#[derive(Clone, Debug)]
pub struct Settings {
    /// The station: a name or a path.
    pub station: String,
    /// The state folder.
    pub place: Place,
    /// Another ledger than the one in the state folder.
    pub ledger: Option<PathBuf>,
    /// How much faster than real its clock runs; above 1 only on a pseudo-terminal.
    pub speed: f64,
    /// The program that knows the command `keeper`: this one.
    pub exe: PathBuf,
}

/// A daemon that is ready.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Serving {
    /// The station's name.
    pub station: String,
    /// The supply's port.
    pub port: String,
    /// The socket.
    pub socket: PathBuf,
    /// The ledger.
    pub ledger: PathBuf,
    /// Who the supply says it is.
    pub supply: Option<String>,
    /// What a person must read before a run can begin.
    pub latch: Option<String>,
    /// False if the output could not be proved off yet.
    pub confirmed_off: bool,
}

impl Thins for SqliteStore {
    fn thin_run(&mut self, run: RunId) {
        match self.thin(run) {
            Ok(left) => tracing::debug!(run, left, "readings thinned"),
            Err(fault) => tracing::warn!(run, "readings not thinned: {fault}"),
        }
    }
}

/// Runs a daemon until a signal ends it. `ready` is called once, when it answers.
///
/// # Errors
/// [`Refusal`] with the exit status if it cannot begin. Nothing was energised then.
pub fn serve(settings: &Settings, ready: impl FnOnce(&Serving)) -> Result<End, Refusal> {
    let standing = Arc::new(stand(settings)?);
    say_what_is_not_done(&standing);
    settings.place.make()?;
    let lock = settings.place.lock()?;
    let store = SqliteStore::open(&standing.ledger, Batch::Each)?;
    let found = recover::look(&standing)?;
    let (tell, inbox) = channel();
    let _ears = Ears::open(tell.clone()).map_err(|fault| no_thread(&fault))?;
    let mut hand = hand(settings, &standing, tell.clone());
    // Whether the ledger, or the last keeper, leaves a doubt that the output is off.
    let doubt = !found.unfinished.is_empty()
        || last_record(settings.place.folder()).is_some_and(|record| !record.confirmed_off);
    let first = first_look(&mut hand, &inbox, &standing, doubt)?;
    let scribe = Scribe::start(store, tell.clone()).map_err(|fault| no_thread(&fault))?;
    let house = House {
        settings,
        standing,
        lock,
        tell,
        inbox,
    };
    house.open(hand, scribe, found, first, ready)
}

/// Reads what does not change.
fn stand(settings: &Settings) -> Result<Standing, Refusal> {
    let shelf = Shelf::disk();
    let station = spec::station::open(&settings.station, &shelf)?;
    let profile = Arc::new(spec::open_supply(&station.supply, &shelf)?);
    if settings.speed != 1.0 && !is_pseudo_terminal(Path::new(&station.port)) {
        let text = format!(
            "the clock of {} may not be hurried: it is a real port",
            station.port
        );
        return Err(Refusal::new(BAD_INPUT, "not-simulated", text)
            .at(station.port)
            .remedy("leave --speed out, or let the station name a simulated supply"));
    }
    Ok(Standing {
        capability: profile.capability(),
        clock: Clock::start(settings.speed),
        socket: settings.place.socket(),
        ledger: settings
            .ledger
            .clone()
            .unwrap_or_else(|| settings.place.ledger()),
        station,
        profile,
        shelf,
    })
}

/// Wishes of the station file that this version reads and does not carry out are never silent.
fn say_what_is_not_done(standing: &Standing) {
    if let Some(page) = &standing.station.page {
        tracing::warn!(
            "no page on {}: this version listens on its socket only",
            page.listen
        );
    }
    if standing.station.resume.is_some() {
        tracing::warn!(
            "an interrupted run waits for a person: this version resumes none by itself"
        );
    }
}

fn hand(settings: &Settings, standing: &Standing, tell: Sender<Message>) -> Hand {
    let keeper = keeper::Settings {
        profile: (*standing.profile).clone(),
        port: PathBuf::from(&standing.station.port),
        clock: standing.clock,
        state: settings.place.folder().to_owned(),
    };
    Hand::new(settings.exe.clone(), keeper, tell)
}

/// All that lives as long as the daemon.
struct House<'a> {
    settings: &'a Settings,
    standing: Arc<Standing>,
    lock: Lock,
    tell: Sender<Message>,
    inbox: Receiver<Message>,
}

impl House<'_> {
    /// Answers people until the system asks it to end.
    fn open(
        self,
        hand: Hand,
        scribe: Scribe,
        found: Found,
        first: FirstLook,
        ready: impl FnOnce(&Serving),
    ) -> Result<End, Refusal> {
        let Self {
            settings,
            standing,
            lock,
            tell,
            inbox,
        } = self;
        let rest = seen(found.rest, &first);
        let confirmed_off = first.report.confirmed;
        let listener = settings.place.listen(&lock)?;
        let serving = Serving {
            station: standing.station.name.clone(),
            port: standing.station.port.clone(),
            socket: standing.socket.clone(),
            ledger: standing.ledger.clone(),
            supply: rest.identity.clone(),
            latch: found.latch.as_ref().map(|latch| latch.text.clone()),
            confirmed_off,
        };
        let board = Board::new(Posted {
            snapshot: rest.clone(),
            latch: found.latch.clone(),
            at: Instant::now(),
            keeper: hand.pid(),
        });
        let notices =
            Notices::open(&standing, &board, tell.clone()).map_err(|fault| no_thread(&fault))?;
        let senses = Senses::open(&standing, &tell).map_err(|fault| no_thread(&fault))?;
        let desk = Desk::new(Opened {
            clock: standing.clock,
            inbox,
            scribe,
            hand,
            standing: Arc::clone(&standing),
            board: board.clone(),
            notices: notices.clone(),
            pulse: Pulse::of_environment(),
            rest,
            latch: found.latch,
            off_proved: confirmed_off,
            unfinished: found.unfinished,
        });
        let api = Api::start(listener, standing, board, tell).map_err(|fault| no_thread(&fault))?;
        ready(&serving);
        let (end, scribe, hand) = desk.work();
        api.close();
        notices.close(LAST_NOTICES);
        senses.close();
        if !scribe.close(LAST_WORDS) {
            tracing::error!("the ledger did not take its last words in time");
        }
        // Its pipe closed, the keeper ends; what it has not proved off it goes on trying.
        drop(hand);
        if let Err(fault) = std::fs::remove_file(&serving.socket) {
            tracing::warn!("the socket stays behind: {fault}");
        }
        drop(lock);
        Ok(end)
    }
}

/// The station at rest, with what the first look saw of its supply.
fn seen(rest: Snapshot, first: &FirstLook) -> Snapshot {
    let reading = first.report.reading.as_ref();
    Snapshot {
        output_on: reading.and_then(|reading| reading.output),
        current: reading.and_then(|reading| reading.current),
        last_reply: reading.map(|reading| reading.received),
        identity: first.identity.clone(),
        ..rest
    }
}

fn no_thread(fault: &std::io::Error) -> Refusal {
    Refusal::new(
        REFUSED,
        "no-thread",
        format!("the system gives no thread or socket: {fault}"),
    )
}

impl From<PlaceFault> for Refusal {
    fn from(fault: PlaceFault) -> Self {
        match &fault {
            PlaceFault::Nowhere => Self::new(BAD_INPUT, "no-state-folder", fault.to_string())
                .remedy("set NIGHTVAT_STATE to a folder"),
            PlaceFault::Unusable { path, .. } => {
                Self::new(BAD_INPUT, "state-unusable", fault.to_string()).at(path)
            }
            PlaceFault::Taken { folder, .. } => Self::new(REFUSED, "busy", fault.to_string())
                .at(folder)
                .remedy(
                    "one daemon for a state folder: talk to it, or set NIGHTVAT_STATE to another",
                ),
        }
    }
}

impl From<StoreFault> for Refusal {
    fn from(fault: StoreFault) -> Self {
        Self::new(BAD_INPUT, "ledger-unusable", fault.to_string()).at(fault.place)
    }
}
