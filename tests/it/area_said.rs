//! What `area` says beside its figures, and of what it cannot take: the real program, in text and
//! as JSON.

#![allow(clippy::unwrap_used)] // test code, its helpers included

use super::surface::{Triangle, binary, block, icosphere};
use assert_cmd::Command;
use image::{GrayImage, Luma};
use serde_json::Value;
use std::f64::consts::PI;
use std::path::Path;

fn run(folder: &Path, words: &[&str]) -> std::process::Output {
    let mut command = Command::cargo_bin("nightvat").unwrap();
    command.current_dir(folder).arg("area").args(words);
    command.output().unwrap()
}

fn json(folder: &Path, words: &[&str]) -> (i32, Value) {
    let out = run(folder, &[words, &["--json"]].concat());
    let said = String::from_utf8(out.stdout).unwrap();
    let value = serde_json::from_str(&said).unwrap_or(Value::String(said));
    (out.status.code().unwrap(), value)
}

/// The cautions of a shape, as one text.
fn cautions(folder: &Path, words: &[&str]) -> String {
    let (code, told) = json(folder, words);
    assert_eq!(code, 0, "{told}");
    let list = told["cautions"].as_array().unwrap().iter();
    let list: Vec<&str> = list.map(|one| one.as_str().unwrap()).collect();
    list.join("\n")
}

/// One clear error, exit status 2: what was found, where, and what to do, on a terminal and as
/// JSON, and nothing else.
#[track_caller]
fn refused(folder: &Path, words: &[&str], [code, place, found, remedy]: [&str; 4]) {
    let (status, told) = json(folder, words);
    assert_eq!(status, 2, "{words:?}: {told}");
    let said = |key: &str| told["error"][key].as_str().unwrap_or_default().to_owned();
    assert_eq!(said("code"), code, "{told}");
    assert_eq!(said("place"), place, "{told}");
    assert!(said("text").contains(found), "{told}");
    assert!(said("remedy").contains(remedy), "{told}");
    let out = run(folder, words);
    assert_eq!(out.status.code(), Some(2), "{words:?}: {out:?}");
    assert_eq!(out.stdout, b"", "{words:?}");
    let text = String::from_utf8(out.stderr).unwrap();
    for word in ["error: ", place, found, remedy] {
        assert!(text.contains(word), "{words:?} should say {word:?}: {text}");
    }
}

fn shifted(triangles: &[Triangle], by: [f64; 3]) -> Vec<Triangle> {
    let moved = |[x, y, z]: [f64; 3]| [x + by[0], y + by[1], z + by[2]];
    triangles.iter().map(|one| one.map(moved)).collect()
}

fn over(triangles: &[Triangle]) -> Vec<Triangle> {
    triangles.iter().map(|[a, b, c]| [*a, *c, *b]).collect()
}

fn write(folder: &Path, name: &str, triangles: &[Triangle]) {
    std::fs::write(folder.join(name), binary("a test", triangles)).unwrap();
}

