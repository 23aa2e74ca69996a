//! What goes wrong by and by, and what a sensor in the tank would say.

use crate::rig::kinetics::limiting_a_per_m2;
use crate::rig::world::{COPPER_MOL_PER_M3, DIFFUSION_M2_PER_S, World};
use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;
use rand_xoshiro::Xoshiro256PlusPlus;

/// Told apart from the seed's other uses.
const JUMPS: u64 = 0x10_05e4;
/// The layer at the cathode of a still bath, m: the middle of what a world draws for one.
const STILL_LAYER_M: f64 = 125e-6;
/// Conductivity and exchange density rise by this share a kelvin (common figure, from memory).
const PER_KELVIN: f64 = 0.02;
/// Liquid above the highest piece at the start, m.
const ABOVE_M: f64 = 0.020;
/// Pieces and anode reach so far down from the highest point, m.
const DEEP_M: f64 = 0.100;
/// Turns of the stirrer a minute while it turns.
const TURNS: f64 = 300.0;

/// What a sensor in the tank would say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sensed {
    /// Temperature of the bath, degrees Celsius.
    pub celsius: f64,
    /// Turns of the stirrer a minute.
    pub turns: f64,
    /// Liquid above the highest piece, mm; negative once it emerges.
    pub above_mm: f64,
}

/// What goes wrong by and by.
#[derive(Clone, Debug)]
pub(super) struct Drift {
    pub(super) loosens: Option<[f64; 2]>,
    pub(super) films_ohm_m2_per_s: f64,
    pub(super) falls_m_per_s: f64,
    pub(super) stirred: bool,
    pub(super) kelvin: f64,
    loose_ohm: f64,
    jump_ohm: f64,
    film_ohm_m2: f64,
    above_m: f64,
    rng: Xoshiro256PlusPlus,
}

impl Drift {
    pub(super) fn new(world: &World) -> Self {
        Self {
            loosens: None,
            films_ohm_m2_per_s: 0.0,
            falls_m_per_s: 0.0,
            stirred: true,
            kelvin: world.kelvin,
            loose_ohm: 0.0,
            jump_ohm: 0.0,
            film_ohm_m2: 0.0,
            above_m: ABOVE_M,
            rng: Xoshiro256PlusPlus::seed_from_u64(world.seed ^ JUMPS),
        }
    }

    /// True while something changes by itself.
    pub(super) fn is_moving(&self) -> bool {
        self.loosens.is_some() || self.films_ohm_m2_per_s > 0.0 || self.falls_m_per_s > 0.0
    }

    /// Lets time pass.
    pub(super) fn pass(&mut self, over_s: f64) {
        if let Some([ohm_per_s, jumps_ohm]) = self.loosens {
            self.loose_ohm += ohm_per_s * over_s;
            let drawn: f64 = self.rng.sample(StandardNormal);
            self.jump_ohm = jumps_ohm * drawn.abs();
        }
        self.film_ohm_m2 += self.films_ohm_m2_per_s * over_s;
        self.above_m -= self.falls_m_per_s * over_s;
    }

    /// Resistance of the clip beyond what it was, Ω.
    pub(super) fn clip_ohm(&self) -> f64 {
        self.loose_ohm + self.jump_ohm
    }

    /// Resistance of the film that has grown, times area, Ω·m².
    pub(super) fn film_ohm_m2(&self) -> f64 {
        self.film_ohm_m2
    }

    /// Share of pieces and anode that is still in the liquid.
    pub(super) fn wetted(&self) -> f64 {
        (1.0 + self.above_m.min(0.0) / DEEP_M).clamp(0.05, 1.0)
    }

    /// By how much warmth raises conductivity and exchange density.
    pub(super) fn warmth(&self, world: &World) -> f64 {
        (1.0 + PER_KELVIN * (self.kelvin - world.kelvin)).max(0.1)
    }

    /// Limiting density at the cathode, A/m².
    pub(super) fn limiting(&self, world: &World) -> f64 {
        if self.stirred {
            return world.limiting_a_per_m2;
        }
        limiting_a_per_m2(2.0, DIFFUSION_M2_PER_S, COPPER_MOL_PER_M3, STILL_LAYER_M)
            .min(world.limiting_a_per_m2)
    }

    pub(super) fn sensed(&self) -> Sensed {
        Sensed {
            celsius: self.kelvin - 273.15,
            turns: if self.stirred { TURNS } else { 0.0 },
            above_mm: self.above_m * 1e3,
        }
    }
}
