//! Every kind of shape of a job file, through the command that measures one.

#![allow(clippy::unwrap_used)] // test code, its helpers included

use assert_cmd::Command;
use serde_json::Value;

fn nightvat(words: &[&str]) -> (i32, Value, String) {
    let out = Command::cargo_bin("nightvat")
        .unwrap()
        .args(words)
        .output()
        .unwrap();
    let said = String::from_utf8(out.stdout).unwrap();
    let value = serde_json::from_str(&said).unwrap_or(Value::Null);
    let aside = String::from_utf8(out.stderr).unwrap();
    (out.status.code().unwrap(), value, aside)
}

pub(crate) fn area(shape: &str) -> Value {
    let (code, value, aside) = nightvat(&[
        "area",
        shape,
        "--thickness",
        "100 um",
        "--thickness",
        "300 um",
        "--json",
    ]);
    assert_eq!(code, 0, "{shape}: {aside}");
    value
}

#[track_caller]
fn refused(shape: &str, code: &str) -> String {
    let (exit, value, _) = nightvat(&["area", shape, "--json"]);
    assert_eq!(exit, 2, "{shape}: {value}");
    let error = &value["error"];
    assert_eq!(error["code"], code, "{shape}: {value}");
    assert!(!error["remedy"].as_str().unwrap().is_empty());
    error["text"].as_str().unwrap().to_owned()
}

#[track_caller]
fn agree(ours: &Value, theirs: f64, within: f64) {
    let ours = ours.as_f64().unwrap();
    let off = (ours - theirs).abs() / theirs.abs();
    assert!(off <= within, "ours {ours}, theirs {theirs}, off {off:e}");
}

#[test]
fn each_closed_form_has_its_published_area() {
    // mm² by scipy 1.17.1 from the textbook formulas; ellipsoids by elliprg. `wire` is π·d·L.
    let table = [
        ("kind = 'sphere', diameter = '2 mm'", 12.566_370_614_4),
        (
            "kind = 'ellipsoid', a = '50 mm', b = '30 mm', c = '20 mm'",
            3_369.379_418_12,
        ),
        (
            "kind = 'ellipsoid', a = '10 mm', b = '10 mm', c = '2 mm'",
            171.780_421_922,
        ),
        (
            "kind = 'wire', diameter = '1 mm', length = '180 mm'",
            565.486_677_646,
        ),
        (
            "kind = 'rod', diameter = '20 mm', length = '50 mm'",
            3_769.911_184_31,
        ),
        (
            "kind = 'tube', outer = '20 mm', inner = '16 mm', length = '50 mm'",
            5_881.061_447_5,
        ),
        (
            "kind = 'tube', outer = '12 mm', inner = '9 mm', length = '120 mm'",
            8_015.773_655_6,
        ),
        (
            "kind = 'ring', across = '40 mm', wire = '10 mm'",
            3_947.841_760_44,
        ),
        (
            "kind = 'ring', across = '25 mm', wire = '3.2 mm'",
            789.568_352_087,
        ),
        (
            "kind = 'plate', length = '60 mm', width = '40 mm', thickness = '12 mm'",
            7_200.0,
        ),
        (
            "kind = 'disc', diameter = '20 mm', thickness = '50 mm'",
            3_769.911_184_31,
        ),
        (
            "kind = 'cone', bottom = '60 mm', top = '40 mm', height = '40 mm'",
            10_560.629_62,
        ),
        (
            "kind = 'cone', bottom = '30 mm', top = '0 mm', height = '40 mm'",
            2_719.991_802,
        ),
        (
            "kind = 'prism', sides = 6, edge = '10 mm', height = '25 mm'",
            2_019.615_242_27,
        ),
        (
            "kind = 'prism', sides = 6, edge = '6.5 mm', height = '40 mm'",
            1_779.537_440,
        ),
        (
            "kind = 'coil', across = '20 mm', wire = '1 mm', pitch = '2 mm', turns = 15",
            2_962.380_941,
        ),
        (
            "kind = 'coil', across = '12 mm', wire = '0.8 mm', pitch = '1.5 mm', turns = 40",
            3_792.926_904,
        ),
        (
            "kind = 'coil', across = '50 mm', wire = '2.5 mm', pitch = '12 mm', turns = 5.5",
            6_805.124_221,
        ),
        ("kind = 'area', area = '12.5 cm2'", 1_250.0),
    ];
    for (shape, mm2) in table {
        let found = area(&format!("{{ {shape} }}").replace('\'', "\""));
        agree(&found["area_cm2"], mm2 / 100.0, 1e-9);
    }
}

