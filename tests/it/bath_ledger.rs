//! A bath through its life: made, used, kept; what the ledger knows of it, and what a job is told.

use super::bath::{Studio, near, number, row};
use super::plant::{Plant, job_of, wait};
use chrono::{DateTime, Local, SecondsFormat, TimeDelta};
use nightvat::control::Outcome;
use nightvat::daemon::as_kept;
use nightvat::ledger::{Account, Batch, ElectrodeHead, Entry, RunHead, SqliteStore, Store};
use nightvat::spec::{self, Level, Shelf};
use nightvat::units::{Area, Bounded, Charge, Length, Mass, Span};
use serde_json::Value;
use std::path::Path;

/// A label so many days ago.
pub(crate) fn ago(days: f64) -> String {
    #[allow(clippy::cast_possible_truncation)]
    let gone = TimeDelta::seconds((days * 86_400.0) as i64);
    let then: DateTime<Local> = Local::now() - gone;
    then.to_rfc3339_opts(SecondsFormat::Secs, false)
}

const BATH: &str = "north tank";

/// Says that the bath was made by a profile, 6 L of it.
fn make_it(profile: &str) -> [&str; 7] {
    ["bath", "add", BATH, "--made", profile, "--volume", "6 L"]
}

/// A bath of 6 L that was made ten days ago.
fn kept() -> Studio {
    let studio = Studio::new();
    let made = ago(10.0);
    let more = ["--surface", "300 cm2", "--at", &made];
    studio.json(&[&make_it("acid-copper-bright")[..], &more].concat(), 0);
    studio
}

/// A run of an hour in that bath that ended so many days ago; a rehearsal with a seed.
fn ran(ledger: &Path, days: f64, ah: f64, seed: Option<u64>) -> i64 {
    let mut store = SqliteStore::open(ledger, Batch::Each).unwrap();
    let head = RunHead {
        job: "stems".to_owned(),
        station: "north".to_owned(),
        bath: "acid-copper-bright".to_owned(),
        bath_ledger: Some(BATH.to_owned()),
        began: ago(days + 1.0 / 24.0),
        seed,
        electrodes: vec![ElectrodeHead {
            name: "stem".to_owned(),
            hanger: false,
            area: Area::from_cm2(10.0),
        }],
        ..RunHead::default()
    };
    let run = store.begin(&head).unwrap();
    let at = Span::from_h(1.0);
    let charge = Bounded::exact(Charge::from_ah(ah));
    let account = Account {
        charge,
        mass: Mass::from_g(ah),
        thickness: Bounded::exact(Length::from_um(1.0)),
        area: Area::from_cm2(10.0),
        on: Span::from_h(1.0),
    };
    let accounts = Entry::Accounts {
        at,
        charge,
        electrodes: vec![account],
        shown: Length::from_um(1.0),
        governing: None,
    };
    let ended = Entry::Ended {
        at,
        outcome: Outcome::Finished,
        fault: None,
    };
    for entry in [accounts, ended] {
        store.append(run, &entry).unwrap();
    }
    store.commit().unwrap();
    run
}

fn due(studio: &Studio, more: &[&str]) -> Value {
    studio.json(&[&["bath", "due", BATH], more].concat(), 0)
}

fn brightener(due: &Value) -> &Value {
    row(&due["additives"], "additive", "brightener")
}

