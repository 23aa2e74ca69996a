//! The commands that need no daemon, as a person or a program meets them: the real program, its
//! exit status, its text and its one JSON object.

use serde_json::Value;
use std::fs;
use std::path::PathBuf;
use std::process::{Command, Output};

const EXE: &str = env!("CARGO_BIN_EXE_nightvat");

/// An empty folder, with a state folder in it that does not exist yet.
struct Room(tempfile::TempDir);

impl Room {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn run(&self, words: &[&str]) -> Output {
        let mut command = Command::new(EXE);
        command.args(words).current_dir(self.0.path());
        command.env("NIGHTVAT_STATE", self.path("state"));
        command.output().unwrap()
    }

    /// The one object a command prints, after this exit status.
    fn json(&self, words: &[&str], status: i32) -> Value {
        let done = self.run(&[words, &["--json"]].concat());
        assert_eq!(done.status.code(), Some(status), "{words:?}: {done:?}");
        serde_json::from_slice(&done.stdout).unwrap_or_else(|e| panic!("{words:?}: {e}: {done:?}"))
    }

    fn text(&self, words: &[&str]) -> String {
        let done = self.run(words);
        assert_eq!(done.status.code(), Some(0), "{words:?}: {done:?}");
        String::from_utf8(done.stdout).unwrap()
    }
}

#[test]
fn every_command_has_help_with_what_it_is_for() {
    let room = Room::new();
    let all = room.text(&["--help"]);
    let list = all.split("Commands:").nth(1).unwrap();
    let names: Vec<&str> = list
        .lines()
        .skip(1)
        .take_while(|line| !line.trim().is_empty())
        .filter_map(|line| line.split_whitespace().next())
        .filter(|name| *name != "help")
        .collect();
    assert!(names.len() >= 18, "{names:?}");
    for name in names {
        let help = room.text(&[name, "--help"]);
        assert!(help.contains("Usage:"), "{name}: {help}");
        let first = help.lines().next().unwrap();
        assert!(first.len() > 15, "{name} says nothing of itself: {help}");
        assert!(help.contains("--json"), "{name} has no --json: {help}");
    }
    // Help writes nothing.
    assert!(!room.path("state").exists());
}

#[test]
fn every_problem_of_a_file_is_an_object_of_its_own() {
    let room = Room::new();
    let job = "name = \"x\"\nbath = \"acid-copper-bright\"\n[target]\nthickness = 0.25\n\
               [current]\ndensty = \"1.5 A/dm2\"\n";
    fs::write(room.path("two.toml"), job).unwrap();
    let error = room.json(&["plan", "two.toml"], 2)["error"].clone();
    assert_eq!(error["code"], "several-problems");
    let problems = error["problems"].as_array().unwrap();
    let codes: Vec<_> = problems
        .iter()
        .map(|it| it["code"].as_str().unwrap())
        .collect();
    assert!(codes.contains(&"bare-number"), "{codes:?}");
    assert!(codes.contains(&"unknown-key"), "{codes:?}");
    for problem in problems {
        let place = problem["place"].as_str().unwrap();
        assert!(place.starts_with("two.toml:"), "{problem}");
        assert!(!problem["remedy"].as_str().unwrap().is_empty(), "{problem}");
    }

    // One problem speaks for itself.
    let one = job
        .replace("0.25", "\"250 mm\"")
        .replace("densty", "density");
    let one = format!(
        "{one}[[piece]]\nname = \"x\"\nsurface = \"metal\"\n\
                       shape = {{ kind = \"sphere\", diameter = \"20 mm\" }}\n"
    );
    fs::write(room.path("one.toml"), one).unwrap();
    let error = room.json(&["plan", "one.toml"], 2)["error"].clone();
    assert_eq!(error["code"], "out-of-range", "{error}");
    assert_eq!(error["place"], "one.toml:4:13", "{error}");
    assert_eq!(error["problems"], Value::Null);
    assert!(
        !room.path("state").exists(),
        "a refused plan wrote something"
    );
}

#[test]
fn a_port_is_named_by_its_whole_path() {
    let room = Room::new();
    let root = env!("CARGO_MANIFEST_DIR");
    let demo = fs::read_to_string(format!("{root}/profiles/stations/demo.toml")).unwrap();
    let relative = demo.replace("/dev/serial/by-id/bench-supply", "ttyUSB0");
    assert_ne!(demo, relative);
    fs::write(room.path("station.toml"), relative).unwrap();
    let error = room.json(&["plan", "one-stem", "--station", "station.toml"], 2)["error"].clone();
    assert_eq!(error["code"], "bad-value");
    assert_eq!(error["place"], "station.toml:4:8");
    assert!(error["remedy"].as_str().unwrap().contains("supply ports"));
}

#[test]
fn a_file_is_no_port_and_the_message_says_so() {
    let room = Room::new();
    fs::write(room.path("notes.txt"), "12").unwrap();
    let error = room.json(&["supply", "probe", "notes.txt"], 4)["error"].clone();
    assert_eq!(error["code"], "port-unusable");
    assert!(
        error["text"].as_str().unwrap().contains("it is a file"),
        "{error}"
    );
}

