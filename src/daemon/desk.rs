//! The one loop. Everything that happens comes through one inbox; effects are carried out in their
//! order.

mod asked;
mod closing;
mod greeting;
mod keeping;
mod noting;
mod opening;
mod posting;
mod rehanging;
mod resting;
mod waiters;

use super::board::Board;
use super::hand::{Hand, Sent};
use super::inbox::Message;
use super::latch::Latch;
use super::notice::Notices;
use super::prepare::Papers;
use super::pulse::Pulse;
use super::recover::Unfinished;
use super::scribe::{Full, Scribe, Written};
use super::senses::Slumber;
use super::standing::Standing;
use crate::control::{Outcome as Ending, State};
use crate::ledger::{Entry, RunId, Ticket};
use crate::run::{Effect, Input, Run, Snapshot};
use crate::supply::clock::Clock;
use crate::units::{Moment, Span};
use closing::Closing;
use greeting::Greeting;
use opening::Opening;
use rehanging::{Changing, not_written};
use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::time::{Duration, Instant};
use waiters::Waiters;

pub use closing::End;

/// The loop looks around this often, though nothing happens.
const IDLE: Duration = Duration::from_millis(500);
/// The board is written anew this often on the run's clock while a run goes on, and never more
/// often than the second of these, which is real time.
const POST_EVERY: Span = Span::from_ms(100.0);
const POST_AT_MOST: Duration = Duration::from_millis(2);
/// A keeper that died is replaced this often, until one stays.
const HIRE_AGAIN: Duration = Duration::from_secs(1);
/// The code of the event that a planned look is due.
pub(super) const LOOK_DUE: &str = "look-due";
/// So much longer than an exchange can take its keeper may stay silent before it is replaced.
const SILENCE: Duration = Duration::from_secs(2);

/// A run that is on.
struct Active {
    run: Run,
    id: RunId,
    /// What it is made from.
    papers: Arc<Papers>,
    wake: Option<Moment>,
    /// A reading has proved that the output of the pause is off.
    paused: bool,
}

/// The loop's whole state.
pub(super) struct Desk {
    clock: Clock,
    inbox: Receiver<Message>,
    scribe: Scribe,
    hand: Hand,
    standing: Arc<Standing>,
    board: Board,
    notices: Notices,
    pulse: Pulse,
    slumber: Slumber,
    run: Option<Active>,
    /// The supply is asked who it is, for a run that is asked for.
    greeting: Option<Greeting>,
    opening: Option<Opening>,
    /// What hangs in the run is being changed.
    changing: Option<Changing>,
    /// The last commit that was asked for.
    last_ticket: Ticket,
    /// What is shown while no run is on.
    rest: Snapshot,
    latch: Option<Latch>,
    /// True once a reading has proved that the resting output is off.
    off_proved: bool,
    /// Runs that the last daemon did not survive; they are closed when the output is proved off.
    unfinished: Vec<Unfinished>,
    waiters: Waiters,
    closing: Option<Closing>,
    effects: Vec<Effect>,
    /// What the effects themselves gave rise to.
    pending: VecDeque<Input>,
    /// The exchange on the wire is answered by then, or its keeper is replaced.
    exchange_due: Option<Instant>,
    /// When this keeper last said that it could not prove off: it is at it again, and an exchange
    /// waits until that try is over.
    tried: Option<Instant>,
    /// While the keeper is armed: when it was last told that all is well.
    renewed: Option<Instant>,
    /// When the keeper read that the output of this run was off, which it had turned off by itself.
    keeper_off: Option<Moment>,
    /// What the keeper was asked to turn off is answered by then, or it is replaced.
    off_due: Option<Instant>,
    hire_at: Option<Instant>,
    hire_fault: Option<String>,
    off_again: Option<Instant>,
    posted: Instant,
    posted_state: State,
}

/// What a desk begins with.
pub(super) struct Opened {
    pub(super) clock: Clock,
    pub(super) inbox: Receiver<Message>,
    pub(super) scribe: Scribe,
    pub(super) hand: Hand,
    pub(super) standing: Arc<Standing>,
    pub(super) board: Board,
    pub(super) notices: Notices,
    pub(super) pulse: Pulse,
    pub(super) rest: Snapshot,
    pub(super) latch: Option<Latch>,
    pub(super) off_proved: bool,
    pub(super) unfinished: Vec<Unfinished>,
}

