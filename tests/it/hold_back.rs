//! A rack whose copper is behind: what the cell shows corrects the covered area, and with it the
//! current, each piece's share and the end of the strike.

#![allow(clippy::unwrap_used)] // test code, its helpers included

use nightvat::exchange::Capability;
use nightvat::plan::{self, Plan, Rack, Stage};
use nightvat::spec::{self, DEMO_STATION, Shelf, open_supply};
use nightvat::units::{Area, Bounded, Charge, Span};

/// 100 cm² of paint, of which a patch of 1 cm² is metal, and 20 cm² of metal beside it.
fn planned(strike: &str, front: &str) -> Plan {
    let text = format!(
        "name = \"two of them\"\nbath = \"acid-copper-bright\"\n\
         [target]\nthickness = \"40 um\"\n[current]\ndensity = \"1.5 A/dm2\"\n\
         [current.strike]\ndensity = \"0.3 A/dm2\"\n{strike}\n\
         [[piece]]\nname = \"painted\"\nsurface = \"paint\"\ncontact = \"100 mm2\"\n{front}\n\
         shape = {{ kind = \"area\", area = \"100 cm2\" }}\n\
         [[piece]]\nname = \"metal\"\nsurface = \"metal\"\nshape = {{ kind = \"area\", area = \"20 cm2\" }}\n"
    );
    let shelf = Shelf::embedded();
    let job = spec::job::read("job.toml", &text, &shelf).unwrap();
    let bath = spec::bath::open(&job.bath, &shelf).unwrap();
    let station = spec::station::open(DEMO_STATION, &shelf).unwrap();
    let supply = open_supply(&station.supply, &shelf).unwrap();
    let capability: Capability = supply.capability();
    plan::draw(&job, &bath, &station, &capability).unwrap().plan
}

/// Minutes at hardly any charge: areas stay what they are.
fn lasts(rack: &mut Rack, minutes: f64) {
    rack.book(
        Bounded::exact(Charge::from_c(1e-6)),
        Span::from_min(minutes),
    );
}

fn cm2(area: Area, expected: f64) {
    assert!((area.cm2() / expected - 1.0).abs() < 1e-6, "{area:?}");
}

/// By the simple law √share rises in a straight line from √(1/100) in 100 min: half-way it is 0.1 +
/// 0.45, and 0.3025 are covered.
#[test]
fn less_surface_than_planned_holds_the_copper_back() {
    let mut rack = Rack::new(&planned("for = \"100 min\"", ""));
    lasts(&mut rack, 50.0);
    cm2(rack.covered_area(), 50.25);
    // More than should be covered corrects nothing.
    assert!(!rack.hold_back(Area::from_cm2(60.0)));
    cm2(rack.covered_area(), 50.25);
    // 36 cm² take part at most: 20 are metal, 16 are paint. The plan stays what it was.
    assert!(rack.hold_back(Area::from_cm2(36.0)));
    cm2(rack.covered_area(), 36.0);
    cm2(rack.planned_area(), 50.25);
    let wanted = rack.current_wanted().a();
    assert!((wanted / (30.0 * 36e-4) - 1.0).abs() < 1e-6, "{wanted}");
    // The shares follow: of the next coulomb 16/36 go to the paint.
    let before = rack.charge(0).best.c();
    rack.book(Bounded::exact(Charge::from_c(1.0)), Span::from_s(1e-6));
    let more = rack.charge(0).best.c() - before;
    assert!((more - 16.0 / 36.0).abs() < 1e-6, "{more}");
    // √0.16 = 0.4; ten minutes add 0.09.
    lasts(&mut rack, 10.0);
    assert!((rack.covered_area().cm2() - 20.0 - 24.01).abs() < 1e-3);
    // Less than the metal cannot be; the patch is covered whatever is said.
    rack.hold_back(Area::from_cm2(5.0));
    assert!((rack.covered_area().cm2() - 21.0).abs() < 1e-3);
}

/// What copper covers whole is metal: nothing holds it back any more. And to be told of just the
/// surface that is covered changes nothing, to the last bit.
#[test]
fn what_is_covered_whole_stays_so_and_the_same_surface_corrects_nothing() {
    let mut rack = Rack::new(&planned("for = \"100 min\"", ""));
    lasts(&mut rack, 37.0);
    let (covered, share) = (rack.covered_area(), rack.covered_share());
    rack.hold_back(covered);
    assert_eq!(
        (rack.covered_area(), rack.covered_share()),
        (covered, share)
    );
    lasts(&mut rack, 63.0);
    assert_eq!(rack.covered_share(), 1.0);
    rack.hold_back(Area::from_cm2(36.0));
    assert_eq!(rack.covered_share(), 1.0);
    cm2(rack.covered_area(), 120.0);
}

/// A strike that ends by time ends by time.
#[test]
fn the_clock_of_a_timed_strike_goes_on() {
    let plan = planned("for = \"100 min\"", "");
    let mut rack = Rack::new(&plan);
    lasts(&mut rack, 99.0);
    rack.hold_back(Area::from_cm2(36.0));
    assert_eq!(plan.schedule.stage(rack.along()), Stage::Strike);
    lasts(&mut rack, 2.0);
    assert_ne!(plan.schedule.stage(rack.along()), Stage::Strike);
}

/// A ball of 100 cm² has R = 28.2095 mm; from the patch to the far pole are R·(π − acos 0.98) =
/// 82.9715 mm, 100 min at 49.7829 mm/h.
#[test]
fn a_strike_until_covered_waits_and_not_for_ever() {
    let front = "front_speed = \"49.7829 mm/h\"";
    let plan = planned("for = \"200 min\"\nuntil = \"covered\"", front);
    let strikes = |rack: &Rack| plan.schedule.stage(rack.along()) == Stage::Strike;
    assert!((plan.schedule.strike_for.s() / 6000.0 - 1.0).abs() < 1e-5);
    assert!((plan.schedule.strike_waits.s() / 6000.0 - 1.0).abs() < 1e-4);

    let mut rack = Rack::new(&plan);
    lasts(&mut rack, 50.0);
    // A third of the way: 66 2/3 min are left.
    rack.hold_back(Area::from_cm2(36.0));
    lasts(&mut rack, 66.0);
    assert!(strikes(&rack));
    lasts(&mut rack, 1.0);
    assert!(!strikes(&rack));

    let mut rack = Rack::new(&plan);
    for _ in 0..199 {
        lasts(&mut rack, 1.0);
        assert!(strikes(&rack));
        rack.hold_back(Area::from_cm2(21.0));
    }
    lasts(&mut rack, 2.0);
    assert!(!strikes(&rack));
}

/// A night has room for the longest strike: 1.25 times what is planned, and the waiting.
#[test]
fn the_longest_time_holds_the_waiting() {
    let front = "front_speed = \"49.7829 mm/h\"";
    let timed = planned("for = \"100 min\"", front).limits.time_on;
    let waits = planned("for = \"200 min\"\nuntil = \"covered\"", front)
        .limits
        .time_on;
    assert!(((waits - timed).s() / 6000.0 - 1.0).abs() < 1e-3);
}
