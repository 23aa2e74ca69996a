//! How it stands with a bath, from a ledger written by hand: what counts is what was done until
//! now, that moment included, and what came after the last time a figure was known.

use nightvat::bath::BathProfile;
use nightvat::ledger::{TankDeed, TankEntry, TankRow, TankRun};
use nightvat::run::{Losses, TankState, additive_state, tank_state};
use nightvat::spec::{self, Shelf};
use nightvat::units::{Charge, Concentration, Mass, Span, Volume};

const COPPER: &str = "copper sulfate pentahydrate";

fn profile() -> BathProfile {
    spec::bath::open("acid-copper-bright", &Shelf::embedded()).unwrap()
}

fn at(days: f64) -> Span {
    Span::from_h(24.0 * days)
}

fn entry(days: f64, kind: TankDeed, substance: &str, ml: f64) -> TankEntry {
    TankEntry {
        at: format!("day {days}"),
        when: at(days),
        kind,
        substance: substance.to_owned(),
        mass: None,
        volume: Some(Volume::from_cm3(ml)),
        surface: None,
        held: None,
        profile_text: None,
    }
}

fn analysed(days: f64, substance: &str, g_per_l: f64) -> TankEntry {
    TankEntry {
        volume: None,
        held: Some(Concentration::from_g_per_l(g_per_l)),
        ..entry(days, TankDeed::Analysed, substance, 0.0)
    }
}

fn anode(days: f64, g: f64) -> TankEntry {
    TankEntry {
        volume: None,
        mass: Some(Mass::from_g(g)),
        ..entry(days, TankDeed::Anode, "", 0.0)
    }
}

fn run(days: f64, ah: f64) -> TankRun {
    TankRun {
        run: 1,
        job: "seed heads".to_owned(),
        began: String::new(),
        until: at(days),
        charge: Charge::from_ah(ah),
        pieces: 3,
        over: true,
        simulated: false,
    }
}

/// 6 L, made on day 1.
fn bath(entries: Vec<TankEntry>, runs: Vec<TankRun>) -> TankRow {
    TankRow {
        name: "north tank".to_owned(),
        made: entry(1.0, TankDeed::Made, "acid-copper-bright", 6000.0),
        entries,
        runs,
    }
}

const NONE: Losses = Losses {
    mismatch: 0.0,
    carried: Volume::ZERO,
};

fn on_day(row: &TankRow, day: f64, losses: Losses) -> TankState {
    tank_state(row, &profile(), losses, at(day), false)
}

#[track_caller]
fn agree(ours: f64, theirs: f64) {
    assert!(
        (ours - theirs).abs() <= 5e-5 * theirs.abs(),
        "{ours}, not {theirs}"
    );
}

/// A run counts to the moment it ended; one that goes on counts only where that is asked, and one
/// that ends later not at all.
#[test]
fn charge_is_that_of_the_runs_until_now() {
    let goes_on = TankRun {
        over: false,
        ..run(4.0, 8.0)
    };
    let row = bath(
        vec![],
        vec![run(2.0, 1.0), run(3.0, 2.0), goes_on, run(9.0, 4.0)],
    );
    let charge = |day: f64, running: bool| {
        let state = tank_state(&row, &profile(), NONE, at(day), running);
        let since = state.additives[0].level.since;
        assert_eq!(since, state.charge, "the same for the additive");
        state.charge.ah()
    };
    for (day, over, with) in [
        (1.5, 0.0, 0.0),
        (2.0, 1.0, 1.0),
        (2.9, 1.0, 1.0),
        (3.0, 3.0, 3.0),
        (5.0, 3.0, 11.0),
        (9.0, 7.0, 15.0),
    ] {
        assert!((charge(day, false) - over).abs() < 1e-9, "day {day}");
        assert!((charge(day, true) - with).abs() < 1e-9, "day {day}");
    }
}

/// An anode that gives 2 % more than the cathode takes, over 6 L and 10 Ah: 1.185 494 g · 10 · 2 % =
/// 0.237 099 g of copper, 0.039 516 g/L. Two runs of three pieces that carry 10 mL each out of 6 L
/// take 1 % of what is held; copper is 25.451 % of its sulfate's crystals (63.546 of 249.68).
#[test]
fn drift_counts_from_the_last_analysis_of_copper() {
    let runs = || vec![run(2.0, 1.0), run(3.0, 2.0), run(5.0, 4.0), run(6.0, 6.0)];
    let charged = Losses {
        mismatch: 0.02,
        carried: Volume::ZERO,
    };
    let carrying = Losses {
        mismatch: 0.0,
        carried: Volume::from_cm3(10.0),
    };
    // Not of acid, not a chemical that went in, and not one that is still to come.
    let entries = vec![
        analysed(3.0, COPPER, 200.0),
        analysed(4.0, "sulfuric acid", 60.0),
        entry(5.5, TankDeed::Added, COPPER, 40.0),
        entry(5.6, TankDeed::Water, COPPER, 100.0),
        analysed(8.0, COPPER, 100.0),
    ];
    let row = bath(entries, runs());
    let state = on_day(&row, 7.0, charged);
    assert_eq!(state.drift_since, "day 3");
    // The run that ended as it was analysed is in what was found.
    agree(state.drift.metal.g_per_l(), 0.039_516_47);
    let state = on_day(&row, 7.0, carrying);
    agree(state.drift.metal.g_per_l(), -0.01 * 200.0 * 63.546 / 249.68);
    agree(state.drift.acid.g_per_l(), -0.01 * 60.0);
    // Before any analysis: from the day it was made, with what it was made to, 205 and 55 g/L.
    let state = on_day(&row, 2.5, carrying);
    assert_eq!(state.drift_since, "day 1");
    agree(
        state.drift.metal.g_per_l(),
        -0.005 * 205.0 * 63.546 / 249.68,
    );
    agree(state.drift.acid.g_per_l(), -0.005 * 55.0);
    // An analysis counts from its own moment on.
    assert_eq!(on_day(&row, 3.0, NONE).drift_since, "day 3");
    assert_eq!(on_day(&row, 8.0, NONE).drift_since, "day 8");
}

