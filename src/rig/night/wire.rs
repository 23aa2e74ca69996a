//! The line of a night: the simulated bench, what goes wrong on the way to it and at it, each at
//! its own moment, and a tap that tells the oracle what passed.

mod toggled;

use super::die::Die;
use super::mishap::{Deed, Link, Mishap};
use super::oracle::Oracle;
use crate::rig::bench::Bench;
use crate::rig::cell::{CellFault, RelayDeed};
use crate::rig::instrument::Ail;
use crate::supply::keeper::Grip;
use crate::supply::wire::{Exchange, Line, Outcome, ReplyEnd, WireFault};
use crate::units::{Moment, Span};
use std::cell::RefCell;
use std::collections::VecDeque;
use std::rc::Rc;
use std::sync::Arc;
use std::time::{Duration, Instant};
use toggled::Toggled;

/// A port that is gone is looked for this long before an exchange is given up.
const LOOKS_FOR: Span = Span::from_ms(250.0);

/// What a link does to what passes.
#[derive(Clone, Debug)]
struct Trouble {
    loses_replies: f64,
    loses_commands: f64,
    garbles_replies: f64,
    smears_replies: f64,
    garbles_commands: f64,
    delays: f64,
    delays_by: f64,
    echoes: bool,
    silent_until: Moment,
    away_until: Moment,
}

impl Trouble {
    const fn none() -> Self {
        Self {
            loses_replies: 0.0,
            loses_commands: 0.0,
            garbles_replies: 0.0,
            smears_replies: 0.0,
            garbles_commands: 0.0,
            delays: 0.0,
            delays_by: 0.0,
            echoes: false,
            silent_until: Moment::ZERO,
            away_until: Moment::ZERO,
        }
    }
}

/// The line with everything on it.
#[derive(Debug)]
pub struct Wire {
    bench: Bench,
    die: Die,
    trouble: Trouble,
    deeds: VecDeque<(Moment, Deed)>,
    /// A reply that has not come yet, and when it does.
    late: Option<(Moment, Vec<u8>)>,
    /// No reply comes later than this, by the supply's description.
    longest: Span,
    mishaps: Rc<[Mishap]>,
    relay: Option<Toggled>,
    /// What looks on.
    pub oracle: Oracle,
    /// How many exchanges there were.
    pub exchanges: u64,
    /// What passed, in words, if somebody wants to know.
    pub told: Option<Vec<String>>,
}

impl Wire {
    /// A line on which nothing has gone wrong yet.
    #[must_use]
    pub fn new(
        bench: Bench,
        die: Die,
        longest: Span,
        mishaps: Rc<[Mishap]>,
        oracle: Oracle,
    ) -> Self {
        Self {
            mishaps,
            bench,
            die,
            trouble: Trouble::none(),
            deeds: VecDeque::new(),
            late: None,
            relay: None,
            longest,
            oracle,
            exchanges: 0,
            told: None,
        }
    }

    /// The bench itself.
    pub fn bench(&mut self) -> &mut Bench {
        &mut self.bench
    }

    /// A keeper has this grip on the relay in the output lead, and gives it up on so late an edge.
    pub fn grips(&mut self, grip: Arc<Grip>, base: Instant, late: Duration) {
        self.relay = Some(Toggled::new(grip, base, late, self.relay.as_ref()));
        self.contact();
    }

    /// Nothing is toggled before this: the computer stands still.
    pub fn sleeps(&mut self, until: Moment) {
        let now = self.bench.now();
        if let Some(relay) = &mut self.relay {
            relay.sleeps(now, until);
        }
        self.contact();
    }

    /// True once, if an edge could not be sent or came too late.
    pub fn lost_relay(&mut self) -> bool {
        let relay = self.relay.as_mut();
        relay.is_some_and(|relay| std::mem::take(&mut relay.lost))
    }

    /// The relay is held while its line is toggled.
    fn contact(&mut self) {
        let now = self.bench.now();
        let moves = self.relay.as_mut().and_then(|relay| relay.contact(now));
        if let Some(contact) = moves {
            self.bench.relay(contact);
        }
    }

    /// Something will happen at a moment.
    pub fn plan(&mut self, at: Moment, deed: Deed) {
        let place = self.deeds.partition_point(|(other, _)| *other <= at);
        self.deeds.insert(place, (at, deed));
    }

    /// Lets time pass in which nothing happens. Where nobody reads although current may flow, the
    /// oracle looks often.
    fn waits(&mut self, until: Moment) {
        while let Some(each) = self
            .oracle
            .looks_each()
            .filter(|_| self.bench.now() < until)
        {
            self.bench.rest(until.since(self.bench.now()).min(each));
            let flow = self.bench.flow();
            self.oracle.flows(self.bench.now(), flow);
        }
        self.bench.rest(until.since(self.bench.now()));
    }

    /// Does what is due.
    fn catch_up(&mut self) {
        while self
            .deeds
            .front()
            .is_some_and(|(at, _)| *at <= self.bench.now())
        {
            if let Some((_, deed)) = self.deeds.pop_front() {
                self.happens(deed);
            }
        }
        self.contact();
    }

