//! Current flows for the job: striking, ramping, building, holding. Once a period a reading is
//! taken, booked and judged, and the setpoint follows the growing area.

use super::deadline::Deadline;
use super::event::{Action, Event, Note, Outcome, Wish};
use super::guard::Fault;
use super::leaving::{After, leave, spoke};
use super::night::{Look, Night};
use super::permit::{Envelope, Permit};
use super::probe::Probe;
use super::relay::KEEPER_CUT;
use super::setting::Setting;
use super::state::State;
use super::{Phase, fault_of};
use crate::exchange::{Answer, Ask, LinkFault, Order, Reading};
use crate::units::{Bounded, Charge, Current, Moment, Span};
use std::ops::BitOr;

/// What is asked in turn, one each period, beside current, voltage and mode.
const IN_TURN: [Ask; 6] = [
    Ask::OUTPUT,
    Ask::SET_CURRENT,
    Ask::TRIPPED,
    Ask::ERROR,
    Ask::SET_VOLTAGE,
    Ask::CHANNEL,
];
/// After a pause the current comes back from this share to full over [`SOFT_FOR`]: covered metal
/// needs no strike.
const SOFT_FROM: f64 = 0.2;
const SOFT_FOR: Span = Span::from_s(120.0);
/// A new envelope is asked for when less than this share of its time is left.
const RENEW_SHARE: f64 = 0.5;
/// The room an envelope leaves for the current to follow the area.
const HEADROOM: f64 = 1.05;

/// Current flows.
#[derive(Clone, Debug)]
pub(super) struct Live {
    state: State,
    waiting: bool,
    setting: Setting,
    soft_since: Option<Moment>,
    turn: usize,
    widening: Option<Envelope>,
    asked_at: Moment,
    reading_took: Span,
    probe: Probe,
    /// When the meter last followed a step, and the charge then.
    checked: (Moment, Bounded<Charge>),
    /// When the selected output was last known to be the profile's, and the charge then.
    ours: (Moment, Bounded<Charge>),
    /// The same for its power.
    powered: (Moment, Bounded<Charge>),
}

impl Live {
    /// Begins, with the run's permit in hand and the proving current flowing.
    pub(super) fn begin(night: &mut Night, now: Moment, resumes: bool) -> Phase {
        let state = night.stage();
        night.note(Note::Entered(state));
        night.soft_starts += u32::from(resumes);
        let mut live = Self {
            state,
            waiting: false,
            setting: Setting::new(now, night.timing.period * 0.05),
            soft_since: resumes.then_some(now),
            turn: 0,
            widening: None,
            asked_at: now,
            reading_took: night.timing.period * 0.3,
            probe: Probe::new(now),
            checked: (now, night.integral.total()),
            ours: (now, night.integral.total()),
            powered: (now, night.integral.total()),
        };
        live.follow(night, now);
        night
            .deadlines
            .set(Deadline::Period, now + night.timing.period);
        Phase::Live(live)
    }

    /// The state this looks like from outside.
    pub(super) const fn state(&self) -> State {
        self.state
    }

    /// The current an envelope leaves room for.
    pub(super) fn headroom(night: &Night, wanted: Current) -> Current {
        let steps = Current::from_a(2.0 * night.supply.set_current.step);
        let small = night.proving_current();
        (wanted * HEADROOM + steps)
            .max(small)
            .min(night.plan.limits.current)
    }

