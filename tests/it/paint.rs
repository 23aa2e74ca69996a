//! What the resistance of a paint says.

#![allow(clippy::unwrap_used)] // test code, its helpers included

use assert_cmd::Command;
use nightvat::deposit::{Metal, paint};
use nightvat::units::{CurrentDensity, Length, Resistance};
use serde_json::Value;

#[track_caller]
fn agree(ours: f64, theirs: f64, within: f64) {
    let off = (ours / theirs - 1.0).abs();
    assert!(off <= within, "ours {ours}, theirs {theirs}, off {off:e}");
}

fn mm(value: f64) -> Length {
    Length::from_mm(value)
}

fn ohm(value: f64) -> Resistance {
    Resistance::from_ohm(value)
}

#[test]
fn a_square_of_any_size_has_the_sheet_resistance() {
    for side in [1.0, 10.0, 77.0] {
        agree(
            paint::of_strip(ohm(120.0), mm(side), mm(side)).ohm(),
            120.0,
            1e-12,
        );
    }
    // Four squares in a row.
    agree(
        paint::of_strip(ohm(480.0), mm(40.0), mm(10.0)).ohm(),
        120.0,
        1e-12,
    );
}

#[test]
fn two_tips_on_a_broad_sheet() {
    // Two conductors side by side: arccosh(20) = 3.688 253 867 4 (Python 3.11 math.acosh); far apart
    // it is ln(2s/d), which for 20 is 3.688 879 454 1.
    let sheet = paint::of_tips(ohm(100.0), mm(20.0), mm(1.0)).unwrap();
    agree(
        sheet.ohm(),
        100.0 * std::f64::consts::PI / 3.688_253_867_4,
        1e-10,
    );
    let far = paint::of_tips(ohm(100.0), mm(200.0), mm(1.0)).unwrap();
    agree(
        far.ohm(),
        100.0 * std::f64::consts::PI / 400.0_f64.ln(),
        1e-5,
    );
    assert_eq!(paint::of_tips(ohm(1.0), mm(1.0), mm(1.0)), None);
}

/// Laplace's equation on a grid of 241 × 241 with two square tips of the same perimeter as round
/// ones, over-relaxed until it stands still: a check by another way.
#[test]
fn two_tips_agree_with_a_grid() {
    const N: usize = 241;
    let (half, apart, side) = (N / 2, 40_usize, 6_usize);
    let mut volts = vec![0.0_f64; N * N];
    let tip = |x: usize, y: usize| {
        let near = |middle: usize| x.abs_diff(middle) <= side / 2 && y.abs_diff(half) <= side / 2;
        if near(half - apart / 2) {
            Some(1.0)
        } else if near(half + apart / 2) {
            Some(-1.0)
        } else {
            None
        }
    };
    for _ in 0..3000 {
        for y in 0..N {
            for x in 0..N {
                if let Some(fixed) = tip(x, y) {
                    volts[y * N + x] = fixed;
                    continue;
                }
                // Nothing leaves over the rim.
                let (mut sum, mut count) = (0.0, 0.0);
                let beside = [
                    (x.wrapping_sub(1), y),
                    (x + 1, y),
                    (x, y.wrapping_sub(1)),
                    (x, y + 1),
                ];
                for (to_x, to_y) in beside {
                    if to_x < N && to_y < N {
                        sum += volts[to_y * N + to_x];
                        count += 1.0;
                    }
                }
                let at = &mut volts[y * N + x];
                *at += 1.95 * (sum / count - *at);
            }
        }
    }
    let mut current = 0.0;
    for y in 0..N {
        // Half-way between the tips everything crosses from left to right.
        current += volts[y * N + half - 1] - volts[y * N + half];
    }
    // A square conductor of side a acts like a round one of radius 0.590 a (common practice of
    // electrostatics, from memory).
    let round = 2.0 * 0.590 * side as f64;
    let sheet = paint::of_tips(ohm(2.0 / current), mm(apart as f64), mm(round)).unwrap();
    println!("sheet of 1 ohm measured as {:.4}", sheet.ohm());
    agree(sheet.ohm(), 1.0, 0.04);
}

/// The terminal effect on a strip, by numpy: m², at the contact, at the far end, both over the mean.
#[test]
fn density_along_a_bare_strip() {
    let table = [
        (0.01, 1.003_331_11, 0.998_335_28),
        (0.1, 1.033_113_21, 0.983_525_75),
        (1.0, 1.313_035_29, 0.850_918_13),
        (4.0, 2.074_629_44, 0.551_441_13),
        (10.0, 3.173_630_10, 0.268_194_03),
        (25.0, 5.000_454_02, 0.067_382_53),
    ];
    for (square, contact, end) in table {
        let m = f64::sqrt(square);
        let found = paint::along_strip(mm(m), mm(1.0));
        agree(found[0], contact, 1e-8);
        agree(found[1], end, 1e-7);
    }
    assert_eq!(paint::along_strip(mm(1e-9), mm(1.0)), [1.0, 1.0]);
}

