//! Meshes in every format, through the command: the same body whichever file it comes in.

#![allow(clippy::unwrap_used)] // test code, its helpers included

use assert_cmd::Command;
use serde_json::Value;
use std::io::Write;
use std::path::{Path, PathBuf};

/// A box of 60 x 40 x 12: 7 200 mm², 28.8 cm³.
const CORNERS: [[u32; 3]; 8] = [
    [0, 0, 0],
    [60, 0, 0],
    [60, 40, 0],
    [0, 40, 0],
    [0, 0, 12],
    [60, 0, 12],
    [60, 40, 12],
    [0, 40, 12],
];
const SIDES: [[usize; 4]; 6] = [
    [0, 3, 2, 1],
    [4, 5, 6, 7],
    [0, 1, 5, 4],
    [1, 2, 6, 5],
    [2, 3, 7, 6],
    [3, 0, 4, 7],
];

fn area(folder: &Path, name: &str, bytes: &[u8], unit: Option<&str>) -> (i32, Value) {
    let path: PathBuf = folder.join(name);
    std::fs::write(&path, bytes).unwrap();
    let mut command = Command::cargo_bin("nightvat").unwrap();
    command.args(["area", "--json", "--mesh"]).arg(&path);
    if let Some(unit) = unit {
        command.args(["--unit", unit]);
    }
    let out = command.output().unwrap();
    let said = String::from_utf8(out.stdout).unwrap();
    (
        out.status.code().unwrap(),
        serde_json::from_str(&said).unwrap(),
    )
}

#[track_caller]
fn is_the_box(found: &(i32, Value)) {
    let (code, value) = found;
    assert_eq!(*code, 0, "{value}");
    let near = |key: &str, theirs: f64| {
        let ours = value[key].as_f64().unwrap();
        assert!(
            (ours / theirs - 1.0).abs() < 1e-9,
            "{key}: {ours}, {theirs}"
        );
    };
    near("area_cm2", 72.0);
    near("volume_cm3", 28.8);
    // π·(L + W + T) of a box, and the whole sphere of directions.
    near("mean_curvature_cm", 35.185_837_720_2);
    near("gauss_term", 12.566_370_614_4);
    assert_eq!(value["watertight"], true);
    assert_eq!(value["triangles"], 12);
}

fn obj() -> String {
    let mut text = "# a box\nmtllib nowhere.mtl\no box\n".to_owned();
    for [x, y, z] in CORNERS {
        text += &format!("v {x} {y} {z}\n");
    }
    for side in SIDES {
        let [a, b, c, d] = side.map(|index| index + 1);
        text += &format!("f {a} {b} {c} {d}\n");
    }
    text
}

fn ply() -> String {
    let mut text = "ply\nformat ascii 1.0\nelement vertex 8\nproperty float x\nproperty float y\n\
                    property float z\nproperty uchar red\nelement face 6\n\
                    property list uchar int vertex_indices\nend_header\n"
        .to_owned();
    for [x, y, z] in CORNERS {
        text += &format!("{x} {y} {z} 9\n");
    }
    for [a, b, c, d] in SIDES {
        text += &format!("4 {a} {b} {c} {d}\n");
    }
    text
}

fn ply_in_bytes() -> Vec<u8> {
    let mut bytes = b"ply\nformat binary_little_endian 1.0\nelement vertex 8\nproperty double x\n\
        property double y\nproperty double z\nelement face 6\n\
        property list uchar uint vertex_index\nend_header\n"
        .to_vec();
    for number in CORNERS.iter().flatten() {
        bytes.extend(f64::from(*number).to_le_bytes());
    }
    for side in SIDES {
        bytes.push(4);
        for index in side {
            bytes.extend(u32::try_from(index).unwrap().to_le_bytes());
        }
    }
    bytes
}

/// A package with one model in it.
fn packed(model: &str) -> Vec<u8> {
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let how = zip::write::SimpleFileOptions::default();
    zip.start_file("3D/3dmodel.model", how).unwrap();
    zip.write_all(model.as_bytes()).unwrap();
    zip.finish().unwrap().into_inner()
}

