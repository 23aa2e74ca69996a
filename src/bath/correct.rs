//! From what is in the tank to what it should be.

use super::chemical::component;
use super::cupboard::Cupboard;
use super::density::{solution, water};
use super::fault::BathFault;
use super::profile::BathProfile;
use super::put::Put;
use super::recipe::{AFTER, Addition, BEFORE, Order, checked, give};
use super::reckon::{Checked, check, of, shown};
use super::solubility::copper_sulfate;
use crate::units::{Concentration, Density, Mass, Temperature, Volume};

/// More acid in a litre than any bath has.
const MOST_ACID: Concentration = Concentration::from_g_per_l(1000.0);
/// More chloride in a litre than any bath has.
const MOST_CHLORIDE: Concentration = Concentration::from_g_per_l(20.0);

/// How a bath is brought right, at its volume.
#[derive(Clone, Debug, PartialEq)]
pub struct Correction {
    /// Bath to be drawn off first.
    pub draw_off: Volume,
    /// What goes in then, in its order.
    pub additions: Vec<Addition>,
    /// What the bath holds afterwards, against the window.
    pub after: Vec<Checked>,
}

impl Correction {
    /// Nothing is to be done.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        self.draw_off == Volume::ZERO && self.additions.is_empty()
    }

    /// Every caution, in the order of the steps, each once.
    #[must_use]
    pub fn cautions(&self) -> Vec<&'static str> {
        if self.is_nothing() {
            return Vec::new();
        }
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

/// Refuses what no bath can hold.
///
/// # Errors
/// [`BathFault::Impossible`] says which figure it is.
pub fn possible(held: &[(String, Concentration)], at: Temperature) -> Result<(), BathFault> {
    // What a hot, saturated solution holds: more is a slip of the figures, not a bath.
    let most_copper = copper_sulfate(at.max(Temperature::from_c(40.0))) * 1.1;
    let limits = [
        (component::COPPER, most_copper),
        (component::ACID, MOST_ACID),
        (component::CHLORIDE, MOST_CHLORIDE),
    ];
    for (name, most) in limits {
        let found = of(held, name);
        if found > most {
            return Err(BathFault::Impossible {
                what: format!(
                    "the analysis comes to {:.1} g/L of {name}, and no bath holds more than {:.0}",
                    found.g_per_l(),
                    most.g_per_l()
                ),
            });
        }
    }
    Ok(())
}

/// The acid beside this much copper in a solution of that density. A coarse reading: a thousandth
/// of density is 1.6 g/L of acid.
///
/// # Errors
/// [`BathFault::Impossible`] if no acid makes it so dense.
pub fn acid_by_density(
    copper: Concentration,
    density: Density,
    at: Temperature,
) -> Result<Concentration, BathFault> {
    let with = |acid: f64| {
        let held = [
            (component::COPPER, copper),
            (component::ACID, Concentration::from_g_per_l(acid)),
        ];
        solution(held, at)
    };
    let (mut low, mut high) = (0.0, 300.0);
    let inside = with(low)
        .zip(with(high))
        .filter(|(l, h)| (*l..=*h).contains(&density));
    if inside.is_none() {
        return Err(BathFault::Impossible {
            what: format!(
                "a density of {:.4} g/mL beside {:.0} g/L of copper sulfate pentahydrate: no acid \
                 makes it so",
                density.g_per_cm3(),
                copper.g_per_l()
            ),
        });
    }
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if with(middle).is_some_and(|found| found < density) {
            low = middle;
        } else {
            high = middle;
        }
    }
    Ok(Concentration::from_g_per_l((low + high) / 2.0))
}

/// Brings every component that is outside its window to its target, with the bath at its volume in
/// the end: what is too much is drawn off, what is missing goes in, and water fills the rest.
///
/// # Errors
/// [`BathFault`] if it cannot be done with what there is.
pub fn correct(
    profile: &BathProfile,
    volume: Volume,
    held: &[(String, Concentration)],
    targets: &[(String, Concentration)],
    cupboard: &Cupboard,
) -> Result<Correction, BathFault> {
    checked(profile, volume, targets, cupboard)?;
    let known = |name: &str| held.iter().any(|(known, _)| known == name);
    let before = check(profile, held);
    let mut wrong: Vec<(String, Concentration)> = Vec::new();
    for one in before.iter().filter(|one| known(&one.component)) {
        let said = targets.iter().find(|(name, _)| *name == one.component);
        let own = profile.component(&one.component).map(|own| own.target);
        let target = said.map(|(_, target)| *target).or(own);
        if let Some(target) = target.filter(|_| !one.ok() || said.is_some()) {
            wrong.push((one.component.clone(), target));
        }
    }
    // Drawing off may push another out of its window, and then that is corrected too.
    for _ in 0..=before.len() {
        let done = once(profile, volume, held, &wrong, cupboard)?;
        let pushed = done.after.iter().find(|one| {
            known(&one.component)
                && !one.ok()
                && !wrong.iter().any(|(name, _)| *name == one.component)
        });
        match pushed.and_then(|one| profile.component(&one.component)) {
            Some(own) => wrong.push((own.name.clone(), own.target)),
            None => return Ok(done),
        }
    }
    once(profile, volume, held, &wrong, cupboard)
}

