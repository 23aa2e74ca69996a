//! A supply profile: how one kind of supply is spoken to. Nothing in it is code.
//!
//! Everything a dialect needs is a value here: bytes to send, where a number goes, how a reply ends, what a
//! reply means, how long things take. [`read`] turns a TOML text into a checked profile.

mod checks;
mod question;
mod read;

pub use read::read;

use crate::exchange::{Ask, Capability, OnMainsReturn, Tolerance};
use crate::units::{Current, Span, Voltage};
use serde::{Deserialize, Serialize};

/// A checked supply profile. It has an off step and a proof of off, always.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SupplyProfile {
    /// Its name, for people.
    pub name: String,
    /// Who may answer.
    pub identity: IdentityRule,
    /// How the port is set.
    pub line: LineSettings,
    /// Where a message and a reply end.
    pub framing: Framing,
    /// How long things take.
    pub timing: Timing,
    /// How a command is acknowledged.
    pub acknowledge: Acknowledge,
    /// The error queue, where there is one.
    pub errors: Option<ErrorQueue>,
    /// Sent before every order, to point a supply of several outputs at ours.
    pub select: Option<Template>,
    /// What is sent for each order.
    pub steps: Steps,
    /// How numbers are written into the steps.
    pub numbers: Numbers,
    /// What can be asked.
    pub questions: Vec<Question>,
    /// What the supply can do, and how exactly.
    pub ratings: Ratings,
    /// What counts as off.
    pub off: OffRule,
    /// Who tried it, on what.
    pub provenance: String,
}

/// Who may answer at the other end.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct IdentityRule {
    /// The question.
    pub ask: String,
    /// How its reply ends, if not as the framing says.
    pub end: Option<End>,
    /// The reply matches one of these; see [`matches`].
    pub patterns: Vec<String>,
    /// What any identity of this dialect looks like: a reply of this shape that matches no pattern is another
    /// supply, a reply of another shape is rubbish.
    pub shape: String,
    /// How often it is asked before giving up.
    pub tries: u8,
}

/// True if the text matches the pattern: `*` stands for any run of characters, `?` for one; capitals and small
/// letters are the same.
#[must_use]
pub fn matches(pattern: &str, text: &str) -> bool {
    let (p, t) = (pattern.as_bytes(), text.as_bytes());
    let (mut i, mut j) = (0, 0);
    let mut star: Option<(usize, usize)> = None;
    while j < t.len() {
        match p.get(i) {
            Some(b'*') => {
                star = Some((i, j));
                i += 1;
            }
            Some(c) if *c == b'?' || c.eq_ignore_ascii_case(&t[j]) => {
                i += 1;
                j += 1;
            }
            Some(_) | None => {
                let Some((at, from)) = star else { return false };
                star = Some((at, from + 1));
                i = at + 1;
                j = from + 1;
            }
        }
    }
    p[i..].iter().all(|c| *c == b'*')
}

/// How the port is set.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LineSettings {
    /// Bits a second.
    pub baud: u32,
    /// Data bits, 7 or 8.
    pub bits: u8,
    /// Parity.
    pub parity: Parity,
    /// Stop bits, 1 or 2.
    pub stop: u8,
    /// Flow control.
    pub flow: Flow,
    /// The level of the line DTR after opening; without it the kernel's (on) stays.
    pub dtr: Option<bool>,
    /// The wait after opening, before the first byte.
    pub wait_after_open: Span,
}

impl LineSettings {
    /// How long so many bytes take on the wire, with their start, parity and stop bits.
    #[must_use]
    pub fn wire_time(&self, bytes: usize) -> Span {
        let parity = match self.parity {
            Parity::None => 0,
            Parity::Even | Parity::Odd => 1,
        };
        let bits = f64::from(1 + self.bits + parity + self.stop);
        Span::from_s(bytes as f64 * bits / f64::from(self.baud))
    }
}

/// Parity of a serial line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Parity {
    /// None.
    None,
    /// Even.
    Even,
    /// Odd.
    Odd,
}

/// Flow control of a serial line.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Flow {
    /// None.
    None,
    /// RTS and CTS.
    Hardware,
    /// XON and XOFF.
    Software,
}

/// Where a message and a reply end.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Framing {
    /// Follows every message; may be empty.
    pub send_end: String,
    /// How a reply ends.
    pub reply_end: End,
    /// No reply has more bytes than this.
    pub longest_reply: usize,
    /// The supply sends every message back before it answers.
    pub echo: bool,
}

/// How a reply ends.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum End {
    /// At any of these bytes.
    Byte(Vec<u8>),
    /// After this many bytes.
    Count(usize),
    /// When nothing has come for this many milliseconds.
    Quiet(u32),
}

