//! What each command does.

use super::status::{Register, Slip, Status};
use super::tree::{Command, Face, Of};
use super::value::{Numeric, answered, boolean, limit, mask, numeric};
use crate::rig::instrument::panel::{Panel, Reach};
use crate::rig::instrument::quirks::stepped;

/// Highest mask of a 16-bit register; bit 15 is never used.
const REGISTER_MASK: u16 = 0x7fff;

/// Carries a command out.
pub(super) fn set(
    status: &mut Status,
    panel: &mut Panel,
    command: Command,
    data: &[&[u8]],
) -> Result<(), Slip> {
    match command {
        Command::Level(_)
        | Command::Protection(_)
        | Command::ProtectionState(_)
        | Command::ProtectionClear
        | Command::Output
        | Command::Select
        | Command::SelectNumber => set_supply(panel, command, data),
        Command::EventEnable => {
            status.event_enable = byte(one(data)?)?;
            Ok(())
        }
        Command::RequestEnable => {
            status.set_request_enable(byte(one(data)?)?);
            Ok(())
        }
        Command::Questionable(_) => enable(&mut status.questionable, data),
        Command::Operation(_) => enable(&mut status.operation, data),
        Command::KeyLock => {
            let locked = boolean(one(data)?)?;
            panel.reach = if locked { Reach::Locked } else { Reach::Local };
            Ok(())
        }
        Command::Reset => bare(data, || panel.reset()),
        Command::ClearStatus => bare(data, || status.clear()),
        Command::Preset => bare(data, || status.preset()),
        Command::Complete => bare(data, || status.complete()),
        Command::Wait => bare(data, || {}),
        Command::Remote => bare(data, || panel.reach = Reach::Remote),
        Command::Local => bare(data, || panel.reach = Reach::Local),
        Command::LockRemote => bare(data, || panel.reach = Reach::Locked),
        Command::Identity
        | Command::EventStatus
        | Command::StatusByte
        | Command::SelfTest
        | Command::ProtectionTripped(_)
        | Command::Measure(_)
        | Command::MeasurePower
        | Command::NextError
        | Command::ErrorCount
        | Command::Version => Err(Slip::UndefinedHeader),
    }
}

/// A command that changes what the supply does.
fn set_supply(panel: &mut Panel, command: Command, data: &[&[u8]]) -> Result<(), Slip> {
    if panel.quirks.needs_remote && panel.reach == Reach::Local {
        return Err(Slip::InvalidInLocal);
    }
    if panel.ails.takes_nothing && command != Command::Output {
        return Ok(());
    }
    match command {
        Command::Level(of) => {
            let value = within(one(data)?, of, range(panel, of, false), 0.0)?;
            match of {
                Of::Current => {
                    panel.settings.amps = stepped(value, panel.quirks.set_current.step);
                }
                Of::Voltage => {
                    panel.settings.volts = stepped(value, panel.quirks.set_voltage.step);
                }
            }
        }
        Command::Protection(of) => {
            let most = range(panel, of, true);
            let value = within(one(data)?, of, most, most)?;
            match of {
                _ if panel.ails.forgets_guards => {}
                Of::Current => panel.settings.over_amps = value,
                Of::Voltage => panel.settings.over_volts = value,
            }
        }
        Command::ProtectionState(of) => {
            let armed = boolean(one(data)?)?;
            match of {
                Of::Current => panel.settings.guards_amps = armed,
                Of::Voltage => panel.settings.guards_volts = armed,
            }
        }
        Command::ProtectionClear => bare(data, || panel.clear_trips())?,
        Command::Output => {
            let on = boolean(one(data)?)?;
            return if panel.switch(on) {
                Ok(())
            } else {
                Err(Slip::SettingsConflict)
            };
        }
        _ => return select(command, one(data)?),
    }
    panel.apply();
    Ok(())
}

/// There is one output only.
fn select(command: Command, text: &[u8]) -> Result<(), Slip> {
    if command == Command::SelectNumber {
        return if mask(text, REGISTER_MASK)? == 1 {
            Ok(())
        } else {
            Err(Slip::OutOfRange)
        };
    }
    if text.eq_ignore_ascii_case(b"OUT1") {
        Ok(())
    } else {
        Err(Slip::IllegalValue)
    }
}

