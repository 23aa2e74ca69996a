//! What a plan makes of several electrodes, thin wires, two sensors and half a protection; worked
//! out by hand. Copper is 13.2310 µm per Ah/dm².

use super::guards::supply;
use nightvat::exchange::Capability;
use nightvat::plan::{self, Forecast, OnRecord, Outlook, Plan, Rack, layers};
use nightvat::spec::station::{Sensor, Source};
use nightvat::spec::{self, Anode, Brightener, Level, Measures, Shelf, Station};
use nightvat::units::{Area, Bounded, Charge, Current, Length, Span};

/// Two wires of one diameter, 300 and 100 mm long, at full density from the start.
const TWO: &str = r#"
name = "two wires"
bath = "acid-copper-bright"
[target]
thickness = "30 um"
[current]
density = "1.5 A/dm2"
[[piece]]
name = "long"
surface = "metal"
shape = { kind = "wire", diameter = "2 mm", length = "300 mm" }
[[piece]]
name = "short"
surface = "metal"
shape = { kind = "wire", diameter = "2 mm", length = "100 mm" }
"#;

const HANGERS: &str = r#"
[[hanger]]
shape = { kind = "wire", diameter = "1 mm", length = "200 mm" }
[[hanger]]
shape = { kind = "wire", diameter = "1 mm", length = "100 mm" }
"#;

fn demo() -> Station {
    spec::station::open(spec::DEMO_STATION, &Shelf::embedded()).unwrap()
}

fn drawn(job: &str, station: &Station, supply: &Capability) -> Outlook {
    let shelf = Shelf::embedded();
    let job = spec::job::read("test.toml", job, &shelf).unwrap_or_else(|e| panic!("{e}"));
    let bath = spec::bath::open(&job.bath, &shelf).unwrap();
    plan::draw(&job, &bath, station, supply).unwrap()
}

fn planned(job: &str) -> Plan {
    drawn(job, &demo(), &supply()).plan
}

fn agree(ours: f64, theirs: f64, within: f64) {
    assert!((ours / theirs - 1.0).abs() < within, "{ours}, not {theirs}");
}

/// Charge is shared by area, and so are its bounds: three quarters and one.
#[test]
fn the_bounds_of_the_charge_are_shared_like_the_charge() {
    let mut rack = Rack::new(&planned(TWO));
    let coulombs = |low, best, high| Bounded {
        low: Charge::from_c(low),
        best: Charge::from_c(best),
        high: Charge::from_c(high),
    };
    rack.book(coulombs(1.0, 2.0, 4.0), Span::from_s(1.0));
    for (index, share) in [(0, 0.75), (1, 0.25)] {
        let found = rack.charge(index);
        agree(found.low.c(), share, 1e-9);
        agree(found.best.c(), 2.0 * share, 1e-9);
        agree(found.high.c(), 4.0 * share, 1e-9);
    }
}

/// For a night by hours no piece has a target: the thinnest governs. At one density a thin wire
/// gains the same thickness as a thick one, so the thick one is given a start.
#[test]
fn by_the_hours_the_thinnest_piece_governs() {
    let job = TWO.replace("thickness = \"30 um\"", "hours = \"2 h\"");
    let plan = planned(&job);
    let start = |ah| OnRecord {
        charge: Bounded::exact(Charge::from_ah(ah)),
        on: Span::ZERO,
    };
    let rack = Rack::resume(&plan, &[start(0.1), start(0.2)], Span::ZERO);
    assert_eq!(rack.governing(), 0, "0.1 Ah on the larger area is less");
    let rack = Rack::resume(&plan, &[start(0.6), start(0.1)], Span::ZERO);
    assert_eq!(rack.governing(), 1);
}

/// Four wires of 300, 100, 200 and 100 mm; the hangers have half the diameter: areas as 6, 2, 2, 1.
#[test]
fn each_hanger_has_its_own_charge_and_mass() {
    let plan = planned(&format!("{TWO}{HANGERS}"));
    let (pieces, hangers) = (&plan.forecast.pieces, &plan.forecast.hangers);
    // Thin wires grow a little faster in area than thick ones: 30 µm on 1 mm are 6 %, on 2 mm 3 %.
    agree(hangers[0].charge / hangers[1].charge, 2.0, 1e-6);
    agree(hangers[0].mass / hangers[1].mass, 2.0, 1e-6);
    agree(pieces[1].charge / hangers[0].charge, 1.0, 0.05);
}

