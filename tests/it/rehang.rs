//! Pieces come out of a run and into it: each keeps an account of its own, what it says holds
//! against the cell's, and the rest of the night is reckoned anew.

use super::night_kit::{Memory, Night, Studio, night_with, studio};
use nightvat::bath::BathProfile;
use nightvat::control::{Outcome, State};
use nightvat::ledger::{ElectrodeHead, Entry, HUNG, LIFTED, Rehung};
use nightvat::plan::{self, Outlook, Plan, PlanError, Rack};
use nightvat::rig::cell::CellFault;
use nightvat::run::{Change, Input, PieceState, Run};
use nightvat::spec::{self, Shelf, Station};
use nightvat::units::{Charge, Current, Moment, Span};
use std::sync::Arc;

const HEAD: &str = r#"
name = "rack"
bath = "acid-copper-bright"
[target]
thickness = "30 um"
[current]
density = "1.5 A/dm2"
[current.strike]
density = "0.5 A/dm2"
for = "10 min"
[current.ramp]
over = "20 min"
[[hanger]]
shape = { kind = "wire", diameter = "1 mm", length = "60 mm" }
[[look]]
at = "12 um"
"#;

fn wire(name: &str, surface: &str, mm: f64) -> String {
    format!(
        "[[piece]]\nname = \"{name}\"\nsurface = \"{surface}\"\n\
         shape = {{ kind = \"wire\", diameter = \"2 mm\", length = \"{mm} mm\" }}\n"
    )
}

fn of(pieces: &[(&str, &str, f64)]) -> String {
    let pieces = pieces
        .iter()
        .map(|(name, surface, mm)| wire(name, surface, *mm));
    pieces.fold(HEAD.to_owned(), |job, piece| job + &piece)
}

struct House {
    bath: BathProfile,
    station: Station,
}

fn house() -> House {
    let shelf = Shelf::embedded();
    House {
        bath: spec::bath::open("acid-copper-bright", &shelf).unwrap(),
        station: spec::station::open(spec::DEMO_STATION, &shelf).unwrap(),
    }
}

/// The rest of the night for the pieces of `all`, of which these hang.
fn reckoned(
    all: &Studio,
    rack: &Rack,
    delivered: Charge,
    hang: &[bool],
    house: &House,
) -> Result<Outlook, PlanError> {
    let drawn = plan::draw(&all.job, &house.bath, &house.station, &all.supply);
    let mut plan = drawn.unwrap().plan;
    for (piece, hangs) in plan.pieces.iter_mut().zip(hang) {
        piece.hangs = *hangs;
    }
    let by = (&house.bath, &house.station, &all.supply);
    plan::rehang(plan, rack, delivered, &all.job, by)
}

/// What the person says at the look, with the pieces of `all`, of which these hang afterwards.
fn change(all: &Studio, run: &Run, hang: &[bool]) -> Change {
    let core = run.core();
    let (rack, charge) = (core.rack(), core.charge().best);
    let plan = reckoned(all, rack, charge, hang, &house()).unwrap().plan;
    let added = plan.pieces[rack.pieces()..]
        .iter()
        .map(|piece| ElectrodeHead {
            name: piece.name.clone(),
            hanger: false,
            area: piece.body.area,
        });
    let hangers = std::iter::repeat_n(true, plan.hangers.len());
    let told = Rehung {
        code: if hang.iter().all(|hangs| *hangs) {
            HUNG
        } else {
            LIFTED
        },
        text: "at the look".to_owned(),
        added: added.collect(),
        hang: hang.iter().copied().chain(hangers).collect(),
        paper: None,
    };
    Change {
        plan: Arc::new(plan),
        told,
    }
}

/// A night that begins with the first pieces of `all`, and at whose look these hang from then on.
fn night(all: &Studio, first: &Studio, hang: &[bool]) -> Night {
    let begins = Studio {
        job: first.job.clone(),
        plan: Arc::clone(&first.plan),
        world: all.world.clone(),
        profile: Arc::clone(&all.profile),
        supply: all.supply.clone(),
        kind: all.kind,
        quirks: all.quirks.clone(),
    };
    let late = first.plan.pieces.len()..all.plan.pieces.len();
    let (mut placed, mut changed) = (false, false);
    night_with(&begins, Memory::default(), |run, _, bench| {
        if !placed {
            placed = true;
            late.clone()
                .for_each(|index| bench.fault(CellFault::Fallen(index)));
        }
        if changed || !run.core().is_paused() {
            return None;
        }
        changed = true;
        for (index, hangs) in hang.iter().enumerate() {
            bench.fault(match hangs {
                true => CellFault::Hung(index),
                false => CellFault::Fallen(index),
            });
        }
        Some(Input::Rehung(Box::new(change(all, run, hang))))
    })
}

