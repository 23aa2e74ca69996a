//! How thick a charge makes a body, and back.

use super::{DepositError, Metal};
use crate::shape::Body;
use crate::units::{Charge, Density, Length, Mass, Volume};

/// One metal as one bath lays it down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Deposit {
    /// The metal.
    pub metal: Metal,
    /// Density of the deposit.
    pub density: Density,
    /// Cathode efficiency, best value, as a share of one. One found by weighing has the gain of the
    /// meter in it.
    pub efficiency: f64,
    /// Half-width of its 95 % interval, as a share of it.
    pub efficiency_uncertainty: f64,
}

impl Deposit {
    /// A metal with its deposit's density, the cathode efficiency (share of one, at most 1.1, since
    /// one found by weighing has the meter's gain in it) and the half-width of its 95 % interval
    /// (share of it).
    ///
    /// # Errors
    /// [`DepositError`] if a figure is impossible.
    pub fn new(
        metal: Metal,
        density: Density,
        efficiency: f64,
        efficiency_uncertainty: f64,
    ) -> Result<Self, DepositError> {
        if !(density > Density::ZERO && density.is_finite()) {
            return Err(DepositError::Density { value: density });
        }
        if !(efficiency > 0.0 && efficiency <= 1.1) {
            return Err(DepositError::Efficiency { value: efficiency });
        }
        if !(0.0..1.0).contains(&efficiency_uncertainty) {
            return Err(DepositError::EfficiencyUncertainty {
                value: efficiency_uncertainty,
            });
        }
        Ok(Self {
            metal,
            density,
            efficiency,
            efficiency_uncertainty,
        })
    }

    /// The metal at its own density and full efficiency, without a doubt: what a handbook reckons
    /// with.
    #[must_use]
    pub const fn ideal(metal: Metal) -> Self {
        Self {
            metal,
            density: metal.density,
            efficiency: 1.0,
            efficiency_uncertainty: 0.0,
        }
    }

    /// Mass that a charge lays down.
    #[must_use]
    pub fn mass(&self, charge: Charge) -> Mass {
        self.metal.mass(charge, self.efficiency)
    }

    /// Charge that lays down a mass.
    #[must_use]
    pub fn charge_for_mass(&self, mass: Mass) -> Charge {
        self.metal.charge(mass, self.efficiency)
    }

    /// Volume that a charge lays down.
    #[must_use]
    pub fn volume(&self, charge: Charge) -> Volume {
        self.mass(charge) / self.density
    }

    /// Mean thickness that a charge lays on a body, its area growing meanwhile.
    ///
    /// None for a negative charge, or if the body closes before it has taken that much
    /// ([`Body::thickness_for`]).
    #[must_use]
    pub fn thickness(&self, body: &Body, charge: Charge) -> Option<Length> {
        body.thickness_for(self.volume(charge))
    }

    /// As [`Self::thickness`], looking first near a thickness that is probably close.
    #[must_use]
    pub fn thickness_near(&self, body: &Body, charge: Charge, near: Length) -> Option<Length> {
        body.thickness_near(self.volume(charge), near)
    }

    /// Charge that lays a mean thickness on a body: the inverse of [`Self::thickness`]. Beyond the
    /// thickness at which the body closes it is the charge that closes it.
    #[must_use]
    pub fn charge_for(&self, body: &Body, thickness: Length) -> Charge {
        self.charge_for_mass(self.density * body.deposit_volume(thickness))
    }
}
