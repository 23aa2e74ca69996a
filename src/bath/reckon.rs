//! What a bath holds that was made from these, and what is to be said of it.

use super::chemical::{Chemical, component, molar};
use super::density::{solution, water};
use super::profile::BathProfile;
use super::put::Put;
use super::solubility::{Dissolves, boric_acid, copper_dissolves, copper_sulfate, crystallises_at};
use crate::units::{Concentration, Mass, Temperature, Volume};

/// Every code a note can have.
pub const NOTES: [&str; 10] = [
    "below-window",
    "above-window",
    "not-in-bath",
    "wont-dissolve",
    "may-crystallise",
    "chloride-worth",
    "water-chloride",
    "vessel-full",
    "not-analysed",
    "coarse-reading",
];

/// One component against its window.
#[derive(Clone, Debug, PartialEq)]
pub struct Checked {
    /// The component.
    pub component: String,
    /// What there is.
    pub held: Concentration,
    /// The least there may be.
    pub low: Concentration,
    /// The most there may be.
    pub high: Concentration,
}

impl Checked {
    /// Inside its window, to a thousandth of it: weighing is no finer.
    #[must_use]
    pub fn ok(&self) -> bool {
        self.held >= self.low * 0.999 && self.held <= self.high * 1.001
    }
}

/// Something to be said, with its word code.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Note {
    /// The word code; it has a page.
    pub code: &'static str,
    /// In a sentence or two.
    pub text: String,
}

/// What a volume holds of each component of the profile, and of anything else that was put in;
/// what fills it up is water with this chloride, at this temperature.
#[must_use]
pub fn reckon(
    profile: &BathProfile,
    volume: Volume,
    puts: &[Put],
    (water_chloride, at): (Concentration, Temperature),
) -> Vec<(String, Concentration)> {
    let mut names: Vec<String> = profile
        .components
        .iter()
        .map(|one| one.name.clone())
        .collect();
    for put in puts {
        // What a component of the bath brings beside itself belongs to the bath.
        let own = profile.component(&put.name).is_some();
        let brought: Vec<&str> = match Chemical::by_name(&put.name) {
            Some(_) if own => Vec::new(),
            Some(chemical) => chemical.brings.iter().map(|(name, _)| *name).collect(),
            None => vec![put.name.as_str()],
        };
        for name in brought {
            if !names.iter().any(|known| known == name) {
                names.push(name.to_owned());
            }
        }
    }
    if water_chloride > Concentration::ZERO && !names.iter().any(|n| n == component::CHLORIDE) {
        names.push(component::CHLORIDE.to_owned());
    }
    let brought = |name: String| {
        let mass: Mass = puts.iter().map(|put| put.brings(&name)).sum();
        (name, Concentration::of(mass, volume))
    };
    let mut held: Vec<(String, Concentration)> = names.into_iter().map(brought).collect();
    let water = water_in(volume, &held, puts, at);
    for (name, found) in &mut held {
        if name == component::CHLORIDE {
            *found += Concentration::of(water_chloride * water, volume);
        }
    }
    held
}

/// The water that fills a volume up which holds this: what its mass leaves for it. Of a bath whose
/// density nobody knows it is the whole volume, which is the most that it can be.
fn water_in(
    volume: Volume,
    held: &[(String, Concentration)],
    puts: &[Put],
    at: Temperature,
) -> Volume {
    let pairs = held.iter().map(|(name, held)| (name.as_str(), *held));
    let others: Mass = puts.iter().map(|put| put.mass).sum();
    solution(pairs, at).map_or(volume, |density| {
        (density * volume - others).max(Mass::ZERO) / water(at)
    })
}

/// Each component of the profile against its window.
#[must_use]
pub fn check(profile: &BathProfile, held: &[(String, Concentration)]) -> Vec<Checked> {
    profile
        .components
        .iter()
        .map(|one| Checked {
            component: one.name.clone(),
            held: of(held, &one.name),
            low: one.low,
            high: one.high,
        })
        .collect()
}

pub(super) fn of(held: &[(String, Concentration)], name: &str) -> Concentration {
    let found = held.iter().find(|(known, _)| known == name);
    found.map_or(Concentration::ZERO, |(_, held)| *held)
}

