//! What the ledger knows of a run, against readings and histories worked out by hand. Two pieces of
//! 120 and 60 cm² and a hanger of 20: two dm² in all, so that an ampere is 0.5 A/dm².

use nightvat::bath::BathProfile;
use nightvat::bath::looks::Clue;
use nightvat::control::Outcome;
use nightvat::ledger::{
    Account, ElectrodeHead, ElectrodeRow, Ending, EventRow, Paper, ReadingRow, RunHead, RunRecord,
};
use nightvat::run::{AdditiveState, RunDensity, evidence, run_density};
use nightvat::spec::{self, Shelf};
use nightvat::units::{Area, Bounded, Charge, Current, Length, Mass, Span, Volume};

/// Its window is 0.5 to 2.5 A/dm² still, and to 5 A/dm² stirred.
fn profile() -> BathProfile {
    let bath = spec::bath::open("acid-copper-bright", &Shelf::embedded()).unwrap();
    let told = |stirred| bath.window(stirred).map(|one| one.a_per_dm2());
    assert_eq!((told(false), told(true)), ([0.5, 2.5], [0.5, 5.0]));
    bath
}

fn electrode(cm2: f64, hanger: bool) -> ElectrodeRow {
    let area = Area::from_cm2(cm2);
    ElectrodeRow {
        head: ElectrodeHead {
            name: "one".to_owned(),
            hanger,
            area,
        },
        account: Account {
            charge: Bounded::exact(Charge::ZERO),
            mass: Mass::ZERO,
            thickness: Bounded::exact(Length::ZERO),
            // What it has grown to does not count.
            area: area * 3.0,
            on: Span::ZERO,
        },
        hangs: true,
    }
}

/// A run of a stirred tank whose pieces get 1.2 times the mean at most; 9 Ah flowed.
fn record() -> RunRecord {
    RunRecord {
        id: 4,
        head: RunHead {
            stirred: Some(true),
            peak_to_mean: Some(1.2),
            ..RunHead::default()
        },
        identity: None,
        accounted: Span::ZERO,
        charge: Bounded::exact(Charge::from_ah(9.0)),
        thickness: None,
        governing: None,
        states: Vec::new(),
        events: Vec::new(),
        electrodes: vec![
            electrode(120.0, false),
            electrode(60.0, false),
            electrode(20.0, true),
        ],
        papers: Vec::new(),
        envelopes: Vec::new(),
        reached: None,
        ending: Some(Ending {
            at: Span::from_h(6.0),
            outcome: Outcome::Finished,
        }),
        thinned: false,
    }
}

/// Readings at hours: amperes, or none.
fn readings(list: &[(f64, Option<f64>)]) -> Vec<ReadingRow> {
    let reading = |(h, a): &(f64, Option<f64>)| ReadingRow {
        at: Span::from_h(*h),
        current: a.map(Current::from_a),
        voltage: None,
        setpoint: Current::ZERO,
        mode: None,
        charge: Charge::ZERO,
        thickness: Length::ZERO,
    };
    list.iter().map(reading).collect()
}

/// An hour at 1 A, two at 9 A, half an hour in which nothing was read, half an hour at rest, three
/// quarters at 3 A; the last reading lasts no time, and a clock that ran back takes none away.
const NIGHT: [(f64, Option<f64>); 7] = [
    (1.0, Some(1.0)),
    (2.0, Some(9.0)),
    (4.0, None),
    (4.5, Some(0.000_5)),
    (5.0, Some(3.0)),
    (5.75, Some(3.0)),
    (5.5, Some(12.0)),
];

#[track_caller]
fn agree(ours: f64, theirs: f64) {
    assert!((ours / theirs - 1.0).abs() < 1e-9, "{ours}, not {theirs}");
}

fn of(record: &RunRecord) -> RunDensity {
    run_density(record, &readings(&NIGHT), &profile()).unwrap()
}

/// Of 9 A on two dm² edges get 5.4 A/dm², more than 5; of 3 A 1.8. Current flowed for 1 + 2 + 0.75
/// h: 9 Ah are 2.4 A, 1.2 A/dm² in the mean.
#[test]
fn density_is_reckoned_on_what_hung_at_the_start_while_current_flowed() {
    let density = of(&record());
    agree(density.peak.a_per_dm2(), 4.5);
    agree(density.mean.a_per_dm2(), 1.2);
    agree(density.above.h(), 2.0);
    assert_eq!(density.peak_to_mean, 1.2);
    assert_eq!(density.window, profile().window(true));
    // Two times beyond the window add up.
    let twice = [
        (0.0, Some(9.0)),
        (1.0, Some(1.0)),
        (2.0, Some(9.0)),
        (2.5, Some(0.0)),
    ];
    let twice = run_density(&record(), &readings(&twice), &profile()).unwrap();
    agree(twice.above.h(), 1.5);
}

#[test]
fn without_a_current_or_an_area_there_is_no_density() {
    let profile = profile();
    let none = |record: &RunRecord, list: &[(f64, Option<f64>)]| {
        run_density(record, &readings(list), &profile).is_none()
    };
    assert!(none(&record(), &[]));
    assert!(none(&record(), &[(1.0, Some(3.0))]));
    assert!(none(&record(), &[(1.0, None), (2.0, None)]));
    assert!(none(&record(), &[(1.0, Some(0.000_9)), (2.0, Some(0.0))]));
    let bare = RunRecord {
        electrodes: Vec::new(),
        ..record()
    };
    assert!(none(&bare, &NIGHT));
    assert!(!none(&record(), &NIGHT));
}

