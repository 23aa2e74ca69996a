//! Carries the house's own run, and its keeper, through a night: the daemon's loop in virtual time.
//! It gives the oracle plain numbers and decides nothing.

pub mod prepare;

mod book;
mod close;
mod host;

use super::Night;
use super::die::Die;
use super::mishap::{Class, Deed, When, Word};
use super::oracle::{Account, Broken, Ending, Oracle};
use super::wire::{Shared, Wire};
use crate::control::{Outcome, State, Timing, Wish};
use crate::rig::bench::Bench;
use crate::rig::instrument::{Ail, Instrument};
use crate::run::{Effect, Habits, Input, Run};
use crate::supply::clock::Clock;
use crate::supply::keeper::{Grip, Limits, Report, Request, Watch, late};
use crate::supply::link::Link;
use crate::supply::wire::{Exchange, Line, Outcome as Heard};
use crate::units::{Moment, Span};
use book::Book;
use std::cell::RefCell;
use std::collections::VecDeque;
use std::rc::Rc;
use std::time::{Duration, Instant};

/// The keeper's lease, as the daemon asks for it.
const LEASE: Span = Span::from_s(5.0);
/// A new keeper is there after this.
const HIRES: Span = Span::from_ms(60.0);
/// Where off cannot be proved for so long, whatever can be mended is.
const WAITS: Span = Span::from_min(16.0);
/// In a healthy world the night ends within this.
const HEALTHY: Span = Span::from_s(60.0);
/// The world is watched for so long after the end.
const AFTERWARDS: Span = Span::from_s(10.0);

/// A flaw planted in the rig itself, to see that the oracle sees.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Plant {
    /// None.
    Nothing,
    /// The supply swallows every off, says that it is off and shows no current.
    OffIsSwallowed,
    /// The ledger says that it holds what it does not hold.
    LedgerPromises,
    /// Two readings in three never reach the ledger.
    ReadingsAreLost,
}

/// What came of a night.
#[derive(Clone, Debug)]
pub struct Spent {
    /// What the house says, beside the truth.
    pub account: Account,
    /// What did not hold.
    pub broken: Vec<Broken>,
    /// A number that stands for every byte on the wire and every entry of the ledger.
    pub digest: u64,
    /// Simulated time.
    pub lasted: Span,
    /// What began to go wrong, and in which state of the run.
    pub onsets: Vec<(super::mishap::Class, &'static str)>,
    /// The longest time from a cause to off on the wire, s.
    pub worst: Vec<(&'static str, f64)>,
    /// Exchanges on the wire.
    pub exchanges: u64,
    /// Charge that flowed while nobody was to look, C.
    pub unwatched_c: f64,
    /// From the last decision to turn off to the proof, s; none if there was none.
    pub proved_within: Option<f64>,
    /// From the reply that ended the run to off on the wire, s; none where no reply did.
    pub off_after: Option<f64>,
    /// Nothing happened that a run need not get over.
    pub tolerable: bool,
    /// What the ledger tells, but for readings and accounts.
    pub told: Vec<String>,
    /// Every exchange in words, if the night was asked to tell.
    pub wire: Vec<String>,
}

/// What happens next.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Next {
    Deed,
    Heard,
    Kept,
    Ledger,
    Woke,
    Keeper,
}

struct Driver<'n> {
    night: &'n Night,
    run: Run,
    keeper: Watch<Shared>,
    line: Shared,
    base: Instant,
    book: Book,
    effects: Vec<Effect>,
    heard: Option<Heard>,
    /// The keeper turned the output off by itself, between these two moments.
    kept: Option<(Moment, Moment)>,
    wake: Option<Moment>,
    deeds: VecDeque<(Moment, Deed)>,
    /// The loop hears nothing before this.
    deaf_until: Moment,
    /// Nor does the keeper before this.
    keeper_deaf_until: Moment,
    keeper_first: bool,
    now: Moment,
    state: State,
    since: Moment,
    left_at: Option<Moment>,
    /// When the world was made healthy, if it was.
    mended: Option<Moment>,
    placed: Vec<bool>,
    die: Die,
    ending: Option<Ending>,
}