    fn happens(&mut self, deed: Deed) {
        let now = self.bench.now();
        let supply = self.bench.instrument();
        let electrodes = supply.world().electrodes.len();
        match deed {
            Deed::Begins(number) => {
                if let Some(mishap) = self.mishaps.get(number) {
                    self.oracle.begins(now, mishap);
                }
            }
            Deed::Cell(fault) => self.bench.fault(fault),
            Deed::Contact(which, ohm) => {
                let electrode = Some(which % electrodes);
                self.bench.fault(CellFault::Contact { electrode, ohm });
            }
            Deed::Falls(which) => self.bench.fault(CellFault::Fallen(which % electrodes)),
            Deed::Supply(ail) => supply.ail(now, ail),
            Deed::Relay(ail) => supply.relay(now, RelayDeed::Ails(Some(ail))),
            Deed::RelayPulled => self.pull_relay(true),
            Deed::CurrentKnob(times) => {
                let (amps, _) = supply.set_at_panel(now);
                let most = supply.quirks().max_amps;
                let to = (amps.a() * times).min(most);
                supply.turn_current_knob(now, crate::units::Current::from_a(to));
            }
            Deed::VoltageKnob(times) => {
                let (_, volts) = supply.set_at_panel(now);
                let most = supply.quirks().max_volts;
                let to = (volts.v() * times).min(most);
                supply.turn_voltage_knob(now, crate::units::Voltage::from_v(to));
            }
            Deed::Button => supply.press_output(now),
            Deed::Mains(false) => supply.lose_power(now),
            Deed::Mains(true) => supply.regain_power(now),
            Deed::Link(link) => self.link(now, link),
            // The driver's own.
            Deed::Ledger(_) | Deed::Host(_) | Deed::Asks(_) => {}
        }
    }

    fn pull_relay(&mut self, pulled: bool) {
        if let Some(relay) = &mut self.relay {
            relay.pulled = pulled;
        }
    }

    /// Everything that can be mended is, and nothing more goes wrong.
    pub fn mend(&mut self) {
        self.deeds.clear();
        self.trouble = Trouble::none();
        let now = self.bench.now();
        self.bench.fault(CellFault::LeadBack);
        self.pull_relay(false);
        let supply = self.bench.instrument();
        for ail in [
            Ail::Frozen(false),
            Ail::ReadGain(1.0),
            Ail::SetGain(1.0),
            Ail::KeepsOn(false),
            Ail::Welded(false),
        ] {
            supply.ail(now, ail);
        }
        supply.relay(now, RelayDeed::Ails(None));
        let mains_came = !supply.is_powered();
        if mains_came {
            supply.regain_power(now);
        }
        self.oracle.mended(mains_came);
    }

    fn link(&mut self, now: Moment, link: Link) {
        let it = &mut self.trouble;
        match link {
            Link::LosesReplies(part) => it.loses_replies = part,
            Link::LosesCommands(part) => it.loses_commands = part,
            Link::GarblesReplies(part) => it.garbles_replies = part,
            Link::SmearsReplies(part) => it.smears_replies = part,
            Link::GarblesCommands(part) => it.garbles_commands = part,
            Link::Delays(part, by) => (it.delays, it.delays_by) = (part, by),
            Link::Echoes(echoes) => it.echoes = echoes,
            Link::Silent(span) => it.silent_until = it.silent_until.max(now + span),
            Link::Away(span) => it.away_until = it.away_until.max(now + span),
        }
    }

    /// Nothing comes back for as long as that is waited for.
    fn nothing(&mut self, exchange: &Exchange) -> Outcome {
        let sent = self.bench.now();
        let reply = match exchange.end {
            ReplyEnd::None => {
                self.bench.rest(exchange.gap);
                Ok(Vec::new())
            }
            ReplyEnd::Byte(_) | ReplyEnd::Count(_) | ReplyEnd::Quiet(_) => {
                self.bench.rest(exchange.first_byte);
                Err(WireFault::Silent)
            }
        };
        Outcome {
            sent,
            received: self.bench.now(),
            reply,
        }
    }