/// How long things take.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Timing {
    /// The first byte of a reply comes within this.
    pub first_byte: Span,
    /// Each further byte comes within this.
    pub between: Span,
    /// Nothing is sent for this long after a command.
    pub gap_after_command: Span,
    /// Nothing is sent for this long after a question.
    pub gap_after_question: Span,
    /// No reply comes later than this, whatever happened; the silence that ends a confusion.
    pub longest: Span,
}

/// How a command is acknowledged.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Acknowledge {
    /// Not at all.
    Nothing,
    /// By a word.
    Token {
        /// The word for yes.
        yes: String,
        /// The word for no.
        no: Option<String>,
    },
    /// The error queue is asked after every command.
    ErrorQueue,
}

/// The error queue (SCPI-99 vol. 2 §21.8).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ErrorQueue {
    /// Asks for the oldest entry and takes it out.
    pub ask: String,
    /// The code of an empty queue.
    pub empty: i32,
    /// Codes that only tell of something and are no error.
    pub events: Vec<i32>,
    /// Codes that blame the line, not the command: the command is repeated once the link is sound again.
    pub noise: Vec<i32>,
}

/// A message with at most one number in it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Template {
    /// Up to the number.
    pub before: String,
    /// Which number goes in.
    pub slot: Option<Slot>,
    /// After the number.
    pub after: String,
}

impl Template {
    /// Reads `"CURR {current}"`: at most one placeholder, in braces. `{{` and `}}` are not known: no dialect
    /// seen sends braces.
    ///
    /// # Errors
    /// The placeholder that is unknown, unclosed or one too many.
    pub fn parse(text: &str) -> Result<Self, String> {
        let plain = |text: &str| Self {
            before: text.into(),
            slot: None,
            after: String::new(),
        };
        let Some((before, rest)) = text.split_once('{') else {
            return if text.contains('}') {
                Err("a `}` without a `{`".into())
            } else {
                Ok(plain(text))
            };
        };
        let Some((name, after)) = rest.split_once('}') else {
            return Err("a `{` without a `}`".into());
        };
        if before.contains('}') || after.contains(['{', '}']) {
            return Err("more than one placeholder".into());
        }
        let slot = match name {
            "current" => Slot::Current,
            "voltage" => Slot::Voltage,
            other => return Err(format!("the placeholder `{{{other}}}`")),
        };
        Ok(Self {
            before: before.into(),
            slot: Some(slot),
            after: after.into(),
        })
    }

    /// A message without a number.
    #[must_use]
    pub fn fixed(text: &str) -> Self {
        Self {
            before: text.into(),
            slot: None,
            after: String::new(),
        }
    }

    /// The message as it stands in a profile.
    #[must_use]
    pub fn text(&self) -> String {
        let slot = match self.slot {
            None => "",
            Some(Slot::Current) => "{current}",
            Some(Slot::Voltage) => "{voltage}",
        };
        format!("{}{slot}{}", self.before, self.after)
    }
}

/// A number that goes into a message.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Slot {
    /// The current of the order.
    Current,
    /// The voltage of the order.
    Voltage,
}

/// What is sent for each order. An empty list is a step the supply does not have.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Steps {
    /// Remote mode, lock, quiet: whatever it wants before work.
    pub prepare: Vec<Template>,
    /// The current to hold.
    pub set_current: Vec<Template>,
    /// The voltage ceiling.
    pub set_voltage: Vec<Template>,
    /// The over-voltage protection.
    pub set_over_voltage: Vec<Template>,
    /// The over-current protection.
    pub set_over_current: Vec<Template>,
    /// Output on.
    pub on: Vec<Template>,
    /// Output off; never empty.
    pub off: Vec<Template>,
    /// Clears a tripped protection.
    pub clear_trip: Vec<Template>,
    /// Gives the front panel back.
    pub release: Vec<Template>,
}

impl Steps {
    /// Every step with its name in the file.
    #[must_use]
    pub fn named(&self) -> [(&'static str, &[Template]); 9] {
        [
            ("prepare", &self.prepare),
            ("set_current", &self.set_current),
            ("set_voltage", &self.set_voltage),
            ("set_over_voltage", &self.set_over_voltage),
            ("set_over_current", &self.set_over_current),
            ("on", &self.on),
            ("off", &self.off),
            ("clear_trip", &self.clear_trip),
            ("release", &self.release),
        ]
    }
}

/// How a number is written: fixed point, never with an exponent or a unit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct NumberOut {
    /// Digits after the point; without any there is no point.
    pub decimals: u8,
    /// The text has this many characters, zeros in front.
    pub width: Option<u8>,
    /// What is written is the SI value times this.
    pub scale: f64,
    /// The supply takes no finer steps than this, in SI units.
    pub step: f64,
}

impl NumberOut {
    /// How many last digits one step of the supply is.
    #[must_use]
    pub fn digits_per_step(&self) -> f64 {
        self.step * self.scale * 10_f64.powi(i32::from(self.decimals))
    }

