//! Orders into bytes, bytes into values, both as the profile says. It decides nothing: what to do
//! about a reply that means nothing is the link's affair.

mod number;
mod values;

pub use number::{Number, NumberFault, number};
pub use values::{Garbled, entry, take};

use super::wire::{Exchange, Raise, ReplyEnd};
use crate::exchange::{Ask, DeviceError, Order, Watchdog};
use crate::spec::supply::{
    Acknowledge, End, ErrorQueue, NumberOut, Question, Slot, SupplyProfile, Template, matches,
};
use crate::units::{Current, Voltage};
use std::sync::Arc;

/// One move of an order: what is sent, and what is then expected.
#[derive(Clone, Debug, PartialEq)]
pub enum Move {
    /// A command; the reply, if one is expected, is the acknowledgement.
    Command(Exchange),
    /// The error queue is asked whether the command before was accepted.
    Check,
    /// The error queue is asked for its own sake.
    AskError,
    /// Who is there?
    Hello,
    /// A question of the profile, by its place in it.
    Ask(usize),
}

/// Why an order cannot be put into bytes. Nothing is sent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unsayable(pub String);

/// What a reply to a command says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// It was accepted.
    Accepted,
    /// It was refused.
    Refused(DeviceError),
    /// It means nothing.
    Garbled,
}

/// What an identity reply says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Who {
    /// A supply the profile knows.
    Known(String),
    /// A proper identity, but of another supply.
    Stranger(String),
    /// Nothing that could be an identity.
    Rubbish(String),
}

/// A profile with everything that never changes already in bytes.
#[derive(Clone, Debug)]
pub struct Codec {
    profile: Arc<SupplyProfile>,
    hello: Exchange,
    error: Option<Exchange>,
    asks: Vec<(Ask, Exchange)>,
}

impl Codec {
    /// Puts a profile into bytes.
    #[must_use]
    pub fn new(profile: Arc<SupplyProfile>) -> Self {
        let ask = |text: &str, end: Option<&End>| question(&profile, text, end);
        let hello = ask(&profile.identity.ask, profile.identity.end.as_ref());
        let error = profile.errors.as_ref().map(|errors| ask(&errors.ask, None));
        let each = |q: &Question| (q.asks(), ask(&q.ask, q.end.as_ref()));
        let asks = profile.questions.iter().map(each).collect();
        Self {
            profile,
            hello,
            error,
            asks,
        }
    }

    /// The profile.
    #[must_use]
    pub fn profile(&self) -> &SupplyProfile {
        &self.profile
    }

    /// The moves of an order, appended to `moves`.
    ///
    /// # Errors
    /// [`Unsayable`] where the profile has no such step, or the number is beyond the rating or
    /// cannot be written.
    pub fn plan(&self, order: Order, moves: &mut Vec<Move>) -> Result<(), Unsayable> {
        let steps = &self.profile.steps;
        let ratings = &self.profile.ratings;
        let numbers = &self.profile.numbers;
        let plain = Filled::default();
        match order {
            Order::Identify => moves.push(Move::Hello),
            Order::Read(ask) => self.plan_read(ask, moves),
            // To the supply as a whole: under its front panel it may refuse to select.
            Order::Prepare => self.told(&steps.prepare, &plain, moves),
            Order::Release => self.commands(&steps.release, plain, moves),
            Order::Watchdog(what) => {
                let Some(own) = &self.profile.watchdog else {
                    return Err(Unsayable("the supply profile has no watchdog".to_owned()));
                };
                let list = match what {
                    Watchdog::Arm => &own.arm,
                    Watchdog::Renew => &own.renew,
                    Watchdog::Disarm => &own.disarm,
                };
                self.commands(list, plain, moves);
            }
            Order::Off => self.commands(&steps.off, plain, moves),
            Order::On => {
                let raises = Raise {
                    output: true,
                    ..Raise::default()
                };
                self.commands(&steps.on, Filled { raises, text: None }, moves);
            }
            Order::ClearTrip => {
                needed(&steps.clear_trip, "to clear a trip")?;
                self.commands(&steps.clear_trip, plain, moves);
            }
            Order::SetCurrent(current) => {
                let filled = amps(&numbers.current, current, Some(ratings.max_current), true)?;
                self.commands(&steps.set_current, filled, moves);
            }
            Order::SetVoltage(voltage) => {
                let filled = volts(&numbers.voltage, voltage, Some(ratings.max_voltage), true)?;
                self.commands(&steps.set_voltage, filled, moves);
            }
            Order::SetOverCurrent(current) => {
                needed(&steps.set_over_current, "for over-current protection")?;
                let filled = amps(&numbers.over_current, current, None, false)?;
                self.commands(&steps.set_over_current, filled, moves);
            }
            Order::SetOverVoltage(voltage) => {
                needed(&steps.set_over_voltage, "for over-voltage protection")?;
                let filled = volts(&numbers.over_voltage, voltage, None, false)?;
                self.commands(&steps.set_over_voltage, filled, moves);
            }
        }
        Ok(())
    }

