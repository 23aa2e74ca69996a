//! Meshes: reading STL bytes, measuring, and the demo studio's seed pod.

#![allow(clippy::unwrap_used)] // test code, its helpers included

use nightvat::shape::mesh::{self, Mesh, Survey};
use nightvat::shape::{self, MeshError};
use nightvat::units::Length;
use std::collections::HashMap;
use std::f64::consts::{PI, TAU};

pub(crate) type Triangle = [[f64; 3]; 3];

const MM: Length = Length::from_mm(1.0);

#[track_caller]
fn agree(ours: f64, theirs: f64, within: f64) {
    let off = (ours - theirs).abs() / theirs.abs();
    assert!(
        off <= within,
        "ours {ours}, theirs {theirs}, off by {off:e}, allowed {within:e}"
    );
}

/// A mesh of triangles in millimetres.
pub(crate) fn in_mm(triangles: &[Triangle]) -> Mesh {
    let metres = |corner: [f64; 3]| corner.map(|x| x * 1e-3);
    Mesh::new(
        triangles
            .iter()
            .map(|triangle| triangle.map(metres))
            .collect(),
    )
}

fn survey(triangles: &[Triangle]) -> Survey {
    in_mm(triangles).survey().unwrap()
}

/// A binary STL as the format's description has it: 80 bytes, a count, 50 bytes each.
pub(crate) fn binary(header: &str, triangles: &[Triangle]) -> Vec<u8> {
    let mut bytes = header.as_bytes().to_vec();
    bytes.resize(80, b' ');
    bytes.extend(u32::try_from(triangles.len()).unwrap().to_le_bytes());
    for triangle in triangles {
        bytes.extend([0; 12]);
        for x in triangle.iter().flatten() {
            #[allow(clippy::cast_possible_truncation)] // the format holds single precision
            bytes.extend((*x as f32).to_le_bytes());
        }
        bytes.extend([0; 2]);
    }
    bytes
}

fn text(name: &str, triangles: &[Triangle]) -> String {
    let mut text = format!("solid {name}\n");
    for triangle in triangles {
        text += "  facet normal 0 0 0\n    outer loop\n";
        for [x, y, z] in triangle {
            text += &format!("      vertex {x:e} {y:e} {z:e}\n");
        }
        text += "    endloop\n  endfacet\n";
    }
    text + &format!("endsolid {name}\n")
}

/// Two triangles of a quadrilateral.
pub(crate) fn quad([a, b, c, d]: [[f64; 3]; 4]) -> [Triangle; 2] {
    [[a, b, c], [a, c, d]]
}

pub(crate) fn block([l, w, t]: [f64; 3]) -> Vec<Triangle> {
    let at = |x: usize, y: usize, z: usize| [x as f64 * l, y as f64 * w, z as f64 * t];
    let faces = [
        [at(0, 0, 0), at(0, 1, 0), at(1, 1, 0), at(1, 0, 0)],
        [at(0, 0, 1), at(1, 0, 1), at(1, 1, 1), at(0, 1, 1)],
        [at(0, 0, 0), at(1, 0, 0), at(1, 0, 1), at(0, 0, 1)],
        [at(0, 1, 0), at(0, 1, 1), at(1, 1, 1), at(1, 1, 0)],
        [at(0, 0, 0), at(0, 0, 1), at(0, 1, 1), at(0, 1, 0)],
        [at(1, 0, 0), at(1, 1, 0), at(1, 1, 1), at(1, 0, 1)],
    ];
    faces.into_iter().flat_map(quad).collect()
}

fn tetrahedron() -> Vec<Triangle> {
    let v = [
        [1.0, 1.0, 1.0],
        [1.0, -1.0, -1.0],
        [-1.0, 1.0, -1.0],
        [-1.0, -1.0, 1.0],
    ];
    [[0, 1, 2], [0, 3, 1], [0, 2, 3], [1, 3, 2]]
        .map(|f| f.map(|k| v[k]))
        .to_vec()
}

