//! Closed forms against published formulas and figures of independent libraries.

use nightvat::shape::{self, Body, ShapeError};
use nightvat::spec::Form;
use nightvat::units::{Area, Fraction, Length, Volume};
use proptest::prelude::*;
use std::f64::consts::PI;

fn mm(value: f64) -> Length {
    Length::from_mm(value)
}

/// Fails unless two numbers agree to a relative tolerance.
#[track_caller]
fn agree(ours: f64, theirs: f64, within: f64) {
    let off = (ours - theirs).abs() / theirs.abs();
    assert!(
        off <= within,
        "ours {ours}, theirs {theirs}, off by {off:e}, allowed {within:e}"
    );
}

#[test]
fn ellipsoids_match_scipy() {
    // scipy 1.17.1, 4π·elliprg(a²b², a²c², b²c²) with half axes in mm; the mean curvature is 4π
    // times the mean of the support function √(a²x² + b²y² + c²z²) over the sphere, by
    // Gauss-Legendre quadrature in numpy: an independent road to it (for a convex body M is 2π
    // times the mean width).
    for ([a, b, c], area, mean) in [
        ([1.0, 1.0, 1.0], 12.566_370_614_4, 12.566_370_614_36),
        ([3.0, 2.0, 1.0], 48.882_146_302_6, 26.404_857_387_99),
        ([25.0, 15.0, 10.0], 3_369.379_418_12, 217.962_438_441_1),
        ([40.0, 12.5, 12.5], 5_125.611_262_30, 298.634_644_064_8),
        ([5.0, 5.0, 1.0], 171.780_421_922, 50.192_510_183_14),
    ] {
        let body = shape::ellipsoid(mm(2.0 * a), mm(2.0 * b), mm(2.0 * c)).unwrap();
        agree(body.area.mm2(), area, 1e-9);
        agree(body.mean_curvature.mm(), mean, 1e-9);
    }
}

#[test]
fn areas_match_the_published_formulas() {
    // Figures computed with scipy 1.17.1 from the textbook formulas, ten digits; all in mm².
    let cases: [(Result<Body, ShapeError>, f64); 20] = [
        (shape::ring(mm(40.0), mm(10.0)), 3_947.841_760),
        (shape::ring(mm(25.0), mm(3.2)), 789.568_352_1),
        (shape::ring(mm(6.0), mm(2.0)), 118.435_252_8),
        (shape::cone(mm(60.0), mm(40.0), mm(40.0)), 10_560.629_62),
        (shape::cone(mm(40.0), mm(60.0), mm(40.0)), 10_560.629_62),
        (shape::cone(mm(25.0), mm(15.0), mm(33.3)), 2_783.343_220),
        (shape::cone(mm(30.0), mm(0.0), mm(40.0)), 2_719.991_802),
        (shape::prism(6, mm(10.0), mm(25.0)), 2_019.615_242),
        (shape::prism(6, mm(6.5), mm(40.0)), 1_779.537_440),
        (shape::prism(6, mm(1.0), mm(1.0)), 11.196_152_42),
        (shape::tube(mm(20.0), mm(16.0), mm(50.0)), 5_881.061_448),
        (shape::tube(mm(12.0), mm(9.0), mm(120.0)), 8_015.773_656),
        (shape::tube(mm(50.8), mm(44.4), mm(76.2)), 23_746.921_88),
        // Wire of these centre lines: helices of 15, 40 and 5.5 turns.
        (shape::wire(mm(1.0), mm(942.955_140)), 2_962.380_941),
        (shape::wire(mm(0.8), mm(1_509.157_664)), 3_792.926_904),
        (shape::wire(mm(2.5), mm(866.455_326_5)), 6_805.124_221),
        (
            shape::ellipsoid(mm(25.0), mm(25.0), mm(80.0)),
            5_125.611_262,
        ),
        (shape::plate(mm(60.0), mm(40.0), mm(12.0)), 7_200.0),
        (shape::rod(mm(20.0), mm(50.0)), 3_769.911_184),
        // A disc is a short rod; π·20·2 + π·200 = 240π.
        (shape::disc(mm(20.0), mm(2.0)), 753.982_236_9),
    ];
    for (body, area) in cases {
        agree(body.unwrap().area.mm2(), area, 1e-9);
    }
}

