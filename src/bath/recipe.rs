//! What to weigh and measure for a bath, in the order in which it is safe.

use super::chemical::{Chemical, component};
use super::conductivity::conductivity;
use super::cupboard::Cupboard;
use super::density::{solution, water};
use super::fault::BathFault;
use super::profile::BathProfile;
use super::put::{Put, assay};
use super::reckon::{Checked, Note, check, notes, of, reckon, shown};
use super::strength::Acid;
use crate::units::{Concentration, Density, Fraction, Mass, Temperature, Volume};

/// A drop (`common practice, no source`).
pub(super) const DROP: Volume = Volume::from_mm3(50.0);

/// One step: what goes in, how much, and what to mind.
#[derive(Clone, Debug, PartialEq)]
pub struct Addition {
    /// What goes in.
    pub substance: String,
    /// How much by mass; `None` for water whose amount is found by the mark.
    pub mass: Option<Mass>,
    /// How much by volume, of a liquid.
    pub volume: Option<Volume>,
    /// What to do, in a sentence or two.
    pub text: String,
    /// What to mind at this step.
    pub cautions: Vec<&'static str>,
}

/// A bath, ready to be made.
#[derive(Clone, Debug, PartialEq)]
pub struct Recipe {
    /// How much of it.
    pub volume: Volume,
    /// The steps, in their order.
    pub additions: Vec<Addition>,
    /// What comes out, against the window.
    pub check: Vec<Checked>,
    /// Its temperature when it is measured.
    pub at: Temperature,
    /// Density of the finished bath, where it can be told.
    pub density: Option<Density>,
    /// Its conductivity at 25 °C in S/m, where it can be told.
    pub conductivity: Option<f64>,
    /// What there is to say of it.
    pub warnings: Vec<Note>,
}

/// What holds for the whole of it, before the first bottle is opened.
pub(super) const BEFORE: &str = "Goggles, acid-proof gloves, apron and closed shoes, from before \
    the first bottle is opened; fresh air or an extractor; soda (sodium bicarbonate) for spills \
    and much water at hand; nobody else in the room who need not be.";
/// What holds after it.
pub(super) const AFTER: &str = "Store it in labelled HDPE or PP with a closed lid, away from food, \
    children and metal. Soak up a spill, cover it with soda until it no longer fizzes, and keep \
    what you wiped up. Spent bath, rinses and sludge never go down a drain: your local rules say \
    where they go, and come before this page.";

const ACID_STEP: [&str; 3] = [
    "Acid into the water, slowly and stirring, never water into acid: water poured into strong \
     acid boils where it touches, and spits.",
    "It becomes hot: pause when the vessel is too warm to hold, and use no thick glass.",
    "Pour away from your face; do not breathe over it.",
];
const SALT_STEP: [&str; 1] =
    ["Copper sulfate harms eyes and is poisonous to swallow: raise no dust, and wear the goggles."];
const HYDROCHLORIC_STEP: [&str; 2] = [
    "Only into the diluted bath, and only when it has cooled: hydrochloric acid gives off choking \
     fumes when it is warm.",
    "Keep it away from bleach: together they give off chlorine.",
];
const NICKEL_STEP: [&str; 1] =
    ["Nickel salts cause allergy and, as dust or mist, cancer: no dust, no skin, an extractor."];

