//! The simulated cell: several electrodes that thicken on one cathode bar, an anode, and the bath
//! between them.
//!
//! The current is constant between two solutions of the cell, or slews in a straight line, so that
//! every charge is exact; surfaces, fronts and shares move at the solutions. Hydrogen, ripple in
//! the deposit and the spread of thickness over one piece are not simulated.

mod drift;
mod drive;
mod network;
mod relay;
mod truth;

pub use drift::Sensed;
pub use drive::{CellFault, Drive, Trip};
pub use relay::{RelayAil, RelayDeed};
pub use truth::{ElectrodeTruth, Truth};

use super::kinetics::{Anode, Cathode, half_thermal_v};
use super::ohmic::{Path, disk, parallel_plates};
use super::skin::Skin;
use super::world::World;
use crate::exchange::Mode;
use crate::units::Moment;
use drift::Drift;
use network::{Branch, Network, Solution, Source};
use std::f64::consts::PI;
use std::sync::Arc;

/// Surfaces and shares are looked at this often while nothing spreads, s.
const CALM_STEP_S: f64 = 10.0;
/// And this often while copper spreads over paint, s.
const SPREADING_STEP_S: f64 = 1.0;
/// Change of an active area that calls for a new solution, as a share of it.
const AREA_CHANGE: f64 = 2e-4;
/// Change of current that calls for a new solution, as a share of it.
const CURRENT_CHANGE: f64 = 1e-3;

/// What has come of one electrode.
#[derive(Clone, Debug, PartialEq)]
struct Grown {
    charge_c: f64,
    thickness_m: f64,
    area_m2: f64,
    /// The paint that is not yet wholly under copper.
    skin: Option<Skin>,
    hanging: bool,
    extra_ohm: f64,
    /// Its part of the current that flows through the bath.
    share: f64,
}

/// The cell.
#[derive(Clone, Debug)]
pub struct Cell {
    world: Arc<World>,
    now: Moment,
    drive: Drive,
    trip: Option<Trip>,
    grown: Vec<Grown>,
    network: Network,
    lead_open: bool,
    /// The relay in the lead, and whether it holds the lead open.
    relay: Option<relay::Relay>,
    relay_open: bool,
    /// The clip's resistance, the free anode and its film as a sudden fault left them.
    clip_ohm: f64,
    free: f64,
    film_ohm_m2: f64,
    drift: Drift,
    /// The last full solution.
    solved: Solution,
    /// Where the cell settles under the drive: the solution, or a little along its slope.
    goal_amps: f64,
    goal_volts: f64,
    mode: Mode,
    /// What flows now, A.
    amps: f64,
    /// Active areas at the last solution.
    solved_areas: Vec<f64>,
    must_solve: bool,
    since_look_s: f64,
    /// Charge since shares were last booked, C.
    unbooked_c: f64,
    /// All charge through the terminals, and what its sum has lost to rounding, C.
    charge_c: f64,
    charge_lost_c: f64,
    /// Part of it that went through a short, C.
    short_c: f64,
}

impl Cell {
    /// A fresh cell, nothing connected.
    #[must_use]
    pub fn new(world: World, now: Moment) -> Self {
        let half_thermal = half_thermal_v(world.kelvin);
        let i0 = world.i0_a_per_m2;
        let network = Network {
            cathode: Cathode {
                i0,
                limiting: world.limiting_a_per_m2,
                half_thermal,
            },
            anode: Anode { i0, half_thermal },
            anode_m2: world.anode_m2,
            film_ohm: 0.0,
            lead_ohm: world.lead_ohm,
            short_ohm: None,
            branches: vec![Branch::default(); world.electrodes.len()],
            anode_root: 1.0,
        };
        let grown: Vec<Grown> = world
            .electrodes
            .iter()
            .map(|electrode| {
                let area_m2 = electrode.growth.area_m2(0.0) * electrode.area_factor;
                Grown {
                    charge_c: 0.0,
                    thickness_m: 0.0,
                    area_m2,
                    skin: electrode.paint.as_ref().map(|paint| paint.skin(area_m2)),
                    hanging: true,
                    extra_ohm: 0.0,
                    share: 0.0,
                }
            })
            .collect();
        let mut cell = Self {
            now,
            drive: Drive::OFF,
            trip: None,
            solved_areas: vec![0.0; grown.len()],
            grown,
            network,
            lead_open: false,
            relay: world.relay_holds.map(relay::Relay::new),
            relay_open: world.relay_holds.is_some(),
            clip_ohm: 0.0,
            free: 1.0,
            film_ohm_m2: 0.0,
            drift: Drift::new(&world),
            solved: Solution::default(),
            goal_amps: 0.0,
            goal_volts: 0.0,
            mode: Mode::Unregulated,
            amps: 0.0,
            must_solve: true,
            since_look_s: 0.0,
            unbooked_c: 0.0,
            charge_c: 0.0,
            charge_lost_c: 0.0,
            short_c: 0.0,
            world: Arc::new(world),
        };
        cell.lay_out();
        cell
    }