    /// Takes what happens while current flows.
    pub(super) fn on(mut self, night: &mut Night, now: Moment, event: Event) -> Phase {
        match event {
            Event::Answered(Order::Read(ask), Answer::Reading(reading)) => {
                self.waiting = false;
                // The error queue is where a supply tells that its power was away.
                let tells = if night.supply.reads.has(Ask::ERROR) {
                    Ask::ERROR
                } else {
                    Ask::OUTPUT
                };
                let well = ask.has(tells) && reading.error.is_none();
                let phase = self.read(night, now, reading);
                match phase {
                    Phase::Live(live) if well => Phase::Live(live.powered(night, now)),
                    phase => phase,
                }
            }
            Event::Answered(Order::SetCurrent(to), Answer::Done { sent, received }) => {
                self.set(night, sent, received, to);
                Phase::Live(self)
            }
            // What the next reading shows decides.
            Event::Answered(..) | Event::Begin | Event::KeptOff(..) | Event::Rehung(_) => {
                Phase::Live(self)
            }
            Event::Failed(order, fault) => self.failed(night, now, order, &fault),
            Event::Recorded(envelope) => {
                self.widening = None;
                night.permit = Some(Permit::from_recorded(envelope));
                Phase::Live(self)
            }
            Event::LedgerFailed(why) => self.trip(night, now, Fault::LedgerNotWriting, why),
            Event::KeeperLost => self.trip(
                night,
                now,
                Fault::KeeperLost,
                LinkFault::KeeperLost.to_string(),
            ),
            Event::RelayLost(why) => self.trip(night, now, Fault::RelayLost, why),
            Event::RelayCut => self.trip(night, now, Fault::RelayLost, KEEPER_CUT.to_owned()),
            Event::Asked(Wish::Stop) => leave(night, now, After::End(Outcome::Stopped), None),
            Event::Asked(Wish::Pause) => {
                night.note(Note::PausedByHand);
                leave(night, now, After::Pause, None)
            }
            Event::Asked(Wish::Resume) => Phase::Live(self),
            Event::Sensed(sense) => {
                night.watch.sense(now, sense);
                match self.without_reading(night, now) {
                    Some(phase) => phase,
                    None => Phase::Live(self),
                }
            }
            Event::Woke => self.woke(night, now),
        }
    }

    /// Nothing told of a loss of power up to now.
    fn powered(self, night: &Night, now: Moment) -> Self {
        let powered = (now, night.integral.total());
        Self { powered, ..self }
    }

    /// The supply took a setpoint. The one that begins the hold closes the account of the target.
    fn set(&mut self, night: &mut Night, sent: Moment, received: Moment, to: Current) {
        self.setting.taken(sent, received);
        night.stepper.took(received, to);
        if self.state == State::Holding && night.reached.is_none() {
            let added = night.integral.turned(sent, received, to);
            night.take_in(added);
            night.mark_reached(received);
        } else {
            night.integral.commanded(sent, received, to);
        }
    }

    fn trip(self, night: &mut Night, now: Moment, fault: Fault, evidence: String) -> Phase {
        spoke(night, now, fault, evidence).unwrap_or(Phase::Live(self))
    }

    /// While the link is lost for less than the station allows, nothing is known to be wrong: the
    /// reading is taken again, and a setpoint that may not have been taken is sent again. Any other
    /// failure leaves the supply in a state nobody wanted.
    fn failed(mut self, night: &mut Night, now: Moment, order: Order, fault: &LinkFault) -> Phase {
        night.watch.failed(now, fault);
        night.unanswered();
        if let Order::SetCurrent(to) = order {
            // Whatever was answered: an earlier try may have been taken.
            let most = night.plan.limits.current;
            night
                .integral
                .unheard(self.setting.ordered(), now, to, most);
        }
        let late = matches!(
            fault,
            LinkFault::Silent | LinkFault::Garbled(_) | LinkFault::PortLost(_)
        );
        if late && matches!(order, Order::Read(_)) {
            self.waiting = false;
            self.probe.give_up();
            // A setpoint may have gone the way of the reply.
            if night.is_unacknowledged() {
                self.setting.doubt();
            }
        } else if late && matches!(order, Order::SetCurrent(_)) {
            self.setting.failed();
            self.probe.give_up();
        } else if matches!(fault, LinkFault::Stranger(_)) {
            return self.trip(night, now, Fault::IdentityChanged, fault.to_string());
        } else {
            let said = format!("{fault}, at {order}");
            self.doubt(night, fault_of(fault));
            return self.trip(night, now, fault_of(fault), said);
        }
        match self.without_reading(night, now) {
            Some(phase) => phase,
            None => {
                // Judged, and it may go on: the keeper need not take over.
                night.out.push(Action::PeriodDone);
                Phase::Live(self)
            }
        }
    }

    /// Judges what can be judged without a reading; the way off if a guard wants it.
    fn without_reading(&self, night: &mut Night, now: Moment) -> Option<Phase> {
        let look = self.look(night, false, Span::ZERO);
        let (fault, said) = night.judge(now, None, look)?;
        self.doubt(night, fault);
        spoke(night, now, fault, said)
    }

    fn look(&self, night: &Night, settled: bool, took: Span) -> Look {
        Look {
            state: self.state,
            set: night.stepper.standing().unwrap_or_default(),
            settled,
            took,
        }
    }

