//! What kind of supply it is: ratings, limits of error, times.

use super::Kind;
use crate::exchange::{Capability, OnMainsReturn, Tolerance};

/// The traits of one simulated supply. All fields are open.
#[derive(Clone, Debug, PartialEq)]
pub struct Quirks {
    /// Bits per second; a byte takes ten of them, either way.
    pub baud: u32,
    /// Highest current it can be set to, A; protection levels go a tenth further.
    pub max_amps: f64,
    /// Highest voltage it can be set to, V; protection levels go a tenth further.
    pub max_volts: f64,
    /// How exactly a current is set.
    pub set_current: Tolerance,
    /// How exactly a voltage is set.
    pub set_voltage: Tolerance,
    /// How exactly the current reads.
    pub read_current: Tolerance,
    /// How exactly the voltage reads.
    pub read_voltage: Tolerance,
    /// How fast the current moves, A/s.
    pub slew_a_per_s: f64,
    /// Shortest and longest time from the end of a query to the first bit of its reply, s.
    pub reply_s: [f64; 2],
    /// Time a command keeps it busy, s.
    pub digest_s: f64,
    /// Decimals of a number it answers (`Standard` only).
    pub decimals: usize,
    /// Numbers with an exponent (NR3) in place of plain ones (NR2) (`Standard` only).
    pub exponents: bool,
    /// What ends a reply (`Standard` only).
    pub reply_end: &'static str,
    /// Entries the error queue holds (`Standard` only).
    pub error_depth: usize,
    /// Settings are refused until the remote mode was asked for (`Standard` only).
    pub needs_remote: bool,
    /// With the output off the measured voltage shows the setpoint.
    pub shows_setpoint_when_off: bool,
    /// What it does when mains comes back.
    pub on_mains_return: OnMainsReturn,
    /// Who it says it is (`Standard` only).
    pub identity: String,
}

impl Quirks {
    /// The usual traits of a kind: 30 V and 5 A, current to 0.1 % and 2 mA in steps of 1 mA
    /// (`Terse`: 0.1 mA), voltage to 0.05 % and 5 mV in steps of 1 mV, 20 A/s, replies after 8 to
    /// 25 ms (`Terse`: 40 ms).
    #[must_use]
    pub fn of(kind: Kind) -> Self {
        let current = |step| Tolerance {
            share: 1e-3,
            fixed: 2e-3,
            step,
        };
        let voltage = Tolerance {
            share: 0.5e-3,
            fixed: 5e-3,
            step: 1e-3,
        };
        let (step, reply_s, digest_s) = match kind {
            Kind::Standard => (1e-3, [0.008, 0.025], 0.004),
            Kind::Terse => (1e-4, [0.040, 0.040], 0.040),
        };
        Self {
            baud: 9600,
            max_amps: 5.0,
            max_volts: 30.0,
            set_current: current(step),
            set_voltage: voltage,
            read_current: current(step),
            read_voltage: voltage,
            slew_a_per_s: 20.0,
            reply_s,
            digest_s,
            decimals: 4,
            exponents: false,
            reply_end: "\n",
            error_depth: 10,
            needs_remote: false,
            shows_setpoint_when_off: false,
            on_mains_return: OnMainsReturn::Off,
            identity: String::from("NIGHTVAT,SIMULATED-SUPPLY,0,1.0"),
        }
    }

    /// With the ratings and the limits of error that a profile states, so that the profile is true
    /// of it.
    #[must_use]
    pub fn as_stated(self, stated: &Capability) -> Self {
        Self {
            max_amps: stated.max_current.a(),
            max_volts: stated.max_voltage.v(),
            set_current: stated.set_current,
            set_voltage: stated.set_voltage,
            read_current: stated.read_current,
            read_voltage: stated.read_voltage,
            ..self
        }
    }

    /// With a meter and settings that are exact, and as many digits as they need. Times stay.
    #[must_use]
    pub fn perfect(self) -> Self {
        let exact = Tolerance::default();
        Self {
            set_current: exact,
            set_voltage: exact,
            read_current: exact,
            read_voltage: exact,
            decimals: 9,
            ..self
        }
    }

    /// Time of one byte on the wire, ns.
    #[must_use]
    pub fn byte_ns(&self) -> u64 {
        10_000_000_000 / u64::from(self.baud.max(1))
    }
}

/// To the nearest step; unchanged where there is none.
pub(super) fn stepped(value: f64, step: f64) -> f64 {
    if step > 0.0 {
        (value / step).round() * step
    } else {
        value
    }
}
