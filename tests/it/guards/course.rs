//! The guards that speak through events, each in every state it watches in: the core alone, with a
//! supply that answers by a script.

use super::supply;
use crate::night_kit::{WIRE, studio};
use nightvat::control::{Action, Core, Event, Fault, Note, Outcome, State, Timing, Wish};
use nightvat::exchange::{Answer, Ask, Contact, Identity, LinkFault, Mode, Order, Reading};
use nightvat::units::{Current, Moment, Span, Voltage};
use std::collections::VecDeque;
use std::sync::Arc;

/// What the scripted supply does.
#[derive(Clone, Copy, Default)]
pub(super) struct Script {
    /// It is silent, whatever it is asked.
    pub(super) silent: bool,
    /// Off is acknowledged and so many readings say on.
    pub(super) on_after_off: u32,
    /// What flows although the output is off, A.
    pub(super) leaks_a: f64,
    /// The over-voltage level is off by this, V.
    pub(super) level_off_v: f64,
    /// Share of the proving current that does not flow, at the ceiling.
    pub(super) missing: f64,
    /// It says off whatever it does.
    pub(super) says_off: bool,
    /// It has no word on its output.
    pub(super) wordless: bool,
    /// What its terminals show while nothing flows, V.
    pub(super) live_v: Option<f64>,
    /// There is a relay in the output lead.
    pub(super) relay: Option<Wired>,
}

/// A relay in the output lead. The station says that it opens within 1.5 s.
#[derive(Clone, Copy)]
pub(super) struct Wired {
    /// It opens so long after it is let go.
    pub(super) opens_s: f64,
    /// So much of what would flow flows through it when it is open, A.
    pub(super) leaks_a: f64,
}

/// A core and what answers it.
pub(super) struct Puppet {
    pub(super) core: Core,
    pub(super) now: Moment,
    pub(super) script: Script,
    pub(super) on: bool,
    /// The relay's contact is closed until then.
    pub(super) closed_until: Moment,
    /// What was done with it, and when.
    pub(super) relay: Vec<(Moment, Contact)>,
    pub(super) cut: Option<Moment>,
    set: Current,
    ceiling: Voltage,
    levels: (Voltage, Current),
    queue: VecDeque<Order>,
    wake: Option<Moment>,
    pub(super) spoke: Vec<Fault>,
    offs: u32,
    pub(super) ended: Option<Outcome>,
}

impl Puppet {
    pub(super) fn new(script: Script) -> Self {
        let job = format!("{WIRE}\n[finish]\nhold = '0.1 A/dm2'\nat_most = '30 min'\n");
        let studio = studio(&job, "scpi-standard", 1, true);
        let mut reads = supply().reads | Ask::OVER_VOLTAGE | Ask::OVER_CURRENT;
        if script.wordless {
            reads = reads.and(Ask::MEASURED | Ask::MODE | Ask::SET_CURRENT | Ask::SET_VOLTAGE);
        }
        let can = nightvat::exchange::Capability { reads, ..supply() };
        let timing = Timing::for_supply(&can);
        let mut plan = (*studio.plan).clone();
        plan.bounds.relay = script.relay.map(|_| Span::from_s(1.5));
        let mut puppet = Self {
            core: Core::new(Arc::new(plan), can, timing),
            now: Moment::ZERO,
            closed_until: Moment::ZERO,
            relay: Vec::new(),
            cut: None,
            script,
            on: false,
            set: Current::ZERO,
            ceiling: Voltage::ZERO,
            levels: (Voltage::ZERO, Current::ZERO),
            queue: VecDeque::new(),
            wake: None,
            spoke: Vec::new(),
            offs: 0,
            ended: None,
        };
        puppet.tell(Event::Begin);
        puppet
    }