    /// The questions that between them give what is asked, the current first.
    fn plan_read(&self, ask: Ask, moves: &mut Vec<Move>) {
        self.select(moves);
        let gives = |at: usize| self.asks.get(at).map_or(Ask::NOTHING, |(gives, _)| *gives);
        let wanted = |at: &usize| !gives(*at).and(ask).is_empty();
        let first = |at: &usize| ask.has(Ask::CURRENT) && gives(*at).has(Ask::CURRENT);
        let all = 0..self.asks.len();
        moves.extend(all.clone().filter(first).map(Move::Ask));
        moves.extend(all.filter(|at| wanted(at) && !first(at)).map(Move::Ask));
        if ask.has(Ask::ERROR) && self.error.is_some() {
            moves.push(Move::AskError);
        }
    }

    /// Off for a supply that refused it: it is taken over from its front panel first.
    pub(super) fn plan_insisting(&self, moves: &mut Vec<Move>) {
        moves.clear();
        let plain = Filled::default();
        let prepare = self.profile.steps.prepare.iter();
        moves.extend(prepare.map(|step| Move::Command(self.command(step, &plain))));
        self.commands(&self.profile.steps.off, plain, moves);
    }

    /// The bare messages of off; where it insists, the supply is taken over first.
    pub(super) fn off_step(&self, insists: bool) -> Vec<Exchange> {
        let mut moves = Vec::new();
        self.plan_insisting(&mut moves);
        let command = |step: Move| match step {
            Move::Command(exchange) => Some(exchange),
            Move::Check | Move::AskError | Move::Hello | Move::Ask(_) => None,
        };
        let skips = if insists {
            0
        } else {
            self.profile.steps.prepare.len()
        };
        moves.into_iter().filter_map(command).skip(skips).collect()
    }

    fn select(&self, moves: &mut Vec<Move>) {
        if let Some(select) = &self.profile.select {
            moves.push(Move::Command(self.command(select, &Filled::default())));
        }
    }

    fn commands(&self, list: &[Template], filled: Filled, moves: &mut Vec<Move>) {
        if list.is_empty() {
            return;
        }
        self.select(moves);
        self.told(list, &filled, moves);
    }

    /// Commands, each with its check.
    fn told(&self, list: &[Template], filled: &Filled, moves: &mut Vec<Move>) {
        let checked = match self.profile.acknowledge {
            Acknowledge::ErrorQueue => true,
            Acknowledge::Nothing | Acknowledge::Token { .. } => false,
        };
        for template in list {
            moves.push(Move::Command(self.command(template, filled)));
            if checked {
                moves.push(Move::Check);
            }
        }
    }

