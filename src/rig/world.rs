//! One seed, one world: everything about the simulated bench that a controller must not know.

use super::growth::Growth;
use super::kinetics::limiting_a_per_m2;
use super::ohmic::{Field, Path};
use super::skin::{Make, Skin};
use crate::spec::{Form, Job, Piece, Station, Surface, Until};
use crate::units::Span;
use rand::{RngExt, SeedableRng};
use rand_distr::StandardNormal;
use rand_xoshiro::Xoshiro256PlusPlus;
use std::f64::consts::PI;
use std::sync::Arc;

/// Diffusion coefficient of Cu(II) in acid sulfate, m²/s (common figure, from memory).
pub(super) const DIFFUSION_M2_PER_S: f64 = 5e-10;
/// Copper in a bath of 200 g/L of the pentahydrate, mol/m³.
pub(super) const COPPER_MOL_PER_M3: f64 = 801.0;
/// Interface of a skin to the bath, Ω·m² (order of magnitude, from memory).
const INTERFACE_OHM_M2: f64 = 1e-3;
/// The patch copper starts from where the job names none, m².
const CONTACT_M2: f64 = 4e-6;
/// Time to cover a painted piece where the job has no strike, s.
const COVER_S: f64 = 2400.0;
/// Density at which the front's speed is stated where the job has no strike, A/m².
const FRONT_A_PER_M2: f64 = 30.0;
/// Half-width of an area's 95 % interval where the job states none.
const AREA_UNCERTAINTY: f64 = 0.03;

/// What the caller says of the bath and its metal, as plain numbers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BathFacts {
    /// Electrons per atom.
    pub z: f64,
    /// Molar mass, kg/mol.
    pub molar_mass_kg_per_mol: f64,
    /// Density of the deposit, kg/m³.
    pub density_kg_per_m3: f64,
    /// Cathode efficiency, a share of one: the truth of a clean world, the middle of a drawn one.
    pub efficiency: f64,
}

/// Copper spreading over paint.
#[derive(Clone, Debug, PartialEq)]
pub struct Paint {
    /// Alike pieces on one electrode, or parts of one around a contact each: as many balls with a
    /// patch each.
    pub alike: f64,
    /// The patch it starts from, m².
    pub contact_m2: f64,
    /// Sheet resistance of the paint, Ω per square.
    pub sheet_ohm: f64,
    /// Islands of copper have grown together at this thickness, m.
    pub coalescence_m: f64,
    /// The paint is torn all round where this share of a piece is on the contact's side.
    pub torn_at: Option<f64>,
}

impl Paint {
    /// The skin of one of the pieces on an electrode of this area.
    pub(super) fn skin(&self, area_m2: f64) -> Skin {
        let make = Make {
            sheet_ohm: self.sheet_ohm,
            interface_ohm_m2: INTERFACE_OHM_M2,
            coalescence_m: self.coalescence_m,
            torn_at: self.torn_at,
        };
        Skin::ball(area_m2 / self.alike, self.contact_m2, &make)
    }
}

/// Something in the bath that takes copper.
#[derive(Clone, Debug, PartialEq)]
pub struct Electrode {
    /// A piece's name, or `hanger 1` and so on.
    pub name: Arc<str>,
    /// A piece, not a hanger.
    pub is_piece: bool,
    /// Its surface and how it grows, texture included.
    pub growth: Growth,
    /// The field around it alone.
    pub field: Field,
    /// True area over described area.
    pub area_factor: f64,
    /// How much better (above 1) or worse its way to the anode is than the rack's mean.
    pub position_factor: f64,
    /// Resistance of its own contact with the rack, Ω.
    pub contact_ohm: f64,
    /// On paint: how copper spreads.
    pub paint: Option<Paint>,
}

/// How wrong the supply's settings and readings are, each as a share of what its stated limits
/// allow, −1 … 1.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct MeterErrors {
    /// Gain of the current that is set.
    pub set_current_gain: f64,
    /// Offset of the current that is set.
    pub set_current_offset: f64,
    /// Gain of the voltage that is set.
    pub set_voltage_gain: f64,
    /// Offset of the voltage that is set.
    pub set_voltage_offset: f64,
    /// Gain of the current that is read.
    pub read_current_gain: f64,
    /// Offset of the current that is read.
    pub read_current_offset: f64,
    /// Gain of the voltage that is read.
    pub read_voltage_gain: f64,
    /// Offset of the voltage that is read.
    pub read_voltage_offset: f64,
}

/// Whose thickness is that of the run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Counts {
    /// The thinnest piece's.
    Thinnest,
    /// The pieces' mean by area.
    Mean,
    /// That of the electrode with this index.
    One(usize),
}