/// Spends a night. `base` is any moment of the machine's clock, for the keeper's lease; nothing is
/// measured by it.
#[must_use]
pub fn spend(night: &Night, base: Instant, plant: Plant) -> Spent {
    let mut driver = Driver::new(night, base, plant);
    driver.begin();
    driver.work();
    driver.close()
}

impl<'n> Driver<'n> {
    fn new(night: &'n Night, base: Instant, plant: Plant) -> Self {
        let studio = &night.studio;
        let mut die = Die::new(night.seed ^ 0x005e_ed0f_11fe);
        let (kind, world) = (studio.kind, studio.world.clone());
        let mut bench = Bench::new(
            Instrument::new(kind, studio.quirks.clone(), world, Moment::ZERO),
            Moment::ZERO,
        );
        if plant == Plant::OffIsSwallowed {
            bench.instrument().ail(Moment::ZERO, Ail::SwallowsOff);
        }
        let planned = &studio.plan;
        let mut wire = Wire::new(
            bench,
            Die::new(die.seed()),
            studio.profile.timing.longest,
            night.mishaps.clone().into(),
            Oracle::new(
                kind,
                planned.supply.set_current,
                planned.supply.read_current,
            ),
        );
        wire.told = night.tells_wire.then(Vec::new);
        let line = Shared(Rc::new(RefCell::new(wire)));
        Self {
            night,
            run: Run::new(
                Moment::ZERO,
                1,
                &planned.head,
                planned.plan.clone(),
                planned.supply.clone(),
                Link::new(studio.profile.clone()),
                Habits::default(),
            ),
            keeper: keeper(&line, studio, base),
            line,
            base,
            book: Book::new(plant),
            effects: Vec::with_capacity(16),
            heard: None,
            kept: None,
            wake: None,
            deeds: VecDeque::new(),
            deaf_until: Moment::ZERO,
            keeper_deaf_until: Moment::ZERO,
            keeper_first: false,
            now: Moment::ZERO,
            state: State::Idle,
            since: Moment::ZERO,
            left_at: None,
            mended: None,
            placed: vec![false; night.mishaps.len()],
            die,
            ending: None,
        }
    }

    fn begin(&mut self) {
        for (number, mishap) in self.night.mishaps.iter().enumerate() {
            if let When::At(at) = mishap.when {
                self.place(number, Moment::ZERO + at);
            }
        }
        self.tell(Moment::ZERO, Input::Begin);
    }

    /// Places a mishap's deeds, once.
    fn place(&mut self, number: usize, at: Moment) {
        if std::mem::replace(&mut self.placed[number], true) {
            return;
        }
        let mut wire = self.line.0.borrow_mut();
        wire.plan(at, Deed::Begins(number));
        for (after, deed) in &self.night.mishaps[number].deeds {
            let at = at + *after;
            match deed {
                Deed::Ledger(_) | Deed::Host(_) | Deed::Asks(_) => {
                    let place = self.deeds.partition_point(|(other, _)| *other <= at);
                    self.deeds.insert(place, (at, *deed));
                }
                other => wire.plan(at, *other),
            }
        }
    }

    fn instant(&self, at: Moment) -> Instant {
        self.base + Duration::from_nanos(at.ns())
    }

    fn work(&mut self) {
        let studio = &self.night.studio;
        let hours = studio.plan.plan.forecast.duration;
        let last = Moment::ZERO + hours * 2.0 + Span::from_h(6.0);
        while self.ending.is_none() {
            let Some((at, next)) = self.next() else {
                if self.mended.is_some() {
                    self.ending = Some(Ending::GivenUp);
                    return;
                }
                self.mend();
                self.tell(self.now, Input::Asked(Wish::Stop));
                continue;
            };
            self.come_to(at);
            self.now = self.now.max(at);
            self.happens(next);
            self.look_at_relay();
            self.wait_no_longer(last);
        }
    }

