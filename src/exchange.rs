//! What passes between deciding and talking. This room knows orders that go down to a supply,
//! answers that come up from it, and what a supply is capable of. It must never know bytes,
//! commands of any dialect, or why an order is given. Control, supply and run come in.

use crate::units::{Current, Moment, Span, Voltage};
use std::fmt;
use std::ops::BitOr;

/// Who a supply says it is, as its identity reply reads with the outer blanks removed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Identity(pub String);

/// Which way a supply regulates at the moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Mode {
    /// The current is held; the cell sets the voltage.
    ConstantCurrent,
    /// The voltage is held at its ceiling; the cell sets the current.
    ConstantVoltage,
    /// Neither, or both at once: the supply does not say.
    Unregulated,
}

/// A set of things that can be read from a supply.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Ask(u16);

impl Ask {
    /// Nothing.
    pub const NOTHING: Self = Self(0);
    /// Measured current.
    pub const CURRENT: Self = Self(1);
    /// Measured voltage.
    pub const VOLTAGE: Self = Self(1 << 1);
    /// Whether the output is on, from the supply's own state.
    pub const OUTPUT: Self = Self(1 << 2);
    /// Constant current or constant voltage.
    pub const MODE: Self = Self(1 << 3);
    /// The current that is set.
    pub const SET_CURRENT: Self = Self(1 << 4);
    /// The voltage that is set.
    pub const SET_VOLTAGE: Self = Self(1 << 5);
    /// The over-voltage protection level.
    pub const OVER_VOLTAGE: Self = Self(1 << 6);
    /// The over-current protection level.
    pub const OVER_CURRENT: Self = Self(1 << 7);
    /// Whether a protection has tripped.
    pub const TRIPPED: Self = Self(1 << 8);
    /// The oldest entry of the error queue.
    pub const ERROR: Self = Self(1 << 9);
    /// Whether the output that is selected is the profile's.
    pub const CHANNEL: Self = Self(1 << 10);
    /// No thing to read, but a word about the rest: what is asked beyond current, voltage and mode
    /// may be left out of the answer where the line is in trouble.
    pub const BRIEFLY: Self = Self(1 << 15);
    /// What the control loop needs each period.
    pub const MEASURED: Self = Self(Self::CURRENT.0 | Self::VOLTAGE.0);

    /// True if everything in `other` is in this set.
    #[must_use]
    pub const fn has(self, other: Self) -> bool {
        self.0 & other.0 == other.0
    }

    /// What is in both.
    #[must_use]
    pub const fn and(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }

    /// What is in this set and not in `other`.
    #[must_use]
    pub const fn without(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }

    /// True if nothing is asked.
    #[must_use]
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }
}

impl BitOr for Ask {
    type Output = Self;
    fn bitor(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }
}

/// One thing a supply is told or asked. An order may take several exchanges on the wire.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Order {
    /// Ask who it is.
    Identify,
    /// Remote mode, front-panel lock, channel, protections' states: whatever the dialect wants
    /// before work. Nothing in it changes the output.
    Prepare,
    /// Set the current to be held.
    SetCurrent(Current),
    /// Set the voltage ceiling.
    SetVoltage(Voltage),
    /// Set the over-voltage protection level and arm it.
    SetOverVoltage(Voltage),
    /// Set the over-current protection level and arm it.
    SetOverCurrent(Current),
    /// Output on.
    On,
    /// Output off.
    Off,
    /// Clear a tripped protection. The output stays off.
    ClearTrip,
    /// Read a set of things.
    Read(Ask),
    /// Give the front panel back. Nothing in it changes the output.
    Release,
    /// Something about the supply's own watchdog, which can only turn the output off.
    Watchdog(Watchdog),
}

/// What is told to a supply's own watchdog.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Watchdog {
    /// From now on turn the output off by yourself, unless you are renewed in time.
    Arm,
    /// All is well.
    Renew,
    /// No longer.
    Disarm,
}

impl Order {
    /// True if the order can raise what flows; such an order needs a permit and a durable envelope.
    #[must_use]
    pub const fn raises(self) -> bool {
        matches!(self, Self::On | Self::SetCurrent(_) | Self::SetVoltage(_))
    }
}

/// As it is told to a person.
impl std::fmt::Display for Order {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Identify => f.write_str("the question who it is"),
            Self::Prepare => f.write_str("taking over from its panel"),
            Self::SetCurrent(current) => write!(f, "a current of {:.1} mA", current.ma()),
            Self::SetVoltage(voltage) => write!(f, "a ceiling of {:.3} V", voltage.v()),
            Self::SetOverVoltage(level) => write!(f, "over-voltage at {:.3} V", level.v()),
            Self::SetOverCurrent(level) => write!(f, "over-current at {:.1} mA", level.ma()),
            Self::On => f.write_str("output on"),
            Self::Off => f.write_str("output off"),
            Self::ClearTrip => f.write_str("clearing its trip"),
            Self::Read(_) => f.write_str("a reading"),
            Self::Release => f.write_str("giving its panel back"),
            Self::Watchdog(_) => f.write_str("its own watchdog"),
        }
    }
}

