//! What a bath uses up, and what is due.

use super::fault::BathFault;
use super::profile::{Additive, BathProfile};
use super::put::{Put, read_put, split};
use super::recipe::DROP;
use crate::units::{
    Area, Charge, Concentration, Dilution, Length, Mass, Quantity, Span, Temperature, Volume,
};

const DAY: Span = Span::from_h(24.0);

/// What somebody did to a bath.
#[derive(Clone, Debug, PartialEq)]
pub enum Deed {
    /// An additive went in.
    Additive(String, Volume),
    /// Water went in.
    Water(Volume),
    /// Bath was drawn off, and water or fresh chemicals took its place.
    Drawn(Volume),
    /// An anode of this mass was hung, in place of the one before.
    Anode(Mass),
    /// A chemical went in.
    Chemical(Put),
}

impl Deed {
    /// Reads what was done: `brightener 2 mL` or `brightener 5 drops`, `water 500 mL`, `drawn 1 L`,
    /// `anode 420 g`, or a chemical as for `bath reckon`.
    ///
    /// # Errors
    /// [`BathFault`] says what is missing or wrong.
    pub fn read(text: &str, profile: &BathProfile, at: Temperature) -> Result<Self, BathFault> {
        let (name, figures) = split(text);
        let amount = figures.last().map_or("", String::as_str);
        let additive = profile
            .additives
            .iter()
            .find(|one| one.name.eq_ignore_ascii_case(&name));
        let volume = || match drops(amount) {
            Some(count) => some(&name, amount, Ok(DROP * count), Volume::l),
            None => some(&name, amount, Volume::read(amount), Volume::l),
        };
        match (name.as_str(), additive, figures.len()) {
            ("water", _, 1) => Ok(Self::Water(volume()?)),
            ("drawn" | "drawn off", _, 1) => Ok(Self::Drawn(volume()?)),
            ("anode", _, 1) => {
                let mass = some(&name, amount, Mass::read(amount), Mass::g)?;
                Ok(Self::Anode(mass))
            }
            (_, Some(additive), 1) => Ok(Self::Additive(additive.name.clone(), volume()?)),
            _ => {
                let names: Vec<&str> = profile
                    .components
                    .iter()
                    .map(|one| one.name.as_str())
                    .collect();
                read_put(text, &names, at).map(Self::Chemical)
            }
        }
    }
}

/// How many drops it is, if it is counted so.
fn drops(amount: &str) -> Option<f64> {
    let (count, unit) = amount.split_once(' ')?;
    let counted = ["drop", "drops"].contains(&unit.trim());
    count
        .parse()
        .ok()
        .filter(|count: &f64| counted && count.is_finite())
}

fn some<T: Copy>(
    name: &str,
    text: &str,
    read: Result<T, crate::units::QuantityError>,
    number: impl Fn(T) -> f64,
) -> Result<T, BathFault> {
    let amount = read.map_err(|why| BathFault::Said {
        what: format!("{name}: {why}"),
    })?;
    if number(amount) > 0.0 {
        return Ok(amount);
    }
    Err(BathFault::Range {
        what: format!("the amount of {name}"),
        found: text.to_owned(),
        allowed: "more than nothing".to_owned(),
    })
}

/// What happened to one additive, and when; times count from any zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Happened {
    /// So much went in.
    Added(Volume),
    /// So much charge flowed.
    Flowed(Charge),
    /// So much of the bath was drawn off.
    Drawn(Volume),
}

/// How it stands with an additive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// What the bath holds of it, by the account.
    pub held: Volume,
    /// What it holds when replenished.
    pub full: Volume,
    /// It is due below this.
    pub low: Volume,
    /// It is too much above this.
    pub most: Volume,
    /// Charge since it was last added; since the bath was made where it never was.
    pub since: Charge,
    /// Time since then.
    pub ago: Span,
    /// It is due after so much more charge, if no day passed.
    pub next_charge: Charge,
    /// It is due after so much more time, if no charge flowed; `None` where a day takes none.
    pub next_time: Option<Span>,
}