#[test]
fn what_is_no_mesh_is_refused_with_its_file_and_what_to_do() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let ball = icosphere(11.0, 2);
    let holed = |value: f64| {
        let mut triangles = ball.clone();
        triangles[6][1][2] = value;
        triangles
    };
    std::fs::write(at.join("list.stl"), "eggs, flour, a lemon\n").unwrap();
    std::fs::write(at.join("empty.stl"), "").unwrap();
    write(at, "none.stl", &[]);
    write(at, "one.stl", &ball[..1]);
    write(at, "nan.stl", &holed(f64::NAN));
    write(at, "endless.stl", &holed(f64::INFINITY));
    write(at, "ball.stl", &ball);
    let whole = binary("a test", &ball);
    std::fs::write(at.join("short.stl"), &whole[..whole.len() - 500]).unwrap();
    // A pod 3 km across: 3 000 units said to be metres.
    write(at, "huge.stl", &icosphere(1500.0, 1));
    // A figure with no unit in which a tank could hold it.
    write(at, "vast.stl", &icosphere(1.5e12, 1));
    for (file, unit, found, remedy) in [
        (
            "list.stl",
            "mm",
            "begins with `eggs, flour",
            "export the body as STL, OBJ",
        ),
        (
            "empty.stl",
            "mm",
            "the file is empty",
            "copy or export it again",
        ),
        (
            "none.stl",
            "mm",
            "holds no triangle",
            "export the body itself",
        ),
        (
            "one.stl",
            "mm",
            "1 of the 4 triangles",
            "export the whole body",
        ),
        (
            "nan.stl",
            "mm",
            "triangle 7 has a corner",
            "repair the mesh",
        ),
        (
            "endless.stl",
            "mm",
            "triangle 7 has a corner",
            "repair the mesh",
        ),
        (
            "short.stl",
            "mm",
            "promises 320 triangles and holds 310",
            "copy or export",
        ),
        (
            "huge.stl",
            "m",
            "3000 m across",
            "it would be 3.00 mm in um",
        ),
        (
            "vast.stl",
            "mm",
            "a piece in a tank is from 0.05 mm to 2 m",
            "scale the mesh",
        ),
    ] {
        let words = ["--mesh", file, "--unit", unit];
        refused(at, &words, ["bad-mesh", file, found, remedy]);
        // The same in a job's words: the place is that of the file's name in the shape.
        let shape = format!("{{ kind = \"mesh\", file = \"{file}\", unit = \"{unit}\" }}");
        refused(at, &[&shape], ["bad-mesh", "SHAPE:1:25", found, remedy]);
    }
    let words = ["--mesh", "ball.stl"];
    refused(
        at,
        &words,
        ["bad-mesh", "ball.stl", "does not say its unit", "--unit mm"],
    );
    let words = ["--mesh", "away.stl", "--unit", "mm"];
    refused(
        at,
        &words,
        ["missing-file", "away.stl", "there is no file", "STL, OBJ"],
    );
}

/// A picture that would never be drawn is not asked for in vain.
#[test]
fn a_picture_is_asked_for_only_where_one_is_drawn() {
    let folder = tempfile::tempdir().unwrap();
    let mesh = ["--mesh", "pod.stl", "--unit", "mm"];
    for (option, at_odds) in [
        (["--picture", "pod.png"], "--mesh"),
        (["--arrival", "pod.svg"], "--contact"),
    ] {
        let words = [&mesh[..], &option[..]].concat();
        let (code, said) = json(folder.path(), &words);
        assert_eq!(code, 2, "{said}");
        let text = said.to_string();
        assert!(text.contains(option[0]) && text.contains(at_odds), "{text}");
    }
}

#[test]
fn figures_that_no_piece_has_are_refused_where_they_stand() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    for (shape, place, found, remedy) in [
        (
            "{ kind = \"foil\", mass = \"-3 g\", per_area = \"4 mg/cm2\" }",
            "SHAPE:1:25",
            "from 1 mg to 500 g",
            "within that range",
        ),
        (
            "{ kind = \"foil\", mass = \"3 kg\", per_area = \"4 mg/cm2\" }",
            "SHAPE:1:25",
            "3 kg",
            "did you mean mass = \"3 g\"",
        ),
        (
            "{ kind = \"foil\", mass = \"3 g\", per_area = \"0 mg/cm2\" }",
            "SHAPE:1:43",
            "0 mg/cm2",
            "within that range",
        ),
        (
            "{ kind = \"sphere\", diameter = \"3000 m\" }",
            "SHAPE:1:31",
            "from 50 um to 2 m",
            "did you mean diameter = \"3000 um\"",
        ),
    ] {
        refused(at, &[shape], ["out-of-range", place, found, remedy]);
    }
    let ball = "{ kind = \"sphere\", diameter = \"22 mm\" }";
    for thickness in ["-5 um", "5 m", "6 mm"] {
        let thick = format!("--thickness={thickness}");
        let words = [ball, thick.as_str()];
        refused(
            at,
            &words,
            ["bad-value", "", "0 um to 5000 um", "look at the unit"],
        );
    }
    let words = [ball, "--contact", "top"];
    refused(at, &words, ["bad-value", "", "not one mesh", "--mesh FILE"]);
    let words = [ball, "--unit", "mm"];
    refused(
        at,
        &words,
        ["bad-usage", "", "go with `--mesh FILE`", "as in a job file"],
    );
    // What a newcomer tries first.
    for (word, remedy) in [
        ("pod.stl", "nightvat area --mesh pod.stl --unit mm"),
        ("leaf.jpg", "kind = \"leaf\", file = \"leaf.jpg\""),
        ("sphere", "{ kind = \"sphere\", diameter = \"22 mm\" }"),
        ("", "{ kind = \"sphere\", diameter = \"22 mm\" }"),
    ] {
        refused(at, &[word], ["bad-shape", "", "is no shape", remedy]);
    }
}