    /// One exchange through all the trouble there is.
    fn pass(&mut self, exchange: &Exchange) -> Outcome {
        let now = self.bench.now();
        if now < self.trouble.away_until {
            self.bench.rest(LOOKS_FOR);
            let reply = Err(WireFault::PortLost("it is not there".to_owned()));
            return Outcome {
                sent: now,
                received: self.bench.now(),
                reply,
            };
        }
        let late = self.late.take().filter(|(at, _)| *at > now);
        if now < self.trouble.silent_until || self.die.chance(self.trouble.loses_commands) {
            return self.nothing(exchange);
        }
        let mut sent = exchange.clone();
        if self.die.chance(self.trouble.garbles_commands) {
            self.garble(&mut sent.send);
        }
        let mut outcome = self.bench.exchange(&sent);
        if exchange.end == ReplyEnd::None {
            self.late = late;
            return outcome;
        }
        if self.die.chance(self.trouble.loses_replies) {
            return self.silence(exchange, outcome.sent);
        }
        if let Ok(reply) = &mut outcome.reply
            && !reply.is_empty()
            && self.die.chance(self.trouble.garbles_replies)
        {
            self.garble(reply);
        }
        if let Ok(reply) = &mut outcome.reply
            && self.die.chance(self.trouble.smears_replies)
        {
            let place = self.die.below(reply.len());
            reply
                .iter_mut()
                .skip(place)
                .take(1)
                .for_each(|byte| *byte |= 0x80);
        }
        if self.trouble.echoes && outcome.reply.is_ok() {
            outcome.reply = echoed(exchange);
        }
        if let Some((at, bytes)) = late {
            return self.overtaken(exchange, outcome, at, bytes);
        }
        if let Ok(reply) = &outcome.reply
            && self.die.chance(self.trouble.delays)
        {
            let by = self.longest * self.die.between(0.0, self.trouble.delays_by);
            let at = outcome.sent + by;
            if at > outcome.received {
                let reply = reply.clone();
                if by > exchange.first_byte {
                    self.late = Some((at, reply));
                    return self.silence(exchange, outcome.sent);
                }
                self.bench.rest(at.since(self.bench.now()));
                outcome.received = at;
            }
        }
        outcome
    }

    /// A supply answers in the order it was asked: what was late comes first and is taken for the
    /// answer, and the answer is the one that is late now.
    fn overtaken(
        &mut self,
        exchange: &Exchange,
        outcome: Outcome,
        at: Moment,
        bytes: Vec<u8>,
    ) -> Outcome {
        let sent = outcome.sent;
        if let Ok(reply) = outcome.reply {
            self.late = Some((outcome.received.max(at), reply));
        }
        if at.since(sent) > exchange.first_byte {
            return self.silence(exchange, sent);
        }
        self.bench.rest(at.since(self.bench.now()));
        Outcome {
            sent,
            received: at.max(sent),
            reply: Ok(bytes),
        }
    }

    /// Waits for a reply that does not come.
    fn silence(&mut self, exchange: &Exchange, sent: Moment) -> Outcome {
        let until = sent + exchange.first_byte;
        self.bench.rest(until.since(self.bench.now()));
        Outcome {
            sent,
            received: self.bench.now(),
            reply: Err(WireFault::Silent),
        }
    }

    /// One bit of one byte is another.
    fn garble(&mut self, bytes: &mut [u8]) {
        let count = bytes.len();
        if let Some(byte) = bytes.get_mut(self.die.below(count)) {
            *byte ^= 1 << self.die.below(8);
        }
    }
}

/// What a line that echoes gives for the reply.
fn echoed(exchange: &Exchange) -> Result<Vec<u8>, WireFault> {
    let mut bytes = exchange.send.clone();
    match &exchange.end {
        ReplyEnd::Byte(ends) => {
            bytes.retain(|byte| !ends.contains(byte));
            Ok(bytes)
        }
        ReplyEnd::Count(count) => {
            bytes.resize(*count, b'0');
            Ok(bytes)
        }
        ReplyEnd::None | ReplyEnd::Quiet(_) => Ok(bytes),
    }
}

impl Line for Wire {
    fn exchange(&mut self, exchange: &Exchange) -> Outcome {
        self.catch_up();
        self.exchanges += 1;
        let away = self.bench.now() < self.trouble.away_until;
        self.oracle.tried(self.bench.now(), &exchange.send, !away);
        let outcome = self.pass(exchange);
        self.oracle.passed(&exchange.send, &outcome);
        self.catch_up();
        let flow = self.bench.flow();
        self.oracle.flows(self.bench.now(), flow);
        if let Some(told) = &mut self.told {
            let text = String::from_utf8_lossy(&exchange.send);
            let reply = outcome
                .reply
                .as_ref()
                .map(|bytes| String::from_utf8_lossy(bytes));
            let (sent, took) = (outcome.sent.s(), outcome.received.since(outcome.sent).s());
            told.push(format!(
                "{sent:.4} +{took:.4} {text:?} {reply:?} {:.4} A",
                flow.amps
            ));
        }
        outcome
    }

    fn now(&self) -> Moment {
        self.bench.now()
    }

    fn rest(&mut self, span: Span) {
        let until = self.bench.now() + span.max(Span::ZERO);
        while let Some((at, _)) = self.deeds.front().copied().filter(|(at, _)| *at <= until) {
            self.waits(at);
            self.catch_up();
            let flow = self.bench.flow();
            self.oracle.flows(self.bench.now(), flow);
        }
        self.waits(until);
        self.contact();
    }
}

/// The line in the hands of a keeper and of whoever makes the night.
#[derive(Clone, Debug)]
pub struct Shared(pub Rc<RefCell<Wire>>);

impl Line for Shared {
    fn exchange(&mut self, exchange: &Exchange) -> Outcome {
        self.0.borrow_mut().exchange(exchange)
    }

    fn now(&self) -> Moment {
        self.0.borrow().now()
    }

    fn rest(&mut self, span: Span) {
        self.0.borrow_mut().rest(span);
    }
}
