//! Metals, and Faraday's law.

use crate::units::{Charge, Density, Mass};

/// The Faraday constant e·N_A in C/mol, exact in the SI since 2019: 1.602 176 634e-19 × 6.022 140
/// 76e23.
pub const FARADAY: f64 = 96_485.332_123_310_02;

/// A metal as a bath deposits it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Metal {
    /// Its name in lower case.
    pub name: &'static str,
    /// Molar mass, kg/mol.
    pub molar_mass: f64,
    /// Electrons for one ion.
    pub valence: f64,
    /// Density of the pure metal.
    pub density: Density,
}

impl Metal {
    /// Copper from a sulphate bath, as Cu²⁺: IUPAC standard atomic weight 63.546, density 8.96
    /// g/cm³.
    pub const COPPER: Self = Self {
        name: "copper",
        molar_mass: 63.546e-3,
        valence: 2.0,
        density: Density::from_g_per_cm3(8.96),
    };
    /// Nickel, as Ni²⁺: IUPAC standard atomic weight 58.6934, density 8.908 g/cm³.
    pub const NICKEL: Self = Self {
        name: "nickel",
        molar_mass: 58.6934e-3,
        valence: 2.0,
        density: Density::from_g_per_cm3(8.908),
    };
    /// Silver, as Ag⁺: IUPAC standard atomic weight 107.8682, density 10.49 g/cm³.
    pub const SILVER: Self = Self {
        name: "silver",
        molar_mass: 107.8682e-3,
        valence: 1.0,
        density: Density::from_g_per_cm3(10.49),
    };
    /// Every metal known here.
    pub const ALL: [Self; 3] = [Self::COPPER, Self::NICKEL, Self::SILVER];

    /// The metal of that name, in lower case.
    #[must_use]
    pub fn by_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|metal| metal.name == name)
    }

    /// Mass that a charge deposits at a cathode efficiency (share of one): m = Q·M·η/(z·F).
    #[must_use]
    pub fn mass(&self, charge: Charge, efficiency: f64) -> Mass {
        Mass::from_kg(charge.c() * self.kg_per_c() * efficiency)
    }

    /// Charge that deposits a mass at a cathode efficiency (share of one, not zero).
    #[must_use]
    pub fn charge(&self, mass: Mass, efficiency: f64) -> Charge {
        Charge::from_c(mass.kg() / (self.kg_per_c() * efficiency))
    }

    /// The electrochemical equivalent M/(z·F), kg/C.
    pub(super) fn kg_per_c(&self) -> f64 {
        self.molar_mass / (self.valence * FARADAY)
    }
}
