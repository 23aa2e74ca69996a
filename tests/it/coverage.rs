//! Copper over a painted piece: from the contact, over the mesh, at a stated pace; in the plan, in
//! `area`, and in a rehearsed night.
//!
//! Expected values: caps of a ball of radius R within a distance s of its pole have the share
//! (1 − cos(s/R))/2 of its area, and the far pole is πR away.

#![allow(clippy::unwrap_used)] // test code, its helpers included

use super::surface::{binary, block, icosphere};
use assert_cmd::Command;
use nightvat::deposit::Cover;
use nightvat::exchange::Capability;
use nightvat::plan::{self, Outlook};
use nightvat::spec::{self, DEMO_STATION, Shelf, open_supply};
use nightvat::units::{Length, Span};
use serde_json::Value;
use std::f64::consts::PI;
use std::path::Path;

const RADIUS_MM: f64 = 11.0;

/// A folder with a ball of 22 mm as a mesh.
fn studio() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let ball = binary("ball", &icosphere(RADIUS_MM, 6));
    std::fs::write(folder.path().join("ball.stl"), ball).unwrap();
    folder
}

fn job(strike: &str, piece: &str) -> String {
    format!(
        "name = \"a ball\"\nbath = \"acid-copper-bright\"\n[target]\nthickness = \"40 um\"\n\
         [current]\ndensity = \"1.5 A/dm2\"\n[current.strike]\ndensity = \"0.3 A/dm2\"\n{strike}\n\
         [[piece]]\nname = \"ball\"\nsurface = \"paint\"\n{piece}\n"
    )
}

const BALL: &str = "shape = { kind = \"mesh\", file = \"ball.stl\", unit = \"mm\" }";

fn run(folder: &Path, words: &[&str]) -> (i32, Value) {
    let mut command = Command::cargo_bin("nightvat").unwrap();
    command.args(words).arg("--json").current_dir(folder);
    command.env("NIGHTVAT_STATE", folder.join("state"));
    let out = command.output().unwrap();
    let value = serde_json::from_slice(&out.stdout).unwrap_or(Value::Null);
    (out.status.code().unwrap(), value)
}

fn drawn(folder: &Path, text: &str) -> Outlook {
    let shelf = Shelf::disk();
    let path = folder.join("job.toml");
    std::fs::write(&path, text).unwrap();
    let job = spec::job::read(path.to_str().unwrap(), text, &shelf).unwrap();
    let bath = spec::bath::open(&job.bath, &shelf).unwrap();
    let station = spec::station::open(DEMO_STATION, &shelf).unwrap();
    let supply = open_supply(&station.supply, &shelf).unwrap();
    let capability: Capability = supply.capability();
    plan::draw(&job, &bath, &station, &capability).unwrap()
}

fn codes(outlook: &Outlook) -> Vec<&str> {
    outlook.warnings.iter().map(|it| it.code).collect()
}

/// The angle of a cap of 4 mm² on the ball.
fn patch() -> f64 {
    let share = 4.0 / (4.0 * PI * RADIUS_MM * RADIUS_MM);
    (1.0 - 2.0 * share).acos()
}

#[test]
fn the_share_follows_the_way_over_the_mesh() {
    let folder = studio();
    let piece = format!("contact = \"4 mm2\"\ncontact_at = [\"top\"]\n{BALL}");
    let outlook = drawn(folder.path(), &job("for = \"40 min\"", &piece));
    let cover = outlook.plan.pieces[0].cover;
    assert_eq!(cover.whole_after(), Span::from_min(40.0));
    for part in [0.0, 0.1, 0.25, 0.5, 0.8] {
        let angle = patch() + (PI - patch()) * part;
        let exact = (1.0 - angle.cos()) / 2.0;
        let share = cover.share(Span::from_min(40.0) * part);
        assert!((share - exact).abs() < 0.012, "{part}: {share}, {exact}");
    }
    assert!(cover.share(Span::ZERO) > 0.0, "never from nothing");
    assert!((cover.share(Span::from_min(40.0)) - 1.0).abs() < 1e-12);
}

