//! What is measured on finished pieces, and what the next job makes of it.

#![allow(clippy::unwrap_used)] // test code, its helpers included

use assert_cmd::Command;
use serde_json::Value;
use std::path::Path;

fn nightvat(folder: &Path, words: &[&str]) -> (i32, Value) {
    let out = Command::cargo_bin("nightvat")
        .unwrap()
        .current_dir(folder)
        .env("NIGHTVAT_STATE", folder.join("state"))
        .args(words)
        .arg("--json")
        .output()
        .unwrap();
    let said = String::from_utf8(out.stdout).unwrap();
    let last = said.lines().last().unwrap_or("null");
    let value = serde_json::from_str(&said).or_else(|_| serde_json::from_str(last));
    (out.status.code().unwrap(), value.unwrap_or(Value::Null))
}

fn number(value: &Value, key: &str) -> f64 {
    value[key]
        .as_f64()
        .unwrap_or_else(|| panic!("{key} in {value}"))
}

fn job(name: &str, length: &str) -> String {
    format!(
        "name = \"a stem\"\nbath = \"acid-copper-plain\"\n[target]\nthickness = \"150 um\"\n\
         [current]\ndensity = \"1.5 A/dm2\"\n[[piece]]\nname = \"{name}\"\nsurface = \"metal\"\n\
         shape = {{ kind = \"wire\", diameter = \"1.2 mm\", length = \"{length}\" }}\n"
    )
}

fn warned<'a>(plan: &'a Value, code: &str) -> Option<&'a str> {
    let all = plan["warnings"].as_array().unwrap();
    let found = all.iter().find(|one| one["code"] == code)?;
    found["text"].as_str()
}

/// A rehearsed run of one stem, 150 µm of copper on a wire of 1.2 x 180 mm.
fn rehearsed(folder: &Path) -> Value {
    std::fs::write(folder.join("stem.toml"), job("stem", "180 mm")).unwrap();
    std::fs::write(folder.join("other.toml"), job("stalk", "180 mm")).unwrap();
    std::fs::write(folder.join("longer.toml"), job("stem", "200 mm")).unwrap();
    let (code, told) = nightvat(folder, &["rehearse", "stem.toml", "--clean"]);
    assert_eq!(code, 0, "{told}");
    let (code, pieces) = nightvat(folder, &["pieces"]);
    assert_eq!(code, 0);
    pieces["pieces"][0].clone()
}

/// As if the runs in the ledger had been real: what is rehearsed teaches nothing.
fn made_real(folder: &Path) {
    let ledger = rusqlite::Connection::open(folder.join("state/ledger.db")).unwrap();
    ledger.execute("UPDATE runs SET simulated = 0", []).unwrap();
}

#[test]
fn a_rehearsed_run_teaches_the_next_real_one_nothing_and_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    rehearsed(at);
    let before = nightvat(at, &["plan", "stem.toml"]).1;
    let (code, told) = nightvat(at, &["gauge", "1/stem", "120 um"]);
    assert_eq!((code, &told["teaches"]), (0, &Value::Bool(false)), "{told}");
    let (code, told) = nightvat(at, &["weigh", "1/stem", "0.9 g"]);
    assert_eq!((code, &told["teaches"]), (0, &Value::Bool(false)), "{told}");
    assert_eq!(
        nightvat(at, &["plan", "stem.toml"]).1["pieces"],
        before["pieces"]
    );
    made_real(at);
    let after = nightvat(at, &["plan", "stem.toml"]).1;
    assert!(warned(&after, "area-from-gauge").is_some(), "{after}");
}