/// Answers a query.
pub(super) fn query(
    status: &mut Status,
    panel: &mut Panel,
    command: Command,
    data: &[&[u8]],
) -> Result<String, Slip> {
    match (command, data) {
        (Command::Level(of), [asked]) => return limit_of(panel, asked, of, false),
        (Command::Protection(of), [asked]) => return limit_of(panel, asked, of, true),
        (_, [_, ..]) => return Err(Slip::ParameterNotAllowed),
        (_, []) => {}
    }
    let flag = |on: bool| Ok(String::from(if on { "1" } else { "0" }));
    let set = panel.settings;
    match command {
        Command::Measure(of) => {
            let shown = match of {
                Of::Current => panel.shown_amps(),
                Of::Voltage => panel.shown_volts(),
            };
            Ok(number(panel, shown))
        }
        Command::MeasurePower => {
            let watts = panel.shown_amps() * panel.shown_volts();
            Ok(number(panel, watts))
        }
        Command::Level(Of::Current) => Ok(number(panel, set.amps)),
        Command::Level(Of::Voltage) => Ok(number(panel, set.volts)),
        Command::Protection(Of::Current) => Ok(number(panel, set.over_amps)),
        Command::Protection(Of::Voltage) => Ok(number(panel, set.over_volts)),
        Command::ProtectionState(Of::Current) => flag(set.guards_amps),
        Command::ProtectionState(Of::Voltage) => flag(set.guards_volts),
        Command::ProtectionTripped(Of::Current) => flag(panel.tripped_amps),
        Command::ProtectionTripped(Of::Voltage) => flag(panel.tripped_volts),
        Command::Output => flag(set.on),
        Command::KeyLock => flag(panel.reach == Reach::Locked),
        Command::Identity => Ok(panel.quirks.identity.clone()),
        Command::Select => Ok(String::from("OUT1")),
        Command::SelectNumber => Ok(String::from(match panel.ails.other_output {
            Some(_) => "2",
            None => "1",
        })),
        Command::Complete => Ok(String::from("1")),
        Command::SelfTest => Ok(String::from("0")),
        Command::Version => Ok(String::from("1999.0")),
        Command::NextError => Ok(status.next_error()),
        Command::ErrorCount => Ok(status.error_count().to_string()),
        Command::EventEnable => Ok(status.event_enable.to_string()),
        Command::EventStatus => Ok(status.take_events().to_string()),
        Command::RequestEnable => Ok(status.request_enable().to_string()),
        Command::StatusByte => Ok(status.byte().to_string()),
        Command::Questionable(face) => Ok(faced(&mut status.questionable, face)),
        Command::Operation(face) => Ok(faced(&mut status.operation, face)),
        Command::Reset
        | Command::ClearStatus
        | Command::Wait
        | Command::ProtectionClear
        | Command::Remote
        | Command::Local
        | Command::LockRemote
        | Command::Preset => Err(Slip::UndefinedHeader),
    }
}

/// A setting's limit, asked for by name.
fn limit_of(panel: &Panel, asked: &[u8], of: Of, protection: bool) -> Result<String, Slip> {
    let most = range(panel, of, protection);
    let value = match limit(asked).ok_or(Slip::DataType)? {
        Numeric::Maximum => most,
        Numeric::Default if protection => most,
        Numeric::Minimum | Numeric::Default | Numeric::Value(_) => 0.0,
    };
    Ok(number(panel, value))
}

/// The highest a setting goes.
fn range(panel: &Panel, of: Of, protection: bool) -> f64 {
    let rating = match of {
        Of::Current => panel.quirks.max_amps,
        Of::Voltage => panel.quirks.max_volts,
    };
    if protection { 1.1 * rating } else { rating }
}

/// Reads a setting and holds it against its range.
fn within(text: &[u8], of: Of, most: f64, default: f64) -> Result<f64, Slip> {
    let unit = match of {
        Of::Current => "A",
        Of::Voltage => "V",
    };
    let value = match numeric(text, unit)? {
        Numeric::Value(value) => value,
        Numeric::Minimum => 0.0,
        Numeric::Maximum => most,
        Numeric::Default => default,
    };
    // A hair above the limit is the limit, written with fewer digits.
    if (0.0..=most * (1.0 + 1e-9)).contains(&value) {
        Ok(value)
    } else {
        Err(Slip::OutOfRange)
    }
}

/// Exactly one datum.
fn one<'a>(data: &[&'a [u8]]) -> Result<&'a [u8], Slip> {
    match data {
        [] => Err(Slip::MissingParameter),
        [[]] => Err(Slip::Syntax),
        [only] => Ok(only),
        [_, _, ..] => Err(Slip::ParameterNotAllowed),
    }
}

/// No datum at all, and then the deed.
fn bare(data: &[&[u8]], deed: impl FnOnce()) -> Result<(), Slip> {
    if data.is_empty() {
        deed();
        return Ok(());
    }
    Err(Slip::ParameterNotAllowed)
}

/// A mask of eight bits.
fn byte(text: &[u8]) -> Result<u8, Slip> {
    u8::try_from(mask(text, 255)?).map_err(|_| Slip::OutOfRange)
}

fn enable(register: &mut Register, data: &[&[u8]]) -> Result<(), Slip> {
    register.enable = mask(one(data)?, REGISTER_MASK)?;
    Ok(())
}

fn faced(register: &mut Register, face: Face) -> String {
    let bits = match face {
        Face::Event => register.take_event(),
        Face::Condition => register.condition,
        Face::Enable => register.enable,
    };
    bits.to_string()
}

fn number(panel: &Panel, value: f64) -> String {
    answered(value, panel.quirks.decimals, panel.quirks.exponents)
}