/// The box as 3MF core has it, in a unit that is `per_mm` to the millimetre, placed as `build` says.
fn model(unit: &str, per_mm: f64, objects: &str, build: &str) -> String {
    let mut text = format!(
        "<?xml version=\"1.0\"?><model unit=\"{unit}\" xml:lang=\"en-US\" \
         xmlns=\"http://schemas.microsoft.com/3dmanufacturing/core/2015/02\">\
         <resources><object id=\"1\" type=\"model\"><mesh><vertices>"
    );
    for corner in CORNERS {
        let [x, y, z] = corner.map(|number| f64::from(number) * per_mm);
        text += &format!("<vertex x=\"{x}\" y=\"{y}\" z=\"{z}\"/>");
    }
    text += "</vertices><triangles>";
    for [a, b, c, d] in SIDES {
        text += &format!("<triangle v1=\"{a}\" v2=\"{b}\" v3=\"{c}\"/>");
        text += &format!("<triangle v1=\"{a}\" v2=\"{c}\" v3=\"{d}\"/>");
    }
    text + &format!(
        "</triangles></mesh></object>{objects}</resources><build>{build}</build></model>"
    )
}

const ONCE: &str = "<item objectid=\"1\"/>";

#[test]
fn the_same_box_in_every_format() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    is_the_box(&area(at, "box.obj", obj().as_bytes(), Some("mm")));
    is_the_box(&area(at, "box.ply", ply().as_bytes(), Some("mm")));
    is_the_box(&area(at, "bytes.ply", &ply_in_bytes(), Some("mm")));
    is_the_box(&area(
        at,
        "mm.3mf",
        &packed(&model("millimeter", 1.0, "", ONCE)),
        None,
    ));
    is_the_box(&area(
        at,
        "cm.3mf",
        &packed(&model("centimeter", 0.1, "", ONCE)),
        None,
    ));
    // Turned by a right angle about z and moved: x' = -y + 5, y' = x.
    let turned = "<item objectid=\"1\" transform=\"0 1 0 -1 0 0 0 0 1 5 0 0\"/>";
    is_the_box(&area(
        at,
        "t.3mf",
        &packed(&model("millimeter", 1.0, "", turned)),
        None,
    ));
    // An object made of the first at half its size, built twice as large.
    let half = "<object id=\"2\"><components><component objectid=\"1\" \
                transform=\"0.5 0 0 0 0.5 0 0 0 0.5 0 0 0\"/></components></object>";
    let twice = "<item objectid=\"2\" transform=\"2 0 0 0 2 0 0 0 2 1 2 3\"/>";
    is_the_box(&area(
        at,
        "c.3mf",
        &packed(&model("millimeter", 1.0, half, twice)),
        None,
    ));
}

#[track_caller]
fn refused(found: &(i32, Value), code: &str, word: &str) {
    let (exit, value) = found;
    assert_eq!(*exit, 2, "{value}");
    assert_eq!(value["error"]["code"], code, "{value}");
    let said = |key: &str| value["error"][key].as_str().unwrap().to_owned();
    let text = format!("{}; {}", said("text"), said("remedy"));
    assert!(text.contains(word), "{text} should say {word}");
}

#[test]
fn what_is_no_mesh_is_one_clear_error() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let mm = Some("mm");
    refused(
        &area(at, "a.obj", obj().as_bytes(), None),
        "bad-mesh",
        "unit",
    );
    refused(
        &area(at, "b", b"\x89PNG\r\n\x1a\nxxxx", mm),
        "bad-mesh",
        "no mesh of a known kind",
    );
    refused(
        &area(at, "c.obj", b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", mm),
        "bad-mesh",
        "4",
    );
    refused(
        &area(at, "d.obj", b"v 0 0 0\nf 1 2 9\n", mm),
        "bad-mesh",
        "OBJ",
    );
    refused(
        &area(at, "e.obj", b"v 0 0 0\n", mm),
        "bad-mesh",
        "no triangle",
    );
    let nan = obj().replace("v 60 40 12", "v nan 40 12");
    refused(&area(at, "f.obj", nan.as_bytes(), mm), "bad-mesh", "finite");
    let short = &ply_in_bytes()[..330];
    refused(&area(at, "g.ply", short, mm), "bad-mesh", "PLY");
    // A header that promises what no memory holds.
    let claims = ply().replace("vertex 8", "vertex 4000000000");
    refused(&area(at, "h.ply", claims.as_bytes(), mm), "bad-mesh", "PLY");
    refused(
        &area(at, "i.obj", obj().as_bytes(), Some("m")),
        "bad-mesh",
        "look at the unit",
    );
    let other = packed(&model("inch", 1.0, "", ONCE));
    refused(&area(at, "j.3mf", &other, mm), "bad-mesh", "25.4");
    // An object that holds itself.
    let itself = "<object id=\"2\"><components><component objectid=\"2\"/></components></object>";
    let loops = packed(&model("millimeter", 1.0, itself, "<item objectid=\"2\"/>"));
    refused(&area(at, "k.3mf", &loops, None), "bad-mesh", "without end");
    refused(
        &area(at, "l.3mf", b"PK\x03\x04nothing", None),
        "bad-mesh",
        "3MF",
    );
}