impl Level {
    /// It is due now.
    #[must_use]
    pub fn due(&self) -> bool {
        self.held < self.low
    }

    /// There is more of it than is good.
    #[must_use]
    pub fn too_much(&self) -> bool {
        self.held > self.most
    }

    /// How much fills it up.
    #[must_use]
    pub fn add(&self) -> Volume {
        (self.full - self.held).max(Volume::ZERO)
    }

    /// How much more would be too much.
    #[must_use]
    pub fn room(&self) -> Volume {
        (self.most - self.held).max(Volume::ZERO)
    }
}

/// The account of an additive in a bath that was made, with a full dose, at `made`. The events are
/// in the order of their times; charge counts where its run ended.
#[must_use]
pub fn level(
    additive: &Additive,
    bath: Volume,
    made: Span,
    events: &[(Span, Happened)],
    now: Span,
) -> Level {
    let in_bath = |dilution: Dilution| dilution.in_volume(bath);
    let mut held = in_bath(additive.full);
    let (mut then, mut last, mut since) = (made, made, Charge::ZERO);
    let fade = |held: Volume, days: f64| held - in_bath(additive.per_day) * days.max(0.0);
    for (at, what) in events {
        held = fade(held, (*at - then) / DAY).max(Volume::ZERO);
        then = then.max(*at);
        match what {
            Happened::Added(more) => {
                held += *more;
                last = *at;
                since = Charge::ZERO;
            }
            Happened::Flowed(charge) => {
                held = (held - additive.per_charge * *charge).max(Volume::ZERO);
                since += *charge;
            }
            Happened::Drawn(gone) => held = held * (1.0 - (*gone / bath).min(1.0)),
        }
    }
    held = fade(held, (now - then) / DAY).max(Volume::ZERO);
    let low = in_bath(additive.low);
    let spare = (held - low).max(Volume::ZERO);
    let a_day = in_bath(additive.per_day);
    Level {
        held,
        full: in_bath(additive.full),
        low,
        most: in_bath(additive.most),
        since,
        ago: now - last,
        next_charge: if additive.per_charge.si() > 0.0 {
            spare / additive.per_charge
        } else {
            Charge::from_si(f64::INFINITY)
        },
        next_time: (a_day > Volume::ZERO).then(|| DAY * (spare / a_day)),
    }
}

/// Share by which an anode gives more metal than a cathode takes, where nobody measured it
/// (`common practice, no source`: acid copper creeps up).
pub const MISMATCH: f64 = 0.01;

/// Drift of a copper bath by charge: what the anode gives beyond what the cathode takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drift {
    /// Change of the metal, as the metal.
    pub metal: Concentration,
    /// Change of sulfuric acid, mole for mole the other way; copper baths only.
    pub acid: Concentration,
}

/// Drift after a charge with anode efficiency above the cathode's by `mismatch`, and so much bath
/// carried out on pieces and replaced by water.
#[must_use]
pub fn drift(
    profile: &BathProfile,
    bath: Volume,
    charge: Charge,
    mismatch: f64,
    carried: Volume,
    held: [Concentration; 2],
) -> Drift {
    let metal = profile.metal.mass(charge, 1.0) * mismatch;
    let acid = metal * (super::chemical::molar::SULFURIC_ACID / (profile.metal.molar_mass * 1e3));
    let share = carried / bath;
    Drift {
        metal: Concentration::default() + Concentration::of(metal, bath) - held[0] * share,
        acid: Concentration::default() - Concentration::of(acid, bath) - held[1] * share,
    }
}

/// The air over a bath.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    /// Its temperature.
    pub temperature: Temperature,
    /// Relative humidity, a share.
    pub humidity: f64,
    /// How fast it moves over the liquid, m/s.
    pub speed: f64,
}

impl Default for Air {
    /// A room of 20 °C and 50 %, still.
    fn default() -> Self {
        Self {
            temperature: Temperature::from_c(20.0),
            humidity: 0.5,
            speed: 0.1,
        }
    }
}

