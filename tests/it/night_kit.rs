//! What the tests of whole nights share: a studio from text, and a night carried out on the bench.

use nightvat::control::{Fault, Outcome, State};
use nightvat::exchange::{Capability, Tolerance};
use nightvat::ledger::{ElectrodeHead, Entry, RunHead, RunId, Store, StoreFault};
use nightvat::plan::{self, Plan};
use nightvat::rig::bench::Bench;
use nightvat::rig::cell::Truth;
use nightvat::rig::instrument::{Instrument, Kind, Quirks};
use nightvat::rig::rehearsal::{Manner, Rehearsed, rehearse};
use nightvat::rig::world::{BathFacts, World};
use nightvat::run::{Habits, Input, Run};
use nightvat::spec::{self, Job, Shelf, SupplyProfile};
use nightvat::supply::link::Link;
use nightvat::units::{Bounded, Charge, Moment, Span};
use std::sync::Arc;

/// A short night on one bare wire: two hours at full density, quick to run.
pub(crate) const WIRE: &str = r#"
name = "one wire"
bath = "acid-copper-bright"
[target]
thickness = "30 um"
[current]
density = "1.5 A/dm2"
[current.strike]
density = "0.5 A/dm2"
for = "10 min"
[current.ramp]
over = "20 min"
[[piece]]
name = "wire"
surface = "metal"
shape = { kind = "wire", diameter = "2 mm", length = "400 mm" }
"#;

/// Everything that stands before a night.
pub(crate) struct Studio {
    pub(crate) job: Job,
    pub(crate) profile: Arc<SupplyProfile>,
    pub(crate) supply: Capability,
    pub(crate) plan: Arc<Plan>,
    pub(crate) world: World,
    pub(crate) kind: Kind,
    pub(crate) quirks: Quirks,
}

/// A studio for a job, on the demo station with this supply.
pub(crate) fn studio(job: &str, supply: &str, seed: u64, clean: bool) -> Studio {
    let shelf = Shelf::embedded();
    let job = spec::job::read("test.toml", job, &shelf).unwrap_or_else(|e| panic!("{e}"));
    let bath = spec::bath::open(&job.bath, &shelf).unwrap();
    let station = spec::station::open(spec::DEMO_STATION, &shelf).unwrap();
    let profile = Arc::new(spec::open_supply(supply, &shelf).unwrap());
    let mut stated = profile.capability();
    let outlook = plan::draw(&job, &bath, &station, &stated).unwrap();
    assert_eq!(outlook.refusals, [], "the plan is refused");
    let facts = BathFacts {
        z: bath.metal.valence,
        molar_mass_kg_per_mol: bath.metal.molar_mass,
        density_kg_per_m3: bath.deposit_density.kg_per_m3(),
        efficiency: bath.efficiency,
    };
    let kind = Kind::asked_by(&profile.identity.ask).unwrap();
    let mut quirks = Quirks::of(kind).as_stated(&stated);
    if clean {
        quirks = quirks.perfect();
        stated.read_current = Tolerance::default();
        stated.read_voltage = Tolerance::default();
        for setting in [&mut stated.set_current, &mut stated.set_voltage] {
            *setting = Tolerance {
                share: 0.0,
                fixed: 0.0,
                step: setting.step,
            };
        }
    }
    Studio {
        world: World::draw(&job, &station, &facts, seed, clean),
        job,
        profile,
        supply: stated,
        plan: Arc::new(outlook.plan),
        kind,
        quirks,
    }
}

impl Studio {
    /// The same with a relay in the output lead. Its one-shot holds 1.2 s; at the bench 1.5 s were
    /// measured.
    pub(crate) fn with_relay(mut self) -> Self {
        Arc::make_mut(&mut self.plan).bounds.relay = Some(Span::from_s(1.5));
        self.world.relay_holds = Some(Span::from_s(1.2));
        self
    }
}

/// A ledger in memory, which may refuse from some entry on.
#[derive(Default)]
pub(crate) struct Memory {
    pub(crate) entries: Vec<Entry>,
    pub(crate) refuse_after: Option<usize>,
}

impl Store for Memory {
    fn begin(&mut self, _: &RunHead) -> Result<RunId, StoreFault> {
        Ok(1)
    }

