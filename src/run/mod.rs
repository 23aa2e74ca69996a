//! Joins the deciding to the talking and the writing down. This room knows in which order effects
//! must happen: what raises waits for the ledger, what lowers never waits. It must never know a
//! clock, a port or a file, and it decides nothing about volts. View, rig, daemon and cli come in:
//! rig and daemon drive it the same way.
//!
//! A driver builds a [`Run`], says [`Input::Begin`], carries out the [`Effect`]s in their order,
//! and tells what came of them with [`Run::handle`]. One exchange is on the wire at any time.

mod bedtime;
mod book;
mod evidence;
mod snapshot;
mod talking;
mod tank;
mod voice;

pub use bedtime::{Bedtime, Evening};
pub use evidence::{RunDensity, evidence, run_density};
pub use snapshot::{Alarm, PieceState, Snapshot};
pub use tank::{
    AdditiveState, AnodeState, Gone, Losses, TankState, additive_state, gone, tank_state,
};

use crate::control::{
    Action, Carried, Core, Envelope, Event, Outcome as Ending, Permit, Sense, State, Timing, Wish,
};
use crate::exchange::{Answer, Capability, Contact, Identity, Order};
use crate::ledger::{Entry, Origin, Rehung, RunHead, RunId, Ticket};
use crate::plan::{Limits, Plan};
use crate::supply::link::Link;
use crate::supply::wire::{Exchange, Outcome};
use crate::units::{Current, Moment, Span, Voltage};
use book::Book;
use std::collections::VecDeque;
use std::sync::Arc;

/// What a run is told.
#[derive(Clone, Debug, PartialEq)]
pub enum Input {
    /// Begin.
    Begin,
    /// The exchange on the wire came to this.
    Wire(Outcome),
    /// The moment of the last [`Effect::Wake`] has come.
    Woke,
    /// Everything recorded before this ticket is durable.
    Committed(Ticket),
    /// The ledger refused.
    LedgerFailed(String),
    /// The keeper process is gone.
    KeeperLost,
    /// The keeper turned the output off by itself and read it off, between these two moments.
    KeptOff(Moment, Moment),
    /// The line of the relay cannot be toggled: it opens.
    RelayLost(String),
    /// The keeper has let the relay go by itself.
    RelayCut,
    /// A person asks.
    Asked(Wish),
    /// Other pieces hang from now on. Taken only in a pause.
    Rehung(Box<Change>),
    /// Something beside the supply was noticed.
    Sensed(Sense),
}

/// What a run wants done, in order.
#[derive(Clone, Debug, PartialEq)]
pub enum Effect {
    /// Carry this exchange out, whole, and say [`Input::Wire`].
    Exchange(Exchange),
    /// Take this entry down.
    Record(Entry),
    /// Make durable what was recorded, and say [`Input::Committed`].
    Commit(Ticket),
    /// Give the keeper its limits; nothing raises before.
    Arm(Arming),
    /// Renew the keeper's lease: a period is complete.
    Renew,
    /// Release the keeper: the output is confirmed off.
    Disarm,
    /// Have the keeper move the relay in the output lead. Only where the station has one.
    Relay(Contact),
    /// Say [`Input::Woke`] at this moment; it replaces the one before.
    Wake(Moment),
    /// The run is over, its output confirmed off, and that is in the ledger's hands.
    Ended(Ending),
}

/// The keeper's absolute limits for a run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arming {
    /// At most this current.
    pub current: Current,
    /// At most this voltage.
    pub voltage: Voltage,
    /// The output is off after this at the latest.
    pub within: Span,
    /// The run.
    pub run: RunId,
    /// What its times count from.
    pub origin: Origin,
}

/// A change of what hangs in a run.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// The plan of the rest of the night.
    pub plan: Arc<Plan>,
    /// What the ledger is told of it.
    pub told: Rehung,
}

