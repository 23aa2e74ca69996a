//! Decides. This room knows the states of a run, the guards, the charge and when to turn the output
//! off. It must never know a clock, a wire or a disk: time comes with every event, orders and
//! records leave as actions. Ledger, run and everything below come in; supply never does.
//!
//! A caller builds a [`Core`] from a plan and what the supply can do, says [`Event::Begin`], and
//! from then on tells it what happens with [`Core::handle`], never with a time that goes backwards.
//! It carries the actions out in their order. What raises carries a [`Permit`] made from an
//! envelope that the ledger has confirmed; a run ends only with a [`ConfirmedOff`] made from a
//! reading.

mod blind;
mod charge;
mod deadline;
mod event;
mod guard;
mod leaving;
mod live;
mod night;
mod pausing;
mod permit;
mod probe;
mod proving;
mod relay;
mod sense;
mod setpoint;
mod setting;
mod state;
mod watch;

pub use blind::{Blind, blind, least};
pub use charge::{Added, Integral};
pub use event::{Action, Event, Note, Outcome, Wish};
pub use guard::{Evidence, Fault, Faults, Guard, Latch, Patience, Response, Severity};
pub use night::{Carried, Reached};
pub use permit::{ConfirmedOff, Envelope, Permit};
pub use sense::Sense;
pub use setpoint::Stepper;
pub use state::State;
pub use watch::{Sight, Step, Verdict, Watch, limit};

use crate::exchange::{Capability, LinkFault, Reading};
use crate::plan::{Goal, Plan, Rack};
use crate::units::{Bounded, Charge, Current, Moment, Span};
use leaving::Leaving;
use live::Live;
use night::Night;
use pausing::Pausing;
use proving::Proving;
use std::sync::Arc;

/// The time constants of control.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Timing {
    /// From one reading to the next.
    pub period: Span,
    /// A setpoint younger than this is not judged.
    pub settle: Span,
    /// How long an envelope lasts.
    pub envelope: Span,
    /// Off is sent again after this without a proof.
    pub off_again: Span,
    /// And after this when it has been loud already.
    pub off_slowly: Span,
}

impl Timing {
    /// For a supply: one reading a second; off is repeated when its proof could have come three
    /// times over.
    #[must_use]
    pub fn for_supply(supply: &Capability) -> Self {
        let proof = (supply.longest_exchange * 3.0).min(Span::from_s(3.0));
        Self {
            period: Span::from_s(1.0),
            settle: Span::from_s(0.3),
            envelope: Span::from_min(10.0),
            off_again: Span::from_s(1.0).max(proof),
            off_slowly: Span::from_s(5.0),
        }
    }
}

/// Where a run stands: one type a state, so that a field exists only while it means something.
#[derive(Clone, Debug)]
enum Phase {
    Idle,
    Proving(Proving),
    Live(Live),
    Leaving(Leaving),
    Paused(Pausing),
    Over(Outcome),
}

/// The decisions of one run.
#[derive(Clone, Debug)]
pub struct Core {
    phase: Phase,
    night: Night,
}

impl Core {
    /// For a plan without refusals, on a supply that can do this.
    #[must_use]
    pub fn new(plan: Arc<Plan>, supply: Capability, timing: Timing) -> Self {
        Self {
            phase: Phase::Idle,
            night: Night::new(plan, supply, timing),
        }
    }

    /// The same for a run that goes on after an interruption.
    #[must_use]
    pub fn carry(self, carried: &Carried) -> Self {
        let night = self.night.carry(carried);
        Self { night, ..self }
    }

    /// Takes one event and adds what is to be done, in order, to `actions`.
    pub fn handle(&mut self, now: Moment, event: Event, actions: &mut Vec<Action>) {
        std::mem::swap(&mut self.night.out, actions);
        let night = &mut self.night;
        if matches!(
            event,
            Event::KeeperLost | Event::RelayLost(_) | Event::RelayCut
        ) {
            night.relay.opened();
        }
        if let Event::KeptOff(begun, read) = event {
            night.kept_off(begun, read);
        }
        self.phase = match std::mem::replace(&mut self.phase, Phase::Idle) {
            Phase::Idle => idle(night, now, &event),
            Phase::Proving(proving) => proving.on(night, now, event),
            Phase::Live(live) => live.on(night, now, event),
            Phase::Leaving(leaving) => leaving.on(night, now, event),
            Phase::Paused(pausing) => pausing.on(night, now, event),
            Phase::Over(outcome) => Phase::Over(outcome),
        };
        if let Some(at) = night.deadlines.next() {
            night.out.push(Action::Wake(at.max(now)));
        }
        std::mem::swap(&mut self.night.out, actions);
    }

