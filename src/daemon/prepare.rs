//! From a job's text to a run that may begin: read, planned, accepted. Nothing here touches the
//! supply.

use super::refusal::{BAD_INPUT, Refusal};
use super::standing::{Standing, label_now};
use crate::ledger::RunHead;
use crate::plan::{self, Outlook};
use crate::spec;
use crate::spec::shelf::Sort;
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
    /// Where the job was read.
    pub(super) job_path: String,
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
        .map_err(|fault| Refusal::new(BAD_INPUT, "bad-shape", fault.to_string()).at(&path))?;
    outlook.accept()?;
    let head = RunHead {
        began: label_now(),
        simulated: standing.simulated(),
        ..RunHead::of(
            &job,
            &text,
            &standing.station.name,
            &bath.name,
            &outlook.plan,
        )
    };
    Ok(Prepared {
        head,
        outlook,
        job_path: path,
    })
}
