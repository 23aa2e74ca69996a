//! Proofs that only a check can make. An order that can raise what flows demands a [`Permit`]; the
//! end of a run demands a [`ConfirmedOff`].

use crate::exchange::{Capability, Order, Reading};
use crate::units::{Current, Moment, Voltage};
use serde::{Deserialize, Serialize};

/// The durable intent: at most this current and voltage, until then. It stands in the ledger before
/// anything within it is sent.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Envelope {
    /// At most this current.
    pub current: Current,
    /// At most this voltage.
    pub voltage: Voltage,
    /// Until then.
    pub until: Moment,
}

/// The right to raise, inside an envelope that is in the ledger. It is made by
/// [`Permit::from_recorded`] alone, and control calls that only from an answer of the ledger and
/// after the checks of its state.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Permit {
    envelope: Envelope,
}

impl Permit {
    /// From an envelope the ledger holds.
    pub(super) const fn from_recorded(envelope: Envelope) -> Self {
        Self { envelope }
    }

    /// The envelope.
    #[must_use]
    pub const fn envelope(&self) -> Envelope {
        self.envelope
    }

    /// True if the order stays inside the envelope at this moment.
    #[must_use]
    pub fn allows(&self, order: Order, now: Moment) -> bool {
        if now >= self.envelope.until {
            return false;
        }
        match order {
            Order::SetCurrent(current) => current <= self.envelope.current,
            Order::SetVoltage(voltage) => voltage <= self.envelope.voltage,
            Order::On => true,
            Order::Identify
            | Order::Prepare
            | Order::SetOverVoltage(_)
            | Order::SetOverCurrent(_)
            | Order::Off
            | Order::ClearTrip
            | Order::Read(_)
            | Order::Release
            | Order::Watchdog(_) => true,
        }
    }
}

/// The proof that the output is off, made from a reading and nothing else.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ConfirmedOff {
    at: Moment,
}

impl ConfirmedOff {
    /// From a reading that says so: the output state reads off where the supply has one, the
    /// current is below what its meter can tell from nothing, and it is not another output's.
    #[must_use]
    pub fn from_reading(reading: &Reading, supply: &Capability) -> Option<Self> {
        let silent = Self::is_nothing(reading.current?, supply);
        let is_ours = reading.channel != Some(false);
        let says_off = match reading.output {
            Some(on) => !on,
            None => !supply.reads.has(crate::exchange::Ask::OUTPUT),
        };
        (silent && says_off && is_ours).then_some(Self {
            at: reading.received,
        })
    }

    /// True if the supply's meter cannot tell this current from nothing.
    pub(super) fn is_nothing(current: Current, supply: &Capability) -> bool {
        let nothing = supply.read_current.fixed + 1.5 * supply.read_current.step + 1e-3;
        current.a().abs() <= nothing
    }

    /// When the reading was complete.
    #[must_use]
    pub const fn at(self) -> Moment {
        self.at
    }
}
