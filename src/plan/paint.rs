//! How long copper takes to cover a painted piece, and by which law.

use super::Schedule;
use crate::deposit::{Cover, DepositError};
use crate::shape::Body;
use crate::spec::{Job, Piece};
use crate::units::{Area, Length, Span};
use std::f64::consts::PI;

/// The patch that copper is taken to start from where a painted piece states none: a clip of 2 mm
/// on a side (`common practice, no source`).
const ASSUMED_CONTACT: Area = Area::from_mm2(4.0);

/// How copper covers a painted piece: at the stated pace of its edge, else within the strike.
///
/// # Errors [`DepositError`] if the patch is larger than the piece.
pub(super) fn cover(piece: &Piece, body: &Body, strike: Span) -> Result<Cover, DepositError> {
    let paint = &piece.paint;
    let contact = paint.contact.unwrap_or(ASSUMED_CONTACT.min(body.area));
    let over = match paint.front_speed {
        Some(pace) => Span::from_s(way(piece, body, contact).m() / pace.m_per_s()),
        None => strike,
    };
    // It refuses a patch that is larger than the piece, whichever law follows.
    let simple = Cover::paint(contact, body.area, over)?;
    let alike = f64::from(piece.form.parts());
    match &paint.reach {
        Some(reach) => Cover::along(reach.way(alike * (contact / body.area)), over),
        None => Ok(simple),
    }
}

/// How far the edge goes: over the mesh, else from pole to pole of a ball of the area of one of the
/// pieces that are counted together, less the patch.
fn way(piece: &Piece, body: &Body, contact: Area) -> Length {
    let one = body.area * f64::from(piece.form.parts()).recip();
    let share = (contact / one).min(1.0);
    match &piece.paint.reach {
        Some(reach) => reach.farthest() - reach.distance(share),
        None => {
            let ball = (one.m2() / (4.0 * PI)).sqrt();
            // A cap of this share of a ball reaches to this angle.
            Length::from_m(ball * (PI - (1.0 - 2.0 * share).acos()))
        }
    }
}

/// How long the strike lasts, and how much longer it waits where copper is behind: its time, or
/// until the last piece should be covered if that is sooner and the job says so, with the rest of
/// its time to wait.
pub(super) fn strike_for(job: &Job, covers: impl Iterator<Item = Cover>) -> [Span; 2] {
    let Some(strike) = job.strike else {
        return [Span::ZERO; 2];
    };
    let covered = covers.map(|cover| cover.whole_after()).reduce(Span::max);
    match covered.filter(|covered| strike.until_covered && *covered > Span::ZERO) {
        Some(covered) => {
            let lasts = covered.min(strike.duration);
            [lasts, strike.duration - lasts]
        }
        None => [strike.duration, Span::ZERO],
    }
}

/// True if copper is still on its way when the strike of a schedule ends.
pub(super) fn outlasts(cover: &Cover, schedule: &Schedule) -> bool {
    cover.whole_after() > schedule.strike_for * 1.001
}
