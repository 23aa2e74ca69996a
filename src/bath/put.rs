//! What somebody puts into a bath, as it is written: `sulfuric acid 98 % 40 mL`.

use super::chemical::Chemical;
use super::fault::BathFault;
use crate::units::{Concentration, Density, Fraction, Mass, Quantity, Temperature, Volume};

/// Something that went, or is to go, into a bath.
#[derive(Clone, Debug, PartialEq)]
pub struct Put {
    /// Its name, as the rest of the program writes it.
    pub name: String,
    /// Share of it that is the pure substance.
    pub strength: Fraction,
    /// All of it, water and dirt included.
    pub mass: Mass,
    /// Its volume, where it was measured so.
    pub volume: Option<Volume>,
}

impl Put {
    /// Mass of a component that it brings.
    #[must_use]
    pub fn brings(&self, component: &str) -> Mass {
        let pure = self.mass * self.strength.share();
        match Chemical::by_name(&self.name) {
            Some(chemical) => pure * chemical.share(component),
            None if self.name == component => pure,
            None => Mass::ZERO,
        }
    }
}

/// Reads `SUBSTANCE [STRENGTH] AMOUNT`. The strength is a percentage or, of an acid, its density;
/// the amount a mass or, of an acid, a volume at the temperature. A substance that is not known is
/// taken as it is, if it is one of the names in `others`.
///
/// # Errors
/// [`BathFault`] says what is missing or wrong.
pub fn read_put(text: &str, others: &[&str], at: Temperature) -> Result<Put, BathFault> {
    let (name, figures) = split(text);
    let known = Chemical::by_name(&name);
    let name = match known {
        Some(chemical) => chemical.name.to_owned(),
        None => others
            .iter()
            .find(|other| other.eq_ignore_ascii_case(&name))
            .map(|other| (*other).to_owned())
            .ok_or_else(|| unknown(&name, others))?,
    };
    let (strength, amount) = match figures.as_slice() {
        [amount] => (None, amount),
        [strength, amount] => (Some(strength), amount),
        _ => {
            return Err(said(format!(
                "{text:?}: wanted is SUBSTANCE [STRENGTH] AMOUNT: \"sulfuric acid 98 % 40 mL\""
            )));
        }
    };
    let acid = known.and_then(|chemical| chemical.acid);
    let strength = match (strength, acid) {
        (None, None) => Fraction::from_share(1.0),
        (None, Some(_)) => {
            return Err(said(format!(
                "{name} without a strength: write \"{name} 37 % {amount}\", or its density"
            )));
        }
        (Some(text), Some(acid)) => match text.parse::<Density>() {
            Ok(density) => acid.strength(density, at)?,
            Err(_) => acid.checked(share(text)?)?,
        },
        (Some(text), None) => assay(share(text)?)?,
    };
    let (mass, volume) = match (amount.parse::<Mass>(), amount.parse::<Volume>(), acid) {
        (Ok(mass), _, _) => (mass, None),
        (_, Ok(volume), Some(acid)) => (acid.density(strength, at) * volume, Some(volume)),
        (_, Ok(_), None) => {
            return Err(said(format!(
                "{name} by volume: a powder is weighed; write its mass"
            )));
        }
        (Err(why), Err(_), _) => return Err(said(format!("{amount:?}: {why}"))),
    };
    if mass < Mass::ZERO {
        return Err(BathFault::Range {
            what: format!("the amount of {name}"),
            found: amount.clone(),
            allowed: "nothing, or more".to_owned(),
        });
    }
    Ok(Put {
        name,
        strength,
        mass,
        volume,
    })
}

/// Reads `COMPONENT=CONCENTRATION`.
///
/// # Errors
/// [`BathFault`] says what is missing or wrong.
pub fn read_share(text: &str) -> Result<(String, Concentration), BathFault> {
    let wanted = || said(format!("{text:?}: wanted is \"sulfuric acid=60 g/L\""));
    let (name, value) = text.split_once('=').ok_or_else(wanted)?;
    let held = value
        .parse::<Concentration>()
        .map_err(|why| said(format!("{text:?}: {why}")))?;
    if !(0.0..=1500.0).contains(&held.g_per_l()) {
        return Err(BathFault::Range {
            what: name.trim().to_owned(),
            found: value.trim().to_owned(),
            allowed: "0 to 1500 g/L".to_owned(),
        });
    }
    Ok((name.trim().to_owned(), held))
}

/// An assay: the share of a bought powder that is what its name says.
///
/// # Errors
/// [`BathFault`] if it is not from 1 to 100 %.
pub(super) fn assay(share: Fraction) -> Result<Fraction, BathFault> {
    if (1.0..=100.0).contains(&share.percent()) {
        return Ok(share);
    }
    Err(BathFault::Range {
        what: "an assay".to_owned(),
        found: format!("{} %", share.percent()),
        allowed: "1 to 100 %".to_owned(),
    })
}

fn share(text: &str) -> Result<Fraction, BathFault> {
    Fraction::read(text).map_err(|why| said(format!("{text:?}: {why}")))
}

fn said(what: String) -> BathFault {
    BathFault::Said { what }
}

fn unknown(name: &str, others: &[&str]) -> BathFault {
    let mut names: Vec<&str> = super::chemical::CHEMICALS
        .iter()
        .map(|one| one.name)
        .collect();
    names.extend(
        others
            .iter()
            .filter(|other| Chemical::by_name(other).is_none()),
    );
    names.retain(|name| *name != super::chemical::component::CHLORIDE);
    names.sort_unstable();
    names.dedup();
    said(format!(
        "{name:?} is no substance known here: {}",
        names.join(", ")
    ))
}

/// The words before the first number, and each number with what follows it.
pub(super) fn split(text: &str) -> (String, Vec<String>) {
    let mut name = Vec::new();
    let mut figures: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let number = word.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c));
        match figures.last_mut() {
            _ if number => figures.push(word.to_owned()),
            Some(last) => {
                last.push(' ');
                last.push_str(word);
            }
            None => name.push(word),
        }
    }
    (name.join(" "), figures)
}
