//! From a job, a bath, a station and a supply to a plan.

use super::{
    Bounds, Goal, Learnt, Limits, Outlook, Plan, PlanError, PlannedPiece, Schedule, bounds,
    envelope, forecast, paint, peak, remark,
};
use crate::bath::BathProfile;
use crate::deposit::{Cover, Deposit};
use crate::exchange::Capability;
use crate::shape::{Body, ShapeError};
use crate::spec::{Form, Job, Piece, Station, Surface, Target, Until};
use crate::units::{Charge, Length, Span};

/// A ramp without a strike starts from this share of the full density.
const RAMP_FROM: f64 = 0.1;

/// As [`draw_learnt`], with nothing learnt from earlier runs.
///
/// # Errors
/// As there.
pub fn draw(
    job: &Job,
    bath: &BathProfile,
    station: &Station,
    supply: &Capability,
) -> Result<Outlook, PlanError> {
    draw_learnt(job, bath, station, supply, &Learnt::default())
}

/// Draws the plan of a job on a station, with everything there is to say about it; what earlier
/// pieces taught corrects areas and the mass per charge.
///
/// # Errors [`PlanError`] if the job does not come to a plan at all; what merely forbids the night
/// is a refusal in the [`Outlook`].
pub fn draw_learnt(
    job: &Job,
    bath: &BathProfile,
    station: &Station,
    supply: &Capability,
    learnt: &Learnt,
) -> Result<Outlook, PlanError> {
    let bad_bath = |fault| PlanError::Deposit {
        place: format!("bath {:?}", bath.name),
        fault,
    };
    let plain = Deposit::new(
        bath.metal,
        bath.deposit_density,
        bath.efficiency,
        bath.efficiency_uncertainty,
    )
    .map_err(bad_bath)?;
    let weighed = learnt.deposit(bath, &plain).map_err(bad_bath)?;
    let deposit = weighed.map_or(plain, |weighed| weighed.deposit);
    let mut taught = remark::Taught::of(weighed.as_ref(), &plain);
    let read = |piece| planned(piece, &deposit, job, learnt, &mut taught);
    let pieces = job.pieces.iter().map(read).collect::<Result<Vec<_>, _>>()?;
    let schedule = schedule(job, &pieces);
    let mut plan = Plan {
        job: job.name.clone(),
        goal: goal(job, &pieces, &deposit)?,
        pieces,
        hangers: hangers(job)?,
        deposit,
        schedule,
        looks: job.looks.iter().map(|look| look.at).collect(),
        limits: Limits::default(),
        bounds: Bounds::default(),
        forecast: super::Forecast::default(),
    };
    let night = forecast::run(&plan, supply)?;
    plan.limits = envelope::limits(&night, &plan.schedule, station, supply);
    plan.forecast = night.forecast;
    plan.bounds = bounds::bounds(bath, station, plan.peak_to_mean());
    let remarks = remark::on(&plan, job, bath, station, supply);
    let mut warnings = remarks.warnings;
    warnings.extend(taught.said);
    Ok(Outlook {
        plan,
        warnings,
        refusals: remarks.refusals,
    })
}

fn schedule(job: &Job, pieces: &[PlannedPiece]) -> Schedule {
    let full = job.density;
    let ramp_over = job.ramp.map_or(Span::ZERO, |ramp| ramp.over);
    let strike = match job.strike {
        Some(strike) => strike.density,
        None if ramp_over > Span::ZERO => full * RAMP_FROM,
        None => full,
    };
    let [strike_for, strike_waits] = paint::strike_for(job, pieces.iter().map(|piece| piece.cover));
    Schedule {
        strike,
        strike_for,
        strike_waits,
        ramp_over,
        full,
        finish: job.finish,
    }
}

fn planned(
    piece: &Piece,
    deposit: &Deposit,
    job: &Job,
    learnt: &Learnt,
    taught: &mut remark::Taught,
) -> Result<PlannedPiece, PlanError> {
    let place = || format!("piece {:?}", piece.name);
    let described = body(piece).map_err(|fault| PlanError::Shape {
        place: place(),
        fault,
    })?;
    let gauged = learnt.area(&piece.name, &described, deposit);
    let body = gauged.map_or(described, |gauged| gauged.body);
    taught.area(&piece.name, &described, gauged.as_ref());
    taught.nothing(&piece.name, learnt.only_simulated(&piece.name));
    let cover = match (piece.surface, job.strike) {
        (Surface::Metal, _) => Cover::METAL,
        (Surface::Paint, None) => {
            return Err(PlanError::PaintWithoutStrike {
                piece: piece.name.clone(),
            });
        }
        (Surface::Paint, Some(strike)) => {
            paint::cover(piece, &body, strike.duration).map_err(|fault| PlanError::Deposit {
                place: place(),
                fault,
            })?
        }
    };
    Ok(PlannedPiece {
        name: piece.name.clone(),
        surface: piece.surface,
        body,
        cover,
        target_charge: target_charge(job.target, &body, deposit),
        peak_to_mean: peak::of(piece),
        hangs: true,
    })
}

/// A piece's body, with its texture, and the uncertainty she states in place of the shape's own.
fn body(piece: &Piece) -> Result<Body, ShapeError> {
    let body = piece.form.body()?.with_texture(piece.texture)?;
    piece
        .uncertainty
        .map_or(Ok(body), |stated| body.with_uncertainty(stated))
}

fn target_charge(target: Target, body: &Body, deposit: &Deposit) -> Option<Charge> {
    match target {
        Target::Thickness(thickness) => Some(deposit.charge_for(body, thickness)),
        Target::Mass(mass) => Some(deposit.charge_for_mass(mass)),
        Target::Charge(charge) => Some(charge),
        Target::Hours(_) => None,
    }
}

fn hangers(job: &Job) -> Result<Vec<Body>, PlanError> {
    let read = |(index, form): (usize, &Form)| {
        let place = format!("hanger {}", index + 1);
        form.body()
            .map_err(|fault| PlanError::Shape { place, fault })
    };
    job.hangers
        .iter()
        .map(|hanger| &hanger.form)
        .enumerate()
        .map(read)
        .collect()
}

fn goal(job: &Job, pieces: &[PlannedPiece], deposit: &Deposit) -> Result<Goal, PlanError> {
    if pieces.is_empty() {
        return Err(PlanError::NoPiece);
    }
    if let Target::Hours(hours) = job.target {
        return Ok(Goal::Hours(hours));
    }
    match &job.until {
        Until::Thinnest => Ok(Goal::Thinnest),
        Until::RackMean => mean_thickness(job.target, pieces, deposit).map(Goal::RackMean),
        Until::Piece(name) => pieces
            .iter()
            .position(|piece| piece.name == *name)
            .map(Goal::Piece)
            .ok_or_else(|| PlanError::NoSuchPiece { name: name.clone() }),
    }
}

/// The mean thickness of the rack that a target comes to. A mass or a charge is that of each piece
/// on the mean, so the rack takes as many of them as it has pieces; spread evenly over all.
pub(super) fn mean_thickness(
    target: Target,
    pieces: &[PlannedPiece],
    deposit: &Deposit,
) -> Result<Length, PlanError> {
    if let Target::Thickness(thickness) = target {
        return Ok(thickness);
    }
    let whole: Charge = pieces.iter().filter_map(|piece| piece.target_charge).sum();
    let rack = pieces
        .iter()
        .map(|piece| piece.body)
        .reduce(|sum, body| sum.plus(&body));
    rack.and_then(|rack| deposit.thickness(&rack, whole))
        .ok_or(PlanError::Endless {
            why: "the pieces close before they have taken that much",
        })
}
