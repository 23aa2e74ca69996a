//! What a run keeps through all its states.

use super::Timing;
use super::charge::{Added, Integral};
use super::deadline::Deadlines;
use super::event::{Action, Note};
use super::guard::Fault;
use super::permit::{Envelope, Permit};
use super::relay::Relay;
use super::setpoint::Stepper;
use super::state::State;
use super::watch::{Sight, Step, Watch};
use crate::exchange::{Ask, Capability, OnMainsReturn, Order, Reading};
use crate::plan::{OnRecord, Plan, Rack, Stage};
use crate::units::{Bounded, Charge, Current, Moment, Span};
use std::sync::Arc;

/// The proving current is this, or what the meter can tell from nothing.
const PROVING_MA: f64 = 5.0;

/// A soft start makes a night longer by less than this, its proving included.
const SOFT_COSTS: Span = Span::from_min(3.0);
/// So many of them are granted; a person who looks more often uses up the margin of the plan.
const SOFT_GRANTED: u32 = 6;

/// What the target cost, fixed when it was reached; the copper of a hold comes on top.
#[derive(Clone, Debug, PartialEq)]
pub struct Reached {
    /// When.
    pub at: Moment,
    /// Charge until then.
    pub charge: Bounded<Charge>,
    /// Charge through each electrode until then, pieces first.
    pub charges: Vec<Charge>,
}

/// How the moment stands that is judged.
#[derive(Clone, Copy, Debug)]
pub(super) struct Look {
    pub(super) state: State,
    /// The setpoint that was last sent and acknowledged, and whether it has stood long enough.
    pub(super) set: Current,
    pub(super) settled: bool,
    /// How long the reading took.
    pub(super) took: Span,
}

/// What a run that was interrupted brings with it when it goes on.
#[derive(Clone, Debug, PartialEq)]
pub struct Carried {
    /// Charge of the run.
    pub charge: Bounded<Charge>,
    /// What is on record of each electrode, pieces first.
    pub electrodes: Vec<OnRecord>,
    /// Time with the output on.
    pub on: Span,
    /// Planned looks that were taken.
    pub looks_taken: usize,
}

/// For so long after the last reading the keeper may go on holding the relay and renewing the
/// supply's watchdog: its lease, and an off that takes its time.
const KEEPER_ACTS: Span = Span::from_s(10.0);

/// What a run keeps through all its states.
#[derive(Clone, Debug)]
pub(super) struct Night {
    pub(super) plan: Arc<Plan>,
    pub(super) supply: Capability,
    pub(super) timing: Timing,
    pub(super) rack: Rack,
    pub(super) integral: Integral,
    pub(super) watch: Watch,
    pub(super) stepper: Stepper,
    pub(super) deadlines: Deadlines,
    pub(super) permit: Option<Permit>,
    pub(super) looks_taken: usize,
    pub(super) reached: Option<Reached>,
    pub(super) last_reading: Option<Reading>,
    pub(super) relay: Relay,
    /// It goes on after an interruption: what is covered needs only a short ramp.
    pub(super) goes_on: bool,
    /// How often the current has come back softly: each time costs some of the night.
    pub(super) soft_starts: u32,
    /// It was told that copper on paint is behind.
    held_back: bool,
    pub(super) out: Vec<Action>,
}

impl Night {
    pub(super) fn new(plan: Arc<Plan>, supply: Capability, timing: Timing) -> Self {
        Self {
            rack: Rack::new(&plan),
            integral: Integral::new(&supply, timing.period * 3.0),
            watch: Watch::new(Moment::ZERO),
            stepper: Stepper::new(&supply),
            deadlines: Deadlines::default(),
            permit: None,
            looks_taken: 0,
            reached: None,
            last_reading: None,
            relay: Relay::at_rest(plan.bounds.relay),
            goes_on: false,
            soft_starts: 0,
            held_back: false,
            out: Vec::new(),
            plan,
            supply,
            timing,
        }
    }