/// What can be measured all the same is measured, and it is said what was wrong with it.
#[test]
fn a_mesh_that_is_not_sound_says_what_was_done_with_it() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let ball = icosphere(11.0, 3);
    let mm = |name: &'static str| ["--mesh", name, "--unit", "mm"];
    write(at, "ball.stl", &ball);
    let sound = json(at, &mm("ball.stl")).1;
    let said = cautions(at, &mm("ball.stl"));
    assert_eq!(said.lines().count(), 1, "{said}");

    // Inside out: turned, and the same body.
    write(at, "turned.stl", &over(&ball));
    let (_, told) = json(at, &mm("turned.stl"));
    assert_eq!(told["area_cm2"], sound["area_cm2"]);
    assert_eq!(told["watertight"], true);
    let said = cautions(at, &mm("turned.stl"));
    assert!(said.contains("faced inwards: they were turned"), "{said}");

    // A fin: one more triangle on an edge that has its two.
    let mut fin = ball.clone();
    let [a, b, _] = ball[0];
    fin.push([a, b, a.map(|x| x * 1.5)]);
    write(at, "fin.stl", &fin);
    let (_, told) = json(at, &mm("fin.stl"));
    assert_eq!(
        (&told["watertight"], &told["volume_cm3"]),
        (&false.into(), &Value::Null)
    );
    let said = cautions(at, &mm("fin.stl"));
    assert!(
        said.contains("3 edges do not join two triangles that agree"),
        "{said}"
    );
    let wide = |told: &Value| {
        let figure = |key: &str| told[key].as_f64().unwrap();
        (figure("high_cm2") - figure("low_cm2")) / figure("area_cm2")
    };
    assert!(wide(&told) > 3.0 * wide(&sound), "{told}");

    // A hollow that was left out is named, so that she can say the bath reaches it.
    let inner = over(&icosphere(8.0, 3));
    write(at, "hollow.stl", &[ball.clone(), inner].concat());
    let (_, told) = json(at, &mm("hollow.stl"));
    assert_eq!(told["area_cm2"], sound["area_cm2"]);
    let said = cautions(at, &mm("hollow.stl"));
    assert!(
        said.contains("1 skin within another") && said.contains("--wet all"),
        "{said}"
    );
}