    pub(super) fn tell(&mut self, event: Event) {
        let mut actions = Vec::new();
        self.core.handle(self.now, event, &mut actions);
        let mut recorded = Vec::new();
        for action in actions {
            match action {
                Action::Send(order) | Action::Energise(order, _) => self.queue.push_back(order),
                Action::DropQueue => self.queue.clear(),
                Action::Widen(envelope) => recorded.push(envelope),
                Action::Note(Note::Spoke(fault, _)) => self.spoke.push(fault),
                Action::Note(Note::Cut) => self.cut = Some(self.now),
                Action::Note(_) | Action::PeriodDone => {}
                Action::Relay(contact) => self.moves(contact),
                Action::Wake(at) => self.wake = Some(at),
                Action::End(outcome, _) => self.ended = Some(outcome),
            }
        }
        for envelope in recorded {
            self.tell(Event::Recorded(envelope));
        }
    }

    /// The contact closes at once, and opens after a while.
    fn moves(&mut self, contact: Contact) {
        self.relay.push((self.now, contact));
        let opens = self.script.relay.map_or(0.0, |wired| wired.opens_s);
        let later = self.now + Span::from_s(opens);
        self.closed_until = match contact {
            Contact::Hold => Moment::from_s(1e6),
            Contact::LetGo | Contact::Cut { .. } => self.closed_until.min(later),
        };
    }

    fn reading(&mut self, sent: Moment) -> Reading {
        let mut flows = if self.on { self.set } else { Current::ZERO };
        let proving = self.core.state() == State::Proving && self.on;
        let mut output = self.on;
        if !self.on && self.offs > 0 && self.script.on_after_off > 0 {
            self.script.on_after_off -= 1;
            output = true;
            flows = self.set;
        }
        if !self.on && self.offs == 0 {
            flows = Current::from_a(self.script.leaks_a);
        }
        let mut mode = Mode::ConstantCurrent;
        let mut voltage = if flows > Current::ZERO { 1.0 } else { 0.0 };
        if proving && self.script.missing > 0.0 {
            flows = self.set * (1.0 - self.script.missing);
            mode = Mode::ConstantVoltage;
            voltage = self.ceiling.v();
        }
        if let Some(wired) = self.script.relay.filter(|_| self.now >= self.closed_until) {
            flows = flows.min(Current::from_a(wired.leaks_a));
            mode = Mode::ConstantVoltage;
            voltage = if output { self.ceiling.v() } else { 0.0 };
        }
        if let Some(live_v) = self.script.live_v.filter(|_| flows <= Current::ZERO) {
            voltage = live_v;
        }
        output &= !self.script.says_off;
        Reading {
            sent,
            received: self.now,
            current: Some(flows),
            voltage: Some(Voltage::from_v(voltage)),
            output: (!self.script.wordless).then_some(output),
            mode: Some(mode),
            set_current: Some(self.set),
            set_voltage: Some(self.ceiling),
            over_voltage: Some(self.levels.0 + Voltage::from_v(self.script.level_off_v)),
            over_current: Some(self.levels.1),
            tripped: Some(false),
            ..Reading::default()
        }
    }

    /// One exchange, or one wait.
    pub(super) fn step(&mut self) {
        let Some(order) = self.queue.pop_front() else {
            let soon = self.now + Span::from_s(1.0);
            self.now = self.wake.take().unwrap_or(soon).max(self.now);
            return self.tell(Event::Woke);
        };
        let sent = self.now;
        self.now = self.now + Span::from_ms(40.0);
        if self.script.silent {
            return self.tell(Event::Failed(order, LinkFault::Silent));
        }
        match order {
            Order::SetCurrent(to) => self.set = to,
            Order::SetVoltage(to) => self.ceiling = to,
            Order::SetOverVoltage(to) => self.levels.0 = to,
            Order::SetOverCurrent(to) => self.levels.1 = to,
            Order::On => self.on = true,
            Order::Off => {
                self.on = false;
                self.offs += 1;
            }
            Order::Identify
            | Order::Prepare
            | Order::ClearTrip
            | Order::Read(_)
            | Order::Watchdog(_)
            | Order::Release => {}
        }
        let answer = match order {
            Order::Identify => Answer::Identity(Identity("A,B,C,D".into())),
            Order::Read(_) => Answer::Reading(self.reading(sent)),
            _ => Answer::Done {
                sent,
                received: self.now,
            },
        };
        self.tell(Event::Answered(order, answer));
    }