    /// The same after an interruption.
    pub(super) fn carry(mut self, carried: &Carried) -> Self {
        self.watch.goes_on(carried.on);
        Self {
            rack: Rack::resume(&self.plan, &carried.electrodes, carried.on),
            integral: self.integral.resume(carried.charge),
            looks_taken: carried.looks_taken,
            goes_on: true,
            ..self
        }
    }

    /// Other pieces hang from now on. The envelope of before the change allows nothing any more.
    pub(super) fn rehang(&mut self, plan: Arc<Plan>) {
        self.rack = self.rack.rehung(&plan);
        self.plan = plan;
        self.permit = None;
    }

    /// Reads or lowers.
    pub(super) fn send(&mut self, order: Order) {
        debug_assert!(!order.raises() || matches!(order, Order::SetCurrent(_)));
        self.out.push(Action::Send(order));
    }

    /// Raises, if the permit that stands allows it; otherwise nothing is sent and `false` comes
    /// back.
    pub(super) fn energise(&mut self, now: Moment, order: Order) -> bool {
        match self.permit {
            Some(permit) if permit.allows(order, now) => {
                self.out.push(Action::Energise(order, permit));
                true
            }
            Some(_) | None => false,
        }
    }

    /// Asks for an envelope of this current from now on.
    pub(super) fn widen(&mut self, now: Moment, current: Current) -> Envelope {
        let envelope = Envelope {
            current: current.min(self.plan.limits.current),
            voltage: self.plan.limits.voltage,
            until: now + self.timing.envelope,
        };
        self.out.push(Action::Widen(envelope));
        envelope
    }

    pub(super) fn note(&mut self, note: Note) {
        self.out.push(Action::Note(note));
    }

    /// The state the schedule is in.
    pub(super) fn stage(&self) -> State {
        match self.plan.schedule.stage(self.rack.along()) {
            Stage::Strike => State::Striking,
            Stage::Ramp => State::Ramping,
            Stage::Build => State::Building,
        }
    }

    /// A few milliamperes, or what this meter can tell from nothing, and never more than the run's
    /// own limit.
    pub(super) fn proving_current(&self) -> Current {
        let (set, read) = (self.supply.set_current, self.supply.read_current);
        let visible = 3.0 * (read.fixed + read.step);
        let amps = visible.max(PROVING_MA * 1e-3).max(set.step);
        let exact = if set.step > 0.0 {
            (amps / set.step).ceil() * set.step
        } else {
            amps
        };
        Current::from_a(exact).min(self.plan.limits.current)
    }