#[test]
fn runs_and_days_use_brightener_up_and_additions_bring_it_back() {
    let studio = kept();
    let ledger = studio.path("state").join("ledger.db");
    // By hand, from the profile's figures: 6 L hold 1.5 mL; ten days at 0.005 mL/L take 0.3 mL.
    let first = due(&studio, &[]);
    near(
        number(&brightener(&first)["held_ml"]),
        1.2,
        1e-3,
        "after ten days",
    );
    assert_eq!(brightener(&first)["due"], false);
    // Due below 0.9 mL: 0.3 mL more, at 0.15 mL/Ah 2 Ah, at 0.03 mL a day ten days.
    near(
        number(&brightener(&first)["next_ah"]),
        2.0,
        1e-3,
        "next by charge",
    );
    near(
        number(&brightener(&first)["next_s"]),
        10.0 * 86_400.0,
        1e-3,
        "next by days",
    );
    // 4 Ah take 0.6 mL; a rehearsal takes nothing.
    ran(&ledger, 2.0, 4.0, None);
    ran(&ledger, 1.0, 50.0, Some(7));
    let after = due(&studio, &[]);
    let it = brightener(&after);
    near(number(&it["held_ml"]), 0.6, 2e-3, "after the run");
    assert_eq!(it["due"], true);
    near(number(&it["add_ml"]), 0.9, 2e-3, "add");
    near(number(&it["too_much_above_ml"]), 2.4, 2e-3, "too much");
    near(number(&it["since_ah"]), 4.0, 1e-9, "since");
    near(number(&after["charge_ah"]), 4.0, 1e-9, "charge");
    row(&after["warnings"], "code", "additive-due");
    assert!(
        studio
            .text(&["bath", "due", BATH])
            .contains("DUE: add 0.90 mL")
    );
    // Filled up, it is due no more.
    studio.json(&["bath", "add", BATH, "brightener 0.9 mL"], 0);
    let full = due(&studio, &[]);
    near(number(&brightener(&full)["held_ml"]), 1.5, 2e-3, "full");
    assert_eq!(number(&brightener(&full)["since_ah"]), 0.0);
    assert_eq!(full["warnings"], serde_json::json!([]));
}

#[test]
fn an_overdose_is_warned_of_with_the_last_additions() {
    let studio = kept();
    let yesterday = ago(1.0);
    studio.json(
        &["bath", "add", BATH, "brightener 1.4 mL", "--at", &yesterday],
        0,
    );
    let done = studio.json(&["bath", "add", BATH, "brightener 0.7 mL"], 0);
    // 1.2 + 1.4 + 0.7 mL are 3.3; six litres bear 3 mL.
    let note = row(&done["warnings"], "code", "overdose");
    let text = note["text"].as_str().unwrap();
    assert!(text.contains("0.70 mL") && text.contains("1.40 mL") && text.contains(&yesterday));
    assert_eq!(brightener(&due(&studio, &[]))["too_much"], true);
}

#[test]
fn water_anode_and_drift_are_told() {
    let studio = kept();
    let ledger = studio.path("state").join("ledger.db");
    let (day, five) = (ago(1.0), ago(5.0));
    studio.json(&["bath", "add", BATH, "water 2 L", "--at", &day], 0);
    studio.json(&["bath", "add", BATH, "anode 420 g", "--at", &five], 0);
    ran(&ledger, 2.0, 100.0, None);
    // 300 cm² at 25 °C lose about 0.25 kg a day into 20 °C and 50 % (PyPI CoolProp 8.0.0).
    let told = due(&studio, &["--temperature", "25 C", "--above", "20 mm"]);
    near(
        number(&told["water"]["evaporated_l"]),
        0.2495,
        0.01,
        "water",
    );
    near(number(&told["water"]["fallen_mm"]), 8.3, 0.01, "level");
    // 100 Ah take 118.55 g of copper at the cathode, and the anode gives 1 % more (by hand).
    near(number(&told["anode"]["used_g"]), 119.73, 1e-3, "anode");
    near(number(&told["anode"]["left_g"]), 300.27, 1e-3, "left");
    // 1 % of 118.55 g in 6 L is +0.1976 g/L; one piece carries 2 mL of 6 L out, of 52.2 g/L of
    // copper in 205 g/L of pentahydrate: −0.0174.
    near(
        number(&told["drift"]["metal_g_per_l"]),
        0.1802,
        5e-3,
        "drift",
    );
    let low = due(&studio, &["--temperature", "25 C", "--above", "6 mm"]);
    let note = row(&low["warnings"], "code", "level-low")["text"].clone();
    assert!(note.as_str().unwrap().contains("emerge"), "{note}");
}