/// Each electrode's charge against the cell's own account, of which it knows nothing.
fn holds_against_the_cell(night: &Night) {
    night.is_sound();
    let rack = night.run.core().rack();
    for (index, truth) in night.truth.electrodes.iter().enumerate() {
        let (said, truly) = (rack.charge(index).best.ah(), truth.charge_ah);
        assert!(
            (said / truly - 1.0).abs() < 0.002,
            "electrode {index}: {said} Ah said, {truly} Ah truly"
        );
    }
}

fn um(night: &Night, index: usize) -> f64 {
    night.run.core().rack().thickness(index).um()
}

#[test]
fn a_lifted_piece_keeps_what_it_had_and_the_others_get_what_was_asked() {
    let job = of(&[("a", "metal", 200.0), ("b", "metal", 300.0)]);
    let all = studio(&job, "scpi-standard", 1, true);
    let night = night(&all, &all, &[false, true]);
    assert_eq!(night.outcome(), Some(Outcome::Finished));
    holds_against_the_cell(&night);
    // The look was due at 12 um on both; half an hour of ramp and strike, then 20 um an hour.
    assert!((um(&night, 0) - 12.0).abs() < 0.1, "{}", um(&night, 0));
    assert!((um(&night, 1) - 30.0).abs() < 0.1, "{}", um(&night, 1));
    // On a lifted piece nothing more is laid down, and the hanger goes on.
    assert!((um(&night, 2) - 30.0).abs() < 0.3, "{}", um(&night, 2));
}

#[test]
fn a_piece_hung_later_gets_what_was_asked_counted_from_then() {
    let first = studio(&of(&[("a", "metal", 200.0)]), "scpi-standard", 1, true);
    let both = of(&[("a", "metal", 200.0), ("b", "metal", 300.0)]);
    let all = studio(&both, "scpi-standard", 1, true);
    let night = night(&all, &first, &[true, true]);
    assert_eq!(night.outcome(), Some(Outcome::Finished));
    holds_against_the_cell(&night);
    assert!((um(&night, 0) - 42.0).abs() < 0.2, "{}", um(&night, 0));
    assert!((um(&night, 1) - 30.0).abs() < 0.1, "{}", um(&night, 1));
    // It is shown among the pieces, by its name, and the hanger stays the hanger.
    let shown = night.run.snapshot(Moment::from_s(1e6));
    let names = |list: &[PieceState]| list.iter().map(|one| one.name.clone()).collect::<Vec<_>>();
    assert_eq!(names(&shown.pieces), ["a", "b"]);
    assert_eq!(names(&shown.hangers), ["hanger"]);
    // On metal there is no new strike.
    let strikes = night
        .states()
        .iter()
        .filter(|state| **state == State::Striking)
        .count();
    assert_eq!(strikes, 1, "{:?}", night.states());
}

/// All that hangs on one bar takes the same density, so new paint sets it for all.
#[test]
fn with_new_paint_the_strike_begins_again() {
    let first = studio(&of(&[("a", "metal", 200.0)]), "scpi-standard", 1, true);
    let both = of(&[("a", "metal", 200.0), ("b", "paint", 300.0)]);
    let all = studio(&both, "scpi-standard", 1, true);
    let night = night(&all, &first, &[true, true]);
    assert_eq!(night.outcome(), Some(Outcome::Finished));
    night.is_sound();
    let states = night.states();
    let paused = states
        .iter()
        .position(|state| *state == State::Paused)
        .unwrap();
    assert_eq!(
        states[paused + 1..paused + 5],
        [
            State::Proving,
            State::Striking,
            State::Ramping,
            State::Building
        ],
        "{states:?}"
    );
    // 0.5 A/dm2 over what is covered: 12.6 cm2 of the first, 1.9 cm2 of the hanger, all but bare
    // paint; at most the whole 33 cm2 when it ends.
    let mut striking = false;
    let mut highest = 0.0_f64;
    for entry in night.entries.iter().skip_while(|entry| !is_rehung(entry)) {
        match entry {
            Entry::Entered { state, .. } => striking = *state == State::Striking,
            Entry::Reading(reading) if striking => highest = highest.max(reading.setpoint.a()),
            _ => {}
        }
    }
    assert!(
        0.06 < highest && highest < 0.175,
        "{highest} A in the new strike"
    );
}