    /// What the guards look at; nothing before the first envelope stands.
    fn sight<'a>(
        &'a self,
        now: Moment,
        reading: Option<&'a Reading>,
        look: Look,
    ) -> Option<Sight<'a>> {
        Some(Sight {
            now,
            state: look.state,
            reading,
            took: look.took,
            period: self.timing.period,
            set: look.set,
            settled: look.settled,
            ceiling: self.plan.limits.voltage,
            envelope: self.permit?.envelope(),
            supply: &self.supply,
            bounds: &self.plan.bounds,
            covered: self.rack.covered_area(),
            planned: self.rack.planned_area(),
            whole: self.rack.whole_area(),
            charge: self.integral.total().best,
            charge_cap: self.plan.limits.charge,
            on: self.rack.time_on(),
            on_cap: self.plan.limits.time_on
                + SOFT_COSTS * f64::from(self.soft_starts.min(SOFT_GRANTED)),
        })
    }

    /// Judges a moment, with a reading if one came: alarms are noted; the guard that ends the run
    /// comes back with its evidence.
    pub(super) fn judge(
        &mut self,
        now: Moment,
        reading: Option<&Reading>,
        look: Look,
    ) -> Option<(Fault, String)> {
        let mut watch = self.lend_watch(now);
        let mut notes = Vec::new();
        let trips = self.sight(now, reading, look).and_then(|sight| {
            let verdict = watch.judge(&sight);
            let said = |fault| watch.evidence(fault, &sight);
            notes.extend(
                verdict
                    .begun
                    .iter()
                    .map(|fault| Note::Spoke(fault, said(fault))),
            );
            notes.extend(verdict.gone.iter().map(Note::Quiet));
            verdict.trips.map(|fault| (fault, said(fault)))
        });
        self.watch = watch;
        for note in notes {
            self.note(note);
        }
        trips
    }

    /// Tells the guards what a step of the setpoint did. What it showed of the surface holds the
    /// rack back if less takes part than should be covered.
    pub(super) fn stepped(&mut self, now: Moment, step: &Step, look: Look) {
        let mut watch = self.lend_watch(now);
        let sight = self.sight(now, None, look);
        let most = sight.and_then(|sight| watch.stepped(step, &sight));
        let should = self.rack.covered_area();
        let behind = most.filter(|most| self.rack.hold_back(*most));
        // Once a run: after that the current tells it.
        if let Some(most) = behind
            && !std::mem::replace(&mut self.held_back, true)
        {
            self.note(Note::Behind { should, most });
        }
        self.watch = watch;
    }

    /// The guards' memory is taken out so that they can look at everything else.
    fn lend_watch(&mut self, now: Moment) -> Watch {
        std::mem::replace(&mut self.watch, Watch::new(now))
    }

    /// The supply answers no command, not even through its error queue.
    pub(super) fn is_unacknowledged(&self) -> bool {
        !self.supply.reads.has(Ask::ERROR)
    }

    /// An exchange came to nothing, or came to something at the second try. A supply that comes
    /// back on after its mains failed, and keeps no record of that, tells of it by nothing else.
    pub(super) fn unanswered(&mut self) {
        let back_on = self.supply.on_mains_return != OnMainsReturn::Off;
        if back_on && self.is_unacknowledged() {
            self.integral.silent();
        }
    }

    /// Books what a reading adds.
    pub(super) fn book(&mut self, reading: &Reading, set: Current) {
        let held = reading
            .voltage
            .is_some_and(|v| v < self.plan.limits.voltage * 0.97);
        if reading.repeated > 0 {
            self.unanswered();
        }
        if let Some(added) = self.integral.read(reading, set, held) {
            self.take_in(added);
        }
    }

    /// A reading of an output that should be off shows this much: so much may have flowed.
    pub(super) fn still_shows(&mut self, reading: &Reading) {
        // Another output's current is none of ours.
        if let Some(current) = reading.current.filter(|_| reading.channel != Some(false)) {
            self.integral.still_shows(current);
        }
    }

    /// Off was sent at `sent` and not proved until `proved`: what stood may have flowed on.
    pub(super) fn flowed_on(&mut self, sent: Moment, proved: Moment) {
        let spill = self.integral.doubt(sent, proved);
        self.rack.book(spill, Span::ZERO);
    }

    /// The keeper turned the output off by itself and read it off, between these two moments.
    pub(super) fn kept_off(&mut self, begun: Moment, read: Moment) {
        self.ran_out(begun);
        self.integral.stopped(begun, read);
    }

    /// Nobody has said anything for long by `now`: what stops the current by itself then, the
    /// supply's own watchdog or the relay in the lead, most likely has.
    pub(super) fn ran_out(&mut self, now: Moment) {
        let own = [self.supply.watchdog, self.relay.opens_within()];
        let first = own.into_iter().flatten().reduce(Span::min);
        if let (Some(within), Some((last, _))) = (first, self.integral.last())
            && now.since(last) > within + KEEPER_ACTS
            && !self.integral.is_stopped()
        {
            let at = last + within;
            self.integral.stopped(at, at);
        }
    }

    /// Puts what the integral adds on the accounts, and names the gap in it.
    pub(super) fn take_in(&mut self, added: Added) {
        self.rack.book(added.charge, added.on);
        if added.gap > Span::ZERO {
            self.note(Note::Gap(added.gap));
        }
    }

    /// Fixes what the target cost.
    pub(super) fn mark_reached(&mut self, now: Moment) {
        if self.reached.is_none() {
            let charges = (0..self.rack.electrodes())
                .map(|index| self.rack.charge(index).best)
                .collect();
            self.reached = Some(Reached {
                at: now,
                charge: self.integral.total(),
                charges,
            });
            self.note(Note::Reached);
        }
    }
}
