//! What plan, bath, computer and the course of the run show.

use super::super::{Evidence, Fault, Guard, Latch, Patience, Response, Severity};
use super::{ALWAYS, FLOWING, LEAVING, LIVE, PROVING, row};
use crate::units::Span;
use Evidence::{Bath, Course, Host};
use Latch::{UntilCleared, WhileSeen};
use Patience::{For, None};
use Response::{Alarm, Off, RampOff};
use Severity::{Danger, Notice, Warning};

pub(super) const ROWS: [Guard; 23] = [
    row(
        Fault::ChargeCap,
        Course,
        (Danger, Off, UntilCleared),
        None,
        LIVE,
        [
            "the plan's charge and its margin are used up",
            "a tenth of the plan's charge",
        ],
    ),
    row(
        Fault::TimeCap,
        Course,
        (Danger, Off, UntilCleared),
        None,
        LIVE,
        [
            "the plan's hours and their margin are used up",
            "a quarter of the plan's hours",
        ],
    ),
    row(
        Fault::LevelLow,
        Bath,
        (Danger, RampOff, UntilCleared),
        For(Span::from_s(30.0)),
        LIVE,
        [
            "the level has fallen so far that a piece or the anode's top emerges",
            "what the level sensor tells, or the fall in a day that the station states",
        ],
    ),
    row(
        Fault::TemperatureOut,
        Bath,
        (Warning, Alarm, WhileSeen),
        For(Span::from_min(1.0)),
        LIVE,
        [
            "the bath is colder or warmer than its window",
            "what the temperature sensor tells",
        ],
    ),
    row(
        Fault::StirringOut,
        Bath,
        (Warning, Alarm, WhileSeen),
        For(Span::from_s(30.0)),
        LIVE,
        [
            "the bath is stirred less or more than it should be",
            "what the stirring sensor tells",
        ],
    ),
    row(
        Fault::SensorSilent,
        Bath,
        (Notice, Alarm, WhileSeen),
        None,
        LIVE,
        [
            "a sensor of the station gives no number",
            "five minutes without a number",
        ],
    ),
    row(
        Fault::BrightenerOverdue,
        Bath,
        (Notice, Alarm, UntilCleared),
        None,
        LIVE,
        [
            "so much charge has flowed that the brightener should have been added",
            "the charge's own doubt",
        ],
    ),
    row(
        Fault::ClockJumped,
        Host,
        (Notice, Alarm, UntilCleared),
        None,
        LIVE,
        [
            "the time of day jumped: times of day in the record do not fit together",
            "a jump of 10 s",
        ],
    ),
    row(
        Fault::LedgerSlow,
        Host,
        (Notice, Alarm, WhileSeen),
        None,
        LIVE,
        [
            "the ledger takes long to write: a tired disk or card",
            "a commit of 5 s",
        ],
    ),
    row(
        Fault::DiskNearlyFull,
        Host,
        (Warning, Alarm, WhileSeen),
        None,
        FLOWING,
        [
            "the disk of the ledger is nearly full",
            "100 MB left, looked at twice a minute",
        ],
    ),
    row(
        Fault::LedgerNotWriting,
        Course,
        (Danger, Off, UntilCleared),
        None,
        FLOWING,
        [
            "the ledger does not take what must be written",
            "a refusal, or a commit of 15 s",
        ],
    ),
    row(
        Fault::CommandFailed,
        Course,
        (Danger, Off, UntilCleared),
        None,
        FLOWING,
        ["the supply did not carry out a command", "one command"],
    ),
    row(
        Fault::WrongSupply,
        Course,
        (Danger, Off, UntilCleared),
        None,
        PROVING,
        [
            "another supply answers than the profile describes",
            "two replies alike",
        ],
    ),
    row(
        Fault::IdentityChanged,
        Course,
        (Danger, Off, UntilCleared),
        None,
        LIVE,
        [
            "another supply answers than the one the run began with",
            "two replies alike, asked for after every confusion on the line",
        ],
    ),
    row(
        Fault::OnBeforeStart,
        Course,
        (Danger, Off, UntilCleared),
        None,
        PROVING,
        [
            "the output was on before the run began",
            "what the meter can tell from nothing, or the supply's own word",
        ],
    ),
    row(
        Fault::LimitsNotTaken,
        Course,
        (Danger, Off, UntilCleared),
        None,
        PROVING,
        [
            "limits were written and did not read back",
            "one step of the setting, where the supply tells it",
        ],
    ),
    row(
        Fault::NoContact,
        Course,
        (Danger, Off, UntilCleared),
        None,
        PROVING,
        [
            "the small proving current does not flow",
            "three fifths of the proving current missing",
        ],
    ),
    row(
        Fault::OutputStaysOn,
        Course,
        (Danger, Off, UntilCleared),
        None,
        LEAVING,
        [
            "off was acknowledged and the output stays on, or comes on in a pause",
            "what the meter can tell from nothing, or the supply's own word, twice",
        ],
    ),
    row(
        Fault::RelayStuck,
        Course,
        (Danger, Off, UntilCleared),
        None,
        PROVING,
        [
            "current flows although the relay in the output lead should be open",
            "what the meter can tell from nothing, twice after the time the station states",
        ],
    ),
    row(
        Fault::RelayOpen,
        Course,
        (Danger, Off, UntilCleared),
        None,
        PROVING,
        [
            "the small proving current does not flow although the relay should be closed: it \
             does not close, or a contact is missing",
            "three fifths of the proving current missing",
        ],
    ),
    row(
        Fault::RelayLost,
        Course,
        (Danger, Off, UntilCleared),
        None,
        FLOWING,
        [
            "the line of the relay in the output lead cannot be toggled any more: it has \
             opened",
            "one edge",
        ],
    ),
    row(
        Fault::KeeperLost,
        Course,
        (Danger, Off, UntilCleared),
        None,
        ALWAYS,
        ["the process that holds the port is gone", "its death"],
    ),
    row(
        Fault::DaemonLost,
        Course,
        (Danger, Off, UntilCleared),
        None,
        ALWAYS,
        [
            "the daemon or the computer died; the next daemon says so",
            "its death",
        ],
    ),
];
