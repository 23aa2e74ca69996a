//! The link: one order at a time, one request in flight, bounded retries, a way back when confused.
//!
//! It has no clock and no wire. The caller carries out what it asks and tells it the outcome:
//!
//! - [`Link::begin`] takes an order and gives the first [`Step`];
//! - [`Step::Wire`]: carry the exchange out, whole, then call [`Link::heard`];
//! - [`Step::Rest`]: let so much time pass in silence, then call [`Link::rested`];
//! - [`Step::Answer`]: the order is over.
//!
//! A late reply would make every later reply belong to the question before: volts read as amps. So
//! after any doubt the link asks who is there until that is answered properly, and only then
//! repeats what went wrong. A supply answers in the order it was asked: once it has said who it is,
//! nothing older is under way. So after a reply that did not come it is asked at once; if that is
//! not answered properly either, or bytes came that mean nothing, the link is silent first, until
//! no reply can come any more. A command may be repeated because every command of a supply profile
//! is the same done twice: it sets, it does not step.

mod work;

use super::codec::{Codec, Garbled, Move, Unsayable, Verdict, Who, entry, take};
use super::wire::{Exchange, Line, Outcome, WireFault};
use crate::exchange::{Answer, Ask, DeviceError, LinkFault, Order, Reading};
use crate::spec::SupplyProfile;
use crate::units::{Moment, Span};
use std::sync::Arc;
use work::{Stage, Work, garbled, idle};

/// The error queue of a supply is never longer than this: a longer one is a supply that repeats
/// itself.
const LONGEST_QUEUE: u8 = 64;

/// What the caller does next.
#[derive(Clone, Debug, PartialEq)]
pub enum Step {
    /// Carry this out, whole, and tell [`Link::heard`].
    Wire(Exchange),
    /// Send nothing for so long, then tell [`Link::rested`].
    Rest(Span),
    /// The order is over.
    Answer(Result<Answer, LinkFault>),
}

/// What may stand between the link and a clean answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Doubt {
    /// Nothing.
    None,
    /// Nobody has said yet who is there.
    Unmet,
    /// Something may still be under way.
    Late,
}

/// A link to one supply. See the module's documentation.
#[derive(Clone, Debug)]
pub struct Link {
    codec: Codec,
    moves: Vec<Move>,
    work: Option<Work>,
    doubt: Doubt,
    /// So long after the last outcome a reply may still come that answers nobody.
    owed: Span,
    /// The port was gone at the last outcome.
    gone: bool,
    /// Who answered first; nobody else may answer later.
    known: Option<String>,
    last: Moment,
    /// How long the last exchange took.
    took: Span,
}

impl Link {
    /// A link on which nobody has said yet who is there.
    #[must_use]
    pub fn new(profile: Arc<SupplyProfile>) -> Self {
        Self {
            codec: Codec::new(profile),
            moves: Vec::new(),
            work: None,
            doubt: Doubt::Unmet,
            owed: Span::ZERO,
            gone: false,
            known: None,
            last: Moment::ZERO,
            took: Span::ZERO,
        }
    }

    /// The profile.
    #[must_use]
    pub fn profile(&self) -> &SupplyProfile {
        self.codec.profile()
    }

    /// Who is there, once it was asked.
    #[must_use]
    pub fn identity(&self) -> Option<&str> {
        self.known.as_deref()
    }

    /// Says that the line may not be where the link believes it is: somebody else used it, or a
    /// reply went missing. The next order but off begins with the way back.
    pub fn mistrust(&mut self) {
        self.doubt = Doubt::Late;
        self.owed = self.profile().timing.longest;
    }

    /// True if the next order begins with the way back.
    #[must_use]
    pub fn is_doubtful(&self) -> bool {
        self.doubt != Doubt::None
    }

    /// Drops the order under way, so that another can begin at once. Only while no exchange is in
    /// flight: a reply in flight is never abandoned, it would be taken for the next one.
    pub fn abandon(&mut self) {
        if let Some(work) = self.work.take()
            && work.stage != Stage::Moving
        {
            self.mistrust();
        }
    }

    /// When the first message of the order under way left, if one did.
    #[must_use]
    pub fn since(&self) -> Option<Moment> {
        self.work.as_ref().and_then(|work| work.since)
    }