impl Arming {
    fn of(limits: &Limits, run: RunId, origin: Origin) -> Self {
        Self {
            current: limits.current,
            voltage: limits.voltage,
            // Pauses count: the keeper's latest end leaves room for a person to look.
            within: limits.time_on * 1.5 + Span::from_h(12.0),
            run,
            origin,
        }
    }
}

/// How a run writes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Habits {
    /// Readings are made durable this often.
    pub batch: Span,
    /// A commit that takes longer than this is a ledger that does not write.
    pub ledger_patience: Span,
}

impl Default for Habits {
    fn default() -> Self {
        Self {
            batch: Span::from_s(5.0),
            ledger_patience: Span::from_s(15.0),
        }
    }
}

/// An order that meets a silent, a garbled or a lost line is taken up again for so long: short of
/// the time after which a run without a reading is ended.
const TRIES_FOR: Span = Span::from_s(4.0);

/// An order that waits for the line.
#[derive(Clone, Copy, Debug)]
struct Queued {
    order: Order,
    permit: Option<Permit>,
}

/// The order that is being carried out.
#[derive(Clone, Copy, Debug)]
struct Flight {
    queued: Queued,
    /// When it was first begun.
    since: Moment,
    /// It was taken up again.
    again: bool,
}

/// One carrying-out of a job.
pub struct Run {
    core: Core,
    link: Link,
    queue: VecDeque<Queued>,
    in_flight: Option<Flight>,
    abandoned: bool,
    rest_until: Option<Moment>,
    wake: Option<Moment>,
    book: Book,
    arming: Arming,
    armed: bool,
    voice: voice::Voice,
    actions: Vec<Action>,
}

impl Run {
    /// A run with its number in the ledger, on a line that speaks this dialect. `now` becomes the
    /// zero of its times.
    #[must_use]
    pub fn new(
        now: Moment,
        id: RunId,
        head: &RunHead,
        plan: Arc<Plan>,
        supply: Capability,
        link: Link,
        habits: Habits,
    ) -> Self {
        let timing = Timing::for_supply(&supply);
        let (limits, origin) = (plan.limits, Origin::new(now, Span::ZERO));
        Self {
            core: Core::new(plan, supply, timing),
            link,
            queue: VecDeque::with_capacity(8),
            in_flight: None,
            abandoned: false,
            rest_until: None,
            wake: None,
            book: Book::new(now, habits),
            arming: Arming::of(&limits, id, origin),
            armed: false,
            voice: voice::Voice::new(id, head, origin),
            actions: Vec::with_capacity(8),
        }
    }

    /// The same run going on after an interruption: `before` is how long ago it began.
    #[must_use]
    pub fn carry(mut self, now: Moment, before: Span, carried: &Carried) -> Self {
        self.core = self.core.carry(carried);
        self.arming.origin = Origin::new(now, before);
        self.voice.count_from(self.arming.origin);
        self
    }

    /// Takes one input and adds what is to be done, in order, to `effects`. Time never goes
    /// backwards.
    pub fn handle(&mut self, now: Moment, input: Input, effects: &mut Vec<Effect>) {
        match input {
            Input::Begin => self.tell(now, Event::Begin, effects),
            Input::Wire(outcome) => self.heard(now, outcome, effects),
            Input::Woke => self.woke(now, effects),
            Input::Committed(ticket) => {
                let envelope = self.book.committed(now, ticket);
                if self.book.quick_again() {
                    let sense = Sense::LedgerWaits(Span::ZERO);
                    self.tell(now, Event::Sensed(sense), effects);
                }
                if let Some(envelope) = envelope {
                    // A late one of before a pause arms nothing.
                    if self.state() == State::Proving {
                        self.arm(effects);
                    }
                    self.tell(now, Event::Recorded(envelope), effects);
                }
            }
            Input::LedgerFailed(why) => {
                self.book.failed();
                self.tell(now, Event::LedgerFailed(why), effects);
            }
            Input::KeeperLost => {
                if let Some(flight) = self.in_flight.take() {
                    let sent = self.link.since().unwrap_or(flight.since);
                    self.may_have_risen(now, flight, sent, effects);
                }
                self.forget_line();
                self.armed = false;
                self.tell(now, Event::KeeperLost, effects);
            }
            Input::KeptOff(begun, read) => self.tell(now, Event::KeptOff(begun, read), effects),
            Input::RelayLost(why) => self.tell(now, Event::RelayLost(why), effects),
            Input::RelayCut => self.tell(now, Event::RelayCut, effects),
            Input::Asked(wish) => self.tell(now, Event::Asked(wish), effects),
            Input::Rehung(change) => self.rehang(now, *change, effects),
            Input::Sensed(sense) => self.tell(now, Event::Sensed(sense), effects),
        }
        self.pump(now, effects);
        if let Some(at) = self.next_wake() {
            effects.push(Effect::Wake(at));
        }
    }

