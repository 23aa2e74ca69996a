//! Before anything flows: who is there, is it off, are the limits taken, and does a small current
//! flow.

mod flowing;

use super::deadline::Deadline;
use super::event::{Action, Event, Note, Outcome, Wish};
use super::guard::Fault;
use super::leaving::{After, leave, leave_on, proof, spoke};
use super::live::Live;
use super::night::{Look, Night};
use super::permit::Permit;
use super::relay::KEEPER_CUT;
use super::state::State;
use super::{Phase, fault_of};
use crate::exchange::{Answer, Ask, Contact, LinkFault, Order, Reading, Tolerance};
use crate::units::{Current, Moment, Span, Voltage};

/// So many old errors are read out of the queue before it counts as broken.
const OLD_ERRORS: u32 = 20;

/// So many orders may lose their reply while proving.
const AGAIN: u32 = 3;
/// What flows is looked at this often.
const LOOKS: Span = Span::from_s(0.5);

/// Where the proving stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Step {
    Identify,
    Prepare,
    Inspect,
    ProvingEnvelope,
    Ceiling,
    Small,
    OverVoltage,
    OverCurrent,
    ReadBack,
    On,
    /// The relay has not been closed yet: one that is stuck lets current through.
    LeadOpen,
    Flow,
    /// The relay is let go while it flows: it must open in its time.
    LetGo,
    /// The relay is closed again for the rest.
    FlowAgain,
    /// Off while it flows: a supply that ignores off is found before the night.
    OffTest,
    OffProof,
    RunEnvelope,
    OnAgain,
}

impl Step {
    /// The output is on, and what flows is looked at.
    const fn looks_on(self) -> bool {
        matches!(
            self,
            Self::LeadOpen | Self::Flow | Self::LetGo | Self::FlowAgain
        )
    }
}

/// Proving, before a run and before it goes on after a pause.
#[derive(Clone, Debug)]
pub(super) struct Proving {
    step: Step,
    resumes: bool,
    drained: u32,
    /// Orders that were sent again since their reply was lost.
    again: u32,
    /// A reading has shown that the output was off.
    inspected: bool,
    /// It was off then, as far as is known.
    was_off: Moment,
    flows_since: Moment,
    waiting: bool,
    /// The voltmeter before anything flowed.
    resting: Option<Voltage>,
    /// When off was sent or the relay let go as a test, and how many readings say that it did
    /// nothing.
    off_at: Moment,
    against: u32,
}

impl Proving {
    /// Begins: the first order asks who is there. `was_off` is when the output was last known to be
    /// off.
    pub(super) fn begin(night: &mut Night, now: Moment, was_off: Moment, resumes: bool) -> Phase {
        night.note(Note::Entered(State::Proving));
        night.watch.wake(now);
        night.relay(Contact::LetGo);
        night.send(Order::Identify);
        Phase::Proving(Self {
            step: Step::Identify,
            resumes,
            drained: 0,
            again: 0,
            inspected: false,
            was_off,
            flows_since: now,
            waiting: false,
            resting: None,
            off_at: now,
            against: 0,
        })
    }

    /// Takes what happens while proving.
    pub(super) fn on(self, night: &mut Night, now: Moment, event: Event) -> Phase {
        if matches!(event, Event::Answered(..)) {
            night.watch.answered(now);
            if !self.step.looks_on() {
                night.watch.measures_nothing(now);
            }
        }
        match event {
            Event::Sensed(sense) => {
                night.watch.sense(now, sense);
                let look = self.look(night, false);
                match night.judge(now, None, look) {
                    Some((fault, said)) => self.trip(night, now, fault, said),
                    None => Phase::Proving(self),
                }
            }
            Event::Answered(_, answer) => self.answered(night, now, answer),
            Event::Failed(order, fault) => self.failed(night, now, order, &fault),
            Event::Recorded(envelope) => self.recorded(night, now, Permit::from_recorded(envelope)),
            Event::Woke => self.woke(night, now),
            Event::KeptOff(..) | Event::Rehung(_) => Phase::Proving(self),
            Event::LedgerFailed(why) => self.trip(night, now, Fault::LedgerNotWriting, why),
            Event::KeeperLost => self.trip(
                night,
                now,
                Fault::KeeperLost,
                LinkFault::KeeperLost.to_string(),
            ),
            Event::RelayLost(why) => self.trip(night, now, Fault::RelayLost, why),
            Event::RelayCut => self.trip(night, now, Fault::RelayLost, KEEPER_CUT.to_owned()),
            Event::Asked(Wish::Stop) => Self::ended(night, now, After::End(Outcome::Stopped)),
            Event::Asked(Wish::Pause) => Self::ended(night, now, After::Pause),
            Event::Asked(Wish::Resume) | Event::Begin => Phase::Proving(self),
        }
    }

