//! Looks, two beakers side by side, and readings for other programs.

use super::bath::{Studio, near, number, row};
use super::bath_ledger::ago;
use nightvat::bath::looks::{Clue, Evidence, LOOKS, rank};
use nightvat::control::Outcome;
use nightvat::exchange::Mode;
use nightvat::ledger::{
    Account, Batch, ElectrodeHead, Entry, ReadingEntry, RunHead, SqliteStore, Store,
};
use nightvat::spec;
use nightvat::units::{Area, Bounded, Charge, Current, Length, Mass, Span, Voltage};
use serde_json::Value;

/// A run of an hour on 50 cm² in a bath, at this density in A/dm², that ended a while ago.
fn ran(studio: &Studio, bath: &str, density: f64, hours_ago: f64) -> i64 {
    stirred(studio, bath, density, hours_ago, None, false)
}

/// The peak of a run's pieces against the mean, as its plan took it.
fn peaked(studio: &Studio, run: i64, peak_to_mean: Option<f64>) {
    let ledger = rusqlite::Connection::open(studio.path("state").join("ledger.db")).unwrap();
    let sql = "UPDATE runs SET peak_to_mean = ?2 WHERE run = ?1";
    ledger.execute(sql, (run, peak_to_mean)).unwrap();
}

/// The same in a tank that its station said was stirred, or not; or whose stirring went out.
fn stirred(
    studio: &Studio,
    bath: &str,
    density: f64,
    hours_ago: f64,
    stirred: Option<bool>,
    went_out: bool,
) -> i64 {
    let ledger = studio.path("state").join("ledger.db");
    let mut store = SqliteStore::open(&ledger, Batch::Each).unwrap();
    let current = density * 0.5;
    let head = RunHead {
        job: "beaker".to_owned(),
        station: "bench".to_owned(),
        bath: "acid-copper-bright".to_owned(),
        bath_ledger: Some(bath.to_owned()),
        stirred,
        began: ago((hours_ago + 1.0) / 24.0),
        electrodes: vec![ElectrodeHead {
            name: "coupon".to_owned(),
            hanger: false,
            area: Area::from_cm2(50.0),
        }],
        ..RunHead::default()
    };
    let run = store.begin(&head).unwrap();
    for minute in 0..=60 {
        let at = Span::from_min(f64::from(minute));
        let reading = ReadingEntry {
            at,
            current: Some(Current::from_a(current)),
            voltage: Some(Voltage::from_v(0.5)),
            // A setpoint is counted in steps of 1 mA, and that leaves noise.
            setpoint: Current::from_a(current * (1.0 + 4e-16)),
            mode: Some(Mode::ConstantCurrent),
            charge: Current::from_a(current) * at,
            thickness: Length::from_um(10.0 * density * at.h()),
        };
        store.append(run, &Entry::Reading(reading)).unwrap();
    }
    let (at, charge) = (Span::from_h(1.0), Bounded::exact(Charge::from_ah(current)));
    let thickness = Length::from_um(10.0 * density);
    let accounts = Entry::Accounts {
        at,
        charge,
        electrodes: vec![Account {
            charge,
            mass: Mass::from_g(1.1855 * current),
            thickness: Bounded::exact(thickness),
            area: Area::from_cm2(50.0),
            on: at,
        }],
        shown: thickness,
        governing: Some(0),
    };
    let ended = Entry::Ended {
        at,
        outcome: Outcome::Finished,
        fault: None,
    };
    if went_out {
        let event = Entry::Event {
            at,
            code: "stirring-out",
            text: "the sensor says 0".to_owned(),
        };
        store.append(run, &event).unwrap();
    }
    store.append(run, &accounts).unwrap();
    store.append(run, &ended).unwrap();
    store.commit().unwrap();
    run
}

/// A bath of a litre, made so many days ago.
fn made(studio: &Studio, bath: &str, days: f64) {
    let at = ago(days);
    let words = [
        "bath",
        "add",
        bath,
        "--made",
        "acid-copper-bright",
        "--volume",
        "1 L",
    ];
    studio.json(&[&words[..], &["--at", &at]].concat(), 0);
}

fn look(studio: &Studio, run: i64, look: &str) -> Value {
    studio.json(&["bath", "look", &run.to_string(), look], 0)
}

