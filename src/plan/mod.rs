//! What tonight will be. This room knows the currents, charges, masses and hours a job comes to,
//! what would make it unwise, and how far each piece has come. It must never know the time of day,
//! a wire or which supply stands on the bench beyond its [`crate::exchange::Capability`]. Control
//! and everything below come in.

mod bounds;
mod draw;
mod envelope;
mod fault;
mod forecast;
mod layer;
mod learn;
mod paint;
mod peak;
mod rack;
mod rehang;
mod remark;

pub use bounds::Bounds;
pub use draw::{draw, draw_learnt};
pub use fault::PlanError;
pub use layer::{Layer, layers};
pub use learn::{Earlier, GAUGE_DOUBT, Learnt, SCALE_DOUBT};
pub use peak::PEAK_TO_MEAN;
pub use rack::{OnRecord, Rack, SHARE_DOUBT};
pub use rehang::rehang;
pub use remark::{REFUSALS, WARNINGS};

pub use crate::deposit::Deposit;

use crate::deposit::Cover;
use crate::shape::Body;
use crate::spec::{Finish, Surface};
use crate::units::{Area, Bounded, Charge, Current, CurrentDensity, Length, Mass, Span, Voltage};

/// What a night is to be, checked: a plan in hand may be run.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// The job's name.
    pub job: String,
    /// The pieces, in the job's order.
    pub pieces: Vec<PlannedPiece>,
    /// The hangers: they take current and are no target.
    pub hangers: Vec<Body>,
    /// What the bath lays down.
    pub deposit: Deposit,
    /// Density over time with the output on.
    pub schedule: Schedule,
    /// What ends the run.
    pub goal: Goal,
    /// Planned pauses: thickness of the governing piece, thinnest first.
    pub looks: Vec<Length>,
    /// What is never passed.
    pub limits: Limits,
    /// What bath and station bear tonight.
    pub bounds: Bounds,
    /// What it will come to.
    pub forecast: Forecast,
}

/// A piece as the plan sees it.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedPiece {
    /// Its name.
    pub name: String,
    /// Its surface before the first metal.
    pub surface: Surface,
    /// Its body, texture and stated uncertainty in it.
    pub body: Body,
    /// How copper spreads over it.
    pub cover: Cover,
    /// The charge at which it has what was asked (for a target in thickness, mass or charge).
    pub target_charge: Option<Charge>,
    /// The highest density on it against its mean; 1 or more.
    pub peak_to_mean: f64,
    /// It hangs in the bath; false for one that was lifted out of the run.
    pub hangs: bool,
}

impl Plan {
    /// The highest density against the mean, over the pieces that hang.
    #[must_use]
    pub fn peak_to_mean(&self) -> f64 {
        let hang = self.pieces.iter().filter(|piece| piece.hangs);
        hang.map(|piece| piece.peak_to_mean).fold(1.0, f64::max)
    }
}

/// Density against time with the output on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Schedule {
    /// Density of the strike. Where there is none, what the ramp starts from: a tenth of `full`, or
    /// `full` itself without a ramp.
    pub strike: CurrentDensity,
    /// How long the strike lasts; zero where there is none.
    pub strike_for: Span,
    /// How much longer it waits for copper that is behind; zero where it ends by time.
    pub strike_waits: Span,
    /// How long the ramp from strike to full density takes.
    pub ramp_over: Span,
    /// Full density.
    pub full: CurrentDensity,
    /// What follows the target.
    pub finish: Option<Finish>,
}

/// Which part of the schedule a moment falls in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// The gentle start.
    Strike,
    /// Density rises in a straight line.
    Ramp,
    /// Full density.
    Build,
}

impl Schedule {
    /// The stage after a time with the output on.
    #[must_use]
    pub fn stage(&self, on: Span) -> Stage {
        if on < self.strike_for {
            Stage::Strike
        } else if on < self.strike_for + self.ramp_over {
            Stage::Ramp
        } else {
            Stage::Build
        }
    }

    /// The density after a time with the output on.
    #[must_use]
    pub fn density(&self, on: Span) -> CurrentDensity {
        match self.stage(on) {
            Stage::Strike => self.strike,
            Stage::Ramp => {
                let share = (on - self.strike_for) / self.ramp_over;
                self.strike + (self.full - self.strike) * share
            }
            Stage::Build => self.full,
        }
    }
}

/// What ends a run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Goal {
    /// All pieces have their target charge: the one furthest behind governs.
    Thinnest,
    /// The mean thickness, weighted by area, reaches this.
    RackMean(Length),
    /// The piece with this index has its target charge.
    Piece(usize),
    /// This much time with the output on.
    Hours(Span),
}

