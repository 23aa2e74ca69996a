//! A bench with a cable, a computer and a disk around it, all of which can go wrong.

use crate::night_kit::Studio;
use nightvat::control::{Fault, Outcome, Sense, State, Wish};
use nightvat::exchange::Contact;
use nightvat::ledger::{ElectrodeHead, Entry, RunHead, Ticket};
use nightvat::rig::bench::Bench;
use nightvat::rig::instrument::Instrument;
use nightvat::run::{Effect, Habits, Input, Run};
use nightvat::spec::Measures;
use nightvat::supply::link::Link;
use nightvat::supply::wire::{Exchange, Line, Outcome as Heard, WireFault};
use nightvat::units::{Moment, Span};
use rand::{RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::collections::VecDeque;

/// A port that is gone is looked for again after this.
const REOPENS: Span = Span::from_ms(250.0);

/// Something done to the bench, so many seconds after what was done before.
pub(super) type Deed = (f64, Box<dyn FnMut(&mut Bed)>);

/// What stands on the bench and around it.
pub(super) struct Bed {
    pub(super) bench: Bench,
    /// The cable is out.
    pub(super) unplugged: bool,
    /// This share of the replies loses a bit on the way.
    pub(super) garbles: f64,
    /// Commits take this long.
    pub(super) disk_takes: Span,
    pub(super) disk_free: u64,
    /// The time of day against the clock that only goes forward.
    pub(super) wall: Span,
    /// The computer sleeps for so long, once.
    pub(super) sleeps: Span,
    pub(super) sensors_broken: bool,
    pub(super) keeper_dies: bool,
    /// The port of the relay is pulled out.
    pub(super) relay_unplugged: bool,
    /// Everything that was sent, with its moment.
    pub(super) sent: Vec<(Moment, Vec<u8>)>,
    rng: Xoshiro256PlusPlus,
}

impl Bed {
    pub(super) fn new(studio: &Studio) -> Self {
        let world = studio.world.clone();
        let instrument = Instrument::new(studio.kind, studio.quirks.clone(), world, Moment::ZERO);
        Self {
            bench: Bench::new(instrument, Moment::ZERO),
            unplugged: false,
            garbles: 0.0,
            disk_takes: Span::ZERO,
            disk_free: 8_000_000_000,
            wall: Span::ZERO,
            sleeps: Span::ZERO,
            sensors_broken: false,
            keeper_dies: false,
            relay_unplugged: false,
            sent: Vec::new(),
            rng: Xoshiro256PlusPlus::seed_from_u64(5),
        }
    }

    /// Somebody puts another supply in the place of this one.
    pub(super) fn another_supply(&mut self, studio: &Studio, identity: &str) {
        let mut quirks = studio.quirks.clone();
        quirks.identity = identity.into();
        let now = self.bench.now();
        let other = Instrument::new(studio.kind, quirks, studio.world.clone(), now);
        self.bench = Bench::new(other, now);
    }

    fn exchange(&mut self, exchange: &Exchange) -> Heard {
        let sent = self.bench.now();
        if self.unplugged {
            self.bench.rest(REOPENS);
            return Heard {
                sent,
                received: self.bench.now(),
                reply: Err(WireFault::PortLost("it is not there".into())),
            };
        }
        self.sent.push((sent, exchange.send.clone()));
        let mut heard = self.bench.exchange(exchange);
        if let Ok(reply) = &mut heard.reply
            && !reply.is_empty()
            && self.garbles > 0.0
            && self.rng.random_bool(self.garbles)
        {
            // The framing is lost: from some byte on nothing is what any dialect says.
            let at = self.rng.random_range(0..reply.len());
            for byte in &mut reply[at..] {
                *byte = self.rng.random_range(0x80..=0xff);
            }
        }
        heard
    }

    fn sensor(&mut self, measures: Measures) -> Option<f64> {
        let sensed = self.bench.sensed();
        (!self.sensors_broken).then_some(match measures {
            Measures::Temperature => sensed.celsius,
            Measures::Stirring => sensed.turns,
            Measures::Level => sensed.above_mm,
        })
    }
}

/// What a night left behind.
pub(super) struct Spent {
    pub(super) run: Run,
    pub(super) bed: Bed,
    pub(super) outcome: Option<Outcome>,
    pub(super) entries: Vec<Entry>,
}

impl Spent {
    /// The guards that spoke, in their order.
    pub(super) fn spoke(&self) -> Vec<Fault> {
        let codes = self.entries.iter().filter_map(|entry| match entry {
            Entry::Event { code, .. } => Fault::from_code(code),
            _ => None,
        });
        codes.collect()
    }

    pub(super) fn states(&self) -> Vec<State> {
        let states = self.entries.iter().filter_map(|entry| match entry {
            Entry::Entered { state, .. } => Some(*state),
            _ => None,
        });
        states.collect()
    }

    /// When something was written down, s.
    pub(super) fn at(&self, wanted: &str) -> Option<f64> {
        self.entries.iter().find_map(|entry| match entry {
            Entry::Event { at, code, .. } if *code == wanted => Some(at.s()),
            _ => None,
        })
    }

    /// No current flows, and the hard bounds hold what did.
    pub(super) fn is_sound(&mut self) {
        let truth = self.bed.bench.truth();
        let charge = self.run.core().charge();
        assert!(truth.current_a.abs() < 1e-9, "{truth:?}");
        let (low, high, of) = (charge.low.ah(), charge.high.ah(), truth.charge_ah);
        assert!(
            low <= of && of <= high,
            "{low} to {high} Ah do not hold {of} Ah"
        );
    }
}

/// What happens next to a run.
struct Hands {
    exchange: Option<Exchange>,
    wake: Option<Moment>,
    commits: VecDeque<(Moment, Ticket)>,
    senses: Moment,
    wall: Span,
    paused: Option<Moment>,
    ended: Option<Outcome>,
}

/// A night in which `person` looks at every step, may do something and may ask for something.
pub(super) fn spend(
    studio: &Studio,
    mut bed: Bed,
    mut person: impl FnMut(&Run, Moment, &mut Bed) -> Option<Wish>,
) -> Spent {
    let electrodes = (0..studio.plan.pieces.len() + studio.plan.hangers.len())
        .map(|index| ElectrodeHead {
            name: format!("electrode {index}"),
            hanger: index >= studio.plan.pieces.len(),
            area: Default::default(),
        })
        .collect();
    let head = RunHead {
        job: studio.job.name.clone(),
        electrodes,
        ..RunHead::default()
    };
    let (plan, supply) = (studio.plan.clone(), studio.supply.clone());
    let link = Link::new(studio.profile.clone());
    let mut run = Run::new(
        Moment::ZERO,
        1,
        &head,
        plan,
        supply,
        link,
        Habits::default(),
    );
    let mut entries = Vec::new();
    let mut effects = Vec::new();
    let mut hands = Hands {
        exchange: None,
        wake: None,
        commits: VecDeque::new(),
        senses: Moment::ZERO,
        wall: bed.wall,
        paused: None,
        ended: None,
    };
    run.handle(Moment::ZERO, Input::Begin, &mut effects);
    while hands.ended.is_none() && bed.bench.now() < Moment::from_s(30.0 * 3600.0) {
        hands.carry_out(&mut effects, &mut entries, &mut bed);
        let input = hands.next(&mut bed, &run);
        let now = bed.bench.now();
        run.handle(now, input, &mut effects);
        if let Some(wish) = person(&run, now, &mut bed) {
            run.handle(now, Input::Asked(wish), &mut effects);
        }
        for sense in hands.noticed(&mut bed, &studio.plan.bounds.sensors) {
            run.handle(now, Input::Sensed(sense), &mut effects);
        }
        if std::mem::take(&mut bed.relay_unplugged) {
            // No edge comes any more, and the keeper says so.
            bed.bench.relay(Contact::LetGo);
            let why = "it is not there".to_owned();
            run.handle(now, Input::RelayLost(why), &mut effects);
        }
        if std::mem::take(&mut bed.keeper_dies) {
            hands.exchange = None;
            run.handle(now, Input::KeeperLost, &mut effects);
        }
    }
    hands.carry_out(&mut effects, &mut entries, &mut bed);
    Spent {
        run,
        bed,
        outcome: hands.ended,
        entries,
    }
}

impl Hands {
    fn carry_out(&mut self, effects: &mut Vec<Effect>, entries: &mut Vec<Entry>, bed: &mut Bed) {
        for effect in effects.drain(..) {
            match effect {
                Effect::Exchange(exchange) => self.exchange = Some(exchange),
                Effect::Record(entry) => entries.push(entry),
                Effect::Commit(ticket) => {
                    let done = bed.bench.now() + bed.disk_takes;
                    self.commits.push_back((done, ticket));
                }
                Effect::Wake(at) => self.wake = Some(at),
                Effect::Ended(outcome) => self.ended = Some(outcome),
                Effect::Relay(contact) => bed.bench.relay(contact),
                Effect::Arm(_) | Effect::Renew | Effect::Disarm => {}
            }
        }
    }

    fn next(&mut self, bed: &mut Bed, run: &Run) -> Input {
        let now = bed.bench.now();
        let first = self.commits.front().copied();
        if let Some((_, ticket)) = first.filter(|(done, _)| *done <= now) {
            self.commits.pop_front();
            return Input::Committed(ticket);
        }
        if let Some(exchange) = self.exchange.take() {
            return Input::Wire(bed.exchange(&exchange));
        }
        if run.state() == State::Paused {
            let since = *self.paused.get_or_insert(now);
            if now.since(since).s() > 20.0 {
                self.paused = None;
                return Input::Asked(Wish::Resume);
            }
        }
        self.wake = self.wake.filter(|at| *at > now);
        let due = self.commits.front().map(|(done, _)| *done);
        let soon = now + Span::from_s(1.0);
        let next = [self.wake, due, Some(soon)].into_iter().flatten().min();
        bed.bench.rest(next.unwrap_or(soon).since(now));
        Input::Woke
    }

    /// What a computer with a clock, a disk and sensors notices.
    fn noticed(&mut self, bed: &mut Bed, sensors: &[Measures]) -> Vec<Sense> {
        let mut list = Vec::new();
        let sleeps = std::mem::replace(&mut bed.sleeps, Span::ZERO);
        if sleeps > Span::ZERO {
            bed.bench.rest(sleeps);
            list.push(Sense::Slept(sleeps));
        }
        if bed.wall != self.wall {
            list.push(Sense::ClockJumped(bed.wall - self.wall));
            self.wall = bed.wall;
        }
        let now = bed.bench.now();
        if now >= self.senses {
            self.senses = now + Span::from_s(10.0);
            list.push(Sense::DiskFree(bed.disk_free));
            list.extend(
                sensors
                    .iter()
                    .map(|one| Sense::Sensor(*one, bed.sensor(*one))),
            );
        }
        list
    }
}

/// A night in which something happens once, `after` seconds into a state.
pub(super) fn once(
    studio: &Studio,
    state: State,
    after: f64,
    mut happens: impl FnMut(&mut Bed),
) -> Spent {
    let mut entered = None;
    let mut done = false;
    spend(studio, Bed::new(studio), move |run, now, bed| {
        if run.state() == state && !done {
            let since = *entered.get_or_insert(now);
            if now.since(since).s() >= after {
                done = true;
                happens(bed);
            }
        }
        None
    })
}

/// A night in which things happen one after the other, each some seconds after the one before; the
/// first `after` seconds into a state.
pub(super) fn in_turn(studio: &Studio, state: State, mut deeds: VecDeque<Deed>) -> Spent {
    let mut due: Option<Moment> = None;
    spend(studio, Bed::new(studio), move |run, now, bed| {
        if due.is_none() && run.state() != state {
            return None;
        }
        let (after, _) = deeds.front()?;
        let at = *due.get_or_insert(now + Span::from_s(*after));
        if now >= at
            && let Some((_, mut deed)) = deeds.pop_front()
        {
            deed(bed);
            due = deeds.front().map(|(after, _)| now + Span::from_s(*after));
            due = due.or(Some(now));
        }
        None
    })
}