/// A concentration as a person says it.
pub(super) fn shown(held: Concentration) -> String {
    if held.g_per_l() < 1.0 {
        format!("{:.0} mg/L", held.mg_per_l())
    } else {
        format!("{:.1} g/L", held.g_per_l())
    }
}

/// What there is to say of the components that are outside their windows.
#[must_use]
pub fn window_notes(checked: &[Checked]) -> Vec<Note> {
    checked
        .iter()
        .filter(|one| !one.ok())
        .map(|one| {
            let below = one.held < one.low;
            Note {
                code: if below {
                    "below-window"
                } else {
                    "above-window"
                },
                text: format!(
                    "{}: {} is {} the window of {} to {}",
                    one.component,
                    shown(one.held),
                    if below { "below" } else { "above" },
                    shown(one.low),
                    shown(one.high)
                ),
            }
        })
        .collect()
}

/// What there is to say of a bath that holds this: windows, what will not dissolve, and how the
/// sources of chloride compare.
#[must_use]
pub fn notes(
    profile: &BathProfile,
    held: &[(String, Concentration)],
    puts: &[Put],
    at: Temperature,
) -> Vec<Note> {
    let mut list = window_notes(&check(profile, held));
    list.extend(strangers(profile, held));
    list.extend(copper_note(held, at));
    let boric = of(held, component::BORIC);
    if boric > boric_acid(at) {
        list.push(Note {
            code: "wont-dissolve",
            text: format!(
                "boric acid: {} is more than the {} that dissolve at {:.0} C: warm the bath before \
                 it goes in, and keep it warm",
                shown(boric),
                shown(boric_acid(at)),
                at.c()
            ),
        });
    }
    list.extend(puts.iter().filter_map(hydrochloric));
    list
}

/// What is in it that the profile does not list.
fn strangers(profile: &BathProfile, held: &[(String, Concentration)]) -> Vec<Note> {
    let strange = |name: &str, held: Concentration| {
        profile.component(name).is_none() && held > Concentration::ZERO
    };
    held.iter()
        .filter(|(name, held)| strange(name, *held))
        .map(|(name, held)| Note {
            code: "not-in-bath",
            text: format!(
                "{name}: {} in it, and {} has none of it",
                shown(*held),
                profile.name
            ),
        })
        .collect()
}

fn copper_note(held: &[(String, Concentration)], at: Temperature) -> Option<Note> {
    let (copper, acid) = (of(held, component::COPPER), of(held, component::ACID));
    let cold = crystallises_at(copper, acid);
    match copper_dissolves(copper, acid, at) {
        Dissolves::No => Some(Note {
            code: "wont-dissolve",
            text: format!(
                "copper sulfate: {} will not stay dissolved beside {} of acid at {:.0} C (without \
                 acid a litre holds {}; acid lowers it, a coarse figure)",
                shown(copper),
                shown(acid),
                at.c(),
                shown(copper_sulfate(at))
            ),
        }),
        Dissolves::Perhaps => Some(Note {
            code: "may-crystallise",
            text: format!(
                "copper sulfate: {} beside {} of acid is near its limit at {:.0} C, which is known \
                 to 15 %: crystals may form",
                shown(copper),
                shown(acid),
                at.c()
            ),
        }),
        Dissolves::Yes => cold.filter(|cold| cold.c() >= 12.0).map(|cold| Note {
            code: "may-crystallise",
            text: format!(
                "copper sulfate may crystallise at {:.0} C and below: mind a cold night",
                cold.c()
            ),
        }),
    }
}

/// What an amount of hydrochloric acid is worth in salt: practice takes far too little for enough.
fn hydrochloric(put: &Put) -> Option<Note> {
    if put.name != "hydrochloric acid" {
        return None;
    }
    let chloride = put.brings(component::CHLORIDE);
    let salt = chloride * (molar::SODIUM_CHLORIDE / molar::CHLORIDE);
    let amount = match put.volume {
        Some(volume) => format!("{:.3} mL", volume.cm3()),
        None => format!("{:.3} g", put.mass.g()),
    };
    Some(Note {
        code: "chloride-worth",
        text: format!(
            "{amount} of {:.1} % hydrochloric acid brings {:.1} mg of chloride: as much as \
             {:.1} mg of sodium chloride, and no more (150 mg of sodium chloride would \
             bring 91 mg)",
            put.strength.percent(),
            chloride.mg(),
            salt.mg()
        ),
    })
}
