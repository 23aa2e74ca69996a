//! A bath profile, checked.

use crate::deposit::Metal;
use crate::units::{Concentration, CurrentDensity, Density, Dilution, Dosage, Temperature, Volume};

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
    /// What is added by the amp-hour and the day.
    pub additives: Vec<Additive>,
    /// What the anode is, and how large beside the cathode.
    pub anode: Option<AnodeKind>,
    /// How it is stirred, in words.
    pub agitation: Option<String>,
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

    /// The component of that name.
    #[must_use]
    pub fn component(&self, name: &str) -> Option<&Component> {
        self.components.iter().find(|one| one.name == name)
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
    /// What a fresh bath is made up to.
    pub target: Concentration,
}

/// An additive: what a litre holds of it and what it is used up by.
#[derive(Clone, Debug, PartialEq)]
pub struct Additive {
    /// Its name: `brightener`.
    pub name: String,
    /// It is due when a litre holds less than this.
    pub low: Dilution,
    /// What a fresh or just replenished litre holds.
    pub full: Dilution,
    /// More than this in a litre spoils the deposit.
    pub most: Dilution,
    /// Used up by charge.
    pub per_charge: Dosage,
    /// Used up in a litre by a day, whether current flows or not.
    pub per_day: Dilution,
}

impl Additive {
    /// What a volume of bath holds when it is replenished.
    #[must_use]
    pub fn full_in(&self, bath: Volume) -> Volume {
        self.full.in_volume(bath)
    }
}

/// The anode a bath wants.
#[derive(Clone, Debug, PartialEq)]
pub struct AnodeKind {
    /// What it is: `phosphorized copper`.
    pub kind: String,
    /// Least and most area of it over that of the cathode.
    pub ratio: [f64; 2],
}