/// Everything drawn for one night. All fields are open so that a test can plant an error.
#[derive(Clone, Debug, PartialEq)]
pub struct World {
    /// What it was drawn from; the noise and the reply times of the night go on from it.
    pub seed: u64,
    /// Every factor is one, nothing is noisy and the meter is perfect.
    pub clean: bool,
    /// Pieces in the job's order, then hangers.
    pub electrodes: Vec<Electrode>,
    /// Whose thickness is that of the run.
    pub counts: Counts,
    /// Electrons per atom.
    pub z: f64,
    /// Molar mass, kg/mol.
    pub molar_mass_kg_per_mol: f64,
    /// Density of the deposit, kg/m³.
    pub density_kg_per_m3: f64,
    /// True share of the charge that deposits metal.
    pub efficiency: f64,
    /// Bath temperature, K.
    pub kelvin: f64,
    /// Conductivity, S/m.
    pub kappa_s_per_m: f64,
    /// Anode to cathode, m.
    pub gap_m: f64,
    /// How the current finds its way.
    pub path: Path,
    /// Anode area that takes part, m².
    pub anode_m2: f64,
    /// Exchange density of both interfaces, A/m².
    pub i0_a_per_m2: f64,
    /// Limiting density at the cathode, A/m².
    pub limiting_a_per_m2: f64,
    /// Leads and the clip on the rack, Ω.
    pub lead_ohm: f64,
    /// Standard deviation of the noise on a current reading, A.
    pub current_noise_a: f64,
    /// Standard deviation of the noise on a voltage reading, V.
    pub voltage_noise_v: f64,
    /// How wrong the supply is.
    pub meter: MeterErrors,
    /// The one-shot of the relay in the output lead holds it so long after an edge; none where
    /// there is no relay.
    pub relay_holds: Option<Span>,
}

impl World {
    /// Draws a world, or lays out the clean one. The same arguments give the same world.
    ///
    /// Conductivity 0.17–0.25 S/cm covers acid sulfate baths of 200–220 g/L of copper sulfate and
    /// 50–60 g/L of acid (0.17–0.20 S/cm ± 15 %, estimated from the acid's by Gu, Wang and Liaw
    /// 1997 and the mixture's viscosity). Exchange density 10–40 A/m² (Mattsson and Bockris 1959,
    /// from memory). Limiting density through a layer of 110–140 µm still, 40–80 µm stirred
    /// (natural convection, Wilke, Eisenberg and Tobias 1953, from memory). Leads, contacts,
    /// position and paint: common practice, no source.
    #[must_use]
    pub fn draw(job: &Job, station: &Station, bath: &BathFacts, seed: u64, clean: bool) -> Self {
        let mut draw = Draw {
            rng: Xoshiro256PlusPlus::seed_from_u64(seed),
            clean,
        };
        let m3_per_c = bath.molar_mass_kg_per_mol
            / (bath.z * super::kinetics::FARADAY * bath.density_kg_per_m3);
        let electrodes = electrodes(job, m3_per_c, &mut draw);
        let cathode_m2: f64 = electrodes.iter().map(|e| e.growth.area_m2(0.0)).sum();
        let (thin, thick) = if station.tank.stirred {
            (40e-6, 80e-6)
        } else {
            (110e-6, 140e-6)
        };
        let layer_m = draw.between(thin, thick);
        let gap_m = draw.between(0.06, 0.12);
        Self {
            seed,
            clean,
            counts: counts(&job.until, &electrodes),
            electrodes,
            z: bath.z,
            molar_mass_kg_per_mol: bath.molar_mass_kg_per_mol,
            density_kg_per_m3: bath.density_kg_per_m3,
            efficiency: (bath.efficiency + draw.between(-0.0045, 0.0045)).min(1.0),
            kelvin: draw.between(295.15, 301.15),
            kappa_s_per_m: draw.between(17.0, 25.0),
            gap_m: station.tank.gap.map_or(gap_m, |gap| gap.m()),
            path: Path::Even,
            anode_m2: station
                .tank
                .anode
                .map_or(1.5 * cathode_m2, |anode| anode.area.m2()),
            i0_a_per_m2: draw.between(10.0, 40.0),
            limiting_a_per_m2: limiting_a_per_m2(
                2.0,
                DIFFUSION_M2_PER_S,
                COPPER_MOL_PER_M3,
                layer_m,
            ),
            lead_ohm: draw.between(0.020, 0.060),
            current_noise_a: draw.noise(0.2e-3),
            voltage_noise_v: draw.noise(1e-3),
            meter: draw.meter(),
            // Four fifths of what was measured at the bench: there it was in doubt.
            relay_holds: station.relay.as_ref().map(|relay| relay.opens_within * 0.8),
        }
    }

    /// Mass of metal that one coulomb lays down in this world, kg.
    #[must_use]
    pub fn kg_per_c(&self) -> f64 {
        self.efficiency * self.molar_mass_kg_per_mol / (self.z * super::kinetics::FARADAY)
    }
}

/// The die.
struct Draw {
    rng: Xoshiro256PlusPlus,
    clean: bool,
}

impl Draw {
    /// Evenly between two bounds; the middle in a clean world.
    fn between(&mut self, low: f64, high: f64) -> f64 {
        let drawn = self.rng.random_range(low..high);
        if self.clean {
            f64::midpoint(low, high)
        } else {
            drawn
        }
    }