/// What a supply's word for off is worth: nothing once it has said off in two readings in a row in
/// which current flowed. In one, a digit may have changed on the line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Word {
    against: u8,
}

impl Word {
    /// Takes in what a reading of the profile's own output says.
    pub const fn weigh(&mut self, flows: bool, output: Option<bool>) {
        if self.is_false() {
            return;
        }
        self.against = match (output, flows) {
            (Some(false), true) => self.against + 1,
            (Some(false), false) | (Some(true), true) => 0,
            (Some(true), false) | (None, _) => self.against,
        };
    }

    /// It proves nothing any more.
    #[must_use]
    pub const fn is_false(self) -> bool {
        self.against > 1
    }

    /// What somebody else has found it worth.
    pub const fn heard(&mut self, is_false: bool) {
        if is_false {
            self.against = 2;
        }
    }
}

/// What is wanted of the relay in the output lead.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Contact {
    /// Toggle its line: it closes, and stays closed while that goes on.
    Hold,
    /// Stop for a test: it opens.
    LetGo,
    /// Stop since off cannot be confirmed: it opens, and that is a cut.
    Cut {
        /// The supply has said off while current flowed: its word is no proof while the lead is
        /// open.
        lies: bool,
    },
}

/// An entry of a supply's error queue (SCPI-99 vol. 2 §21.8: a number and a text; zero is no
/// error).
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct DeviceError {
    /// Standard numbers are negative, the device's own are positive.
    pub code: i32,
    /// The device's words.
    pub text: String,
}

impl DeviceError {
    /// True for the entry that says that power came on (SCPI-99 vol. 2 §21.8).
    #[must_use]
    pub const fn is_power_on(&self) -> bool {
        self.code == -500
    }
}

/// What came back for [`Order::Read`]; what was not asked or cannot be said is `None`.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Reading {
    /// When the query for the current left.
    pub sent: Moment,
    /// When its reply was complete.
    pub received: Moment,
    /// Measured current.
    pub current: Option<Current>,
    /// Measured voltage at the supply's terminals.
    pub voltage: Option<Voltage>,
    /// Output state as the supply tells it.
    pub output: Option<bool>,
    /// Regulation mode.
    pub mode: Option<Mode>,
    /// Current setpoint.
    pub set_current: Option<Current>,
    /// Voltage setpoint.
    pub set_voltage: Option<Voltage>,
    /// Over-voltage protection level.
    pub over_voltage: Option<Voltage>,
    /// Over-current protection level.
    pub over_current: Option<Current>,
    /// A protection has tripped.
    pub tripped: Option<bool>,
    /// The oldest error in the queue; `None` if the queue is empty or was not asked.
    pub error: Option<DeviceError>,
    /// The output that is selected is the profile's.
    pub channel: Option<bool>,
    /// So many replies of this order were missing or meant nothing and were asked for again.
    #[serde(default)]
    pub repeated: u8,
}

impl Reading {
    /// What it says of the output, as it is told to a person.
    #[must_use]
    pub fn of_output(&self) -> String {
        if self.channel == Some(false) {
            let text = "another output is selected at the supply, and it answers for that one";
            return text.to_owned();
        }
        let state = match self.output {
            Some(true) => "the supply says that its output is on",
            Some(false) => "the supply says that its output is off",
            None => "the supply does not say whether its output is on",
        };
        match self.current {
            Some(current) if current.abs().a() < 0.1 => {
                format!("{state}, and {:.1} mA flow", current.abs().ma())
            }
            Some(current) => format!("{state}, and {:.3} A flow", current.abs().a()),
            None => format!("{state}, and there is no reading of the current"),
        }
    }
}

/// What an order came to.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// A command went out and, where the dialect acknowledges, was acknowledged.
    Done {
        /// When it left.
        sent: Moment,
        /// When it was over.
        received: Moment,
    },
    /// Who the supply is.
    Identity(Identity),
    /// What was read.
    Reading(Reading),
}

/// Why an order came to nothing. After any of these but `Refused`, whether a command took effect is
/// unknown.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub enum LinkFault {
    /// No reply, after the retries the dialect allows and a resynchronisation.
    Silent,
    /// Replies that mean nothing; the last one is quoted.
    Garbled(String),
    /// The identity is not one the supply profile knows.
    Stranger(String),
    /// The supply answered that it will not: its own error.
    Refused(DeviceError),
    /// The port is gone or could not be used.
    PortLost(String),
    /// It was not carried out, and nothing was sent: the profile cannot say it, or the keeper would
    /// not, since it is beyond its limits or not armed.
    Forbidden(String),
    /// The keeper itself is gone.
    KeeperLost,
}