#[test]
fn an_area_alone_has_no_curvature_until_it_is_like_something() {
    let room = Room::new();
    let flat = room.json(&["area", "{ kind = \"area\", area = \"12 cm2\" }"], 0);
    assert_eq!(flat["area_cm2"], 12.0);
    for key in ["mean_curvature_cm", "gauss_term", "volume_cm3"] {
        assert_eq!(flat[key], Value::Null, "{key}");
    }
    assert!(flat["cautions"][0].as_str().unwrap().contains("like"));
    // A sphere of 12 cm² has M = 4πr with r = √(12/4π) cm: 12.279 920 cm, worked out by hand.
    let like =
        "{ kind = \"area\", area = \"12 cm2\", like = { kind = \"sphere\", diameter = \"2 cm\" } }";
    let round = room.json(&["area", like], 0);
    let mean = round["mean_curvature_cm"].as_f64().unwrap();
    assert!((mean - 12.279_920).abs() < 1e-5, "{mean}");
    let width = |it: &Value| it["high_cm2"].as_f64().unwrap() - it["low_cm2"].as_f64().unwrap();
    assert!(width(&round) > 0.0 && width(&flat) > 0.0);
}

#[test]
fn a_rehearsal_is_marked_wherever_its_run_and_pieces_show() {
    let room = Room::new();
    let report = room.path("night.html").display().to_string();
    let done = room.json(&["rehearse", "one-stem", "--report", &report], 0);
    assert!(fs::metadata(&report).unwrap().len() > 10_000, "{done}");
    let runs = room.json(&["runs"], 0);
    assert_eq!(runs["runs"][0]["simulated"], true, "{runs}");
    assert!(room.text(&["runs"]).contains("rehearsed"));
    let pieces = room.json(&["pieces"], 0);
    assert_eq!(pieces["pieces"][0]["simulated"], true, "{pieces}");
    assert!(room.text(&["pieces"]).contains("Simulated    run 1"));
}

#[test]
fn bad_words_are_one_error_object_with_what_to_do() {
    let room = Room::new();
    for words in [
        &["plan", "--no-such-flag"][..],
        &["nothing-of-the-sort"],
        &["area"],
    ] {
        let error = room.json(words, 2)["error"].clone();
        assert_eq!(error["code"], "bad-usage", "{error}");
        assert!(
            error["remedy"].as_str().unwrap().contains("--help"),
            "{error}"
        );
    }
    let error = room.json(&["runs"], 2)["error"].clone();
    assert_eq!(error["code"], "ledger-unreadable");
    assert!(
        error["remedy"].as_str().unwrap().contains("--ledger"),
        "{error}"
    );
}

/// A ball of 20 mm: 4π(r+d)² at 100 and 300 µm, unasked; what is asked for takes their place.
#[test]
fn area_says_how_it_grows_unasked() {
    let room = Room::new();
    let ball = "{ kind = \"sphere\", diameter = \"20 mm\" }";
    let grown = |words: &[&str]| -> Vec<(f64, f64)> {
        let area = room.json(words, 0);
        let grown = area["grown"].as_array().unwrap().iter();
        let figure = |one: &Value, key: &str| one[key].as_f64().unwrap();
        grown
            .map(|one| (figure(one, "thickness_um"), figure(one, "area_cm2")))
            .collect()
    };
    let unasked = grown(&["area", ball]);
    assert_eq!(unasked.len(), 2);
    for ((um, cm2), (wanted_um, wanted_cm2)) in unasked
        .into_iter()
        .zip([(100.0, 12.818_955), (300.0, 13.331_661)])
    {
        assert!(
            (um - wanted_um).abs() < 1e-6 && (cm2 - wanted_cm2).abs() < 1e-5,
            "{um} {cm2}"
        );
    }
    assert_eq!(grown(&["area", ball, "--thickness", "50 um"]).len(), 1);
}

/// The demo job: a strike, a ramp of two hours, and a build whose current follows the area.
#[test]
fn plan_shows_the_current_over_the_night() {
    let room = Room::new();
    let plan = room.json(&["plan", "seed-heads"], 0);
    let curve = plan["curve"].as_array().unwrap();
    let at = |point: &Value, key: &str| point[key].as_f64().unwrap();
    assert_eq!(at(&curve[0], "t_s"), 0.0);
    assert_eq!(
        Some(at(&curve[0], "current_a")),
        plan["current_start_a"].as_f64()
    );
    let last = curve.last().unwrap();
    assert!((at(last, "t_s") - plan["duration_s"].as_f64().unwrap()).abs() < 1.0);
    assert!(
        curve
            .windows(2)
            .all(|two| at(&two[0], "t_s") < at(&two[1], "t_s"))
    );
    let highest = curve
        .iter()
        .map(|point| at(point, "current_a"))
        .fold(0.0, f64::max);
    assert!((highest / plan["current_peak_a"].as_f64().unwrap() - 1.0).abs() < 0.01);
    let text = room.text(&["plan", "seed-heads"]);
    let bars = text
        .lines()
        .find(|line| line.contains('█'))
        .unwrap_or_else(|| panic!("{text}"));
    assert!(bars.contains("▁") && bars.contains(" over "), "{bars}");
}
