//! What comes back from the wire: the order it belongs to goes on, is taken up again, or is
//! answered.

use super::{Effect, Flight, Run, TRIES_FOR};
use crate::control::Event;
use crate::exchange::{Answer, LinkFault, Order};
use crate::supply::link::Step;
use crate::supply::wire::Outcome;
use crate::units::Moment;

impl Run {
    pub(super) fn heard(&mut self, now: Moment, outcome: Outcome, effects: &mut Vec<Effect>) {
        if outcome.reply.as_ref().is_ok_and(|reply| !reply.is_empty()) {
            self.core.heard(now);
        }
        let sent = self.link.since().unwrap_or(outcome.sent);
        let step = self.link.heard(outcome);
        if std::mem::take(&mut self.abandoned) {
            // The exchange on the wire was finished; what would have followed it is dropped.
            if !matches!(step, Step::Answer(_)) {
                self.link.abandon();
                if let Some(flight) = self.in_flight.take() {
                    self.may_have_risen(now, flight, sent, effects);
                }
                return;
            }
        } else if let Step::Answer(Err(fault)) = &step
            && let Some(flight) = self.worth_again(now, fault)
        {
            self.in_flight = Some(flight);
            let step = self.link.begin(flight.queued.order);
            self.follow(now, step, effects);
            return;
        }
        if let (Step::Answer(Err(fault)), Some(flight)) = (&step, self.in_flight) {
            match fault {
                LinkFault::Refused(_) | LinkFault::Forbidden(_) if !flight.again => {}
                LinkFault::Refused(_)
                | LinkFault::Forbidden(_)
                | LinkFault::Silent
                | LinkFault::Garbled(_)
                | LinkFault::Stranger(_)
                | LinkFault::PortLost(_)
                | LinkFault::KeeperLost => self.may_have_risen(now, flight, sent, effects),
            }
        }
        self.follow(now, step, effects);
    }

    /// An order that met a line in trouble is taken up again at once, for a while. What raises
    /// needs its permit still.
    fn worth_again(&self, now: Moment, fault: &LinkFault) -> Option<Flight> {
        let passes = match fault {
            LinkFault::Silent | LinkFault::Garbled(_) | LinkFault::PortLost(_) => true,
            LinkFault::Refused(_)
            | LinkFault::Stranger(_)
            | LinkFault::Forbidden(_)
            | LinkFault::KeeperLost => false,
        };
        let flight = self.in_flight.filter(|_| passes)?;
        let may = flight
            .queued
            .permit
            .is_none_or(|permit| permit.allows(flight.queued.order, now));
        let young = now.since(flight.since) < TRIES_FOR;
        (may && young).then_some(Flight {
            again: true,
            ..flight
        })
    }

    /// A raise went out whose answer nobody waits for, or that has none: the supply may have
    /// obeyed. Control is told that it did, so that the bounds hold what flows.
    pub(super) fn may_have_risen(
        &mut self,
        now: Moment,
        flight: Flight,
        sent: Moment,
        effects: &mut Vec<Effect>,
    ) {
        let order = flight.queued.order;
        // Any of several tries may have been the one that was obeyed.
        let sent = if flight.again { flight.since } else { sent };
        let rises = match order {
            Order::SetCurrent(to) => to > self.core.setpoint().unwrap_or_default(),
            Order::On => true,
            Order::Identify
            | Order::Prepare
            | Order::SetVoltage(_)
            | Order::SetOverVoltage(_)
            | Order::SetOverCurrent(_)
            | Order::Off
            | Order::ClearTrip
            | Order::Read(_)
            | Order::Release
            | Order::Watchdog(_) => false,
        };
        if rises {
            let received = now;
            let done = Answer::Done { sent, received };
            self.tell(now, Event::Answered(order, done), effects);
        }
    }

    pub(super) fn follow(&mut self, now: Moment, step: Step, effects: &mut Vec<Effect>) {
        match step {
            Step::Wire(exchange) => effects.push(Effect::Exchange(exchange)),
            Step::Rest(span) => self.rest_until = Some(now + span),
            Step::Answer(answer) => {
                let Some(flight) = self.in_flight.take() else {
                    return;
                };
                let order = flight.queued.order;
                match answer {
                    Ok(Answer::Done { received, .. }) if flight.again => {
                        // Any of the tries may have been the one that was obeyed.
                        let sent = flight.since;
                        self.answered(now, order, Answer::Done { sent, received }, effects);
                    }
                    Ok(answer) => self.answered(now, order, answer, effects),
                    Err(fault) => self.tell(now, Event::Failed(order, fault), effects),
                }
            }
        }
    }
}
