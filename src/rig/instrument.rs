//! A simulated bench supply around the cell. It has no clock and no port: bytes come in with the
//! moment they are sent, bytes go out with the moment they have arrived, and everything between
//! happens in that order.
//!
//! Both dialects have their command tables written by hand here, never read from a supply profile,
//! so that a wrong profile fails against them.

mod ails;
mod panel;
mod quirks;
mod standard;
mod terse;

pub use ails::Ail;
pub use quirks::Quirks;

use super::cell::{Cell, CellFault, RelayDeed, Sensed, Truth};
use super::world::World;
use crate::exchange::Mode;
use crate::units::{Current, Moment, Voltage};
use panel::Panel;
use standard::Standard;
use std::collections::VecDeque;
use terse::Terse;

/// Which dialect a simulated supply speaks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// SCPI-99 over IEEE 488.2 messages, lines ended by NL.
    Standard,
    /// Fixed-width ASCII without terminators and without replies to writes.
    Terse,
}

impl Kind {
    /// The kind that answers this question for its identity.
    #[must_use]
    pub fn asked_by(question: &str) -> Option<Self> {
        match question {
            "*IDN?" => Some(Self::Standard),
            "?" => Some(Self::Terse),
            _ => None,
        }
    }
}

/// What flows at a moment, by the supply's own parts and not by its meter.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Flow {
    /// Through its terminals, A.
    pub amps: f64,
    /// Its output is closed.
    pub on: bool,
    /// How far what its meter shows is off for a cause beyond its stated limits, A.
    pub lie_amps: f64,
}

/// The dialect with what it keeps.
#[derive(Clone, Debug)]
enum Dialect {
    Standard(Box<Standard>),
    Terse(Terse),
}

/// A simulated supply with its cell.
#[derive(Clone, Debug)]
pub struct Instrument {
    panel: Panel,
    dialect: Dialect,
    /// Bytes on their way in, with the moment each has arrived.
    coming: VecDeque<(Moment, u8)>,
    /// The wire towards the supply is free from here on.
    way_in_free: Moment,
    /// Bytes on their way out, with the moment each has arrived.
    going: VecDeque<(Moment, u8)>,
    /// The wire from the supply is free from here on.
    way_out_free: Moment,
    now: Moment,
}

impl Instrument {
    /// A supply just powered on, its cell fresh, at `now`.
    #[must_use]
    pub fn new(kind: Kind, quirks: Quirks, world: World, now: Moment) -> Self {
        let quirks = if world.clean {
            quirks.perfect()
        } else {
            quirks
        };
        let cell = Cell::new(world, now);
        let (dialect, arms_amps) = match kind {
            Kind::Standard => (Dialect::Standard(Box::new(Standard::new(&quirks))), false),
            Kind::Terse => (Dialect::Terse(Terse::default()), true),
        };
        Self {
            panel: Panel::new(quirks, cell, arms_amps),
            dialect,
            coming: VecDeque::new(),
            way_in_free: now,
            going: VecDeque::new(),
            way_out_free: now,
            now,
        }
    }

    /// The traits it was made with.
    #[must_use]
    pub fn quirks(&self) -> &Quirks {
        &self.panel.quirks
    }

    /// Bytes are sent to it from `now` on, one after the other as the wire lets them.
    pub fn receive(&mut self, now: Moment, bytes: &[u8]) {
        let byte_ns = self.panel.quirks.byte_ns();
        let mut at = self.way_in_free.max(now).ns();
        for &byte in bytes {
            at += byte_ns;
            self.coming.push_back((Moment::from_ns(at), byte));
        }
        self.way_in_free = Moment::from_ns(at);
    }

    /// The moment by which all that was sent has arrived.
    #[must_use]
    pub fn sent_until(&self) -> Moment {
        self.way_in_free
    }

    /// The next byte that has arrived from it by `until`, with its moment. What happens in the
    /// supply up to that moment, and no further, has then happened.
    pub fn next_output(&mut self, until: Moment) -> Option<(Moment, u8)> {
        loop {
            if let Some(&(at, byte)) = self.going.front() {
                if at > until {
                    return None;
                }
                self.going.pop_front();
                return Some((at, byte));
            }
            if !self.take_next(until) {
                return None;
            }
        }
    }

    /// Lets everything happen up to `until`.
    pub fn run_to(&mut self, until: Moment) {
        while self.take_next(until) {}
        self.come_to(until);
    }