#[test]
fn the_same_look_after_two_histories_has_two_first_causes() {
    let studio = Studio::new();
    // By hand: a litre holds 0.25 mL; 0.005 a day and 0.15 mL for each Ah; due below 0.15.
    made(&studio, "spent", 15.0);
    made(&studio, "fresh", 0.2);
    let spent = ran(&studio, "spent", 1.5, 1.0);
    let fresh = ran(&studio, "fresh", 1.0, 1.0);
    let first = |run| look(&studio, run, "pink")["causes"][0].clone();
    let (one, other) = (first(spent), first(fresh));
    assert_eq!(one["cause"], "brightener is low", "{one}");
    assert_eq!(one["speaks_for"], true);
    assert!(
        one["evidence"].as_str().unwrap().contains("due below 0.15"),
        "{one}"
    );
    assert_ne!(other["cause"], one["cause"], "{other}");
    // The same look, and the bath fresh, but edges far above the window: 6 A/dm² against 5.
    let strong = ran(&studio, "fresh", 4.0, 0.0);
    let fault = look(&studio, strong, "burnt")["causes"][0].clone();
    assert_eq!(fault["cause"], "current density is too high", "{fault}");
    assert!(
        fault["evidence"]
            .as_str()
            .unwrap()
            .contains("6.00 at edges"),
        "{fault}"
    );
    let gentle = look(&studio, fresh, "burnt")["causes"][0].clone();
    assert_ne!(gentle["cause"], fault["cause"], "{gentle}");
    // One change at a time, and what tells them apart.
    let text = studio.text(&["bath", "look", &spent.to_string(), "pink"]);
    assert_eq!(text.matches("Change ").count(), 1, "{text}");
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(text.contains("nothing else at the same time"), "{text}");
    assert!(text.contains("apart the next small piece"), "{text}");
}

#[test]
fn a_look_is_judged_by_how_the_tank_was_stirred() {
    let studio = Studio::new();
    made(&studio, "fresh", 0.2);
    // 2.5 A/dm² are 3.75 at edges: above the 2.5 of the still window, inside the 5 of the stirred.
    let first = |how, went_out| {
        let run = stirred(&studio, "fresh", 2.5, 0.0, how, went_out);
        look(&studio, run, "burnt")["evidence"]
            .as_array()
            .unwrap()
            .iter()
            .find(|one| one["clue"] == "density-high")
            .unwrap()
            .clone()
    };
    for (how, went_out, high, words) in [
        (Some(true), false, false, "stirred, as its station says"),
        (Some(true), true, true, "still, since its stirring was out"),
        (Some(false), false, true, "still, as its station says"),
        (None, false, true, "nobody wrote down"),
    ] {
        let found = first(how, went_out);
        assert_eq!(found["speaks_for"], high, "{found}");
        assert!(found["text"].as_str().unwrap().contains(words), "{found}");
    }
}

/// What edges get is what the plan took for the run's own pieces, not one figure for all shapes.
#[test]
fn a_look_is_judged_by_the_peak_of_the_runs_own_pieces() {
    let studio = Studio::new();
    made(&studio, "fresh", 0.2);
    let run = stirred(&studio, "fresh", 4.0, 0.0, Some(true), false);
    let dense = |peak: Option<f64>| {
        peaked(&studio, run, peak);
        let told = look(&studio, run, "burnt")["evidence"].clone();
        let found = told.as_array().unwrap().iter().cloned();
        let mut found = found.filter(|one| one["clue"] == "density-high");
        found.next().unwrap_or_else(|| panic!("{told}"))
    };
    // 4 A/dm² on the mean, against the 5 of the stirred window. A run of before it was kept counts
    // as edged, 1.5; a ball's facing side gets 1.2; a point 2.
    for (peak, at_edges, high) in [
        (None, "6.00 at edges", true),
        (Some(1.2), "4.80 at edges", false),
        (Some(2.0), "8.00 at edges", true),
    ] {
        let found = dense(peak);
        assert_eq!(found["speaks_for"], high, "{found}");
        assert!(
            found["text"].as_str().unwrap().contains(at_edges),
            "{found}"
        );
    }
    // What was hung later counts as edged, since only the plan of the beginning was kept.
    let ledger = rusqlite::Connection::open(studio.path("state").join("ledger.db")).unwrap();
    let paper = "INSERT INTO papers (run, t_s, path, pieces_text) VALUES (?1, 60, 'more.toml', '')";
    ledger.execute(paper, [run]).unwrap();
    assert_eq!(dense(Some(1.2))["speaks_for"], true);
    assert_eq!(dense(Some(2.0))["speaks_for"], true);
}

#[test]
fn every_look_has_causes_each_with_its_source_and_what_tells_it_apart() {
    let table = spec::looks::built_in().unwrap();
    for look in LOOKS {
        let ranked = rank(&table, &[look.to_owned()], &[]);
        assert!(!ranked.is_empty(), "{look}");
        assert!(
            ranked.windows(2).all(|pair| pair[0].score >= pair[1].score),
            "{look}"
        );
    }
    for cause in &table {
        assert!(
            ["[g]", "[m]", "[c]"]
                .iter()
                .any(|tag| cause.source.starts_with(tag)),
            "{cause:?}"
        );
    }
    // Evidence for a cause raises it over one that is more common, evidence against lowers it.
    let says = |speaks_for| {
        [Evidence {
            clue: Clue::AnodeStrained,
            speaks_for,
            text: String::new(),
        }]
    };
    let (with, without) = (says(true), says(false));
    let first = rank(&table, &["rough".to_owned()], &with);
    assert_eq!(first[0].cause.name, "the anode is strained");
    let last = rank(&table, &["rough".to_owned()], &without);
    assert_eq!(last.last().unwrap().cause.name, "the anode is strained");
}