#[test]
fn curvature_of_polyhedra_matches_trimesh() {
    // trimesh 5.2.0, `integral_mean_curvature` and `volume` of the same solids. It takes angles
    // from their cosine, which blurs the flat edges inside a face by up to 1e-8.
    let plate = shape::plate(mm(60.0), mm(40.0), mm(12.0)).unwrap();
    agree(plate.mean_curvature.mm(), 351.858_377_202, 1e-8);
    agree(plate.volume.mm3(), 28_800.0, 1e-12);
    let hexagon = shape::prism(6, mm(6.5), mm(40.0)).unwrap();
    agree(hexagon.mean_curvature.mm(), 186.924_763_492, 1e-8);
    agree(hexagon.volume.mm3(), 4_390.748_797_19, 1e-11);
    let triangle = shape::prism(3, mm(1.0), mm(2.0)).unwrap();
    agree(triangle.mean_curvature.mm(), 10.995_574_287_6, 1e-8);
    agree(triangle.volume.mm3(), 0.866_025_403_784, 1e-11);
}

#[test]
fn deposits_match_exact_solids() {
    // Each volume is worked out from the solid itself, in mm³, not from Steiner's formula.
    let grown = |body: Result<Body, ShapeError>, d: f64| body.unwrap().deposit_volume(mm(d)).mm3();
    // Sphere: 4/3·π(10.25³ − 10³).
    agree(
        grown(shape::sphere(mm(20.0)), 0.25),
        322.078_696_839_90,
        1e-11,
    );
    // Torus: 2π²·20·(5.5² − 5²).
    agree(
        grown(shape::ring(mm(40.0), mm(10.0)), 0.5),
        2_072.616_924_228_77,
        1e-12,
    );
    // Cylinder 20 × 50, d = 1: shell π(11² − 10²)·50, two caps π·10², two quarter-round rims by
    // Pappus, ¼π·2π(10 + 4/(3π)).
    agree(
        grown(shape::rod(mm(20.0), mm(50.0)), 1.0),
        4_029.875_651_202_92,
        1e-12,
    );
    // Tube 10/8 × 50, d = 1: π(6² − 5²)·50 outside, π(4² − 3²)·50 inside, rims 2π(5² − 4²), and
    // Pappus' quarter rounds at 5 + 4/(3π) and 4 − 4/(3π).
    agree(
        grown(shape::tube(mm(10.0), mm(8.0), mm(50.0)), 1.0),
        2_972.808_495_605_23,
        1e-12,
    );
    // Frustum 30/14 × 20, d = 2, and cone 30 × 40, d = 2: the parallel body's radius against
    // height, maximised over the profile and integrated numerically in numpy (trapezium, 40 001
    // steps).
    agree(
        grown(shape::cone(mm(30.0), mm(14.0), mm(20.0)), 2.0),
        5_456.511_88,
        1e-6,
    );
    agree(
        grown(shape::cone(mm(30.0), mm(0.0), mm(40.0)), 2.0),
        6_339.862_08,
        1e-6,
    );
}

#[test]
fn areas_grow_as_exact_solids_do() {
    // 4π·10.25²; 4π²·20·5.5; 2π·11·50 + 2π·10² + 2(π²·10 + 2π).
    let at = |body: Result<Body, ShapeError>, d: f64| body.unwrap().area_at(mm(d)).mm2();
    agree(
        at(shape::sphere(mm(20.0)), 0.25),
        1_320.254_312_671_11,
        1e-12,
    );
    agree(
        at(shape::ring(mm(40.0), mm(10.0)), 0.5),
        4_342.625_936_479_32,
        1e-12,
    );
    agree(
        at(shape::rod(mm(20.0), mm(50.0)), 1.0),
        4_294.028_908_302_88,
        1e-12,
    );
}

#[test]
fn a_thin_wire_is_not_a_sheet() {
    // A 1 mm wire under 0.30 mm holds π(0.8² − 0.5²) = 1.225 221 134 9 mm³ per mm; spread over the
    // bare wire's π mm² per mm the same metal would be 0.39 mm.
    let wire = shape::wire(mm(1.0), mm(100.0)).unwrap();
    let metal = wire.deposit_volume(mm(0.30));
    agree(metal.mm3(), 122.522_113_490, 1e-11);
    agree((metal / wire.area).mm(), 0.39, 1e-12);
    agree(wire.thickness_for(metal).unwrap().mm(), 0.30, 1e-12);
}

#[test]
fn a_bore_that_closes_has_no_thickness_beyond() {
    // Only the inside of a tube, radius 4 mm, length 50 mm: A₀ = 2π·4·50, M = −π·50; it holds
    // π·4²·50 mm³.
    let bore = Body {
        area: Area::from_mm2(2.0 * PI * 4.0 * 50.0),
        mean_curvature: mm(-PI * 50.0),
        gauss: 0.0,
        volume: Volume::ZERO,
        uncertainty: 0.0,
    };
    agree(bore.closes_at().unwrap().mm(), 4.0, 1e-12);
    // Half the radius filled: π(4² − 2²)·50.
    let half = Volume::from_mm3(1_884.955_592_15);
    agree(bore.thickness_for(half).unwrap().mm(), 2.0, 1e-9);
    assert_eq!(bore.thickness_for(Volume::from_mm3(2_513.4)), None);
    assert_eq!(bore.area_at(mm(5.0)), Area::ZERO);
    agree(bore.deposit_volume(mm(9.0)).mm3(), 2_513.274_122_87, 1e-11);
}

