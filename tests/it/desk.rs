//! The core alone at a desk: a supply that answers by the book, one exchange at a time, and every
//! action kept with its moment. Unlike a bench it can be told to be slow, deaf or wrong.

use super::guards::supply;
use super::night_kit::studio;
use nightvat::control::{Action, Core, Envelope, Event, Fault, Note, Outcome, State, Timing};
use nightvat::exchange::{Answer, Ask, Capability, Identity, LinkFault, Mode, Order, Reading};
use nightvat::units::{Current, Moment, Span, Voltage};
use std::collections::VecDeque;

/// What comes of an order instead of its answer; `None` lets it be answered.
pub(crate) type Mishap = Box<dyn FnMut(&Order) -> Option<LinkFault>>;

/// A core and everything it talks to.
pub(crate) struct Desk {
    pub(crate) core: Core,
    pub(crate) now: Moment,
    /// Every exchange takes this long.
    pub(crate) takes: Span,
    /// Every commit takes this long.
    pub(crate) disk: Span,
    pub(crate) mishap: Mishap,
    /// What a reading is changed into.
    pub(crate) twist: Box<dyn FnMut(&mut Reading)>,
    /// Everything it did.
    pub(crate) acts: Vec<(Moment, Action)>,
    pub(crate) ended: Option<Outcome>,
    pub(crate) on: bool,
    pub(crate) set: Current,
    /// The setpoints that are lost on the way although nothing shows it: these many, after these
    /// many that arrive.
    pub(crate) loses: [u32; 2],
    ceiling: Voltage,
    levels: (Voltage, Current),
    queue: VecDeque<Order>,
    line: Option<(Moment, Order)>,
    commits: VecDeque<(Moment, Envelope)>,
    wake: Option<Moment>,
}

/// The supply of the guards' tests, which tells its protections' levels too.
pub(crate) fn talkative() -> Capability {
    Capability {
        reads: supply().reads | Ask::OVER_VOLTAGE | Ask::OVER_CURRENT | Ask::CHANNEL,
        ..supply()
    }
}

impl Desk {
    /// For a job, begun.
    pub(crate) fn begin(job: &str, can: Capability) -> Self {
        let plan = studio(job, "scpi-standard", 1, true).plan;
        let timing = Timing::for_supply(&can);
        let mut desk = Self::with(Core::new(plan, can, timing));
        desk.tell(Event::Begin);
        desk
    }

    /// For a core that is told nothing yet.
    pub(crate) fn with(core: Core) -> Self {
        Self {
            core,
            now: Moment::ZERO,
            takes: Span::from_ms(40.0),
            disk: Span::ZERO,
            mishap: Box::new(|_| None),
            twist: Box::new(|_| {}),
            acts: Vec::new(),
            ended: None,
            on: false,
            set: Current::ZERO,
            loses: [0, 0],
            ceiling: Voltage::ZERO,
            levels: (Voltage::ZERO, Current::ZERO),
            queue: VecDeque::new(),
            line: None,
            commits: VecDeque::new(),
            wake: None,
        }
    }

    pub(crate) fn tell(&mut self, event: Event) {
        let mut actions = Vec::new();
        self.wake = None;
        self.core.handle(self.now, event, &mut actions);
        for action in actions {
            match &action {
                Action::Send(order) | Action::Energise(order, _) => self.queue.push_back(*order),
                Action::DropQueue => self.queue.clear(),
                Action::Widen(envelope) => {
                    let done = self.now + self.disk;
                    self.commits.push_back((done, *envelope));
                }
                Action::Wake(at) => self.wake = Some(*at),
                Action::End(outcome, _) => self.ended = Some(*outcome),
                Action::Note(_) | Action::PeriodDone | Action::Relay(_) => {}
            }
            self.acts.push((self.now, action));
        }
    }

    /// Begins the next exchange if there is one and the line is free: what is on the line then.
    pub(crate) fn put_on_the_line(&mut self) -> Option<Order> {
        if self.line.is_none() {
            let next = self.queue.pop_front();
            self.line = next.map(|order| (self.now, order));
        }
        self.in_flight()
    }

    /// When the next thing happens.
    fn soonest(&mut self) -> Option<Moment> {
        self.put_on_the_line();
        let reply = self.line.map(|(sent, _)| sent + self.takes);
        let commit = self.commits.front().map(|(done, _)| *done);
        [commit, reply, self.wake].into_iter().flatten().min()
    }

    /// The next thing that happens.
    pub(crate) fn step(&mut self) {
        let Some(soonest) = self.soonest() else {
            self.now = self.now + Span::from_s(1.0);
            return self.tell(Event::Woke);
        };
        let reply = self.line.map(|(sent, _)| sent + self.takes);
        let commit = self.commits.front().map(|(done, _)| *done);
        self.now = soonest.max(self.now);
        if commit == Some(soonest) {
            if let Some((_, envelope)) = self.commits.pop_front() {
                self.tell(Event::Recorded(envelope));
            }
        } else if reply == Some(soonest)
            && let Some((sent, order)) = self.line.take()
        {
            let event = self.answer(sent, order);
            self.tell(event);
        } else {
            self.tell(Event::Woke);
        }
    }