    /// The SI value rounded down to a step and how it is written; `None` if it is negative, not a number, or
    /// too wide. An order within a millionth of a step below a step is that step: 0.35 A is 350 steps of 1 mA
    /// although its binary fraction falls short of it.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // checked just before
    pub fn written(&self, si: f64) -> Option<(f64, String)> {
        let steps = (si / self.step + 1e-6).floor();
        let digits = steps * self.digits_per_step().round();
        if !(0.0..=1e15).contains(&digits) || si < 0.0 {
            return None;
        }
        let (digits, decimals) = (digits as u64, usize::from(self.decimals));
        let power = 10_u64.pow(u32::from(self.decimals));
        let width = usize::from(self.width.unwrap_or(0));
        let text = if decimals == 0 {
            format!("{digits:0width$}")
        } else {
            let whole = width.saturating_sub(decimals + 1);
            format!("{:0whole$}.{:0decimals$}", digits / power, digits % power)
        };
        let fits = self.width.is_none() || text.len() == width;
        fits.then_some((steps * self.step, text))
    }
}

/// How the numbers of a profile are written.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Numbers {
    /// The current to hold.
    pub current: NumberOut,
    /// The voltage ceiling.
    pub voltage: NumberOut,
    /// The over-current protection.
    pub over_current: NumberOut,
    /// The over-voltage protection.
    pub over_voltage: NumberOut,
}

/// A question and what its reply gives.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Question {
    /// The bytes to send.
    pub ask: String,
    /// How its reply ends, if not as the framing says.
    pub end: Option<End>,
    /// What the reply says; at least one thing.
    pub gives: Vec<Give>,
}

/// One thing a reply says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Give {
    /// A measured or a set figure.
    Figure(Figure, NumberIn),
    /// Yes or no.
    Truth(Flag, TruthIn),
    /// Constant current or constant voltage.
    Mode(ModeIn),
}

/// A figure that can be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Figure {
    /// Measured current.
    Current,
    /// Measured voltage.
    Voltage,
    /// Current setpoint.
    SetCurrent,
    /// Voltage setpoint.
    SetVoltage,
    /// Over-voltage protection level.
    OverVoltage,
    /// Over-current protection level.
    OverCurrent,
}

/// A yes or no that can be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Flag {
    /// The output is on.
    Output,
    /// A protection has tripped.
    Tripped,
}

/// Columns of a reply, counted from one, both ends included.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Columns {
    /// First column.
    pub first: usize,
    /// Last column.
    pub last: usize,
}

/// How a number stands in a reply.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct NumberIn {
    /// Where, if not the whole reply.
    pub columns: Option<Columns>,
    /// A unit that may be glued to it.
    pub unit: Option<String>,
    /// SI units for one of what is written.
    pub scale: f64,
    /// Words that mean there is no reading.
    pub no_reading: Vec<String>,
}

/// How a yes or no stands in a reply.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum TruthIn {
    /// As a word.
    Words {
        /// Where, if not the whole reply.
        columns: Option<Columns>,
        /// Words for yes.
        yes: Vec<String>,
        /// Words for no.
        no: Vec<String>,
    },
    /// As bits: yes if any bit of the mask is set, or the reverse.
    Bits {
        /// What carries them.
        carrier: Carrier,
        /// Which bits.
        mask: u32,
        /// Yes if any is set; else yes if none is.
        yes_when_set: bool,
    },
}

/// How the regulation mode stands in a reply.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ModeIn {
    /// As a word; any other word is neither.
    Words {
        /// Where, if not the whole reply.
        columns: Option<Columns>,
        /// Words for constant current.
        constant_current: Vec<String>,
        /// Words for constant voltage.
        constant_voltage: Vec<String>,
    },
    /// As one bit each; both or neither set is neither mode. Where only one bit is known, its absence is the
    /// other mode.
    Bits {
        /// What carries them.
        carrier: Carrier,
        /// The bit for constant current.
        constant_current: Option<u32>,
        /// The bit for constant voltage.
        constant_voltage: Option<u32>,
    },
}

/// What carries bits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Carrier {
    /// A whole number in the reply.
    Number,
    /// A raw byte of the reply, counted from one.
    Byte(usize),
}

/// What the supply can do, and how exactly.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Ratings {
    /// Highest current.
    pub max_current: Current,
    /// Highest voltage.
    pub max_voltage: Voltage,
    /// How exactly a current is set.
    pub set_current: Tolerance,
    /// How exactly a voltage is set.
    pub set_voltage: Tolerance,
    /// How exactly the current reads.
    pub read_current: Tolerance,
    /// How exactly the voltage reads.
    pub read_voltage: Tolerance,
    /// Two setpoints are never closer in time than this.
    pub least_set_interval: Span,
    /// What happens when mains returns.
    pub on_mains_return: OnMainsReturn,
}

