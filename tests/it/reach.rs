//! Distances over a surface: exact arcs, unrolled planes, and how the error falls.
//!
//! Expected values are elementary geometry: great circles, unrolled cylinders and boxes.

#![allow(clippy::unwrap_used)] // test code, its helpers included

use super::surface::{Triangle, block, icosphere, in_mm, quad};
use nightvat::shape::mesh::Mesh;
use nightvat::shape::reach::{Reach, ReachError, Side, Touch, WAY};
use nightvat::units::Length;
use std::f64::consts::PI;

fn near(point: [f64; 3]) -> Touch {
    Touch::At(point.map(|x| x * 1e-3))
}

/// The largest difference of any corner's distance from `exact`, as a share of the farthest; all in
/// millimetres.
fn worst(reach: &Reach, exact: impl Fn([f64; 3]) -> f64) -> f64 {
    let mut worst: f64 = 0.0;
    for (corners, far) in reach.parts() {
        for (corner, far) in corners.iter().zip(far) {
            worst = worst.max((far * 1e3 - exact(corner.map(|x| x * 1e3))).abs());
        }
    }
    worst / reach.farthest().mm()
}

fn grid(across: usize, at: impl Fn(f64, f64) -> [f64; 3]) -> Mesh {
    let step = |k: usize| k as f64 / across as f64;
    let mut triangles: Vec<Triangle> = Vec::new();
    for row in 0..across {
        for column in 0..across {
            let corner = |r: usize, c: usize| at(step(row + r), step(column + c));
            triangles.extend(quad([
                corner(0, 0),
                corner(0, 1),
                corner(1, 1),
                corner(1, 0),
            ]));
        }
    }
    in_mm(&triangles)
}

#[test]
fn a_flat_sheet_has_straight_ways() {
    let sheet = grid(40, |u, v| [60.0 * u, 40.0 * v, 0.0]);
    let reach = Reach::over(&sheet, &[near([0.0, 0.0, 0.0])]).unwrap();
    let off = worst(&reach, |[x, y, _]| x.hypot(y));
    assert!(off < 1e-9, "{off:e}");
    assert!((reach.farthest().mm() - 60.0_f64.hypot(40.0)).abs() < 1e-9);
    // A quarter of a disc lies within 20 mm of the corner.
    let share = PI * 20.0 * 20.0 / 4.0 / 2400.0;
    assert!((reach.share(Length::from_mm(20.0)) / share - 1.0).abs() < 2e-3);
    assert!((reach.distance(share).mm() / 20.0 - 1.0).abs() < 1e-3);
}

#[test]
fn a_cylinder_is_unrolled() {
    let (radius, high) = (8.0, 30.0);
    let wall = grid(160, |u, v| {
        let (sin, cos) = (2.0 * PI * u).sin_cos();
        // The seam closes to the bit.
        let round = if u == 1.0 {
            [radius, 0.0]
        } else {
            [radius * cos, radius * sin]
        };
        [round[0], round[1], high * v]
    });
    let reach = Reach::over(&wall, &[near([radius, 0.0, 0.0])]).unwrap();
    let off = worst(&reach, |[x, y, z]| (radius * y.atan2(x).abs()).hypot(z));
    println!("cylinder of 51 200 triangles: {off:.2e} of the farthest");
    assert!(off < 2e-3, "{off:e}");
}

/// A sphere from its top: great circles, and caps of area 2πR²(1 − cos θ).
fn sphere(times: u32) -> (Reach, f64) {
    let radius = 11.0;
    let ball = in_mm(&icosphere(radius, times));
    let reach = Reach::over(&ball, &[Touch::Side(Side::Top)]).unwrap();
    let top = reach
        .parts()
        .flat_map(|(corners, far)| corners.into_iter().zip(far));
    let top = top
        .min_by(|one, other| one.1.total_cmp(&other.1))
        .unwrap()
        .0;
    let top = top.map(|x| x * 1e3);
    let off = worst(&reach, |corner| {
        let dot: f64 = (0..3).map(|k| corner[k] * top[k]).sum();
        let long = corner.iter().map(|x| x * x).sum::<f64>().sqrt();
        radius * (dot / (long * radius)).clamp(-1.0, 1.0).acos()
    });
    (reach, off)
}

#[test]
fn a_sphere_has_great_circles_and_the_error_falls_with_the_triangles() {
    let offs = [5, 6, 7].map(|times| sphere(times).1);
    println!("sphere of 20 480, 81 920, 327 680 triangles: {offs:?} of the farthest");
    assert!(offs[0] < 0.01, "{offs:?}");
    assert!(
        offs[1] < 0.75 * offs[0] && offs[2] < 0.75 * offs[1],
        "{offs:?}"
    );
    let reach = sphere(6).0;
    assert!((reach.farthest().mm() / (PI * 11.0) - 1.0).abs() < 0.01);
    for degrees in [20.0_f64, 60.0, 90.0, 150.0] {
        let angle = degrees.to_radians();
        let share = reach.share(Length::from_mm(11.0 * angle));
        let exact = (1.0 - angle.cos()) / 2.0;
        assert!(
            (share - exact).abs() < 0.01,
            "{degrees}: {share} for {exact}"
        );
    }
}

