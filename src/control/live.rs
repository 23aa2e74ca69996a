//! Current flows for the job: striking, ramping, building, holding. Once a period a reading is
//! taken, booked and judged, and the setpoint follows the growing area.

use super::deadline::Deadline;
use super::event::{Action, Event, Note, Outcome, Wish};
use super::guard::Fault;
use super::leaving::{After, leave, spoke};
use super::night::Night;
use super::permit::{Envelope, Permit};
use super::state::State;
use super::{Phase, fault_of};
use crate::exchange::{Answer, Ask, LinkFault, Order, Reading};
use crate::units::{Current, Moment, Span};

/// What is asked in turn, one each period, beside current, voltage and mode.
const IN_TURN: [Ask; 5] = [
    Ask::OUTPUT,
    Ask::SET_CURRENT,
    Ask::TRIPPED,
    Ask::ERROR,
    Ask::SET_VOLTAGE,
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
    setting: bool,
    soft_since: Option<Moment>,
    turn: usize,
    widening: Option<Envelope>,
    set_at: Moment,
    set_took: Span,
    asked_at: Moment,
    reading_took: Span,
}

impl Live {
    /// Begins, with the run's permit in hand and the proving current flowing.
    pub(super) fn begin(night: &mut Night, now: Moment, resumes: bool) -> Phase {
        let state = night.stage();
        night.note(Note::Entered(state));
        let mut live = Self {
            state,
            waiting: false,
            setting: false,
            soft_since: resumes.then_some(now),
            turn: 0,
            widening: None,
            set_at: now,
            set_took: night.timing.period * 0.05,
            asked_at: now,
            reading_took: night.timing.period * 0.3,
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
            Event::Answered(Order::Read(_), Answer::Reading(reading)) => {
                self.waiting = false;
                self.read(night, now, reading)
            }
            Event::Answered(Order::SetCurrent(to), Answer::Done { sent, received }) => {
                self.set(night, sent, received, to);
                Phase::Live(self)
            }
            Event::Answered(..) | Event::Begin => Phase::Live(self),
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
            Event::Asked(Wish::Stop) => leave(night, now, After::End(Outcome::Stopped), None),
            Event::Asked(Wish::Pause) => {
                night.note(Note::PausedByHand);
                leave(night, now, After::Pause, None)
            }
            Event::Asked(Wish::Resume) => Phase::Live(self),
            Event::Woke => self.woke(night, now),
        }
    }

    /// The supply took a setpoint. The one that begins the hold closes the account of the target.
    fn set(&mut self, night: &mut Night, sent: Moment, received: Moment, to: Current) {
        self.setting = false;
        self.set_at = received;
        self.set_took = received.since(sent);
        night.stepper.took(received, to);
        if self.state == State::Holding && night.reached.is_none() {
            let added = night.integral.turned(sent, received, to);
            night.rack.book(added.charge, added.on);
            night.mark_reached(received);
        } else {
            night.integral.commanded(sent, received, to);
        }
    }

    fn trip(self, night: &mut Night, now: Moment, fault: Fault, evidence: String) -> Phase {
        spoke(night, now, fault, evidence).unwrap_or(Phase::Live(self))
    }

    /// A failed reading is the stale guard's business; a failed command leaves the setpoint
    /// unknown.
    fn failed(mut self, night: &mut Night, now: Moment, order: Order, fault: &LinkFault) -> Phase {
        let only_late = matches!(
            fault,
            LinkFault::Silent | LinkFault::Garbled(_) | LinkFault::PortLost(_)
        );
        if matches!(order, Order::Read(_)) && only_late {
            self.waiting = false;
            return self.if_stale(night, now);
        }
        let said = format!("{fault}, at {order:?}");
        self.trip(night, now, fault_of(fault), said)
    }

    fn if_stale(self, night: &mut Night, now: Moment) -> Phase {
        if night.watch.stale(now) {
            let silent = now.since(night.watch.last_good()).s();
            let said = format!("the last usable reading came {silent:.1} s ago");
            return self.trip(night, now, Fault::ReadingStale, said);
        }
        Phase::Live(self)
    }

    fn woke(mut self, night: &mut Night, now: Moment) -> Phase {
        while let Some(due) = night.deadlines.take_due(now) {
            match due {
                Deadline::Goal => return self.reach(night, now),
                Deadline::HoldEnd => return leave(night, now, After::End(Outcome::Finished), None),
                Deadline::OffAgain => {}
                Deadline::Period => {
                    night
                        .deadlines
                        .set(Deadline::Period, now + night.timing.period);
                    if night.watch.stale(now) {
                        return self.if_stale(night, now);
                    }
                    self.ask(night, now);
                }
            }
        }
        Phase::Live(self)
    }

    /// Takes a reading, unless the goal is so near that off would have to wait for it.
    fn ask(&mut self, night: &mut Night, now: Moment) {
        let goal_near = night
            .deadlines
            .at(Deadline::Goal)
            .is_some_and(|goal| goal.since(now) < self.reading_took * 1.5);
        if self.waiting || goal_near {
            return;
        }
        self.waiting = true;
        self.asked_at = now;
        let extra = IN_TURN[self.turn % IN_TURN.len()];
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
        // While a new setpoint is on its way, the old one is not what should be read back.
        let settled = !self.setting && reading.sent.since(self.set_at) > night.timing.settle;
        if let Some((fault, said)) = night.judge(now, self.state, &reading, set, settled)
            && let Some(phase) = spoke(night, now, fault, said)
        {
            return phase;
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
        let reach = at + (left - self.set_took * 0.5).max(Span::ZERO);
        if reach <= now {
            return true;
        }
        if reach.since(now) < night.timing.period * 2.0 + self.reading_took * 1.5 {
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
        self.setting = true;
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
        if self.setting {
            return;
        }
        let Some(next) = night.stepper.next(now, wanted, envelope.current) else {
            return;
        };
        let standing = night.stepper.standing().unwrap_or_default();
        let order = Order::SetCurrent(next);
        if next <= standing {
            night.send(order);
            self.setting = true;
        } else if night.energise(now, order) {
            self.setting = true;
        }
    }
}
