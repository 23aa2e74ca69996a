//! Leaves from pictures: drawn figures of known area and rim, and what is no leaf.

#![allow(clippy::unwrap_used)] // test code, its helpers included

use assert_cmd::Command;
use image::{GrayImage, Luma};
use serde_json::Value;
use std::f64::consts::PI;
use std::path::Path;

fn area(folder: &Path, words: &str) -> (i32, Value) {
    let shape = format!("{{ kind = \"leaf\", thickness = \"1 mm\", {words} }}");
    let out = Command::cargo_bin("nightvat")
        .unwrap()
        .current_dir(folder)
        .args(["area", &shape, "--json"])
        .output()
        .unwrap();
    let said = String::from_utf8(out.stdout).unwrap();
    let value = serde_json::from_str(&said).unwrap_or(Value::String(said));
    (out.status.code().unwrap(), value)
}

/// Area of one face in mm² and rim in mm, from the volume of a sheet 1 mm thick and its area: V = F,
/// A = 2F + P.
fn face_and_rim((code, value): &(i32, Value)) -> (f64, f64) {
    assert_eq!(*code, 0, "{value}");
    let face = value["volume_cm3"].as_f64().unwrap() * 1e3;
    (
        face,
        value["area_cm2"].as_f64().unwrap() * 100.0 - 2.0 * face,
    )
}

#[track_caller]
fn near(ours: f64, theirs: f64, within: f64) {
    assert!((ours / theirs - 1.0).abs() < within, "{ours}, {theirs}");
}

/// A picture in which `inside` is dark on white, without shades between.
fn picture(path: &Path, [width, height]: [u32; 2], inside: impl Fn(f64, f64) -> bool) {
    let shade = |x: u32, y: u32| {
        let dark = inside(f64::from(x) + 0.5, f64::from(y) + 0.5);
        Luma([if dark { 40 } else { 240 }])
    };
    GrayImage::from_fn(width, height, shade).save(path).unwrap();
}

fn disc(x: f64, y: f64, [cx, cy]: [f64; 2], r: f64) -> bool {
    (x - cx).hypot(y - cy) < r
}

/// The perimeter of an ellipse: 2π·(a² − Σ 2ⁿ⁻¹·cₙ²)/M(a, b), cₙ² = aₙ² − bₙ².
fn ellipse_rim(a: f64, b: f64) -> f64 {
    let (mut one, mut other, mut weight) = (a, b, 0.5);
    let mut sum = 0.0;
    for _ in 0..8 {
        sum += weight * (one * one - other * other);
        weight *= 2.0;
        (one, other) = (f64::midpoint(one, other), (one * other).sqrt());
    }
    2.0 * PI * (a * a - sum) / one
}

#[test]
fn a_scanned_disc_has_its_area_and_rim_by_dpi() {
    let folder = tempfile::tempdir().unwrap();
    // At 254 dots in an inch a dot is 0.1 mm: a disc of 60 mm, 2 827.433 mm², 188.4956 mm round.
    picture(&folder.path().join("a.png"), [800, 700], |x, y| {
        disc(x, y, [400.0, 350.0], 300.0)
    });
    let found = area(folder.path(), "file = \"a.png\", dpi = 254");
    let (face, rim) = face_and_rim(&found);
    near(face, 2_827.433_388, 0.001);
    near(rim, 188.495_559, 0.01);
    // What was recognised is written, and is a picture with red in it where the disc is.
    let name = found.1["pictures"][0].as_str().unwrap();
    let seen = image::open(folder.path().join(name)).unwrap().to_rgb8();
    let [middle, corner] = [[400, 350], [5, 5]].map(|[x, y]| seen.get_pixel(x, y).0);
    assert!(
        middle[0] > 2 * middle[2] && corner[0] == corner[2],
        "{middle:?} {corner:?}"
    );
}

#[test]
fn holes_are_left_out_and_specks_are_not_holes() {
    let folder = tempfile::tempdir().unwrap();
    // A disc of 60 mm with two holes of 10 mm and a speck of 0.3 mm: 2 827.433 − 2·78.540, and
    // 188.496 + 2·31.416 round.
    picture(&folder.path().join("a.png"), [800, 700], |x, y| {
        disc(x, y, [400.0, 350.0], 300.0)
            && !disc(x, y, [300.0, 350.0], 50.0)
            && !disc(x, y, [500.0, 350.0], 50.0)
            && !disc(x, y, [400.0, 500.0], 1.5)
    });
    let found = area(folder.path(), "file = \"a.png\", dpi = 254");
    let (face, rim) = face_and_rim(&found);
    near(face, 2_670.353_755, 0.001);
    near(rim, 251.327_412, 0.01);
    // Two holes make a body of genus 2: G = 4π(1 − 2).
    near(found.1["gauss_term"].as_f64().unwrap(), -4.0 * PI, 1e-9);
}