    /// The world it was made from.
    #[must_use]
    pub fn world(&self) -> &World {
        &self.world
    }

    /// The moment it has come to.
    #[must_use]
    pub fn now(&self) -> Moment {
        self.now
    }

    /// Current through the terminals at this moment, A.
    #[must_use]
    pub fn amps(&self) -> f64 {
        self.amps
    }

    /// How the power stage regulates; unregulated while it is off.
    #[must_use]
    pub fn mode(&self) -> Mode {
        self.mode
    }

    /// Voltage at the supply's terminals at this moment, V.
    #[must_use]
    pub fn volts(&self) -> f64 {
        if !self.drive.on {
            return 0.0;
        }
        let apart = self.amps - self.goal_amps;
        if apart.abs() <= CURRENT_CHANGE * self.goal_amps {
            return self.goal_volts + apart * self.solved.ohm;
        }
        self.network.clone().solve(Source::Amps(self.amps)).volts
    }

    /// Changes what the supply does, from now on. Turning off stops the current at once; everything
    /// else slews.
    pub fn set_drive(&mut self, drive: Drive) {
        if drive == self.drive {
            return;
        }
        self.must_solve |= drive.on != self.drive.on
            || drive.volts != self.drive.volts
            || self.mode != Mode::ConstantCurrent;
        self.drive = drive;
        if !drive.on {
            self.amps = 0.0;
        }
        self.settle();
    }

    /// The protection that has acted since this was last asked; the output is off since then.
    pub fn take_trip(&mut self) -> Option<Trip> {
        self.trip.take()
    }

    /// Breaks or mends something, from now on.
    pub fn fault(&mut self, fault: CellFault) {
        self.book();
        match fault {
            CellFault::LeadOpen => self.lead_open = true,
            CellFault::LeadBack => self.lead_open = false,
            CellFault::Short(ohm) => self.network.short_ohm = Some(ohm),
            CellFault::ShortGone => self.network.short_ohm = None,
            CellFault::Contact {
                electrode: None,
                ohm,
            } => {
                self.clip_ohm = ohm;
            }
            CellFault::Contact {
                electrode: Some(index),
                ohm,
            } => {
                self.grown[index].extra_ohm = ohm;
            }
            CellFault::AnodeFilm { free, ohm_m2 } => {
                self.free = free;
                self.film_ohm_m2 = ohm_m2;
            }
            CellFault::Fallen(index) => self.grown[index].hanging = false,
            CellFault::Hung(index) => self.grown[index].hanging = true,
            CellFault::Loosens {
                ohm_per_s,
                jumps_ohm,
            } => self.drift.loosens = Some([ohm_per_s, jumps_ohm]),
            CellFault::Films(ohm_m2_per_s) => self.drift.films_ohm_m2_per_s = ohm_m2_per_s,
            CellFault::Falls(m_per_s) => self.drift.falls_m_per_s = m_per_s,
            CellFault::StirrerStops => self.drift.stirred = false,
            CellFault::Bath(kelvin) => self.drift.kelvin = kelvin,
        }
        if self.lead_open || self.relay_open {
            self.amps = 0.0;
        }
        self.lay_out();
        self.must_solve = true;
        self.settle();
    }

