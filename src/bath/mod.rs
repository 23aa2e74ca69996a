//! What one kind of bath is and allows. This room knows windows, efficiency and the metal a bath
//! lays down. It must never know a file, a run or a ledger. Spec, plan and everything below come
//! in.

use crate::deposit::Metal;
use crate::units::{Concentration, CurrentDensity, Density, Temperature};

/// A bath profile, checked.
#[derive(Clone, Debug, PartialEq)]
pub struct BathProfile {
    /// Its name, as jobs name it.
    pub name: String,
    /// What it lays down.
    pub metal: Metal,
    /// Density of the deposit, where it differs from the pure metal's.
    pub deposit_density: Density,
    /// Cathode efficiency: share of the charge that deposits metal, best value.
    pub efficiency: f64,
    /// Half-width of the 95 % interval of the efficiency, as a share of it.
    pub efficiency_uncertainty: f64,
    /// Lowest and highest mean current density in a still bath.
    pub window_still: [CurrentDensity; 2],
    /// Lowest and highest mean current density in a stirred bath.
    pub window_stirred: [CurrentDensity; 2],
    /// Lowest and highest working temperature.
    pub temperature: [Temperature; 2],
    /// What is dissolved in it, and how much.
    pub components: Vec<Component>,
    /// Where the figures come from, a line each.
    pub sources: Vec<String>,
}

impl BathProfile {
    /// Lowest and highest mean current density in a still or a stirred bath.
    #[must_use]
    pub const fn window(&self, stirred: bool) -> [CurrentDensity; 2] {
        if stirred {
            self.window_stirred
        } else {
            self.window_still
        }
    }
}

/// One substance of a bath and the window of its concentration.
#[derive(Clone, Debug, PartialEq)]
pub struct Component {
    /// The substance, as it is bought: `copper sulfate pentahydrate`.
    pub name: String,
    /// The least there may be.
    pub low: Concentration,
    /// The most there may be.
    pub high: Concentration,
}
