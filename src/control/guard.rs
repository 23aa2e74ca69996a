//! The hazards, one table. A row says what a guard sees, how bad it is, what is done, whether it
//! latches, in which states it watches and how long it must be seen. No row can be switched off.

mod table;

use super::state::State;
use crate::units::Span;
use serde::{Deserialize, Serialize};
use table::TABLE;

macro_rules! faults {
    ($($(#[doc = $doc:literal])+ $name:ident = $code:literal,)+) => {
        /// Everything that can be wrong. The word code of each is its name in every reply, record
        /// and page. Where two guards of one response see their fault at once, the one that comes
        /// first here speaks: the one that says more of the cause.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
        pub enum Fault {
            $($(#[doc = $doc])+ #[serde(rename = $code)] $name,)+
        }

        impl Fault {
            /// All faults, in the order of the table.
            pub const ALL: [Self; [$($code),+].len()] = [$(Self::$name),+];

            /// Its word code.
            #[must_use]
            pub const fn code(self) -> &'static str {
                match self { $(Self::$name => $code,)+ }
            }
        }
    };
}

faults! {
    /// The computer slept.
    HostSlept = "host-slept",
    /// The supply lost its power and came back as after power-on.
    SupplyPowerCycled = "supply-power-cycled",
    /// Another output is selected than the profile's.
    WrongChannel = "wrong-channel",
    /// A protection of the supply has tripped.
    ProtectionTripped = "protection-tripped",
    /// The supply says the output is off although it was turned on.
    OutputNotAsCommanded = "output-not-as-commanded",
    /// The setpoint is not the one that was sent.
    SetpointChanged = "setpoint-changed",
    /// The supply's error queue holds an error.
    SupplyError = "supply-error",
    /// Readings that cannot be true.
    ReadingImplausible = "reading-implausible",
    /// The readings do not follow a step of the setpoint.
    ReadbackFrozen = "readback-frozen",
    /// Current flows and there is less voltage than leads alone take.
    CurrentWithoutVoltage = "current-without-voltage",
    /// Constant current, but the current is not the setpoint's.
    CurrentOffSetpoint = "current-off-setpoint",
    /// The voltage sits at its ceiling and the current falls short of the setpoint.
    ConstantCurrentLost = "constant-current-lost",
    /// The cell's resistance has risen well above what it was.
    CellVoltageHigh = "cell-voltage-high",
    /// The cell's resistance has collapsed.
    CellVoltageCollapsed = "cell-voltage-collapsed",
    /// The cell's resistance has risen slowly and smoothly above the lowest it had.
    AnodeFilm = "anode-film",
    /// The cell's resistance climbs from minute to minute.
    VoltageClimbing = "voltage-climbing",
    /// The voltage jumps from reading to reading.
    VoltageNoisy = "voltage-noisy",
    /// At the end of the strike less surface takes current than planned.
    CoverNotGrowing = "cover-not-growing",
    /// Replies come, but no usable reading for too long.
    ReadingStale = "reading-stale",
    /// Nothing comes from the supply for longer than the station allows.
    LinkLost = "link-lost",
    /// Many replies are missing or mean nothing.
    LinkGarbled = "link-garbled",
    /// A reading takes longer than a period.
    RepliesLate = "replies-late",
    /// More current than the envelope in the ledger.
    EnvelopeExceeded = "envelope-exceeded",
    /// More density at edges and tips than the bath bears.
    PeakDensityHigh = "peak-density-high",
    /// More charge than the plan with its margin.
    ChargeCap = "charge-cap",
    /// More hours than the plan with its margin.
    TimeCap = "time-cap",
    /// The level has fallen so far that a piece or the anode emerges.
    LevelLow = "level-low",
    /// The bath is too cold or too warm.
    TemperatureOut = "temperature-out",
    /// The bath is stirred too little or too much.
    StirringOut = "stirring-out",
    /// A sensor gives no number.
    SensorSilent = "sensor-silent",
    /// The brightener should have been added.
    BrightenerOverdue = "brightener-overdue",
    /// The time of day jumped.
    ClockJumped = "clock-jumped",
    /// The ledger takes long to write.
    LedgerSlow = "ledger-slow",
    /// The disk is nearly full.
    DiskNearlyFull = "disk-nearly-full",
    /// The ledger does not take what it must.
    LedgerNotWriting = "ledger-not-writing",
    /// A command could not be carried out.
    CommandFailed = "command-failed",
    /// Another supply answers than the profile describes.
    WrongSupply = "wrong-supply",
    /// Another supply answers than the one the run began with.
    IdentityChanged = "identity-changed",
    /// The output was on before the run began.
    OnBeforeStart = "on-before-start",
    /// Limits were written and did not read back.
    LimitsNotTaken = "limits-not-taken",
    /// The small proving current did not flow.
    NoContact = "no-contact",
    /// Off was acknowledged and current flows on.
    OutputStaysOn = "output-stays-on",
    /// The relay in the output lead does not open.
    RelayStuck = "relay-stuck",
    /// The relay in the output lead does not close.
    RelayOpen = "relay-open",
    /// The relay in the output lead cannot be held closed any more.
    RelayLost = "relay-lost",
    /// The keeper process is gone.
    KeeperLost = "keeper-lost",
    /// The daemon or the computer died in the run.
    DaemonLost = "daemon-lost",
}

/// What is done when a guard speaks. The order is the severity: the worst wins.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Response {
    /// Say so, and go on.
    Alarm,
    /// Current to nothing first, then off: kinder to the supply, for what is slow.
    RampOff,
    /// Off at once.
    Off,
}

/// How bad it is for the one who sleeps.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// She can read it in the morning.
    Notice,
    /// The piece may suffer before the morning.
    Warning,
    /// Something may come to harm: the output goes off.
    Danger,
}

/// How long a guard's voice lasts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Latch {
    /// It falls silent when its cause has gone for a minute.
    WhileSeen,
    /// It stays until a person clears it.
    UntilCleared,
}