fn is_rehung(entry: &Entry) -> bool {
    matches!(entry, Entry::Rehung { .. })
}

#[test]
fn a_piece_that_is_hung_again_goes_on_where_it_was() {
    let job = of(&[("a", "metal", 200.0), ("b", "metal", 300.0)]) + "[[look]]\nat = \"20 um\"\n";
    let all = studio(&job, "scpi-standard", 1, true);
    let mut times = 0;
    let mut was_paused = false;
    let night = night_with(&all, Memory::default(), |run, _, bench| {
        let paused = run.core().is_paused();
        let begins = !std::mem::replace(&mut was_paused, paused) && paused;
        if !begins {
            return None;
        }
        times += 1;
        // Lifted at the first look, hung again at the second.
        let hangs = times > 1;
        bench.fault(match hangs {
            true => CellFault::Hung(0),
            false => CellFault::Fallen(0),
        });
        Some(Input::Rehung(Box::new(change(&all, run, &[hangs, true]))))
    });
    assert_eq!(night.outcome(), Some(Outcome::Finished));
    holds_against_the_cell(&night);
    assert!((um(&night, 0) - 30.0).abs() < 0.1, "{}", um(&night, 0));
    // It missed what the other took from 12 to 20 um.
    assert!((um(&night, 1) - 38.0).abs() < 0.2, "{}", um(&night, 1));
}

/// The change is told before anything flows after it, with the accounts as they stood.
#[test]
fn the_ledger_has_the_change_before_any_envelope_of_the_new_night() {
    let first = studio(&of(&[("a", "metal", 200.0)]), "scpi-standard", 1, true);
    let both = of(&[("a", "metal", 200.0), ("b", "metal", 300.0)]);
    let all = studio(&both, "scpi-standard", 1, true);
    let night = night(&all, &first, &[true, true]);
    let at = night.entries.iter().position(is_rehung).unwrap();
    let Entry::Accounts { electrodes, .. } = &night.entries[at + 1] else {
        panic!("{:?}", night.entries[at + 1]);
    };
    assert_eq!(electrodes.len(), 3, "two pieces and a hanger");
    assert_eq!(electrodes[1].charge.best, Charge::ZERO);
    let largest = |entries: &[Entry]| {
        let envelopes = entries.iter().filter_map(|entry| match entry {
            Entry::Envelope { envelope, .. } => Some(envelope.current),
            _ => None,
        });
        envelopes.fold(Current::ZERO, Current::max).a()
    };
    let (before, after) = (largest(&night.entries[..at]), largest(&night.entries[at..]));
    assert!(before < 0.27 && after > 0.5, "{before} A, then {after} A");
}

fn plan_of(all: &Studio) -> Plan {
    (*all.plan).clone()
}

#[test]
fn what_the_station_does_not_bear_is_refused() {
    let both = of(&[("a", "metal", 200.0), ("b", "metal", 4000.0)]);
    let shelf = Shelf::embedded();
    let job = spec::job::read("test.toml", &both, &shelf).unwrap();
    let first = studio(&of(&[("a", "metal", 200.0)]), "scpi-standard", 1, true);
    let all = Studio { job, ..first };
    let rack = Rack::new(&plan_of(&all));
    let outlook = reckoned(&all, &rack, Charge::ZERO, &[true, true], &house()).unwrap();
    let codes: Vec<_> = outlook.refusals.iter().map(|said| said.code).collect();
    assert_eq!(codes, ["current-above-station"]);
}

#[test]
fn a_rack_on_which_nothing_hangs_has_no_plan() {
    let all = studio(&of(&[("a", "metal", 200.0)]), "scpi-standard", 1, true);
    let rack = Rack::new(&plan_of(&all));
    let none = reckoned(&all, &rack, Charge::ZERO, &[false], &house());
    assert_eq!(none.unwrap_err(), PlanError::NoPiece);
}