/// A closed grid around an axis: `at(row, column)` for rows 0..=rows; the first and last row are
/// one point.
pub(crate) fn turned(
    rows: usize,
    columns: usize,
    at: impl Fn(usize, usize) -> [f64; 3],
) -> Vec<Triangle> {
    let mut triangles = Vec::new();
    for row in 0..rows {
        for column in 0..columns {
            let next = (column + 1) % columns;
            let [a, b] = [at(row, column), at(row, next)];
            let [d, c] = [at(row + 1, column), at(row + 1, next)];
            if row > 0 {
                triangles.push([a, b, c]);
            }
            if row + 1 < rows {
                triangles.push([a, c, d]);
            }
        }
    }
    triangles
}

fn cylinder(radius: f64, height: f64, sides: usize) -> Vec<Triangle> {
    turned(3, sides, |row, column| {
        let (sin, cos) = (TAU * column as f64 / sides as f64).sin_cos();
        let r = if row == 1 || row == 2 { radius } else { 0.0 };
        [r * cos, r * sin, if row < 2 { 0.0 } else { height }]
    })
}

fn torus(big: f64, small: f64, around: usize, across: usize) -> Vec<Triangle> {
    let at = |i: usize, j: usize| {
        let (sin, cos) = (TAU * (i % around) as f64 / around as f64).sin_cos();
        let (up, out) = (TAU * (j % across) as f64 / across as f64).sin_cos();
        let r = big + small * out;
        [r * cos, r * sin, small * up]
    };
    let cell = |i: usize, j: usize| quad([at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)]);
    (0..around)
        .flat_map(|i| (0..across).flat_map(move |j| cell(i, j)))
        .collect()
}

/// An ellipsoid with half axes, moved outwards by `d` along its exact normals.
fn ellipsoid([a, b, c]: [f64; 3], d: f64, rows: usize) -> Vec<Triangle> {
    turned(rows, 2 * rows, |row, column| {
        let (sin, cos) = (PI * row as f64 / rows as f64).sin_cos();
        let sin = if row == 0 || row == rows { 0.0 } else { sin };
        let (y, x) = (TAU * column as f64 / (2 * rows) as f64).sin_cos();
        let unit = [sin * x, sin * y, -cos];
        let normal = [unit[0] / a, unit[1] / b, unit[2] / c];
        let long = normal.iter().map(|n| n * n).sum::<f64>().sqrt();
        std::array::from_fn(|k| [a, b, c][k] * unit[k] + d * normal[k] / long)
    })
}

/// A subdivided icosahedron.
pub(crate) fn icosphere(radius: f64, times: u32) -> Vec<Triangle> {
    let g = (1.0 + 5.0_f64.sqrt()) / 2.0;
    let v = [
        [-1.0, g, 0.0],
        [1.0, g, 0.0],
        [-1.0, -g, 0.0],
        [1.0, -g, 0.0],
        [0.0, -1.0, g],
        [0.0, 1.0, g],
        [0.0, -1.0, -g],
        [0.0, 1.0, -g],
        [g, 0.0, -1.0],
        [g, 0.0, 1.0],
        [-g, 0.0, -1.0],
        [-g, 0.0, 1.0],
    ];
    let faces = [
        [0, 11, 5],
        [0, 5, 1],
        [0, 1, 7],
        [0, 7, 10],
        [0, 10, 11],
        [1, 5, 9],
        [5, 11, 4],
        [11, 10, 2],
        [10, 7, 6],
        [7, 1, 8],
        [3, 9, 4],
        [3, 4, 2],
        [3, 2, 6],
        [3, 6, 8],
        [3, 8, 9],
        [4, 9, 5],
        [2, 4, 11],
        [6, 2, 10],
        [8, 6, 7],
        [9, 8, 1],
    ];
    let out = |p: [f64; 3]| {
        let long = p.iter().map(|x| x * x).sum::<f64>().sqrt();
        p.map(|x| radius * x / long)
    };
    let mut triangles: Vec<Triangle> = faces.map(|f| f.map(|k: usize| out(v[k]))).to_vec();
    for _ in 0..times {
        let split = |[a, b, c]: Triangle| {
            // The same sum in either order, so that both faces of an edge get the same middle.
            let middle = |p: [f64; 3], q: [f64; 3]| out(std::array::from_fn(|k| p[k] + q[k]));
            let (ab, bc, ca) = (middle(a, b), middle(b, c), middle(c, a));
            [[a, ab, ca], [ab, b, bc], [ca, bc, c], [ab, bc, ca]]
        };
        triangles = triangles.into_iter().flat_map(split).collect();
    }
    triangles
}