    /// A person ends it. Whether anything flowed since the last reading, through a relay that was
    /// just moved or a contact that was still to be proved, nobody knows.
    fn ended(night: &mut Night, now: Moment, after: After) -> Phase {
        night.integral.silent();
        leave(night, now, after, None)
    }

    fn trip(self, night: &mut Night, now: Moment, fault: Fault, evidence: String) -> Phase {
        spoke(night, now, fault, evidence).unwrap_or(Phase::Proving(self))
    }

    fn failed(mut self, night: &mut Night, now: Moment, order: Order, fault: &LinkFault) -> Phase {
        if order == Order::Prepare && matches!(fault, LinkFault::Refused(_)) && self.drained == 0 {
            // The first entry can be an old one, say that power came on; the queue is read away by
            // now, and the order is the same done twice.
            self.drained = 1;
            night.send(Order::Prepare);
            return Phase::Proving(self);
        }
        if self.step == Step::Identify && matches!(order, Order::Read(_)) {
            // A look of the pause that was still on its way.
            return Phase::Proving(self);
        }
        let late = matches!(
            fault,
            LinkFault::Silent | LinkFault::Garbled(_) | LinkFault::PortLost(_)
        );
        if late && !order.raises() && self.again < AGAIN {
            // A reply that was lost on the way says nothing of the supply. What raises is not sent
            // twice: nobody knows since when it would have flowed.
            self.again += 1;
            night.send(order);
            return Phase::Proving(self);
        }
        if order == Order::On {
            // It may be on all the same.
            let small = night.proving_current();
            night.integral.commanded(self.flows_since, now, small);
            night.integral.silent();
        }
        let said = format!("{fault}, at {order}");
        self.trip(night, now, fault_of(fault), said)
    }

    fn answered(self, night: &mut Night, now: Moment, answer: Answer) -> Phase {
        night.out.push(Action::PeriodDone);
        match (self.step, answer) {
            (Step::Identify, Answer::Identity(_)) => {
                self.next(night, Step::Prepare, Order::Prepare)
            }
            (Step::Prepare, Answer::Done { .. }) => {
                let ask = inspection().and(night.supply.reads);
                self.next(night, Step::Inspect, Order::Read(ask))
            }
            (Step::Inspect, Answer::Reading(reading)) => self.inspect(night, now, &reading),
            (Step::ReadBack, Answer::Reading(reading)) => self.read_back(night, now, &reading),
            (Step::On, Answer::Done { sent, received }) => {
                night
                    .integral
                    .commanded(sent, received, night.proving_current());
                night.watch.wake(now);
                let step = match night.relay.opens_within() {
                    Some(_) => {
                        // Nothing should flow yet; since when it does, a reading cannot say.
                        night.integral.silent();
                        Step::LeadOpen
                    }
                    None => Step::Flow,
                };
                self.look_on(night, now, step)
            }
            (Step::LeadOpen, Answer::Reading(reading)) => self.lead_open(night, now, reading),
            (Step::Flow, Answer::Reading(reading)) => self.flow(night, now, reading),
            (Step::LetGo, Answer::Reading(reading)) => self.let_go(night, now, reading),
            (Step::FlowAgain, Answer::Reading(reading)) => self.flow_again(night, now, reading),
            (Step::OffTest, Answer::Done { sent, received }) => {
                let added = night.integral.closed(sent, received, true);
                night.take_in(added);
                let off_at = received;
                let ask = Order::Read(proof(night));
                self.and(|it| (it.off_at, it.against) = (off_at, 0)).next(
                    night,
                    Step::OffProof,
                    ask,
                )
            }
            (Step::OffProof, Answer::Reading(reading)) => self.off_proof(night, now, reading),
            (Step::OnAgain, Answer::Done { sent, received }) => {
                let small = night.proving_current();
                night.integral.commanded(sent, received, small);
                Live::begin(night, now, self.resumes)
            }
            (step, Answer::Done { .. }) => self.written(night, now, step),
            (
                Step::Identify
                | Step::Prepare
                | Step::ProvingEnvelope
                | Step::Ceiling
                | Step::Small
                | Step::OverVoltage
                | Step::OverCurrent
                | Step::On
                | Step::OffTest
                | Step::RunEnvelope
                | Step::OnAgain,
                Answer::Reading(_),
            )
            | (_, Answer::Identity(_)) => Phase::Proving(self),
        }
    }