/// What a run never passes. The keeper and the supply's own protections get these too.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Limits {
    /// Highest setpoint of the night, with the margin for a growing area: the forecast's peak and
    /// 10 %, never beyond station or supply.
    pub current: Current,
    /// The constant-voltage ceiling.
    pub voltage: Voltage,
    /// Over-voltage protection, just above the ceiling.
    pub over_voltage: Voltage,
    /// Over-current protection, just above `current`.
    pub over_current: Current,
    /// More charge than this is never delivered: the forecast and 10 %, hold included.
    pub charge: Charge,
    /// The output is never on for longer: the forecast and 25 %, hold included.
    pub time_on: Span,
}

/// What a night will come to.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Forecast {
    /// Area of all pieces at the start, hangers not counted.
    pub area: Area,
    /// Charge of pieces and hangers until the target, hold not counted.
    pub charge: Charge,
    /// Mass on pieces and hangers.
    pub mass: Mass,
    /// Time with the output on until the target.
    pub duration: Span,
    /// First setpoint.
    pub current_start: Current,
    /// Highest setpoint.
    pub current_peak: Current,
    /// Each piece.
    pub pieces: Vec<PieceForecast>,
    /// Each hanger.
    pub hangers: Vec<HangerForecast>,
    /// Points (time on, setpoint) for the curve, at most a few hundred.
    pub curve: Vec<(Span, Current)>,
}

impl Forecast {
    /// How long the curve's last stretch takes that delivers this much charge; what is more than
    /// the whole curve delivers goes on at its first current. `None` for a curve without current.
    #[must_use]
    pub fn time_of_last(&self, charge: Charge) -> Option<Span> {
        let mut left = charge;
        let mut time = Span::ZERO;
        for pair in self.curve.windows(2).rev() {
            let [(begin, first), (end, last)] = pair else {
                continue;
            };
            let (mean, over) = ((*first + *last) * 0.5, *end - *begin);
            if mean * over > left {
                return Some(time + left / mean);
            }
            left -= mean * over;
            time += over;
        }
        let (_, first) = self.curve.first()?;
        (*first > Current::ZERO).then(|| time + left / *first)
    }
}

/// What a piece will come to.
#[derive(Clone, Debug, PartialEq)]
pub struct PieceForecast {
    /// Its name.
    pub name: String,
    /// Area at the start.
    pub area: Area,
    /// Area at the end.
    pub area_end: Area,
    /// Its share of the charge.
    pub charge: Charge,
    /// Mass on it.
    pub mass: Mass,
    /// Mean thickness with its 95 % interval.
    pub thickness: Bounded<Length>,
    /// The highest density on it against its mean; 1 or more.
    pub peak_to_mean: f64,
}

/// What a hanger will come to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HangerForecast {
    /// Area at the start.
    pub area: Area,
    /// Its share of the charge.
    pub charge: Charge,
    /// Mass on it.
    pub mass: Mass,
}

/// Something to say before a run: a stable word code and a sentence with the remedy in it.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Remark {
    /// Word code, for `explain`.
    pub code: &'static str,
    /// A sentence for people.
    pub text: String,
}

impl Remark {
    /// True if it says what earlier pieces changed in a plan, or why they change nothing.
    #[must_use]
    pub fn is_lesson(&self) -> bool {
        remark::LESSONS.contains(&self.code)
    }
}

/// A plan with everything there is to say about it. Only without refusals may it be run.
#[derive(Clone, Debug, PartialEq)]
pub struct Outlook {
    /// The plan.
    pub plan: Plan,
    /// What should be known before the night.
    pub warnings: Vec<Remark>,
    /// What forbids the night, worst first.
    pub refusals: Vec<Remark>,
}

/// Why an outlook is no night that may be run.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the plan is refused for {} reason(s); nothing was energised{}", .0.len(), listed(.0))]
pub struct Refused(pub Vec<Remark>);

impl Refused {
    /// The code of the worst reason.
    #[must_use]
    pub fn code(&self) -> &'static str {
        self.0.first().map_or("refused", |first| first.code)
    }
}

fn listed(remarks: &[Remark]) -> String {
    remarks
        .iter()
        .map(|said| format!("\n  {}: {}", said.code, said.text))
        .collect()
}

impl Outlook {
    /// The plan, if nothing forbids it.
    ///
    /// # Errors
    /// [`Refused`] with every reason, worst first.
    pub fn accept(&self) -> Result<&Plan, Refused> {
        if self.refusals.is_empty() {
            Ok(&self.plan)
        } else {
            Err(Refused(self.refusals.clone()))
        }
    }
}