/// The same triangles seen from the other side.
fn turned_over(triangles: &[Triangle]) -> Vec<Triangle> {
    triangles.iter().map(|[a, b, c]| [*a, *c, *b]).collect()
}

/// Area, volume and mean curvature in mm, and the Gauss term in units of 2π.
#[track_caller]
fn measures(triangles: &[Triangle], area: f64, volume: f64, mean: f64, chi: f64, within: f64) {
    let found = survey(triangles);
    assert!(found.watertight && !found.inside_out, "{found:?}");
    agree(found.body.area.mm2(), area, within);
    agree(found.body.volume.mm3(), volume, within);
    // That library takes angles from their cosine, which blurs flat edges inside a face.
    agree(found.body.mean_curvature.mm(), mean, within.max(1e-7));
    assert!((found.body.gauss / TAU - chi).abs() < 1e-12, "{found:?}");
}

#[test]
fn meshes_measure_as_trimesh_does() {
    // trimesh 5.2.0: `area`, `volume`, `integral_mean_curvature`, `euler_number` of the same
    // triangles.
    let box_60_40_12 = block([60.0, 40.0, 12.0]);
    measures(
        &box_60_40_12,
        7_200.0,
        28_800.0,
        351.858_377_202,
        2.0,
        1e-11,
    );
    // Exact for a box: π(60 + 40 + 12).
    agree(
        survey(&box_60_40_12).body.mean_curvature.mm(),
        PI * 112.0,
        1e-12,
    );
    measures(
        &tetrahedron(),
        13.856_406_460_551,
        2.666_666_666_67,
        16.212_260_612_5,
        2.0,
        1e-11,
    );
    let ball = icosphere(10.0, 5);
    measures(
        &ball,
        1_256.261_346_81,
        4_186.524_949_28,
        125.651_181_473,
        2.0,
        1e-10,
    );
    let bar = survey(&cylinder(10.0, 50.0, 256)).body;
    agree(bar.area.mm2(), 3_769.769_251_33, 1e-11);
    agree(bar.volume.mm3(), 15_706.386_254_7, 1e-11);
    // That library takes angles from their cosine, which blurs flat ones; exactly, 50π +
    // ½π·256·20·sin(π/256).
    agree(bar.mean_curvature.mm(), 255.773_250_034, 1e-6);
    agree(bar.mean_curvature.mm(), 255.773_199_467_748, 1e-12);
    let ring = torus(20.0, 5.0, 32, 32);
    measures(
        &ring,
        3_925.705_819_37,
        9_743.419_838_56,
        394.150_318_871,
        0.0,
        1e-11,
    );
    let fine = torus(20.0, 5.0, 256, 128);
    agree(survey(&fine).body.area.mm2(), 3_947.197_722_25, 1e-11);
}

#[test]
fn fine_meshes_approach_the_solids() {
    // Cylinder of radius 10, length 50: M = 50π + 100π²/10 = 255.775 678 6…, A = 1200π.
    let bar = survey(&cylinder(10.0, 50.0, 1024)).body;
    agree(bar.mean_curvature.mm(), 255.775_678_644_7, 1e-6);
    agree(bar.area.mm2(), 3_769.911_184_31, 1e-5);
    // Torus 20/5: M = 2π²·20, A = 4π²·100.
    let ring = survey(&torus(20.0, 5.0, 400, 200)).body;
    agree(ring.mean_curvature.mm(), 394.784_176_044, 2e-4);
    agree(ring.area.mm2(), 3_947.841_760_44, 3e-4);
}