/// A strip cut into cells: lateral ohms between their middles, half of one at the contact. Gives what
/// `along_strip` gives, the contact by the input resistance.
fn ladder(square: f64, cells: u32) -> [f64; 2] {
    let (lateral, to_bath) = (f64::from(cells), square / f64::from(cells));
    let (mut seen, mut last_share) = (to_bath, 1.0);
    for _ in 1..cells {
        let beyond = seen * lateral / (seen + lateral);
        last_share *= lateral / (seen + lateral);
        seen = to_bath + beyond;
    }
    // The last cell's current over the mean of all: its voltage over that of the first cell.
    [
        square * (1.0 / seen + 1.0 / (2.0 * lateral)),
        last_share * square / seen,
    ]
}

/// The closed form against the strip's own cells. At m² = 4 the ladder's input is 2.085 486,
/// 2.075 065 and 2.074 657 for 10, 50 and 200 cells (computed with numpy beforehand, not by this
/// code); its error falls with the square of the cells.
#[test]
fn the_strip_agrees_with_its_cells_and_the_error_falls_fourfold() {
    for (cells, input) in [(10, 2.085_486), (50, 2.075_065), (200, 2.074_657)] {
        agree(ladder(4.0, cells)[0], input, 3e-7);
    }
    for square in [0.1, 1.0, 4.0, 10.0, 25.0] {
        let exact = paint::along_strip(mm(f64::sqrt(square)), mm(1.0));
        let [coarse, fine] = [400, 800].map(|cells| ladder(square, cells));
        for place in [0, 1] {
            agree(fine[place], exact[place], 1e-4);
            let fall = (coarse[place] / exact[place] - 1.0) / (fine[place] / exact[place] - 1.0);
            assert!((fall - 4.0).abs() < 0.05, "{square} {place}: {fall}");
        }
    }
}

/// An interface of 1e-3 Ω·m²: 10, 4.47 and 2.24 mm for 10, 50 and 200 Ω per square; at 1 A/dm²
/// 1 µm takes 272 s (M/zFρ = 3.675 267e-11 m³/C), so that 10 mm go in 272 s.
#[test]
fn the_fringe_and_the_pace() {
    for (sheet, fringe) in [(10.0, 10.0), (50.0, 4.472_135_95), (200.0, 2.236_067_98)] {
        agree(paint::fringe(ohm(sheet), 1e-3).mm(), fringe, 1e-8);
    }
    let density = CurrentDensity::from_a_per_dm2(1.0);
    let pace = paint::pace(mm(10.0), &Metal::COPPER, density, Length::from_um(1.0));
    agree(
        pace.mm_per_h(),
        3600.0 * 10.0 * 3.675_267e-11 * 100.0 / 1e-6,
        2e-6,
    );
}

fn paint_of(words: &[&str]) -> (i32, Value, String) {
    let out = Command::cargo_bin("nightvat")
        .unwrap()
        .arg("paint")
        .args(words)
        .output()
        .unwrap();
    let text = String::from_utf8(out.stdout).unwrap();
    let value = serde_json::from_str(&text).unwrap_or(Value::Null);
    (out.status.code().unwrap(), value, text)
}

#[test]
fn the_command_says_it_and_refuses_what_cannot_be() {
    let (code, said, _) = paint_of(&["260 ohm", "--long", "40 mm", "--wide", "10 mm", "--json"]);
    assert_eq!(code, 0);
    agree(said["sheet_ohm"].as_f64().unwrap(), 65.0, 1e-9);
    assert_eq!(said["high"], false);
    let (code, _, text) = paint_of(&["9 kohm", "--apart", "20 mm", "--tip", "1 mm"]);
    assert_eq!(code, 0);
    assert!(
        text.contains("7666 ohm per square") && text.contains("Caution"),
        "{text}"
    );
    for (words, word) in [
        (
            &["0 ohm", "--apart", "20 mm", "--tip", "1 mm", "--json"],
            "more than nothing",
        ),
        (
            &["9 ohm", "--apart", "1 mm", "--tip", "1 mm", "--json"],
            "they touch",
        ),
        (
            &["9 ohm", "--long", "-4 mm", "--wide", "1 mm", "--json"],
            "not above nothing",
        ),
    ] {
        let (code, said, _) = paint_of(words);
        assert_eq!(
            (code, said["error"]["code"].as_str()),
            (2, Some("bad-value")),
            "{said}"
        );
        assert!(
            said["error"]["text"].as_str().unwrap().contains(word),
            "{said}"
        );
    }
    assert_eq!(paint_of(&["9 ohm"]).0, 2);
}