/// From a corner of a cube over its faces: √5 edges to the opposite one. A mesh of twelve triangles
/// is cut finer first.
#[test]
fn a_coarse_box_is_cut_finer_and_unrolled() {
    let cube = in_mm(&block([10.0, 10.0, 10.0]));
    let reach = Reach::over(&cube, &[near([0.0, 0.0, 0.0])]).unwrap();
    assert!(reach.parts().len() >= 20_000);
    let exact = 10.0 * 5.0_f64.sqrt();
    let off = reach.farthest().mm() / exact - 1.0;
    println!("cube from corner to corner: {off:+.2e}");
    assert!(off.abs() < 5e-3, "{off:e}");
    // Three quarter discs lie within 8 mm.
    let share = 3.0 * PI * 64.0 / 4.0 / 600.0;
    assert!((reach.share(Length::from_mm(8.0)) / share - 1.0).abs() < 5e-3);
}

#[test]
fn several_contacts_share_the_way() {
    let sheet = grid(40, |u, v| [60.0 * u, 20.0 * v, 0.0]);
    let ends = [near([0.0, 10.0, 0.0]), near([60.0, 10.0, 0.0])];
    let reach = Reach::over(&sheet, &ends).unwrap();
    assert!((reach.farthest().mm() - 30.0_f64.hypot(10.0)).abs() < 0.01);
    let one = Reach::over(&sheet, &ends[..1]).unwrap();
    assert!((one.farthest().mm() - 60.0_f64.hypot(10.0)).abs() < 0.01);
}

/// The way begins at the edge of the patch, never at nothing, and ends with the whole.
#[test]
fn the_way_begins_at_the_patch() {
    let (reach, _) = sphere(5);
    let way = reach.way(0.02);
    assert_eq!(way.len(), WAY);
    assert!((way[0] - 0.02).abs() < 1e-3, "{way:?}");
    assert!((way[WAY - 1] - 1.0).abs() < 1e-9, "{way:?}");
    assert!(way.windows(2).all(|pair| pair[0] <= pair[1]), "{way:?}");
    // Half of the way from the edge of the patch: a cap of half of the angles.
    let edge = (1.0_f64 - 0.04).acos();
    let angle = f64::midpoint(edge, PI);
    assert!(
        (way[WAY / 2] - (1.0 - angle.cos()) / 2.0).abs() < 0.01,
        "{way:?}"
    );
}

#[test]
fn sides_are_where_they_are() {
    let pod = in_mm(&block([40.0, 20.0, 10.0]));
    for (word, side) in Side::ALL {
        let reach = Reach::over(&pod, &[Touch::Side(side)]).unwrap();
        let parts = reach
            .parts()
            .flat_map(|(corners, far)| corners.into_iter().zip(far));
        let touched = parts
            .min_by(|one, other| one.1.total_cmp(&other.1))
            .unwrap()
            .0;
        let touched = touched.map(|x| (x * 1e3).round());
        let expected = match side {
            Side::Top => [20.0, 10.0, 10.0],
            Side::Bottom => [20.0, 10.0, 0.0],
            Side::Left => [0.0, 10.0, 5.0],
            Side::Right => [40.0, 10.0, 5.0],
            Side::Front => [20.0, 0.0, 5.0],
            Side::Back => [20.0, 20.0, 5.0],
        };
        assert_eq!(touched, expected, "{word}");
    }
}

#[test]
fn no_way_is_said_with_its_reason() {
    let cube = in_mm(&block([10.0, 10.0, 10.0]));
    assert_eq!(Reach::over(&cube, &[]).unwrap_err(), ReachError::NoContact);
    let away = Reach::over(&cube, &[near([0.0, 0.0, 0.0]), near([10.0, 10.0, 15.0])]);
    let ReachError::OffTheMesh { number: 2, off } = away.unwrap_err() else {
        panic!("5 mm above a corner is not on the mesh");
    };
    assert!((off.mm() - 5.0).abs() < 1e-9);
    let nowhere = Reach::over(&cube, &[near([f64::NAN; 3])]);
    assert!(matches!(
        nowhere,
        Err(ReachError::OffTheMesh { number: 1, .. })
    ));
    let mut two = block([10.0, 10.0, 10.0]);
    two.extend(
        block([10.0, 10.0, 10.0])
            .iter()
            .map(|triangle| triangle.map(|[x, y, z]| [x + 30.0, y, z])),
    );
    let ReachError::Apart { share } =
        Reach::over(&in_mm(&two), &[Touch::Side(Side::Left)]).unwrap_err()
    else {
        panic!("the second cube cannot be reached");
    };
    assert!((share - 0.5).abs() < 1e-9);
    let both = [Touch::Side(Side::Left), Touch::Side(Side::Right)];
    assert!(Reach::over(&in_mm(&two), &both).is_ok());
}