#[test]
fn the_history_is_shown_and_plotted() {
    let studio = kept();
    let ledger = studio.path("state").join("ledger.db");
    let run = ran(&ledger, 5.0, 4.0, None);
    let (drawn, added) = (ago(4.0), ago(3.0));
    studio.json(&["bath", "add", BATH, "drawn 600 mL", "--at", &drawn], 0);
    studio.json(
        &[
            "bath",
            "add",
            BATH,
            "sulfuric acid 50 % 20 mL",
            "--at",
            &added,
        ],
        0,
    );
    let shown = studio.json(&["bath", "show", BATH, "--svg", "plot.svg"], 0);
    let kinds: Vec<&str> = shown["entries"]
        .as_array()
        .unwrap()
        .iter()
        .map(|entry| entry["kind"].as_str().unwrap())
        .collect();
    assert_eq!(kinds, ["made", "drawn", "added"]);
    let acid = &shown["entries"][2];
    // CRC: 50 % has 1.3952 g/mL.
    near(number(&acid["mass_g"]), 27.9, 1e-3, "acid");
    assert_eq!(shown["runs"][0]["run"], run);
    // By hand: 1.5 − 0.15 by five days − 0.6 by 4 Ah − 0.03 = 0.72; a tenth drawn off: 0.648; four
    // days more: 0.528.
    near(number(&brightener(&shown)["held_ml"]), 0.528, 3e-3, "held");
    let plot = std::fs::read_to_string(studio.path("plot.svg")).unwrap();
    let line = plot
        .split("points=\"")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap();
    let points: Vec<(f64, f64)> = line
        .split(' ')
        .map(|pair| {
            let (x, y) = pair.split_once(',').unwrap();
            (x.parse().unwrap(), y.parse().unwrap())
        })
        .collect();
    assert!(
        points.windows(2).all(|pair| pair[0].0 <= pair[1].0),
        "time runs to the right"
    );
    // The run is the deepest step down (larger y), half way along the ten days.
    let step = |pair: &[(f64, f64)]| pair[1].1 - pair[0].1;
    let deepest = points
        .windows(2)
        .max_by(|a, b| step(a).total_cmp(&step(b)))
        .unwrap();
    assert!((deepest[0].0 - 340.0).abs() < 5.0, "{deepest:?}");
    let text = studio.text(&["bath", "show", BATH]);
    assert!(
        text.contains("drawn bath 600.00 mL") && text.contains("stems"),
        "{text}"
    );
}

#[test]
fn an_analysis_is_kept_and_drift_counts_from_it() {
    let studio = kept();
    let ledger = studio.path("state").join("ledger.db");
    ran(&ledger, 2.0, 100.0, None);
    let before = due(&studio, &[]);
    assert!(number(&before["drift"]["metal_g_per_l"]) > 0.15, "{before}");
    // By stoichiometry (PyPI molmass): 8.15 mL of 0.1 M in 1 mL are 203.49 g/L.
    let words = [
        "bath",
        "check",
        "acid-copper-bright",
        "--volume",
        "6 L",
        "--copper-titration",
        "1 mL 8.15 mL 0.1 M",
        "--bath",
        BATH,
    ];
    studio.json(&words, 0);
    let shown = studio.json(&["bath", "show", BATH], 0);
    let analysed = row(&shown["entries"], "kind", "analysed");
    assert_eq!(analysed["substance"], "copper sulfate pentahydrate");
    near(number(&analysed["held_g_per_l"]), 203.49, 1e-4, "kept");
    let after = due(&studio, &[]);
    assert_eq!(number(&after["drift"]["metal_g_per_l"]), 0.0, "{after}");
    assert_eq!(after["drift"]["since"], analysed["at"]);
    let error = studio.json(&[&words[..8], &["south tank"]].concat(), 2);
    assert_eq!(error["error"]["code"], "bath-unknown");
}

