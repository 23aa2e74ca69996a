//! A pause: off is proved, a person looks, and the output is still read now and then, since whoever
//! touches the supply meanwhile has her hands at the bath.

use super::Phase;
use super::deadline::Deadline;
use super::event::{Event, Note, Outcome, Wish};
use super::guard::Fault;
use super::leaving::{After, leave, leave_on, proof, still_on};
use super::night::Night;
use super::proving::Proving;
use super::state::State;
use super::watch::limit;
use crate::exchange::{Answer, Order, Reading};
use crate::units::{Moment, Span};

/// What is off is looked at this often.
const LOOKS: Span = Span::from_s(limit::PAUSE_LOOKS_S);

/// The output is off.
#[derive(Clone, Debug)]
pub(super) struct Pausing {
    /// When a look was last asked for that found it off.
    off_at: Moment,
    /// A look has just found it on, or something flowing. One reading can be a garbled one.
    doubted: bool,
    /// A look is under way. One at a time: on a dead line each may take longer than the next waits.
    asked: bool,
}

impl Pausing {
    /// Begins with the look that proved it off.
    pub(super) fn begin(night: &mut Night, proved: &Reading) -> Phase {
        night.note(Note::Entered(State::Paused));
        Self::rest(night, proved)
    }

    fn rest(night: &mut Night, proved: &Reading) -> Phase {
        night
            .deadlines
            .set(Deadline::Period, proved.received + LOOKS);
        Phase::Paused(Self {
            off_at: proved.sent,
            doubted: false,
            asked: false,
        })
    }

    /// Takes what happens in a pause.
    pub(super) fn on(mut self, night: &mut Night, now: Moment, event: Event) -> Phase {
        match event {
            Event::Woke => {
                if night.deadlines.take_due(now).is_some() {
                    night.deadlines.set(Deadline::Period, now + LOOKS);
                    if !self.asked {
                        self.ask(night);
                    }
                }
                Phase::Paused(self)
            }
            Event::Answered(Order::Read(_), Answer::Reading(reading)) => {
                self.looked(night, now, &reading)
            }
            Event::Failed(Order::Read(_), _) if self.doubted => {
                // On at the last word, and now silent: off it shall be.
                leave_on(night, now, After::Pause, self.off_at)
            }
            Event::Failed(Order::Read(_), _) => {
                self.asked = false;
                Phase::Paused(self)
            }
            Event::Asked(Wish::Resume) => {
                night.deadlines.clear_all();
                Proving::begin(night, now, self.off_at, true)
            }
            Event::Sensed(sense) => {
                night.watch.sense(now, sense);
                Phase::Paused(self)
            }
            Event::Rehung(plan) => {
                night.rehang(plan);
                Phase::Paused(self)
            }
            Event::Asked(Wish::Stop) => self.end(night, now, Outcome::Stopped),
            Event::KeeperLost => self.end(night, now, Outcome::Interrupted(Fault::KeeperLost)),
            Event::Begin
            | Event::Answered(..)
            | Event::Failed(..)
            | Event::Recorded(_)
            | Event::LedgerFailed(_)
            | Event::KeptOff(..)
            | Event::RelayLost(_)
            | Event::RelayCut
            | Event::Asked(Wish::Pause) => Phase::Paused(self),
        }
    }

    fn ask(&mut self, night: &mut Night) {
        self.asked = true;
        night.send(Order::Read(proof(night)));
    }

    fn end(self, night: &mut Night, now: Moment, outcome: Outcome) -> Phase {
        let after = After::End(outcome);
        if self.doubted {
            leave_on(night, now, after, self.off_at)
        } else {
            leave(night, now, after, None)
        }
    }

    /// One reading that shows it on is asked for again at once; the second is believed.
    fn looked(mut self, night: &mut Night, now: Moment, reading: &Reading) -> Phase {
        self.asked = false;
        night.last_reading = Some(reading.clone());
        night.weigh_word(reading);
        if night.confirms(reading).is_some() {
            return Self::rest(night, reading);
        }
        let ours = reading.channel != Some(false);
        night.still_shows(reading);
        let flows = reading
            .current
            .is_some_and(|current| !night.is_nothing(current));
        let shows_on = ours && (flows || reading.output == Some(true));
        match (std::mem::replace(&mut self.doubted, shows_on), shows_on) {
            (false, true) => {
                self.ask(night);
                Phase::Paused(self)
            }
            (true, true) => {
                let fault = Fault::OutputStaysOn;
                night.note(Note::Spoke(fault, still_on(reading)));
                let after = After::End(Outcome::Tripped(fault));
                leave_on(night, now, after, self.off_at)
            }
            // It shows nothing, and that is no proof.
            (true, false) => leave_on(night, now, After::Pause, self.off_at),
            (false, false) => Phase::Paused(self),
        }
    }
}