    /// A reply came over the line, whatever becomes of its order: the link is not lost.
    pub fn heard(&mut self, now: Moment) {
        self.night.watch.answered(now);
    }

    /// The state the run is in.
    #[must_use]
    pub fn state(&self) -> State {
        match &self.phase {
            Phase::Idle => State::Idle,
            Phase::Proving(_) => State::Proving,
            Phase::Live(live) => live.state(),
            Phase::Leaving(leaving) => leaving.state(),
            Phase::Paused(_) => State::Paused,
            Phase::Over(outcome) => outcome.state(),
        }
    }

    /// True in a pause whose output a reading has proved off.
    #[must_use]
    pub fn is_paused(&self) -> bool {
        matches!(self.phase, Phase::Paused(_))
    }

    /// How far each piece has come.
    #[must_use]
    pub fn rack(&self) -> &Rack {
        &self.night.rack
    }

    /// The plan.
    #[must_use]
    pub fn plan(&self) -> &Arc<Plan> {
        &self.night.plan
    }

    /// Charge delivered, with its hard bounds.
    #[must_use]
    pub fn charge(&self) -> Bounded<Charge> {
        self.night.integral.total()
    }

    /// Charge delivered by `now`: while off is not proved, all that the run's limit allows since
    /// the last reading, or since off was sent, may have flowed as well.
    #[must_use]
    pub fn charge_at(&self, now: Moment) -> Bounded<Charge> {
        let mut charge = self.charge();
        if let Phase::Leaving(leaving) = &self.phase {
            let last = self.night.integral.last().map(|(at, _)| at);
            if let Some(from) = leaving.open_since(last) {
                charge.high += self.night.plan.limits.current * now.since(from);
            }
        }
        charge
    }

    /// What the target cost, once it is reached.
    #[must_use]
    pub fn reached(&self) -> Option<&Reached> {
        self.night.reached.as_ref()
    }

    /// The last reading.
    #[must_use]
    pub fn last_reading(&self) -> Option<&Reading> {
        self.night.last_reading.as_ref()
    }

    /// The setpoint that stands.
    #[must_use]
    pub fn setpoint(&self) -> Option<Current> {
        self.night.stepper.standing()
    }

    /// True if the relay was let go since off could not be confirmed, and it is not confirmed yet.
    #[must_use]
    pub fn is_cut(&self) -> bool {
        self.night.relay.is_cut() && matches!(self.phase, Phase::Leaving(_))
    }

    /// The envelope that stands.
    #[must_use]
    pub fn envelope(&self) -> Option<Envelope> {
        self.night.permit.map(|permit| permit.envelope())
    }

    /// Time until the goal, as far as the charge has come and as the plan lets the current grow;
    /// `None` while nothing flows.
    #[must_use]
    pub fn time_left(&self) -> Option<Span> {
        self.night.integral.last()?;
        let (rack, plan) = (&self.night.rack, &self.night.plan);
        let current = rack.current_wanted();
        let left = rack.time_to_goal(current)?;
        if matches!(plan.goal, Goal::Hours(_)) {
            return Some(left);
        }
        // What flows now grows with the pieces, as the plan has it.
        plan.forecast.time_of_last(current * left).or(Some(left))
    }
}

fn idle(night: &mut Night, now: Moment, event: &Event) -> Phase {
    match event {
        Event::Begin => {
            night.watch.begin(now);
            let goes_on = night.goes_on;
            Proving::begin(night, now, now, goes_on)
        }
        Event::Sensed(sense) => {
            night.watch.sense(now, *sense);
            Phase::Idle
        }
        Event::Rehung(_)
        | Event::Answered(..)
        | Event::Failed(..)
        | Event::Recorded(_)
        | Event::LedgerFailed(_)
        | Event::KeeperLost
        | Event::KeptOff(..)
        | Event::RelayLost(_)
        | Event::RelayCut
        | Event::Asked(_)
        | Event::Woke => Phase::Idle,
    }
}

/// The guard that answers for a link's fault.
const fn fault_of(fault: &LinkFault) -> Fault {
    match fault {
        LinkFault::Silent
        | LinkFault::Garbled(_)
        | LinkFault::PortLost(_)
        | LinkFault::Forbidden(_) => Fault::CommandFailed,
        LinkFault::Stranger(_) => Fault::WrongSupply,
        LinkFault::Refused(error) if error.is_power_on() => Fault::SupplyPowerCycled,
        LinkFault::Refused(_) => Fault::SupplyError,
        LinkFault::KeeperLost => Fault::KeeperLost,
    }
}
