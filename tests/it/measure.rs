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
    // The run keeps what its plan took for the edges of its pieces: 1.5 on a wire.
    let ledger = rusqlite::Connection::open(at.join("state/ledger.db")).unwrap();
    let kept = ledger.query_row("SELECT peak_to_mean FROM runs", [], |row| row.get(0));
    assert_eq!(kept, Ok(1.5));
    drop(ledger);
    let before = nightvat(at, &["plan", "stem.toml"]).1;
    let (code, told) = nightvat(at, &["gauge", "1/stem", "120 um"]);
    assert_eq!((code, &told["teaches"]), (0, &Value::Bool(false)), "{told}");
    let (code, told) = nightvat(at, &["weigh", "1/stem", "0.9 g"]);
    assert_eq!((code, &told["teaches"]), (0, &Value::Bool(false)), "{told}");
    assert_eq!(warned(&before, "only-simulated"), None, "{before}");
    let after = nightvat(at, &["plan", "stem.toml"]).1;
    assert_eq!(after["pieces"], before["pieces"]);
    let said = warned(&after, "only-simulated").unwrap_or_else(|| panic!("{after}"));
    assert!(
        said.contains("run 1") && said.contains("teaches nothing"),
        "{said}"
    );
    // It is said of such a piece alone.
    let other = nightvat(at, &["plan", "longer.toml"]).1;
    assert_eq!(warned(&other, "only-simulated"), None, "{other}");
    made_real(at);
    let after = nightvat(at, &["plan", "stem.toml"]).1;
    assert!(warned(&after, "area-from-gauge").is_some(), "{after}");
    assert_eq!(warned(&after, "only-simulated"), None, "{after}");
}

/// She knows her gauge and her spots: what she states stands in place of the usual 10 %.
#[test]
fn a_stated_doubt_of_the_gauge_goes_into_the_interval() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    rehearsed(at);
    made_real(at);
    let doubt_of_area = |words: &[&str]| {
        let all = [&["gauge", "1/stem", "150 um"], words].concat();
        let (code, told) = nightvat(at, &all);
        assert_eq!(code, 0, "{told}");
        let plan = nightvat(at, &["plan", "stem.toml"]).1;
        let said = warned(&plan, "area-from-gauge").unwrap().to_owned();
        let after = said.split("to ").find_map(|rest| rest.split_once(" %"));
        let percent: f64 = after
            .unwrap()
            .0
            .parse()
            .unwrap_or_else(|_| panic!("{said}"));
        (told, percent)
    };
    // JCGM 100, 5.1.2: independent doubts add in squares. The profile's efficiency is sure to 1 %,
    // the charge of a clean rehearsal to less than that, and the stem hangs alone.
    let (told, plain) = doubt_of_area(&[]);
    assert_eq!(told["doubt_um"], Value::Null);
    assert!((9.9..=11.0).contains(&plain), "{plain}");
    let (told, fine) = doubt_of_area(&["--doubt", "6 um"]);
    assert_eq!(number(&told, "doubt_um"), 6.0);
    // 6 of 150 are 4 %.
    assert!((4.0..=5.0).contains(&fine), "{fine}");
    let (_, coarse) = doubt_of_area(&["--doubt", "30 um"]);
    assert!((20.0..=21.0).contains(&coarse), "{coarse}");
    let pieces = nightvat(at, &["pieces"]).1;
    assert_eq!(number(&pieces["pieces"][0], "gauge_doubt_um"), 30.0);
    for wrong in ["0 um", "-4 um", "90 um"] {
        let (code, told) = nightvat(at, &["gauge", "1/stem", "150 um", "--doubt", wrong]);
        assert_eq!((code, &told["error"]["code"]), (2, &"bad-value".into()));
        let text = told["error"]["text"].as_str().unwrap();
        assert!(text.contains("at most half"), "{text}");
    }
}

/// A piece hung into the run later teaches the next of its kind like any other.
#[test]
fn a_piece_that_was_hung_later_teaches_too() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    rehearsed(at);
    made_real(at);
    // As if the stem had been hung from a file of pieces, into a run that began with another.
    let ledger = rusqlite::Connection::open(at.join("state/ledger.db")).unwrap();
    let other = job("stalk", "90 mm");
    let pieces = job("stem", "180 mm");
    let pieces = &pieces[pieces.find("[[piece]]").unwrap()..];
    ledger
        .execute("UPDATE runs SET job_text = ?1", [&other])
        .unwrap();
    assert_eq!(nightvat(at, &["gauge", "1/stem", "120 um"]).0, 0);
    let before = nightvat(at, &["plan", "stem.toml"]).1;
    assert_eq!(warned(&before, "area-from-gauge"), None, "{before}");
    ledger
        .execute(
            "INSERT INTO papers (run, t_s, path, pieces_text) VALUES (1, 60, 'more.toml', ?1)",
            [pieces],
        )
        .unwrap();
    let after = nightvat(at, &["plan", "stem.toml"]).1;
    assert!(warned(&after, "area-from-gauge").is_some(), "{after}");
    assert!(number(&after, "area_cm2") > 1.2 * number(&before, "area_cm2"));
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
