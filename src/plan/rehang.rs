//! What a night will be after a change of what hangs in it.

use super::draw::mean_thickness;
use super::{Goal, Outlook, Plan, PlanError, PlannedPiece, Rack, envelope, forecast, remark};
use crate::bath::BathProfile;
use crate::exchange::Capability;
use crate::spec::{Job, Station};
use crate::units::Charge;

/// Reckons the rest of a night anew, from the rack as it stands. `plan` is drawn for all pieces
/// there were, in their order, and for those that are new after them, and says which of them hang
/// from now on; `delivered` is the run's charge so far. Limits and forecast are those of the whole
/// run: what was delivered counts in them.
///
/// # Errors
/// [`PlanError`] if nothing hangs any more, or what hangs can never reach the target; what merely
/// forbids the change is a refusal in the [`Outlook`].
pub fn rehang(
    mut plan: Plan,
    rack: &Rack,
    delivered: Charge,
    job: &Job,
    (bath, station, supply): (&BathProfile, &Station, &Capability),
) -> Result<Outlook, PlanError> {
    let hang: Vec<PlannedPiece> = plan
        .pieces
        .iter()
        .filter(|piece| piece.hangs)
        .cloned()
        .collect();
    if hang.is_empty() {
        return Err(PlanError::NoPiece);
    }
    if let Goal::RackMean(_) = plan.goal {
        plan.goal = Goal::RackMean(mean_thickness(job.target, &hang, &plan.deposit)?);
    }
    let night = forecast::from(&plan, rack.rehung(&plan), delivered, supply)?;
    plan.limits = envelope::limits(&night, &plan.schedule, station, supply);
    plan.bounds.peak_to_mean = plan.peak_to_mean();
    plan.forecast = night.forecast;
    let remarks = remark::on(&plan, job, bath, station, supply);
    Ok(Outlook {
        plan,
        warnings: remarks.warnings,
        refusals: remarks.refusals,
    })
}
