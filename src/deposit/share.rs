//! How pieces on one cathode share a current.

use crate::units::Area;
use std::ops::Mul;

/// Splits a current or a charge between pieces and hangers in proportion to their covered area at
/// that moment: each gets the same current density. Where there is no area at all, nobody gets
/// anything.
///
/// Real shares also depend on place, contact and shading: a doubt that
/// [`thickness_interval`](super::thickness_interval) counts, not modelled here.
pub fn split<Q>(whole: Q, covered: &[Area]) -> impl Iterator<Item = Q> + '_
where
    Q: Copy + Mul<f64, Output = Q> + 'static,
{
    let total: Area = covered.iter().copied().sum();
    covered.iter().map(move |area| {
        let share = if total > Area::ZERO {
            *area / total
        } else {
            0.0
        };
        whole * share
    })
}
