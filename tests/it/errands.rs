//! A run between its ledger, its line and its clock: when it writes, how long it waits for the
//! disk, and what it says of it.

use super::night_kit::{Studio, WIRE, studio};
use nightvat::control::{Carried, Fault, Outcome, State, Wish};
use nightvat::ledger::{ElectrodeHead, Entry, RunHead, Ticket};
use nightvat::plan::OnRecord;
use nightvat::rig::bench::Bench;
use nightvat::rig::instrument::Instrument;
use nightvat::run::{Effect, Habits, Input, Run};
use nightvat::supply::link::Link;
use nightvat::supply::wire::{Exchange, Line, Outcome as Outcomes, WireFault};
use nightvat::units::{Bounded, Charge, Moment, Span};
use std::collections::VecDeque;

/// A run on the bench whose disk takes as long as it is told to.
struct Errand {
    run: Run,
    bench: Bench,
    disk: Span,
    effects: Vec<(Moment, Effect)>,
    wire: Option<Exchange>,
    commits: VecDeque<(Moment, Ticket)>,
    wake: Option<Moment>,
    ended: Option<Outcome>,
    /// The line says nothing any more.
    dead: bool,
    /// The next reply means nothing.
    garbles: bool,
    /// Inputs at one and the same moment: a run that spins never lets time go on.
    at_once: u32,
}

fn made(studio: &Studio) -> Run {
    let electrodes = studio.plan.pieces.iter().map(|piece| ElectrodeHead {
        name: piece.name.clone(),
        hanger: false,
        area: Default::default(),
    });
    let head = RunHead {
        electrodes: electrodes.collect(),
        ..RunHead::default()
    };
    Run::new(
        Moment::ZERO,
        1,
        &head,
        studio.plan.clone(),
        studio.supply.clone(),
        Link::new(studio.profile.clone()),
        Habits::default(),
    )
}

impl Errand {
    fn begin(disk: Span) -> Self {
        let studio = studio(WIRE, "scpi-standard", 1, true);
        let world = studio.world.clone();
        let instrument = Instrument::new(studio.kind, studio.quirks.clone(), world, Moment::ZERO);
        let mut errand = Self {
            run: made(&studio),
            bench: Bench::new(instrument, Moment::ZERO),
            disk,
            effects: Vec::new(),
            wire: None,
            commits: VecDeque::new(),
            wake: None,
            ended: None,
            dead: false,
            garbles: false,
            at_once: 0,
        };
        errand.tell(Input::Begin);
        errand
    }

    fn tell(&mut self, input: Input) {
        let now = self.bench.now();
        let last = self.effects.last().map(|(at, _)| *at);
        self.at_once = if last == Some(now) {
            self.at_once + 1
        } else {
            0
        };
        assert!(self.at_once < 100, "it spins at {} s", now.s());
        let mut effects = Vec::new();
        self.run.handle(now, input, &mut effects);
        for effect in effects {
            match &effect {
                Effect::Exchange(exchange) => self.wire = Some(exchange.clone()),
                Effect::Commit(ticket) => self.commits.push_back((now + self.disk, *ticket)),
                Effect::Wake(at) => self.wake = Some(*at),
                Effect::Ended(outcome) => self.ended = Some(*outcome),
                Effect::Record(_)
                | Effect::Arm(_)
                | Effect::Renew
                | Effect::Disarm
                | Effect::Relay(_) => {}
            }
            self.effects.push((now, effect));
        }
    }

    fn step(&mut self) {
        let now = self.bench.now();
        let due = self.commits.front().copied();
        if let Some((_, ticket)) = due.filter(|(done, _)| *done <= now) {
            self.commits.pop_front();
            return self.tell(Input::Committed(ticket));
        }
        if let Some(exchange) = self.wire.take() {
            let mut outcome = match self.dead {
                true => self.nothing(),
                false => self.bench.exchange(&exchange),
            };
            if std::mem::take(&mut self.garbles) {
                outcome.reply = Ok(b"\xff\xfe".to_vec());
            }
            return self.tell(Input::Wire(outcome));
        }
        let next = [self.wake, due.map(|(done, _)| done)];
        let soon = now + Span::from_s(1.0);
        let next = next.into_iter().flatten().min().unwrap_or(soon);
        self.bench.rest(next.since(now).max(Span::ZERO));
        if self.wake.is_some_and(|at| at <= self.bench.now()) {
            self.wake = None;
            self.tell(Input::Woke);
        }
    }

    fn nothing(&mut self) -> Outcomes {
        let sent = self.bench.now();
        self.bench.rest(Span::from_ms(500.0));
        Outcomes {
            sent,
            received: self.bench.now(),
            reply: Err(WireFault::Silent),
        }
    }

