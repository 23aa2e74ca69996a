//! What can be bought for a bath, and how much of each component a gram of it brings.
//!
//! Atomic weights: IUPAC abridged standard values (2021); libraries that carry older ones differ
//! by up to 6e-5 of a molar mass.

use super::strength::Acid;

const H: f64 = 1.008;
const B: f64 = 10.81;
const N: f64 = 14.007;
const O: f64 = 15.999;
const NA: f64 = 22.989_769_28;
const S: f64 = 32.06;
const CL: f64 = 35.45;
const NI: f64 = 58.6934;
const CU: f64 = 63.546;
const AG: f64 = 107.8682;
const WATER: f64 = 2.0 * H + O;

/// Molar masses, g/mol.
pub mod molar {
    use super::{AG, B, CL, CU, H, N, NA, NI, O, S, WATER};

    /// Copper.
    pub const COPPER: f64 = CU;
    /// Chlorine, as chloride.
    pub const CHLORIDE: f64 = CL;
    /// CuSO₄.
    pub const COPPER_SULFATE: f64 = CU + S + 4.0 * O;
    /// CuSO₄·5H₂O.
    pub const COPPER_SULFATE_PENTAHYDRATE: f64 = COPPER_SULFATE + 5.0 * WATER;
    /// H₂SO₄.
    pub const SULFURIC_ACID: f64 = 2.0 * H + S + 4.0 * O;
    /// HCl.
    pub const HYDROGEN_CHLORIDE: f64 = H + CL;
    /// NaCl.
    pub const SODIUM_CHLORIDE: f64 = NA + CL;
    /// AgNO₃.
    pub const SILVER_NITRATE: f64 = AG + N + 3.0 * O;
    /// NaOH.
    pub const SODIUM_HYDROXIDE: f64 = NA + O + H;
    /// Ni(SO₃NH₂)₂·4H₂O.
    pub const NICKEL_SULFAMATE: f64 = NI + 2.0 * (S + 3.0 * O + N + 2.0 * H) + 4.0 * WATER;
    /// NiCl₂·6H₂O.
    pub const NICKEL_CHLORIDE: f64 = NI + 2.0 * CL + 6.0 * WATER;
    /// B(OH)₃.
    pub const BORIC_ACID: f64 = B + 3.0 * (O + H);
}

/// The names of components that the arithmetic knows more of than their mass.
pub mod component {
    /// CuSO₄·5H₂O, as the trade states copper.
    pub const COPPER: &str = "copper sulfate pentahydrate";
    /// H₂SO₄.
    pub const ACID: &str = "sulfuric acid";
    /// Cl⁻.
    pub const CHLORIDE: &str = "chloride";
    /// B(OH)₃.
    pub const BORIC: &str = "boric acid";
}

/// Something that is bought.
#[derive(Debug)]
pub struct Chemical {
    /// Its name.
    pub name: &'static str,
    /// Other names a person may write.
    pub also: &'static [&'static str],
    /// Which acid it is, if it comes as one: it then has a strength, and may be measured by volume.
    pub acid: Option<Acid>,
    /// Grams of each component that a gram of the pure substance brings.
    pub brings: &'static [(&'static str, f64)],
    /// Grams of crystal water in a gram of it.
    pub crystal_water: f64,
}