#[test]
fn no_thickness_for_what_is_no_volume() {
    let ball = shape::sphere(mm(20.0)).unwrap();
    assert_eq!(ball.thickness_for(Volume::ZERO), Some(Length::ZERO));
    assert_eq!(ball.thickness_for(Volume::from_mm3(-1.0)), None);
    assert_eq!(ball.thickness_for(Volume::from_mm3(f64::NAN)), None);
    assert_eq!(ball.closes_at(), None);
}

#[test]
fn texture_multiplies_the_start_and_not_the_growth() {
    // Sphere of 20 mm: 400π mm² smooth, and 4π(10.25² − 10²) mm² more under 0.25 mm.
    let rough = shape::sphere(mm(20.0)).unwrap().with_texture(1.25).unwrap();
    agree(rough.area.mm2(), 1.25 * 1_256.637_061_435_92, 1e-12);
    agree(
        (rough.area_at(mm(0.25)) - rough.area).mm2(),
        63.617_251_235_19,
        1e-11,
    );
    assert!(matches!(
        rough.with_texture(0.99),
        Err(ShapeError::Texture { .. })
    ));
    assert!(matches!(
        rough.with_texture(f64::NAN),
        Err(ShapeError::Texture { .. })
    ));
}

#[test]
fn parts_add_up_and_their_doubts_too() {
    // 10 cm² at 10 % and 30 cm² at 2 %, wrong the same way: (1 + 0.6)/40 = 4 %.
    let percent = |p| Fraction::from_percent(p);
    let plain = |cm2| shape::plain(Area::from_cm2(cm2), None).unwrap();
    let small = plain(10.0).with_uncertainty(percent(10.0)).unwrap();
    let large = plain(30.0).with_uncertainty(percent(2.0)).unwrap();
    let both = small.plus(&large);
    agree(both.area.cm2(), 40.0, 1e-14);
    agree(both.uncertainty, 0.04, 1e-12);
    let seven = small.times(7).unwrap();
    agree(seven.area.cm2(), 70.0, 1e-14);
    agree(seven.uncertainty, 0.10, 1e-12);
    let interval = both.area_interval();
    agree(interval.low.cm2(), 38.4, 1e-12);
    agree(interval.high.cm2(), 41.6, 1e-12);
}

#[test]
fn an_area_takes_its_curvature_from_what_it_is_like() {
    // A sphere of 20 mm resized to four times its area is a sphere of 40 mm.
    let like = shape::sphere(mm(20.0)).unwrap();
    let large = shape::sphere(mm(40.0)).unwrap();
    let found = shape::plain(large.area, Some(&like)).unwrap();
    agree(found.mean_curvature.mm(), large.mean_curvature.mm(), 1e-12);
    agree(found.volume.mm3(), large.volume.mm3(), 1e-12);
    agree(found.gauss, 12.566_370_614_359, 1e-12);
    let bare = shape::plain(large.area, None).unwrap();
    assert_eq!(bare.mean_curvature, Length::ZERO);
    assert!(bare.uncertainty > found.uncertainty);
}

#[test]
fn what_cannot_be_is_refused_by_name() {
    let text = |body: Result<Body, ShapeError>| body.unwrap_err().to_string();
    assert!(text(shape::sphere(mm(0.0))).contains("diameter of the sphere is 0 mm"));
    assert!(text(shape::wire(mm(1.0), mm(-3.0))).contains("length of the wire is -3 mm"));
    assert!(text(shape::wire(mm(f64::NAN), mm(3.0))).contains("diameter of the wire"));
    assert!(text(shape::tube(mm(8.0), mm(8.0), mm(50.0))).contains("use a rod"));
    assert!(text(shape::ring(mm(5.0), mm(5.0))).contains("centre line"));
    assert!(text(shape::cone(mm(5.0), mm(-1.0), mm(5.0))).contains("top diameter"));
    assert!(text(shape::prism(2, mm(5.0), mm(5.0))).contains("2 sides"));
    assert!(text(shape::plain(Area::ZERO, None)).contains("0 cm2"));
    assert!(text(shape::sphere(mm(1e200))).contains("too large"));
    assert!(text(shape::sphere(mm(2.0)).unwrap().times(0)).contains("1 or more"));
    let too_unsure = shape::sphere(mm(2.0))
        .unwrap()
        .with_uncertainty(Fraction::from_share(1.0));
    assert!(text(too_unsure).contains("100 %"));
}