/// Two balls pushed into each other: r = 8 mm, 6 mm apart. What is no surface are two caps of
/// 2πrh, h = 8 − 3 mm, so that 2·(4πr² − 2πrh) = 1 105.8 mm² are left of 1 608.5.
#[test]
fn the_interval_of_a_mesh_that_cuts_through_itself_holds_the_truth() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let ball = icosphere(8.0, 3);
    write(
        at,
        "two.stl",
        &[ball.clone(), shifted(&ball, [6.0, 0.0, 0.0])].concat(),
    );
    let words = ["--mesh", "two.stl", "--unit", "mm"];
    let (code, told) = json(at, &words);
    assert_eq!(code, 0, "{told}");
    let truth = 2.0 * (4.0 * PI * 64.0 - 2.0 * PI * 8.0 * 5.0) / 100.0;
    let low = told["low_cm2"].as_f64().unwrap();
    assert!(low < truth && low > 0.85 * truth, "{low} and {truth}");
    // 10 of 32 parts of it are hidden, 31 %.
    let said = cautions(at, &words);
    let share = said
        .split("about ")
        .nth(1)
        .and_then(|rest| rest.split_once(" %"));
    let share: f64 = share.unwrap().0.parse().unwrap();
    assert!((share - 31.25).abs() < 3.0, "{said}");
    // Two that stand apart hide nothing, and a hollow with its walls in the bath hides nothing.
    write(
        at,
        "apart.stl",
        &[ball.clone(), shifted(&ball, [20.0, 0.0, 0.0])].concat(),
    );
    write(at, "hollow.stl", &[ball, over(&icosphere(5.0, 3))].concat());
    for words in [
        vec!["--mesh", "apart.stl", "--unit", "mm"],
        vec!["--mesh", "hollow.stl", "--unit", "mm", "--wet", "all"],
    ] {
        let said = cautions(at, &words);
        assert!(!said.contains("cut"), "{said}");
        let told = json(at, &words).1;
        let high = told["high_cm2"].as_f64().unwrap() / told["area_cm2"].as_f64().unwrap();
        assert!((high - 1.03).abs() < 1e-9, "{told}");
    }
}

/// A list or a count hides nothing of what its parts would say alone.
#[test]
fn lists_and_counts_say_what_their_parts_say() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let ball = icosphere(11.0, 3);
    write(at, "bowl.stl", &ball[..1000]);
    write(at, "hollow.stl", &[ball, over(&icosphere(8.0, 3))].concat());
    let bowls = "{ kind = \"mesh\", file = \"bowl.stl\", unit = \"mm\", count = 3 }";
    let hollow = "{ kind = \"mesh\", file = \"hollow.stl\", unit = \"mm\", wet = \"all\" }";
    let tube = "{ kind = \"tube\", outer = \"1.2 mm\", inner = \"0.4 mm\", length = \"50 mm\" }";
    let plain = "{ kind = \"area\", area = \"3 cm2\" }";
    let list = format!("[{bowls}, {hollow}, {tube}, {plain}]");
    let said = cautions(at, &[&list]);
    for word in [
        "only an area is known",
        "fills up at 200 um",
        "do not join two triangles",
        "1 skin within another",
    ] {
        assert!(said.contains(word), "{word}: {said}");
    }
    assert_eq!(said.matches("check the unit").count(), 2, "{said}");
    // Of two meshes it is said which.
    let told = |start: &str, word: &str| {
        let mut lines = said.lines();
        lines.any(|line| line.starts_with(start) && line.contains(word))
    };
    assert!(told("mesh 1: ", "do not join two triangles"), "{said}");
    assert!(told("mesh 2: ", "1 skin within another"), "{said}");
    let told = json(at, &[bowls]).1;
    assert_eq!(
        (&told["watertight"], &told["triangles"]),
        (&false.into(), &1000.into())
    );
    assert_eq!(told["volume_cm3"], Value::Null);
}

/// A = π·L·(outer + inner) is right until the bore fills up, and that is said before it is wrong.
#[test]
fn what_closes_is_told_at_the_thickness_that_is_asked() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let tube = "{ kind = \"tube\", outer = \"1.2 mm\", inner = \"0.4 mm\", length = \"50 mm\" }";
    let coil =
        "{ kind = \"coil\", across = \"20 mm\", wire = \"1 mm\", pitch = \"1.3 mm\", turns = 8 }";
    assert!(cautions(at, &[tube]).contains("fills up at 200 um"));
    assert_eq!(cautions(at, &[tube, "--thickness", "150 um"]), "");
    let said = cautions(at, &[coil]);
    // Half the gap between turns: at most (1.3 − 1)/2 mm.
    assert!(
        said.contains("fills up at 150 um") || said.contains("fills up at 149 um"),
        "{said}"
    );
    assert_eq!(cautions(at, &[coil, "--thickness", "100 um"]), "");
}