    /// The bare messages of the off step, for whoever proves off by a reading and asks nothing
    /// else; where it insists, the supply is taken over from its front panel first.
    #[must_use]
    pub fn off_step(&self, insists: bool) -> Vec<Exchange> {
        self.codec.off_step(insists)
    }

    /// Takes an order. Off is sent at once, whatever the doubt.
    pub fn begin(&mut self, order: Order) -> Step {
        if self.work.is_some() {
            let text = "another order is still under way".to_owned();
            return Step::Answer(Err(LinkFault::Forbidden(text)));
        }
        self.moves.clear();
        if let Err(Unsayable(text)) = self.codec.plan(order, &mut self.moves) {
            return Step::Answer(Err(LinkFault::Forbidden(text)));
        }
        let stage = match (order, self.doubt) {
            (Order::Off | Order::Identify, _) | (_, Doubt::None) => Stage::Moving,
            (_, Doubt::Unmet) => Stage::Hello,
            (_, Doubt::Late) => Stage::Silence,
        };
        self.issue(Work::new(order, stage, self.profile().identity.tries))
    }

    /// Tells that the rest is over.
    pub fn rested(&mut self) -> Step {
        let Some(mut work) = self.work.take() else {
            return idle();
        };
        if work.stage == Stage::Silence {
            work.stage = Stage::Hello;
            self.owed = Span::ZERO;
        }
        self.issue(work)
    }

    /// Tells what an exchange came to.
    pub fn heard(&mut self, outcome: Outcome) -> Step {
        let Some(mut work) = self.work.take() else {
            return idle();
        };
        (self.last, self.took) = (outcome.received, outcome.received.since(outcome.sent));
        let was_gone = std::mem::take(&mut self.gone);
        if work.stage == Stage::Moving && work.since.is_none() {
            work.since = Some(outcome.sent);
        }
        match outcome.reply {
            Err(fault) => self.failed(work, fault, was_gone),
            Ok(reply) => match work.stage {
                Stage::Moving => self.moved(work, outcome.sent, &reply),
                Stage::Hello => self.met(work, &reply),
                Stage::Draining(ref first) => {
                    let first = first.clone();
                    self.drained(work, first, &reply)
                }
                Stage::Silence => self.issue(work),
            },
        }
    }

    /// Carries an order out on a line, to its end.
    ///
    /// # Errors
    /// Why it came to nothing.
    pub fn carry(&mut self, order: Order, line: &mut dyn Line) -> Result<Answer, LinkFault> {
        let mut step = self.begin(order);
        loop {
            step = match step {
                Step::Wire(exchange) => self.heard(line.exchange(&exchange)),
                Step::Rest(span) => {
                    line.rest(span);
                    self.rested()
                }
                Step::Answer(answer) => return answer,
            }
        }
    }

    /// Carries out [`Order::Read`].
    ///
    /// # Errors
    /// Why it came to nothing.
    pub fn read(&mut self, ask: Ask, line: &mut dyn Line) -> Result<Reading, LinkFault> {
        match self.carry(Order::Read(ask), line)? {
            Answer::Reading(reading) => Ok(reading),
            Answer::Done { .. } | Answer::Identity(_) => {
                Err(LinkFault::Garbled("an answer to another order".to_owned()))
            }
        }
    }

    /// The next step of an order, from where it stands.
    fn issue(&mut self, mut work: Work) -> Step {
        if work.stage == Stage::Silence && self.owed <= Span::ZERO {
            work.stage = Stage::Hello;
        }
        let exchange = match &work.stage {
            Stage::Moving => match self.moves.get(work.at) {
                None => {
                    return match work.lost.take() {
                        Some(text) => self.over(LinkFault::PortLost(text)),
                        None => Step::Answer(Ok(work.answer(self.last))),
                    };
                }
                Some(next) => self.codec.exchange(next),
            },
            Stage::Silence => {
                self.work = Some(work);
                return Step::Rest(self.owed);
            }
            Stage::Hello => self.codec.exchange(&Move::Hello),
            Stage::Draining(_) => self.codec.exchange(&Move::AskError),
        };
        self.work = Some(work);
        match exchange {
            Some(exchange) => Step::Wire(exchange),
            None => self.over(LinkFault::Forbidden(
                "the supply profile lacks a question".into(),
            )),
        }
    }