/// Works out the recipe of a volume for these targets; a component without one gets the profile's.
///
/// # Errors
/// [`BathFault`] if it cannot be made from what there is, or not in this vessel.
pub fn make(
    profile: &BathProfile,
    volume: Volume,
    targets: &[(String, Concentration)],
    cupboard: &Cupboard,
) -> Result<Recipe, BathFault> {
    checked(profile, volume, targets, cupboard)?;
    let wanted = |name: &str| {
        let said = targets.iter().find(|(known, _)| known == name);
        let own = profile.component(name).map(|one| one.target);
        said.map(|(_, held)| *held).or(own)
    };
    let mut steps = Vec::new();
    let mut puts = Vec::new();
    for order in Order::ALL {
        for one in &profile.components {
            let target = wanted(&one.name).unwrap_or(one.target);
            if Order::of(&one.name) != order || target == Concentration::ZERO {
                continue;
            }
            let base = base(&one.name, profile, volume, &puts, cupboard);
            let lacking = (target - base) * volume;
            if lacking > Mass::ZERO {
                let (put, step) = give(&one.name, lacking, cupboard);
                let share = |end: Concentration| ((end - base) / (target - base)).max(0.0);
                steps.push(ranged(step, &put, [share(one.low), share(one.high)]));
                puts.push(put);
            }
        }
    }
    let held = reckon(
        profile,
        volume,
        &puts,
        (cupboard.water_chloride, cupboard.at),
    );
    let pairs = held.iter().map(|(name, held)| (name.as_str(), *held));
    let density = solution(pairs, cupboard.at);
    let water = water_step(volume, density, &puts, cupboard)?;
    let mut additions = vec![water];
    additions.extend(steps);
    additions.extend(profile.additives.iter().map(|one| Addition {
        substance: one.name.clone(),
        mass: None,
        volume: Some(one.full_in(volume)),
        text: format!(
            "{:.2} mL of {} (about {:.0} drops of 0.05 mL), last, into the cool, clear bath; your \
             maker's sheet comes first, and too much spoils as well as too little",
            one.full_in(volume).cm3(),
            one.name,
            one.full_in(volume).cm3() / DROP.cm3()
        ),
        cautions: Vec::new(),
    }));
    let mut warnings = notes(profile, &held, &puts, cupboard.at);
    let salted: Mass = puts.iter().map(|put| put.brings(component::CHLORIDE)).sum();
    let by_water = of(&held, component::CHLORIDE) - Concentration::of(salted, volume);
    warnings.extend(water_note(&held, by_water, wanted(component::CHLORIDE)));
    warnings.extend(vessel_note(volume, cupboard));
    Ok(Recipe {
        volume,
        additions,
        check: check(profile, &held),
        at: cupboard.at,
        density,
        conductivity: conductivity(&held),
        warnings,
    })
}

impl Recipe {
    /// Every caution, in the order of the steps, each once.
    #[must_use]
    pub fn cautions(&self) -> Vec<&'static str> {
        let mut list = vec![BEFORE];
        for caution in self.additions.iter().flat_map(|step| &step.cautions) {
            if !list.contains(caution) {
                list.push(caution);
            }
        }
        list.push(AFTER);
        list
    }
}

/// When something goes in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Order {
    Salt,
    Acid,
    Chloride,
}

impl Order {
    pub(super) const ALL: [Self; 3] = [Self::Salt, Self::Acid, Self::Chloride];

    pub(super) fn of(name: &str) -> Self {
        match name {
            component::ACID => Self::Acid,
            component::CHLORIDE => Self::Chloride,
            _ => Self::Salt,
        }
    }
}

/// Checks that a volume is one of a bath.
///
/// # Errors
/// [`BathFault::Range`] if it is not from 10 mL to 5000 L.
pub fn volume_checked(volume: Volume) -> Result<Volume, BathFault> {
    if (0.01..=5000.0).contains(&volume.l()) {
        return Ok(volume);
    }
    Err(BathFault::Range {
        what: "the volume".to_owned(),
        found: format!("{} L", volume.l()),
        allowed: "0.01 to 5000 L".to_owned(),
    })
}

pub(super) fn checked(
    profile: &BathProfile,
    volume: Volume,
    targets: &[(String, Concentration)],
    cupboard: &Cupboard,
) -> Result<(), BathFault> {
    volume_checked(volume)?;
    if !(0.0..=60.0).contains(&cupboard.at.c()) {
        return Err(BathFault::Range {
            what: "the temperature".to_owned(),
            found: format!("{} C", cupboard.at.c()),
            allowed: "0 to 60 C".to_owned(),
        });
    }
    if let Some(vessel) = cupboard.vessel.filter(|vessel| volume > *vessel) {
        return Err(BathFault::Vessel { volume, vessel });
    }
    for (name, _) in targets {
        if profile.component(name).is_none() {
            let names: Vec<&str> = profile
                .components
                .iter()
                .map(|one| one.name.as_str())
                .collect();
            return Err(BathFault::Said {
                what: format!(
                    "{} has no component {name:?}: it has {}",
                    profile.name,
                    names.join(", ")
                ),
            });
        }
    }
    Acid::Sulfuric.checked(cupboard.acid)?;
    if let Some(strength) = cupboard.hydrochloric {
        Acid::Hydrochloric.checked(strength)?;
    }
    assay(cupboard.assay)?;
    chloride_checked(cupboard.water_chloride)
}