    /// Goes on until it is in this state, or is over.
    pub(super) fn reach(&mut self, state: State) {
        for _ in 0..200_000 {
            if self.core.state() == state || self.ended.is_some() {
                break;
            }
            self.step();
        }
        assert_eq!(self.core.state(), state, "{:?}", self.spoke);
    }

    pub(super) fn finish(&mut self) -> Outcome {
        for turn in 0..200_000 {
            if self.ended.is_none() {
                self.step();
            }
            if turn > 50 && self.core.state() == State::Paused {
                self.tell(Event::Asked(Wish::Stop));
            }
        }
        self.ended.expect("an end")
    }
}

/// A core in this state, current flowing or off on its way.
fn in_state(state: State) -> Puppet {
    puppet_in(state, Script::default())
}

/// The same with a script.
pub(super) fn puppet_in(state: State, script: Script) -> Puppet {
    let mut puppet = Puppet::new(script);
    match state {
        State::Proving => puppet.step(),
        State::Striking | State::Ramping | State::Building | State::Holding => puppet.reach(state),
        State::Paused => {
            puppet.reach(State::Building);
            puppet.tell(Event::Asked(Wish::Pause));
        }
        State::Stopping => {
            puppet.reach(State::Building);
            puppet.tell(Event::Asked(Wish::Stop));
        }
        State::Tripped => {
            puppet.reach(State::Building);
            puppet.tell(Event::LedgerFailed("full".into()));
        }
        State::Interrupted => {
            puppet.reach(State::Building);
            puppet.tell(Event::KeeperLost);
        }
        State::Unconfirmed => {
            puppet.reach(State::Building);
            puppet.tell(Event::Asked(Wish::Stop));
            puppet.script.silent = true;
            puppet.reach(State::Unconfirmed);
            puppet.script.silent = false;
        }
        State::Idle | State::Finished | State::Stopped => panic!("nothing flows then"),
    }
    assert_eq!(puppet.core.state(), state);
    puppet
}

/// The order that would be on the wire, and what came of it.
fn failed(puppet: &mut Puppet, fault: LinkFault) {
    puppet.queue.clear();
    let order = match puppet.core.state() {
        State::Proving => Order::Identify,
        _ => Order::Read(Ask::MEASURED),
    };
    puppet.tell(Event::Failed(order, fault));
}

