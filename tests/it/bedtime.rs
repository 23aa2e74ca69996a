//! The one answer before she sleeps. What it asks for in each case was worked out by hand from the
//! figures of the moment: 8.5 h gone, 4.2 h to go, 1.21 V of 2.5 V.

use super::moment;
use super::night_kit;
use nightvat::control::State;
use nightvat::plan::Plan;
use nightvat::run::{Bedtime, Evening, Snapshot};
use nightvat::spec::station::{Brightener, Level};
use nightvat::units::{Area, Charge, Length, Voltage};
use nightvat::view;
use serde_json::Value;

/// The answer for a snapshot, with a plan changed a little.
fn answer(
    snapshot: &Snapshot,
    covered: f64,
    change: impl FnOnce(&mut Plan),
    (tells, kept): (bool, bool),
) -> Bedtime {
    let studio = night_kit::studio(night_kit::WIRE, "scpi-standard", 1, true);
    let mut plan = (*studio.plan).clone();
    change(&mut plan);
    let evening = Evening {
        snapshot,
        night: Some((&plan, covered)),
        surface: Some(Area::from_cm2(300.0)),
        supply: &studio.supply,
        relay: None,
        tells,
        kept,
    };
    evening.bedtime()
}

fn well() -> Snapshot {
    Snapshot {
        alarms: Vec::new(),
        ..moment::snapshot(State::Building)
    }
}

fn codes(answer: &Bedtime) -> Vec<&str> {
    answer.fix.iter().map(|remark| remark.code).collect()
}

#[test]
fn a_run_that_is_well_lets_her_go_to_bed() {
    let level = |plan: &mut Plan| {
        plan.bounds.level = Some(Level {
            above: Length::from_mm(20.0),
            falls_a_day: Length::from_mm(12.0),
        });
    };
    let go = answer(&well(), 1.0, level, (true, true));
    assert!(go.go && go.fix.is_empty() && go.know.is_empty(), "{go:?}");
    // 12 mm a day for 4.2 h over 300 cm²: 2.1 mm, 63 mL.
    let water = go.water.unwrap().l();
    assert!((water - 0.063).abs() < 1e-6, "{water}");
    assert!(!go.layers.is_empty());

    let text = view::text::bedtime(&go, Some("Wed 08:56"));
    assert!(text.starts_with("Go to bed."), "{text}");
    for what in [
        "Covered      100 %",
        "1.21 V of 2.50 V",
        "Wed 08:56",
        "0.06 L",
    ] {
        assert!(text.contains(what), "no {what}: {text}");
    }
    let json = serde_json::to_value(view::json::bedtime(&go, None)).unwrap();
    assert_eq!(
        (&json["go"], &json["finish_at"]),
        (&true.into(), &Value::Null)
    );
    assert_eq!(json["covered_fraction"], 1.0);
}

#[test]
fn each_thing_that_is_not_well_is_named_with_its_code() {
    let same = |_: &mut Plan| {};
    let both = (true, true);
    let hot = Snapshot {
        // 85 % of 2.5 V is 2.125 V.
        voltage: Some(Voltage::from_v(2.13)),
        ..well()
    };
    let low = |plan: &mut Plan| {
        // 4.25 mm have gone and 2.1 mm will: 3.65 mm would be left.
        plan.bounds.level = Some(Level {
            above: Length::from_mm(10.0),
            falls_a_day: Length::from_mm(12.0),
        });
    };
    let dull = |plan: &mut Plan| {
        plan.bounds.brightener = Some(Brightener {
            every: Charge::from_ah(10.0),
            since: Charge::from_ah(9.999),
        });
    };
    let cases = [
        (answer(&hot, 1.0, same, both), "voltage-near-limit"),
        (answer(&well(), 0.97, same, both), "not-covered"),
        (answer(&well(), 1.0, low, both), "level-low"),
        (answer(&well(), 1.0, dull, both), "brightener-overdue"),
        (answer(&well(), 1.0, same, (true, false)), "keeper-lost"),
    ];
    for (answer, code) in &cases {
        assert!(!answer.go);
        assert_eq!(codes(answer), [*code]);
        let text = view::text::bedtime(answer, None);
        assert!(text.contains("gloves") && text.contains(code), "{text}");
    }
    let quiet = answer(&well(), 1.0, same, (false, true));
    assert!(quiet.go && quiet.know[0].code == "nobody-told", "{quiet:?}");
}

#[test]
fn only_a_run_that_builds_lets_her_go() {
    for state in State::ALL {
        let of = Snapshot {
            alarms: Vec::new(),
            ..moment::snapshot(state)
        };
        let answer = answer(&of, 1.0, |_| {}, (true, true));
        let goes = matches!(state, State::Building | State::Holding);
        assert_eq!(answer.go, goes, "{state:?}: {answer:?}");
        let first = codes(&answer).first().copied();
        let danger = state == State::Unconfirmed;
        assert_eq!(first == Some("unconfirmed"), danger, "{answer:?}");
    }
    // An alarm that stands keeps her up, whatever the state.
    let mut alarmed = well();
    alarmed.alarms = moment::snapshot(State::Tripped).alarms;
    let answer = answer(&alarmed, 1.0, |_| {}, (true, true));
    assert_eq!(codes(&answer), ["constant-current-lost"]);
}

/// At 60 µm she would be asleep; the look at 10 µm is behind her.
#[test]
fn a_look_that_comes_due_in_the_night_is_said() {
    let looks = |plan: &mut Plan| plan.looks = vec![Length::from_um(10.0), Length::from_um(900.0)];
    let answer = answer(&well(), 1.0, looks, (true, true));
    assert!(answer.go);
    let said: Vec<&str> = answer.know.iter().map(|remark| remark.code).collect();
    assert_eq!(said, ["look-due"]);
    assert!(answer.know[0].text.contains("900 um"), "{:?}", answer.know);
}

/// It comes back from the look at 118.2 µm: that one is behind her.
#[test]
fn the_look_at_which_it_stands_is_no_news() {
    let mut back = well();
    back.thickness = Length::from_um(118.2);
    let looks = |plan: &mut Plan| plan.looks = vec![Length::from_um(118.2)];
    let answer = answer(&back, 1.0, looks, (true, true));
    assert_eq!(answer.know, []);
}