/// 40 mm/h over πR less the patch: 50.2 min. The mesh and the simple law agree on a ball.
#[test]
fn the_pace_of_the_edge_says_how_long_the_strike_takes() {
    let folder = studio();
    let minutes = RADIUS_MM * (PI - patch()) / 40.0 * 60.0;
    let told = "contact = \"4 mm2\"\nfront_speed = \"40 mm/h\"\n";
    let pieces = [
        format!("{told}contact_at = [\"0 mm, 0 mm, 11 mm\"]\n{BALL}"),
        format!("{told}shape = {{ kind = \"sphere\", diameter = \"22 mm\" }}"),
    ];
    for piece in pieces {
        let long = job("for = \"2 h\"\nuntil = \"covered\"", &piece);
        let outlook = drawn(folder.path(), &long);
        let strike = outlook.plan.schedule.strike_for.s() / 60.0;
        assert!((strike / minutes - 1.0).abs() < 0.01, "{strike}, {minutes}");
        assert!(!codes(&outlook).contains(&"strike-short"));

        let timed = drawn(folder.path(), &job("for = \"2 h\"", &piece));
        assert_eq!(timed.plan.schedule.strike_for, Span::from_h(2.0));

        let short = job("for = \"30 min\"\nuntil = \"covered\"", &piece);
        let outlook = drawn(folder.path(), &short);
        assert_eq!(outlook.plan.schedule.strike_for, Span::from_min(30.0));
        assert!(
            codes(&outlook).contains(&"strike-short"),
            "{:?}",
            codes(&outlook)
        );
    }
}

/// Two contacts halve the way, and with it the time at one pace; counted pieces have one each.
#[test]
fn contacts_and_counted_pieces_each_have_their_way() {
    let folder = studio();
    let over = |piece: &str| {
        let strike = "for = \"4 h\"\nuntil = \"covered\"";
        let outlook = drawn(folder.path(), &job(strike, piece));
        outlook.plan.schedule.strike_for.s()
    };
    let told = "contact = \"4 mm2\"\nfront_speed = \"40 mm/h\"\n";
    let one = over(&format!("{told}contact_at = [\"top\"]\n{BALL}"));
    let two = over(&format!("{told}contact_at = [\"top\", \"bottom\"]\n{BALL}"));
    assert!(two < 0.55 * one && two > 0.4 * one, "{one}, {two}");
    let three = "shape = { kind = \"mesh\", file = \"ball.stl\", unit = \"mm\", count = 3 }";
    let counted = over(&format!("{told}contact_at = [\"top\"]\n{three}"));
    assert!((counted / one - 1.0).abs() < 0.01, "{one}, {counted}");
    let balls = "shape = { kind = \"sphere\", diameter = \"22 mm\", count = 3 }";
    let balls = over(&format!("{told}{balls}"));
    assert!((balls / one - 1.0).abs() < 0.01, "{one}, {balls}");
}

#[test]
fn a_way_of_no_time_is_refused() {
    assert!(Cover::along([1.0; 33], Span::ZERO).is_err());
}

#[test]
fn bad_contacts_are_one_clear_problem_each() {
    let folder = studio();
    let bad = |piece: &str, words: &[&str]| {
        let text = job("for = \"40 min\"", piece);
        let path = folder.path().join("job.toml");
        std::fs::write(&path, &text).unwrap();
        let problems = spec::job::read(path.to_str().unwrap(), &text, &Shelf::disk());
        let said = problems.unwrap_err().to_string();
        for word in words {
            assert!(said.contains(word), "{word} is not in: {said}");
        }
    };
    let sphere = "shape = { kind = \"sphere\", diameter = \"22 mm\" }";
    bad(
        &format!("contact_at = [\"top\"]\n{sphere}"),
        &["no mesh", "contact_at"],
    );
    bad(
        &format!("contact_at = [\"above\"]\n{BALL}"),
        &["above", "top, bottom"],
    );
    bad(&format!("contact_at = [\"1, 2, 3\"]\n{BALL}"), &["1, 2, 3"]);
    bad(
        &format!("contact_at = [\"0 mm, 0 mm, 19 mm\"]\n{BALL}"),
        &["contact 1 is 8.0 mm off", "name a side"],
    );
    bad(
        &format!("front_speed = \"9 m\"\n{BALL}"),
        &["a speed", "mm/h"],
    );
    bad(&format!("front_speed = \"90000 mm/h\"\n{BALL}"), &["5000"]);
    let metal = job(
        "for = \"40 min\"",
        &format!("contact_at = [\"top\"]\n{BALL}"),
    )
    .replace("\"paint\"", "\"metal\"");
    let said = spec::job::read("job.toml", &metal, &Shelf::disk()).unwrap_err();
    assert!(said.to_string().contains("on metal"), "{said}");
}