#[test]
fn growth_matches_a_mesh_moved_outwards() {
    // An ellipsoid grown by d along its exact normals is measured as a mesh, by area alone; the
    // closed form's A, M and G must foretell it. The mesh is 3e-5 short of the smooth surface.
    let axes = [25.0, 15.0, 10.0];
    let full = axes.map(|half| Length::from_mm(2.0 * half));
    let body = shape::ellipsoid(full[0], full[1], full[2]).unwrap();
    for d in [0.0, 0.3, 1.0, 5.0] {
        let moved = survey(&ellipsoid(axes, d, 300)).body.area;
        agree(body.area_at(Length::from_mm(d)).mm2(), moved.mm2(), 5e-5);
    }
    // And the other way about: a mesh's own A, M and G foretell the moved mesh.
    let start = survey(&ellipsoid(axes, 0.0, 150)).body;
    let moved = survey(&ellipsoid(axes, 2.0, 150)).body.area;
    agree(start.area_at(Length::from_mm(2.0)).mm2(), moved.mm2(), 1e-4);
    // A torus bends both ways; moved outwards it is the torus of a thicker wire.
    let ring = survey(&torus(20.0, 5.0, 200, 200)).body;
    let thick = survey(&torus(20.0, 6.5, 200, 200)).body.area;
    agree(ring.area_at(Length::from_mm(1.5)).mm2(), thick.mm2(), 1e-4);
}

#[test]
fn growth_matches_moved_meshes_of_an_independent_library() {
    // trimesh 5.2.0, 2026-11-25: an icosphere of 6 and 7 subdivisions, its points stretched to the
    // ellipsoid and moved by d along its exact normals; `area` and `volume` of both meshes, taken to
    // the limit as (4·fine − coarse)/3. Half axes in mm; d in mm; area in mm²; volume in mm³.
    let cases = [
        ([12.0, 9.0, 7.0], 0.0, 1_083.107_247, 3_166.725_385),
        ([12.0, 9.0, 7.0], 0.25, 1_143.378_526, 3_445.003_381),
        ([12.0, 9.0, 7.0], 0.5, 1_205.220_601, 3_738.545_547),
        ([12.0, 9.0, 7.0], 2.0, 1_609.259_774, 5_842.337_241),
        ([20.0, 6.0, 6.0], 0.0, 1_226.908_004, 3_015.928_938),
        ([20.0, 6.0, 6.0], 0.25, 1_301.633_095, 3_331.963_850),
        ([20.0, 6.0, 6.0], 0.5, 1_377.928_982, 3_666.876_384),
        ([20.0, 6.0, 6.0], 2.0, 1_868.691_027, 6_094.772_799),
    ];
    for ([a, b, c], d, area, volume) in cases {
        let full = [a, b, c].map(|half: f64| Length::from_mm(2.0 * half));
        let body = shape::ellipsoid(full[0], full[1], full[2]).unwrap();
        let thick = Length::from_mm(d);
        agree(body.area_at(thick).mm2(), area, 1e-6);
        let before = 4.0 / 3.0 * PI * a * b * c;
        agree(before + body.deposit_volume(thick).mm3(), volume, 1e-6);
    }
}

#[test]
fn a_dent_counts_against_the_growth() {
    // An L of two blocks, its inner edge 30 mm long and bent by 90°. Edges in exact terms: the five
    // long convex edges and the one concave give ½·½π·30·(5 − 1); the two L-shaped rims of 2(20 +
    // 20) mm each ½·½π·80.
    let at = |x: f64, y: f64, z: f64| [x, y, z];
    let outline = [
        (0.0, 0.0),
        (20.0, 0.0),
        (20.0, 8.0),
        (8.0, 8.0),
        (8.0, 20.0),
        (0.0, 20.0),
    ];
    let mut triangles = Vec::new();
    for (k, &(x, y)) in outline.iter().enumerate() {
        let (u, v) = outline[(k + 1) % 6];
        triangles.extend(quad([
            at(x, y, 0.0),
            at(u, v, 0.0),
            at(u, v, 30.0),
            at(x, y, 30.0),
        ]));
    }
    for k in [[0, 1, 2], [0, 2, 3], [0, 3, 4], [0, 4, 5]] {
        let [a, b, c] = k.map(|k: usize| outline[k]);
        triangles.push([at(a.0, a.1, 30.0), at(b.0, b.1, 30.0), at(c.0, c.1, 30.0)]);
        triangles.push([at(a.0, a.1, 0.0), at(c.0, c.1, 0.0), at(b.0, b.1, 0.0)]);
    }
    let found = survey(&triangles);
    assert!(found.watertight);
    agree(
        found.body.mean_curvature.mm(),
        PI / 4.0 * (30.0 * 4.0 + 160.0),
        1e-12,
    );
    agree(found.sharp_inward.mm(), 30.0, 1e-12);
    assert_eq!(survey(&block([1.0, 1.0, 1.0])).sharp_inward, Length::ZERO);
}