#[test]
fn a_ledger_takes_only_what_was_done() {
    let studio = kept();
    let ahead = ago(-1.0);
    let before = ago(20.0);
    let cases: [(&[&str], &str); 8] = [
        (
            &["bath", "add", BATH, "brightener 1 mL", "--at", &ahead],
            "in-future",
        ),
        (
            &["bath", "add", BATH, "brightener 1 mL", "--at", &before],
            "out-of-range",
        ),
        (
            &["bath", "add", BATH, "brightener 1 mL", "--at", "tomorrow"],
            "bad-value",
        ),
        (&["bath", "add", BATH, "brightener -1 mL"], "out-of-range"),
        (&["bath", "add", BATH, "brightener 1 g"], "bad-value"),
        (&["bath", "add", BATH, "drawn 7 L"], "bad-value"),
        (
            &["bath", "add", "south tank", "brightener 1 mL"],
            "bath-unknown",
        ),
        (&["bath", "due", "south tank"], "bath-unknown"),
    ];
    for (words, code) in cases {
        let error = studio.json(words, 2)["error"].clone();
        assert_eq!(error["code"], code, "{words:?}: {error}");
        assert!(!error["remedy"].as_str().unwrap().is_empty(), "{error}");
    }
    let shown = studio.json(&["bath", "show", BATH], 0);
    assert_eq!(shown["entries"].as_array().unwrap().len(), 1, "{shown}");
}

/// What the ledger knows takes the place of what the station's file says.
#[test]
fn a_station_is_as_its_baths_ledger_knows_it() {
    let studio = kept();
    let ledger = studio.path("state").join("ledger.db");
    let (five, two) = (ago(5.0), ago(2.0));
    studio.json(&["bath", "add", BATH, "anode 420 g", "--at", &five], 0);
    studio.json(&["bath", "add", BATH, "water 1 L", "--at", &two], 0);
    ran(&ledger, 3.0, 2.0, None);
    let shelf = Shelf::embedded();
    let mut station = spec::station::open(spec::DEMO_STATION, &shelf).unwrap();
    station.tank.level = Some(Level {
        above: Length::from_mm(20.0),
        falls_a_day: Length::from_mm(4.0),
    });
    let bath = spec::bath::open("acid-copper-bright", &shelf).unwrap();
    #[allow(clippy::cast_precision_loss)]
    let now = Span::from_s(Local::now().timestamp() as f64);
    let as_filed = as_kept(&station, &bath, &ledger, &shelf, now).unwrap();
    assert_eq!(
        (as_filed.station, as_filed.said.len()),
        (station.clone(), 0),
        "a tank that names no bath is as its file has it"
    );
    station.tank.bath_ledger = Some(BATH.to_owned());
    let found = as_kept(&station, &bath, &ledger, &shelf, now).unwrap();
    assert_eq!(found.said, []);
    let found = found.station.tank;
    // Two days at 4 mm; 420 g less 2 Ah of 1.1855 g and 1 %.
    near(found.level.unwrap().above.mm(), 12.0, 1e-3, "level");
    near(
        found.anode.unwrap().mass.unwrap().g(),
        417.605,
        1e-5,
        "anode",
    );
    // 1.5 mL less ten days of 0.03 and 2 Ah of 0.15 are 0.9, the limit itself: due from now on, by
    // an account of (1.5 − 0.9)/0.15 = 4 Ah.
    let due = found.brightener.unwrap();
    near(due.every.ah(), 4.0, 1e-3, "every");
    near(due.since.ah(), 4.0, 2e-3, "since");
    let plain = spec::bath::open("acid-copper-plain", &shelf).unwrap();
    let refused = as_kept(&station, &plain, &ledger, &shelf, now).unwrap_err();
    assert_eq!((refused.code.as_str(), refused.exit), ("bath-differs", 5));
}