#[test]
fn area_tells_the_way_and_draws_it() {
    let folder = studio();
    let mesh = ["area", "--mesh", "ball.stl", "--unit", "mm"];
    let words = [
        &mesh[..],
        &["--contact", "0 mm, -11 mm, 0 mm", "--arrival", "way.svg"],
    ]
    .concat();
    let (code, said) = run(folder.path(), &words);
    assert_eq!(code, 0, "{said}");
    let rows = said["reach"].as_array().unwrap();
    assert_eq!(rows.len(), 5);
    for row in rows {
        let share = row["covered_fraction"].as_f64().unwrap();
        let exact = RADIUS_MM * (1.0 - 2.0 * share).acos();
        let ours = row["distance_mm"].as_f64().unwrap();
        assert!(
            (ours / exact - 1.0).abs() < 0.01,
            "{share}: {ours}, {exact}"
        );
    }
    assert_eq!(said["pictures"][0], "way.svg");
    let picture = std::fs::read_to_string(folder.path().join("way.svg")).unwrap();
    assert!(usvg::Tree::from_str(&picture, &usvg::Options::default()).is_ok());
    let count = |start: &str| picture.matches(start).count();
    // The contact is ringed on the side from which it is seen, and nowhere else.
    assert_eq!(count("<circle"), 1, "{picture}");
    assert_eq!(count("<path"), 16);
    let farthest = rows[4]["distance_mm"].as_f64().unwrap();
    assert!(picture.contains(&format!(" to {farthest:.1}<")));
    let (code, said) = run(
        folder.path(),
        &[&mesh[..], &["--contact", "nowhere"]].concat(),
    );
    assert_eq!(
        (code, said["error"]["code"].as_str()),
        (2, Some("bad-value")),
        "{said}"
    );
    let mut two = block([10.0, 10.0, 10.0]);
    let apart = |triangle: &[[f64; 3]; 3]| triangle.map(|[x, y, z]| [x + 30.0, y, z]);
    two.extend(block([10.0, 10.0, 10.0]).iter().map(apart));
    std::fs::write(folder.path().join("two.stl"), binary("two", &two)).unwrap();
    let words = [
        "area",
        "--mesh",
        "two.stl",
        "--unit",
        "mm",
        "--contact",
        "left",
    ];
    let (code, said) = run(folder.path(), &words);
    assert_eq!(code, 2, "{said}");
    let text = said["error"]["text"].as_str().unwrap();
    assert!(text.contains("50.0 % of the surface"), "{text}");
}

/// The rig spreads copper over a ball by a law of its own; the night is planned over the mesh.
#[test]
fn a_night_over_a_mesh_ends_by_itself() {
    let folder = studio();
    let piece = format!("contact_at = [\"top\"]\nfront_speed = \"45 mm/h\"\n{BALL}");
    let text = job("for = \"90 min\"\nuntil = \"covered\"", &piece);
    std::fs::write(folder.path().join("job.toml"), text).unwrap();
    for seed in ["1", "2", "3"] {
        let (code, said) = run(folder.path(), &["rehearse", "job.toml", "--seed", seed]);
        assert_eq!(code, 0, "{said}");
        assert_eq!(said["outcome"], "finished", "{said}");
    }
    let (code, said) = run(folder.path(), &["plan", "job.toml"]);
    assert_eq!(code, 0, "{said}");
    let thickest = Length::from_um(said["pieces"][0]["thickness_um"].as_f64().unwrap());
    assert!((thickest.um() - 40.0).abs() < 0.5);
}