/// How long a sight must last before the guard speaks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Patience {
    /// The first sight is enough.
    None,
    /// This many sights in a row.
    Readings(u32),
    /// Seen without a break for this long.
    For(Span),
}

/// What a guard looks at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Evidence {
    /// Current and voltage of a reading.
    Electrical,
    /// What the supply says of itself.
    Supply,
    /// How the link behaves.
    Link,
    /// The bath: its sensors, and what is reckoned of it.
    Bath,
    /// The computer.
    Host,
    /// The course of the run: an answer, a refusal, a process that died.
    Course,
}

/// One row of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Guard {
    /// The fault.
    pub fault: Fault,
    /// What it looks at.
    pub evidence: Evidence,
    /// What it sees, in a sentence for people.
    pub sees: &'static str,
    /// How bad it is.
    pub severity: Severity,
    /// What is done.
    pub response: Response,
    /// How long it stays.
    pub latch: Latch,
    /// How long it must be seen.
    pub patience: Patience,
    /// The states in which it watches.
    pub states: &'static [State],
    /// The least it can detect, in words; [`super::least`] gives tonight's figures.
    pub least: &'static str,
}

impl Fault {
    /// The fault with this word code.
    #[must_use]
    pub fn from_code(code: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|fault| fault.code() == code)
    }

    /// Its row.
    #[must_use]
    pub const fn guard(self) -> Guard {
        TABLE[self as usize]
    }
}

/// A set of faults.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Faults(u64);

const _: () = assert!(Fault::ALL.len() <= 64);

impl Faults {
    /// None.
    pub const NONE: Self = Self(0);

    /// Adds one.
    pub const fn add(&mut self, fault: Fault) {
        self.0 |= 1 << fault as u64;
    }

    /// Takes one out.
    pub const fn remove(&mut self, fault: Fault) {
        self.0 &= !(1 << fault as u64);
    }

    /// True if it is in.
    #[must_use]
    pub const fn has(self, fault: Fault) -> bool {
        self.0 & (1 << fault as u64) != 0
    }

    /// True if none is in.
    #[must_use]
    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// All that are in, in the order of the table.
    pub fn iter(self) -> impl Iterator<Item = Fault> {
        Fault::ALL.into_iter().filter(move |fault| self.has(*fault))
    }
}