#[test]
fn a_look_that_nobody_knows_is_refused() {
    let studio = Studio::new();
    made(&studio, "fresh", 0.2);
    let run = ran(&studio, "fresh", 1.0, 0.0).to_string();
    let error = studio.json(&["bath", "look", &run, "purple"], 2)["error"].clone();
    assert!(
        error["text"].as_str().unwrap().contains("bare patches"),
        "{error}"
    );
    let error = studio.json(&["bath", "look", "99", "pink"], 2)["error"].clone();
    assert_eq!(error["code"], "ledger-unreadable");
}

#[test]
fn two_beakers_stand_side_by_side_and_what_is_not_alike_is_said() {
    let studio = Studio::new();
    made(&studio, "beaker a", 1.0);
    made(&studio, "beaker b", 1.0);
    let [a, b] = ["beaker a", "beaker b"].map(|bath| ran(&studio, bath, 1.5, 1.0).to_string());
    look(&studio, a.parse().unwrap(), "bright");
    let done = studio.json(&["compare", &a, &b], 0);
    assert_eq!(done["unlike"], serde_json::json!([]), "{done}");
    let run = &done["runs"][0];
    assert_eq!(run["bath_ledger"], "beaker a");
    assert_eq!(run["looks"], serde_json::json!(["bright"]));
    assert_eq!(done["runs"][1]["looks"], serde_json::json!([]));
    // 0.75 A for an hour on 50 cm²: 0.75 Ah and 1.5 A/dm².
    near(number(&run["charge_ah"]), 0.75, 1e-9, "charge");
    near(number(&run["mean_a_per_dm2"]), 1.5, 1e-9, "density");
    near(number(&run["flowed_s"]), 3600.0, 1e-9, "time");
    let text = studio.text(&["compare", &a, &b]);
    assert!(text.contains("beaker a") && text.contains("beaker b") && !text.contains("Not alike"));
    // Another density, in the same bath: no fair trial of two baths.
    let c = ran(&studio, "beaker b", 3.0, 0.0).to_string();
    let unfair = studio.json(&["compare", &b, &c], 0)["unlike"].to_string();
    assert!(
        unfair.contains("compares no baths") && unfair.contains("1.50 against 3.00"),
        "{unfair}"
    );
    assert_eq!(
        studio.json(&["compare", &a, "99"], 2)["error"]["code"],
        "ledger-unreadable"
    );
}

#[test]
fn readings_come_out_as_they_went_in() {
    let studio = Studio::new();
    made(&studio, "beaker a", 1.0);
    let run = ran(&studio, "beaker a", 1.5, 0.0).to_string();
    let csv = studio.text(&["export", &run]);
    let lines: Vec<&str> = csv.lines().collect();
    assert_eq!(
        lines[0],
        "t_s,current_a,voltage_v,setpoint_a,mode,charge_ah,thickness_um"
    );
    assert_eq!(lines.len(), 62);
    let last: Vec<&str> = lines[61].split(',').collect();
    assert_eq!(last[3], "0.75", "a setpoint as it was set");
    assert_eq!(last[4], "CC");
    for (text, expected) in [
        (last[0], 3600.0),
        (last[1], 0.75),
        (last[5], 0.75),
        (last[6], 15.0),
    ] {
        near(text.parse().unwrap(), expected, 1e-9, text);
    }
    let done = studio.json(&["export", &run], 0);
    let rows = done["readings"].as_array().unwrap();
    assert_eq!(rows.len(), 61);
    assert_eq!(number(&rows[60]["t_s"]), 3600.0);
    near(number(&rows[30]["charge_ah"]), 0.375, 1e-9, "half way");
    studio.text(&["export", &run, "--out", "night.csv"]);
    let filed = std::fs::read_to_string(studio.path("night.csv")).unwrap();
    assert!(filed == csv, "the file is not what is printed");
    let told = studio.json(&["export", &run, "--out", "night.json"], 0);
    assert_eq!(told["readings_count"], 61);
    let filed = std::fs::read_to_string(studio.path("night.json")).unwrap();
    let filed: Value = serde_json::from_str(&filed).unwrap();
    assert!(filed == done, "another object in the file");
    let wrong = studio.json(&["export", &run, "--out", "no/such/folder.csv"], 2);
    assert_eq!(wrong["error"]["code"], "not-writable");
    // A rehearsal's readings, too.
    studio.json(&["rehearse", "one-stem"], 0);
    let runs = studio.json(&["runs"], 0);
    let rehearsed = row(&runs["runs"], "job", "one stem")["run"].to_string();
    let csv = studio.text(&["export", &rehearsed]);
    assert!(csv.lines().count() > 100);
    for line in csv.lines().skip(1) {
        let (at, _) = line.split_once(',').unwrap();
        let digits = at.split_once('.').map_or(0, |(_, after)| after.len());
        assert!(digits <= 9, "{at} s: no clock tells that");
    }
}