    /// The decisions of this run, to look at.
    #[must_use]
    pub const fn core(&self) -> &Core {
        &self.core
    }

    /// The state it is in.
    #[must_use]
    pub fn state(&self) -> State {
        self.core.state()
    }

    /// When an order was last answered.
    #[must_use]
    pub const fn last_reply(&self) -> Option<Moment> {
        self.voice.last_reply()
    }

    /// All that a view may show.
    #[must_use]
    pub fn snapshot(&self, now: Moment) -> Snapshot {
        self.voice.snapshot(now, &self.core)
    }

    fn tell(&mut self, now: Moment, event: Event, effects: &mut Vec<Effect>) {
        let mut actions = std::mem::take(&mut self.actions);
        self.core.handle(now, event, &mut actions);
        for action in actions.drain(..) {
            self.act(now, action, effects);
        }
        self.actions = actions;
    }

    fn act(&mut self, now: Moment, action: Action, effects: &mut Vec<Effect>) {
        match action {
            Action::Send(order) => self.queue.push_back(Queued {
                order,
                permit: None,
            }),
            Action::Energise(order, permit) => {
                self.queue.push_back(Queued {
                    order,
                    permit: Some(permit),
                });
            }
            Action::DropQueue => {
                self.queue.clear();
                // The exchange on the wire is never abandoned; what would follow it is.
                self.abandoned = self.in_flight.is_some();
                if self.rest_until.take().is_some() {
                    // Nothing is on the wire: the line is only being given time.
                    self.link.abandon();
                    self.in_flight = None;
                    self.abandoned = false;
                }
            }
            Action::Widen(envelope) => self.widen(now, envelope, effects),
            Action::Note(note) => {
                let commit = self.voice.note(now, &note, &self.core, effects);
                if commit {
                    self.write(now, effects);
                }
            }
            Action::PeriodDone => {
                effects.push(Effect::Renew);
                if self.book.due(now) {
                    self.write(now, effects);
                }
            }
            Action::Relay(contact) => effects.push(Effect::Relay(contact)),
            Action::Wake(at) => self.wake = Some(at),
            Action::End(outcome, proof) => {
                self.wake = None;
                self.disarm(effects);
                effects.push(Effect::Record(self.voice.accounts(now, &self.core)));
                effects.push(Effect::Record(self.voice.ended(proof.at(), outcome)));
                effects.push(Effect::Commit(self.book.ticket(now, None)));
                effects.push(Effect::Ended(outcome));
            }
        }
    }

    /// The envelope goes to the ledger; what it allows waits for the answer.
    fn widen(&mut self, now: Moment, envelope: Envelope, effects: &mut Vec<Effect>) {
        effects.push(Effect::Record(self.voice.envelope(now, envelope)));
        effects.push(Effect::Commit(self.book.ticket(now, Some(envelope))));
    }