#[test]
fn a_gauge_corrects_the_area_of_the_next_piece_like_it_and_of_no_other() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let piece = rehearsed(at);
    made_real(at);
    let before = nightvat(at, &["plan", "stem.toml"]).1;
    // π·1.2·180 mm².
    assert!((number(&before, "area_cm2") - 6.785_840_13).abs() < 1e-6);

    let (code, told) = nightvat(at, &["gauge", "1/stem", "120 um"]);
    assert_eq!((code, number(&told, "gauged_um")), (0, 120.0), "{told}");

    let after = nightvat(at, &["plan", "stem.toml"]).1;
    // The deposit's volume is its mass over the bath's 8.96 g/cm3; on a wire of 180 mm it is
    // A·d + π·L·d², so A = V/d − π·L·d with d = 0.12 mm.
    let volume_mm3 = number(&piece, "mass_g") / 8.96 * 1e3;
    let area_mm2 = volume_mm3 / 0.12 - std::f64::consts::PI * 180.0 * 0.12;
    let found = number(&after, "area_cm2") * 100.0;
    assert!((found / area_mm2 - 1.0).abs() < 1e-4, "{found}, {area_mm2}");
    let said = warned(&after, "area-from-gauge").unwrap();
    assert!(said.contains("run 1"), "{said}");
    // A thicker wire takes more current, and its interval is that of the gauge, not of the shape.
    assert!(number(&after, "current_start_a") > 1.2 * number(&before, "current_start_a"));
    let piece = &after["pieces"][0];
    assert!(number(piece, "thickness_high_um") > 1.09 * number(piece, "thickness_um"));

    for other in ["other.toml", "longer.toml"] {
        let plan = nightvat(at, &["plan", other]).1;
        assert_eq!(warned(&plan, "area-from-gauge"), None, "{other}");
    }
    // The last reading counts, and stands beside the piece.
    nightvat(at, &["gauge", "1/stem", "150 um"]);
    let pieces = nightvat(at, &["pieces"]).1;
    assert_eq!(number(&pieces["pieces"][0], "gauged_um"), 150.0);
    let plan = nightvat(at, &["plan", "stem.toml"]).1;
    assert!(
        (number(&plan, "area_cm2") - 6.785_84).abs() < 0.01,
        "{plan}"
    );
}

#[test]
fn a_scale_corrects_the_mass_for_each_amp_hour_and_never_the_area() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let piece = rehearsed(at);
    made_real(at);
    let before = nightvat(at, &["plan", "stem.toml"]).1;
    let ninety = 0.9 * number(&piece, "mass_g");
    let (code, told) = nightvat(at, &["weigh", "1/stem", &format!("{ninety} g")]);
    assert_eq!(code, 0, "{told}");
    let per_ah = number(&told, "per_ah_g");
    assert!((per_ah - ninety / number(&piece, "charge_ah")).abs() < 1e-9);

    let after = nightvat(at, &["plan", "stem.toml"]).1;
    assert_eq!(number(&after, "area_cm2"), number(&before, "area_cm2"));
    assert!(warned(&after, "mass-from-scale").is_some());
    assert_eq!(warned(&after, "area-from-gauge"), None);
    // The same copper takes one part in 0.9 more charge.
    let more = number(&after, "charge_ah") / number(&before, "charge_ah");
    assert!((more - 1.0 / 0.9).abs() < 1e-3, "{more}");
    let ratio = number(&after, "mass_g") / number(&after, "charge_ah");
    assert!((ratio / per_ah - 1.0).abs() < 1e-3, "{ratio}, {per_ah}");
    let plan = nightvat(at, &["plan", "other.toml"]).1;
    assert_eq!(warned(&plan, "mass-from-scale"), None);
}

#[test]
fn what_cannot_have_been_measured_is_refused_and_not_noted() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    rehearsed(at);
    for (words, code) in [
        (["gauge", "1/stem", "15 mm"], "bad-value"),
        (["gauge", "1/stem", "-150 um"], "bad-value"),
        (["gauge", "1/stalk", "150 um"], "not-found"),
        (["gauge", "7/stem", "150 um"], "not-found"),
        (["gauge", "stem", "150 um"], "bad-value"),
        (["weigh", "1/stem", "-1 g"], "bad-value"),
        (["weigh", "1/stem", "40 g"], "bad-value"),
        (["weigh", "1/stem", "0 g"], "bad-value"),
    ] {
        let (exit, told) = nightvat(at, &words);
        assert_eq!(exit, 2, "{words:?}: {told}");
        assert_eq!(told["error"]["code"], code, "{words:?}");
    }
    let pieces = nightvat(at, &["pieces"]).1;
    assert_eq!(pieces["pieces"][0]["gauged_um"], Value::Null);
    assert_eq!(pieces["pieces"][0]["weighed_g"], Value::Null);
}
