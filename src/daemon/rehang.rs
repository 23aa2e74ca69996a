//! Pieces are to be lifted out of the run that is on, or hung into it: what was asked, read and
//! checked where it may take its time. Nothing here touches the supply.

use super::board::Night;
use super::prepare::{Drawn, Papers, drawn};
use super::refusal::{BAD_INPUT, REFUSED, Refusal};
use super::standing::Standing;
use crate::bath::BathProfile;
use crate::exchange::Capability;
use crate::ledger::{ElectrodeHead, HUNG, LIFTED, Paper, RunId};
use crate::plan::{Outlook, Plan, Rack, Remark, rehang};
use crate::run;
use crate::spec::{Job, Station, Until};
use crate::units::Charge;
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// What somebody who wants to lift pieces, or to hang lifted ones again, sends.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Named {
    /// Their names.
    pub pieces: Vec<String>,
}

/// What somebody who wants to hang new pieces sends.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Newly {
    /// The file of pieces, whole.
    pub pieces_text: String,
    /// Its path: other files are found beside it, and messages name it.
    pub pieces_path: String,
}

/// What is to be done with which pieces.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Deed {
    /// Out of the bath.
    Lift(Vec<String>),
    /// Lifted ones into it again.
    Again(Vec<String>),
    /// New ones into it.
    Hang(Paper),
}

/// A change of what hangs, read and ready to be judged.
#[derive(Debug)]
pub(super) struct Rehanging {
    /// The run it is for.
    pub(super) run: RunId,
    deed: Deed,
    job: Job,
    bath: BathProfile,
    station: Station,
    /// Drawn for all pieces the run will have had.
    plan: Plan,
    added: Vec<ElectrodeHead>,
    /// What was known before the change.
    known: Vec<Remark>,
    /// What earlier pieces teach of all pieces the run will have had.
    lessons: Vec<Remark>,
    /// What the run is made from afterwards.
    pub(super) papers: Arc<Papers>,
}

/// Reads what a change needs.
///
/// # Errors
/// The problems of the file of pieces; nothing has changed then.
pub(super) fn read(standing: &Standing, night: &Night, deed: Deed) -> Result<Rehanging, Refusal> {
    let mut papers = (*night.papers).clone();
    let before = drawn(standing, &papers, Some(night.run))?;
    let known = before.outlook.warnings.clone();
    let Drawn {
        job,
        bath,
        station,
        outlook,
    } = match &deed {
        Deed::Hang(paper) => {
            papers.hung.push(paper.clone());
            drawn(standing, &papers, Some(night.run))?
        }
        Deed::Lift(_) | Deed::Again(_) => before,
    };
    let warnings = outlook.warnings.iter();
    let lessons = warnings.filter(|it| it.is_lesson()).cloned().collect();
    let plan = outlook.plan;
    let there = night.plan.pieces.len();
    let heads = plan.pieces.iter().map(|piece| ElectrodeHead {
        name: piece.name.clone(),
        hanger: false,
        area: piece.body.area,
    });
    let added: Vec<ElectrodeHead> = heads.skip(there).collect();
    if added.is_empty() && matches!(deed, Deed::Hang(_)) {
        let text = "the file names no piece to hang";
        return Err(Refusal::new(BAD_INPUT, "missing-key", text)
            .remedy("write [[piece]] with name, surface and shape, as in a job"));
    }
    Ok(Rehanging {
        run: night.run,
        deed,
        job,
        bath,
        station,
        plan,
        added,
        known,
        lessons,
        papers: Arc::new(papers),
    })
}