#[test]
fn a_leaf_from_its_outline_grows_as_the_plate_or_disc_it_is() {
    // A leaf with the outline of a 60 x 40 rectangle or of a circle is a plate, or a disc.
    let leaf = area(
        r#"{ kind = "leaf", outline_area = "24 cm2", perimeter = "200 mm", thickness = "0.5 mm" }"#,
    );
    let plate =
        area(r#"{ kind = "plate", length = "60 mm", width = "40 mm", thickness = "0.5 mm" }"#);
    // 2·2400 + 200·0.5 = 4900 mm².
    agree(&leaf["area_cm2"], 49.0, 1e-12);
    agree(&leaf["volume_cm3"], 1.2, 1e-12);
    for at in [0, 1] {
        let theirs = plate["grown"][at]["area_cm2"].as_f64().unwrap();
        agree(&leaf["grown"][at]["area_cm2"], theirs, 1e-12);
    }
    // The relief of a leaf is not in its outline.
    agree(&leaf["high_cm2"], 49.0 * 1.1, 1e-9);
}

#[test]
fn parts_add_up_and_count_multiplies() {
    // 2 balls of 10 mm: 2·π·100; a wire 1 x 100: π·100; both 300 π mm².
    let both = area(
        r#"[{ kind = "sphere", diameter = "10 mm", count = 2 },
            { kind = "wire", diameter = "1 mm", length = "100 mm" }]"#
            .replace('\n', " ")
            .as_str(),
    );
    agree(&both["area_cm2"], 9.424_777_960_77, 1e-9);
    // 12 needles of the same wire.
    let needles = area(r#"{ kind = "wire", diameter = "1 mm", length = "100 mm", count = 12 }"#);
    agree(&needles["area_cm2"], 37.699_111_843_1, 1e-9);
}

#[test]
fn foil_is_its_mass_over_that_of_a_square_and_says_how_unsure_that_is() {
    // 0.603 g for 6.98 x 6.95 cm is a student laboratory's published square of foil: 12.430 mg/cm²;
    // 0.3 g of it cover 24.134 cm².
    let bare = area(r#"{ kind = "foil", mass = "0.3 g", per_area = "12.43032 mg/cm2" }"#);
    agree(&bare["area_cm2"], 24.134_54, 1e-6);
    assert_eq!(bare["mean_curvature_cm"], Value::Null);
    let flat = bare["grown"][1]["area_cm2"].as_f64().unwrap();
    agree(&bare["area_cm2"], flat, 1e-12);
    let width = |found: &Value| {
        found["high_cm2"].as_f64().unwrap() / found["area_cm2"].as_f64().unwrap() - 1.0
    };
    // Foil errs by 10 % at best on smooth bodies, and worse on reliefs.
    assert!(width(&bare) > 0.2);
    let ball = area(
        r#"{ kind = "foil", mass = "0.3 g", per_area = "12.43032 mg/cm2",
             like = { kind = "sphere", diameter = "1 cm" } }"#
            .replace('\n', " ")
            .as_str(),
    );
    assert!(width(&ball) < width(&bare) && width(&ball) >= 0.1);
    // A ball of 24.13454 cm² has a radius of 1.385849 cm; 0.3 mm later 4π·1.415849².
    agree(&ball["grown"][1]["area_cm2"], 25.190_76, 1e-5);
}

#[test]
fn what_cannot_be_is_one_clear_error() {
    let said = refused(
        r#"{ kind = "coil", across = "20 mm", wire = "2 mm", pitch = "2 mm", turns = 5 }"#,
        "bad-value",
    );
    assert!(said.contains("touch"), "{said}");
    refused(
        r#"{ kind = "coil", across = "2 mm", wire = "3 mm", pitch = "9 mm", turns = 5 }"#,
        "bad-value",
    );
    let said = refused(
        r#"{ kind = "leaf", outline_area = "24 cm2", perimeter = "100 mm", thickness = "1 mm" }"#,
        "bad-value",
    );
    // The circle of 24 cm² has √(4π·2400) = 173.7 mm.
    assert!(said.contains("173.7 mm"), "{said}");
    refused(
        r#"{ kind = "foil", mass = "-1 g", per_area = "4 mg/cm2" }"#,
        "out-of-range",
    );
    refused(
        r#"{ kind = "foil", mass = "4 kg", per_area = "4 mg/cm2" }"#,
        "out-of-range",
    );
    refused(r#"{ kind = "foil", mass = "1 g" }"#, "missing-key");
    refused(
        r#"{ kind = "area", area = "1 cm2", like = { kind = "foil", mass = "1 g", per_area = "4 mg/cm2" } }"#,
        "bad-value",
    );
    refused(r#"{ kind = "sphere", diameter = "3 km" }"#, "bad-quantity");
    refused(
        r#"{ kind = "sphere", diameter = "3000 m" }"#,
        "out-of-range",
    );
    refused(r#"{ kind = "blob", diameter = "3 mm" }"#, "unknown-word");
}
