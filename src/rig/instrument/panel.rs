//! The supply behind its dialect: settings, power stage, meter, protections and front panel.

use super::ails::{Ail, Ails};
use super::quirks::{Quirks, stepped};
use crate::exchange::{Mode, OnMainsReturn, Tolerance};
use crate::rig::cell::{Cell, Drive, Trip, Truth};
use crate::units::Moment;
use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;
use rand_xoshiro::Xoshiro256PlusPlus;

/// Told apart from the seed's other uses.
const NOISE: u64 = 0x05ee_d0f0_015e;

/// Who may turn the knobs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Reach {
    /// The front panel; the wire too.
    Local,
    /// The wire; a touch of the front panel takes it back.
    Remote,
    /// The wire alone.
    Locked,
}

/// What is set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Settings {
    /// Current, A, as told.
    pub(super) amps: f64,
    /// Voltage, V, as told.
    pub(super) volts: f64,
    /// Over-voltage protection level, V.
    pub(super) over_volts: f64,
    /// Over-current protection level, A.
    pub(super) over_amps: f64,
    /// Over-voltage protection armed.
    pub(super) guards_volts: bool,
    /// Over-current protection armed.
    pub(super) guards_amps: bool,
    /// Output on.
    pub(super) on: bool,
}

/// The supply and what hangs on it.
#[derive(Clone, Debug)]
pub(super) struct Panel {
    pub(super) quirks: Quirks,
    pub(super) cell: Cell,
    pub(super) settings: Settings,
    pub(super) tripped_volts: bool,
    pub(super) tripped_amps: bool,
    pub(super) reach: Reach,
    pub(super) powered: bool,
    /// What has gone wrong inside it.
    pub(super) ails: Ails,
    /// The contacts of its output are closed.
    closed: bool,
    /// Over-current protection is armed from power-on.
    arms_amps: bool,
    rng: Xoshiro256PlusPlus,
}

impl Panel {
    pub(super) fn new(quirks: Quirks, cell: Cell, arms_amps: bool) -> Self {
        let rng = Xoshiro256PlusPlus::seed_from_u64(cell.world().seed ^ NOISE);
        let settings = Self::at_power_on(&quirks, arms_amps);
        let mut panel = Self {
            quirks,
            cell,
            settings,
            tripped_volts: false,
            tripped_amps: false,
            reach: Reach::Local,
            powered: true,
            ails: Ails::default(),
            closed: false,
            arms_amps,
            rng,
        };
        panel.apply();
        panel
    }

    fn at_power_on(quirks: &Quirks, arms_amps: bool) -> Settings {
        Settings {
            amps: 0.0,
            volts: 0.0,
            over_volts: 1.1 * quirks.max_volts,
            over_amps: 1.1 * quirks.max_amps,
            guards_volts: true,
            guards_amps: arms_amps,
            on: false,
        }
    }

    /// Lets time pass for the cell, and notes a protection that acted in it.
    pub(super) fn come_to(&mut self, now: Moment) {
        self.cell.advance(now);
        self.note_trip();
    }

    fn note_trip(&mut self) {
        let Some(trip) = self.cell.take_trip() else {
            return;
        };
        self.settings.on = false;
        self.closed = false;
        match trip {
            Trip::Voltage => self.tripped_volts = true,
            Trip::Current => self.tripped_amps = true,
        }
    }