/// 1.185 494 g for each Ah, and 2 % more.
#[test]
fn an_anode_dissolves_from_when_it_was_hung() {
    let losses = Losses {
        mismatch: 0.02,
        carried: Volume::ZERO,
    };
    let entries = vec![anode(2.0, 400.0), anode(4.0, 500.0), anode(9.0, 900.0)];
    let row = bath(entries, vec![run(3.0, 10.0), run(4.0, 20.0), run(6.0, 5.0)]);
    assert_eq!(on_day(&row, 1.5, losses).anode, None);
    let first = on_day(&row, 3.5, losses).anode.unwrap();
    agree(first.hung.g(), 400.0);
    agree(first.used.g(), 11.854_942 * 1.02);
    // The run that ended as it was hung was the other's.
    let second = on_day(&row, 7.0, losses).anode.unwrap();
    agree(second.hung.g(), 500.0);
    agree(second.used.g(), 5.927_471 * 1.02);
    agree(second.left().g(), 500.0 - 5.927_471 * 1.02);
    assert_eq!(on_day(&row, 4.0, losses).anode.unwrap().used, Mass::ZERO);
}

#[test]
fn water_is_what_was_poured_until_now() {
    let entries = vec![
        entry(2.0, TankDeed::Water, "", 500.0),
        entry(3.0, TankDeed::Added, "brightener", 2.0),
        entry(4.0, TankDeed::Water, "", 250.0),
        entry(5.0, TankDeed::Water, "", 125.0),
    ];
    let row = bath(entries, vec![]);
    let poured = |day: f64| {
        let state = on_day(&row, day, NONE);
        let all = state.poured.iter();
        let ml: Vec<f64> = all.map(|(_, one)| one.cm3().round()).collect();
        (ml, state.dry_for() / at(1.0))
    };
    let is = |(ml, days): (Vec<f64>, f64), wanted: &[f64], dry: f64| {
        assert!(ml == wanted && (days - dry).abs() < 1e-9, "{ml:?} {days}");
    };
    is(poured(1.5), &[], 0.5);
    is(poured(4.0), &[500.0, 250.0], 0.0);
    is(poured(4.5), &[500.0, 250.0], 0.5);
    is(poured(6.0), &[500.0, 250.0, 125.0], 1.0);
}

/// 1.5 mL in 6 L when it is full; a day takes 0.03 mL. Half of the bath drawn off takes half.
#[test]
fn what_was_drawn_off_took_its_share_of_the_additive_with_it() {
    let entries = vec![
        entry(2.0, TankDeed::Drawn, "", 3000.0),
        entry(2.5, TankDeed::Water, "", 3000.0),
        entry(4.0, TankDeed::Added, "brightener", 1.0),
        entry(4.0, TankDeed::Added, "leveller", 9.0),
        entry(8.0, TankDeed::Drawn, "", 6000.0),
    ];
    let row = bath(entries, vec![]);
    let additive = &profile().additives[0];
    let on = |day: f64| additive_state(&row, additive, at(day), false);
    agree(on(1.0).level.held.cm3(), 1.5);
    // A day, and then the half: both at the very moment.
    agree(on(2.0).level.held.cm3(), 0.735);
    agree(on(3.0).level.held.cm3(), 0.705);
    let fed = on(4.0);
    agree(fed.level.held.cm3(), 1.675);
    assert_eq!(fed.last.len(), 1, "{:?}", fed.last);
    assert_eq!(fed.last[0].0, "day 4");
    agree(fed.last[0].1.cm3(), 1.0);
    assert_eq!(on(3.0).last, []);
    assert_eq!(on(8.0).level.held, Volume::ZERO);
}

/// The last three additions, the newest first.
#[test]
fn the_last_additions_are_shown_newest_first() {
    let days = [2.0, 3.0, 4.0, 5.0];
    let added = days.map(|day| entry(day, TankDeed::Added, "brightener", day));
    let row = bath(added.to_vec(), vec![]);
    let last = additive_state(&row, &profile().additives[0], at(6.0), false).last;
    let when: Vec<&str> = last.iter().map(|(when, _)| when.as_str()).collect();
    assert_eq!(when, ["day 5", "day 4", "day 3"]);
}
