//! The cell's own account, which no controller ever sees.

use super::{Cell, Grown};
use crate::rig::skin::Skin;
use crate::rig::world::{Counts, Electrode};
use serde::Serialize;
use std::sync::Arc;

/// What truly happened to one electrode.
#[derive(Clone, Debug, PartialEq)]
pub struct ElectrodeTruth {
    /// A piece's name, or `hanger 1` and so on.
    pub name: Arc<str>,
    /// A piece, not a hanger.
    pub is_piece: bool,
    /// Charge through it, Ah.
    pub charge_ah: f64,
    /// Metal on it, g.
    pub mass_g: f64,
    /// Mean thickness over the whole of it, µm.
    pub thickness_um: f64,
    /// Its area as it is now, cm².
    pub area_cm2: f64,
    /// Share of it under copper.
    pub covered_fraction: f64,
}

/// What truly is and truly happened.
#[derive(Clone, Debug, PartialEq)]
pub struct Truth {
    /// Seconds since the clock's zero.
    pub t_s: f64,
    /// The output is on.
    pub output_on: bool,
    /// A relay holds the lead open.
    pub cut: bool,
    /// The current that is set, A.
    pub setpoint_a: f64,
    /// The current that flows, A.
    pub current_a: f64,
    /// The voltage at the supply's terminals, V.
    pub voltage_v: f64,
    /// All charge that left the supply, Ah.
    pub charge_ah: f64,
    /// The part of it that went through a short and not the bath, Ah.
    pub short_ah: f64,
    /// Thickness of the piece that ends the job, or the mean where the job says so, µm.
    pub thickness_um: f64,
    /// One each, pieces first.
    pub electrodes: Vec<ElectrodeTruth>,
}

/// One line of the stream that `supply emulate --json` writes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TruthLine {
    /// Seconds since the clock's zero.
    pub t_s: f64,
    /// The output is on.
    pub output_on: bool,
    /// A relay holds the lead open.
    pub cut: bool,
    /// The current that is set, A.
    pub setpoint_a: f64,
    /// The current that flows, A.
    pub current_a: f64,
    /// The voltage at the supply's terminals, V.
    pub voltage_v: f64,
    /// All charge that left the supply, Ah.
    pub charge_true_ah: f64,
    /// Thickness of the run, µm.
    pub thickness_true_um: f64,
}

impl Truth {
    /// The account as one line of the stream.
    #[must_use]
    pub fn line(&self) -> TruthLine {
        TruthLine {
            t_s: self.t_s,
            output_on: self.output_on,
            cut: self.cut,
            setpoint_a: self.setpoint_a,
            current_a: self.current_a,
            voltage_v: self.voltage_v,
            charge_true_ah: self.charge_ah,
            thickness_true_um: self.thickness_um,
        }
    }
}

impl Cell {
    /// The account as of now. A supply around the cell replaces the setpoint by the one a person
    /// sees.
    #[must_use]
    pub fn truth(&self) -> Truth {
        // Booked on a copy: looking at the cell must not change when it is next solved.
        let mut booked = self.clone();
        booked.book();
        booked.account()
    }

    fn account(&self) -> Truth {
        let electrodes: Vec<ElectrodeTruth> = self
            .grown
            .iter()
            .zip(&self.world.electrodes)
            .map(|(it, electrode)| self.account_of(it, electrode))
            .collect();
        Truth {
            t_s: self.now.s(),
            output_on: self.drive.on,
            cut: self.relay_open,
            setpoint_a: self.drive.amps,
            current_a: self.amps,
            voltage_v: self.volts(),
            charge_ah: self.charge_c / 3600.0,
            short_ah: self.short_c / 3600.0,
            thickness_um: thickness_um(self.world.counts, &electrodes),
            electrodes,
        }
    }

    fn account_of(&self, it: &Grown, electrode: &Electrode) -> ElectrodeTruth {
        ElectrodeTruth {
            name: Arc::clone(&electrode.name),
            is_piece: electrode.is_piece,
            charge_ah: it.charge_c / 3600.0,
            mass_g: it.charge_c * self.world.kg_per_c() * 1e3,
            thickness_um: it.thickness_m * 1e6,
            area_cm2: it.area_m2 * 1e4,
            covered_fraction: it.skin.as_ref().map_or(1.0, Skin::covered_fraction),
        }
    }
}

/// The run's thickness, of those whose thickness counts.
fn thickness_um(counts: Counts, electrodes: &[ElectrodeTruth]) -> f64 {
    let pieces = || electrodes.iter().filter(|e| e.is_piece);
    match counts {
        Counts::One(index) => electrodes[index].thickness_um,
        Counts::Thinnest => {
            let thinnest = pieces()
                .map(|e| e.thickness_um)
                .fold(f64::INFINITY, f64::min);
            if thinnest.is_finite() { thinnest } else { 0.0 }
        }
        Counts::Mean => {
            let area: f64 = pieces().map(|e| e.area_cm2).sum();
            let sum: f64 = pieces().map(|e| e.area_cm2 * e.thickness_um).sum();
            if area > 0.0 { sum / area } else { 0.0 }
        }
    }
}
