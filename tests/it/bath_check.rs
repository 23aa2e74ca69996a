//! Analyses, corrections and panels, as a person meets them.

use super::bath::{Studio, near, number, row};
use serde_json::Value;

fn check(more: &[&str], status: i32) -> Value {
    let words = [&["bath", "check", "acid-copper-bright"], more].concat();
    Studio::new().json(&words, status)
}

fn held(list: &Value, component: &str) -> f64 {
    number(&row(list, "component", component)["g_per_l"])
}

#[test]
fn titrations_come_to_grams_in_a_litre() {
    // By stoichiometry with molar masses of PyPI molmass 2026.1.8.
    let done = check(
        &[
            "--volume",
            "6 L",
            "--copper-titration",
            "1.00 mL 8.15 mL 0.1000 M",
            "--acid-titration",
            "2.00 mL 2.45 mL 1.000 N",
            "--chloride-titration",
            "50 mL 0.95 mL 0.1000 N",
        ],
        0,
    );
    near(
        held(&done["check"], "copper sulfate pentahydrate"),
        203.49,
        2e-4,
        "copper",
    );
    near(held(&done["check"], "sulfuric acid"), 60.07, 2e-4, "acid");
    near(held(&done["check"], "chloride"), 0.067_36, 2e-4, "chloride");
    assert_eq!(done["correction"]["draw_off_l"], 0.0, "{done}");
    assert_eq!(done["correction"]["additions"], serde_json::json!([]));
}

/// What is in the tank after a correction, from its own steps: the masses are put together again.
fn afterwards(done: &Value, litres: f64, before: f64, substance: &str, share: f64) -> f64 {
    let left = before * (litres - number(&done["correction"]["draw_off_l"]));
    let steps = done["correction"]["additions"].as_array().unwrap();
    let put = steps.iter().filter(|step| step["substance"] == substance);
    let added: f64 = put.map(|step| number(&step["mass_g"]) * share).sum();
    (left + added) / litres
}

#[test]
fn what_is_missing_is_added_and_makes_room_for_itself() {
    // 20 g/L too little acid in 10 L; the mass balance must come to the target, 55 g/L.
    let more = [
        "--volume",
        "10 L",
        "--holds",
        "sulfuric acid=25 g/L",
        "--holds",
        "copper sulfate pentahydrate=215 g/L",
        "--holds",
        "chloride=80 mg/L",
        "--acid",
        "50 %",
    ];
    let done = check(&more, 0);
    near(
        afterwards(&done, 10.0, 25.0, "sulfuric acid", 0.5),
        55.0,
        1e-6,
        "acid",
    );
    // Pure water of that mass of acid would take more room than acid does, and none would be too
    // little: 300 g of acid in 600 g of solution displace 300 to 600 mL.
    let drawn = number(&done["correction"]["draw_off_l"]);
    assert!((0.3..0.65).contains(&drawn), "{done}");
    let copper = held(&done["correction"]["check"], "copper sulfate pentahydrate");
    near(
        copper,
        215.0 * (10.0 - drawn) / 10.0,
        1e-6,
        "copper thinned",
    );
    assert!(
        done["cautions"]
            .to_string()
            .contains("never water into acid"),
        "{done}"
    );
    row(&done["warnings"], "code", "below-window");
}

/// A tank with twice the chloride it should have.
const SALTY: [&str; 8] = [
    "--volume",
    "6 L",
    "--holds",
    "chloride=164 mg/L",
    "--holds",
    "copper sulfate pentahydrate=205 g/L",
    "--holds",
    "sulfuric acid=55 g/L",
];

#[test]
fn what_is_too_much_is_drawn_off_and_the_rest_brought_back() {
    // 164 mg/L of chloride to 80 is 1 − 80/164 of the tank drawn off, by the law of mixing.
    let done = check(&SALTY, 0);
    near(
        number(&done["correction"]["draw_off_l"]),
        6.0 * (1.0 - 80.0 / 164.0),
        1e-6,
        "drawn",
    );
    near(
        held(&done["correction"]["check"], "chloride"),
        0.08,
        1e-6,
        "chloride",
    );
    // That takes copper and acid below their windows, so they come back to their targets.
    let copper = "copper sulfate pentahydrate";
    near(
        afterwards(&done, 6.0, 205.0, copper, 1.0),
        205.0,
        1e-6,
        copper,
    );
    near(
        afterwards(&done, 6.0, 55.0, "sulfuric acid", 0.96),
        55.0,
        1e-6,
        "acid",
    );
    let rows = done["correction"]["check"].as_array().unwrap();
    assert!(rows.iter().all(|row| row["ok"] == true), "{done}");
    let steps = done["correction"]["additions"].as_array().unwrap();
    assert_eq!(
        steps[0]["substance"], "water",
        "water never goes in after the acid: {done}"
    );
    let said = Studio::new().text(&[&["bath", "check", "acid-copper-bright"], &SALTY[..]].concat());
    assert!(said.contains("draw off 3.073 L"), "{said}");
}