#[test]
fn a_mesh_that_faces_inwards_is_turned() {
    let inwards = turned_over(&block([60.0, 40.0, 12.0]));
    let found = survey(&inwards);
    assert!(found.inside_out);
    agree(found.body.mean_curvature.mm(), PI * 112.0, 1e-12);
    agree(found.body.volume.mm3(), 28_800.0, 1e-12);
    let read = Mesh::from_stl(&binary("box", &inwards), MM).unwrap();
    assert!(!read.survey().unwrap().inside_out);
    agree(read.body().unwrap().volume.mm3(), 28_800.0, 1e-6);
}

#[test]
fn a_mesh_with_a_hole_says_so_and_is_less_sure() {
    let whole = icosphere(10.0, 3);
    let closed = survey(&whole);
    let open = survey(&whole[1..]);
    assert!(closed.watertight && closed.open_edges == 0);
    assert!(!open.watertight);
    assert_eq!(open.open_edges, 3);
    assert!(open.body.uncertainty > closed.body.uncertainty);
    // Of 4π all but what hangs at the three open corners, out of 642.
    agree(open.body.gauss, 4.0 * PI, 6.0 / 642.0);
    agree(
        open.body.mean_curvature.mm(),
        closed.body.mean_curvature.mm(),
        6.0 / 1280.0,
    );
    // One face turned over closes nothing.
    let mut mixed = whole.clone();
    mixed[0].swap(1, 2);
    assert!(!survey(&mixed).watertight);
}

#[test]
fn slivers_and_two_zeros_do_no_harm() {
    let mut triangles = block([60.0, 40.0, 12.0]);
    triangles.push([[0.0; 3], [0.0; 3], [60.0, 0.0, 0.0]]);
    for corner in triangles.iter_mut().flatten().flatten().step_by(2) {
        if *corner == 0.0 {
            *corner = -0.0;
        }
    }
    measures(&triangles, 7_200.0, 28_800.0, 351.858_377_202, 2.0, 1e-11);
    let flat = [[[0.0; 3], [1.0, 0.0, 0.0], [2.0, 0.0, 0.0]]; 4];
    assert_eq!(in_mm(&flat).survey(), Err(MeshError::NoArea));
}

#[test]
fn both_kinds_of_stl_read_as_another_reader_does() {
    // The crate stl_io reads the same bytes; its corners are single precision in the file's own
    // unit.
    let solid = icosphere(10.0, 2);
    for bytes in [binary("a pod", &solid), text("a pod", &solid).into_bytes()] {
        let theirs = stl_io::read_stl(&mut std::io::Cursor::new(&bytes)).unwrap();
        let ours = Mesh::from_stl(&bytes, Length::from_m(1.0)).unwrap();
        assert_eq!(ours.triangles().len(), theirs.faces.len());
        for (triangle, face) in ours.triangles().iter().zip(&theirs.faces) {
            for (corner, index) in triangle.iter().zip(face.vertices) {
                let other = theirs.vertices[index].0;
                for k in 0..3 {
                    assert!((corner[k] - f64::from(other[k])).abs() < 1e-6);
                }
            }
        }
    }
}