    /// Ends the order with a fault.
    fn over(&mut self, fault: LinkFault) -> Step {
        self.work = None;
        Step::Answer(Err(fault))
    }

    /// The exchange came to nothing on the wire.
    fn failed(&mut self, mut work: Work, fault: WireFault, was_gone: bool) -> Step {
        let fault = match fault {
            WireFault::Silent => LinkFault::Silent,
            WireFault::Partial(bytes) => garbled(Garbled::of(&bytes)),
            WireFault::TooLong => LinkFault::Garbled("a reply longer than any should be".into()),
            WireFault::Forbidden(text) => return self.over(LinkFault::Forbidden(text)),
            WireFault::PortLost(text) => {
                self.doubt = Doubt::Late;
                self.gone = true;
                self.owed = match work.stage {
                    // To a port that was gone before nothing was sent.
                    _ if was_gone => (self.owed - self.took).max(Span::ZERO),
                    Stage::Moving => Span::ZERO,
                    Stage::Silence | Stage::Hello | Stage::Draining(_) => self.still_late(),
                };
                let follows = matches!(self.moves.get(work.at + 1), Some(Move::Command(_)));
                if work.order == Order::Off && work.stage == Stage::Moving && follows {
                    // Whatever else could not be said: off itself is.
                    work.lost = Some(text);
                    return self.next(work);
                }
                return self.over(LinkFault::PortLost(text));
            }
            WireFault::KeeperLost => {
                self.mistrust();
                return self.over(LinkFault::KeeperLost);
            }
        };
        if let Stage::Draining(first) = work.stage {
            self.mistrust();
            return self.over(LinkFault::Refused(first));
        }
        self.confused(work, fault)
    }

    /// How long after this outcome a reply to what was just sent can still come.
    fn still_late(&self) -> Span {
        (self.profile().longest_exchange() - self.took).max(Span::ZERO)
    }

    /// The reply is missing or means nothing: go silent, meet again, repeat; or give up.
    fn confused(&mut self, mut work: Work, fault: LinkFault) -> Step {
        self.doubt = Doubt::Late;
        work.repeated = work.repeated.saturating_add(1);
        self.owed = match (&work.stage, &fault) {
            (Stage::Moving, LinkFault::Silent) => Span::ZERO,
            _ => self.still_late(),
        };
        let left = if work.stage == Stage::Hello {
            &mut work.hellos
        } else {
            &mut work.rounds
        };
        *left = left.saturating_sub(1);
        let give_up = match work.stage {
            Stage::Hello => work.hellos == 0,
            Stage::Moving | Stage::Silence | Stage::Draining(_) => {
                let given_up = work.rounds == 0;
                work.hellos = self.profile().identity.tries;
                // The reply to a check may have carried the refusal away with it: the command goes
                // again.
                if self.moves.get(work.at) == Some(&Move::Check) {
                    work.at = work.at.saturating_sub(1);
                }
                let briefly = matches!(work.order, Order::Read(ask) if ask.has(Ask::BRIEFLY));
                if briefly
                    && self
                        .moves
                        .get(work.at)
                        .is_some_and(|at| self.codec.is_extra(at))
                {
                    self.moves.remove(work.at);
                    if work.at == self.moves.len() && work.reading.received != Moment::ZERO {
                        return Step::Answer(Ok(work.answer(self.last)));
                    }
                }
                given_up
            }
        };
        if give_up {
            return self.over(fault);
        }
        work.stage = Stage::Silence;
        self.issue(work)
    }