/// Copper on the hangers is cathode as well: an anode as large as the pieces alone is small.
#[test]
fn the_anode_is_held_against_pieces_and_hangers() {
    let job = format!("{TWO}{HANGERS}");
    let plan = planned(&job);
    let ends = plan.forecast.pieces.iter().map(|piece| piece.area_end);
    let pieces: Area = ends.sum();
    // The hangers have half as much as the short piece and all of it: 3 of 8 parts.
    for (share, small) in [(1.05, true), (1.30, true), (1.45, false)] {
        let mut station = demo();
        station.tank.anode = Some(Anode {
            area: pieces * share,
            mass: None,
        });
        let warnings = drawn(&job, &station, &supply()).warnings;
        let found = warnings.iter().any(|remark| remark.code == "anode-small");
        assert_eq!(found, small, "{share} of the pieces' area");
    }
}

/// At one density thickness grows evenly whatever the shape: 200 µm at 1.5 A/dm² are
/// 200/(13.2310 · 1.5) h. The wire's area grows threefold meanwhile.
#[test]
fn a_thin_wire_takes_as_long_as_a_thick_one() {
    let whole = |diameter: &str| {
        let job = TWO.replace("30 um", "200 um").replace("2 mm", diameter);
        let plan = planned(&job);
        plan.forecast.duration.h() * plan.deposit.efficiency
    };
    let hours = 200.0 / (13.2310 * 1.5);
    // The deposit's own density is the bath's: it is the same for both.
    let (thick, thin) = (whole("2 mm"), whole("0.2 mm"));
    agree(thin, thick, 2e-5);
    agree(thick, hours, 0.01);
    // This one is nine times as thick at the end, and grows by a per cent a minute at first.
    agree(whole("0.05 mm"), thick, 2e-5);
}

/// Without a strike and without a ramp the night begins at full density.
#[test]
fn without_strike_and_ramp_the_night_begins_at_full_density() {
    let plan = planned(TWO);
    assert_eq!(plan.schedule.strike, plan.schedule.full);
    let ramp = TWO.replace(
        "[[piece]]\nname = \"long\"",
        "[current.ramp]\nover = \"20 min\"\n[[piece]]\nname = \"long\"",
    );
    let plan = planned(&ramp);
    agree(plan.schedule.strike / plan.schedule.full, 0.1, 1e-9);
}

/// A supply with one of the two protections has a layer of its own.
#[test]
fn one_protection_is_a_layer() {
    for (voltage, current, active) in [
        (true, true, true),
        (true, false, true),
        (false, true, true),
        (false, false, false),
    ] {
        let supply = Capability {
            guards_over_voltage: voltage,
            guards_over_current: current,
            ..supply()
        };
        let list = layers(&supply, None);
        let own = list.iter().find(|layer| layer.name == "supply-limits");
        assert_eq!(own.unwrap().active, Some(active));
    }
}

/// The window of the stirrer is the stirring sensor's, whatever stands before it.
#[test]
fn the_stirrers_window_is_its_own_sensors() {
    let sensor = |measures, window| Sensor {
        measures,
        from: Source::File("/nowhere".into()),
        scale: 1.0,
        every: Span::from_s(10.0),
        within: Span::from_s(1.0),
        window,
    };
    let mut station = demo();
    station.sensors = vec![
        sensor(Measures::Level, Some([1.0, 2.0])),
        sensor(Measures::Stirring, Some([200.0, 400.0])),
    ];
    let plan = drawn(TWO, &station, &supply()).plan;
    assert_eq!(plan.bounds.stirring, Some([200.0, 400.0]));
}

/// A meter that is off by a tenth of an ampere makes the forecast as unsure below as above.
#[test]
fn a_coarse_meter_widens_the_forecast_both_ways() {
    let mut coarse = supply();
    coarse.set_current.fixed = 0.1;
    coarse.read_current.fixed = 0.1;
    let fine = planned(TWO).forecast.pieces[0].thickness;
    let wide = drawn(TWO, &demo(), &coarse).plan.forecast.pieces[0].thickness;
    let (low, high) = (fine.low - wide.low, wide.high - fine.high);
    assert!(low.um() > 0.5 && high.um() > 0.5, "{fine:?} {wide:?}");
    assert!(
        (low / high - 1.0).abs() < 0.5,
        "{low:?} below, {high:?} above"
    );
}

/// The codes of a plan's warnings.
fn warned(station: &Station) -> Vec<&'static str> {
    let warnings = drawn(TWO, station, &supply()).warnings;
    warnings.iter().map(|remark| remark.code).collect()
}

