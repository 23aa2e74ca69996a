//! What deposit does at its limits, and how a piece that thickens answers errors: worked out on a
//! wire, whose area grows with its thickness.

use nightvat::deposit::{Account, Cover, Deposit, Metal, thickness_interval};
use nightvat::shape;
use nightvat::units::{Area, Bounded, Density, Fraction, Length, Span};

#[track_caller]
fn agree(ours: f64, theirs: f64) {
    let off = (ours / theirs - 1.0).abs();
    assert!(off < 1e-6, "ours {ours}, theirs {theirs}");
}

/// 2 mm across and 400 mm long, 300 µm on it: from 1.0 to 1.3 mm radius.
fn wire(area_percent: f64, efficiency_uncertainty: f64, charge_share: f64) -> Account {
    let body = shape::wire(Length::from_mm(2.0), Length::from_mm(400.0)).unwrap();
    let body = body.with_uncertainty(Fraction::from_percent(area_percent));
    let body = body.unwrap();
    let deposit = Deposit {
        efficiency_uncertainty,
        ..Deposit::ideal(Metal::COPPER)
    };
    let best = deposit.charge_for(&body, Length::from_um(300.0));
    let charge = Bounded {
        low: best * (1.0 - charge_share),
        best,
        high: best * (1.0 + charge_share),
    };
    Account::resume(body, deposit, charge)
}

/// Volume a metre of wire: π(1.3² − 1.0²) mm² = π·0.69 mm², on a girth of 2π·1.3 mm. So a volume
/// that is off by a share is off in thickness by 0.69/2.6 mm = 265.384 615 µm times that share.
#[test]
fn a_thick_wire_answers_an_error_of_volume_by_its_area_now() {
    let efficient = thickness_interval(&wire(0.0, 0.02, 0.0), [], 0.0);
    agree(efficient.high.um() - 300.0, 265.384_615 * 0.02);
    agree(300.0 - efficient.low.um(), 265.384_615 * 0.02);
    // Hard bounds count as a rectangle: a/√3 is one standard deviation, 1.96 of them the half-width.
    let metered = thickness_interval(&wire(0.0, 0.0, 0.03), [], 0.0);
    let half = 265.384_615 * 0.03 * 1.96 / 3.0_f64.sqrt();
    agree(metered.high.um() - 300.0, half);
    agree(300.0 - metered.low.um(), half);
}

/// A size that is wrong scales A₀ with its square and M with itself: δd/d = ε·(A₀ + ½Md)/A(d). Per
/// 2π length A₀ is 1.0 mm and M is 0.5, so (1.0 + ½·0.5·0.3)/1.3 = 0.826 923.
#[test]
fn a_thick_wire_answers_an_error_of_its_own_area_less() {
    let interval = thickness_interval(&wire(10.0, 0.0, 0.0), [], 0.0);
    let g = 0.1 * 1.075 / 1.3;
    agree(interval.high.um() - 300.0, 300.0 * g / (1.0 - g));
    agree(300.0 - interval.low.um(), 300.0 * g / (1.0 + g));
}

/// A thick wire beside a sheet of the same area now: their answers to an error of all the charge,
/// 0.69/(2.6·0.3) = 0.884 615 and 1, count half each.
#[test]
fn pieces_that_answer_differently_count_by_their_areas() {
    let piece = wire(0.0, 0.02, 0.0);
    let sheet = shape::plain(piece.area(), None).unwrap();
    let sheet = sheet.with_uncertainty(Fraction::from_percent(0.0)).unwrap();
    let deposit = *piece.deposit();
    let charge = deposit.charge_for(&sheet, Length::from_um(300.0));
    let beside = Account::resume(sheet, deposit, Bounded::exact(charge));
    let interval = thickness_interval(&piece, [&beside], 0.0);
    let mean = (0.69 / 0.78 + 1.0) / 2.0;
    agree(interval.high.um() - 300.0, 300.0 * 0.02 * mean);
}

#[test]
fn the_limits_themselves_are_allowed() {
    let copper = Density::from_g_per_cm3(8.96);
    // Weighing that is 10 % out is as far as an efficiency is believed.
    assert!(Deposit::new(Metal::COPPER, copper, 1.1, 0.0).is_ok());
    assert!(Deposit::new(Metal::COPPER, copper, 1.100_001, 0.0).is_err());
    // A patch as large as the piece: covered from the first moment.
    let (all, hour) = (Area::from_cm2(10.0), Span::from_h(1.0));
    let cover = Cover::paint(all, all, hour).unwrap();
    assert_eq!(cover.share(Span::ZERO), 1.0);
}

/// The straight line of 32 steps, and where each share of it is found again: the start where it is
/// so from the start, half-way at half-way.
#[test]
fn a_share_is_found_at_its_moment() {
    let hour = Span::from_h(1.0);
    let way = std::array::from_fn(|step| 0.25 + 0.75 * step as f64 / 32.0);
    let line = Cover::along(way, hour).unwrap();
    // √s₀ = 0.5.
    let paint = Cover::paint(Area::from_cm2(1.0), Area::from_cm2(4.0), hour).unwrap();
    for (cover, half) in [(line, 0.625), (paint, 0.5625)] {
        assert_eq!(cover.share(Span::ZERO), 0.25);
        assert_eq!(cover.when(0.25), Span::ZERO);
        assert_eq!(cover.when(0.2), Span::ZERO);
        assert_eq!(cover.share(hour * 0.5), half);
        assert_eq!(cover.when(half), hour * 0.5);
        assert_eq!(cover.when(1.0), hour);
    }
    agree(line.share(hour * 0.9), 0.925);
    agree(line.when(0.925).h(), 0.9);
    // The last moment of the last step.
    agree(line.share(hour * (1.0 - 1e-12)), 1.0);
    assert_eq!(Cover::METAL.when(1.0), Span::ZERO);
}
