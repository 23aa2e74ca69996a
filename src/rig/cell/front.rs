//! Copper that spreads over paint.
//!
//! The surface is taken as that of a ball of the same area, with the contact at its pole. The front
//! is a circle that walks away from the pole, so that the covered area first grows, is widest at
//! the equator, and closes at the far pole. It walks in proportion to the density over what is
//! covered, since the islands ahead of it must first coalesce: at the strike's density with the
//! speed drawn, never faster than 1.5 times that.

use crate::rig::world::{Paint, patch_radius};
use std::f64::consts::PI;

/// Fastest walk over the stated one.
const FASTEST: f64 = 1.5;

/// Where the front is.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Front {
    /// Radius of the ball, m.
    ball_m: f64,
    /// How far the front is from the contact along the surface, m.
    reach_m: f64,
    /// Width of bare paint ahead of it that takes part, m.
    fringe_m: f64,
}

impl Front {
    /// At the edge of the contact patch.
    pub(super) fn at_contact(paint: &Paint, area_m2: f64) -> Self {
        let ball_m = (area_m2 / (4.0 * PI)).sqrt();
        Self {
            ball_m,
            reach_m: patch_radius(ball_m, paint.contact_m2),
            fringe_m: paint.fringe_m,
        }
    }

    /// Moves on for a time in which a charge, in coulombs, came down.
    pub(super) fn walk(&mut self, paint: &Paint, charge_c: f64, over_s: f64) {
        if self.is_closed() || over_s <= 0.0 {
            return;
        }
        let covered_m2 = 4.0 * PI * self.ball_m * self.ball_m * self.covered_fraction();
        let density = charge_c / over_s / covered_m2;
        let pace = (density / paint.at_a_per_m2).clamp(0.0, FASTEST);
        self.reach_m += paint.front_m_per_s * pace * over_s;
    }

    /// All covered.
    pub(super) fn is_closed(&self) -> bool {
        self.reach_m >= PI * self.ball_m
    }

    /// Share of the surface under copper.
    pub(super) fn covered_fraction(&self) -> f64 {
        self.within(self.reach_m)
    }

    /// Share of the surface that takes current: copper and the fringe ahead of it.
    pub(super) fn active_fraction(&self) -> f64 {
        self.within(self.reach_m + self.fringe_m)
    }

    /// Radius of the part that takes current, along the surface, m.
    pub(super) fn active_radius_m(&self) -> f64 {
        (self.reach_m + self.fringe_m).min(PI * self.ball_m)
    }

    /// Share of the ball within a distance of the pole.
    fn within(&self, reach_m: f64) -> f64 {
        let angle = (reach_m / self.ball_m).min(PI);
        (1.0 - angle.cos()) / 2.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn paint() -> Paint {
        Paint {
            contact_m2: 4e-6,
            front_m_per_s: 1e-3 / 60.0,
            at_a_per_m2: 30.0,
            sheet_ohm: 50.0,
            fringe_m: 0.0,
        }
    }

    #[test]
    fn starts_with_the_contact_and_closes_after_the_way_round() {
        // A ball of 22 mm: 1520.53 mm², 34.5575 mm from pole to pole; 4 mm² are 0.263066 % of it.
        let mut front = Front::at_contact(&paint(), 1_520.530_844e-6);
        assert!((front.covered_fraction() - 0.002_630_66).abs() < 1e-8);
        // The patch reaches 1.1289 mm, so 33.4286 mm are left: 33.43 min at 1 mm/min and the stated
        // density.
        let mut minutes = 0.0;
        while !front.is_closed() {
            let covered = 1_520.530_844e-6 * front.covered_fraction();
            front.walk(&paint(), 30.0 * covered * 0.6, 0.6);
            minutes += 0.01;
        }
        assert!((minutes - 33.43_f64).abs() < 0.011, "{minutes}");
    }

    #[test]
    fn walks_no_faster_than_one_and_a_half_times_and_not_at_all_without_current() {
        let mut front = Front::at_contact(&paint(), 1_520.530_844e-6);
        let start = front.reach_m;
        front.walk(&paint(), 0.0, 60.0);
        assert!((front.reach_m - start).abs() < f64::EPSILON);
        front.walk(&paint(), 1.0, 60.0);
        assert!((front.reach_m - start - 1.5e-3).abs() < 1e-12);
    }
}
