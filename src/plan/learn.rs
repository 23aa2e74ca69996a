//! What earlier pieces taught: a gauge corrects the area, a scale the mass for each amp-hour. The
//! two are kept apart: a mass says nothing about area, a thickness nothing about efficiency.

use super::SHARE_DOUBT;
use crate::bath::BathProfile;
use crate::deposit::{Deposit, DepositError};
use crate::shape::Body;
use crate::units::{Area, Bounded, Charge, Length, Mass};
use std::collections::BTreeMap;

/// How far the mean of some gauge readings is from a piece's mean thickness, 95 %, as a share, if
/// she does not say (our own estimate, `common practice, no source`): tips are thicker, hollows
/// thinner.
pub const GAUGE_DOUBT: f64 = 0.10;
/// The same for a mass gained: water, paint and broken grains (our own estimate).
pub const SCALE_DOUBT: f64 = 0.02;
/// A charge between hard bounds counts as a rectangular distribution (JCGM 100, 4.3.7), to 95 %.
const RECTANGLE_95: f64 = 1.96 / 1.732_050_807_568_877_2;
/// An efficiency outside is a mistake on the scale; above one it has the meter's gain in it.
const EFFICIENCY: [f64; 2] = [0.5, 1.1];
/// An area this many times off is a mistake of the gauge.
const AREA_OFF: f64 = 4.0;

/// A piece of an earlier run that was gauged or weighed.
#[derive(Clone, Debug, PartialEq)]
pub struct Earlier {
    /// Its run.
    pub run: i64,
    /// That run was simulated: it teaches nothing.
    pub simulated: bool,
    /// Its name.
    pub name: String,
    /// Its kind, as [`crate::spec::kinds`] tells it.
    pub kind: String,
    /// The bath profile's name.
    pub bath: String,
    /// Area at the start, as it was reckoned with.
    pub area: Area,
    /// The same of everything on its rack.
    pub rack: Area,
    /// Charge through it.
    pub charge: Bounded<Charge>,
    /// Mass on it, as it was reckoned.
    pub mass: Mass,
    /// What a gauge read.
    pub gauged: Option<Length>,
    /// How far that may be from the mean, 95 %, where it was said.
    pub gauge_doubt: Option<Length>,
    /// What a scale found.
    pub weighed: Option<Mass>,
}

/// What is known from earlier runs, for the pieces of one job.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Learnt {
    pieces: BTreeMap<String, Vec<Earlier>>,
    /// The newest simulated run in which a piece of that name and kind was measured.
    simulated: BTreeMap<String, i64>,
}

/// A corrected area.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Gauged {
    pub(super) run: i64,
    pub(super) body: Body,
}

/// A corrected efficiency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Weighed {
    pub(super) run: i64,
    pub(super) deposit: Deposit,
}

impl Learnt {
    /// What `earlier` pieces, the newest run first, say for a job's pieces: `kinds` by their names.
    #[must_use]
    pub fn of(earlier: &[Earlier], kinds: &BTreeMap<String, String>) -> Self {
        let mut learnt = Self::default();
        for one in earlier {
            if kinds.get(&one.name) != Some(&one.kind) {
                continue;
            }
            let name = one.name.clone();
            if one.simulated {
                learnt.simulated.entry(name).or_insert(one.run);
            } else {
                learnt.pieces.entry(name).or_default().push(one.clone());
            }
        }
        learnt
    }

    /// The simulated run after which a piece like it was measured, where no real one was.
    pub(super) fn only_simulated(&self, name: &str) -> Option<i64> {
        let real = self.pieces.contains_key(name);
        self.simulated.get(name).copied().filter(|_| !real)
    }

    /// The body of a piece with the area that the newest gauge reading of its kind gives.
    ///
    /// The volume of metal V that the charge laid down stands on the piece at the mean thickness d
    /// that was read: V = A₀d + Md² + Gd³/3, so A₀ = (V − Md² − Gd³/3)/d; how it bends is left as
    /// the shape has it. On a rack of several, pieces share the current by their true areas, so
    /// that a thickness tells the whole rack's area: each piece is then taken as off by the same
    /// factor, and is less sure the smaller a part of the rack it was.
    pub(super) fn area(&self, name: &str, body: &Body, deposit: &Deposit) -> Option<Gauged> {
        let seen = self.pieces.get(name)?;
        let one = seen.iter().find(|one| one.gauged.is_some())?;
        let d = one.gauged?.m();
        let volume = (one.mass / deposit.density).m3();
        let m = body.mean_curvature.m();
        let area = Area::from_m2(volume / d - d * (m + d * body.gauss / 3.0));
        let ratio = area / body.area;
        if !(ratio > 1.0 / AREA_OFF && ratio < AREA_OFF) {
            return None;
        }
        let others = 1.0 - (one.area / one.rack).min(1.0);
        let read = one.gauge_doubt.map_or(GAUGE_DOUBT, |doubt| doubt.m() / d);
        let uncertainty = read
            .hypot(charge_doubt(&one.charge))
            .hypot(deposit.efficiency_uncertainty)
            .hypot(others * SHARE_DOUBT)
            .hypot(others * body.uncertainty);
        Some(Gauged {
            run: one.run,
            body: Body {
                area,
                uncertainty: uncertainty.min(0.9),
                ..*body
            },
        })
    }

    /// The deposit with the mass per charge that the newest run with weighed pieces of these kinds
    /// gives, in the same bath. The share of one piece of several on a rack is unsure, so that
    /// weighing all of them tells more.
    ///
    /// # Errors
    /// [`DepositError`] if the figures describe no deposit.
    pub(super) fn deposit(
        &self,
        bath: &BathProfile,
        plain: &Deposit,
    ) -> Result<Option<Weighed>, DepositError> {
        let weighed = || {
            let all = self.pieces.values().flatten();
            all.filter(|one| one.weighed.is_some() && one.bath == bath.name)
        };
        let Some(run) = weighed().map(|one| one.run).max() else {
            return Ok(None);
        };
        let (mut mass, mut charge, mut part) = (Mass::ZERO, Bounded::exact(Charge::ZERO), 0.0);
        for one in weighed().filter(|one| one.run == run) {
            mass += one.weighed.unwrap_or(Mass::ZERO);
            charge = charge + one.charge;
            part += one.area / one.rack;
        }
        let efficiency = mass / plain.metal.mass(charge.best, 1.0);
        if !(EFFICIENCY[0]..=EFFICIENCY[1]).contains(&efficiency) {
            return Ok(None);
        }
        let unsure = SCALE_DOUBT
            .hypot(charge_doubt(&charge))
            .hypot((1.0 - part).max(0.0) * SHARE_DOUBT);
        let deposit = Deposit::new(plain.metal, plain.density, efficiency, unsure)?;
        Ok(Some(Weighed { run, deposit }))
    }
}

fn charge_doubt(charge: &Bounded<Charge>) -> f64 {
    (charge.high - charge.low) / charge.best / 2.0 * RECTANGLE_95
}
