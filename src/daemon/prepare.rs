//! From a job's text to a run that may begin: read, planned, accepted. Nothing here touches the
//! supply.

use super::refusal::{BAD_INPUT, Refusal};
use super::standing::{Standing, label_now};
use crate::ledger::{Ledger, RunHead, RunId};
use crate::plan::{self, Learnt, Outlook};
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

/// What earlier pieces in the ledger teach for a job. A run that goes on has learnt what it could
/// when it began: only runs before it count.
fn learnt(standing: &Standing, text: &str, before: Option<RunId>) -> Result<Learnt, Refusal> {
    if !standing.ledger.exists() {
        return Ok(Learnt::default());
    }
    let earlier = Ledger::open_read(&standing.ledger)?.earlier(before)?;
    Ok(Learnt::of(&earlier, &spec::kinds(text)))
}

/// Reads and plans a job for the station; a run that goes on learns only from runs `before` it.
pub(super) fn prepare(
    standing: &Standing,
    asking: Asking,
    before: Option<RunId>,
) -> Result<Prepared, Refusal> {
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
    let learnt = learnt(standing, &text, before)?;
    let outlook = plan::draw_learnt(
        &job,
        &bath,
        &standing.station,
        &standing.capability,
        &learnt,
    )
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
