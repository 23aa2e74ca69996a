//! Turning the output off until a reading proves it.

use super::Phase;
use super::deadline::Deadline;
use super::event::{Action, Event, Note, Outcome, Wish};
use super::guard::{Fault, Response};
use super::night::Night;
use super::pausing::Pausing;
use super::permit::ConfirmedOff;
use super::relay::CUT_AFTER;
use super::state::State;
use crate::exchange::{Answer, Ask, LinkFault, Order, Reading};
use crate::units::{Current, Moment};

/// So many tries before the run says loudly that the output is not confirmed off. It goes on
/// trying.
const TRIES_BEFORE_LOUD: u32 = 4;

/// So many readings after an acknowledged off that say it is still on.
const READINGS_AGAINST: u32 = 2;

/// What comes after off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum After {
    /// The run is over.
    End(Outcome),
    /// A person looks.
    Pause,
}

/// Off is on its way.
#[derive(Clone, Debug)]
pub(super) struct Leaving {
    after: After,
    since: Moment,
    /// It was off at this moment, and on when off was wanted: nobody knows since when.
    off_at: Option<Moment>,
    tries: u32,
    booked: Option<Moment>,
    /// Readings after an acknowledged off that say it is still on.
    against: u32,
    /// It was said loudly that off is not confirmed.
    loud: bool,
}

impl Leaving {
    pub(super) const fn new(now: Moment, after: After) -> Self {
        Self {
            after,
            since: now,
            off_at: None,
            tries: 1,
            booked: None,
            against: 0,
            loud: false,
        }
    }

    /// The state this looks like from outside.
    pub(super) fn state(&self) -> State {
        if self.loud {
            return State::Unconfirmed;
        }
        match self.after {
            After::End(outcome) => match outcome {
                Outcome::Finished | Outcome::Stopped => State::Stopping,
                Outcome::Tripped(_) | Outcome::Interrupted(_) => outcome.state(),
            },
            After::Pause => State::Paused,
        }
    }

    /// Since when current may flow that is on no account: since the off that closed it, or, where
    /// it was closed before, since off was wanted and did not come.
    pub(super) fn open_since(&self, last: Option<Moment>) -> Option<Moment> {
        self.booked.or(last).or_else(|| self.on_since())
    }

    /// The same where nothing flowed by the account: since it was last known to be off, or since an
    /// off that was not heard.
    fn on_since(&self) -> Option<Moment> {
        let again = (self.tries > 1).then_some(self.since);
        self.off_at.or(again)
    }

    /// Takes what happens while off is on its way.
    pub(super) fn on(mut self, night: &mut Night, now: Moment, event: Event) -> Phase {
        match event {
            Event::Answered(Order::Off, Answer::Done { sent, received }) => {
                self.book(night, sent, received);
                night.send(Order::Read(proof(night)));
                Phase::Leaving(self)
            }
            Event::Answered(Order::SetCurrent(to), Answer::Done { sent, received })
                if self.booked.is_none() =>
            {
                // It was on the wire when off was decided, or is the way down before off.
                night.integral.commanded(sent, received, to);
                Phase::Leaving(self)
            }
            Event::Answered(Order::On, Answer::Done { sent, received })
                if self.booked.is_none() =>
            {
                let small = night.proving_current();
                night.integral.commanded(sent, received, small);
                Phase::Leaving(self)
            }
            Event::Answered(Order::Read(_), Answer::Reading(reading)) => {
                self.judge(night, &reading)
            }
            Event::Failed(Order::Off, LinkFault::Refused(_)) => {
                // A supply that lost its power listens to its panel alone until it is told again,
                // and may well be off.
                night.send(Order::Prepare);
                night.send(Order::Read(proof(night)));
                Phase::Leaving(self)
            }
            Event::Failed(Order::Off | Order::Read(_), _) => {
                // The timer sends off again; asking sooner would only crowd a line in trouble.
                Phase::Leaving(self)
            }
            Event::Woke => self.again(night, now),
            Event::Asked(Wish::Stop) => {
                if self.after == After::Pause {
                    self.after = After::End(Outcome::Stopped);
                }
                Phase::Leaving(self)
            }
            Event::Sensed(sense) => {
                night.watch.sense(now, sense);
                Phase::Leaving(self)
            }
            Event::KeeperLost => {
                // What it was leaving for stands: a trip waits for a person, whoever is lost
                // on the way.
                if self.after == After::Pause {
                    self.after = After::End(Outcome::Interrupted(Fault::KeeperLost));
                }
                Phase::Leaving(self)
            }
            Event::RelayCut => {
                self.cut(night);
                Phase::Leaving(self)
            }
            Event::Begin
            | Event::Answered(..)
            | Event::Failed(..)
            | Event::Recorded(_)
            | Event::LedgerFailed(_)
            | Event::KeptOff(..)
            | Event::RelayLost(_)
            | Event::Rehung(_)
            | Event::Asked(Wish::Pause | Wish::Resume) => Phase::Leaving(self),
        }
    }

