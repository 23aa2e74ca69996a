//! The line to a simulated supply, in virtual time: an exchange takes as long as it would on the
//! wire, and no longer on the wall.

use super::cell::{CellFault, RelayDeed, Sensed, Truth};
use super::instrument::{Flow, Instrument};
use crate::exchange::Contact;
use crate::supply::wire::{Exchange, Line, Outcome, ReplyEnd, WireFault};
use crate::units::{Moment, Span};

/// No reply of a text dialect is longer.
const LONGEST_REPLY: usize = 4096;

/// A simulated supply on a line of its own. The clock of the line is virtual: it moves when an
/// exchange is carried out and when somebody rests.
#[derive(Clone, Debug)]
pub struct Bench {
    instrument: Instrument,
    now: Moment,
    /// The gap after the last exchange lasts until here.
    quiet_until: Moment,
}

impl Bench {
    /// A line to this supply, its clock at `now`.
    #[must_use]
    pub fn new(instrument: Instrument, now: Moment) -> Self {
        Self {
            instrument,
            now,
            quiet_until: now,
        }
    }

    /// The cell's own account as of now.
    pub fn truth(&mut self) -> Truth {
        self.instrument.truth(self.now)
    }

    /// What flows now.
    pub fn flow(&mut self) -> Flow {
        self.instrument.flow(self.now)
    }

    /// What sensors in the tank would say now.
    pub fn sensed(&mut self) -> Sensed {
        self.instrument.sensed(self.now)
    }

    /// The supply, for a hand at its panel or a look at what was drawn.
    pub fn instrument(&mut self) -> &mut Instrument {
        &mut self.instrument
    }

    /// Breaks or mends something in the cell now.
    pub fn fault(&mut self, fault: CellFault) {
        self.instrument.fault(self.now, fault);
    }

    /// The reply, and the moment it was complete.
    fn reply(&mut self, exchange: &Exchange) -> (Moment, Result<Vec<u8>, WireFault>) {
        let mut reply = Vec::with_capacity(32);
        let mut patience = self.now + exchange.first_byte;
        let mut last = self.now;
        loop {
            let Some((at, byte)) = self.instrument.next_output(patience) else {
                self.now = self.now.max(patience);
                return match exchange.end {
                    ReplyEnd::Quiet(_) if !reply.is_empty() => (last, Ok(reply)),
                    ReplyEnd::Byte(_) | ReplyEnd::Count(_) if !reply.is_empty() => {
                        (patience, Err(WireFault::Partial(reply)))
                    }
                    ReplyEnd::None
                    | ReplyEnd::Byte(_)
                    | ReplyEnd::Count(_)
                    | ReplyEnd::Quiet(_) => (patience, Err(WireFault::Silent)),
                };
            };
            last = at.max(self.now);
            self.now = last;
            let (keep, done, wait) = match &exchange.end {
                ReplyEnd::Byte(ends) if ends.contains(&byte) => {
                    (false, !reply.is_empty(), exchange.between)
                }
                ReplyEnd::Count(count) => (true, reply.len() + 1 >= *count, exchange.between),
                ReplyEnd::Quiet(ms) => (true, false, Span::from_ms(f64::from(*ms))),
                ReplyEnd::None | ReplyEnd::Byte(_) => (true, false, exchange.between),
            };
            if keep {
                reply.push(byte);
            }
            if done {
                return (last, Ok(reply));
            }
            if reply.len() > LONGEST_REPLY {
                return (last, Err(WireFault::TooLong));
            }
            patience = last + wait;
        }
    }
}

impl Line for Bench {
    fn exchange(&mut self, exchange: &Exchange) -> Outcome {
        self.now = self.now.max(self.quiet_until);
        // What came before the question waits in the port and answers nobody.
        while self.instrument.next_output(self.now).is_some() {}
        let sent = self.now;
        self.instrument.receive(sent, &exchange.send);
        self.now = self.now.max(self.instrument.sent_until());
        let (received, reply) = match exchange.end {
            ReplyEnd::None => (self.now, Ok(Vec::new())),
            ReplyEnd::Byte(_) | ReplyEnd::Count(_) | ReplyEnd::Quiet(_) => self.reply(exchange),
        };
        self.quiet_until = self.now + exchange.gap;
        Outcome {
            sent,
            received,
            reply,
        }
    }

    fn now(&self) -> Moment {
        self.now
    }

    fn rest(&mut self, span: Span) {
        self.now = self.now + span.max(Span::ZERO);
    }

    fn relay(&mut self, contact: Contact) {
        let deed = match contact {
            Contact::Hold => RelayDeed::Held,
            Contact::LetGo | Contact::Cut { .. } => RelayDeed::LetGo,
        };
        self.instrument.relay(self.now, deed);
    }
}