    /// Lets time pass. The charge of every stretch is exact: the current is constant in it, or
    /// slews in a straight line to where the cell settles.
    pub fn advance(&mut self, to: Moment) {
        if let Some(opens) = self.opens_before(to) {
            self.passes(opens);
            self.contact_moves();
        }
        self.passes(to);
    }

    fn passes(&mut self, to: Moment) {
        let mut left_s = to.since(self.now).s();
        while left_s > 0.0 {
            let step_s = if self.is_spreading() || self.drift.is_moving() {
                SPREADING_STEP_S
            } else {
                CALM_STEP_S
            };
            let dt = (step_s - self.since_look_s).clamp(0.0, left_s);
            // A look can be due at once: an infinite slew for no time is no number.
            if dt > 0.0 {
                self.pass(dt);
            }
            left_s -= dt;
            if self.since_look_s >= step_s {
                self.look();
            }
        }
        self.now = self.now.max(to);
    }

    /// One stretch without a look.
    fn pass(&mut self, dt: f64) {
        let gap = self.goal_amps - self.amps;
        let charge = if gap == 0.0 {
            self.amps * dt
        } else {
            let slewing_s = gap.abs() / self.drive.slew_a_per_s;
            if slewing_s < dt {
                let ramp = f64::midpoint(self.amps, self.goal_amps) * slewing_s;
                self.amps = self.goal_amps;
                ramp + self.amps * (dt - slewing_s)
            } else {
                let end = self.amps + gap.signum() * self.drive.slew_a_per_s * dt;
                let ramp = f64::midpoint(self.amps, end) * dt;
                self.amps = end;
                ramp
            }
        };
        self.unbooked_c += charge;
        self.since_look_s += dt;
    }

    /// Books the charge, lets surfaces and fronts move, and solves again if that changed enough.
    fn look(&mut self) {
        let passed_s = self.since_look_s;
        self.book();
        if self.drift.is_moving() {
            self.drift.pass(passed_s);
            self.lay_out();
            self.must_solve = true;
        }
        self.settle();
    }

    /// What a sensor in the tank would say.
    #[must_use]
    pub fn sensed(&self) -> Sensed {
        self.drift.sensed()
    }

    /// Writes the charge since the last booking down to the electrodes it went to.
    fn book(&mut self) {
        let charge = self.unbooked_c;
        self.unbooked_c = 0.0;
        self.since_look_s = 0.0;
        // Kahan's sum: a night of small additions loses nothing.
        let corrected = charge - self.charge_lost_c;
        let total = self.charge_c + corrected;
        self.charge_lost_c = (total - self.charge_c) - corrected;
        self.charge_c = total;
        let through_bath = charge * (1.0 - self.solved.short_share);
        self.short_c += charge - through_bath;
        let m3_per_c = self.world.kg_per_c() / self.world.density_kg_per_m3;
        for (it, electrode) in self.grown.iter_mut().zip(&self.world.electrodes) {
            let charge = through_bath * it.share;
            if charge == 0.0 {
                continue;
            }
            it.charge_c += charge;
            let volume = it.charge_c * m3_per_c / electrode.area_factor;
            it.thickness_m = electrode.growth.thickness_m(volume, it.thickness_m);
            it.area_m2 = electrode.growth.area_m2(it.thickness_m) * electrode.area_factor;
            if let (Some(skin), Some(paint)) = (&mut it.skin, &electrode.paint) {
                skin.deposit(charge / paint.alike, m3_per_c);
            }
            it.skin.take_if(|skin| skin.is_whole());
        }
        self.lay_out();
    }