    /// Books the last stretch once, at the first off that went out.
    fn book(&mut self, night: &mut Night, sent: Moment, received: Moment) {
        if self.booked.is_some() {
            return;
        }
        self.booked = Some(received);
        if night.integral.last().is_none()
            && let Some(from) = self.on_since()
        {
            // It was off before, and meanwhile nobody could say so.
            night.flowed_on(from, received);
        }
        let flowing = match self.after {
            After::Pause | After::End(Outcome::Finished | Outcome::Stopped) => true,
            After::End(Outcome::Tripped(_) | Outcome::Interrupted(_)) => false,
        };
        night.ran_out(sent);
        // An earlier off, or the keeper's, may have been heard.
        let flowing = flowing && self.tries == 1;
        let added = night.integral.closed(sent, received, flowing);
        night.take_in(added);
        if matches!(self.after, After::End(Outcome::Finished)) {
            night.mark_reached(received);
        }
    }

    fn judge(mut self, night: &mut Night, reading: &Reading) -> Phase {
        night.last_reading = Some(reading.clone());
        night.weigh_word(reading);
        night.still_shows(reading);
        let Some(proof) = night.confirms(reading) else {
            self.contradicted(night, reading);
            return Phase::Leaving(self);
        };
        if self.booked.is_none() {
            // Off was never acknowledged, yet it is off: the current may have stopped at any time.
            self.book(night, self.since, reading.received);
        } else if self.tries > 1 {
            night.flowed_on(self.booked.unwrap_or(self.since), reading.received);
        }
        night.stepper.forget();
        night.deadlines.clear_all();
        match self.after {
            After::End(outcome) => {
                night.note(Note::Entered(outcome.state()));
                night.out.push(Action::End(outcome, proof));
                Phase::Over(outcome)
            }
            After::Pause => Pausing::begin(night, reading),
        }
    }

    /// Off was acknowledged and a reading says otherwise. Twice is no late reply: a run that ended
    /// as asked ends as tripped, and whoever clears it looks at the supply first.
    fn contradicted(&mut self, night: &mut Night, reading: &Reading) {
        // Another output's silence says nothing of ours.
        let ours = Reading {
            channel: None,
            ..reading.clone()
        };
        let is_off = ConfirmedOff::from_reading(&ours, &night.supply).is_some();
        if self.booked.is_none() || is_off {
            return;
        }
        self.against += 1;
        if self.against != READINGS_AGAINST {
            return;
        }
        night.note(Note::Spoke(Fault::OutputStaysOn, still_on(reading)));
        match self.after {
            After::Pause | After::End(Outcome::Finished | Outcome::Stopped) => {
                self.after = After::End(Outcome::Tripped(Fault::OutputStaysOn));
            }
            After::End(Outcome::Tripped(_) | Outcome::Interrupted(_)) => {}
        }
    }

    fn again(mut self, night: &mut Night, now: Moment) -> Phase {
        let Some(due) = night.deadlines.take_due(now) else {
            return Phase::Leaving(self);
        };
        if due == Deadline::Cut {
            self.cut(night);
            return self.again(night, now);
        }
        self.tries += 1;
        night.note(Note::OffAgain(self.tries));
        if self.tries > TRIES_BEFORE_LOUD {
            self.say_loudly(night);
        }
        night.out.push(Action::DropQueue);
        night.send(Order::Off);
        let wait = if self.tries > TRIES_BEFORE_LOUD {
            night.timing.off_slowly
        } else {
            night.timing.off_again
        };
        night.deadlines.set(Deadline::OffAgain, now + wait);
        Phase::Leaving(self)
    }

    /// Lets the relay go: the lead opens, and nothing is confirmed by that.
    fn cut(&mut self, night: &mut Night) {
        if night.cut_lead() {
            night.note(Note::Cut);
            self.say_loudly(night);
        }
    }