/// Checks that a concentration is one of chloride in water that anybody would make a bath with.
///
/// # Errors
/// [`BathFault::Range`] if it is not from nothing to 1000 mg/L.
pub fn chloride_checked(water: Concentration) -> Result<(), BathFault> {
    if (0.0..=1.0).contains(&water.g_per_l()) {
        return Ok(());
    }
    Err(BathFault::Range {
        what: "the chloride of the water".to_owned(),
        found: format!("{} mg/L", water.mg_per_l()),
        allowed: "0 to 1000 mg/L".to_owned(),
    })
}

/// What there is of a component before its own step: of chloride, what the water brings and what
/// came with the salts. Its own source takes no room that counts.
fn base(
    name: &str,
    profile: &BathProfile,
    volume: Volume,
    puts: &[Put],
    cupboard: &Cupboard,
) -> Concentration {
    if name != component::CHLORIDE {
        return Concentration::ZERO;
    }
    let so_far = reckon(
        profile,
        volume,
        puts,
        (cupboard.water_chloride, cupboard.at),
    );
    of(&so_far, component::CHLORIDE)
}

/// What gives this mass of a component, and how it goes in.
pub(super) fn give(name: &str, lacking: Mass, cupboard: &Cupboard) -> (Put, Addition) {
    let (chemical, strength) = source(name, cupboard);
    let known = Chemical::by_name(chemical);
    let share = known.map_or(1.0, |known| known.share(name)) * strength.share();
    let mass = lacking / share;
    let acid = known.and_then(|known| known.acid);
    let measured = acid.map(|acid| mass / acid.density(strength, cupboard.at));
    let put = Put {
        name: chemical.to_owned(),
        strength,
        mass,
        volume: measured,
    };
    let (text, cautions) = worded(name, &put);
    let addition = Addition {
        substance: put.name.clone(),
        mass: Some(mass),
        volume: measured,
        text,
        cautions,
    };
    (put, addition)
}

/// What a component comes from, and its strength.
fn source<'n>(name: &'n str, cupboard: &Cupboard) -> (&'n str, Fraction) {
    match name {
        component::COPPER if cupboard.anhydrous => ("copper sulfate anhydrous", cupboard.assay),
        component::COPPER => (component::COPPER, cupboard.assay),
        component::ACID => (component::ACID, cupboard.acid),
        component::CHLORIDE => match cupboard.hydrochloric {
            Some(strength) => ("hydrochloric acid", strength),
            None => ("sodium chloride", Fraction::from_share(1.0)),
        },
        other => (other, Fraction::from_share(1.0)),
    }
}

/// How it goes in, and what to mind.
fn worded(name: &str, put: &Put) -> (String, Vec<&'static str>) {
    let (grams, percent) = (put.mass.g(), put.strength.percent());
    let millilitres = put.volume.map_or(0.0, Volume::cm3);
    match name {
        component::ACID => (
            format!(
                "{millilitres:.1} mL ({grams:.1} g) of {percent:.1} % sulfuric acid into the \
                 solution, in a thin stream, stirring all the time; then let it cool"
            ),
            ACID_STEP.to_vec(),
        ),
        component::CHLORIDE if put.volume.is_some() => (
            format!(
                "{millilitres:.3} mL of {percent:.1} % hydrochloric acid into the cooled \
                 bath, stirring"
            ),
            HYDROCHLORIC_STEP.to_vec(),
        ),
        component::CHLORIDE => (
            format!(
                "{:.1} mg of sodium chloride, without iodine or anti-caking agent, dissolved in a \
                 little of the bath",
                put.mass.mg()
            ),
            Vec::new(),
        ),
        component::COPPER => (
            format!(
                "{grams:.1} g of {} into the water, stirring until it is clear",
                assayed(put)
            ),
            SALT_STEP.to_vec(),
        ),
        other => (
            format!("{grams:.1} g of {other} into the water, stirring until it is clear"),
            if other.starts_with("nickel") {
                NICKEL_STEP.to_vec()
            } else {
                Vec::new()
            },
        ),
    }
}