    /// Tells the power stage what is set, errors of the setting included.
    pub(super) fn apply(&mut self) {
        // While another output is selected, what was selected before goes on as it was set.
        let set = self.ails.other_output.unwrap_or(self.settings);
        let errors = self.cell.world().meter;
        let truly = |told: f64, by: Tolerance, gain: f64, offset: f64| {
            (stepped(told, by.step) * (1.0 + by.share * gain) + by.fixed * offset).max(0.0)
        };
        let armed = |level: f64, armed: bool| if armed { level } else { f64::INFINITY };
        let welded = self.ails.welded && self.closed;
        self.closed = (set.on || welded) && self.powered;
        let drive = Drive {
            on: self.closed && !self.ails.leads_elsewhere,
            amps: self.ails.set_gain
                * truly(
                    set.amps,
                    self.quirks.set_current,
                    errors.set_current_gain,
                    errors.set_current_offset,
                ),
            volts: truly(
                set.volts,
                self.quirks.set_voltage,
                errors.set_voltage_gain,
                errors.set_voltage_offset,
            ),
            slew_a_per_s: self.quirks.slew_a_per_s,
            trip_volts: armed(set.over_volts, set.guards_volts),
            trip_amps: armed(set.over_amps, set.guards_amps),
        };
        self.cell.set_drive(drive);
        self.note_trip();
    }

    /// True while a tripped protection keeps the output off.
    pub(super) fn is_tripped(&self) -> bool {
        self.tripped_volts || self.tripped_amps
    }

    /// Turns the output on or off; false if a tripped protection keeps it off.
    pub(super) fn switch(&mut self, on: bool) -> bool {
        if on && self.is_tripped() {
            return false;
        }
        if !on && self.ails.keeps_on {
            return true;
        }
        self.settings.on = on;
        self.apply();
        true
    }

    /// Back to how it is after power-on, trips included.
    pub(super) fn reset(&mut self) {
        self.settings = Self::at_power_on(&self.quirks, self.arms_amps);
        self.clear_trips();
        self.apply();
    }

    /// Clears tripped protections; the output stays off.
    pub(super) fn clear_trips(&mut self) {
        self.tripped_volts = false;
        self.tripped_amps = false;
    }

    /// How it regulates.
    pub(super) fn mode(&self) -> Mode {
        if self.ails.other_output.is_some() || self.ails.leads_elsewhere {
            // An open output holds its voltage.
            return if self.settings.on {
                Mode::ConstantVoltage
            } else {
                Mode::Unregulated
            };
        }
        self.cell.mode()
    }

    /// The current as the meter shows it, A.
    pub(super) fn shown_amps(&mut self) -> f64 {
        let world = self.cell.world();
        let (noise, errors) = (world.current_noise_a, world.meter);
        let by = self.quirks.read_current;
        if self.ails.swallows_off && !self.settings.on {
            return 0.0;
        }
        if self.ails.other_output.is_some() {
            return 0.0;
        }
        if let Some([amps, _]) = self.ails.frozen {
            return stepped(amps, by.step);
        }
        let truth = self.cell.amps() * self.ails.read_gain;
        self.shown(
            truth,
            noise,
            by,
            errors.read_current_gain,
            errors.read_current_offset,
        )
    }

    /// The voltage as the meter shows it, V.
    pub(super) fn shown_volts(&mut self) -> f64 {
        if !self.settings.on && self.quirks.shows_setpoint_when_off {
            return self.settings.volts;
        }
        let world = self.cell.world();
        let (noise, errors) = (world.voltage_noise_v, world.meter);
        let by = self.quirks.read_voltage;
        if self.ails.other_output.is_some() || (self.ails.leads_elsewhere && self.settings.on) {
            return if self.settings.on {
                self.settings.volts
            } else {
                0.0
            };
        }
        if let Some([_, volts]) = self.ails.frozen {
            return stepped(volts, by.step);
        }
        let truth = self.cell.volts();
        self.shown(
            truth,
            noise,
            by,
            errors.read_voltage_gain,
            errors.read_voltage_offset,
        )
    }

    /// A reading: gain, offset and noise, together never beyond the stated limits, then the step.
    fn shown(&mut self, truth: f64, noise: f64, by: Tolerance, gain: f64, offset: f64) -> f64 {
        let limit = truth.abs() * by.share + by.fixed;
        if limit == 0.0 {
            return stepped(truth, by.step);
        }
        let drawn: f64 = if noise > 0.0 {
            self.rng.sample(StandardNormal)
        } else {
            0.0
        };
        let error = truth * by.share * gain + by.fixed * offset + noise * drawn;
        stepped(truth + error.clamp(-limit, limit), by.step)
    }

