//! Metals.

use crate::units::Density;

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

/// Copper from a bath of cupric ions.
pub const COPPER: Metal = Metal {
    name: "copper",
    molar_mass: 63.546e-3,
    valence: 2.0,
    density: Density::from_g_per_cm3(8.96),
};
/// Nickel.
pub const NICKEL: Metal = Metal {
    name: "nickel",
    molar_mass: 58.6934e-3,
    valence: 2.0,
    density: Density::from_g_per_cm3(8.908),
};
/// Silver.
pub const SILVER: Metal = Metal {
    name: "silver",
    molar_mass: 107.8682e-3,
    valence: 1.0,
    density: Density::from_g_per_cm3(10.49),
};

impl Metal {
    /// The metal of this name, in lower case.
    #[must_use]
    pub fn by_name(name: &str) -> Option<Self> {
        [COPPER, NICKEL, SILVER]
            .into_iter()
            .find(|metal| metal.name == name)
    }
}