    fn command(&self, template: &Template, filled: &Filled) -> Exchange {
        let mut send = template.before.clone().into_bytes();
        let number = template.slot.and(filled.text.as_ref());
        send.extend(number.iter().flat_map(|text| text.bytes()));
        send.extend(template.after.bytes());
        send.extend(self.profile.framing.send_end.bytes());
        let end = match self.profile.acknowledge {
            Acknowledge::Token { .. } => reply_end(&self.profile.framing.reply_end),
            Acknowledge::Nothing | Acknowledge::ErrorQueue if self.profile.framing.echo => {
                reply_end(&self.profile.framing.reply_end)
            }
            Acknowledge::Nothing | Acknowledge::ErrorQueue => ReplyEnd::None,
        };
        let timing = &self.profile.timing;
        let raises = match template.slot {
            Some(Slot::Current | Slot::Voltage) => filled.raises,
            // `on` has no number; a setting's other messages, such as "arm it", raise nothing.
            None if filled.text.is_none() => filled.raises,
            None => Raise::default(),
        };
        Exchange {
            send,
            end,
            first_byte: timing.first_byte,
            between: timing.between,
            gap: timing.gap_after_command,
            raises,
        }
    }

    /// A question for something other than current, voltage and mode.
    pub(super) fn is_extra(&self, step: &Move) -> bool {
        match step {
            Move::Ask(at) => {
                let gives = self.asks.get(*at).map_or(Ask::NOTHING, |(gives, _)| *gives);
                gives.and(Ask::MEASURED | Ask::MODE).is_empty()
            }
            Move::AskError => true,
            Move::Command(_) | Move::Check | Move::Hello => false,
        }
    }

    /// What a move sends; `None` for a question the profile does not have.
    #[must_use]
    pub fn exchange(&self, step: &Move) -> Option<Exchange> {
        self.sent(step).cloned()
    }

    fn sent<'a>(&'a self, step: &'a Move) -> Option<&'a Exchange> {
        match step {
            Move::Command(exchange) => Some(exchange),
            Move::Check | Move::AskError => self.error.as_ref(),
            Move::Hello => Some(&self.hello),
            Move::Ask(at) => self.asks.get(*at).map(|(_, exchange)| exchange),
        }
    }

    /// What a question's reply gives.
    #[must_use]
    pub fn question(&self, at: usize) -> Option<&Question> {
        self.profile.questions.get(at)
    }

    /// The reply without what the line added to it: an echo where the dialect echoes, NULs, blanks
    /// at the ends.
    ///
    /// # Errors
    /// [`Garbled`] where an echo was due and something else came.
    pub fn reply<'r>(&self, step: &Move, reply: &'r [u8]) -> Result<&'r [u8], Garbled> {
        if !self.profile.framing.echo {
            return Ok(trimmed(reply));
        }
        let sent = self.sent(step).map_or(&[][..], |exchange| &exchange.send);
        let rest = trimmed(reply).strip_prefix(trimmed(sent));
        rest.map(trimmed).ok_or_else(|| Garbled::of(reply))
    }

    /// What the reply to a command says.
    #[must_use]
    pub fn verdict(&self, reply: &[u8]) -> Verdict {
        match &self.profile.acknowledge {
            Acknowledge::Nothing | Acknowledge::ErrorQueue if reply.is_empty() => Verdict::Accepted,
            Acknowledge::Nothing | Acknowledge::ErrorQueue => Verdict::Garbled,
            Acknowledge::Token { yes, .. } if reply == yes.as_bytes() => Verdict::Accepted,
            Acknowledge::Token { no: Some(no), .. } if reply.starts_with(no.as_bytes()) => {
                // SCPI-99 vol. 2 §21.8.10: -200 is the generic execution error.
                Verdict::Refused(DeviceError {
                    code: -200,
                    text: lossy(reply),
                })
            }
            Acknowledge::Token { .. } => Verdict::Garbled,
        }
    }

    /// What an identity reply says.
    #[must_use]
    pub fn who(&self, reply: &[u8]) -> Who {
        let rule = &self.profile.identity;
        let text = lossy(reply);
        // IEEE 488.2 §10.14: an identity is ASCII. What is not has lost its framing on the way.
        let readable = !text.is_empty() && reply.iter().all(|b| matches!(b, b' '..=b'~'));
        if readable && rule.patterns.iter().any(|pattern| matches(pattern, &text)) {
            return Who::Known(text);
        }
        if readable && matches(&rule.shape, &text) {
            Who::Stranger(text)
        } else {
            Who::Rubbish(text)
        }
    }

    /// The error queue of the profile.
    #[must_use]
    pub fn errors(&self) -> Option<&ErrorQueue> {
        self.profile.errors.as_ref()
    }
}