#[test]
fn a_top_up_in_part_leaves_the_rest_missing() {
    let studio = kept();
    let ledger = studio.path("state").join("ledger.db");
    // 300 cm² at 4 mm a day lose 120 mL: 600 mL from the tenth to the fifth day ago.
    let (five, two) = (ago(5.0), ago(2.0));
    studio.json(&["bath", "add", BATH, "water 150 mL", "--at", &five], 0);
    let shelf = Shelf::embedded();
    let mut station = spec::station::open(spec::DEMO_STATION, &shelf).unwrap();
    station.tank.bath_ledger = Some(BATH.to_owned());
    station.tank.level = Some(Level {
        above: Length::from_mm(60.0),
        falls_a_day: Length::from_mm(4.0),
    });
    let bath = spec::bath::open("acid-copper-bright", &shelf).unwrap();
    #[allow(clippy::cast_precision_loss)]
    let now = Span::from_s(Local::now().timestamp() as f64);
    let above = || {
        let found = as_kept(&station, &bath, &ledger, &shelf, now).unwrap();
        found.station.tank.level.unwrap().above.mm()
    };
    // By hand: 20 mm gone, 5 mm made good, 20 mm more gone.
    near(above(), 25.0, 1e-3, "in part");
    // Two days ago 27 mm were gone, 810 mL: 700 mL are the whole of it within the doubt, and 8 mm
    // have gone since.
    studio.json(&["bath", "add", BATH, "water 700 mL", "--at", &two], 0);
    near(above(), 52.0, 1e-3, "filled up");
    // By the estimate, too: 300 cm² at 25 °C lose 0.2495 kg a day (PyPI CoolProp 8.0.0).
    let told = due(&studio, &["--temperature", "25 C"]);
    near(
        number(&told["water"]["since_s"]),
        2.0 * 86_400.0,
        1e-3,
        "since",
    );
    let missing = 10.0 * 0.2495 - 0.15 - 0.7;
    near(
        number(&told["water"]["evaporated_l"]),
        missing,
        0.02,
        "missing",
    );
}

#[test]
fn a_station_that_names_a_bath_nobody_made_is_told_so() {
    let plant = Plant::open(20);
    tank(&plant);
    let plan = ["plan", "job.toml", "--station", "station.toml", "--json"];
    let planned = plant.run(&plan).json(0);
    let note = row(&planned["warnings"], "code", "bath-unknown")["text"].clone();
    assert!(note.as_str().unwrap().contains(BATH), "{note}");
    let _daemon = plant.serve();
    let started = plant.run(&["start", "job.toml", "--json"]).json(0);
    assert!(started.to_string().contains("bath-unknown"), "{started}");
    plant.run(&["stop", "--json"]).json(0);
}

#[test]
fn a_profile_that_is_gone_is_as_it_was() {
    let studio = Studio::new();
    let built_in = include_str!("../../profiles/baths/acid-copper-bright.toml");
    let own = built_in
        .replace("name = \"acid-copper-bright\"", "name = \"my bright\"")
        .replace("full = \"0.25 mL/L\"", "full = \"0.3 mL/L\"");
    std::fs::write(studio.path("mine.toml"), &own).unwrap();
    studio.json(&make_it("mine.toml"), 0);
    let full = |told: &Value| number(&brightener(told)["full_ml"]);
    let there = due(&studio, &[]);
    near(full(&there), 1.8, 1e-9, "its own figure");
    assert_eq!(there["warnings"], serde_json::json!([]));
    // What she changes later counts, as long as the file is there.
    std::fs::write(
        studio.path("mine.toml"),
        own.replace("\"0.3 mL/L", "\"0.4 mL/L"),
    )
    .unwrap();
    near(full(&due(&studio, &[])), 2.4, 1e-9, "as changed");
    std::fs::remove_file(studio.path("mine.toml")).unwrap();
    let gone = due(&studio, &[]);
    near(full(&gone), 1.8, 1e-9, "as it was");
    assert_eq!(gone["profile"], "my bright");
    let note = row(&gone["warnings"], "code", "profile-gone")["text"].clone();
    assert!(note.as_str().unwrap().contains("mine.toml"), "{note}");
    studio.json(&["bath", "add", BATH, "brightener 5 drops"], 0);
    let shown = studio.json(&["bath", "show", BATH], 0);
    row(&shown["warnings"], "code", "profile-gone");
    // Five drops of 0.05 mL (common practice, no source).
    let drops = row(&shown["entries"], "kind", "added");
    near(number(&drops["volume_ml"]), 0.25, 1e-9, "drops");
    // A file that is there and wrong is said, not passed over.
    std::fs::write(studio.path("mine.toml"), "name = \"my bright\"").unwrap();
    assert_eq!(studio.run(&["bath", "due", BATH]).status.code(), Some(2));
}