#[test]
fn water_with_chloride_of_its_own_brings_less_down() {
    let water = ["--water-chloride", "40 mg/L"];
    let done = check(&[&SALTY[..], &water].concat(), 0);
    let steps = &done["correction"]["additions"];
    let poured = number(&row(steps, "substance", "water")["volume_ml"]) / 1000.0;
    // The law of mixing: what stays, and what the water brings.
    let drawn = number(&done["correction"]["draw_off_l"]);
    let after = (164.0 * (6.0 - drawn) + 40.0 * poured) / 6.0;
    near(after, 80.0, 1e-3, "chloride");
    near(
        held(&done["correction"]["check"], "chloride"),
        0.08,
        1e-3,
        "as told",
    );
    assert!(
        drawn > 6.0 * (1.0 - 80.0 / 164.0) + 0.5,
        "more than with clean water: {drawn}"
    );
    // Water that has as much as is wanted can bring nothing down to it.
    let error = check(&[&SALTY[..], &["--water-chloride", "90 mg/L"]].concat(), 2);
    let text = error["error"]["text"].as_str().unwrap();
    assert!(text.contains("use deionised water"), "{error}");
}

#[test]
fn an_analysis_says_how_the_bath_should_conduct() {
    // By estimate, 200 and 50 g/L: 0.17 to 0.20 S/cm at 25 °C, ±15 % (see the room's own tests).
    let copper = [
        "--volume",
        "1 L",
        "--holds",
        "copper sulfate pentahydrate=200 g/L",
    ];
    let whole = check(
        &[&copper[..], &["--holds", "sulfuric acid=50 g/L"]].concat(),
        0,
    );
    near(
        number(&whole["conductivity_s_per_cm"]),
        0.185,
        0.2,
        "conducts",
    );
    let part = check(&copper, 0);
    assert!(
        part["conductivity_s_per_cm"].is_null(),
        "no acid was told: {part}"
    );
}

#[test]
fn a_density_tells_the_acid_coarsely_and_says_so() {
    // PyPI thermo 0.6.1: 200 g/L of pentahydrate and 50 g/L of acid have 1.15394 g/mL at 20 °C.
    let density = ["--volume", "6 L", "--density", "1.15394 g/mL"];
    let done = check(
        &[&density[..], &["--copper-by-colour", "200 g/L"]].concat(),
        0,
    );
    near(held(&done["check"], "sulfuric acid"), 50.0, 0.01, "acid");
    let note = row(&done["warnings"], "code", "coarse-reading");
    assert!(note["text"].as_str().unwrap().contains("titrate"), "{note}");
    row(&done["warnings"], "code", "not-analysed");
    let alone = check(&density, 2);
    assert_eq!(alone["error"]["code"], "bad-value", "{alone}");
}

#[test]
fn an_impossible_analysis_is_refused() {
    // 100 mL of 0.1 M in 1 mL would be 2497 g/L.
    let copper = ["--volume", "6 L", "--copper-titration", "1 mL 100 mL 0.1 M"];
    assert_eq!(check(&copper, 2)["error"]["code"], "impossible-bath");
    let acid = ["--volume", "6 L", "--acid-titration", "1 mL 30 mL 1 N"];
    assert_eq!(check(&acid, 2)["error"]["code"], "impossible-bath");
    let light = [
        "--volume",
        "6 L",
        "--density",
        "1.02 g/mL",
        "--copper-by-colour",
        "200 g/L",
    ];
    assert_eq!(check(&light, 2)["error"]["code"], "impossible-bath");
    for titration in ["1 mL 8 mL", "1 mL 8 mL 0.1", "1 mL 8 mL 20 N"] {
        let words = ["--volume", "6 L", "--acid-titration", titration];
        let error = check(&words, 2)["error"].clone();
        let code = error["code"].as_str().unwrap();
        assert!(["bad-value", "out-of-range"].contains(&code), "{error}");
    }
    assert_eq!(check(&["--volume", "6 L"], 2)["error"]["code"], "bad-value");
}