#[test]
fn forms_come_down_to_bodies() {
    let stem = Form::Wire {
        diameter: mm(1.2),
        length: mm(180.0),
    };
    let head = Form::Sphere { diameter: mm(22.0) };
    let pair = Form::Many {
        count: 2,
        each: Box::new(head.clone()),
    };
    let whole = Form::Together(vec![pair, stem]).body().unwrap();
    // 2 · π·22² + π·1.2·180 mm².
    agree(whole.area.mm2(), 3_719.645_701_85, 1e-11);
    // 2 · 2π·22 + π·180 mm.
    agree(whole.mean_curvature.mm(), 841.946_831_162, 1e-11);
    agree(whole.gauss, 25.132_741_228_7, 1e-11);
    assert_eq!(Form::Together(vec![]).body(), Err(ShapeError::NoParts));
    let like = Form::Plain {
        area: Area::from_mm2(4.0 * PI * 484.0),
        like: Some(Box::new(head)),
    };
    // Four times the area of the head: a sphere of 44 mm.
    agree(
        like.body().unwrap().mean_curvature.mm(),
        276.460_153_516,
        1e-11,
    );
}

#[test]
fn forms_know_when_a_hole_fills() {
    let tube = Form::Tube {
        outer: mm(10.0),
        inner: mm(8.0),
        length: mm(50.0),
    };
    agree(tube.clear_until().unwrap().mm(), 4.0, 1e-12);
    let ring = Form::Ring {
        across: mm(40.0),
        wire: mm(10.0),
    };
    agree(ring.clear_until().unwrap().mm(), 15.0, 1e-12);
    let both = Form::Together(vec![ring, tube.clone(), Form::Sphere { diameter: mm(5.0) }]);
    agree(both.clear_until().unwrap().mm(), 4.0, 1e-12);
    // The same tube nine times as large in area, so three times in length.
    let area = 9.0 * tube.body().unwrap().area;
    let like = Form::Plain {
        area,
        like: Some(Box::new(tube)),
    };
    agree(like.clear_until().unwrap().mm(), 12.0, 1e-12);
    assert_eq!(Form::Sphere { diameter: mm(5.0) }.clear_until(), None);
}

proptest! {
    /// A convex body, from a hair of a wire to a dinner plate, comes back from its volume.
    #[test]
    fn thickness_comes_back_from_volume(
        area_cm2 in 0.01..5_000.0_f64,
        bend in 0.0..10.0_f64,
        gauss in prop_oneof![Just(0.0), Just(4.0 * PI), 0.0..100.0_f64],
        um in 1e-4..20_000.0_f64,
        near in 0.0..3.0_f64,
    ) {
        let area = Area::from_cm2(area_cm2);
        let body = Body {
            area,
            mean_curvature: Length::from_m(bend * area.m2().sqrt()),
            gauss,
            volume: Volume::ZERO,
            uncertainty: 0.0,
        };
        let d = Length::from_um(um);
        let volume = body.deposit_volume(d);
        let back = body.thickness_for(volume).unwrap();
        prop_assert!((back / d - 1.0).abs() < 1e-12, "{back:?} for {d:?}");
        let warm = body.thickness_near(volume, d * near).unwrap();
        prop_assert!((warm / d - 1.0).abs() < 1e-12, "{warm:?} for {d:?}");
    }

    /// A body that loses area as it grows comes back too, nearly until it closes, and never beyond.
    #[test]
    fn thickness_comes_back_from_a_closing_body(
        area_cm2 in 0.01..5_000.0_f64,
        bend in -10.0..1.0_f64,
        gauss in -100.0..4.0_f64,
        share in 0.001..0.97_f64,
    ) {
        let area = Area::from_cm2(area_cm2);
        let body = Body {
            area,
            mean_curvature: Length::from_m(bend * area.m2().sqrt()),
            gauss,
            volume: Volume::ZERO,
            uncertainty: 0.0,
        };
        let Some(end) = body.closes_at() else { return Ok(()) };
        let d = end * share;
        let back = body.thickness_for(body.deposit_volume(d)).unwrap();
        prop_assert!((back / d - 1.0).abs() < 1e-9, "{back:?} for {d:?}");
        let more = body.deposit_volume(end) * 1.000_001;
        prop_assert_eq!(body.thickness_for(more), None);
    }
}