    /// A night that does not come to its end gets a healthy world; then it must.
    fn wait_no_longer(&mut self, last: Moment) {
        let unproved = self.state == State::Unconfirmed;
        let waits = unproved && self.now.since(self.since) > WAITS;
        if self.ending.is_some() || !(waits || self.now > last) {
            return;
        }
        match self.mended {
            None => {
                self.mend();
                if !unproved {
                    self.tell(self.now, Input::Asked(Wish::Stop));
                }
            }
            Some(at) if self.now.since(at) > HEALTHY => {
                let ending = if unproved && self.run.core().is_cut() && self.has_lied() {
                    Ending::Cut
                } else if unproved {
                    Ending::Unconfirmed
                } else {
                    Ending::GivenUp
                };
                self.ending = Some(ending);
            }
            Some(_) => {}
        }
    }

    /// What the keeper tells of the relay.
    fn look_at_relay(&mut self) {
        let at = self.instant(self.line.now());
        let now = self.now;
        if self.keeper.cuts(at) {
            self.tell(now, Input::RelayCut);
        }
        let lost = self.line.0.borrow_mut().lost_relay();
        if lost {
            self.tell(now, Input::RelayLost("it is not there".to_owned()));
        }
    }

    /// The line's time goes on to a moment, if it is not further already.
    fn come_to(&mut self, at: Moment) {
        let left = at.since(self.line.now());
        if left > Span::ZERO {
            self.line.rest(left);
        }
    }

    /// The supply has said off while its meter showed a current: its own output relay has welded,
    /// or its meter stood still. Cut off, its word proves nothing, and a display may show anything:
    /// a person must look.
    fn has_lied(&self) -> bool {
        let mut mishaps = self.night.mishaps.iter();
        mishaps.any(|mishap| matches!(mishap.class, Class::RelayWelded | Class::MeterFrozen))
    }

    /// What comes first.
    fn next(&self) -> Option<(Moment, Next)> {
        let deaf = self.deaf_until;
        let line = self.line.now();
        let keeper = self
            .keeper
            .idle_for(self.instant(line))
            .map(|left| (line + Span::from_s(left.as_secs_f64())).max(self.keeper_deaf_until));
        let mut first: Option<(Moment, Next)> = None;
        let list = [
            (self.deeds.front().map(|(at, _)| *at), Next::Deed),
            (keeper.filter(|_| self.keeper_first), Next::Keeper),
            (
                self.heard.as_ref().map(|heard| heard.received.max(deaf)),
                Next::Heard,
            ),
            (self.kept.map(|(_, read)| read.max(deaf)), Next::Kept),
            (self.book.answers_at().map(|at| at.max(deaf)), Next::Ledger),
            (self.wake.map(|at| at.max(deaf)), Next::Woke),
            (keeper, Next::Keeper),
        ];
        for (at, next) in list {
            let Some(at) = at else { continue };
            if first.is_none_or(|(soonest, _)| at < soonest) {
                first = Some((at, next));
            }
        }
        first
    }

    fn happens(&mut self, next: Next) {
        let now = self.now;
        match next {
            Next::Deed => {
                if let Some((_, deed)) = self.deeds.pop_front() {
                    self.does(now, deed);
                }
            }
            Next::Heard => {
                if let Some(heard) = self.heard.take() {
                    self.tell(now, Input::Wire(heard));
                }
            }
            Next::Kept => {
                if let Some((begun, read)) = self.kept.take() {
                    self.tell(now, Input::KeptOff(begun, read));
                }
            }
            Next::Ledger => {
                let input = self.book.answer(&mut self.line.0.borrow_mut().oracle);
                if let Some(input) = input {
                    self.tell(now, input);
                }
            }
            Next::Woke => {
                self.wake = None;
                self.tell(now, Input::Woke);
            }
            Next::Keeper => {
                self.keeper_first = false;
                self.keeper_acts();
            }
        }
    }

    /// Tells the run, and carries out what it wants.
    fn tell(&mut self, now: Moment, input: Input) {
        let mut effects = std::mem::take(&mut self.effects);
        let received = match &input {
            // A host that stands still hears it later: that is the keeper's to watch.
            Input::Wire(heard) if heard.reply.is_ok() => Some(heard.received.max(self.deaf_until)),
            _ => None,
        };
        let was_live = self.state.is_live();
        self.run.handle(now, input, &mut effects);
        self.look(now);
        if let Some(received) = received.filter(|_| was_live && !self.state.is_live()) {
            let exchange = self.night.studio.profile.longest_exchange();
            let within = Timing::for_supply(&self.night.studio.plan.supply).period + exchange;
            let mut wire = self.line.0.borrow_mut();
            wire.oracle.made_evident(received, within);
        }
        self.carry_out(now, &mut effects);
        self.effects = effects;
    }