    /// The next moment at which something happens without further input: a byte in or out.
    #[must_use]
    pub fn next_due(&self) -> Option<Moment> {
        let going = self.going.front().map(|&(at, _)| at);
        match (going, self.next_taken()) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        }
    }

    /// When the supply takes the next byte in.
    fn next_taken(&self) -> Option<Moment> {
        let &(at, byte) = self.coming.front()?;
        Some(match &self.dialect {
            Dialect::Standard(standard) => standard.takes_at(at, byte),
            Dialect::Terse(_) => at,
        })
    }

    /// Takes one byte in if that happens by `until`.
    fn take_next(&mut self, until: Moment) -> bool {
        let Some(at) = self.next_taken().filter(|at| *at <= until) else {
            return false;
        };
        let Some((_, byte)) = self.coming.pop_front() else {
            return false;
        };
        if !self.panel.powered {
            return true;
        }
        match &mut self.dialect {
            Dialect::Standard(standard) => {
                if standard.takes_whole_line(byte) {
                    self.now = self.now.max(at);
                    self.panel.come_to(self.now);
                }
                if let Some(reply) = standard.take(&mut self.panel, at, byte) {
                    let ready = at.ns() + self.panel.reply_ns();
                    self.send(Moment::from_ns(ready), reply.as_bytes());
                }
            }
            Dialect::Terse(terse) => {
                self.now = self.now.max(at);
                self.panel.come_to(self.now);
                let (reply, ready) = terse.take(&mut self.panel, at, byte);
                if let Some(reply) = reply {
                    self.send(ready, &reply);
                }
                if let Dialect::Terse(terse) = &mut self.dialect {
                    terse.deaf_until(self.way_out_free);
                }
            }
        }
        true
    }

    /// Puts a reply on the wire, its first bit at `ready` or when the wire is free.
    fn send(&mut self, ready: Moment, bytes: &[u8]) {
        let byte_ns = self.panel.quirks.byte_ns();
        let mut at = self.way_out_free.max(ready).ns();
        for &byte in bytes {
            at += byte_ns;
            self.going.push_back((Moment::from_ns(at), byte));
        }
        self.way_out_free = Moment::from_ns(at);
    }

    fn come_to(&mut self, now: Moment) {
        self.now = self.now.max(now);
        self.panel.come_to(self.now);
    }

    /// The cell's own account at `now`, with the setpoint a person would see on the supply.
    pub fn truth(&mut self, now: Moment) -> Truth {
        self.run_to(now);
        self.panel.truth()
    }

    /// What sensors in the tank would say at `now`.
    pub fn sensed(&mut self, now: Moment) -> Sensed {
        self.run_to(now);
        self.panel.cell.sensed()
    }

    /// What was drawn for it.
    #[must_use]
    pub fn world(&self) -> &World {
        self.panel.cell.world()
    }

    /// Breaks or mends something in the cell at `now`.
    pub fn fault(&mut self, now: Moment, fault: CellFault) {
        self.run_to(now);
        self.panel.cell.fault(fault);
        self.come_to(now);
    }

    /// Something happens at `now` to the relay in the output lead, if there is one.
    pub fn relay(&mut self, now: Moment, deed: RelayDeed) {
        self.run_to(now);
        self.panel.cell.relay(deed);
        self.come_to(now);
    }

    /// What flows at `now`.
    pub fn flow(&mut self, now: Moment) -> Flow {
        self.run_to(now);
        let panel = &self.panel;
        Flow {
            amps: panel.cell.amps(),
            on: panel.cell.mode() != Mode::Unregulated,
            lie_amps: panel.lie_amps(),
        }
    }

    /// What is set at `now`, as a person reads it at the panel: current and voltage.
    pub fn set_at_panel(&mut self, now: Moment) -> (Current, Voltage) {
        self.run_to(now);
        let set = self.panel.settings;
        (Current::from_a(set.amps), Voltage::from_v(set.volts))
    }

    /// Mains is there.
    #[must_use]
    pub fn is_powered(&self) -> bool {
        self.panel.powered
    }

    /// Something goes wrong inside the supply at `now`, or is mended.
    pub fn ail(&mut self, now: Moment, ail: Ail) {
        self.run_to(now);
        self.panel.ail(ail);
        if let (Ail::Hardware, Dialect::Standard(standard)) = (ail, &mut self.dialect) {
            standard.fails_its_test();
        }
    }

    /// Someone turns the current knob at `now`; false if the panel is locked.
    pub fn turn_current_knob(&mut self, now: Moment, current: Current) -> bool {
        self.run_to(now);
        self.panel.turn_current_knob(current.a())
    }

    /// Someone turns the voltage knob at `now`; false if the panel is locked.
    pub fn turn_voltage_knob(&mut self, now: Moment, voltage: Voltage) -> bool {
        self.run_to(now);
        self.panel.turn_voltage_knob(voltage.v())
    }

    /// Someone presses the output button at `now`.
    pub fn press_output(&mut self, now: Moment) {
        self.run_to(now);
        self.panel.press_output();
    }

    /// Mains goes at `now`: output off, deaf and dumb.
    pub fn lose_power(&mut self, now: Moment) {
        self.run_to(now);
        self.panel.lose_power();
        self.coming.clear();
        self.going.clear();
    }

    /// Mains comes back at `now`: all settings as after power-on, unless the supply restores them.
    pub fn regain_power(&mut self, now: Moment) {
        self.run_to(now);
        self.panel.regain_power();
        match &mut self.dialect {
            Dialect::Standard(standard) => standard.power_on(),
            Dialect::Terse(terse) => *terse = Terse::default(),
        }
    }
}
