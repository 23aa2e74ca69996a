//! From a job's text to a run that may begin: read, planned, accepted. Nothing here touches the
//! supply.

use super::refusal::{BAD_INPUT, REFUSED, Refusal};
use super::standing::{Standing, label_now};
use crate::ledger::{ElectrodeHead, RunHead};
use crate::plan::{self, Outlook, Plan};
use crate::spec::shelf::Sort;
use crate::spec::{self, Job, Target};
use serde::{Deserialize, Serialize};

/// What somebody who wants to start a job sends.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Asking {
    /// The job, whole; without it the file is read.
    pub job_text: Option<String>,
    /// The job's path: other files are found beside it, and messages name it.
    pub job_path: String,
}

/// A run that may begin.
#[derive(Debug)]
pub(super) struct Prepared {
    /// What the ledger holds of it.
    pub(super) head: RunHead,
    /// The plan, without refusals.
    pub(super) outlook: Outlook,
}

/// Reads and plans a job for the station.
pub(super) fn prepare(standing: &Standing, asking: Asking) -> Result<Prepared, Refusal> {
    let shelf = &standing.shelf;
    let (path, text) = match asking.job_text {
        Some(text) => (asking.job_path, text),
        None => {
            let found = shelf.find(Sort::Job, &asking.job_path, None)?;
            (found.path, found.text)
        }
    };
    let job = spec::job::read(&path, &text, shelf)?;
    let bath = spec::bath::open(&job.bath, shelf)?;
    let outlook = plan::draw(&job, &bath, &standing.station, &standing.capability)
        .map_err(|fault| Refusal::new(BAD_INPUT, "bad-shape", fault.to_string()).at(path))?;
    if let Some(first) = outlook.refusals.first() {
        let list: Vec<String> = outlook
            .refusals
            .iter()
            .map(|said| format!("{}: {}", said.code, said.text))
            .collect();
        let text = format!(
            "the plan is refused for {} reason(s); nothing was energised\n  {}",
            list.len(),
            list.join("\n  ")
        );
        return Err(Refusal::new(REFUSED, first.code, text)
            .remedy(format!("nightvat explain {}", first.code)));
    }
    let head = head(standing, &job, text, &bath.name, &outlook.plan);
    Ok(Prepared { head, outlook })
}

/// What the ledger holds of a run before it begins.
fn head(standing: &Standing, job: &Job, job_text: String, bath: &str, plan: &Plan) -> RunHead {
    let pieces = plan.pieces.iter().map(|piece| ElectrodeHead {
        name: piece.name.clone(),
        hanger: false,
        area: piece.body.area,
    });
    let hangers = plan
        .hangers
        .iter()
        .enumerate()
        .map(|(index, body)| ElectrodeHead {
            name: format!("hanger {}", index + 1),
            hanger: true,
            area: body.area,
        });
    RunHead {
        job: job.name.clone(),
        job_text,
        station: standing.station.name.clone(),
        bath: bath.to_owned(),
        began: label_now(),
        simulated: false,
        seed: None,
        target: match job.target {
            Target::Thickness(thickness) => Some(thickness),
            Target::Mass(_) | Target::Charge(_) | Target::Hours(_) => None,
        },
        electrodes: pieces.chain(hangers).collect(),
    }
}