/// What counts as off: the state says so and the current is below a threshold, several times running.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct OffRule {
    /// The magnitude of the current is at most this.
    pub below: Current,
    /// So many readings in a row agree.
    pub repeats: u8,
    /// The wait between the off step and the first reading.
    pub settle: Span,
}

impl Give {
    /// What it gives, as a set.
    #[must_use]
    pub fn asks(&self) -> Ask {
        match self {
            Self::Figure(Figure::Current, _) => Ask::CURRENT,
            Self::Figure(Figure::Voltage, _) => Ask::VOLTAGE,
            Self::Figure(Figure::SetCurrent, _) => Ask::SET_CURRENT,
            Self::Figure(Figure::SetVoltage, _) => Ask::SET_VOLTAGE,
            Self::Figure(Figure::OverVoltage, _) => Ask::OVER_VOLTAGE,
            Self::Figure(Figure::OverCurrent, _) => Ask::OVER_CURRENT,
            Self::Truth(Flag::Output, _) => Ask::OUTPUT,
            Self::Truth(Flag::Tripped, _) => Ask::TRIPPED,
            Self::Mode(_) => Ask::MODE,
        }
    }
}

impl Question {
    /// Everything its reply gives.
    #[must_use]
    pub fn asks(&self) -> Ask {
        self.gives
            .iter()
            .fold(Ask::NOTHING, |all, give| all | give.asks())
    }
}

impl SupplyProfile {
    /// Everything that can be read.
    #[must_use]
    pub fn reads(&self) -> Ask {
        let asked = self
            .questions
            .iter()
            .fold(Ask::NOTHING, |all, q| all | q.asks());
        if self.errors.is_some() {
            asked | Ask::ERROR
        } else {
            asked
        }
    }

    /// The longest one exchange can take: the bytes out, a reply as late as a reply can be, the gap.
    #[must_use]
    pub fn longest_exchange(&self) -> Span {
        let gap = self
            .timing
            .gap_after_command
            .max(self.timing.gap_after_question);
        self.line.wire_time(self.longest_message()) + self.timing.longest + gap
    }

    fn longest_message(&self) -> usize {
        const LONGEST_NUMBER: usize = 16;
        let steps = self.steps.named();
        let steps = steps.iter().flat_map(|(_, list)| list.iter());
        let step = steps
            .map(|t| t.before.len() + LONGEST_NUMBER + t.after.len())
            .max();
        let question = self.questions.iter().map(|q| q.ask.len()).max();
        step.max(question).unwrap_or(0) + self.framing.send_end.len()
    }

    /// What plan and control need to know of it.
    #[must_use]
    pub fn capability(&self) -> Capability {
        Capability {
            max_current: self.ratings.max_current,
            max_voltage: self.ratings.max_voltage,
            set_current: self.ratings.set_current,
            set_voltage: self.ratings.set_voltage,
            read_current: self.ratings.read_current,
            read_voltage: self.ratings.read_voltage,
            least_set_interval: self.ratings.least_set_interval,
            longest_exchange: self.longest_exchange(),
            reads: self.reads(),
            guards_over_voltage: !self.steps.set_over_voltage.is_empty(),
            guards_over_current: !self.steps.set_over_current.is_empty(),
            on_mains_return: self.ratings.on_mains_return,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns_match_whole_texts_whatever_the_case() {
        assert!(matches("*,PSU-?,*", "acme,psu-7,0,1.0"));
        assert!(matches("*", ""));
        assert!(!matches("SIM-*", "a SIM-1"));
        assert!(!matches("SIM-1", "SIM-12"));
        assert!(matches("*ab*ab", "abxabyab"));
    }

    #[test]
    fn templates_know_their_placeholder() {
        let t = Template::parse("CURR {current};").unwrap();
        assert_eq!(
            (t.before.as_str(), t.slot, t.after.as_str()),
            ("CURR ", Some(Slot::Current), ";")
        );
        for bad in [
            "CURR {amps}",
            "CURR {current",
            "CURR current}",
            "{current}{voltage}",
            "{}",
        ] {
            assert!(Template::parse(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_byte_takes_its_frame_bits_on_the_wire() {
        let mut line = LineSettings {
            baud: 9600,
            bits: 8,
            parity: Parity::None,
            stop: 1,
            flow: Flow::None,
            dtr: None,
            wait_after_open: Span::ZERO,
        };
        // 10 bits at 9600 bit/s: serial-line arithmetic, 1.0417 ms a character.
        assert!((line.wire_time(1).s() * 1e3 - 1.041_67).abs() < 1e-4);
        line.parity = Parity::Even;
        assert!((line.wire_time(1).s() * 1e3 - 1.145_83).abs() < 1e-4);
    }
}