/// The plant's station, its tank holding this bath.
fn tank(plant: &Plant) {
    let path = plant.path("station.toml");
    let text = std::fs::read_to_string(&path).unwrap();
    let named = format!("[tank]\nbath_ledger = \"{BATH}\"\n");
    std::fs::write(path, text.replace("[tank]\n", &named)).unwrap();
}

#[test]
fn a_job_is_told_what_is_due_and_its_charge_is_booked_by_itself() {
    let plant = Plant::open(20);
    tank(&plant);
    let made = ago(19.8);
    let words = [
        &make_it("acid-copper-bright")[..],
        &["--at", &made, "--json"],
    ]
    .concat();
    plant.run(&words).json(0);
    // 1.5 mL less 19.8 days of 0.03 are 0.906: 0.006 mL above the limit, which is 0.04 Ah.
    let job = job_of("charge = \"0.05 Ah\"");
    std::fs::write(plant.path("job.toml"), job).unwrap();
    let plan = ["plan", "job.toml", "--station", "station.toml", "--json"];
    let planned = plant.run(&plan).json(0);
    let note = row(&planned["warnings"], "code", "brightener-overdue")["text"].clone();
    assert!(
        note.as_str().unwrap().contains("falls due after 0.04 Ah"),
        "{note}"
    );
    let _daemon = plant.serve();
    let started = plant.run(&["start", "job.toml", "--json"]).json(0);
    assert!(
        started.to_string().contains("brightener-overdue"),
        "{started}"
    );
    // However it ended: a machine that is busy may stall the line, and then it is tripped.
    let run = wait("the end of the run", || {
        let runs = plant.run(&["runs", "--json"]).json(0);
        Some(runs["runs"][0].clone()).filter(|run| !run["outcome"].is_null())
    });
    let charge = number(&run["charge_ah"]);
    assert!(charge > 0.0, "{run}");
    let due = plant.run(&["bath", "due", BATH, "--json"]).json(0);
    near(number(&due["charge_ah"]), charge, 1e-9, "booked");
    assert_eq!(due["runs_count"], 1);
    let it = row(&due["additives"], "additive", "brightener");
    near(
        number(&it["held_ml"]),
        0.906 - 0.15 * charge,
        2e-3,
        "used up",
    );
}

#[test]
fn a_job_for_another_bath_is_refused_before_anything_is_energised() {
    let plant = Plant::open(20);
    tank(&plant);
    plant
        .run(&[&make_it("acid-copper-plain")[..], &["--json"]].concat())
        .json(0);
    let plan = ["plan", "job.toml", "--station", "station.toml", "--json"];
    assert_eq!(plant.run(&plan).refused(5), "bath-differs");
    let _daemon = plant.serve();
    let start = plant.run(&["start", "job.toml", "--json"]);
    assert_eq!(start.refused(5), "bath-differs");
    let account = plant.account();
    assert_eq!(account["output_on"], false, "{account}");
    assert_eq!(account["charge_true_ah"], 0.0, "{account}");
    // Said to be what the job wants, it starts.
    plant
        .run(&[&make_it("acid-copper-bright")[..], &["--json"]].concat())
        .json(0);
    plant.run(&["start", "job.toml", "--json"]).json(0);
    plant.flows();
    plant.run(&["stop", "--json"]).json(0);
}