    /// A meter that stood still, or another output's, has been no witness since it last was known
    /// to be one.
    fn doubt(&self, night: &mut Night, fault: Fault) {
        if fault == Fault::SupplyPowerCycled {
            // Between any two readings since then it may have been away.
            let spill = night.integral.missed(self.powered.1);
            night.rack.book(spill, Span::ZERO);
        }
        if matches!(fault, Fault::CurrentOffSetpoint | Fault::EnvelopeExceeded) {
            let spill = night.integral.contradicted();
            night.rack.book(spill, Span::ZERO);
        }
        let since = if fault == Fault::ReadbackFrozen {
            Some(self.checked)
        } else {
            (fault == Fault::WrongChannel).then_some(self.ours)
        };
        if let Some((at, then)) = since {
            let most = night.plan.limits.current;
            let spill = night.integral.distrusted(at, then, most);
            night.rack.book(spill, Span::ZERO);
        }
    }

    fn woke(mut self, night: &mut Night, now: Moment) -> Phase {
        while let Some(due) = night.deadlines.take_due(now) {
            match due {
                Deadline::Goal => return self.reach(night, now),
                Deadline::HoldEnd => return leave(night, now, After::End(Outcome::Finished), None),
                Deadline::OffAgain | Deadline::Cut => {}
                Deadline::Period => {
                    night
                        .deadlines
                        .set(Deadline::Period, now + night.timing.period);
                    if let Some(phase) = self.without_reading(night, now) {
                        return phase;
                    }
                    if self.waiting || self.goal_is_near(night, now) {
                        // The link's own patience is at work, and the station's is not used up; or
                        // off, which comes next, would have to wait for a reading.
                        night.out.push(Action::PeriodDone);
                    } else {
                        self.ask(night, now);
                    }
                }
            }
        }
        Phase::Live(self)
    }

    /// True if off would have to wait for a reading that is taken now.
    fn goal_is_near(&self, night: &Night, now: Moment) -> bool {
        let goal = night.deadlines.at(Deadline::Goal);
        goal.is_some_and(|goal| goal.since(now) < self.clear_before_goal(night))
    }

    /// So long before the goal no reading is begun. One that was slow for once must not leave the
    /// last of the charge to the setpoint alone.
    fn clear_before_goal(&self, night: &Night) -> Span {
        (self.reading_took * 1.5).min(night.timing.period * 2.0)
    }

    /// Takes a reading.
    fn ask(&mut self, night: &mut Night, now: Moment) {
        self.waiting = true;
        self.asked_at = now;
        let mut extra = IN_TURN[self.turn % IN_TURN.len()];
        if night.watch.is_uneasy() {
            extra = IN_TURN.into_iter().fold(Ask::NOTHING, Ask::bitor);
        }
        self.turn += 1;
        let ask = (Ask::MEASURED | Ask::MODE | extra).and(night.supply.reads);
        night.send(Order::Read(ask | Ask::BRIEFLY));
    }

    /// A reading: book it, judge it, and let the current follow.
    fn read(mut self, night: &mut Night, now: Moment, reading: Reading) -> Phase {
        // The longest of the last few readings, so that one quick reply does not make off wait.
        self.reading_took = now.since(self.asked_at).max(self.reading_took * 0.9);
        let set = night.stepper.standing().unwrap_or_default();
        night.book(&reading, set);
        if reading.repeated > 0 && night.is_unacknowledged() {
            self.setting.doubt();
            self.probe.give_up();
        }
        if reading.channel == Some(true) {
            self.ours = (now, night.integral.total());
        }
        let settled = self.setting.is_settled(&reading, night.timing.settle);
        let look = self.look(night, settled, now.since(self.asked_at));
        if settled && let Some(step) = self.probe.end(night, now, self.state, &reading, set) {
            night.stepped(now, &step, look);
            if night.watch.doubts_meter() {
                self.probe.hurry(now);
            } else {
                self.checked = (now, night.integral.total());
            }
        }
        if let Some((fault, said)) = night.judge(now, Some(&reading), look) {
            self.doubt(night, fault);
            if let Some(phase) = spoke(night, now, fault, said) {
                return phase;
            }
        }
        if settled {
            self.setting.read_back(&reading, set, &night.supply);
        }
        if settled && self.steps_down(night, now, &reading, set) {
            night.last_reading = Some(reading);
            night.out.push(Action::PeriodDone);
            return Phase::Live(self);
        }
        night.last_reading = Some(reading);
        night.out.push(Action::PeriodDone);
        if self.state != State::Holding {
            if self.look_due(night) {
                night.looks_taken += 1;
                night.note(Note::LookDue);
                return leave(night, now, After::Pause, None);
            }
            self.enter(night);
            if self.aim(night, now) {
                return self.reach(night, now);
            }
        }
        self.follow(night, now);
        Phase::Live(self)
    }