    fn answer(&mut self, sent: Moment, order: Order) -> Event {
        if let Some(fault) = (self.mishap)(&order) {
            return Event::Failed(order, fault);
        }
        match order {
            Order::SetCurrent(to) => self.takes_setpoint(to),
            Order::SetVoltage(to) => self.ceiling = to,
            Order::SetOverVoltage(to) => self.levels.0 = to,
            Order::SetOverCurrent(to) => self.levels.1 = to,
            Order::On => self.on = true,
            Order::Off => self.on = false,
            Order::Identify
            | Order::Prepare
            | Order::ClearTrip
            | Order::Read(_)
            | Order::Watchdog(_)
            | Order::Release => {}
        }
        let received = self.now;
        let answer = match order {
            Order::Identify => Answer::Identity(Identity("A,B,C,D".into())),
            Order::Read(ask) => {
                let mut reading = self.reading(sent, ask);
                (self.twist)(&mut reading);
                Answer::Reading(reading)
            }
            _ => Answer::Done { sent, received },
        };
        Event::Answered(order, answer)
    }

    fn takes_setpoint(&mut self, to: Current) {
        let [lost, first] = &mut self.loses;
        match (*lost, *first) {
            (0, _) => self.set = to,
            (_, 0) => *lost -= 1,
            (_, _) => {
                *first -= 1;
                self.set = to;
            }
        }
    }

    /// Only what was asked; 10 mV and 1 V for each ampere.
    fn reading(&self, sent: Moment, ask: Ask) -> Reading {
        let flows = if self.on { self.set } else { Current::ZERO };
        let volts = if self.on { 0.01 + flows.a() } else { 0.0 };
        let asked = |what: Ask| ask.has(what).then_some(());
        Reading {
            sent,
            received: self.now,
            current: asked(Ask::CURRENT).map(|()| flows),
            voltage: asked(Ask::VOLTAGE).map(|()| Voltage::from_v(volts)),
            output: asked(Ask::OUTPUT).map(|()| self.on),
            mode: asked(Ask::MODE).map(|()| Mode::ConstantCurrent),
            set_current: asked(Ask::SET_CURRENT).map(|()| self.set),
            set_voltage: asked(Ask::SET_VOLTAGE).map(|()| self.ceiling),
            over_voltage: asked(Ask::OVER_VOLTAGE).map(|()| self.levels.0),
            over_current: asked(Ask::OVER_CURRENT).map(|()| self.levels.1),
            tripped: asked(Ask::TRIPPED).map(|()| false),
            channel: asked(Ask::CHANNEL).map(|()| true),
            ..Reading::default()
        }
    }

    /// Goes on until it is in this state.
    pub(crate) fn reach(&mut self, state: State) {
        for _ in 0..400_000 {
            if self.core.state() == state || self.ended.is_some() {
                break;
            }
            self.step();
        }
        assert_eq!(self.core.state(), state, "{:?}", self.spoke());
    }

    /// Goes on for so many seconds, to the moment.
    pub(crate) fn pass(&mut self, seconds: f64) {
        let end = self.now + Span::from_s(seconds);
        while self.ended.is_none() && self.soonest().is_some_and(|next| next <= end) {
            self.step();
        }
        if self.ended.is_none() {
            self.now = end;
        }
    }

    pub(crate) fn finish(&mut self) -> Outcome {
        for _ in 0..400_000 {
            if self.ended.is_some() {
                break;
            }
            self.step();
        }
        self.ended.expect("an end")
    }

    /// Goes on for so many seconds at most: the guard that ended the run, although off may not be
    /// proved yet.
    pub(crate) fn finish_without_proof(&mut self, seconds: f64) -> Option<Fault> {
        let end = self.now + Span::from_s(seconds);
        while self.now < end && self.core.state().is_live() {
            self.step();
        }
        self.pass(2.0);
        self.spoke().last().copied()
    }

    /// The order on the wire now.
    pub(crate) fn in_flight(&self) -> Option<Order> {
        self.line.map(|(_, order)| order)
    }

    /// The orders asked for since, with their moments.
    pub(crate) fn orders(&self, since: Moment) -> Vec<(Moment, Order)> {
        let late = self.acts.iter().filter(|(at, _)| *at >= since);
        late.filter_map(|(at, action)| match action {
            Action::Send(order) | Action::Energise(order, _) => Some((*at, *order)),
            _ => None,
        })
        .collect()
    }

    /// When it asked for readings since.
    pub(crate) fn reads(&self, since: Moment) -> Vec<Moment> {
        let orders = self.orders(since).into_iter();
        let reads = orders.filter(|(_, order)| matches!(order, Order::Read(_)));
        reads.map(|(at, _)| at).collect()
    }

    /// The setpoints it asked for since.
    pub(crate) fn sets(&self, since: Moment) -> Vec<(Moment, Current)> {
        let orders = self.orders(since).into_iter();
        orders
            .filter_map(|(at, order)| match order {
                Order::SetCurrent(to) => Some((at, to)),
                _ => None,
            })
            .collect()
    }

    /// The envelopes it asked for.
    pub(crate) fn envelopes(&self) -> Vec<(Moment, Envelope)> {
        let acts = self.acts.iter();
        acts.filter_map(|(at, action)| match action {
            Action::Widen(envelope) => Some((*at, *envelope)),
            _ => None,
        })
        .collect()
    }

    pub(crate) fn notes(&self) -> Vec<(Moment, &Note)> {
        let acts = self.acts.iter();
        acts.filter_map(|(at, action)| match action {
            Action::Note(note) => Some((*at, note)),
            _ => None,
        })
        .collect()
    }

    pub(crate) fn spoke(&self) -> Vec<Fault> {
        let notes = self.notes().into_iter();
        notes
            .filter_map(|(_, note)| match note {
                Note::Spoke(fault, _) => Some(*fault),
                _ => None,
            })
            .collect()
    }
}
