//! From a job's text to a run that may begin: read, planned, accepted. Nothing here touches the
//! supply.

use super::refusal::{BAD_INPUT, Refusal};
use super::standing::{Standing, label_now};
use super::tank::{Kept, as_kept};
use crate::bath::BathProfile;
use crate::ledger::{Ledger, Paper, RunHead, RunId};
use crate::plan::{self, Learnt, Outlook};
use crate::spec::shelf::Sort;
use crate::spec::{self, Job, Shelf, Station};
use crate::units::Span;
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

/// What a run was made from, and what was hung into it since.
#[derive(Clone, Debug)]
pub(super) struct Papers {
    /// The job, whole.
    pub(super) job_text: String,
    /// Its path: other files are found beside it, and messages name it.
    pub(super) job_path: String,
    /// Files of pieces that were hung into it, in their order.
    pub(super) hung: Vec<Paper>,
}

impl Papers {
    /// The job with all pieces the run has had.
    pub(super) fn job(&self, shelf: &Shelf) -> Result<Job, Refusal> {
        let mut job = spec::job::read(&self.job_path, &self.job_text, shelf)?;
        for paper in &self.hung {
            let more = spec::job::read_pieces(&paper.path, &paper.text, shelf, &job)?;
            job.pieces.extend(more);
        }
        Ok(job)
    }
}

/// A run that may begin.
#[derive(Debug)]
pub(super) struct Prepared {
    /// What the ledger holds of it.
    pub(super) head: RunHead,
    /// The plan, without refusals.
    pub(super) outlook: Outlook,
    /// What it is made from.
    pub(super) papers: Papers,
}

/// What earlier pieces in the ledger teach for a job. A run that goes on has learnt what it could
/// when it began: only runs before it count.
fn learnt(standing: &Standing, papers: &Papers, before: Option<RunId>) -> Result<Learnt, Refusal> {
    if !standing.ledger.exists() {
        return Ok(Learnt::default());
    }
    let earlier = Ledger::open_read(&standing.ledger)?.earlier(before)?;
    let hung = papers.hung.iter().map(|paper| paper.text.as_str());
    let texts = std::iter::once(papers.job_text.as_str()).chain(hung);
    let kinds = texts.flat_map(spec::kinds).collect();
    Ok(Learnt::of(&earlier, &kinds))
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
    let papers = Papers {
        job_text: text,
        job_path: path,
        hung: Vec::new(),
    };
    let drawn = drawn(standing, &papers, None)?;
    drawn.outlook.accept()?;
    Ok(drawn.prepared(standing, papers))
}

/// A job, read and planned.
#[derive(Debug)]
pub(super) struct Drawn {
    /// The job, with all that was hung into it.
    pub(super) job: Job,
    /// Its bath.
    pub(super) bath: BathProfile,
    /// The station it was planned for: as the ledger of its bath knows it.
    pub(super) station: Station,
    /// The plan.
    pub(super) outlook: Outlook,
}

/// Reads a job with all that was hung into it, and plans it as if it began now; a run that began
/// already learns only from runs `before` it.
pub(super) fn drawn(
    standing: &Standing,
    papers: &Papers,
    before: Option<RunId>,
) -> Result<Drawn, Refusal> {
    let job = papers.job(&standing.shelf)?;
    let bath = spec::bath::open(&job.bath, &standing.shelf)?;
    let now = standing.time_of(standing.clock.now());
    #[allow(clippy::cast_precision_loss)] // seconds since 1970 are far below 2^53
    let now = Span::from_s(now.timestamp() as f64);
    let Kept { station, said } = as_kept(
        &standing.station,
        &bath,
        &standing.ledger,
        &standing.shelf,
        now,
    )?;
    let learnt = learnt(standing, papers, before)?;
    let mut outlook = plan::draw_learnt(&job, &bath, &station, &standing.capability, &learnt)
        .map_err(|fault| {
            Refusal::new(BAD_INPUT, "bad-shape", fault.to_string()).at(&papers.job_path)
        })?;
    outlook.warnings.extend(said);
    Ok(Drawn {
        job,
        bath,
        station,
        outlook,
    })
}

impl Drawn {
    /// The plan as a run that may begin.
    pub(super) fn prepared(self, standing: &Standing, papers: Papers) -> Prepared {
        let head = RunHead {
            began: label_now(),
            simulated: standing.simulated(),
            bath_ledger: self.station.tank.bath_ledger.clone(),
            ..RunHead::of(
                &self.job,
                &papers.job_text,
                &self.station,
                &self.bath.name,
                &self.outlook.plan,
            )
        };
        Prepared {
            head,
            outlook: self.outlook,
            papers,
        }
    }
}