    /// Steps the setpoint down for one reading, if it is time and nothing else is about to happen.
    fn steps_down(&mut self, night: &mut Night, now: Moment, seen: &Reading, set: Current) -> bool {
        let quiet = night.deadlines.at(Deadline::Goal).is_none() && !night.watch.is_uneasy();
        let low = match quiet {
            true => self.probe.begin(night, now, self.state, seen, set),
            false => None,
        };
        let Some(low) = low else { return false };
        self.setting.order(now);
        night.send(Order::SetCurrent(low));
        true
    }

    fn look_due(&self, night: &Night) -> bool {
        let next = night.plan.looks.get(night.looks_taken);
        next.is_some_and(|at| night.rack.shown_thickness() >= *at)
    }

    /// Notes the stage the schedule has come to.
    fn enter(&mut self, night: &mut Night) {
        let stage = night.stage();
        if stage != self.state {
            self.state = stage;
            night.note(Note::Entered(stage));
        }
    }

    /// Sets the timer for the goal when it falls before the reading after next; true if it is
    /// reached already.
    fn aim(&self, night: &mut Night, now: Moment) -> bool {
        let Some((at, current)) = night.integral.last() else {
            return false;
        };
        let Some(left) = night.rack.time_to_goal(current) else {
            return false;
        };
        // Half of what a command takes passes before it works.
        let reach = at + (left - self.setting.took() * 0.5).max(Span::ZERO);
        if reach <= now {
            return true;
        }
        if reach.since(now) < night.timing.period * 2.0 + self.clear_before_goal(night) {
            night.deadlines.set(Deadline::Goal, reach);
        } else {
            night.deadlines.clear(Deadline::Goal);
        }
        false
    }

    /// The goal is reached: off, or down to the hold current.
    fn reach(mut self, night: &mut Night, now: Moment) -> Phase {
        night.deadlines.clear(Deadline::Goal);
        let Some(finish) = night.plan.schedule.finish else {
            return leave(night, now, After::End(Outcome::Finished), None);
        };
        self.state = State::Holding;
        night.note(Note::Entered(State::Holding));
        night.deadlines.set(Deadline::HoldEnd, now + finish.at_most);
        night.out.push(Action::DropQueue);
        self.waiting = false;
        self.probe.give_up();
        self.setting.order(now);
        let hold = night.rack.hold_current().unwrap_or_default();
        night.send(Order::SetCurrent(night.stepper.at_once(hold)));
        Phase::Live(self)
    }

    /// The current the run wants now.
    fn wanted(&self, night: &Night, now: Moment) -> Current {
        if self.state == State::Holding {
            return night.rack.hold_current().unwrap_or_default();
        }
        let soft = self.soft_since.map_or(1.0, |since| {
            (SOFT_FROM + (1.0 - SOFT_FROM) * (now.since(since) / SOFT_FOR)).min(1.0)
        });
        night.rack.current_wanted() * soft
    }

    /// Lets the setpoint follow the wanted current, and the envelope the setpoint.
    fn follow(&mut self, night: &mut Night, now: Moment) {
        let wanted = self.wanted(night, now);
        let Some(envelope) = night.permit.map(|permit| permit.envelope()) else {
            return;
        };
        let left = envelope.until.since(now);
        let short = left < night.timing.envelope * RENEW_SHARE;
        let tight = wanted > envelope.current && envelope.current < night.plan.limits.current;
        if (short || tight) && self.widening.is_none() {
            let room = Self::headroom(night, wanted);
            self.widening = Some(night.widen(now, room));
        }
        if self.setting.is_under_way() || self.probe.is_down() {
            return;
        }
        if self.setting.is_unsure() {
            // The same again, or as near to it as is wanted by now.
            let again = Order::SetCurrent(night.stepper.afresh(wanted, envelope.current));
            if night.energise(now, again) {
                self.setting.order(now);
            }
            return;
        }
        let Some(next) = night.stepper.next(now, wanted, envelope.current) else {
            return;
        };
        let standing = night.stepper.standing().unwrap_or_default();
        let order = Order::SetCurrent(next);
        if next <= standing {
            night.send(order);
            self.setting.order(now);
        } else if night.energise(now, order) {
            self.setting.order(now);
        }
    }
}
