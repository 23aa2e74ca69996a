//! From a seed to a night that the plan accepts.

use crate::bath::BathProfile;
use crate::control::Core;
use crate::exchange::Capability;
use crate::ledger::{LIFTED, Rehung, RunHead};
use crate::plan::{self, Goal, Plan};
use crate::rig::instrument::Kind;
use crate::rig::night::die::Die;
use crate::rig::night::studio::{self, SUPPLIES, Studio};
use crate::rig::world::{BathFacts, World};
use crate::run::Change;
use crate::spec::{self, Job, Shelf, Station, SupplyProfile, Target};
use crate::units::{Current, Length, Span, Voltage};
use std::sync::{Arc, OnceLock};

/// Jobs tried before a seed is given up.
const TRIES: usize = 60;

/// What the house makes of a drawn job.
#[derive(Clone, Debug)]
pub struct Planned {
    /// The plan.
    pub plan: Arc<Plan>,
    /// What the supply can do, by its profile.
    pub supply: Capability,
    /// How the run is written down.
    pub head: RunHead,
}

/// What is the same in every night.
struct Demo {
    station: Station,
    bath: BathProfile,
    supplies: Vec<Arc<SupplyProfile>>,
}

fn demo() -> Result<&'static Demo, String> {
    static DEMO: OnceLock<Result<Demo, String>> = OnceLock::new();
    let read = || {
        let shelf = Shelf::embedded();
        let station = spec::station::open(spec::DEMO_STATION, &shelf);
        let bath = spec::bath::open("acid-copper-bright", &shelf);
        let supplies = SUPPLIES
            .iter()
            .map(|name| spec::open_supply(name, &shelf).map(Arc::new));
        Ok(Demo {
            station: station.map_err(|fault| fault.to_string())?,
            bath: bath.map_err(|fault| fault.to_string())?,
            supplies: supplies
                .collect::<Result<_, _>>()
                .map_err(|fault| fault.to_string())?,
        })
    };
    DEMO.get_or_init(read).as_ref().map_err(Clone::clone)
}

/// Draws a studio whose plan is accepted, and how long its night is to take.
pub(in crate::rig::night) fn studio(
    die: &mut Die,
    seed: u64,
    hours: f64,
) -> Result<(Studio, Span), String> {
    let demo = demo()?;
    let profile = die.pick(&demo.supplies).clone();
    let supply = profile.capability();
    let mut last = String::from("no job was tried");
    for _ in 0..TRIES {
        match accepted(die, demo, &supply, hours) {
            Ok((job, station, plan)) => {
                let length =
                    plan.forecast.duration + job.finish.map_or(Span::ZERO, |finish| finish.at_most);
                return Ok((
                    lay_out(die, demo, seed, (job, station, plan), profile)?,
                    length,
                ));
            }
            Err(why) => last = why,
        }
    }
    Err(last)
}

/// The rest of a night of which these pieces hang; `None` where the house refuses the change.
pub(super) fn rehung(studio: &Studio, core: &Core, hang: &[bool]) -> Option<Change> {
    let bath = &demo().ok()?.bath;
    let (job, station, supply) = (&studio.job, &studio.station, &studio.plan.supply);
    let mut plan = (*studio.plan.plan).clone();
    for (piece, hangs) in plan.pieces.iter_mut().zip(hang) {
        piece.hangs = *hangs;
    }
    if let Goal::Piece(index) = plan.goal
        && !hang[index]
    {
        return None;
    }
    let by = (bath, station, supply);
    let outlook = plan::rehang(plan, core.rack(), core.charge().best, job, by).ok()?;
    let plan = outlook.accept().ok()?.clone();
    let hangers = std::iter::repeat_n(true, plan.hangers.len());
    Some(Change {
        plan: Arc::new(plan),
        told: Rehung {
            code: LIFTED,
            text: format!("hang from now on: {hang:?}"),
            added: Vec::new(),
            hang: hang.iter().copied().chain(hangers).collect(),
            paper: None,
        },
    })
}

/// One job, stretched to the hours that are asked for.
fn accepted(
    die: &mut Die,
    demo: &Demo,
    supply: &Capability,
    hours: f64,
) -> Result<(Job, Station, Plan), String> {
    let mut job = studio::job(die, hours);
    let mut station = demo.station.clone();
    station.tank.stirred = die.chance(0.5);
    station.tank.anode = None;
    station.max_current = Current::from_a(5.0);
    station.max_voltage = Voltage::from_v(10.0);
    let draft = plan::draw(&job, &demo.bath, &station, supply).map_err(|no| no.to_string())?;
    if let Target::Thickness(thickness) = job.target {
        let stretch = hours / draft.plan.forecast.duration.h();
        let stretched = |length: Length| length * stretch.clamp(0.5, 2.0);
        job.target = Target::Thickness(stretched(thickness));
        job.looks
            .iter_mut()
            .for_each(|look| look.at = stretched(look.at));
    }
    let peak = draft.plan.forecast.current_peak.a();
    // Interfaces; nine centimetres of the poorest bath, unevenly hung; leads.
    let needs = 0.6 + job.density.a_per_m2() * 0.09 / 17.0 * 1.3 + peak * 0.08;
    let station = studio::station(die, &station, peak * 1.02, needs);
    let outlook = plan::draw(&job, &demo.bath, &station, supply).map_err(|no| no.to_string())?;
    let plan = outlook.accept().map_err(|no| no.to_string())?.clone();
    Ok((job, station, plan))
}

fn lay_out(
    die: &mut Die,
    demo: &Demo,
    seed: u64,
    (job, station, plan): (Job, Station, Plan),
    profile: Arc<SupplyProfile>,
) -> Result<Studio, String> {
    let bath = &demo.bath;
    let facts = BathFacts {
        z: bath.metal.valence,
        molar_mass_kg_per_mol: bath.metal.molar_mass,
        density_kg_per_m3: bath.deposit_density.kg_per_m3(),
        efficiency: bath.efficiency,
    };
    let kind = Kind::asked_by(&profile.identity.ask)
        .ok_or_else(|| format!("nobody answers {:?}", profile.identity.ask))?;
    let head = RunHead::of(&job, "", &station, &bath.name, &plan);
    Ok(Studio {
        world: World::draw(&job, &station, &facts, seed, false),
        quirks: studio::quirks(die, kind, &profile),
        plan: Arc::new(Planned {
            plan: Arc::new(plan),
            supply: profile.capability(),
            head: RunHead {
                simulated: true,
                seed: Some(seed),
                ..head
            },
        }),
        kind,
        job,
        station,
        profile,
    })
}
