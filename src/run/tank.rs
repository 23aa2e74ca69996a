//! How it stands with a bath, from what the ledger holds of it.

use crate::bath::keep::{self, Air, Drift, Happened, Level};
use crate::bath::{Additive, BathProfile, chemical::component};
use crate::ledger::{TankDeed, TankRow};
use crate::units::{Area, Charge, Concentration, Length, Mass, Span, Temperature, Volume};

/// Additions that are shown when one is too many.
const SHOWN: usize = 3;

/// How it stands with a bath at a time.
#[derive(Clone, Debug, PartialEq)]
pub struct TankState {
    /// All charge since it was made.
    pub charge: Charge,
    /// Each additive, in the profile's order.
    pub additives: Vec<AdditiveState>,
    /// The anode, if one was noted.
    pub anode: Option<AnodeState>,
    /// Copper and acid by the account of charge and drag-out, since they were last known.
    pub drift: Drift,
    /// When they were last known: the last analysis of copper, else the make-up. RFC 3339.
    pub drift_since: String,
    /// When it was made, and so stood at its mark: seconds since 1970.
    pub made: Span,
    /// The water that was poured in since, by its time.
    pub poured: Vec<(Span, Volume)>,
    /// The time it is told for.
    pub now: Span,
}

impl TankState {
    /// Time since water was last added, or the bath made.
    #[must_use]
    pub fn dry_for(&self) -> Span {
        self.now - self.poured.last().map_or(self.made, |(at, _)| *at)
    }

    /// Water that is missing, where so much evaporates in a day.
    #[must_use]
    pub fn missing(&self, a_day: Volume) -> Volume {
        keep::missing(a_day, self.made, &self.poured, self.now)
    }
}

/// How it stands with one additive.
#[derive(Clone, Debug, PartialEq)]
pub struct AdditiveState {
    /// Which.
    pub additive: Additive,
    /// Its account.
    pub level: Level,
    /// Its last additions, the newest first: when, and how much.
    pub last: Vec<(String, Volume)>,
}

/// How it stands with the anode.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AnodeState {
    /// When it was hung.
    pub hung: Mass,
    /// Dissolved since, by Faraday's law and the mismatch.
    pub used: Mass,
}

impl AnodeState {
    /// What is left of it.
    #[must_use]
    pub fn left(&self) -> Mass {
        (self.hung - self.used).max(Mass::ZERO)
    }
}

/// What a bath loses beside what the cathode takes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Losses {
    /// Share by which the anode gives more than the cathode takes.
    pub mismatch: f64,
    /// Bath that each piece carries out.
    pub carried: Volume,
}

/// Water that has evaporated and was not made good.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gone {
    /// How much.
    pub water: Volume,
    /// How far the liquid fell.
    pub fallen: Length,
}

/// How it stands with a bath of this profile at `now`, seconds since 1970. Runs that are not over
/// count only with `running`.
#[must_use]
pub fn tank_state(
    row: &TankRow,
    profile: &BathProfile,
    losses: Losses,
    now: Span,
    running: bool,
) -> TankState {
    let runs = || {
        row.runs
            .iter()
            .filter(|run| (run.over || running) && run.until <= now)
    };
    let charge: Charge = runs().map(|run| run.charge).sum();
    let analysed = |name: &str| {
        row.entries.iter().rfind(|entry| {
            entry.kind == TankDeed::Analysed && entry.substance == name && entry.when <= now
        })
    };
    let known = analysed(component::COPPER).unwrap_or(&row.made);
    let later = || runs().filter(|run| run.until > known.when);
    let held = |name: &str| {
        let target = profile.component(name).map(|found| found.target);
        analysed(name)
            .and_then(|entry| entry.held)
            .or(target)
            .unwrap_or(Concentration::ZERO)
    };
    TankState {
        charge,
        additives: profile
            .additives
            .iter()
            .map(|additive| additive_state(row, additive, now, running))
            .collect(),
        anode: row
            .entries
            .iter()
            .rfind(|entry| entry.kind == TankDeed::Anode && entry.when <= now)
            .map(|entry| {
                let since: Charge = runs()
                    .filter(|run| run.until > entry.when)
                    .map(|run| run.charge)
                    .sum();
                AnodeState {
                    hung: entry.mass.unwrap_or(Mass::ZERO),
                    used: profile.metal.mass(since, 1.0 + losses.mismatch),
                }
            }),
        drift: keep::drift(
            profile,
            row.volume(),
            later().map(|run| run.charge).sum(),
            losses.mismatch,
            losses.carried * f64::from(later().map(|run| run.pieces).sum::<u32>()),
            [metal_in(held(component::COPPER)), held(component::ACID)],
        ),
        drift_since: known.at.clone(),
        made: row.made.when,
        poured: row
            .entries
            .iter()
            .filter(|entry| entry.kind == TankDeed::Water && entry.when <= now)
            .filter_map(|entry| Some((entry.when, entry.volume?)))
            .collect(),
        now,
    }
}

/// Copper in so much pentahydrate.
fn metal_in(pentahydrate: Concentration) -> Concentration {
    use crate::bath::chemical::molar;
    pentahydrate * (molar::COPPER / molar::COPPER_SULFATE_PENTAHYDRATE)
}

/// The account of one additive at a time.
#[must_use]
pub fn additive_state(
    row: &TankRow,
    additive: &Additive,
    now: Span,
    running: bool,
) -> AdditiveState {
    let added = row.entries.iter().filter(|entry| {
        entry.kind == TankDeed::Added && entry.substance == additive.name && entry.when <= now
    });
    let drawn = row
        .entries
        .iter()
        .filter(|entry| entry.kind == TankDeed::Drawn && entry.when <= now);
    let runs = row
        .runs
        .iter()
        .filter(|run| (run.over || running) && run.until <= now);
    let volume = |volume: Option<Volume>| volume.unwrap_or(Volume::ZERO);
    let mut events: Vec<(Span, Happened)> = added
        .clone()
        .map(|entry| (entry.when, Happened::Added(volume(entry.volume))))
        .chain(drawn.map(|entry| (entry.when, Happened::Drawn(volume(entry.volume)))))
        .chain(runs.map(|run| (run.until, Happened::Flowed(run.charge))))
        .collect();
    events.sort_by(|(a, _), (b, _)| a.si().total_cmp(&b.si()));
    let last = added
        .rev()
        .take(SHOWN)
        .map(|entry| (entry.at.clone(), volume(entry.volume)))
        .collect();
    AdditiveState {
        additive: additive.clone(),
        level: keep::level(additive, row.volume(), row.made.when, &events, now),
        last,
    }
}

/// Water that has gone from a surface by evaporation, and was not poured in again.
#[must_use]
pub fn gone(state: &TankState, surface: Area, bath: Temperature, air: Air) -> Gone {
    let water = state.missing(keep::evaporated(surface, bath, air, Span::from_h(24.0)));
    Gone {
        water,
        fallen: keep::fallen(water, surface),
    }
}