fn assayed(put: &Put) -> String {
    if put.strength.percent() < 100.0 {
        format!("{} ({:.1} % assay)", put.name, put.strength.percent())
    } else {
        put.name.clone()
    }
}

/// Adds what of it the window leaves room for.
fn ranged(mut step: Addition, put: &Put, [low, high]: [f64; 2]) -> Addition {
    let range = match put.volume {
        Some(volume) if volume.cm3() >= 1.0 => {
            format!("{:.0} to {:.0} mL", volume.cm3() * low, volume.cm3() * high)
        }
        Some(volume) => format!("{:.3} to {:.3} mL", volume.cm3() * low, volume.cm3() * high),
        None if put.mass.g() < 1.0 => {
            format!(
                "{:.0} to {:.0} mg",
                put.mass.mg() * low,
                put.mass.mg() * high
            )
        }
        None => format!("{:.0} to {:.0} g", put.mass.g() * low, put.mass.g() * high),
    };
    step.text
        .push_str(&format!(" ({range} would be inside the window)"));
    step
}

/// The water, by difference; to the mark where the density is not known.
fn water_step(
    volume: Volume,
    density: Option<Density>,
    puts: &[Put],
    cupboard: &Cupboard,
) -> Result<Addition, BathFault> {
    let others: Mass = puts.iter().map(|put| put.mass).sum();
    let mass = density.map(|density| density * volume - others);
    if mass.is_some_and(|mass| mass <= Mass::ZERO) {
        let acid = puts.iter().find(|put| put.name == component::ACID);
        let target = acid.map_or(Concentration::ZERO, |put| {
            Concentration::of(put.brings(component::ACID), volume)
        });
        return Err(BathFault::TooWeak {
            name: component::ACID.to_owned(),
            target,
        });
    }
    let measured = mass.map(|mass| mass / water(cupboard.at));
    let kind = cupboard.water();
    let text = match (mass, measured) {
        (Some(mass), Some(measured)) => format!(
            "{:.0} mL ({:.0} g) of {kind} into the vessel, first; with everything in and cool, the \
             bath reaches {:.2} L",
            measured.cm3(),
            mass.g(),
            volume.l()
        ),
        _ => format!(
            "{kind} into the vessel, first: two thirds of the {:.2} L; when all is dissolved, \
             water to the mark",
            volume.l()
        ),
    };
    Ok(Addition {
        substance: "water".to_owned(),
        mass,
        volume: measured,
        text,
        cautions: Vec::new(),
    })
}

fn water_note(
    held: &[(String, Concentration)],
    water: Concentration,
    wanted: Option<Concentration>,
) -> Option<Note> {
    // A trace that is all rounding brings nothing.
    let most = wanted.unwrap_or(Concentration::ZERO) + Concentration::from_mg_per_l(0.01);
    (water > most).then(|| Note {
        code: "water-chloride",
        text: format!(
            "the water alone brings {} of chloride, and {} is wanted: the bath has {}; use \
             deionised water",
            shown(water),
            wanted.map_or_else(|| "none".to_owned(), shown),
            shown(of(held, component::CHLORIDE))
        ),
    })
}

fn vessel_note(volume: Volume, cupboard: &Cupboard) -> Option<Note> {
    let vessel = cupboard.vessel.filter(|vessel| volume > *vessel * 0.9)?;
    Some(Note {
        code: "vessel-full",
        text: format!(
            "{:.2} L fill a vessel of {:.2} L to more than nine tenths: stirring spills it",
            volume.l(),
            vessel.l()
        ),
    })
}
