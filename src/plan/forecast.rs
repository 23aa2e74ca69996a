//! What a night will come to: the rack, stepped forward as control would lead it.

use super::{Forecast, HangerForecast, PieceForecast, Plan, PlanError, Rack, Schedule, Stage};
use crate::exchange::Capability;
use crate::units::{Bounded, Charge, Current, Span};

/// Parts into which strike and ramp are cut; the build is cut into minutes.
const PARTS: f64 = 400.0;
/// The goal counts as reached when it is nearer than this.
const REACHED: Span = Span::from_ms(1.0);
/// In the build the current grows by no more than this within half a step.
const MOST_GROWTH: f64 = 1.002;
/// More steps than the longest job takes that a file may ask for.
const MOST_STEPS: u32 = 200_000;
/// Points of the curve at most.
const MOST_POINTS: usize = 300;
/// What can hide between two readings, as a share of the charge.
const BETWEEN_READINGS: f64 = 0.001;

/// A night gone through in advance.
pub(super) struct Night {
    /// What it comes to.
    pub(super) forecast: Forecast,
    /// The rack when the target is reached.
    pub(super) end: Rack,
}

/// Goes through the night until the target, hold not counted.
pub(super) fn run(plan: &Plan, supply: &Capability) -> Result<Night, PlanError> {
    from(plan, Rack::new(plan), Charge::ZERO, supply)
}

/// Goes through the rest of a night, from a rack on which so much was delivered.
pub(super) fn from(
    plan: &Plan,
    mut rack: Rack,
    delivered: Charge,
    supply: &Capability,
) -> Result<Night, PlanError> {
    let mut charge = delivered;
    let mut curve = vec![(rack.time_on(), rack.current_wanted())];
    for _ in 0..MOST_STEPS {
        let current = rack.current_wanted();
        let left = rack.time_to_goal(current).filter(|left| left.is_finite());
        let Some(left) = left else {
            return Err(PlanError::Endless {
                why: "no current flows to what is still missing",
            });
        };
        if left <= REACHED {
            return Ok(Night {
                forecast: told(plan, &rack, charge, curve),
                end: rack,
            });
        }
        let mut step = step(&plan.schedule, rack.along(), left);
        let mut middle = ahead(&rack, current, step * 0.5);
        let grows = |middle: &Rack| middle.current_wanted() > current * MOST_GROWTH;
        while plan.schedule.stage(rack.along()) == Stage::Build && grows(&middle) && step > REACHED
        {
            step = step * 0.5;
            middle = ahead(&rack, current, step * 0.5);
        }
        // Current and shares of the middle make the step right to second order.
        let mean = middle.current_wanted();
        rack.share_as(&middle);
        rack.book(bounded(mean, step, supply), step);
        charge += mean * step;
        curve.push((rack.time_on(), rack.current_wanted()));
    }
    Err(PlanError::Endless {
        why: "it would take years",
    })
}

/// The rack a little later.
fn ahead(rack: &Rack, current: Current, span: Span) -> Rack {
    let mut later = rack.clone();
    later.book(Bounded::exact(current * span), span);
    later
}

/// The next step: a small part of the stage, not beyond its end, and never past the goal.
fn step(schedule: &Schedule, on: Span, left: Span) -> Span {
    let (part, end) = match schedule.stage(on) {
        Stage::Strike => (schedule.strike_for / PARTS, schedule.strike_for),
        Stage::Ramp => (
            schedule.ramp_over / PARTS,
            schedule.strike_for + schedule.ramp_over,
        ),
        Stage::Build => (
            Span::from_min(1.0).max(left / 1000.0),
            Span::from_si(f64::INFINITY),
        ),
    };
    let near = if left > Span::from_s(1.0) {
        left * 0.5
    } else {
        left
    };
    part.min(end - on).min(near).max(REACHED)
}

/// The charge of a current, with the hard bounds of a supply that sets or reads it as exactly as it
/// states.
fn bounded(current: Current, over: Span, supply: &Capability) -> Bounded<Charge> {
    let a = current.a();
    let half = supply
        .set_current
        .half_width(a)
        .min(supply.read_current.half_width(a));
    let doubt = Current::from_a(half + a.abs() * BETWEEN_READINGS) * over;
    let best = current * over;
    Bounded {
        low: (best - doubt).max(Charge::ZERO),
        best,
        high: best + doubt,
    }
}

fn told(plan: &Plan, rack: &Rack, charge: Charge, curve: Vec<(Span, Current)>) -> Forecast {
    let pieces: Vec<PieceForecast> = plan
        .pieces
        .iter()
        .enumerate()
        .map(|(index, piece)| PieceForecast {
            name: piece.name.clone(),
            area: piece.body.area,
            area_end: rack.area(index),
            charge: rack.charge(index).best,
            mass: rack.mass(index),
            thickness: rack.thickness_interval(index),
            peak_to_mean: piece.peak_to_mean,
        })
        .collect();
    let hanger = |(index, body): (usize, &crate::shape::Body)| HangerForecast {
        area: body.area,
        charge: rack.charge(rack.pieces() + index).best,
        mass: rack.mass(rack.pieces() + index),
    };
    Forecast {
        area: pieces.iter().map(|piece| piece.area).sum(),
        charge,
        mass: plan.deposit.mass(charge),
        duration: rack.time_on(),
        current_start: curve[0].1,
        current_peak: curve
            .iter()
            .map(|(_, current)| *current)
            .fold(Current::ZERO, Current::max),
        pieces,
        hangers: plan.hangers.iter().enumerate().map(hanger).collect(),
        curve: thinned(curve),
    }
}

/// At most a few hundred points, the first and the last among them.
fn thinned(curve: Vec<(Span, Current)>) -> Vec<(Span, Current)> {
    let every = curve.len().div_ceil(MOST_POINTS - 1).max(1);
    let last = curve.len() - 1;
    let kept = |index: usize| index.is_multiple_of(every) || index == last;
    curve
        .into_iter()
        .enumerate()
        .filter(|(index, _)| kept(*index))
        .map(|(_, point)| point)
        .collect()
}