#[test]
fn each_event_speaks_in_each_of_its_states() {
    let mut tried = 0;
    type Happens<'a> = &'a dyn Fn(&mut Puppet);
    let cases: [(Fault, Happens<'_>); 5] = [
        (Fault::LedgerNotWriting, &|puppet| {
            puppet.tell(Event::LedgerFailed("no space".into()));
        }),
        (Fault::RelayLost, &|puppet| {
            puppet.tell(Event::RelayLost("it is not there".into()));
        }),
        (Fault::CommandFailed, &|puppet| {
            failed(puppet, LinkFault::Forbidden("it cannot be said".into()));
        }),
        (Fault::WrongSupply, &|puppet| {
            failed(puppet, LinkFault::Stranger("X".into()));
        }),
        (Fault::IdentityChanged, &|puppet| {
            failed(puppet, LinkFault::Stranger("X".into()));
        }),
    ];
    for (fault, happens) in cases {
        for state in fault.guard().states {
            let mut puppet = in_state(*state);
            happens(&mut puppet);
            assert_eq!(puppet.spoke, [fault], "in {}", state.word());
            // Off is the very next order.
            assert_eq!(
                puppet.queue.front(),
                Some(&Order::Off),
                "in {}",
                state.word()
            );
            assert_eq!(puppet.finish(), Outcome::Tripped(fault));
            tried += 1;
        }
    }
    assert_eq!(tried, 5 + 5 + 5 + 1 + 4);
}

#[test]
fn a_lost_keeper_interrupts_a_run_that_was_not_ending_already() {
    for state in Fault::KeeperLost.guard().states {
        let mut puppet = in_state(*state);
        puppet.tell(Event::KeeperLost);
        let outcome = puppet.finish();
        // What it was leaving for stands: here a stop of hers, or a trip.
        let wanted = match state {
            State::Stopping | State::Unconfirmed => Outcome::Stopped,
            State::Tripped => Outcome::Tripped(Fault::LedgerNotWriting),
            _ => Outcome::Interrupted(Fault::KeeperLost),
        };
        assert_eq!(outcome, wanted, "in {}", state.word());
    }
}

/// 0 + 1.5 steps of 1 mA + 1 mA are nothing to this meter: 2.5 mA.
#[test]
fn what_flows_before_the_start_counts_from_what_the_meter_can_tell() {
    for (leaks_a, wanted) in [(0.0024, None), (0.0025, None), (0.0026, Some(()))] {
        let mut puppet = Puppet::new(Script {
            leaks_a,
            ..Script::default()
        });
        for _ in 0..3 {
            puppet.step();
        }
        let spoke = puppet.spoke.first() == Some(&Fault::OnBeforeStart);
        assert_eq!(spoke.then_some(()), wanted, "{leaks_a} A");
    }
}

/// The setting's step is 10 mV.
#[test]
fn a_limit_counts_as_taken_within_a_step() {
    for (level_off_v, wanted) in [(0.0099, false), (0.0101, false), (0.0102, true)] {
        let mut puppet = Puppet::new(Script {
            level_off_v,
            ..Script::default()
        });
        for _ in 0..10 {
            puppet.step();
        }
        let spoke = puppet.spoke.first() == Some(&Fault::LimitsNotTaken);
        assert_eq!(spoke, wanted, "{level_off_v} V");
    }
}

/// Two fifths of the proving current are a contact.
#[test]
fn a_contact_counts_from_two_fifths_of_the_current() {
    for (missing, wanted) in [(0.59, false), (0.599_999, false), (0.61, true)] {
        let mut puppet = Puppet::new(Script {
            missing,
            ..Script::default()
        });
        for _ in 0..60 {
            puppet.step();
        }
        let spoke = puppet.spoke.first() == Some(&Fault::NoContact);
        assert_eq!(spoke, wanted, "{missing} missing: {:?}", puppet.spoke);
    }
}

/// Two readings after an acknowledged off that say on, or three in proving, are no late reply.
#[test]
fn an_output_that_stays_on_is_said_in_every_state() {
    let mut tried = 0;
    for state in Fault::OutputStaysOn.guard().states {
        let (below, above) = if *state == State::Proving {
            (2, 3)
        } else {
            (1, 2)
        };
        for (readings, wanted) in [(below, false), (above, true)] {
            let mut puppet = in_state(*state);
            puppet.script.on_after_off = readings;
            let outcome = puppet.finish();
            let word = state.word();
            let spoke = puppet.spoke.contains(&Fault::OutputStaysOn);
            assert_eq!(spoke, wanted, "{readings} readings in {word}");
            let ended = Outcome::Tripped(Fault::OutputStaysOn);
            match state {
                // What ended them first stands.
                State::Tripped | State::Interrupted => assert_ne!(outcome, ended, "{word}"),
                _ if wanted => assert_eq!(outcome, ended, "{word}"),
                _ => assert_ne!(outcome, ended, "{word}"),
            }
            tried += 1;
        }
    }
    assert_eq!(tried, 12);
}