    /// Looks at the state the run is in.
    fn look(&mut self, now: Moment) {
        let state = self.run.state();
        if state == self.state {
            return;
        }
        let was_live = self.state.is_live() || self.state == State::Proving;
        if was_live && !state.is_live() {
            self.left_at = Some(now);
        }
        (self.state, self.since) = (state, now);
        self.line.0.borrow_mut().oracle.entered(state.word());
        for number in 0..self.placed.len() {
            if let When::In(word, after) = self.night.mishaps[number].when
                && word == state.word()
            {
                self.place(number, now + after);
            }
        }
        if state == State::Paused {
            // A person comes and goes.
            let at = now + self.die.seconds(60.0, 1200.0);
            let place = self.deeds.partition_point(|(other, _)| *other <= at);
            self.deeds.insert(place, (at, Deed::Asks(Word::Resume)));
        }
    }

    fn carry_out(&mut self, now: Moment, effects: &mut Vec<Effect>) {
        for effect in effects.drain(..) {
            match effect {
                Effect::Exchange(exchange) => self.exchange(now, exchange),
                Effect::Record(entry) => {
                    let oracle = &mut self.line.0.borrow_mut().oracle;
                    self.book.record(now, &entry, oracle);
                }
                Effect::Commit(ticket) => self.book.commit(now, ticket),
                Effect::Arm(arming) => {
                    let limits = Limits {
                        max_current: arming.current,
                        max_voltage: arming.voltage,
                        end_within: arming.within,
                        lease: LEASE,
                        mark: None,
                    };
                    self.ask_keeper(now, Request::Arm(limits));
                }
                Effect::Renew => self.ask_keeper(now, Request::Renew),
                Effect::Relay(contact) => self.ask_keeper(now, Request::Relay(contact)),
                Effect::Disarm => self.ask_keeper(now, Request::Disarm),
                Effect::Wake(at) => self.wake = Some(at),
                Effect::Ended(outcome) => self.ended(now, outcome),
            }
        }
    }

    fn ask_keeper(&mut self, now: Moment, request: Request) {
        self.come_to(now);
        let at = self.instant(self.line.now());
        let _reported = self.keeper.handle(request, at);
    }

    fn exchange(&mut self, now: Moment, exchange: Exchange) {
        self.come_to(now);
        let at = self.instant(self.line.now());
        let request = Request::Exchange { id: 0, exchange };
        if let Some(Report::Exchanged { outcome, .. }) = self.keeper.handle(request, at) {
            self.heard = Some(outcome);
        }
    }

    fn ended(&mut self, now: Moment, outcome: Outcome) {
        let mut wire = self.line.0.borrow_mut();
        let flow = wire.bench().flow();
        let at = wire.now();
        wire.oracle.flows(at, flow);
        wire.oracle.ended(now);
        self.ending = Some(match outcome {
            Outcome::Finished => Ending::Finished,
            Outcome::Stopped => Ending::Stopped,
            Outcome::Tripped(fault) => Ending::Tripped(fault.code()),
            Outcome::Interrupted(fault) => Ending::Interrupted(fault.code()),
        });
    }
}

fn keeper(line: &Shared, studio: &super::studio::Studio, base: Instant) -> Watch<Shared> {
    let clock = Clock {
        origin_ns: 0,
        speed: 1.0,
    };
    let watch = Watch::new(line.clone(), Link::new(studio.profile.clone()), clock);
    let Some(relay) = &studio.station.relay else {
        return watch;
    };
    let grip = Grip::new(base);
    let opens_within = clock.real(relay.opens_within);
    line.0
        .borrow_mut()
        .grips(grip.clone(), base, late(opens_within));
    watch.with_relay(grip, opens_within)
}