/// One draft of a correction, for these components alone.
fn once(
    profile: &BathProfile,
    volume: Volume,
    held: &[(String, Concentration)],
    wrong: &[(String, Concentration)],
    cupboard: &Cupboard,
) -> Result<Correction, BathFault> {
    let thinned = wrong.iter().map(|(name, target)| {
        let held = of(held, name);
        if held > *target {
            1.0 - *target / held
        } else {
            0.0
        }
    });
    let least = thinned.fold(0.0, f64::max);
    let salty = chloride_above(held, wrong, cupboard)?;
    let draft = |share: f64| drawn(volume, held, wrong, cupboard, share);
    // Additions need room, and the water brings chloride of its own: as much is drawn off as that
    // takes, found by halving.
    let too_little = |draft: &Drawn| {
        draft.water.is_some_and(|water| water < Mass::ZERO)
            || salty.is_some_and(|target| of(&draft.after, component::CHLORIDE) > target * 1.0001)
    };
    let mut share = least;
    if too_little(&draft(share)) {
        let (mut low, mut high) = (least, 1.0);
        for _ in 0..60 {
            let middle = (low + high) / 2.0;
            if too_little(&draft(middle)) {
                low = middle;
            } else {
                high = middle;
            }
        }
        share = high;
    }
    if share > 0.999 {
        return Err(BathFault::Said {
            what: "no part of this bath can be kept: make a new one".to_owned(),
        });
    }
    let done = draft(share);
    let mut additions = Vec::new();
    let least_water = Mass::from_g(0.5);
    if let Some(water) = done.water.filter(|water| *water > least_water) {
        additions.push(topping(water, cupboard));
    }
    additions.extend(done.steps);
    if done.water.is_none() && share > 0.0 {
        additions.push(Addition {
            substance: "water".to_owned(),
            mass: None,
            volume: None,
            text: "water to the mark, last, when all is dissolved".to_owned(),
            cautions: Vec::new(),
        });
    }
    Ok(Correction {
        draw_off: volume * share,
        additions,
        after: check(profile, &done.after),
    })
}

/// What chloride is to come down to, where there is too much of it.
///
/// # Errors
/// [`BathFault::Said`] if the water has as much chloride itself.
fn chloride_above(
    held: &[(String, Concentration)],
    wrong: &[(String, Concentration)],
    cupboard: &Cupboard,
) -> Result<Option<Concentration>, BathFault> {
    let (found, water) = (of(held, component::CHLORIDE), cupboard.water_chloride);
    let wanted = wrong.iter().find(|(name, _)| name == component::CHLORIDE);
    let wanted = wanted.map(|(_, target)| *target);
    let Some(target) = wanted.filter(|target| found > *target) else {
        return Ok(None);
    };
    if water < target {
        return Ok(Some(target));
    }
    Err(BathFault::Said {
        what: format!(
            "the bath has {} of chloride, the water {}, and {} are wanted: more of this water \
             brings it no lower; use deionised water",
            shown(found),
            shown(water),
            shown(target)
        ),
    })
}

fn topping(water_mass: Mass, cupboard: &Cupboard) -> Addition {
    let measured = water_mass / water(cupboard.at);
    Addition {
        substance: "water".to_owned(),
        mass: Some(water_mass),
        volume: Some(measured),
        text: format!(
            "{:.0} mL of {} into the bath, before anything else",
            measured.cm3(),
            cupboard.water()
        ),
        cautions: Vec::new(),
    }
}

/// What comes of drawing off a share.
struct Drawn {
    steps: Vec<Addition>,
    water: Option<Mass>,
    after: Vec<(String, Concentration)>,
}

fn drawn(
    volume: Volume,
    held: &[(String, Concentration)],
    wrong: &[(String, Concentration)],
    cupboard: &Cupboard,
    share: f64,
) -> Drawn {
    let left: Vec<(String, Concentration)> = held
        .iter()
        .map(|(name, held)| (name.clone(), *held * (1.0 - share)))
        .collect();
    let mut given: Vec<(Put, Addition)> = Vec::new();
    let mut after = left.clone();
    let mut give_all = |order: Order, after: &mut Vec<(String, Concentration)>| {
        for (name, target) in wrong.iter().filter(|(name, _)| Order::of(name) == order) {
            let lacking = (*target - of(after, name)) * volume;
            if lacking > Mass::from_mg(0.1) {
                given.push(give(name, lacking, cupboard));
                after.retain(|(known, _)| known != name);
                after.push((name.clone(), *target));
            }
        }
        given.iter().map(|(put, _)| put.mass).sum()
    };
    give_all(Order::Salt, &mut after);
    let puts: Mass = give_all(Order::Acid, &mut after);
    let dense = |list: &[(String, Concentration)]| {
        let pairs = list.iter().map(|(name, held)| (name.as_str(), *held));
        solution(pairs, cupboard.at)
    };
    let water_mass = |after: &[(String, Concentration)], puts: Mass| {
        let (then, now) = dense(after).zip(dense(held))?;
        Some(then * volume - now * volume * (1.0 - share) - puts)
    };
    // Where no density is known, the water is what was drawn off, at most.
    let poured = water_mass(&after, puts).map_or(volume * share, |it| it / water(cupboard.at));
    let salt = cupboard.water_chloride * poured.max(Volume::ZERO);
    for (_, held) in after
        .iter_mut()
        .filter(|(name, _)| name == component::CHLORIDE)
    {
        *held += Concentration::of(salt, volume);
    }
    let puts: Mass = give_all(Order::Chloride, &mut after);
    let water = water_mass(&after, puts);
    Drawn {
        steps: given.into_iter().map(|(_, step)| step).collect(),
        water,
        after,
    }
}