#[test]
fn a_package_that_unpacks_without_end_is_given_up() {
    // 600 MB of blanks pack to about 600 kB.
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let how = zip::write::SimpleFileOptions::default().large_file(true);
    zip.start_file("3D/3dmodel.model", how).unwrap();
    let blanks = vec![b' '; 4 << 20];
    for _ in 0..150 {
        zip.write_all(&blanks).unwrap();
    }
    let bytes = zip.finish().unwrap().into_inner();
    assert!(bytes.len() < 2 << 20, "{}", bytes.len());
    let folder = tempfile::tempdir().unwrap();
    refused(
        &area(folder.path(), "bomb.3mf", &bytes, None),
        "bad-mesh",
        "512 MB",
    );
}

/// Boxes in one OBJ, each a size and a corner, those turned inwards as a hollow is.
fn boxes(all: &[([f64; 3], [f64; 3], bool)]) -> String {
    let mut text = String::new();
    for (number, (size, from, inwards)) in all.iter().enumerate() {
        for corner in CORNERS {
            let [x, y, z] = [0, 1, 2].map(|axis| {
                let unit = f64::from(u8::from(corner[axis] > 0));
                from[axis] + unit * size[axis]
            });
            text += &format!("v {x} {y} {z}\n");
        }
        for side in SIDES {
            let mut side = side.map(|index| index + 1 + 8 * number);
            if *inwards {
                side.reverse();
            }
            let [a, b, c, d] = side;
            text += &format!("f {a} {b} {c} {d}\n");
        }
    }
    text
}

fn wet(folder: &Path, text: &str, wet: &str) -> Value {
    let path = folder.join("boxes.obj");
    std::fs::write(&path, text).unwrap();
    let out = Command::cargo_bin("nightvat")
        .unwrap()
        .args(["area", "--json", "--unit", "mm", "--wet", wet, "--mesh"])
        .arg(&path)
        .output()
        .unwrap();
    serde_json::from_slice(&out.stdout).unwrap()
}

#[test]
fn the_inside_of_a_hollow_counts_only_where_the_bath_reaches_it() {
    let folder = tempfile::tempdir().unwrap();
    // 20 mm cubed with a hollow of 10 mm cubed: 2 400 mm² outside, 600 more inside.
    let outer = ([20.0; 3], [0.0; 3], false);
    for inwards in [true, false] {
        let hollow = boxes(&[outer, ([10.0; 3], [5.0; 3], inwards)]);
        let area = |how: &str| {
            wet(folder.path(), &hollow, how)["area_cm2"]
                .as_f64()
                .unwrap()
        };
        assert!((area("outside") - 24.0).abs() < 1e-9);
        assert!((area("all") - 30.0).abs() < 1e-9);
        let told = wet(folder.path(), &hollow, "all")["cautions"].to_string();
        assert!(told.contains("6.00 cm2"), "{told}");
    }
    // Two side by side are both outside, and nothing is said of skins.
    let two = boxes(&[outer, ([10.0; 3], [30.0, 0.0, 0.0], false)]);
    let found = wet(folder.path(), &two, "outside");
    assert!((found["area_cm2"].as_f64().unwrap() - 30.0).abs() < 1e-9);
    assert!(!found["cautions"].to_string().contains("skins"));
    // One pushed into the other overlaps it.
    let pushed = boxes(&[outer, ([10.0; 3], [15.0, 5.0, 5.0], false)]);
    let told = wet(folder.path(), &pushed, "outside")["cautions"].to_string();
    assert!(told.contains("cut through"), "{told}");
}
