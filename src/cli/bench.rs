//! What a command needs to know before anything happens: job, bath, station, supply and the plan
//! from them.

use super::pieces::unreadable;
use super::{Exit, Failure};
use crate::bath::BathProfile;
use crate::exchange::Capability;
use crate::exchange::Tolerance;
use crate::ledger::{Ledger, RunHead};
use crate::plan::{self, Learnt, Outlook, Plan};
use crate::rig::instrument::{Kind, Quirks};
use crate::rig::world::BathFacts;
use crate::spec::shelf::Sort;
use crate::spec::supply::matches;
use crate::spec::{self, Job, Shelf, Station, SupplyProfile};
use std::path::Path;
use std::sync::Arc;

/// A job on a station, everything read and checked.
pub(super) struct Bench {
    /// The job.
    pub job: Job,
    /// The job file's text.
    pub job_text: String,
    /// The bath the job needs.
    pub bath: BathProfile,
    /// The station.
    pub station: Station,
    /// The station's supply.
    pub profile: Arc<SupplyProfile>,
    /// What that supply can do.
    pub supply: Capability,
}

impl Bench {
    /// Reads a job and a station by name or path, and what they name.
    pub(super) fn open(job: &str, station: &str, shelf: &Shelf) -> Result<Self, Failure> {
        let found = shelf.find(Sort::Job, job, None)?;
        let job = spec::job::read(&found.path, &found.text, shelf)?;
        let bath = spec::bath::open(&job.bath, shelf)?;
        let station = spec::station::open(station, shelf)?;
        let profile = Arc::new(spec::open_supply(&station.supply, shelf)?);
        let supply = profile.capability();
        Ok(Self {
            job,
            job_text: found.text,
            bath,
            station,
            profile,
            supply,
        })
    }

    /// The plan, with everything there is to say about it.
    pub(super) fn outlook(&self) -> Result<Outlook, Failure> {
        self.outlook_learnt(&Learnt::default())
    }

    /// The same with what earlier pieces in a ledger taught, if there is a ledger.
    pub(super) fn outlook_after(&self, ledger: &Path) -> Result<Outlook, Failure> {
        if !ledger.exists() {
            return self.outlook();
        }
        let earlier = Ledger::open_read(ledger)
            .and_then(|ledger| ledger.earlier(None))
            .map_err(unreadable)?;
        self.outlook_learnt(&Learnt::of(&earlier, &spec::kinds(&self.job_text)))
    }

    fn outlook_learnt(&self, learnt: &Learnt) -> Result<Outlook, Failure> {
        let drawn = plan::draw_learnt(&self.job, &self.bath, &self.station, &self.supply, learnt);
        drawn.map_err(|fault| {
            Failure::new(Exit::BadInput, "bad-shape", fault.to_string())
                .remedy("measure it again, and look at the units")
        })
    }

    /// The same, if nothing forbids it.
    pub(super) fn accepted_after(&self, ledger: &Path) -> Result<Plan, Failure> {
        Ok(self.outlook_after(ledger)?.accept()?.clone())
    }

    /// What the ledger holds of the run before it begins.
    pub(super) fn head(&self, plan: &Plan) -> RunHead {
        RunHead {
            began: label_now(),
            ..RunHead::of(
                &self.job,
                &self.job_text,
                &self.station,
                &self.bath.name,
                plan,
            )
        }
    }

    /// The simulated supply that takes the place of the station's, and what it can do. With `clean`
    /// its meter is perfect and its settings are exact to their step.
    pub(super) fn simulated(&self, clean: bool) -> Result<(Kind, Quirks, Capability), Failure> {
        let rule = &self.profile.identity;
        let Some(kind) = Kind::asked_by(&rule.ask) else {
            let said = format!("no simulated supply speaks `{}`", self.profile.name);
            return Err(Failure::new(Exit::BadInput, "no-simulated-supply", said)
                .remedy("name a station whose supply is scpi-standard or terse-fixed"));
        };
        let mut quirks = Quirks::of(kind).as_stated(&self.supply);
        quirks.baud = self.profile.line.baud;
        if !rule
            .patterns
            .iter()
            .any(|pattern| matches(pattern, &quirks.identity))
        {
            // It says it is what the profile waits for.
            let first = rule.patterns.first().cloned().unwrap_or_default();
            quirks.identity = first.replace('*', "SIMULATED").replace('?', "0");
        }
        if !clean {
            return Ok((kind, quirks, self.supply.clone()));
        }
        let mut supply = self.supply.clone();
        supply.read_current = Tolerance::default();
        supply.read_voltage = Tolerance::default();
        for setting in [&mut supply.set_current, &mut supply.set_voltage] {
            *setting = Tolerance {
                share: 0.0,
                fixed: 0.0,
                step: setting.step,
            };
        }
        Ok((kind, quirks.perfect(), supply))
    }

    /// The bath as plain numbers, for the simulated cell.
    pub(super) fn facts(&self) -> BathFacts {
        BathFacts {
            z: self.bath.metal.valence,
            molar_mass_kg_per_mol: self.bath.metal.molar_mass,
            density_kg_per_m3: self.bath.deposit_density.kg_per_m3(),
            efficiency: self.bath.efficiency,
        }
    }
}

/// Now, as a label: RFC 3339 with offset.
fn label_now() -> String {
    chrono::Local::now().to_rfc3339_opts(chrono::SecondsFormat::Secs, false)
}