#[test]
fn a_bar_beside_it_gives_the_scale_at_any_slant() {
    let folder = tempfile::tempdir().unwrap();
    // A bar of 500 x 40 dots said to be 50 mm, turned by 20 degrees; the leaf is an ellipse with
    // half axes 200 and 100 dots, so π·20·10 mm².
    let (sin, cos) = 20_f64.to_radians().sin_cos();
    picture(&folder.path().join("a.png"), [900, 800], |x, y| {
        let (u, v) = (x - 450.0, y - 600.0);
        let bar = (u * cos + v * sin).abs() < 250.0 && (v * cos - u * sin).abs() < 20.0;
        let leaf = ((x - 450.0) / 200.0).powi(2) + ((y - 200.0) / 100.0).powi(2) < 1.0;
        bar || leaf
    });
    let found = area(folder.path(), "file = \"a.png\", scale_bar = \"50 mm\"");
    let (face, rim) = face_and_rim(&found);
    near(face, 628.318_531, 0.005);
    // Half axes 20 and 10 mm: 80·E(m = 3/4), E = 1.211 056 028 (Abramowitz and Stegun, table 17.1;
    // from memory), and the same by the arithmetic-geometric mean (their 17.6).
    let by_mean = ellipse_rim(20.0, 10.0);
    assert!((by_mean - 80.0 * 1.211_056_028).abs() < 1e-7, "{by_mean}");
    near(rim, by_mean, 0.01);
    let none = area(folder.path(), "file = \"a.png\"");
    refused(&none, "dpi");
}

#[test]
fn a_drawn_path_has_its_area_its_holes_and_its_units() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
    // A rectangle of 40 x 30 mm with a hole of 10 x 10 mm, in millimetres by its view box; a smaller
    // figure beside it is not taken.
    write(
        "mm.svg",
        "<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='80mm' \
         viewBox='0 0 100 80'><path d='M10 10h40v30h-40z M20 20h10v10h-10z'/>\
         <circle cx='80' cy='60' r='5'/></svg>",
    );
    let (face, rim) = face_and_rim(&area(folder.path(), "file = \"mm.svg\""));
    near(face, 1_100.0, 1e-5);
    near(rim, 180.0, 1e-5);
    // A circle of 100 units at 254 dots in an inch, drawn twice as large: r = 20 mm.
    write(
        "dots.svg",
        "<svg xmlns='http://www.w3.org/2000/svg' width='900' height='900'>\
         <g transform='scale(2)'><circle cx='200' cy='200' r='100'/></g></svg>",
    );
    let (face, rim) = face_and_rim(&area(folder.path(), "file = \"dots.svg\", dpi = 254"));
    near(face, PI * 400.0, 1e-3);
    near(rim, PI * 40.0, 1e-3);
}

#[track_caller]
fn refused((code, value): &(i32, Value), word: &str) {
    assert_eq!(*code, 2, "{value}");
    assert_eq!(value["error"]["code"], "bad-picture", "{value}");
    let text = value["error"]["text"].as_str().unwrap();
    assert!(text.contains(word), "{text} should say {word}");
}

#[test]
fn what_is_no_leaf_is_one_clear_error() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let dpi = |name: &str| area(at, &format!("file = \"{name}\", dpi = 254"));
    picture(&at.join("blank.png"), [300, 200], |_, _| false);
    refused(&dpi("blank.png"), "nothing stands out");
    picture(&at.join("speck.png"), [300, 200], |x, y| {
        disc(x, y, [90.0, 90.0], 2.0)
    });
    refused(&dpi("speck.png"), "no outline");
    picture(&at.join("cut.png"), [300, 200], |x, y| {
        disc(x, y, [10.0, 90.0], 60.0)
    });
    refused(&dpi("cut.png"), "cut off");
    picture(&at.join("disc.png"), [300, 200], |x, y| {
        disc(x, y, [150.0, 90.0], 60.0)
    });
    refused(
        &area(at, "file = \"disc.png\", scale_bar = \"50 mm\""),
        "no scale bar",
    );
    std::fs::write(at.join("text.png"), "no picture at all").unwrap();
    refused(&dpi("text.png"), "no PNG");
    let whole = std::fs::read(at.join("disc.png")).unwrap();
    std::fs::write(at.join("short.png"), &whole[..60]).unwrap();
    refused(&dpi("short.png"), "no PNG");
    // A head that claims 60 000 x 60 000 dots: the count stands in bytes 16 to 23, and a CRC over
    // the head in 29 to 32, which is left wrong; either is a reason.
    let mut huge = whole;
    huge[16..24].copy_from_slice(&[0, 0, 0xea, 0x60, 0, 0, 0xea, 0x60]);
    std::fs::write(at.join("huge.png"), &huge).unwrap();
    let (code, value) = dpi("huge.png");
    assert_eq!((code, &value["error"]["code"]), (2, &"bad-picture".into()));
    // A drawing that names itself over and over, and one that names another file.
    let bomb = "<!DOCTYPE svg [<!ENTITY a 'aaaaaaaaaa'><!ENTITY b '&a;&a;&a;&a;&a;&a;&a;&a;'>\
                <!ENTITY c '&b;&b;&b;&b;&b;&b;&b;&b;'><!ENTITY d '&c;&c;&c;&c;&c;&c;&c;&c;'>\
                <!ENTITY e '&d;&d;&d;&d;&d;&d;&d;&d;'><!ENTITY f '&e;&e;&e;&e;&e;&e;&e;&e;'>\
                <!ENTITY g '&f;&f;&f;&f;&f;&f;&f;&f;'><!ENTITY h '&g;&g;&g;&g;&g;&g;&g;&g;'>]>\
                <svg xmlns='http://www.w3.org/2000/svg'><desc>&h;</desc></svg>";
    std::fs::write(at.join("bomb.svg"), bomb).unwrap();
    refused(&dpi("bomb.svg"), "SVG");
    let other = "<svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'>\
                 <image href='disc.png' width='9' height='9'/></svg>";
    std::fs::write(at.join("other.svg"), other).unwrap();
    refused(&dpi("other.svg"), "no outline");
}
