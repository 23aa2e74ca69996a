//! Copper on paint that does not go as it was planned: what control sees of it, and what it does.

use super::kit::{Bed, Spent, spend};
use crate::night_kit::{Studio, studio};
use nightvat::control::{Fault, Outcome, State, Wish};
use nightvat::ledger::Entry;
use nightvat::units::Moment;

/// A painted ball of 22 mm: 15.205 cm², of which a patch of 2 cm² is metal. At 0.3 A/dm² it bears
/// 45.6 mA.
fn ball(strike: &str) -> String {
    format!(
        r#"
name = "one ball"
bath = "acid-copper-bright"
[target]
thickness = "20 um"
[current]
density = "1.5 A/dm2"
[current.strike]
density = "0.3 A/dm2"
{strike}
[current.ramp]
over = "20 min"
[[piece]]
name = "ball"
surface = "paint"
contact = "200 mm2"
shape = {{ kind = "sphere", diameter = "22 mm" }}
"#
    )
}

const HALF_AN_HOUR: &str = "for = \"30 min\"";

/// What a strike came to.
struct Strike {
    spent: Spent,
    /// When it ended, s.
    ended: f64,
    /// What flowed at its end, A.
    amps: f64,
}

/// A night until the strike is over.
fn strike(studio: &Studio) -> Strike {
    let (mut ended, mut amps) = (0.0, 0.0);
    let spent = spend(studio, Bed::new(studio), |run, now: Moment, bed| {
        if run.state() == State::Striking {
            (ended, amps) = (now.s(), bed.bench.truth().current_a);
        }
        (run.state() == State::Ramping).then_some(Wish::Stop)
    });
    Strike { spent, ended, amps }
}

/// The ball in a drawn world, its paint torn beyond some share of it.
fn torn(text: &str, seed: u64, at: Option<f64>) -> Studio {
    let mut studio = studio(text, "scpi-standard", seed, false);
    studio.world.electrodes[0].paint.as_mut().unwrap().torn_at = at;
    studio
}

#[test]
fn islands_that_never_grow_together() {
    let mut stuck = studio(&ball(HALF_AN_HOUR), "scpi-standard", 1, false);
    let paint = stuck.world.electrodes[0].paint.as_mut().unwrap();
    paint.coalescence_m = 1.0;
    assert_eq!(strike(&stuck).spent.spoke(), [Fault::CoverNotGrowing]);
}

#[test]
fn paint_that_is_torn_half_way() {
    for seed in 1..=10 {
        let mut half = strike(&torn(&ball(HALF_AN_HOUR), seed, Some(0.35)));
        assert_eq!(half.spent.spoke(), [Fault::CoverNotGrowing], "seed {seed}");
        let told =
            half.spent.entries.iter().filter(
                |entry| matches!(entry, Entry::Event { code, .. } if *code == "copper-behind"),
            );
        assert_eq!(told.count(), 1, "seed {seed}");
        // What the cell shows holds the current back: 45.6 mA would go to a third of the surface.
        assert!(half.amps < 0.9 * 45.6e-3, "seed {seed}: {}", half.amps);
        let covered = half.spent.bed.bench.truth().electrodes[0].covered_fraction;
        assert!(covered > 0.2 && covered < 0.36, "seed {seed}: {covered}");
    }
}

#[test]
fn where_copper_spreads_nothing_is_said() {
    for seed in 1..=20 {
        let studio = studio(&ball(HALF_AN_HOUR), "scpi-standard", seed, false);
        let spent = spend(&studio, Bed::new(&studio), |_, _, _| None);
        assert_eq!(spent.outcome, Some(Outcome::Finished), "seed {seed}");
        assert_eq!(spent.spoke(), [], "seed {seed}");
    }
}

/// From the patch of 200 mm² to the far pole the edge walks 26.3 mm (R = 11 mm, cap of 13.15 % of
/// the ball): 31.5 min at 50 mm/h. A strike that ends with the last bare spot waits for copper that
/// is behind, and no longer than it may last.
#[test]
fn a_strike_that_ends_when_covered_waits_for_what_is_behind() {
    let text = ball("for = \"2 h\"\nuntil = \"covered\"").replace(
        "contact = \"200 mm2\"",
        "contact = \"200 mm2\"\nfront_speed = \"50 mm/h\"",
    );
    let covered = strike(&torn(&text, 1, None));
    assert!(
        (covered.ended / 60.0 - 31.5).abs() < 2.0,
        "{}",
        covered.ended
    );
    let held = strike(&torn(&text, 1, Some(0.25)));
    assert!((held.ended / 60.0 - 120.0).abs() < 2.0, "{}", held.ended);
}