/// Every chemical known here.
pub static CHEMICALS: [Chemical; 7] = [
    Chemical {
        name: component::COPPER,
        also: &[
            "copper sulfate",
            "copper sulphate",
            "copper sulphate pentahydrate",
        ],
        acid: None,
        brings: &[(component::COPPER, 1.0)],
        crystal_water: 5.0 * WATER / molar::COPPER_SULFATE_PENTAHYDRATE,
    },
    Chemical {
        name: "copper sulfate anhydrous",
        also: &["anhydrous copper sulfate", "copper sulphate anhydrous"],
        acid: None,
        brings: &[(
            component::COPPER,
            molar::COPPER_SULFATE_PENTAHYDRATE / molar::COPPER_SULFATE,
        )],
        crystal_water: 0.0,
    },
    Chemical {
        name: component::ACID,
        also: &["sulphuric acid", "battery acid"],
        acid: Some(Acid::Sulfuric),
        brings: &[(component::ACID, 1.0)],
        crystal_water: 0.0,
    },
    Chemical {
        name: "hydrochloric acid",
        also: &[],
        acid: Some(Acid::Hydrochloric),
        brings: &[(
            component::CHLORIDE,
            molar::CHLORIDE / molar::HYDROGEN_CHLORIDE,
        )],
        crystal_water: 0.0,
    },
    Chemical {
        name: "sodium chloride",
        also: &["salt"],
        acid: None,
        brings: &[(
            component::CHLORIDE,
            molar::CHLORIDE / molar::SODIUM_CHLORIDE,
        )],
        crystal_water: 0.0,
    },
    Chemical {
        name: "nickel chloride hexahydrate",
        also: &["nickel chloride"],
        acid: None,
        brings: &[
            ("nickel chloride hexahydrate", 1.0),
            (
                component::CHLORIDE,
                2.0 * molar::CHLORIDE / molar::NICKEL_CHLORIDE,
            ),
        ],
        crystal_water: 6.0 * WATER / molar::NICKEL_CHLORIDE,
    },
    Chemical {
        name: "nickel sulfamate tetrahydrate",
        also: &["nickel sulfamate"],
        acid: None,
        brings: &[("nickel sulfamate tetrahydrate", 1.0)],
        crystal_water: 4.0 * WATER / molar::NICKEL_SULFAMATE,
    },
];

impl Chemical {
    /// The chemical of that name, whatever its capitals.
    #[must_use]
    pub fn by_name(name: &str) -> Option<&'static Self> {
        let is = |known: &str| known.eq_ignore_ascii_case(name.trim());
        CHEMICALS
            .iter()
            .find(|one| is(one.name) || one.also.iter().any(|known| is(known)))
    }

    /// Grams of a component that a gram of the pure substance brings; zero if none.
    #[must_use]
    pub fn share(&self, component: &str) -> f64 {
        self.brings
            .iter()
            .find(|(name, _)| *name == component)
            .map_or(0.0, |(_, share)| *share)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: f64, expected: f64) {
        assert!((found / expected - 1.0).abs() < 1e-4, "{found}, {expected}");
    }

    #[test]
    fn molar_masses_are_those_of_libraries() {
        // PyPI: chempy 0.10.2, `Substance.from_formula(…).mass`.
        near(molar::COPPER_SULFATE_PENTAHYDRATE, 249.677);
        near(molar::COPPER_SULFATE, 159.602);
        near(molar::SULFURIC_ACID, 98.072);
        near(molar::HYDROGEN_CHLORIDE, 36.458);
        near(molar::SODIUM_CHLORIDE, 58.439_769);
        // PyPI: chemicals 1.5.2 `MW('7758-99-8')`, and molmass 2026.1.8.
        near(molar::COPPER_SULFATE_PENTAHYDRATE, 249.685);
        near(molar::SULFURIC_ACID, 98.078_48);
        // molmass: AgNO3 169.872, NaOH 39.997.
        near(molar::SILVER_NITRATE, 169.872);
        near(molar::SODIUM_HYDROXIDE, 39.997);
        // CRC Handbook, from memory: H3BO3 61.833, NiCl2·6H2O 237.689, Ni(SO3NH2)2·4H2O 322.93.
        near(molar::BORIC_ACID, 61.833);
        near(molar::NICKEL_CHLORIDE, 237.689);
        near(molar::NICKEL_SULFAMATE, 322.93);
    }

    #[test]
    fn names_are_found_however_they_are_written() {
        let name = |text| Chemical::by_name(text).map(|one| one.name);
        assert_eq!(name("Salt"), Some("sodium chloride"));
        assert_eq!(name(" battery acid "), Some("sulfuric acid"));
        assert_eq!(name("sugar"), None);
    }
}