    /// Gives the network the areas and resistances as they are now.
    fn lay_out(&mut self) {
        let (world, drift) = (&self.world, &self.drift);
        let (warmth, wetted) = (drift.warmth(world), drift.wetted());
        let (kappa, gap) = (world.kappa_s_per_m * warmth, world.gap_m);
        self.network.lead_ohm = world.lead_ohm + self.clip_ohm + drift.clip_ohm();
        self.network.anode_m2 = world.anode_m2 * self.free * wetted;
        self.network.film_ohm = (self.film_ohm_m2 + drift.film_ohm_m2()) / self.network.anode_m2;
        self.network.cathode = Cathode {
            i0: world.i0_a_per_m2 * warmth,
            limiting: drift.limiting(world),
            half_thermal: half_thermal_v(drift.kelvin),
        };
        self.network.anode = Anode {
            i0: world.i0_a_per_m2 * warmth,
            half_thermal: half_thermal_v(drift.kelvin),
        };
        for (index, (it, electrode)) in self.grown.iter().zip(&world.electrodes).enumerate() {
            let active = it.skin.as_ref().map_or(1.0, Skin::active_fraction);
            let area_m2 = if it.hanging {
                it.area_m2 * active * wetted
            } else {
                0.0
            };
            let path_ohm = match world.path {
                Path::Even => parallel_plates(kappa, gap, area_m2),
                Path::OwnShape => {
                    let body = 1.0 / electrode.field.siemens(kappa, gap);
                    let patch = |skin: &Skin| disk(kappa, (skin.active_m2() / PI).sqrt());
                    body.max(it.skin.as_ref().map_or(0.0, patch))
                }
            };
            let branch = &mut self.network.branches[index];
            branch.area_m2 = area_m2;
            branch.ohm =
                path_ohm / electrode.position_factor + electrode.contact_ohm + it.extra_ohm;
            let solved = self.solved_areas[index];
            self.must_solve |= (area_m2 - solved).abs() > AREA_CHANGE * solved;
        }
    }

    /// Finds where the cell settles under the drive, and trips if that is beyond a protection.
    fn settle(&mut self) {
        self.find_goal();
        if !self.drive.on {
            return;
        }
        if self.goal_volts > self.drive.trip_volts {
            self.trip = Some(Trip::Voltage);
        } else if self.goal_amps > self.drive.trip_amps {
            self.trip = Some(Trip::Current);
        }
        if self.trip.is_some() {
            self.drive.on = false;
            self.amps = 0.0;
            self.find_goal();
        }
    }

    /// Where the cell settles under the drive, from the last solution if little has changed.
    fn find_goal(&mut self) {
        let asked = self.drive.amps.max(0.0);
        if !self.drive.on || self.lead_open || self.relay_open {
            self.book();
            self.solved = Solution::default();
            self.must_solve = true;
            self.goal_amps = 0.0;
            self.goal_volts = if self.drive.on { self.drive.volts } else { 0.0 };
            self.mode = if self.drive.on {
                Mode::ConstantVoltage
            } else {
                Mode::Unregulated
            };
            return;
        }
        let moved = asked - self.solved.amps;
        let is_near = moved.abs() <= CURRENT_CHANGE * self.solved.amps;
        let volts = self.solved.volts + moved * self.solved.ohm;
        let holds = match self.mode {
            Mode::ConstantCurrent => is_near && volts <= self.drive.volts,
            Mode::ConstantVoltage => true,
            Mode::Unregulated => false,
        };
        if self.must_solve || !holds {
            self.book();
            self.solve(asked);
        } else if self.mode == Mode::ConstantCurrent {
            self.goal_amps = asked;
            self.goal_volts = volts;
        }
    }

    /// A full solution: constant current if the voltage allows it, else constant voltage.
    fn solve(&mut self, asked: f64) {
        let mut solution = self.network.solve(Source::Amps(asked));
        self.mode = Mode::ConstantCurrent;
        if solution.volts > self.drive.volts {
            solution = self.network.solve(Source::Volts(self.drive.volts));
            self.mode = Mode::ConstantVoltage;
        }
        self.solved = solution;
        self.goal_amps = solution.amps;
        self.goal_volts = solution.volts;
        let through_bath: f64 = self.network.branches.iter().map(|branch| branch.amps).sum();
        for (index, it) in self.grown.iter_mut().enumerate() {
            let branch = &self.network.branches[index];
            it.share = if through_bath > 0.0 {
                branch.amps / through_bath
            } else {
                0.0
            };
            self.solved_areas[index] = branch.area_m2;
        }
        self.must_solve = false;
    }

    /// True while copper still spreads over a hanging piece and current flows.
    fn is_spreading(&self) -> bool {
        self.amps > 0.0 && self.grown.iter().any(|it| it.hanging && it.skin.is_some())
    }
}