impl Desk {
    pub(super) fn new(opened: Opened) -> Self {
        let now = Instant::now();
        let mut desk = Self {
            clock: opened.clock,
            inbox: opened.inbox,
            scribe: opened.scribe,
            hand: opened.hand,
            standing: opened.standing,
            board: opened.board,
            notices: opened.notices,
            pulse: opened.pulse,
            slumber: Slumber::new(),
            run: None,
            greeting: None,
            opening: None,
            changing: None,
            last_ticket: Ticket(0),
            posted_state: opened.rest.state,
            rest: opened.rest,
            latch: opened.latch,
            off_proved: opened.off_proved,
            unfinished: opened.unfinished,
            waiters: Waiters::default(),
            closing: None,
            effects: Vec::with_capacity(16),
            pending: VecDeque::new(),
            exchange_due: None,
            tried: None,
            renewed: None,
            keeper_off: None,
            off_due: None,
            hire_at: None,
            hire_fault: None,
            off_again: (!opened.off_proved).then_some(now),
            posted: now,
        };
        if desk.off_proved {
            desk.close_unfinished();
        }
        desk.post(now);
        desk
    }

    /// Runs until the system asks it to end and the output is off, or is not to be proved off.
    pub(super) fn work(mut self) -> (End, Scribe, Hand) {
        self.pulse.ready(&self.standing.station.name);
        loop {
            let heard = self.inbox.recv_timeout(self.patience());
            // Before anything else is judged: it explains what else is late.
            let lapsed = self.lapsed(Instant::now()).is_some();
            if let Some(slept) = self.slumber.ended(lapsed) {
                self.wait_anew();
                self.tell(Input::Sensed(slept));
            }
            match heard {
                Ok(message) => self.take(message),
                Err(RecvTimeoutError::Timeout) => {}
                // Nobody is left who could ask for anything: the same as being asked to end.
                Err(RecvTimeoutError::Disconnected) => self.signal(0),
            }
            self.look_around();
            if let Some(end) = self.end() {
                self.post(Instant::now());
                return (end, self.scribe, self.hand);
            }
        }
    }

    fn take(&mut self, message: Message) {
        match message {
            Message::Keeper(which, heard) if self.hand.is(which) => self.heard(*heard),
            // The last words of a keeper that has been replaced.
            Message::Keeper(..) => {}
            Message::Ledger(written) => self.written(written),
            Message::Asked(want, reply) => self.asked(want, reply),
            Message::Sensed(sense) => self.tell(Input::Sensed(sense)),
            Message::Told(told) => self.noted(told),
            Message::Signal(signal) => self.signal(signal),
        }
    }

    fn written(&mut self, written: Written) {
        match written {
            Written::Began(number) => self.began(number),
            Written::Committed(ticket) => {
                self.tell(Input::Committed(ticket));
                self.change_is_kept(ticket);
            }
            Written::Failed(why) => {
                tracing::error!("{why}");
                self.tell(Input::LedgerFailed(why));
                self.refuse_change(not_written());
            }
        }
    }

    /// Tells the run, and carries out what it wants done. Without a run nothing happens.
    fn tell(&mut self, input: Input) {
        self.pending.push_back(input);
        self.tell_pending();
    }

    fn tell_pending(&mut self) {
        while let Some(input) = self.pending.pop_front() {
            let Some(active) = &mut self.run else {
                self.pending.clear();
                return;
            };
            let mut effects = std::mem::take(&mut self.effects);
            active.run.handle(self.clock.now(), input, &mut effects);
            for effect in effects.drain(..) {
                self.carry_out(effect);
            }
            self.effects = effects;
        }
    }