#[test]
fn stl_as_met_in_practice() {
    let solid = block([60.0, 40.0, 12.0]);
    let area = |bytes: &[u8]| {
        Mesh::from_stl(bytes, MM)
            .unwrap()
            .body()
            .unwrap()
            .area
            .mm2()
    };
    agree(
        area(&binary("solid named like a text", &solid)),
        7_200.0,
        1e-6,
    );
    let mut trailing = binary("box", &solid);
    trailing.extend(b"written by somebody");
    agree(area(&trailing), 7_200.0, 1e-6);
    let plain = text("facet of a vertex", &solid);
    agree(area(plain.as_bytes()), 7_200.0, 1e-12);
    agree(area(plain.to_uppercase().as_bytes()), 7_200.0, 1e-12);
    agree(area(plain.replace('\n', "\r\n").as_bytes()), 7_200.0, 1e-12);
    agree(area(plain.replace('\n', "\r").as_bytes()), 7_200.0, 1e-12);
    // Two solids in one file, apart from each other.
    let apart: Vec<Triangle> = solid
        .iter()
        .map(|t| t.map(|[x, y, z]| [x + 100.0, y, z]))
        .collect();
    agree(
        area((plain + &text("second", &apart)).as_bytes()),
        14_400.0,
        1e-12,
    );
}

#[test]
fn one_unit_of_the_file_is_what_she_says() {
    let bytes = binary("box", &block([2.0, 3.0, 4.0]));
    for (name, metre) in [
        ("um", 1e-6),
        ("mm", 1e-3),
        ("cm", 1e-2),
        ("m", 1.0),
        ("in", 0.0254),
    ] {
        let mesh = Mesh::from_stl(&bytes, mesh::unit(name).unwrap()).unwrap();
        let found = mesh.survey().unwrap();
        // 2(6 + 8 + 12) = 52.
        agree(found.body.area.m2(), 52.0 * metre * metre, 1e-6);
        agree(found.extent[1].m(), 3.0 * metre, 1e-6);
    }
    assert_eq!(mesh::unit("furlong"), None);
    let none = Mesh::from_stl(&bytes, Length::ZERO);
    assert!(matches!(none, Err(MeshError::Unit { .. })));
}

#[test]
fn broken_files_say_what_is_wrong() {
    let solid = icosphere(10.0, 1);
    let whole = binary("ball", &solid);
    let read = |bytes: &[u8]| Mesh::from_stl(bytes, MM).unwrap_err();
    // 80 triangles of 50 bytes; the last is cut.
    let cut = read(&whole[..whole.len() - 1]);
    assert_eq!(
        cut,
        MeshError::CutShort {
            claimed: 80,
            held: 79
        }
    );
    assert!(
        cut.to_string().contains("80 triangles and holds 79"),
        "{cut}"
    );
    // A header that claims four thousand million triangles.
    let mut lie = whole.clone();
    lie[80..84].copy_from_slice(&u32::MAX.to_le_bytes());
    assert_eq!(
        read(&lie),
        MeshError::CutShort {
            claimed: u32::MAX,
            held: 80
        }
    );
    assert_eq!(read(&binary("empty", &[])), MeshError::Empty);
    assert_eq!(read(b"solid empty\nendsolid empty\n"), MeshError::Empty);
    assert_eq!(
        read(&binary("one", &solid[..1])),
        MeshError::TooFew { found: 1 }
    );
    for bad in [f64::NAN, f64::INFINITY] {
        let mut broken = solid.clone();
        broken[6][1][2] = bad;
        assert_eq!(
            read(&binary("bad", &broken)),
            MeshError::NotFinite { triangle: 7 }
        );
        let written = text("bad", &broken);
        assert_eq!(
            read(written.as_bytes()),
            MeshError::NotFinite { triangle: 7 }
        );
    }
    assert_eq!(read(b""), MeshError::Blank);
    let other = read(b"ply\nformat ascii 1.0\nelement vertex 8\n");
    assert!(other.to_string().contains("begins with `ply"), "{other}");
    let long = "# a text of another kind\nv 1 2 3\nv 4 5 6\n".repeat(9);
    assert!(matches!(read(long.as_bytes()), MeshError::NotStl { .. }));
}

