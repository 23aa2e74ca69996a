//! What a view is given beside snapshots, plans and records.

use crate::control::Blind;
use crate::ledger::RunRecord;
use crate::plan::{Forecast, Layer, Outlook, Remark};
use crate::units::{Area, Bounded, Charge, Length, Mass, Span, Volume};

/// A time of day, worked out by whoever has a clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Label<'a> {
    /// For a program: RFC 3339 with offset.
    pub at: &'a str,
    /// For a person: `Thu 07:44`.
    pub said: &'a str,
}

/// A night that is planned, with what stands around it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tonight<'a> {
    /// The job's name.
    pub job: &'a str,
    /// What it will come to.
    pub forecast: &'a Forecast,
    /// What should be known before.
    pub warnings: &'a [Remark],
    /// What forbids it.
    pub refusals: &'a [Remark],
    /// Which layers of protection there are.
    pub layers: &'a [Layer],
    /// Which guards are blind.
    pub blind: &'a [Blind],
    /// When it would be done if it began now.
    pub finish: Option<Label<'a>>,
}

impl<'a> Tonight<'a> {
    /// From an outlook, and what plan does not know.
    #[must_use]
    pub fn of(
        outlook: &'a Outlook,
        layers: &'a [Layer],
        blind: &'a [Blind],
        finish: Option<Label<'a>>,
    ) -> Self {
        Self {
            job: &outlook.plan.job,
            forecast: &outlook.plan.forecast,
            warnings: &outlook.warnings,
            refusals: &outlook.refusals,
            layers,
            blind,
            finish,
        }
    }
}

/// What the simulated cell says truly happened; no controller ever sees it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TruthTable {
    /// Charge that flowed.
    pub charge: Charge,
    /// Thickness of the piece that ended the run.
    pub thickness: Length,
    /// Pieces first, then hangers, as in the record.
    pub electrodes: Vec<TrueElectrode>,
}

/// What truly came onto one electrode.
#[derive(Clone, Debug, PartialEq)]
pub struct TrueElectrode {
    /// Its name.
    pub name: String,
    /// Charge through it.
    pub charge: Charge,
    /// Metal on it.
    pub mass: Mass,
    /// Mean thickness on it.
    pub thickness: Length,
}

/// A rehearsal that is over.
#[derive(Clone, Copy, Debug)]
pub struct Rehearsal<'a> {
    /// What the ledger holds of it.
    pub record: &'a RunRecord,
    /// What the simulated cell says.
    pub truth: &'a TruthTable,
    /// How far past its goal it stopped, as a share of the goal; less than zero if it fell short,
    /// `None` if it never came there.
    pub overshoot: Option<f64>,
    /// How long the night was.
    pub simulated: Span,
    /// How long it took.
    pub wall: Span,
}

/// The surface of a shape.
#[derive(Clone, Debug, PartialEq)]
pub struct AreaFacts {
    /// Area now, with its 95 % interval.
    pub area: Bounded<Area>,
    /// Integrated mean curvature; `None` if only an area is known.
    pub mean_curvature: Option<Length>,
    /// Integrated Gauss curvature; `None` if only an area is known.
    pub gauss: Option<f64>,
    /// Volume enclosed; `None` if only an area is known.
    pub volume: Option<Volume>,
    /// For a mesh: whether it is watertight.
    pub watertight: Option<bool>,
    /// For a mesh: how many triangles.
    pub triangles: Option<usize>,
    /// The shape under a deposit, one for each thickness that was asked.
    pub grown: Vec<Grown>,
    /// What should be known beside the figures, a sentence each.
    pub cautions: Vec<String>,
    /// Files in which what was recognised in a picture is shown.
    pub pictures: Vec<String>,
    /// For a mesh with a contact: shares of its area, and the distance over the surface within
    /// which they lie.
    pub reach: Vec<(f64, Length)>,
}

/// A shape under a deposit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grown {
    /// Thickness of the deposit.
    pub thickness: Length,
    /// Area under it.
    pub area: Area,
    /// Charge it takes.
    pub charge: Charge,
    /// Its mass.
    pub mass: Mass,
}
