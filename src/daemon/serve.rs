//! How a daemon begins: everything that can be wrong is found before anything may flow, and the
//! output is off and proved off before anybody can ask for a run. And how it ends.

use super::api::Api;
use super::board::{Board, Posted};
use super::desk::{Desk, End, Opened};
use super::first::{FirstLook, first_look};
use super::going_on::{self, By};
use super::hand::Hand;
use super::inbox::{Message, Reply, Want};
use super::notice::Notices;
use super::page;
use super::place::{Lock, Place, PlaceFault};
use super::pulse::Pulse;
use super::recover::{self, Found, Unfinished};
use super::refusal::{BAD_INPUT, NOT_CONFIRMED_OFF, REFUSED, Refusal};
use super::scribe::{Scribe, Thins};
use super::senses::Senses;
use super::signals::Ears;
use super::standing::Standing;
use super::told;
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

/// The end of a run that broke off is written within this, or a person resumes it.
const RULE_PATIENCE: Duration = Duration::from_secs(60);
/// And it is looked for this often.
const LOOK_AGAIN: Duration = Duration::from_millis(100);
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
    /// Where the page is, if there is one.
    pub page: Option<String>,
    /// Who the supply says it is.
    pub supply: Option<String>,
    /// What a person must read before a run can begin.
    pub latch: Option<String>,
    /// False if the output could not be proved off yet.
    pub confirmed_off: bool,
    /// What happened to the run that was broken off, and what can be done for its pieces.
    pub salvage: Option<serde_json::Value>,
    /// The same, as a person reads it.
    #[serde(skip)]
    pub card: Option<String>,
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
    settings.place.make()?;
    let lock = settings.place.lock()?;
    let keeper = last_record(settings.place.folder());
    let books = SqliteStore::open(&standing.ledger, Batch::Each)
        .and_then(|store| Ok((store, recover::look(&standing, keeper.as_ref())?)));
    let (tell, inbox) = channel();
    let _ears = Ears::open(tell.clone()).map_err(|fault| no_thread(&fault))?;
    let mut hand = hand(settings, &standing, tell.clone());
    // Whether the ledger, or the last keeper, leaves a doubt that the output is off.
    let unfinished = books
        .as_ref()
        .is_ok_and(|(_, found)| !found.unfinished.is_empty());
    let doubt = unfinished || keeper.is_some_and(|record| !record.confirmed_off);
    let first = first_look(&mut hand, &inbox, &standing, doubt)?;
    // A ledger that cannot be used is told of when the output has been seen to.
    let (store, found) = books.map_err(|fault| without_books(fault, &first))?;
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

/// There is no daemon without a ledger; where off is not proved either, that is the worse news.
fn without_books(fault: StoreFault, first: &FirstLook) -> Refusal {
    if first.report.confirmed {
        return fault.into();
    }
    let text = format!("{}; and {fault}", first.report.text());
    Refusal::new(NOT_CONFIRMED_OFF, "unconfirmed", text)
        .remedy("look at the supply and turn its output off by hand")
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

fn hand(settings: &Settings, standing: &Standing, tell: Sender<Message>) -> Hand {
    let keeper = keeper::Settings {
        profile: (*standing.profile).clone(),
        port: PathBuf::from(&standing.station.port),
        clock: standing.clock,
        state: settings.place.folder().to_owned(),
        relay: standing.station.relay.clone(),
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
        let by_rule = by_rule(&standing, found.unfinished.first());
        let listener = settings.place.listen(&lock)?;
        let page = page::open(&standing, &settings.place);
        let posted = Posted {
            snapshot: rest.clone(),
            night: None,
            latch: found.latch.clone(),
            at: Instant::now(),
            keeper: hand.pid(),
        };
        let shows = page.is_some();
        let serving = serving(&standing, &posted, confirmed_off, shows);
        let board = Board::new(posted);
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
        let rule = (Arc::clone(&standing), tell.clone());
        let api =
            Api::start(listener, page, standing, board, tell).map_err(|fault| no_thread(&fault))?;
        ready(&serving);
        if let Some(run) = by_rule {
            std::thread::spawn(move || resume_by_rule(&rule.0, run, &rule.1));
        }
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

/// The run that the station's rule may have go on. Only what broke off just now: what waits for a
/// person since an earlier start goes on waiting.
fn by_rule(standing: &Standing, broken: Option<&Unfinished>) -> Option<RunId> {
    let broken = broken.filter(|_| standing.station.resume.is_some())?;
    if !broken.same_boot() {
        tracing::warn!(
            "not resumed: this computer was started again, and its clock may not tell how long \
             the output was off: a person has the run go on"
        );
        return None;
    }
    Some(broken.id())
}

/// What the daemon says of itself when it answers.
fn serving(standing: &Standing, posted: &Posted, confirmed_off: bool, shows: bool) -> Serving {
    let (salvage, card) = told::aftermath(posted, standing).unzip();
    Serving {
        station: standing.station.name.clone(),
        port: standing.station.port.clone(),
        socket: standing.socket.clone(),
        ledger: standing.ledger.clone(),
        page: page::address(&standing.station).filter(|_| shows),
        supply: posted.snapshot.identity.clone(),
        latch: posted.latch.as_ref().map(|latch| latch.text.clone()),
        confirmed_off,
        salvage,
        card,
    }
}

/// The station at rest, as the first look saw its supply.
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

/// Has the loop go on with an interrupted run as soon as its end is written, if the station's rule
/// allows it; says why not if it does not.
fn resume_by_rule(standing: &Standing, run: RunId, tell: &Sender<Message>) {
    let until = Instant::now() + RULE_PATIENCE;
    let go_on = loop {
        match going_on::read(standing, run, By::Rule) {
            Ok(Some(go_on)) => break go_on,
            Ok(None) if Instant::now() < until => std::thread::sleep(LOOK_AGAIN),
            Ok(None) => return tracing::warn!(run, "not resumed: its end is not written"),
            Err(refusal) => return tracing::warn!(run, "not resumed: {}", refusal.text),
        }
    };
    let (reply, answer) = tokio::sync::oneshot::channel();
    let want = Want::GoOn(Box::new(go_on));
    if tell.send(Message::Asked(want, Reply(reply))).is_ok()
        && let Ok(Err(refusal)) = answer.blocking_recv()
    {
        tracing::warn!(run, "not resumed: {}", refusal.text);
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
                Self::new(BAD_INPUT, "state-unusable", fault.to_string())
                    .at(path)
                    .remedy("make it a folder of your own, or set NIGHTVAT_STATE to another")
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
        Self::new(BAD_INPUT, "ledger-unusable", fault.to_string())
            .at(fault.place)
            .remedy("see `nightvat explain ledger-unusable`; `--ledger FILE` names another")
    }
}