#[test]
fn broken_text_names_the_line() {
    let plain = text("ball", &icosphere(10.0, 1));
    let read = |text: &str| Mesh::from_stl(text.as_bytes(), MM).unwrap_err();
    let end = plain.find("endsolid").unwrap();
    assert_eq!(read(&plain[..end]), MeshError::NoEnd { held: 80 });
    let middle = plain.match_indices("vertex").nth(7).unwrap().0;
    assert_eq!(read(&plain[..middle + 8]), MeshError::NoEnd { held: 2 });
    let four = plain.replacen("    endloop", "      vertex 0 0 0\n    endloop", 1);
    assert!(
        matches!(read(&four), MeshError::Text { line: 8, .. }),
        "{:?}",
        read(&four)
    );
    for crlf in [false, true] {
        let mut wrong = plain.replacen("facet normal", "faucet normal", 1);
        if crlf {
            wrong = wrong.replace('\n', "\r\n");
        }
        let found = String::from("faucet");
        let wanted = "a facet or a vertex";
        assert_eq!(
            read(&wrong),
            MeshError::Text {
                line: 2,
                found,
                wanted
            }
        );
    }
    let number = plain.replacen("vertex ", "vertex twelve ", 1);
    assert!(
        matches!(read(&number), MeshError::Text { line: 4, .. }),
        "{:?}",
        read(&number)
    );
}

/// The demo studio's seed pod, in millimetres: 30 mm long, thickest below its middle, with eight
/// ribs.
///
/// Coordinates are rounded to a micrometre, so that the last bits of a machine's sine do not show.
fn pod() -> Vec<Triangle> {
    const ROWS: usize = 32;
    const COLUMNS: usize = 48;
    turned(ROWS, COLUMNS, |row, column| {
        let (sin, cos) = (PI * row as f64 / ROWS as f64).sin_cos();
        let along = -cos;
        let round = if row == 0 || row == ROWS { 0.0 } else { sin };
        let angle = TAU * column as f64 / COLUMNS as f64;
        let rib = 1.0 + 0.06 * round * (8.0 * angle).cos();
        let r = 8.5 * round * (1.0 - 0.22 * along) * rib;
        [r * angle.cos(), r * angle.sin(), 15.0 * (1.0 + along)].map(|x| (x * 1e3).round() / 1e3)
    })
}

fn pod_bytes() -> Vec<u8> {
    binary("seed pod, millimetres", &pod())
}

const POD: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/profiles/jobs/pod.stl");

#[test]
fn the_pod_is_what_this_file_makes() {
    // To make it anew, write `pod_bytes()` to `POD`.
    let held = std::fs::read(POD).unwrap();
    assert!(
        held == pod_bytes(),
        "profiles/jobs/pod.stl is not the pod made here"
    );
    assert!(held.len() < 300_000);
}

#[test]
fn corners_of_the_pod_are_shared() {
    let mut seen: HashMap<[u64; 3], usize> = HashMap::new();
    for corner in pod().into_iter().flatten() {
        *seen.entry(corner.map(|x| (x + 0.0).to_bits())).or_default() += 1;
    }
    // 31 rings of 48 and two ends.
    assert_eq!(seen.len(), 31 * 48 + 2);
}

#[test]
fn the_pod_measures_as_trimesh_measures_it() {
    // trimesh 5.2.0 on profiles/jobs/pod.stl; one unit is a millimetre.
    let mesh = Mesh::from_stl(&std::fs::read(POD).unwrap(), MM).unwrap();
    let found = mesh.survey().unwrap();
    assert!(found.watertight);
    assert_eq!(found.triangles, 2_976);
    agree(found.body.area.mm2(), 1_446.436_78, 1e-9);
    agree(found.body.volume.mm3(), 4_562.498_476, 1e-9);
    agree(found.body.mean_curvature.mm(), 139.935_750_1, 1e-7);
    agree(found.body.gauss, 12.566_370_614, 1e-10);
    for (ours, theirs) in found.extent.iter().zip([18.412, 18.412, 30.0]) {
        agree(ours.mm(), theirs, 1e-6);
    }
}
