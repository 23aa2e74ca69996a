//! What readings and the link show, and the sleep that explains why they do not come.

use super::super::{Evidence, Fault, Guard, Latch, Patience, Response, Severity};
use super::{FLOWING, FULL, LIVE, STRIKING, row};
use crate::units::Span;
use Evidence::{Bath, Electrical, Host, Link, Supply};
use Latch::{UntilCleared, WhileSeen};
use Patience::{For, None, Readings};
use Response::{Alarm, Off, RampOff};
use Severity::{Danger, Notice, Warning};

pub(super) const ROWS: [Guard; 24] = [
    // First: after a sleep nothing that is missing, stale or late is the supply's doing.
    row(
        Fault::HostSlept,
        Host,
        (Danger, Off, UntilCleared),
        None,
        FLOWING,
        [
            "the computer slept, or this program stood still, while current flowed",
            "a sleep of 2 s; a standstill that the keeper did not wait out",
        ],
    ),
    row(
        Fault::SupplyPowerCycled,
        Supply,
        (Danger, Off, UntilCleared),
        None,
        LIVE,
        [
            "the supply lost its power and came back as after power-on",
            "one reading of a supply that tells its output and setpoint, or its power-on \
             event",
        ],
    ),
    row(
        Fault::WrongChannel,
        Supply,
        (Danger, Off, UntilCleared),
        Readings(2),
        FLOWING,
        [
            "another output is selected than the profile's",
            "two readings, where the profile asks which output is selected",
        ],
    ),
    row(
        Fault::ProtectionTripped,
        Supply,
        (Danger, Off, UntilCleared),
        Readings(2),
        FLOWING,
        [
            "a protection of the supply has tripped",
            "two readings, where the supply tells it",
        ],
    ),
    row(
        Fault::OutputNotAsCommanded,
        Supply,
        (Danger, Off, UntilCleared),
        Readings(2),
        LIVE,
        [
            "the supply says its output is off",
            "two readings, where the supply tells its output",
        ],
    ),
    row(
        Fault::SetpointChanged,
        Supply,
        (Danger, Off, UntilCleared),
        Readings(2),
        FLOWING,
        [
            "the supply's setpoint is not the one that was sent: somebody turned the knob, \
             or the supply was reset",
            "six tenths of a step of the current, a step of the voltage, where the supply \
             tells them",
        ],
    ),
    row(
        Fault::SupplyError,
        Supply,
        (Danger, Off, UntilCleared),
        None,
        FLOWING,
        [
            "the supply's error queue holds an error",
            "one entry, where the supply has a queue",
        ],
    ),
    row(
        Fault::ReadingImplausible,
        Electrical,
        (Danger, Off, UntilCleared),
        Readings(3),
        FLOWING,
        [
            "the readings cannot be true",
            "a tenth above the supply's ratings, or less than nothing by twice the meter's \
             error",
        ],
    ),
    row(
        Fault::ReadbackFrozen,
        Electrical,
        (Danger, Off, UntilCleared),
        None,
        LIVE,
        [
            "the readings do not follow a step of the setpoint: the meter stands still",
            "a step of four of the meter's steps that does not show, twice",
        ],
    ),
    row(
        Fault::CurrentWithoutVoltage,
        Electrical,
        (Danger, Off, UntilCleared),
        Readings(3),
        FLOWING,
        [
            "current flows and there is less voltage than leads alone take: a dead short at \
             the supply",
            "as much current as puts the meter's own error across 10 mohm",
        ],
    ),
    row(
        Fault::CurrentOffSetpoint,
        Electrical,
        (Danger, Off, UntilCleared),
        Readings(3),
        FLOWING,
        [
            "the supply holds its current, but not at the setpoint",
            "one and a half times what meter and setting may be off, and 1 % of the \
             setpoint",
        ],
    ),
    row(
        Fault::ConstantCurrentLost,
        Electrical,
        (Danger, Off, UntilCleared),
        For(Span::from_s(10.0)),
        FULL,
        [
            "the voltage is at its ceiling and the current falls short: a contact or a lead \
             is lost, or the anode has filmed over",
            "a tenth of the setpoint and what the meter may be off",
        ],
    ),
    row(
        Fault::CellVoltageHigh,
        Electrical,
        (Danger, RampOff, UntilCleared),
        For(Span::from_s(20.0)),
        FULL,
        [
            "the cell's resistance has risen by half: a contact is failing, the anode films \
             over, or the level falls",
            "half of the cell's resistance, and 0.1 V",
        ],
    ),
    row(
        Fault::CellVoltageCollapsed,
        Electrical,
        (Danger, Off, UntilCleared),
        Readings(3),
        FULL,
        [
            "the cell's resistance has collapsed: something touches the anode",
            "a fall to two fifths, within half a minute, of a voltage the meter can judge",
        ],
    ),
    row(
        Fault::AnodeFilm,
        Electrical,
        (Danger, RampOff, UntilCleared),
        For(Span::from_min(5.0)),
        FULL,
        [
            "the cell's resistance has risen slowly and smoothly by a third above the \
             lowest it had: the anode films over",
            "a rise by three tenths, and 50 mV, of what a minute's mean can tell",
        ],
    ),
    row(
        Fault::VoltageClimbing,
        Electrical,
        (Warning, Alarm, WhileSeen),
        None,
        FULL,
        [
            "the cell's resistance climbs by a tenth in ten minutes: a contact is going, or \
             the anode films over",
            "a tenth of the resistance, and 20 mV, in ten minutes' means",
        ],
    ),
    row(
        Fault::VoltageNoisy,
        Electrical,
        (Warning, Alarm, WhileSeen),
        For(Span::from_s(30.0)),
        FULL,
        [
            "the voltage jumps from reading to reading: a contact is about to fail",
            "10 mV, 1 % of the voltage, or three of the meter's steps, on the mean of a \
             minute",
        ],
    ),
    row(
        Fault::CoverNotGrowing,
        Electrical,
        (Warning, Alarm, UntilCleared),
        For(Span::from_s(10.0)),
        STRIKING,
        [
            "at the end of the strike far less surface takes current than planned: copper \
             does not spread over the paint",
            "a fifth of the surface missing in the poorest bath, two thirds in the best, where \
             the strike can be probed by steps",
        ],
    ),
    row(
        Fault::ReadingStale,
        Link,
        (Danger, Off, UntilCleared),
        None,
        FLOWING,
        [
            "replies come, and no usable reading for too long",
            "10 s without one",
        ],
    ),
    row(
        Fault::LinkLost,
        Link,
        (Danger, Off, UntilCleared),
        None,
        LIVE,
        [
            "nothing comes from the supply for longer than the station allows",
            "the station's allowance",
        ],
    ),
    row(
        Fault::LinkGarbled,
        Link,
        (Warning, Alarm, WhileSeen),
        None,
        FLOWING,
        [
            "many replies are missing or mean nothing and are asked for again: a bad cable \
             or plug",
            "eleven repeats within five minutes",
        ],
    ),
    row(
        Fault::RepliesLate,
        Link,
        (Notice, Alarm, WhileSeen),
        Readings(5),
        LIVE,
        [
            "a reading takes longer than a period: the supply or the line is slow",
            "a reading longer than a period, five times in a row",
        ],
    ),
    row(
        Fault::EnvelopeExceeded,
        Electrical,
        (Danger, Off, UntilCleared),
        Readings(2),
        FLOWING,
        [
            "more current flows than the ledger holds as the most that may",
            "what meter and setting may be off",
        ],
    ),
    row(
        Fault::PeakDensityHigh,
        Bath,
        (Danger, RampOff, UntilCleared),
        For(Span::from_s(30.0)),
        FULL,
        [
            "edges and tips get more current density than the bath bears as it is stirred \
             now",
            "what the meter may be off, at one and a half times the mean density",
        ],
    ),
];