    fn reach(&mut self, state: State) {
        while self.run.state() != state && self.ended.is_none() {
            self.step();
        }
        assert_eq!(self.run.state(), state);
    }

    /// Goes on until this is what will be sent next.
    fn about_to_send(&mut self, words: &[u8]) {
        let is =
            |wire: &Option<Exchange>| wire.as_ref().is_some_and(|it| it.send.starts_with(words));
        while !is(&self.wire) {
            self.step();
        }
    }

    /// What was sent after the first `count` effects, with its moment, s.
    fn sent(&self, count: usize) -> Vec<(f64, String)> {
        let done = self.effects[count..].iter();
        done.filter_map(|(at, effect)| match effect {
            Effect::Exchange(it) => Some((at.s(), String::from_utf8_lossy(&it.send).into_owned())),
            _ => None,
        })
        .collect()
    }

    fn pass(&mut self, seconds: f64) {
        let end = self.bench.now() + Span::from_s(seconds);
        while self.bench.now() < end && self.ended.is_none() {
            self.step();
        }
    }

    /// When something of this kind was done since, s.
    fn times(&self, since: Moment, is: impl Fn(&Effect) -> bool) -> Vec<f64> {
        let done = self.effects.iter();
        let done = done.filter(|(at, effect)| *at >= since && is(effect));
        done.map(|(at, _)| at.s()).collect()
    }

    /// When a guard spoke, s.
    fn spoke(&self, fault: Fault) -> Vec<f64> {
        self.times(Moment::ZERO, |effect| {
            matches!(effect, Effect::Record(Entry::Event { code, .. }) if *code == fault.code())
        })
    }
}

fn commits(effect: &Effect) -> bool {
    matches!(effect, Effect::Commit(_))
}

/// Readings are made durable every five seconds, or at the first reading after that.
#[test]
fn readings_are_written_every_five_seconds() {
    let mut errand = Errand::begin(Span::ZERO);
    errand.reach(State::Building);
    errand.pass(60.0);
    let since = errand.bench.now();
    errand.pass(200.0);
    let found = errand.times(since, commits);
    // One more for an envelope now and then.
    assert!((33..=42).contains(&found.len()), "{} commits", found.len());
    for pair in found.windows(2) {
        assert!(pair[1] - pair[0] < 6.2, "{pair:?}");
    }
}

/// While the disk is at one batch, no other is handed to it.
#[test]
fn one_batch_waits_for_the_one_before() {
    let mut errand = Errand::begin(Span::ZERO);
    errand.reach(State::Building);
    errand.disk = Span::from_s(9.0);
    let since = errand.bench.now();
    errand.pass(200.0);
    let found = errand.times(since, commits);
    assert!(found.len() <= 27, "{} commits in 200 s", found.len());
}

/// A commit that waits is told of after 5.1 s, once; when the disk is well again the alarm falls
/// silent a minute later, and nothing spins meanwhile.
#[test]
fn a_slow_disk_is_told_of_and_forgotten() {
    let mut errand = Errand::begin(Span::ZERO);
    errand.reach(State::Building);
    errand.pass(30.0);
    errand.disk = Span::from_s(8.0);
    let since = errand.bench.now();
    while errand.times(since, commits).is_empty() {
        errand.step();
    }
    let asked = errand.times(since, commits)[0];
    errand.disk = Span::ZERO;
    errand.pass(20.0);
    let spoke = errand.spoke(Fault::LedgerSlow);
    assert_eq!(spoke.len(), 1, "{spoke:?}");
    let after = spoke[0] - asked;
    // To the last bit of two moments in seconds.
    assert!((5.1 - 1e-9..5.2).contains(&after), "{after} s");
    let alarms = errand.run.snapshot(errand.bench.now()).alarms;
    assert_eq!(alarms.len(), 1);
    errand.pass(60.0);
    let alarms = errand.run.snapshot(errand.bench.now()).alarms;
    assert_eq!(alarms, []);
    assert_eq!(errand.run.state(), State::Building);
}

/// A ledger that never answers: what raises waits for it, and after fifteen seconds the run ends.
#[test]
fn a_ledger_that_never_answers_ends_the_run() {
    let mut errand = Errand::begin(Span::from_h(100.0));
    while errand.commits.is_empty() {
        errand.step();
    }
    let asked = errand.bench.now();
    errand.pass(30.0);
    let failed = errand.spoke(Fault::LedgerNotWriting);
    assert_eq!(failed.len(), 1, "{failed:?}");
    let after = failed[0] - asked.s();
    assert!((15.0..15.1).contains(&after), "{after} s");
    let ended = Some(Outcome::Tripped(Fault::LedgerNotWriting));
    assert_eq!(errand.ended, ended);
    assert!(!errand.bench.truth().output_on);

    // The same while current flows: off within the patience and a second.
    let mut errand = Errand::begin(Span::ZERO);
    errand.reach(State::Building);
    errand.disk = Span::from_h(100.0);
    errand.pass(40.0);
    assert_eq!(errand.ended, ended);
    assert!(!errand.bench.truth().output_on);
}

