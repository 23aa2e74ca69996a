//! Nights in which nothing is wrong: no guard says a word, whatever world is drawn.

use super::kit::{Bed, Deed, in_turn, spend};
use crate::night_kit::{WIRE, studio};
use nightvat::control::{Outcome, State};
use nightvat::spec::Measures;
use std::collections::VecDeque;
use std::sync::Arc;

/// The worlds tried here; `DEVELOPERS.md` names the command for thousands.
const SEEDS: u64 = 30;

/// Areas, bath, meter, noise, contacts and paint are drawn anew for each seed; the station has all
/// its sensors, the line loses a reply in a thousand, the disk takes half a second.
#[test]
fn no_guard_speaks_in_a_night_in_which_nothing_is_wrong() {
    let strike = "density = \"0.3 A/dm2\"\nfor = \"30 min\"";
    let painted = WIRE
        .replace(
            "surface = \"metal\"",
            "surface = \"paint\"\ncontact = \"20 mm2\"",
        )
        .replace("density = \"0.5 A/dm2\"\nfor = \"10 min\"", strike);
    let (mut nights, mut hours) = (0, 0.0);
    for job in [WIRE, &painted] {
        for supply in ["scpi-standard", "scpi-standard-two-channel", "terse-fixed"] {
            for seed in 1..=SEEDS {
                let rough = seed % 2 == 0;
                let mut studio = studio(job, supply, seed, !rough);
                let bounds = &mut Arc::make_mut(&mut studio.plan).bounds;
                bounds.sensors = Measures::ALL.to_vec();
                bounds.stirring = Some([200.0, 400.0]);
                let mut bed = Bed::new(&studio);
                bed.garbles = if rough { 0.001 } else { 0.0 };
                bed.disk_takes = nightvat::units::Span::from_ms(500.0);
                let mut spent = spend(&studio, bed, |_, _, _| None);
                let at = format!("seed {seed} on {supply}");
                assert_eq!(spent.spoke(), [], "{at}");
                assert_eq!(spent.outcome, Some(Outcome::Finished), "{at}");
                spent.is_sound();
                nights += 1;
                hours += spent.run.core().rack().time_on().h();
            }
        }
    }
    println!("{nights} nights of {hours:.0} h, no guard spoke");
}

/// One bad second on the line, in which no reply arrives whole.
#[test]
fn one_second_without_a_whole_reply_costs_no_run() {
    let studio = studio(WIRE, "scpi-standard", 1, true);
    let garbles = |after, share| -> Deed { (after, Box::new(move |bed| bed.garbles = share)) };
    let deeds = VecDeque::from([garbles(300.0, 1.0), garbles(1.0, 0.0)]);
    let mut spent = in_turn(&studio, State::Building, deeds);
    assert_eq!(spent.spoke(), []);
    assert_eq!(spent.outcome, Some(Outcome::Finished));
    spent.is_sound();
}