/// Water that leaves a surface in a time: (25 + 19 v)(x_s − x) kg/(h·m²), engineering practice for
/// open water. Others differ by up to 45 %, and salt and acid keep a few per cent back: take it
/// within a factor of 1.5.
#[must_use]
pub fn evaporated(surface: Area, bath: Temperature, air: Air, time: Span) -> Volume {
    let wet = humidity_ratio(saturation(bath));
    let dry = humidity_ratio(saturation(air.temperature) * air.humidity);
    let kg = (25.0 + 19.0 * air.speed) * (wet - dry).max(0.0) * surface.m2() * time.h();
    Volume::from_l(kg)
}

/// How far an estimate of evaporation may be off, as a factor.
pub const EVAPORATION_DOUBT: f64 = 1.5;

/// Water that is missing at a time where so much goes in a day and so much was poured in since the
/// bath stood at its mark. Evaporation alone counts. Who pours in as much as was missing, within
/// [`EVAPORATION_DOUBT`], has filled it up to the mark: that knows better than any estimate. Less
/// is a part of it, and the rest stays missing.
#[must_use]
pub fn missing(a_day: Volume, full: Span, poured: &[(Span, Volume)], now: Span) -> Volume {
    let (mut lacking, mut then) = (Volume::ZERO, full);
    for (at, more) in poured {
        lacking += a_day * ((*at - then) / DAY).max(0.0);
        then = then.max(*at);
        lacking = if *more * EVAPORATION_DOUBT >= lacking {
            Volume::ZERO
        } else {
            lacking - *more
        };
    }
    lacking + a_day * ((now - then) / DAY).max(0.0)
}

/// How far the liquid falls when so much of it has gone.
#[must_use]
pub fn fallen(gone: Volume, surface: Area) -> Length {
    gone / surface
}

/// Vapour pressure of water, Pa: Buck's equation of 1996.
fn saturation(at: Temperature) -> f64 {
    let t = at.c();
    611.21 * ((18.678 - t / 234.5) * (t / (257.14 + t))).exp()
}