    /// Time until the next reply begins, ns.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // a positive time of ms
    pub(super) fn reply_ns(&mut self) -> u64 {
        let [low, high] = self.quirks.reply_s;
        let s = if high > low {
            self.rng.random_range(low..high)
        } else {
            low
        };
        ((s + self.ails.later_s) * 1e9) as u64
    }

    /// Someone turns the current knob; false if the panel is locked.
    pub(super) fn turn_current_knob(&mut self, amps: f64) -> bool {
        self.touch(|settings| settings.amps = amps)
    }

    /// Someone turns the voltage knob; false if the panel is locked.
    pub(super) fn turn_voltage_knob(&mut self, volts: f64) -> bool {
        self.touch(|settings| settings.volts = volts)
    }

    fn touch(&mut self, change: impl FnOnce(&mut Settings)) -> bool {
        if self.reach == Reach::Locked || !self.powered {
            return false;
        }
        self.reach = Reach::Local;
        change(&mut self.settings);
        self.apply();
        true
    }

    /// Someone presses the output button; the lock does not cover it.
    pub(super) fn press_output(&mut self) {
        let on = !self.settings.on;
        self.switch(on);
    }

    /// How far the meter is from the truth beyond its stated limits, A.
    pub(super) fn lie_amps(&self) -> f64 {
        let truth = self.cell.amps();
        match self.ails.frozen {
            Some([amps, _]) => (amps - truth).abs(),
            None => (truth * (self.ails.read_gain - 1.0)).abs(),
        }
    }

    /// The other output is as it is after power-on, and nothing hangs on it.
    fn select_other(&mut self, other: bool) {
        match (other, self.ails.other_output) {
            (true, None) => {
                self.ails.other_output = Some(self.settings);
                self.settings = Self::at_power_on(&self.quirks, self.arms_amps);
            }
            (false, Some(before)) => {
                self.ails.other_output = None;
                self.settings = before;
            }
            (true, Some(_)) | (false, None) => {}
        }
    }

    /// Something goes wrong inside it, or is mended.
    pub(super) fn ail(&mut self, ail: Ail) {
        match ail {
            Ail::Frozen(true) => self.ails.frozen = Some([self.cell.amps(), self.cell.volts()]),
            Ail::Frozen(false) => self.ails.frozen = None,
            Ail::ReadGain(gain) => self.ails.read_gain = gain,
            Ail::SetGain(gain) => self.ails.set_gain = gain,
            Ail::KeepsOn(keeps) => self.ails.keeps_on = keeps,
            Ail::Welded(welded) => self.ails.welded = welded,
            Ail::SwallowsOff => {
                self.ails.welded = true;
                self.ails.swallows_off = true;
            }
            Ail::GuardVolts(share) => self.settings.over_volts = share * self.settings.volts,
            Ail::TakesNothing(takes) => self.ails.takes_nothing = takes,
            Ail::ForgetsGuards(forgets) => self.ails.forgets_guards = forgets,
            Ail::OtherOutput(other) => self.select_other(other),
            Ail::LeadsElsewhere(elsewhere) => self.ails.leads_elsewhere = elsewhere,
            Ail::Slow(later_s) => self.ails.later_s = later_s,
            Ail::Hardware => {}
        }
        self.apply();
    }

    /// Mains goes.
    pub(super) fn lose_power(&mut self) {
        self.powered = false;
        self.apply();
    }

    /// Mains comes back.
    pub(super) fn regain_power(&mut self) {
        let before = self.settings;
        self.powered = true;
        self.reach = Reach::Local;
        self.reset();
        match self.quirks.on_mains_return {
            OnMainsReturn::On => {
                self.settings = before;
                self.apply();
            }
            OnMainsReturn::Off | OnMainsReturn::Unknown => {}
        }
    }

    /// The cell's account, with the setpoint a person sees.
    pub(super) fn truth(&self) -> Truth {
        let mut truth = self.cell.truth();
        truth.setpoint_a = self.settings.amps;
        truth
    }
}