    /// The accounts and everything before them become durable.
    fn write(&mut self, now: Moment, effects: &mut Vec<Effect>) {
        effects.push(Effect::Record(self.voice.accounts(now, &self.core)));
        effects.push(Effect::Commit(self.book.ticket(now, None)));
        // On the way to a pause the keeper still answers for the output.
        if self.core.is_paused() {
            self.disarm(effects);
        }
    }

    /// The rest of the night is another one: accounts, limits and the keeper's share of them.
    fn rehang(&mut self, now: Moment, change: Change, effects: &mut Vec<Effect>) {
        if !self.core.is_paused() {
            return;
        }
        let pieces = self.core.rack().pieces();
        self.voice.hang(pieces, &change.told.added);
        let (run, origin) = (self.arming.run, self.arming.origin);
        self.arming = Arming::of(&change.plan.limits, run, origin);
        self.tell(now, Event::Rehung(change.plan), effects);
        effects.push(Effect::Record(self.voice.rehung(now, change.told)));
        self.write(now, effects);
    }

    fn arm(&mut self, effects: &mut Vec<Effect>) {
        if !self.armed {
            self.armed = true;
            effects.push(Effect::Arm(self.arming));
        }
    }

    fn disarm(&mut self, effects: &mut Vec<Effect>) {
        if self.armed {
            self.armed = false;
            effects.push(Effect::Disarm);
        }
    }

    /// Puts the next order on the wire if the line is free.
    fn pump(&mut self, now: Moment, effects: &mut Vec<Effect>) {
        while self.in_flight.is_none() {
            let Some(next) = self.queue.pop_front() else {
                return;
            };
            if let Some(permit) = next.permit
                && !permit.allows(next.order, now)
            {
                // It waited in the queue until its permit ran out; control asks again under a new
                // one.
                continue;
            }
            self.in_flight = Some(Flight {
                queued: next,
                since: now,
                again: false,
            });
            let step = self.link.begin(next.order);
            self.follow(now, step, effects);
        }
    }

    fn answered(&mut self, now: Moment, order: Order, answer: Answer, effects: &mut Vec<Effect>) {
        self.voice.heard(now);
        match (&answer, order) {
            (Answer::Identity(Identity(text)), _) => {
                effects.push(Effect::Record(self.voice.identity(text.clone())));
            }
            (Answer::Done { .. }, Order::On) => self.voice.output(true),
            (Answer::Done { .. }, Order::Off) => self.voice.output(false),
            (Answer::Reading(reading), _) => self.voice.reading(reading),
            (Answer::Done { .. }, _) => {}
        }
        let is_reading = matches!(answer, Answer::Reading(_));
        self.tell(now, Event::Answered(order, answer), effects);
        if is_reading && let Some(entry) = self.voice.reading_entry(&self.core) {
            effects.push(Effect::Record(entry));
        }
    }

    fn woke(&mut self, now: Moment, effects: &mut Vec<Effect>) {
        if self.rest_until.is_some_and(|at| at <= now) {
            self.rest_until = None;
            let step = self.link.rested();
            self.follow(now, step, effects);
        }
        if let Some(waited) = self.book.slow(now) {
            let sense = Sense::LedgerWaits(waited);
            self.tell(now, Event::Sensed(sense), effects);
        }
        if let Some(late) = self.book.late(now) {
            let said = format!("a commit has been waiting for {:.0} s", late.s());
            self.book.failed();
            self.tell(now, Event::LedgerFailed(said), effects);
        }
        if self.wake.is_some_and(|at| at <= now) {
            self.wake = None;
            self.tell(now, Event::Woke, effects);
        }
    }

    fn next_wake(&self) -> Option<Moment> {
        let book = [self.book.slow_at(), self.book.deadline()];
        [self.wake, self.rest_until]
            .into_iter()
            .chain(book)
            .flatten()
            .min()
    }

    /// The line is gone: whatever was on it has no answer.
    fn forget_line(&mut self) {
        self.queue.clear();
        self.in_flight = None;
        self.abandoned = false;
        self.rest_until = None;
        self.link.abandon();
        self.link.mistrust();
    }
}