    fn carry_out(&mut self, effect: Effect) {
        let Some(active) = &mut self.run else { return };
        match effect {
            Effect::Exchange(exchange) => match self.hand.exchange(exchange) {
                Sent::Yes => self.await_exchange(),
                Sent::Held => {}
                Sent::Nobody => self.nobody(),
            },
            Effect::Record(entry) => {
                match &entry {
                    Entry::Entered { state, .. } => active.paused = *state == State::Paused,
                    Entry::Event { code, .. } if *code == LOOK_DUE => self.notices.look_due(),
                    _ => {}
                }
                let kept = self.scribe.append(active.id, entry);
                self.kept(kept);
            }
            Effect::Commit(ticket) => {
                self.last_ticket = ticket;
                let kept = self.scribe.commit(ticket);
                self.kept(kept);
            }
            Effect::Arm(arming) => {
                self.renewed = Some(Instant::now());
                self.keeper_off = None;
                self.hand.arm(arming);
            }
            Effect::Renew => {
                self.renewed = self.renewed.map(|_| Instant::now());
                self.hand.renew();
                self.pulse.judged(active.run.last_reply());
            }
            Effect::Relay(contact) => self.hand.relay(contact),
            Effect::Disarm => {
                self.renewed = None;
                self.hand.disarm();
            }
            Effect::Wake(at) => active.wake = Some(at),
            Effect::Ended(outcome) => self.ended(outcome),
        }
    }

    /// A ledger that does not keep up is a ledger that does not write.
    fn kept(&mut self, kept: Result<(), Full>) {
        if kept == Err(Full) {
            let why = "the ledger's disk is so slow that entries pile up".to_owned();
            self.pending.push_back(Input::LedgerFailed(why));
        }
    }

    fn ended(&mut self, outcome: Ending) {
        let Some(active) = self.run.take() else {
            return;
        };
        let now = self.clock.now();
        self.rest = active.run.snapshot(now);
        self.rest.time_left = None;
        self.off_proved = true;
        self.exchange_due = None;
        let core = active.run.core();
        let (metal, reached) = (core.plan().deposit.metal, core.reached().is_some());
        self.latch = self.latch_of(active.id, outcome, metal, reached);
        let thinned = self.scribe.thin(active.id);
        if thinned == Err(Full) {
            tracing::warn!(run = active.id, "the ledger is too busy to thin this run");
        }
        tracing::info!(run = active.id, outcome = outcome.state().word(), "ended");
        if let Some(closing) = &mut self.closing {
            closing.outcome = Some(outcome);
        }
        self.post(Instant::now());
        self.settle_all();
    }

    /// What has come due.
    fn look_around(&mut self) {
        let now = Instant::now();
        let due = |at: Option<Instant>| at.is_some_and(|at| at <= now);
        if due(self.exchange_due)
            && let Some(at) = self.turning_off(now)
        {
            self.exchange_due = Some(at + self.off_patience());
        }
        if due(self.exchange_due) || due(self.off_due) {
            // It is stopped or hangs: a keeper that does not answer cannot turn anything off.
            self.hand.discharge();
            self.keeper_gone("it does not answer");
        }
        if due(self.hire_at) {
            self.hire();
        }
        if due(self.off_again) {
            self.off_now();
        }
        let moment = self.clock.now();
        if let Some(active) = &mut self.run
            && active.wake.is_some_and(|at| at <= moment)
        {
            active.wake = None;
            self.tell(Input::Woke);
        }
        self.greeting_rested();
        self.opening_is_late(now);
        self.settle_due(now);
        self.carry_change_on(now);
        self.feed_at_rest();
        let changed = self.shown_state() != self.posted_state;
        if changed
            || now.duration_since(self.posted) >= self.clock.real(POST_EVERY).max(POST_AT_MOST)
        {
            self.post(now);
        }
    }

    /// How long nothing needs to be done unless something happens.
    fn patience(&self) -> Duration {
        let now = Instant::now();
        let run = self.run.as_ref().and_then(|run| run.wake);
        let rest = self.greeting.as_ref().and_then(Greeting::rest_until);
        let wake = run.into_iter().chain(rest).min().map(|at| {
            let left = at.since(self.clock.now());
            now + self.clock.real(left)
        });
        let soonest = [
            wake,
            self.exchange_due,
            self.off_due,
            self.hire_at,
            self.off_again,
            self.opening.as_ref().map(|opening| opening.due),
            self.waiters.due(),
            self.changing.as_ref().map(|changing| changing.due),
            self.closing.as_ref().map(|closing| closing.due),
        ]
        .into_iter()
        .flatten()
        .min();
        soonest.map_or(IDLE, |at| at.saturating_duration_since(now).min(IDLE))
    }
}