    fn say_loudly(&mut self, night: &mut Night) {
        if !std::mem::replace(&mut self.loud, true) {
            night.note(Note::Entered(State::Unconfirmed));
        }
    }
}

/// A guard spoke: what it says is noted, and what it wants is done.
pub(super) fn spoke(
    night: &mut Night,
    now: Moment,
    fault: Fault,
    evidence: String,
) -> Option<Phase> {
    night.note(Note::Spoke(fault, evidence));
    match fault.guard().response {
        Response::Alarm => None,
        Response::RampOff => {
            let lowest = Order::SetCurrent(Current::ZERO);
            Some(leave(
                night,
                now,
                After::End(Outcome::Tripped(fault)),
                Some(lowest),
            ))
        }
        Response::Off => Some(leave(night, now, After::End(ending(fault)), None)),
    }
}

/// Turns the output off, and goes on to what comes after when a reading proves it.
pub(super) fn leave(night: &mut Night, now: Moment, after: After, first: Option<Order>) -> Phase {
    Phase::Leaving(turn_off(night, now, after, first))
}

fn turn_off(night: &mut Night, now: Moment, after: After, first: Option<Order>) -> Leaving {
    night.deadlines.clear_all();
    night.permit = None;
    night.out.push(Action::DropQueue);
    if let Some(order) = first {
        night.out.push(Action::Send(order));
    }
    night.send(Order::Off);
    night
        .deadlines
        .set(Deadline::OffAgain, now + night.timing.off_again);
    if night.relay.opens_within().is_some() {
        night.deadlines.set(Deadline::Cut, now + CUT_AFTER);
    }
    if matches!(after, After::End(Outcome::Stopped)) {
        night.note(Note::Entered(State::Stopping));
    }
    Leaving::new(now, after)
}

/// The same for an output that was off at `off_at` and has come on since.
pub(super) fn leave_on(night: &mut Night, now: Moment, after: After, off_at: Moment) -> Phase {
    Phase::Leaving(Leaving {
        off_at: Some(off_at),
        ..turn_off(night, now, after, None)
    })
}

/// A run that lost its keeper, its computer or its mains is interrupted; every other guard trips
/// it.
fn ending(fault: Fault) -> Outcome {
    match fault {
        Fault::KeeperLost | Fault::DaemonLost | Fault::HostSlept | Fault::SupplyPowerCycled => {
            Outcome::Interrupted(fault)
        }
        Fault::WrongChannel
        | Fault::ReadbackFrozen
        | Fault::CurrentWithoutVoltage
        | Fault::CurrentOffSetpoint
        | Fault::ConstantCurrentLost
        | Fault::CellVoltageHigh
        | Fault::CellVoltageCollapsed
        | Fault::AnodeFilm
        | Fault::VoltageClimbing
        | Fault::VoltageNoisy
        | Fault::CoverNotGrowing
        | Fault::OutputNotAsCommanded
        | Fault::SetpointChanged
        | Fault::ProtectionTripped
        | Fault::SupplyError
        | Fault::ReadingStale
        | Fault::ReadingImplausible
        | Fault::LinkLost
        | Fault::LinkGarbled
        | Fault::RepliesLate
        | Fault::EnvelopeExceeded
        | Fault::PeakDensityHigh
        | Fault::ChargeCap
        | Fault::TimeCap
        | Fault::LevelLow
        | Fault::TemperatureOut
        | Fault::StirringOut
        | Fault::SensorSilent
        | Fault::BrightenerOverdue
        | Fault::ClockJumped
        | Fault::LedgerSlow
        | Fault::DiskNearlyFull
        | Fault::LedgerNotWriting
        | Fault::CommandFailed
        | Fault::WrongSupply
        | Fault::IdentityChanged
        | Fault::OnBeforeStart
        | Fault::LimitsNotTaken
        | Fault::NoContact
        | Fault::OutputStaysOn
        | Fault::RelayStuck
        | Fault::RelayOpen
        | Fault::RelayLost => Outcome::Tripped(fault),
    }
}

/// The words for an output that is on although off was acknowledged.
pub(super) fn still_on(reading: &Reading) -> String {
    format!("off was acknowledged; {}", reading.of_output())
}

/// What proves that the output is off.
pub(super) fn proof(night: &Night) -> Ask {
    (Ask::CURRENT | Ask::VOLTAGE | Ask::OUTPUT | Ask::CHANNEL).and(night.supply.reads)
}