impl Rehanging {
    /// What the run is told, judged by the rack as it stands, and what to say of it.
    ///
    /// # Errors
    /// Why the change cannot be; nothing has changed then.
    pub(super) fn judge(
        &self,
        supply: &Capability,
        rack: &Rack,
        delivered: Charge,
        reached: bool,
    ) -> Result<(run::Change, Outlook), Refusal> {
        if self.plan.pieces.len() != rack.pieces() + self.added.len() {
            let text = "what hangs in the run has changed meanwhile";
            return Err(Refusal::new(REFUSED, "not-now", text).remedy("ask again"));
        }
        if reached && !matches!(self.deed, Deed::Lift(_)) {
            let text = "the run has reached its target: nothing more can be hung into it";
            return Err(Refusal::new(REFUSED, "not-now", text)
                .remedy("`nightvat stop`, then `nightvat start` a job for the other pieces"));
        }
        let mut plan = self.plan.clone();
        for (index, piece) in plan.pieces.iter_mut().enumerate() {
            piece.hangs = index >= rack.pieces() || rack.hangs(index);
        }
        self.mark(&mut plan)?;
        if plan.pieces.iter().all(|piece| !piece.hangs) {
            let text = "nothing would hang in the run any more";
            return Err(Refusal::new(REFUSED, "not-now", text)
                .remedy("`nightvat stop` ends the run; then lift what hangs"));
        }
        let by = (&self.bath, &self.station, supply);
        let outlook = rehang(plan, rack, delivered, &self.job, by)
            .map_err(|fault| Refusal::new(REFUSED, "not-now", fault.to_string()))?;
        outlook.accept()?;
        let change = run::Change {
            plan: Arc::new(outlook.plan.clone()),
            told: self.told(&outlook.plan),
        };
        Ok((change, outlook))
    }

    /// Marks in the plan which pieces hang afterwards.
    fn mark(&self, plan: &mut Plan) -> Result<(), Refusal> {
        let (names, hangs) = match &self.deed {
            Deed::Hang(_) => return Ok(()),
            Deed::Lift(names) => (names, false),
            Deed::Again(names) => (names, true),
        };
        if names.is_empty() {
            let text = "no piece is named";
            return Err(Refusal::new(BAD_INPUT, "bad-request", text));
        }
        for name in names {
            let all = known(plan);
            let Some(piece) = plan.pieces.iter_mut().find(|piece| piece.name == *name) else {
                let text = format!("the run has no piece {name:?}");
                return Err(Refusal::new(BAD_INPUT, "no-such-piece", text)
                    .remedy(format!("its pieces are {all}")));
            };
            if piece.hangs == hangs {
                let (is, does) = if hangs {
                    ("hangs in the bath already", "`nightvat lift` takes it out")
                } else {
                    (
                        "is lifted already",
                        "`nightvat hang --again` puts it back in",
                    )
                };
                let text = format!("piece {name:?} {is}");
                return Err(Refusal::new(REFUSED, "not-now", text).remedy(does));
            }
            if !hangs && self.job.until == Until::Piece(name.clone()) {
                let text = format!("the run ends with piece {name:?}");
                return Err(Refusal::new(REFUSED, "not-now", text)
                    .remedy("`nightvat stop` ends the run; then lift it"));
            }
            piece.hangs = hangs;
        }
        Ok(())
    }

    fn told(&self, plan: &Plan) -> crate::ledger::Rehung {
        let hang = plan.pieces.iter().map(|piece| piece.hangs);
        let hangers = std::iter::repeat_n(true, plan.hangers.len());
        let (code, paper) = match &self.deed {
            Deed::Lift(_) => (LIFTED, None),
            Deed::Again(_) => (HUNG, None),
            Deed::Hang(paper) => (HUNG, Some(paper.clone())),
        };
        crate::ledger::Rehung {
            code,
            text: self.text(),
            added: self.added.clone(),
            hang: hang.chain(hangers).collect(),
            paper,
        }
    }

    /// The change in a sentence.
    fn text(&self) -> String {
        let names = self.names().join(", ");
        match &self.deed {
            Deed::Lift(_) => format!("lifted, with the output off: {names}"),
            Deed::Again(_) => format!("hung again, with the output off: {names}"),
            Deed::Hang(_) => format!("hung, with the output off: {names}"),
        }
    }

    /// The pieces it is about.
    pub(super) fn names(&self) -> Vec<String> {
        match &self.deed {
            Deed::Lift(names) | Deed::Again(names) => names.clone(),
            Deed::Hang(_) => self.added.iter().map(|head| head.name.clone()).collect(),
        }
    }

    /// What there is to say of the night now and was not to be said before.
    pub(super) fn news<'a>(&'a self, outlook: &'a Outlook) -> impl Iterator<Item = &'a Remark> {
        let all = outlook.warnings.iter().chain(&self.lessons);
        all.filter(|remark| !self.known.contains(remark))
    }

    /// True if pieces come out.
    pub(super) fn lifts(&self) -> bool {
        matches!(self.deed, Deed::Lift(_))
    }
}

fn known(plan: &Plan) -> String {
    let names = plan.pieces.iter().map(|piece| format!("{:?}", piece.name));
    names.collect::<Vec<_>>().join(", ")
}