    fn next(mut self, night: &mut Night, step: Step, order: Order) -> Phase {
        self.step = step;
        night.send(order);
        Phase::Proving(self)
    }

    /// Sends an order that may raise. Without a permit for it the ledger is at fault.
    fn raise(mut self, night: &mut Night, now: Moment, step: Step, order: Order) -> Phase {
        (self.step, self.flows_since) = (step, now);
        if night.energise(now, order) {
            Phase::Proving(self)
        } else {
            self.trip(
                night,
                now,
                Fault::LedgerNotWriting,
                format!("no envelope for {order}"),
            )
        }
    }

    /// The supply must be off, untripped, and its old errors read out.
    fn inspect(mut self, night: &mut Night, now: Moment, reading: &Reading) -> Phase {
        if reading.tripped == Some(true) {
            let said = "it had tripped before the run; clear it at the supply".to_owned();
            return self.trip(night, now, Fault::ProtectionTripped, said);
        }
        if !self.inspected && night.confirms(reading).is_none() {
            return self.found_on(night, now, reading);
        }
        self.inspected = true;
        self.resting = reading.voltage.or(self.resting);
        if let Some(error) = &reading.error {
            self.drained += 1;
            if self.drained > OLD_ERRORS {
                let said = format!("{} {} keeps coming", error.code, error.text);
                return self.trip(night, now, Fault::SupplyError, said);
            }
            return self.next(night, Step::Inspect, Order::Read(Ask::ERROR));
        }
        self.step = Step::ProvingEnvelope;
        night.widen(now, night.proving_current());
        Phase::Proving(self)
    }

    /// The output was on before the run turned it on; what has flowed is on its account.
    fn found_on(self, night: &mut Night, now: Moment, reading: &Reading) -> Phase {
        let fault = Fault::OnBeforeStart;
        night.note(Note::Spoke(fault, reading.of_output()));
        night.still_shows(reading);
        let after = After::End(Outcome::Tripped(fault));
        leave_on(night, now, after, self.was_off)
    }

    fn recorded(mut self, night: &mut Night, now: Moment, permit: Permit) -> Phase {
        night.permit = Some(permit);
        // Nothing was to be read while the ledger wrote.
        night.watch.measures_nothing(now);
        match self.step {
            Step::ProvingEnvelope => {
                let ceiling = Order::SetVoltage(night.plan.limits.voltage);
                self.raise(night, now, Step::Ceiling, ceiling)
            }
            Step::RunEnvelope => {
                self.waiting = false;
                night.deadlines.clear(Deadline::Period);
                self.raise(night, now, Step::OnAgain, Order::On)
            }
            Step::Identify
            | Step::Prepare
            | Step::Inspect
            | Step::Ceiling
            | Step::Small
            | Step::OverVoltage
            | Step::OverCurrent
            | Step::ReadBack
            | Step::On
            | Step::LeadOpen
            | Step::Flow
            | Step::LetGo
            | Step::FlowAgain
            | Step::OffTest
            | Step::OffProof
            | Step::OnAgain => Phase::Proving(self),
        }
    }