/// What was delivered counts in the run's caps, and the time with it.
#[test]
fn the_caps_are_those_of_the_whole_run() {
    let both = of(&[("a", "metal", 200.0), ("b", "metal", 300.0)]);
    let all = studio(&both, "scpi-standard", 1, true);
    let mut rack = Rack::new(&all.plan);
    let charge = nightvat::units::Bounded::exact(Charge::from_ah(0.2));
    rack.book(charge, Span::from_h(1.0));
    let outlook = reckoned(&all, &rack, charge.best, &[true, true], &house()).unwrap();
    let (was, is) = (&all.plan.forecast, &outlook.plan.forecast);
    // The same charge is needed in all, whatever part of it has been delivered.
    assert!((is.charge / was.charge - 1.0).abs() < 0.003, "{is:?}");
    assert!(outlook.plan.limits.charge > is.charge);
    assert!(is.duration > Span::from_h(1.0));
    let alone = reckoned(&all, &rack, charge.best, &[true, false], &house()).unwrap();
    let rest = (alone.plan.forecast.charge - charge.best).ah();
    let whole = (is.charge - charge.best).ah();
    assert!(
        rest > 0.3 * whole && rest < 0.5 * whole,
        "{rest} of {whole} Ah"
    );
}

/// An electrode that does not hang has no surface in the sums.
#[test]
fn what_does_not_hang_takes_no_part() {
    let both = of(&[("a", "metal", 200.0), ("b", "metal", 300.0)]);
    let all = studio(&both, "scpi-standard", 1, true);
    let mut plan = plan_of(&all);
    plan.pieces[1].hangs = false;
    let mut rack = Rack::new(&plan);
    // Two wires of 12.57 and 18.85 cm2, a hanger of 1.885 cm2.
    assert!((rack.whole_area().cm2() - 14.451).abs() < 0.002);
    assert!((rack.covered_area().cm2() - 14.451).abs() < 0.002);
    let charge = nightvat::units::Bounded::exact(Charge::from_ah(0.1));
    rack.book(charge, Span::from_h(1.0));
    assert_eq!(rack.charge(1).best, Charge::ZERO);
    assert_eq!((rack.on(0), rack.on(1)), (Span::from_h(1.0), Span::ZERO));
    assert_eq!((rack.governing(), rack.shown().1), (0, Some(0)));
    assert_eq!(rack.mean_thickness(), rack.thickness(0));
    assert!((rack.charge(0).best.ah() - 0.1 * 12.566 / 14.451).abs() < 1e-5);
}

/// What hung beside a piece for a part of the time makes its share unsure, and so does standing
/// alone: the interval holds both.
#[test]
fn beside_a_lifted_piece_the_interval_holds_both_ways_to_reckon_it() {
    let all = studio(
        &of(&[("a", "metal", 200.0), ("b", "metal", 300.0)]),
        "scpi-standard",
        1,
        true,
    );
    let alone = studio(&of(&[("b", "metal", 300.0)]), "scpi-standard", 1, true);
    let mut rack = Rack::new(&all.plan);
    let charge = nightvat::units::Bounded::exact(Charge::from_ah(0.4));
    rack.book(charge, Span::from_h(1.0));
    let among_all = rack.thickness_interval(1);
    let recorded = |index: usize| plan::OnRecord {
        charge: rack.charge(index),
        on: rack.on(index),
    };
    let by_itself = Rack::resume(&alone.plan, &[recorded(1), recorded(2)], rack.time_on());
    let by_itself = by_itself.thickness_interval(0);
    let wide = |one: nightvat::units::Bounded<nightvat::units::Length>| (one.high - one.low).um();
    assert!(
        (wide(among_all) - wide(by_itself)).abs() > 0.05,
        "the two ways must differ, or nothing is tried: {among_all:?} {by_itself:?}"
    );
    let mut plan = plan_of(&all);
    plan.pieces[0].hangs = false;
    let lifted = rack.rehung(&plan).thickness_interval(1);
    assert_eq!(lifted.low, among_all.low.min(by_itself.low));
    assert_eq!(lifted.high, among_all.high.max(by_itself.high));
    assert_eq!(lifted.best, among_all.best);
}
