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