#[test]
fn a_second_leaf_and_a_drawing_without_a_size_are_told() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let disc =
        |x: u32, y: u32, cx: f64, r: f64| (f64::from(x) - cx).hypot(f64::from(y) - 150.0) < r;
    let picture = |name: &str, second: f64| {
        let shade = |x, y| {
            let dark = disc(x, y, 150.0, 100.0) || disc(x, y, 420.0, second);
            Luma([if dark { 40 } else { 240 }])
        };
        GrayImage::from_fn(600, 300, shade)
            .save(at.join(name))
            .unwrap();
    };
    // Of 90 % of the largest one's area, and of 1 %.
    picture("two.png", 95.0);
    picture("crumb.png", 10.0);
    let leaf = |words: &str| format!("{{ kind = \"leaf\", thickness = \"1 mm\", {words} }}");
    let said = cautions(at, &[&leaf("file = \"two.png\", dpi = 254")]);
    assert!(said.contains("another figure lies beside it"), "{said}");
    let said = cautions(at, &[&leaf("file = \"crumb.png\", dpi = 254")]);
    assert!(
        !said.contains("beside it") && said.contains("0 holes"),
        "{said}"
    );

    let drawing = |name: &str, size: &str, more: &str| {
        let text = format!(
            "<svg xmlns='http://www.w3.org/2000/svg' stroke-width='1mm' {size} \
             viewBox='0 0 60 40'><circle cx='20' cy='20' r='15'/>{more}</svg>"
        );
        std::fs::write(at.join(name), text).unwrap();
    };
    drawing("sized.svg", "width='60mm' height='40mm'", "");
    drawing("bare.svg", "", "<circle cx='50' cy='20' r='8'/>");
    drawing("none.svg", "width='60px'", "");
    let said = cautions(at, &[&leaf("file = \"sized.svg\"")]);
    assert!(
        said.contains("30.0 x 30.0 mm") && said.lines().count() == 1,
        "{said}"
    );
    for name in ["bare.svg", "none.svg"] {
        let said = cautions(at, &[&leaf(&format!("file = \"{name}\""))]);
        assert!(said.contains("does not state its size"), "{name}: {said}");
        assert_eq!(said.contains("beside it"), name == "bare.svg", "{said}");
        let said = cautions(at, &[&leaf(&format!("file = \"{name}\", dpi = 254"))]);
        assert!(!said.contains("does not state its size"), "{name}: {said}");
    }
    std::fs::write(
        at.join("blank.svg"),
        "<svg xmlns='http://www.w3.org/2000/svg' width='9mm' height='9mm'></svg>",
    )
    .unwrap();
    let blank = leaf("file = \"blank.svg\"");
    let remedy = "nightvat explain bad-picture";
    refused(
        at,
        &[&blank],
        ["bad-picture", "SHAPE:1:45", "no visible path", remedy],
    );
}

/// A contact may be named with a mesh in a job's words too, and of a mesh in several copies.
#[test]
fn a_contact_on_a_mesh_in_a_jobs_words() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    write(at, "block.stl", &block([30.0, 20.0, 10.0]));
    let shape = "{ kind = \"mesh\", file = \"block.stl\", unit = \"mm\", count = 2 }";
    let (code, told) = json(at, &[shape, "--contact", "top", "--arrival", "a.svg"]);
    assert_eq!(code, 0, "{told}");
    let reach = told["reach"].as_array().unwrap();
    assert_eq!(reach.last().unwrap()["covered_fraction"], 1.0, "{told}");
    assert!(at.join("a.svg").is_file());
}