/// The ledger has been given up and off cannot be proved, since the line is dead as well: the run
/// goes on trying at its own pace and says once what is the matter.
#[test]
fn a_ledger_that_was_given_up_is_not_waited_for_any_more() {
    let mut errand = Errand::begin(Span::ZERO);
    errand.reach(State::Building);
    errand.disk = Span::from_h(100.0);
    while errand.spoke(Fault::LedgerNotWriting).is_empty() {
        errand.step();
    }
    errand.dead = true;
    errand.pass(60.0);
    assert_eq!(errand.run.state(), State::Unconfirmed);
    assert_eq!(errand.spoke(Fault::LedgerNotWriting).len(), 1);
}

/// The keeper is given the run's limits before anything raises, and let go when the end or a pause
/// is proved: armed once each time.
#[test]
fn the_keeper_is_armed_and_let_go_once_each_time() {
    let mut errand = Errand::begin(Span::ZERO);
    errand.reach(State::Building);
    let armed = |errand: &Errand| {
        let of = |is: fn(&Effect) -> bool| errand.times(Moment::ZERO, is).len();
        (
            of(|effect| matches!(effect, Effect::Arm(_))),
            of(|effect| matches!(effect, Effect::Disarm)),
        )
    };
    assert_eq!(armed(&errand), (1, 0));
    let arm = errand.effects.iter().find_map(|(at, effect)| match effect {
        Effect::Arm(arming) => Some((*at, *arming)),
        _ => None,
    });
    let (at, arming) = arm.unwrap();
    let limits = errand.run.core().plan().limits;
    assert_eq!(
        (arming.current, arming.voltage),
        (limits.current, limits.voltage)
    );
    // Half as long again as the plan allows, and twelve hours for her to look.
    let within = limits.time_on * 1.5 + Span::from_h(12.0);
    assert!((arming.within - within).abs() < Span::from_s(1.0));
    let first = errand.times(
        Moment::ZERO,
        |effect| matches!(effect, Effect::Exchange(it) if it.send.starts_with(b"OUTP ON")),
    );
    assert!(first[0] >= at.s());
    errand.tell(Input::Asked(Wish::Pause));
    // Off is on its way: the pause has not begun.
    let leaving = errand.run.snapshot(errand.bench.now());
    assert_eq!((leaving.state, leaving.state_since), (State::Paused, None));
    errand.pass(10.0);
    assert_eq!(armed(&errand), (1, 1));
    errand.tell(Input::Asked(Wish::Resume));
    errand.reach(State::Building);
    assert_eq!(armed(&errand), (2, 1));
    errand.tell(Input::Asked(Wish::Stop));
    errand.pass(10.0);
    assert_eq!(armed(&errand), (2, 2));
    assert_eq!(errand.ended, Some(Outcome::Stopped));
}

/// What a view is shown while current flows, and what the ledger is told of a reading.
#[test]
fn a_run_shows_what_came_last() {
    let mut errand = Errand::begin(Span::ZERO);
    while !errand.bench.truth().output_on {
        errand.step();
    }
    // On was acknowledged; the next reading comes half a second later.
    errand.pass(0.3);
    let shown = errand.run.snapshot(errand.bench.now());
    assert_eq!(shown.output_on, Some(true));
    errand.reach(State::Striking);
    errand.pass(100.0);
    let now = errand.bench.now();
    let shown = errand.run.snapshot(now);
    let lasts = now.since(shown.state_since.unwrap()).s();
    assert!((lasts - 100.0).abs() < 0.1, "striking for {lasts} s");
    assert!(now.since(shown.last_reply.unwrap()).s() < 1.2);
    // Along the schedule while it still rises.
    let duration = errand.run.core().plan().forecast.duration;
    let left = shown.time_left.unwrap();
    let gone = (duration - left).s();
    assert!((gone - shown.time_on.s()).abs() < 0.1, "{gone} s");
    assert!((shown.elapsed.s() - now.s()).abs() < 1e-6);

    // A reading counts as of the middle of its query.
    errand.reach(State::Building);
    let since = errand.bench.now();
    errand.pass(10.0);
    let asked = errand.times(
        since,
        |effect| matches!(effect, Effect::Exchange(it) if it.send.starts_with(b"MEAS:CURR?")),
    );
    let heard = errand.times(
        since,
        |effect| matches!(effect, Effect::Exchange(it) if it.send.starts_with(b"MEAS:VOLT?")),
    );
    let of_record = errand
        .effects
        .iter()
        .filter_map(|(at, effect)| match effect {
            Effect::Record(Entry::Reading(reading)) if *at > since => Some(reading.at.s()),
            _ => None,
        });
    let recorded: Vec<f64> = of_record.collect();
    assert!(recorded.len() >= 8);
    for ((asked, heard), at) in asked.iter().zip(&heard).zip(&recorded) {
        let middle = (asked + heard) / 2.0;
        assert!((at - middle).abs() < 1e-3, "{at} s, not {middle} s");
    }
}

