//! The hazards, one table. A row says what a guard sees, how bad it is, what is done, whether it
//! latches, in which states it watches and how long it must be seen. No row can be switched off.

use super::state::State;
use crate::units::Span;
use serde::{Deserialize, Serialize};

/// Everything that can be wrong. The word code of each is its name in every reply, record and page.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fault {
    /// Constant current, but the current is not the setpoint's.
    CurrentOffSetpoint,
    /// The voltage sits at its ceiling and the current falls short of the setpoint.
    ConstantCurrentLost,
    /// The cell's resistance has risen well above what it was.
    CellVoltageHigh,
    /// The cell's resistance has collapsed.
    CellVoltageCollapsed,
    /// The supply says the output is off although it was turned on.
    OutputNotAsCommanded,
    /// The setpoint is not the one that was sent.
    SetpointChanged,
    /// A protection of the supply has tripped.
    ProtectionTripped,
    /// The supply's error queue holds an error.
    SupplyError,
    /// No usable reading for too long.
    ReadingStale,
    /// Readings that cannot be true.
    ReadingImplausible,
    /// More current than the envelope in the ledger.
    EnvelopeExceeded,
    /// More charge than the plan with its margin.
    ChargeCap,
    /// More hours than the plan with its margin.
    TimeCap,
    /// The ledger does not take what it must.
    LedgerNotWriting,
    /// A command could not be carried out.
    CommandFailed,
    /// Another supply answers than the profile describes.
    WrongSupply,
    /// The output was on before the run began.
    OnBeforeStart,
    /// Limits were written and did not read back.
    LimitsNotTaken,
    /// The small proving current did not flow.
    NoContact,
    /// The keeper process is gone.
    KeeperLost,
    /// The daemon or the computer died in the run.
    DaemonLost,
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

/// How long a guard's voice lasts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Latch {
    /// It falls silent when its cause goes.
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

/// One row of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Guard {
    /// The fault.
    pub fault: Fault,
    /// What it sees, in a sentence for people.
    pub sees: &'static str,
    /// What is done.
    pub response: Response,
    /// How long it stays.
    pub latch: Latch,
    /// How long it must be seen.
    pub patience: Patience,
    /// The states in which it watches.
    pub states: &'static [State],
}

const LIVE: &[State] = &[
    State::Striking,
    State::Ramping,
    State::Building,
    State::Holding,
];
const FLOWING: &[State] = &[
    State::Proving,
    State::Striking,
    State::Ramping,
    State::Building,
    State::Holding,
];
const FULL: &[State] = &[State::Ramping, State::Building, State::Holding];
const PROVING: &[State] = &[State::Proving];
const ALWAYS: &[State] = &[
    State::Proving,
    State::Striking,
    State::Ramping,
    State::Building,
    State::Holding,
    State::Stopping,
    State::Unconfirmed,
];

/// Makes one latching row.
const fn row(
    fault: Fault,
    response: Response,
    patience: Patience,
    states: &'static [State],
    sees: &'static str,
) -> Guard {
    Guard {
        fault,
        sees,
        response,
        latch: Latch::UntilCleared,
        patience,
        states,
    }
}

impl Fault {
    /// All faults, in the order of the table.
    pub const ALL: [Self; 21] = [
        Self::CurrentOffSetpoint,
        Self::ConstantCurrentLost,
        Self::CellVoltageHigh,
        Self::CellVoltageCollapsed,
        Self::OutputNotAsCommanded,
        Self::SetpointChanged,
        Self::ProtectionTripped,
        Self::SupplyError,
        Self::ReadingStale,
        Self::ReadingImplausible,
        Self::EnvelopeExceeded,
        Self::ChargeCap,
        Self::TimeCap,
        Self::LedgerNotWriting,
        Self::CommandFailed,
        Self::WrongSupply,
        Self::OnBeforeStart,
        Self::LimitsNotTaken,
        Self::NoContact,
        Self::KeeperLost,
        Self::DaemonLost,
    ];