#[test]
fn a_panel_reads_as_the_trade_and_as_the_exact_map() {
    let studio = Studio::new();
    let words = [
        "bath",
        "panel",
        "--current",
        "2 A",
        "--bright-from",
        "10 mm",
        "--bright-to",
        "50.8 mm",
        "--svg",
        "ruler.svg",
    ];
    let done = studio.json(&words, 0);
    // The trade's formula at 20 mm: 2 × 3.5226 A/dm², from memory; the map: 1.542 of the mean of
    // 4.082 A/dm² (mpmath 1.3.0).
    let at20 = row_at(&done, 20);
    near(number(&at20["formula_a_per_dm2"]), 7.0452, 1e-4, "formula");
    near(number(&at20["primary_a_per_dm2"]), 6.295, 1e-3, "map");
    assert_eq!(row_at(&done, 90)["formula_a_per_dm2"], Value::Null);
    near(
        number(&done["bright"]["high_a_per_dm2"]),
        8.777,
        2e-3,
        "high",
    );
    near(number(&done["bright"]["low_a_per_dm2"]), 2.917, 2e-3, "low");
    // The ruler is at true scale: a millimetre of the drawing is one of paper, and the panel's
    // frame is as long as the panel, hypot(79.375, 63.5) = 101.65 mm.
    let ruler = std::fs::read_to_string(studio.path("ruler.svg")).unwrap();
    let attribute = |text: &str, key: &str| {
        let start = text.find(&format!("{key}=\"")).unwrap() + key.len() + 2;
        text[start..].split('"').next().unwrap().to_owned()
    };
    let wide: f64 = attribute(&ruler, "width")
        .strip_suffix("mm")
        .unwrap()
        .parse()
        .unwrap();
    let view = attribute(&ruler, "viewBox");
    let units: f64 = view.split(' ').nth(2).unwrap().parse().unwrap();
    assert_eq!(wide, units);
    let frame = &ruler[ruler.find("<rect").unwrap()..];
    near(
        attribute(frame, "width").parse().unwrap(),
        101.65,
        1e-3,
        "frame",
    );
    let mark = "<text x=\"30.00\" y=\"15\" text-anchor=\"middle\">7.05</text>";
    assert!(ruler.contains(mark), "20 mm stands at 10 + 20 mm: {ruler}");
    let bad = [
        "bath",
        "panel",
        "--current",
        "2 A",
        "--bright-from",
        "50 mm",
        "--bright-to",
        "9 mm",
    ];
    assert_eq!(studio.json(&bad, 2)["error"]["code"], "out-of-range");
}

fn row_at(done: &Value, mm: u64) -> Value {
    let rows = done["ruler"].as_array().unwrap();
    rows.iter()
        .find(|row| row["position_mm"] == mm)
        .unwrap()
        .clone()
}

#[test]
fn a_bath_whose_density_nobody_knows_is_filled_to_the_mark() {
    let studio = Studio::new();
    let words = [
        "bath",
        "check",
        "nickel-sulfamate",
        "--volume",
        "5 L",
        "--at",
        "45 C",
        "--holds",
        "boric acid=50 g/L",
        "--holds",
        "nickel sulfamate tetrahydrate=310 g/L",
    ];
    let done = studio.json(&words, 0);
    // 50 to 35 g/L is three tenths drawn off; 217 g/L of nickel salt are left, 350 wanted: 665 g.
    let correction = &done["correction"];
    near(number(&correction["draw_off_l"]), 1.5, 1e-9, "drawn");
    let salt = row(
        &correction["additions"],
        "substance",
        "nickel sulfamate tetrahydrate",
    );
    near(number(&salt["mass_g"]), 665.0, 1e-9, "salt");
    let steps = correction["additions"].as_array().unwrap();
    assert_eq!(steps.last().unwrap()["substance"], "water", "{done}");
    assert_eq!(steps.last().unwrap()["mass_g"], Value::Null);
    assert!(
        done["cautions"]
            .to_string()
            .contains("Nickel salts cause allergy"),
        "{done}"
    );
}