/// A run that goes on counts from when it first began.
#[test]
fn a_run_that_goes_on_counts_from_its_first_beginning() {
    let studio = studio(WIRE, "scpi-standard", 1, true);
    let carried = Carried {
        charge: Bounded::exact(Charge::from_ah(0.1)),
        electrodes: vec![OnRecord {
            charge: Bounded::exact(Charge::from_ah(0.1)),
            on: Span::from_h(0.5),
        }],
        on: Span::from_h(0.5),
        looks_taken: 0,
    };
    let now = Moment::from_s(5.0);
    let run = made(&studio).carry(now, Span::from_h(2.0), &carried);
    let shown = run.snapshot(now + Span::from_s(60.0));
    assert!((shown.elapsed.s() - 7260.0).abs() < 1e-6);
    assert!((shown.time_on.s() - 1800.0).abs() < 1e-6);
}

/// A person says stop between a question and its answer: what the reading would still have asked is
/// left out, and off goes next.
#[test]
fn off_waits_for_one_exchange_and_not_for_an_order() {
    let mut errand = Errand::begin(Span::ZERO);
    errand.reach(State::Building);
    errand.about_to_send(b"MEAS:CURR?");
    let count = errand.effects.len();
    errand.tell(Input::Asked(Wish::Stop));
    while errand.sent(count).is_empty() {
        errand.step();
    }
    assert_eq!(errand.sent(count)[0].1.trim(), "OUTP OFF");
    errand.pass(10.0);
    assert_eq!(errand.ended, Some(Outcome::Stopped));
}

/// After a reply that means nothing the line is silent until no other can come any more: a second
/// from the question, as the profile says.
#[test]
fn after_rubbish_the_line_is_given_its_time() {
    let mut errand = Errand::begin(Span::ZERO);
    errand.reach(State::Building);
    errand.about_to_send(b"MEAS:CURR?");
    let (asked, count) = (errand.bench.now(), errand.effects.len());
    errand.garbles = true;
    errand.pass(3.0);
    let sent = errand.sent(count);
    let who = sent.iter().find(|(_, words)| words.starts_with("*IDN?"));
    let waited = who.unwrap().0 - asked.s();
    assert!((0.9..1.6).contains(&waited), "{waited} s");
    assert_eq!(errand.run.state(), State::Building);
}

/// The line says nothing for three seconds from the moment on is said: it is said again, under the
/// same permit, and the run begins.
#[test]
fn an_order_that_met_a_dead_line_is_taken_up_again() {
    let mut errand = Errand::begin(Span::ZERO);
    errand.about_to_send(b"OUTP ON");
    errand.dead = true;
    errand.pass(3.3);
    errand.dead = false;
    errand.reach(State::Striking);
    assert!(errand.spoke(Fault::CommandFailed).is_empty());
    let said = errand.sent(0);
    let on = said
        .iter()
        .filter(|(_, words)| words.starts_with("OUTP ON"));
    // Lost, again, and after the test of off.
    assert!(on.count() >= 3);
}

/// The keeper dies while an exchange is with it: nothing of that is waited for, and off goes out
/// through the next one.
#[test]
fn a_lost_keeper_leaves_nothing_under_way() {
    for words in [&b"MEAS:CURR?"[..], b"CURR "] {
        let mut errand = Errand::begin(Span::ZERO);
        errand.reach(State::Ramping);
        errand.about_to_send(words);
        errand.wire = None;
        let count = errand.effects.len();
        errand.tell(Input::KeeperLost);
        errand.pass(5.0);
        let ended = Some(Outcome::Interrupted(Fault::KeeperLost));
        assert_eq!(errand.ended, ended);
        assert!(errand.sent(count)[0].1.starts_with("OUTP OFF"));
        assert!(!errand.bench.truth().output_on);
    }
}