/// Brightener that lasts for the run's charge and not a hair less is not spoken of.
#[test]
fn brightener_that_falls_due_in_the_run_is_said_before_it() {
    let mut station = demo();
    let charge = planned(TWO).forecast.charge;
    assert!(!warned(&station).contains(&"brightener-overdue"));
    let since = Charge::from_ah(3.0);
    for (share, said) in [(1.01, false), (1.0, false), (0.99, true)] {
        station.tank.brightener = Some(Brightener {
            every: since + charge * share,
            since,
        });
        let found = warned(&station).contains(&"brightener-overdue");
        assert_eq!(found, said, "{share}");
    }
    let text = |station: &Station| {
        let warnings = drawn(TWO, station, &supply()).warnings;
        let found = warnings
            .into_iter()
            .find(|one| one.code == "brightener-overdue");
        found.unwrap().text
    };
    let left = format!("falls due after {:.2} Ah", (charge * 0.99).ah());
    assert!(text(&station).contains(&left), "{}", text(&station));
    station.tank.brightener = Some(Brightener {
        every: since,
        since,
    });
    assert!(text(&station).contains("due now"), "{}", text(&station));
}

/// The level's fall over the run, worked out from its hours by hand: above − fall a day × days.
#[test]
fn a_level_that_would_fall_too_far_is_said_before_the_run() {
    let mut station = demo();
    let days = planned(TWO).forecast.duration / Span::from_h(24.0);
    for (above_mm, said) in [(24.0 * days + 0.1, false), (24.0 * days - 0.1, true)] {
        station.tank.level = Some(Level {
            above: Length::from_mm(above_mm),
            falls_a_day: Length::from_mm(24.0),
        });
        assert_eq!(warned(&station).contains(&"level-low"), said, "{above_mm}");
    }
}

/// A bath that wants twice the cathode's area as anode is told at less than that, and one that
/// bears three times at more.
#[test]
fn the_anode_is_held_against_what_the_bath_wants() {
    let shelf = Shelf::embedded();
    let job = spec::job::read("test.toml", TWO, &shelf).unwrap();
    let mut bath = spec::bath::open(&job.bath, &shelf).unwrap();
    let mut station = demo();
    let said = |bath: &nightvat::bath::BathProfile, station: &Station| {
        let outlook = plan::draw(&job, bath, station, &supply()).unwrap();
        let codes = outlook.warnings.iter().map(|one| one.code);
        codes
            .filter(|code| code.starts_with("anode-"))
            .collect::<Vec<_>>()
    };
    let cathode: Area = planned(TWO)
        .forecast
        .pieces
        .iter()
        .map(|one| one.area_end)
        .sum();
    for (ratio, share, codes) in [
        (1.0, 1.01, &[][..]),
        (1.0, 0.99, &["anode-small"]),
        (2.0, 1.99, &["anode-small"]),
        (2.0, 2.01, &[]),
        (2.0, 5.99, &[]),
        (2.0, 6.01, &["anode-large"]),
    ] {
        bath.anode = Some(nightvat::bath::AnodeKind {
            kind: "copper".to_owned(),
            ratio: [ratio, 3.0],
        });
        station.tank.anode = Some(Anode {
            area: cathode * share,
            mass: None,
        });
        assert_eq!(said(&bath, &station), codes, "{ratio} {share}");
    }
}

/// A strike until all is covered, on bare metal: there is nothing to cover, so it lasts its time,
/// and waits for nothing.
#[test]
fn on_metal_a_strike_until_covered_lasts_its_time() {
    let strike = "[current.strike]\ndensity = \"0.5 A/dm2\"\nfor = \"40 min\"\n\
                  until = \"covered\"\n[[piece]]";
    let schedule = planned(&TWO.replacen("[[piece]]", strike, 1)).schedule;
    assert_eq!(schedule.strike_for, Span::from_min(40.0));
    assert_eq!(schedule.strike_waits, Span::ZERO);
}

/// The last stretch of a curve that delivers a charge, worked out by hand: 1 A for 100 s, then a rise
/// to 2 A in 100 s, which is 250 C.
#[test]
fn the_last_of_a_charge_takes_as_long_as_the_curve_says() {
    let points = [(0.0, 1.0), (100.0, 1.0), (200.0, 2.0)];
    let curve = points.map(|(s, a)| (Span::from_s(s), Current::from_a(a)));
    let forecast = Forecast {
        curve: curve.to_vec(),
        ..Forecast::default()
    };
    let last = |c: f64| forecast.time_of_last(Charge::from_c(c)).map(Span::s);
    assert_eq!(last(0.0), Some(0.0));
    assert_eq!(last(150.0), Some(100.0));
    assert_eq!(last(200.0), Some(150.0));
    assert_eq!(last(250.0), Some(200.0));
    // Beyond it the first current goes on.
    assert_eq!(last(350.0), Some(300.0));
    assert_eq!(Forecast::default().time_of_last(Charge::from_c(1.0)), None);
    let nothing = [0.0, 10.0].map(|s| (Span::from_s(s), Current::ZERO));
    let nothing = Forecast {
        curve: nothing.to_vec(),
        ..Forecast::default()
    };
    assert_eq!(nothing.time_of_last(Charge::from_c(1.0)), None);
}
