//! How sure a thickness is, after JCGM 100:2008 (GUM).

use super::Account;
use crate::units::{Area, Bounded, Charge, Length};

/// Standard uncertainties to the half-width of a 95 % interval, for a normal distribution (JCGM
/// 100, G.1.3).
const NORMAL_95: f64 = 1.96;

/// The 95 % interval of one piece's mean thickness; `beside` are all other pieces and the hangers
/// on the same cathode, and `share_doubt` is the half-width of the 95 % interval, as a share, of
/// the current density at each of them against the mean: place, contact, shading.
///
/// The measured charge is that of the whole rack, and pieces share it by their *true* areas. So an
/// error ε in one piece's own area moves its charge one way and its thickness per charge the other,
/// and what is left is the error of the rack's total area: δd/d = −Σ Wⱼcⱼεⱼ, with W the piece's
/// part of the rack's area now. A piece alone has W = 1 and feels all of it. c is how thickness
/// answers an area that was wrong from the start: (A₀ + ½Md)/A(d) if the size was wrong, A₀/A(d) if
/// the texture was; the larger is taken.
///
/// - Areas were measured by one person in one way: taken as wrong in the same direction
///   (correlation 1), so their parts add up as they stand.
/// - The share of the rack's current, φ, is drawn for each piece apart: δd/d = φᵢ − Σ Wⱼφⱼ; nothing
///   for a piece alone.
/// - Efficiency and charge are one cause for all: δd/d = Σ Wⱼaⱼ times the relative error, a =
///   V/(A(d)·d).
/// - The hard bounds of the charge count as a rectangular distribution, a/√3, each side by itself.
///
/// The area's part is taken as 1/(1−g) above and 1/(1+g) below instead of linearly, since thickness
/// goes as one over area. Thicknesses that differ, because a piece was hung later, enter at their
/// own value. Pieces still being covered count with their whole area.
#[must_use]
pub fn thickness_interval<'a>(
    piece: &Account,
    beside: impl IntoIterator<Item = &'a Account>,
    share_doubt: f64,
) -> Bounded<Length> {
    let own = Answer::of(piece);
    let mut rack = Rack::default();
    rack.hang(&own);
    let mut others = 0.0;
    for account in beside {
        let other = Answer::of(account);
        others += other.area * other.area;
        rack.hang(&other);
    }
    let d = piece.thickness().m();
    let growth = rack.growth / rack.area;
    // Below one, or the area could be nothing.
    let unsure = (rack.unsure / rack.area).min(0.9);
    let apart = (1.0 - own.area / rack.area).hypot(others.sqrt() / rack.area);
    let even = (d * growth * piece.deposit().efficiency_uncertainty / NORMAL_95)
        .hypot(d * apart * share_doubt / NORMAL_95);
    let charge = piece.charge();
    let per_charge = own.per_charge * growth / own.growth;
    let bound = |off: Charge| off.c().max(0.0) * per_charge / 3.0_f64.sqrt();
    let side = |area: f64, off: Charge| {
        Length::from_m(NORMAL_95 * even.hypot(d * area / NORMAL_95).hypot(bound(off)))
    };
    let best = piece.thickness();
    Bounded {
        low: (best - side(unsure / (1.0 + unsure), charge.best - charge.low)).max(Length::ZERO),
        best,
        high: best + side(unsure / (1.0 - unsure), charge.high - charge.best),
    }
}

/// How one piece's thickness answers errors.
struct Answer {
    /// Area now, m².
    area: f64,
    /// a: relative error of thickness for one of deposited volume.
    growth: f64,
    /// c·ε: 95 % half-width of thickness, relative, from its own area.
    unsure: f64,
    /// Thickness for charge, m/C.
    per_charge: f64,
}

impl Answer {
    fn of(account: &Account) -> Self {
        let (body, d) = (account.body(), account.thickness());
        let start = body.area;
        // A bore about to close answers without limit; a hundredth of the area is where this stops.
        let now = account.area().max(0.01 * start);
        let half_grown = start + Area::from_m2(0.5 * body.mean_curvature.m() * d.m());
        let growth = if d > Length::ZERO {
            body.deposit_volume(d) / (now * d)
        } else {
            1.0
        };
        Self {
            area: now.m2(),
            growth,
            unsure: body.uncertainty * (half_grown.max(start) / now),
            per_charge: account.deposit().volume(Charge::from_c(1.0)).m3() / now.m2(),
        }
    }
}

/// The sums over everything on the cathode, weighted with area.
#[derive(Default)]
struct Rack {
    area: f64,
    growth: f64,
    unsure: f64,
}

impl Rack {
    fn hang(&mut self, piece: &Answer) {
        self.area += piece.area;
        self.growth += piece.area * piece.growth;
        self.unsure += piece.area * piece.unsure;
    }
}