impl LinkFault {
    /// Its word code.
    #[must_use]
    pub const fn code(&self) -> &'static str {
        match self {
            Self::Silent => "supply-silent",
            Self::Garbled(_) => "supply-garbled",
            Self::Stranger(_) => "wrong-supply",
            Self::Refused(_) => "supply-error",
            Self::PortLost(_) => "port-lost",
            Self::Forbidden(_) => "no-supply",
            Self::KeeperLost => "keeper-lost",
        }
    }

    /// What to do about it before anything runs.
    #[must_use]
    pub const fn remedy(&self) -> &'static str {
        match self {
            Self::Silent => {
                "is it on, and in remote mode if it has one? Look at its cable and the port's name"
            }
            Self::Garbled(_) => {
                "make speed, parity and line end in its menu agree with the supply profile"
            }
            Self::Stranger(_) => {
                "the station names another supply profile or another port: mend it"
            }
            Self::Refused(_) => "look at its panel; `nightvat supply probe` asks it again",
            Self::PortLost(_) => "plug the cable in again, at both ends",
            Self::Forbidden(_) => "look at the supply profile that the station names",
            Self::KeeperLost => "try again; keeper.log in the state folder has its last words",
        }
    }
}

impl fmt::Display for LinkFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Silent => write!(f, "the supply does not answer"),
            Self::Garbled(text) => write!(f, "the supply answers rubbish: `{text}`"),
            Self::Stranger(text) => write!(f, "another supply answers: `{text}`"),
            Self::Refused(e) => write!(f, "the supply refused: {} {}", e.code, e.text),
            Self::PortLost(text) => write!(f, "the port is lost: {text}"),
            Self::Forbidden(text) => write!(f, "the order was not carried out: {text}"),
            Self::KeeperLost => write!(f, "the keeper is gone"),
        }
    }
}

impl std::error::Error for LinkFault {}

/// How far a figure can be from the truth: a share of it, and a fixed amount in the figure's unit.
#[derive(Clone, Copy, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Tolerance {
    /// Share of the figure.
    pub share: f64,
    /// Fixed part, in SI units of the quantity.
    pub fixed: f64,
    /// The step of the figure, in SI units; a truth anywhere within one step may show as this
    /// figure.
    pub step: f64,
}

impl Tolerance {
    /// The hard half-width of a figure, in SI units: share, fixed part and half a step together.
    #[must_use]
    pub fn half_width(&self, si: f64) -> f64 {
        si.abs() * self.share + self.fixed + self.step / 2.0
    }
}

/// What the supply does when mains power returns after an outage.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum OnMainsReturn {
    /// The output stays off.
    Off,
    /// The output comes back on as it was.
    On,
    /// Nobody has tried; counts as unsafe.
    Unknown,
}

/// What tonight's supply can do, as its profile states it.
#[derive(Clone, Debug, PartialEq)]
pub struct Capability {
    /// Highest current it can deliver.
    pub max_current: Current,
    /// Highest voltage it can deliver.
    pub max_voltage: Voltage,
    /// How exactly a current is set; its step is what a setpoint can be told in.
    pub set_current: Tolerance,
    /// How exactly a voltage is set.
    pub set_voltage: Tolerance,
    /// How exactly the current reads.
    pub read_current: Tolerance,
    /// How exactly the voltage reads.
    pub read_voltage: Tolerance,
    /// Two setpoints are never closer in time than this.
    pub least_set_interval: Span,
    /// The longest one exchange can take, replies and gaps included.
    pub longest_exchange: Span,
    /// What can be read at all.
    pub reads: Ask,
    /// Over-voltage protection can be programmed.
    pub guards_over_voltage: bool,
    /// Over-current protection can be programmed.
    pub guards_over_current: bool,
    /// What happens when mains returns.
    pub on_mains_return: OnMainsReturn,
    /// It turns its output off by itself when nobody has renewed it for so long.
    pub watchdog: Option<Span>,
}

/// A setpoint that is read back is the one that was sent, if the two differ by no more of a step.
const SAME_STEPS: f64 = 0.6;

impl Capability {
    /// True if the setpoint of the current that the supply holds is this one, by its step.
    #[must_use]
    pub fn holds(&self, held: Current, set: Current) -> bool {
        let step = self.set_current.step.max(1e-6);
        (held - set).abs().a() <= SAME_STEPS * step
    }
}
