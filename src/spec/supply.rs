//! A supply profile: how one kind of supply is spoken to. Nothing in it is code.
//!
//! Everything a dialect needs is a value here: bytes to send, where a number goes, how a reply
//! ends, what a reply means, how long things take. [`read`] turns a TOML text into a checked
//! profile.

mod asking;
mod checks;
mod question;
mod read;
mod sending;
mod steps;

pub use asking::{Carrier, Columns, Figure, Flag, Give, ModeIn, NumberIn, Question, TruthIn};
pub use read::read;
pub use sending::{NumberOut, Numbers, Slot, Steps, Template};

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
    /// The supply's own watchdog, where it has one.
    #[serde(default)]
    pub watchdog: Option<OwnWatchdog>,
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
    /// What any identity of this dialect looks like: a reply of this shape that matches no pattern
    /// is another supply, a reply of another shape is rubbish.
    pub shape: String,
    /// How often it is asked before giving up.
    pub tries: u8,
}

/// True if the text matches the pattern: `*` stands for any run of characters, `?` for one;
/// capitals and small letters are the same.
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
    /// Codes that blame the line, not the command: the command is repeated once the link is sound
    /// again.
    pub noise: Vec<i32>,
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

/// What counts as off: the state says so and the current is below a threshold, several times
/// running.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct OffRule {
    /// The magnitude of the current is at most this.
    pub below: Current,
    /// So many readings in a row agree.
    pub repeats: u8,
    /// The wait between the off step and the first reading.
    pub settle: Span,
}

/// A supply's own watchdog or output timer: it turns the output off by itself when nobody renews it
/// in time, whatever has become of this computer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct OwnWatchdog {
    /// It acts when it was not renewed for so long.
    pub within: Span,
    /// What arms it, its time included.
    pub arm: Vec<Template>,
    /// What renews it.
    pub renew: Vec<Template>,
    /// What disarms it.
    pub disarm: Vec<Template>,
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

    /// The longest one exchange can take: the bytes out, a reply as late as a reply can be, the
    /// gap.
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
            watchdog: self.watchdog.as_ref().map(|own| own.within),
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