    /// One limit is written; the next follows, then they are read back.
    fn written(self, night: &mut Night, now: Moment, step: Step) -> Phase {
        let limits = night.plan.limits;
        match step {
            Step::Ceiling => {
                let small = Order::SetCurrent(night.proving_current());
                self.raise(night, now, Step::Small, small)
            }
            Step::Small => {
                night.stepper.took(now, night.proving_current());
                if night.supply.guards_over_voltage {
                    let level = Order::SetOverVoltage(limits.over_voltage);
                    self.next(night, Step::OverVoltage, level)
                } else {
                    self.written(night, now, Step::OverVoltage)
                }
            }
            Step::OverVoltage => {
                if night.supply.guards_over_current {
                    let level = Order::SetOverCurrent(limits.over_current);
                    self.next(night, Step::OverCurrent, level)
                } else {
                    self.written(night, now, Step::OverCurrent)
                }
            }
            Step::OverCurrent => {
                let ask = written_limits().and(night.supply.reads);
                self.next(night, Step::ReadBack, Order::Read(ask))
            }
            Step::Identify
            | Step::Prepare
            | Step::Inspect
            | Step::ProvingEnvelope
            | Step::ReadBack
            | Step::On
            | Step::LeadOpen
            | Step::Flow
            | Step::LetGo
            | Step::FlowAgain
            | Step::OffTest
            | Step::OffProof
            | Step::RunEnvelope
            | Step::OnAgain => Phase::Proving(self),
        }
    }

    /// What was written must read back, within a step.
    fn read_back(self, night: &mut Night, now: Moment, reading: &Reading) -> Phase {
        let limits = night.plan.limits;
        let supply = &night.supply;
        let pairs = [
            (
                "current",
                reading.set_current.map(Current::a),
                night.proving_current().a(),
                supply.set_current,
            ),
            (
                "voltage",
                reading.set_voltage.map(|v| v.v()),
                limits.voltage.v(),
                supply.set_voltage,
            ),
            (
                "over-voltage level",
                reading.over_voltage.map(|v| v.v()),
                limits.over_voltage.v(),
                supply.set_voltage,
            ),
            (
                "over-current level",
                reading.over_current.map(Current::a),
                limits.over_current.a(),
                supply.set_current,
            ),
        ];
        for (what, found, wanted, tolerance) in pairs {
            if found.is_some_and(|found| !agrees(found, wanted, tolerance)) {
                let said = format!(
                    "{what}: wrote {wanted:.4}, reads {:.4}",
                    found.unwrap_or_default()
                );
                return self.trip(night, now, Fault::LimitsNotTaken, said);
            }
        }
        if let Some(error) = &reading.error {
            let said = format!("{} {}", error.code, error.text);
            return self.trip(night, now, Fault::SupplyError, said);
        }
        self.raise(night, now, Step::On, Order::On)
    }

    fn woke(mut self, night: &mut Night, now: Moment) -> Phase {
        while let Some(due) = night.deadlines.take_due(now) {
            if due != Deadline::Period || self.waiting {
                continue;
            }
            if self.step == Step::RunEnvelope {
                // The output was read to be off, and the ledger has a patience of its own: the
                // keeper need not take over.
                night.watch.measures_nothing(now);
                night.out.push(Action::PeriodDone);
                night
                    .deadlines
                    .set(Deadline::Period, now + night.timing.period);
                continue;
            }
            if self.step == Step::OffProof {
                self.waiting = true;
                night.send(Order::Read(proof(night)));
            } else if self.step.looks_on() {
                self.waiting = true;
                let ask = Ask::MEASURED | Ask::OUTPUT | Ask::MODE | Ask::TRIPPED | Ask::CHANNEL;
                night.send(Order::Read(ask.and(night.supply.reads)));
            }
        }
        Phase::Proving(self)
    }

    fn look(&self, night: &Night, settled: bool) -> Look {
        Look {
            state: State::Proving,
            set: night.proving_current(),
            settled,
            took: Span::ZERO,
        }
    }

    fn and(mut self, change: impl FnOnce(&mut Self)) -> Self {
        change(&mut self);
        self
    }
}

fn inspection() -> Ask {
    Ask::MEASURED | Ask::OUTPUT | Ask::TRIPPED | Ask::ERROR
}

fn written_limits() -> Ask {
    Ask::SET_CURRENT | Ask::SET_VOLTAGE | Ask::OVER_VOLTAGE | Ask::OVER_CURRENT | Ask::ERROR
}

fn agrees(found: f64, wanted: f64, tolerance: Tolerance) -> bool {
    (found - wanted).abs() <= tolerance.step.max(1e-6) * 1.01 + 1e-9
}