    /// A factor around one with this standard deviation, no further than 2.5 of them; one in a
    /// clean world.
    fn factor(&mut self, deviation: f64) -> f64 {
        let drawn = loop {
            let drawn: f64 = self.rng.sample(StandardNormal);
            if drawn.abs() <= 2.5 {
                break drawn;
            }
        };
        if self.clean {
            1.0
        } else {
            1.0 + deviation * drawn
        }
    }

    /// A noise somewhere between half and one and a half times the usual; none in a clean world.
    fn noise(&mut self, usual: f64) -> f64 {
        let drawn = usual * self.rng.random_range(0.5..1.5);
        if self.clean { 0.0 } else { drawn }
    }

    /// Four gains and four offsets within 80 % of the limits each; what the noise adds is cut off
    /// at the limits.
    fn meter(&mut self) -> MeterErrors {
        let mut share = || self.between(-0.8, 0.8);
        MeterErrors {
            set_current_gain: share(),
            set_current_offset: share(),
            set_voltage_gain: share(),
            set_voltage_offset: share(),
            read_current_gain: share(),
            read_current_offset: share(),
            read_voltage_gain: share(),
            read_voltage_offset: share(),
        }
    }
}

/// Pieces, then hangers.
fn electrodes(job: &Job, m3_per_c: f64, draw: &mut Draw) -> Vec<Electrode> {
    let pieces: Vec<Electrode> = job
        .pieces
        .iter()
        .map(|piece| hung(job, piece, m3_per_c, draw))
        .collect();
    let hangers = job.hangers.iter().enumerate().map(|(index, hanger)| {
        let name = format!("hanger {}", index + 1);
        electrode(&name, &hanger.form, 1.0, AREA_UNCERTAINTY, draw)
    });
    pieces.into_iter().chain(hangers).collect()
}

/// A piece as it truly is.
fn hung(job: &Job, piece: &Piece, m3_per_c: f64, draw: &mut Draw) -> Electrode {
    let uncertainty = piece.uncertainty.map_or(AREA_UNCERTAINTY, |u| u.share());
    let mut it = electrode(&piece.name, &piece.form, piece.texture, uncertainty, draw);
    it.is_piece = true;
    let area_m2 = it.growth.area_m2(0.0) * it.area_factor;
    let paint = paint(job, piece, area_m2, m3_per_c, draw);
    if piece.surface == Surface::Paint {
        it.paint = Some(paint);
    }
    it
}

/// Anything in the bath, bare metal until it is painted.
fn electrode(
    name: &str,
    form: &Form,
    texture: f64,
    uncertainty: f64,
    draw: &mut Draw,
) -> Electrode {
    let smooth = Growth::of(form);
    let field = Field::of(form, smooth.area_m2(0.0));
    let contact_ohm = draw.between(0.5e-3, 5e-3);
    Electrode {
        name: Arc::from(name),
        is_piece: false,
        growth: smooth.roughened(texture),
        field,
        area_factor: draw.factor(uncertainty / 1.96),
        position_factor: draw.between(0.95, 1.05),
        contact_ohm: if draw.clean { 0.0 } else { contact_ohm },
        paint: None,
    }
}

/// The paint of a piece. Its copper grows together at such a thickness that a straight front would
/// take between 0.77 and 1.43 times the strike's time to walk over the surface at the strike's
/// density, or be as much faster or slower than the job says, at 0.1 to 10 mm/min.
fn paint(job: &Job, piece: &Piece, area_m2: f64, m3_per_c: f64, draw: &mut Draw) -> Paint {
    let contacts = piece
        .paint
        .reach
        .as_ref()
        .map_or(1, |reach| reach.contacts().len());
    let alike = f64::from(piece.form.parts()) * contacts as f64;
    let one_m2 = area_m2 / alike;
    let patches_m2 = piece
        .paint
        .contact
        .map_or(CONTACT_M2, |contact| contact.m2());
    let contact_m2 = (patches_m2 / contacts as f64).min(one_m2);
    let way_m = PI * (one_m2 / (4.0 * PI)).sqrt();
    let strike_s = job.strike.map_or(COVER_S, |strike| strike.duration.s());
    let hurry = draw.between(0.7, 1.3);
    let sheet_ohm = draw.between(20.0, 500.0);
    let stated = piece.paint.front_speed.map(|pace| pace.m_per_s());
    let front_m_per_s =
        (stated.unwrap_or(way_m / strike_s) * hurry).clamp(0.1e-3 / 60.0, 10e-3 / 60.0);
    let density = job
        .strike
        .map_or(FRONT_A_PER_M2, |strike| strike.density.a_per_m2());
    let fringe_m = (INTERFACE_OHM_M2 / sheet_ohm).sqrt();
    Paint {
        alike,
        contact_m2,
        sheet_ohm,
        coalescence_m: fringe_m * density * m3_per_c / front_m_per_s,
        torn_at: None,
    }
}

/// Whose thickness ends the job.
fn counts(until: &Until, electrodes: &[Electrode]) -> Counts {
    match until {
        Until::Thinnest => Counts::Thinnest,
        Until::RackMean => Counts::Mean,
        Until::Piece(name) => electrodes
            .iter()
            .position(|e| e.is_piece && *e.name == **name)
            .map_or(Counts::Thinnest, Counts::One),
    }
}