/// Kilograms of water in the air with a kilogram of dry air, at a vapour pressure, Pa.
fn humidity_ratio(pressure: f64) -> f64 {
    0.621_98 * pressure / (101_325.0 - pressure)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Dosage;

    fn additive() -> Additive {
        Additive {
            name: "brightener".to_owned(),
            low: Dilution::from_ml_per_l(0.15),
            full: Dilution::from_ml_per_l(0.25),
            most: Dilution::from_ml_per_l(0.5),
            per_charge: Dosage::from_ml_per_ah(0.1),
            per_day: Dilution::from_ml_per_l(0.01),
        }
    }

    #[test]
    fn an_additive_is_used_up_by_charge_and_by_the_day() {
        // By hand, 10 L: 2.5 mL at first; 5 Ah take 0.5, a day takes 0.1 mL.
        let days = |n: f64| Span::from_h(24.0 * n);
        let events = [(days(1.0), Happened::Flowed(Charge::from_ah(5.0)))];
        let found = level(
            &additive(),
            Volume::from_l(10.0),
            days(0.0),
            &events,
            days(2.0),
        );
        assert!((found.held.cm3() - 1.8).abs() < 1e-9, "{found:?}");
        assert!(!found.due() && !found.too_much());
        assert!((found.next_charge.ah() - 3.0).abs() < 1e-9);
        assert!((found.next_time.unwrap().h() - 72.0).abs() < 1e-9);
        assert!((found.add().cm3() - 0.7).abs() < 1e-9);
        assert!((found.room().cm3() - 3.2).abs() < 1e-9);
    }

    #[test]
    fn adding_too_much_shows_and_drawing_off_takes_its_share() {
        let at = Span::from_h(1.0);
        let more = [(at, Happened::Added(Volume::from_cm3(3.0)))];
        let bath = Volume::from_l(10.0);
        let found = level(&additive(), bath, Span::ZERO, &more, at);
        assert!(found.too_much() && found.since == Charge::ZERO);
        let half = [more[0], (at, Happened::Drawn(Volume::from_l(5.0)))];
        let after = level(&additive(), bath, Span::ZERO, &half, at);
        assert!((after.held / found.held - 0.5).abs() < 1e-9);
    }

    #[test]
    fn a_hundred_amp_hours_shift_the_copper_of_five_litres_as_reckoned() {
        // A 2 % mismatch over 100 Ah in 5 L: 0.474 g/L of copper, by Faraday's law (scipy 1.17.1).
        let profile = BathProfile {
            name: "x".to_owned(),
            metal: crate::deposit::Metal::COPPER,
            deposit_density: crate::units::Density::from_g_per_cm3(8.96),
            efficiency: 1.0,
            efficiency_uncertainty: 0.01,
            window_still: [crate::units::CurrentDensity::ZERO; 2],
            window_stirred: [crate::units::CurrentDensity::ZERO; 2],
            temperature: [Temperature::ZERO; 2],
            components: vec![],
            additives: vec![],
            anode: None,
            agitation: None,
            sources: vec![],
        };
        let charge = Charge::from_ah(100.0);
        let none = [Concentration::ZERO; 2];
        let found = drift(
            &profile,
            Volume::from_l(5.0),
            charge,
            0.02,
            Volume::ZERO,
            none,
        );
        assert!((found.metal.g_per_l() - 0.474).abs() < 5e-4, "{found:?}");
        // Mole for mole: 0.474 × 98.078 / 63.546.
        assert!((found.acid.g_per_l() + 0.7319).abs() < 1e-3, "{found:?}");
    }

    #[test]
    fn topping_up_in_part_leaves_the_rest_missing() {
        // By hand: 0.2 L a day. After five days 1 L is missing.
        let (a_day, days) = (Volume::from_l(0.2), |n: f64| Span::from_h(24.0 * n));
        let after =
            |poured: &[(Span, Volume)], at: f64| missing(a_day, days(0.0), poured, days(at)).l();
        let near = |found: f64, expected: f64| assert!((found - expected).abs() < 1e-9, "{found}");
        near(after(&[], 5.0), 1.0);
        // 0.3 L of it are a part; 0.7 stay, and two days more take 0.4.
        let part = (days(5.0), Volume::from_l(0.3));
        near(after(&[part], 7.0), 1.1);
        // 0.7 L are the whole of it within the doubt, and so is more than was missing.
        near(after(&[(days(5.0), Volume::from_l(0.7))], 7.0), 0.4);
        near(after(&[(days(5.0), Volume::from_l(3.0))], 7.0), 0.4);
        // Two parts add up.
        near(after(&[part, (days(7.0), Volume::from_l(1.0))], 7.0), 0.0);
    }

    #[test]
    fn water_leaves_as_published_formulas_have_it() {
        // kg/(h·m²) into air of 20 °C and 50 % at 0.1 m/s, PyPI CoolProp 8.0.0: (25 + 19 v), the
        // ASHRAE form (from memory), and the trade's formula for a still tank (L).
        let rows = [
            (20.0, 0.2009, 0.1655, 0.275),
            (25.0, 0.3465, 0.2849, 0.368),
            (30.0, 0.5391, 0.4407, 0.492),
            (40.0, 1.1258, 0.8997, 0.881),
            (60.0, 3.9341, 2.7752, 2.823),
        ];
        for (bath, same, ashrae, trade) in rows {
            let (surface, hour) = (Area::from_m2(1.0), Span::from_h(1.0));
            let found = evaporated(surface, Temperature::from_c(bath), Air::default(), hour).l();
            assert!((found / same - 1.0).abs() < 0.01, "{bath}: {found}");
            for other in [ashrae, trade] {
                assert!(
                    (1.0 / 1.5..=1.5).contains(&(found / other)),
                    "{bath}: {found}"
                );
            }
        }
        // 300 cm² at 25 °C lose about 0.25 kg a day: 8.3 mm.
        let (surface, day) = (Area::from_cm2(300.0), Span::from_h(24.0));
        let gone = evaporated(surface, Temperature::from_c(25.0), Air::default(), day);
        assert!((gone.l() - 0.25).abs() < 0.005, "{gone:?}");
        assert!((fallen(gone, surface).mm() - 8.3).abs() < 0.2);
    }
}