    fn append(&mut self, _: RunId, entry: &Entry) -> Result<(), StoreFault> {
        if self
            .refuse_after
            .is_some_and(|most| self.entries.len() >= most)
        {
            return Err(StoreFault {
                place: "in memory".into(),
                what: "is full".into(),
            });
        }
        self.entries.push(entry.clone());
        Ok(())
    }

    fn commit(&mut self) -> Result<(), StoreFault> {
        Ok(())
    }
}

/// What a night left behind.
pub(crate) struct Night {
    pub(crate) rehearsed: Option<Rehearsed>,
    pub(crate) run: Run,
    pub(crate) truth: Truth,
    pub(crate) entries: Vec<Entry>,
}

impl Night {
    pub(crate) fn outcome(&self) -> Option<Outcome> {
        self.rehearsed.and_then(|done| done.outcome)
    }

    pub(crate) fn tripped_by(&self) -> Option<Fault> {
        self.outcome().and_then(Outcome::fault)
    }

    pub(crate) fn charge(&self) -> Bounded<Charge> {
        self.run.core().charge()
    }

    /// The states it came through, in order.
    pub(crate) fn states(&self) -> Vec<State> {
        let states = self.entries.iter().filter_map(|entry| match entry {
            Entry::Entered { state, .. } => Some(*state),
            _ => None,
        });
        states.collect()
    }

    /// The hard bounds hold the cell's truth, and no current flows.
    pub(crate) fn is_sound(&self) {
        let (charge, truth) = (self.charge(), self.truth.charge_ah);
        assert!(
            !self.truth.output_on && self.truth.current_a.abs() < 1e-9,
            "{:?}",
            self.truth
        );
        assert!(
            charge.low.ah() <= truth && truth <= charge.high.ah(),
            "{} to {} Ah do not hold {truth} Ah",
            charge.low.ah(),
            charge.high.ah()
        );
    }
}

/// A night with a person who looks every second.
pub(crate) fn night_with(
    studio: &Studio,
    mut store: Memory,
    person: impl FnMut(&Run, Moment, &mut Bench) -> Option<Input>,
) -> Night {
    let world = studio.world.clone();
    let instrument = Instrument::new(studio.kind, studio.quirks.clone(), world, Moment::ZERO);
    let mut bench = Bench::new(instrument, Moment::ZERO);
    let named = |name: &str| ElectrodeHead {
        name: name.into(),
        hanger: false,
        area: Default::default(),
    };
    let mut electrodes: Vec<_> = studio
        .plan
        .pieces
        .iter()
        .map(|one| named(&one.name))
        .collect();
    electrodes.extend(studio.plan.hangers.iter().map(|_| named("hanger")));
    let head = RunHead {
        job: studio.job.name.clone(),
        electrodes,
        ..RunHead::default()
    };
    let mut run = Run::new(
        Moment::ZERO,
        1,
        &head,
        studio.plan.clone(),
        studio.supply.clone(),
        Link::new(studio.profile.clone()),
        Habits {
            batch: Span::from_min(10.0),
            ..Habits::default()
        },
    );
    let manner = Manner {
        look_every: Span::from_s(1.0),
        at_most: Span::from_h(40.0),
        ..Manner::default()
    };
    let rehearsed = rehearse(&mut run, 1, &mut bench, &mut store, manner, person).ok();
    Night {
        rehearsed,
        run,
        truth: bench.truth(),
        entries: store.entries,
    }
}

/// An undisturbed night.
pub(crate) fn night(studio: &Studio) -> Night {
    night_with(studio, Memory::default(), |_, _, _| None)
}

/// A night in which something happens to the bench once, `after` seconds into a state.
pub(crate) fn disturbed(
    studio: &Studio,
    state: State,
    after: f64,
    mut happens: impl FnMut(&mut Bench),
) -> Night {
    let mut entered = None;
    let mut done = false;
    night_with(studio, Memory::default(), |run, now, bench| {
        if run.state() == state {
            let since = *entered.get_or_insert(now);
            if !done && now.since(since).s() >= after {
                done = true;
                happens(bench);
            }
        }
        None
    })
}