/// A question with its terminator and times.
fn question(profile: &SupplyProfile, text: &str, end: Option<&End>) -> Exchange {
    let mut send = text.as_bytes().to_vec();
    send.extend(profile.framing.send_end.bytes());
    Exchange {
        send,
        end: reply_end(end.unwrap_or(&profile.framing.reply_end)),
        first_byte: profile.timing.first_byte,
        between: profile.timing.between,
        gap: profile.timing.gap_after_question,
        raises: Raise::default(),
    }
}

fn reply_end(end: &End) -> ReplyEnd {
    match end {
        End::Byte(bytes) => ReplyEnd::Byte(bytes.clone()),
        End::Count(count) => ReplyEnd::Count(*count),
        End::Quiet(ms) => ReplyEnd::Quiet(*ms),
    }
}

/// A number put into words, and what it may raise.
#[derive(Clone, Debug, Default)]
struct Filled {
    text: Option<String>,
    raises: Raise,
}

fn needed(step: &[Template], what: &str) -> Result<(), Unsayable> {
    if step.is_empty() {
        return Err(Unsayable(format!("the supply profile has no step {what}")));
    }
    Ok(())
}

fn amps(
    number: &NumberOut,
    current: Current,
    most: Option<Current>,
    raises: bool,
) -> Result<Filled, Unsayable> {
    let (si, text) = written(number, current.a(), most.map(Current::a), "A")?;
    let raises = raises.then(|| Current::from_a(si));
    Ok(Filled {
        text: Some(text),
        raises: Raise {
            current: raises,
            ..Raise::default()
        },
    })
}

fn volts(
    number: &NumberOut,
    voltage: Voltage,
    most: Option<Voltage>,
    raises: bool,
) -> Result<Filled, Unsayable> {
    let (si, text) = written(number, voltage.v(), most.map(Voltage::v), "V")?;
    let raises = raises.then(|| Voltage::from_v(si));
    Ok(Filled {
        text: Some(text),
        raises: Raise {
            voltage: raises,
            ..Raise::default()
        },
    })
}

fn written(
    number: &NumberOut,
    si: f64,
    most: Option<f64>,
    unit: &str,
) -> Result<(f64, String), Unsayable> {
    if let Some(most) = most.filter(|most| si > most * (1.0 + 1e-9)) {
        return Err(Unsayable(format!(
            "{si} {unit} is beyond the supply's {most} {unit}"
        )));
    }
    let text = number.written(si);
    text.ok_or_else(|| Unsayable(format!("{si} {unit} cannot be written in this dialect")))
}

/// A text without NULs and blanks at its ends: some supplies send a NUL before or after a reply.
fn trimmed(mut text: &[u8]) -> &[u8] {
    let junk = |byte: &u8| byte.is_ascii_whitespace() || *byte == 0;
    while let [first, rest @ ..] = text
        && junk(first)
    {
        text = rest;
    }
    while let [rest @ .., last] = text
        && junk(last)
    {
        text = rest;
    }
    text
}

/// Bytes as text; what is no UTF-8 shows as `\xNN`.
#[must_use]
pub fn lossy(bytes: &[u8]) -> String {
    match std::str::from_utf8(bytes) {
        Ok(text) if !text.contains(char::is_control) => text.to_owned(),
        Ok(_) | Err(_) => bytes.escape_ascii().to_string(),
    }
}
