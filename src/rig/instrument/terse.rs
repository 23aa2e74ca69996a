//! The `Terse` personality: fixed-width ASCII, no terminators, no reply to a write.
//!
//! 9600 baud, 8 data bits, no parity, 1 stop bit. Commands and replies have no terminator either
//! way; letters are case-sensitive. The whole table:
//!
//! | command | bytes | meaning | reply |
//! | --- | --- | --- | --- |
//! | `Cd.dddd` | 7 | set current in amperes, `C0.3500` | none |
//! | `Vdd.ddd` | 7 | set voltage in volts, `V02.500` | none |
//! | `Pdd.ddd` | 7 | over-voltage protection level in volts, `P02.700` | none |
//! | `Qd.dddd` | 7 | over-current protection level in amperes, `Q3.1000` | none |
//! | `X1` `X0` | 2 | output on, output off | none |
//! | `k` | 1 | clear a tripped protection; the output stays off | none |
//! | `c` | 1 | measured current | 6 bytes `d.dddd` |
//! | `v` | 1 | measured voltage | 6 bytes `dd.ddd` |
//! | `g` | 1 | setpoints | 12 bytes: current `d.dddd`, then voltage `dd.ddd` |
//! | `p` | 1 | protection levels | 12 bytes: voltage `dd.ddd`, then current `d.dddd` |
//! | `s` | 1 | status | 1 raw byte, see below |
//! | `?` | 1 | identity | 16 bytes `SIM-TERSE-01 V10` |
//!
//! Status byte: bit 0 (0x01) output on; bit 1 (0x02) constant current (clear: constant voltage;
//! says nothing while the output is off, and is then clear); bit 2 (0x04) over-voltage protection
//! tripped; bit 3 (0x08) over-current protection tripped; bits 4 to 6 clear; bit 7 (0x80) always
//! set.
//!
//! - Ratings 30.000 V and 5.0000 A; protection levels up to 33.000 V and 5.5000 A. Both protections
//!   are always armed.
//! - A command that is not in the table, a number of another form, or one beyond the rating is
//!   ignored without a word; so is `X1` while a protection is tripped. A negative measurement shows
//!   as zero.
//! - A command takes 40 ms to digest. Characters that arrive in that time are lost, and so are
//!   those that arrive while a reply is being sent. The first byte of a reply leaves when the
//!   command is digested (40 ms after its last byte came), the rest follow at wire speed: leave 50
//!   ms after a write and none after a complete reply.
//! - Half a command is forgotten when its next byte does not come within 100 ms.
//! - After power-on: output off, current 0.0000 A, voltage 0.000 V, protections at their highest
//!   levels.

use super::panel::Panel;
use super::quirks::stepped;
use crate::exchange::Mode;
use crate::units::{Moment, Span};

/// Half a command is forgotten after this, s.
const FORGETS_AFTER_S: f64 = 0.100;
/// What it answers to `?`.
const IDENTITY: &[u8; 16] = b"SIM-TERSE-01 V10";

/// Half a command, and until when it is deaf.
#[derive(Clone, Debug, Default)]
pub(super) struct Terse {
    buffer: Vec<u8>,
    last_byte: Moment,
    deaf_until: Moment,
}

impl Terse {
    /// Deaf until this moment at least.
    pub(super) fn deaf_until(&mut self, moment: Moment) {
        self.deaf_until = self.deaf_until.max(moment);
    }

    /// Takes one byte that arrived at `at`: the reply it completes, if any, and when that begins.
    pub(super) fn take(
        &mut self,
        panel: &mut Panel,
        at: Moment,
        byte: u8,
    ) -> (Option<Vec<u8>>, Moment) {
        if at < self.deaf_until {
            return (None, at);
        }
        if at.since(self.last_byte) > Span::from_s(FORGETS_AFTER_S) {
            self.buffer.clear();
        }
        self.last_byte = at;
        self.buffer.push(byte);
        let Some(length) = length(self.buffer[0]) else {
            self.buffer.clear();
            return (None, at);
        };
        if self.buffer.len() < length {
            return (None, at);
        }
        let command = std::mem::take(&mut self.buffer);
        let ready = at + Span::from_s(panel.quirks.digest_s);
        self.deaf_until(ready);
        (carry_out(panel, &command), ready)
    }
}

/// How many bytes a command has that starts with this letter; none if there is no such command.
fn length(letter: u8) -> Option<usize> {
    match letter {
        b'C' | b'V' | b'P' | b'Q' => Some(7),
        b'X' => Some(2),
        b'k' | b'c' | b'v' | b'g' | b'p' | b's' | b'?' => Some(1),
        _ => None,
    }
}

/// Carries a whole command out; the reply if it is a query.
fn carry_out(panel: &mut Panel, command: &[u8]) -> Option<Vec<u8>> {
    let (max_amps, max_volts) = (panel.quirks.max_amps, panel.quirks.max_volts);
    let number = &command[1..];
    let set = &mut panel.settings;
    match command[0] {
        b'C' => assign(&mut set.amps, fixed(number, 1), max_amps),
        b'V' => assign(&mut set.volts, fixed(number, 2), max_volts),
        b'P' => assign(&mut set.over_volts, fixed(number, 2), 1.1 * max_volts),
        b'Q' => assign(&mut set.over_amps, fixed(number, 1), 1.1 * max_amps),
        b'X' => match command[1] {
            b'1' => {
                panel.switch(true);
            }
            b'0' => {
                panel.switch(false);
            }
            _ => {}
        },
        b'k' => panel.clear_trips(),
        b'c' => return Some(amps(panel.shown_amps())),
        b'v' => return Some(volts(panel.shown_volts())),
        b'g' => return Some([amps(set.amps), volts(set.volts)].concat()),
        b'p' => return Some([volts(set.over_volts), amps(set.over_amps)].concat()),
        b's' => return Some(vec![status(panel)]),
        b'?' => return Some(IDENTITY.to_vec()),
        _ => {}
    }
    panel.apply();
    None
}

/// Takes a number over if it is one and within the rating.
fn assign(setting: &mut f64, number: Option<f64>, most: f64) {
    if let Some(value) = number.filter(|value| *value <= most * (1.0 + 1e-9)) {
        *setting = value;
    }
}

/// Six characters: digits, a point after `whole` of them, digits.
fn fixed(text: &[u8], whole: usize) -> Option<f64> {
    let formed = text.len() == 6
        && text.iter().enumerate().all(|(place, byte)| {
            if place == whole {
                *byte == b'.'
            } else {
                byte.is_ascii_digit()
            }
        });
    if !formed {
        return None;
    }
    std::str::from_utf8(text).ok()?.parse().ok()
}

/// A figure below zero shows as zero, without a sign: adding zero takes the sign of -0.0 away.
fn amps(value: f64) -> Vec<u8> {
    format!("{:06.4}", stepped(value, 1e-4).clamp(0.0, 9.9999) + 0.0).into_bytes()
}

fn volts(value: f64) -> Vec<u8> {
    format!("{:06.3}", stepped(value, 1e-3).clamp(0.0, 99.999) + 0.0).into_bytes()
}

/// The status byte of the table above.
fn status(panel: &Panel) -> u8 {
    let constant_current = match panel.mode() {
        Mode::ConstantCurrent => 0x02,
        Mode::ConstantVoltage | Mode::Unregulated => 0,
    };
    0x80 | u8::from(panel.settings.on)
        | constant_current
        | u8::from(panel.tripped_volts) << 2
        | u8::from(panel.tripped_amps) << 3
}