    /// A reply came in the course of the moves.
    fn moved(&mut self, mut work: Work, sent: Moment, raw: &[u8]) -> Step {
        let Some(step) = self.moves.get(work.at) else {
            return self.issue(work);
        };
        let text = match self.codec.reply(step, raw) {
            Ok(text) => text,
            Err(fault) => return self.confused(work, garbled(fault)),
        };
        match step {
            Move::Command(_) => match self.codec.verdict(text) {
                Verdict::Accepted => self.next(work),
                Verdict::Refused(error) => self.refused(work, error),
                Verdict::Garbled => self.confused(work, garbled(Garbled::of(raw))),
            },
            Move::Check | Move::AskError => self.entry(work, text),
            Move::Hello => self.met(work, raw),
            Move::Ask(at) => {
                let Some(question) = self.codec.question(*at) else {
                    return self.next(work);
                };
                if question.asks().has(Ask::CURRENT) {
                    (work.reading.sent, work.reading.received) = (sent, self.last);
                }
                match take(question, raw, text, &mut work.reading) {
                    Ok(()) => self.next(work),
                    Err(fault) => self.confused(work, garbled(fault)),
                }
            }
        }
    }

    fn next(&mut self, mut work: Work) -> Step {
        work.at += 1;
        self.issue(work)
    }

    /// An entry of the error queue came, after a command or because it was asked for.
    fn entry(&mut self, mut work: Work, text: &[u8]) -> Step {
        let error = match entry(text) {
            Ok(error) => error,
            Err(fault) => return self.confused(work, garbled(fault)),
        };
        if self.is_empty_queue(&error) {
            return self.next(work);
        }
        let is_event = self
            .codec
            .errors()
            .is_some_and(|e| e.events.contains(&error.code));
        work.entries += 1;
        if is_event && work.entries < LONGEST_QUEUE {
            return self.issue(work);
        }
        if self.moves.get(work.at) == Some(&Move::AskError) {
            work.reading.error = (!is_event).then_some(error);
            return self.next(work);
        }
        work.stage = Stage::Draining(error);
        self.issue(work)
    }

    fn is_empty_queue(&self, error: &DeviceError) -> bool {
        self.codec
            .errors()
            .is_none_or(|errors| error.code == errors.empty)
    }

    /// The rest of the error queue is read away, so that it is not taken for the next command's.
    fn drained(&mut self, mut work: Work, first: DeviceError, reply: &[u8]) -> Step {
        let Ok(error) = self.codec.reply(&Move::AskError, reply).and_then(entry) else {
            self.mistrust();
            return self.over(LinkFault::Refused(first));
        };
        work.entries += 1;
        if !self.is_empty_queue(&error) && work.entries < LONGEST_QUEUE {
            return self.issue(work);
        }
        let noise = self
            .codec
            .errors()
            .is_some_and(|e| e.noise.contains(&first.code));
        if noise {
            return self.confused(work, LinkFault::Refused(first));
        }
        self.refused(work, first)
    }

    /// It will not. Off is insisted on once: a touch of the front panel may have taken the say.
    fn refused(&mut self, mut work: Work, error: DeviceError) -> Step {
        if work.order != Order::Off || work.insists {
            return self.over(LinkFault::Refused(error));
        }
        self.codec.plan_insisting(&mut self.moves);
        (work.insists, work.at, work.stage) = (true, 0, Stage::Moving);
        self.issue(work)
    }

    /// Somebody answered who is there.
    fn met(&mut self, mut work: Work, reply: &[u8]) -> Step {
        let text = match self.codec.reply(&Move::Hello, reply) {
            Ok(text) => text,
            Err(fault) => return self.confused(work, garbled(fault)),
        };
        let other = match self.codec.who(text) {
            Who::Known(text) if self.known.as_ref().is_none_or(|known| *known == text) => {
                return self.welcomed(work, text);
            }
            Who::Rubbish(text) => return self.confused(work, LinkFault::Garbled(text)),
            Who::Known(text) | Who::Stranger(text) => text,
        };
        // Once may be a late reply to something else; twice the same is another supply.
        if work.stranger.as_ref() == Some(&other) {
            self.mistrust();
            return self.over(LinkFault::Stranger(other));
        }
        work.stranger = Some(other.clone());
        self.confused(work, LinkFault::Stranger(other))
    }

    fn welcomed(&mut self, mut work: Work, text: String) -> Step {
        self.doubt = Doubt::None;
        if work.order == Order::Identify {
            work.identity = Some(text.clone());
            work.at = self.moves.len();
        }
        self.known.get_or_insert(text);
        work.stage = Stage::Moving;
        self.issue(work)
    }
}