#[test]
fn the_window_is_the_still_one_unless_its_station_says_stirred_and_no_guard_the_contrary() {
    let stirred = |stirred, code: Option<&str>| {
        let mut one = record();
        one.head.stirred = stirred;
        one.events.extend(code.map(|code| EventRow {
            at: Span::ZERO,
            code: code.to_owned(),
            text: "as it was seen".to_owned(),
        }));
        of(&one).window == profile().window(true)
    };
    assert!(stirred(Some(true), None));
    assert!(stirred(Some(true), Some("temperature-out")));
    assert!(!stirred(Some(true), Some("stirring-out")));
    assert!(!stirred(Some(false), None));
    assert!(!stirred(None, None));
}

/// What the plan took is kept with the run; what was hung later has edges for all the ledger knows.
#[test]
fn edges_are_as_the_run_kept_them_and_what_was_hung_later_has_some() {
    let with = |kept, later: bool| {
        let mut one = record();
        one.head.peak_to_mean = kept;
        one.papers.extend(later.then(|| Paper {
            path: "more.toml".to_owned(),
            text: String::new(),
        }));
        of(&one).peak_to_mean
    };
    assert_eq!(with(Some(1.2), false), 1.2);
    assert_eq!(with(Some(1.2), true), 1.5);
    assert_eq!(with(Some(1.9), true), 1.9);
    assert_eq!(with(None, false), 1.5);
    assert_eq!(with(None, true), 1.5);
}

fn spoken(record: &RunRecord, list: &[(f64, Option<f64>)]) -> Vec<(Clue, bool, String)> {
    let found = evidence(record, &readings(list), &profile(), None);
    let told = |one: nightvat::bath::looks::Evidence| (one.clue, one.speaks_for, one.text);
    found.into_iter().map(told).collect()
}

/// The mean against the low end of the window, 1 A; edges, 1.2 times as much, against the high one:
/// 8.33 A.
#[test]
fn a_density_speaks_for_one_cause_and_against_the_other() {
    let both = |a: f64| {
        let found = spoken(&record(), &[(0.0, Some(a)), (0.5, Some(a))]);
        let [
            (Clue::DensityHigh, high, text),
            (Clue::DensityLow, low, same),
        ] = &found[..]
        else {
            panic!("{found:?}");
        };
        assert_eq!(text, same);
        (*high, *low, text.clone())
    };
    assert_eq!((both(0.99).0, both(0.99).1), (false, true));
    assert_eq!((both(1.01).0, both(1.01).1), (false, false));
    assert_eq!((both(8.3).0, both(8.3).1), (false, false));
    let (high, low, text) = both(8.4);
    assert!(high && !low);
    // 4.2 A/dm², 5.04 at the edges.
    for what in [
        "4.20 A/dm2 at most",
        "about 5.04 at edges",
        "0.50 to 5.00",
        "stirred, as its station says",
        "0.5 h above",
    ] {
        assert!(text.contains(what), "no {what}: {text}");
    }
}

#[test]
fn how_it_was_stirred_is_said_with_its_reason() {
    let says = |stirred, stopped: bool, what: &str| {
        let mut one = record();
        one.head.stirred = stirred;
        one.events.extend(stopped.then(|| EventRow {
            at: Span::ZERO,
            code: "stirring-out".to_owned(),
            text: "no bubbles".to_owned(),
        }));
        let text = &spoken(&one, &NIGHT)[0].2;
        assert!(text.contains(what), "no {what}: {text}");
    };
    says(Some(true), true, "still, since its stirring was out");
    says(Some(false), false, "still, as its station says");
    says(None, false, "still, since nobody wrote down");
}

/// A guard that spoke speaks for its cause, in its words; one that was silent says nothing.
#[test]
fn what_guards_said_is_evidence_and_their_silence_is_none() {
    let mut one = record();
    for code in ["voltage-climbing", "cover-not-growing", "gap"] {
        one.events.push(EventRow {
            at: Span::ZERO,
            code: code.to_owned(),
            text: format!("{code} was seen"),
        });
    }
    let found = spoken(&one, &[]);
    let wanted = [
        (Clue::AnodeStrained, "voltage-climbing"),
        (Clue::Uncovered, "cover-not-growing"),
    ];
    let wanted = wanted.map(|(clue, code)| (clue, true, format!("{code}: {code} was seen")));
    assert_eq!(found, wanted);
    assert_eq!(spoken(&record(), &[]), []);
}

/// 6 L hold 0.9 mL when brightener is due and 3 mL when it is too much.
#[test]
fn the_account_of_an_additive_speaks_both_ways() {
    let profile = profile();
    let additive = profile.additives[0].clone();
    let litres = Volume::from_l(6.0);
    let speaks = |ml: f64| {
        let mut level = nightvat::bath::keep::level(&additive, litres, Span::ZERO, &[], Span::ZERO);
        level.held = Volume::from_cm3(ml);
        level.since = Charge::from_ah(7.25);
        let state = AdditiveState {
            additive: additive.clone(),
            level,
            last: Vec::new(),
        };
        let found = evidence(&record(), &[], &profile, Some(&state));
        assert_eq!(found.len(), 2);
        assert_eq!(
            (found[0].clue, found[1].clue),
            (Clue::AdditiveLow, Clue::AdditiveHigh)
        );
        let text = &found[0].text;
        for what in ["brightener", "below 0.90", "above 3.00", "7.2 Ah"] {
            assert!(text.contains(what), "no {what}: {text}");
        }
        (found[0].speaks_for, found[1].speaks_for)
    };
    assert_eq!(speaks(0.89), (true, false));
    assert_eq!(speaks(0.91), (false, false));
    assert_eq!(speaks(2.99), (false, false));
    assert_eq!(speaks(3.01), (false, true));
}