    /// Its word code.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::CurrentOffSetpoint => "current-off-setpoint",
            Self::ConstantCurrentLost => "constant-current-lost",
            Self::CellVoltageHigh => "cell-voltage-high",
            Self::CellVoltageCollapsed => "cell-voltage-collapsed",
            Self::OutputNotAsCommanded => "output-not-as-commanded",
            Self::SetpointChanged => "setpoint-changed",
            Self::ProtectionTripped => "protection-tripped",
            Self::SupplyError => "supply-error",
            Self::ReadingStale => "reading-stale",
            Self::ReadingImplausible => "reading-implausible",
            Self::EnvelopeExceeded => "envelope-exceeded",
            Self::ChargeCap => "charge-cap",
            Self::TimeCap => "time-cap",
            Self::LedgerNotWriting => "ledger-not-writing",
            Self::CommandFailed => "command-failed",
            Self::WrongSupply => "wrong-supply",
            Self::OnBeforeStart => "on-before-start",
            Self::LimitsNotTaken => "limits-not-taken",
            Self::NoContact => "no-contact",
            Self::KeeperLost => "keeper-lost",
            Self::DaemonLost => "daemon-lost",
        }
    }

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

use Patience::{For, None, Readings};
use Response::{Off, RampOff};

/// The table. Its order is the order of [`Fault::ALL`]; the constant below does not compile
/// otherwise.
const TABLE: [Guard; Fault::ALL.len()] = [
    row(
        Fault::CurrentOffSetpoint,
        Off,
        Readings(3),
        FLOWING,
        "the supply holds its current, but not at the setpoint",
    ),
    row(
        Fault::ConstantCurrentLost,
        Off,
        For(Span::from_s(10.0)),
        FULL,
        "the voltage is at its ceiling and the current falls short: a contact or a lead is lost, \
         or the anode has filmed over",
    ),
    row(
        Fault::CellVoltageHigh,
        RampOff,
        For(Span::from_s(20.0)),
        FULL,
        "the cell's resistance has risen by half: a contact is failing, the anode films over, or \
         the level falls",
    ),
    row(
        Fault::CellVoltageCollapsed,
        Off,
        Readings(3),
        LIVE,
        "the cell's resistance has collapsed: something touches the anode",
    ),
    row(
        Fault::OutputNotAsCommanded,
        Off,
        Readings(2),
        LIVE,
        "the supply says its output is off",
    ),
    row(
        Fault::SetpointChanged,
        Off,
        Readings(2),
        FLOWING,
        "the supply's setpoint is not the one that was sent: somebody turned the knob, or the \
         supply was reset",
    ),
    row(
        Fault::ProtectionTripped,
        Off,
        None,
        FLOWING,
        "a protection of the supply has tripped",
    ),
    row(
        Fault::SupplyError,
        Off,
        None,
        FLOWING,
        "the supply's error queue holds an error",
    ),
    row(
        Fault::ReadingStale,
        Off,
        None,
        FLOWING,
        "no usable reading has come for too long",
    ),
    row(
        Fault::ReadingImplausible,
        Off,
        Readings(3),
        FLOWING,
        "the readings cannot be true",
    ),
    row(
        Fault::EnvelopeExceeded,
        Off,
        Readings(2),
        FLOWING,
        "more current flows than the ledger holds as the most that may",
    ),
    row(
        Fault::ChargeCap,
        Off,
        None,
        LIVE,
        "the plan's charge and its margin are used up",
    ),
    row(
        Fault::TimeCap,
        Off,
        None,
        LIVE,
        "the plan's hours and their margin are used up",
    ),
    row(
        Fault::LedgerNotWriting,
        Off,
        None,
        FLOWING,
        "the ledger does not take what must be written",
    ),
    row(
        Fault::CommandFailed,
        Off,
        None,
        ALWAYS,
        "the supply did not carry out a command",
    ),
    row(
        Fault::WrongSupply,
        Off,
        None,
        FLOWING,
        "another supply answers than the profile describes",
    ),
    row(
        Fault::OnBeforeStart,
        Off,
        None,
        PROVING,
        "the output was on before the run began",
    ),
    row(
        Fault::LimitsNotTaken,
        Off,
        None,
        PROVING,
        "limits were written and did not read back",
    ),
    row(
        Fault::NoContact,
        Off,
        None,
        PROVING,
        "the small proving current does not flow",
    ),
    row(
        Fault::KeeperLost,
        Off,
        None,
        ALWAYS,
        "the process that holds the port is gone",
    ),
    row(
        Fault::DaemonLost,
        Off,
        None,
        ALWAYS,
        "the daemon or the computer died; the next daemon says so",
    ),
];

const _: () = {
    let mut at = 0;
    while at < TABLE.len() {
        assert!(TABLE[at].fault as usize == at && Fault::ALL[at] as usize == at);
        at += 1;
    }
};
