//! Plans against nights worked out by hand, and what is said about them.
//!
//! Copper is 13.2310 µm per Ah/dm² or 132.310 mm³ per Ah: IUPAC weight 63.546, exact SI Faraday
//! constant, 8.96 g/cm³ (computed with scipy 1.17.1).

#![allow(clippy::unwrap_used)] // test code, its helpers included

use nightvat::bath::BathProfile;
use nightvat::deposit::Metal;
use nightvat::exchange::{Ask, Capability, OnMainsReturn, Tolerance};
use nightvat::plan::{self, Goal, Outlook, PlanError, REFUSALS, Rack, Stage, WARNINGS};
use nightvat::shape::mesh::Mesh;
use nightvat::spec::{self, Anode, Finish, Form, Hanger, Job, Look, Piece, Ramp, Shelf, Station};
use nightvat::spec::{Paint, Strike, Surface, Tank, Target, Until};
use nightvat::units::{Area, Bounded, Charge, Current, CurrentDensity, Density, Fraction, Length};
use nightvat::units::{Mass, Span, Temperature, Voltage, Volume};
use std::sync::Arc;

#[track_caller]
fn agree(ours: f64, theirs: f64, within: f64) {
    let off = (ours - theirs).abs() / theirs.abs();
    assert!(
        off <= within,
        "ours {ours}, theirs {theirs}, off by {off:e}, allowed {within:e}"
    );
}

fn mm(value: f64) -> Length {
    Length::from_mm(value)
}

fn um(value: f64) -> Length {
    Length::from_um(value)
}

fn density(value: f64) -> CurrentDensity {
    CurrentDensity::from_a_per_dm2(value)
}

fn bath() -> BathProfile {
    BathProfile {
        name: "copper".into(),
        metal: Metal::COPPER,
        deposit_density: Density::from_g_per_cm3(8.96),
        efficiency: 1.0,
        efficiency_uncertainty: 0.01,
        window_still: [density(0.5), density(2.5)],
        window_stirred: [density(0.5), density(5.0)],
        temperature: [Temperature::from_c(18.0), Temperature::from_c(30.0)],
        components: vec![],
        additives: vec![],
        anode: None,
        agitation: None,
        sources: vec![],
    }
}

fn station() -> Station {
    let anode = Anode {
        area: Area::from_cm2(900.0),
        mass: Some(Mass::from_g(900.0)),
    };
    Station {
        name: "north tank".into(),
        supply: "any".into(),
        port: "any".into(),
        max_current: Current::from_a(5.0),
        max_voltage: Voltage::from_v(2.5),
        tank: Tank {
            volume: Volume::from_l(6.0),
            bath_ledger: None,
            stirred: true,
            surface: None,
            gap: None,
            anode: Some(anode),
            level: None,
            brightener: None,
        },
        resume: None,
        page: None,
        notices: nightvat::spec::Notices::default(),
        link_allowance: nightvat::spec::station::LINK_ALLOWANCE,
        sensors: Vec::new(),
        relay: None,
    }
}

fn supply() -> Capability {
    let fine = Tolerance {
        share: 0.001,
        fixed: 1e-4,
        step: 1e-4,
    };
    Capability {
        max_current: Current::from_a(6.0),
        max_voltage: Voltage::from_v(30.0),
        set_current: fine,
        set_voltage: Tolerance {
            share: 0.001,
            fixed: 0.01,
            step: 0.001,
        },
        read_current: fine,
        read_voltage: Tolerance {
            share: 0.001,
            fixed: 0.01,
            step: 0.001,
        },
        least_set_interval: Span::from_ms(200.0),
        longest_exchange: Span::from_s(1.0),
        reads: Ask::MEASURED | Ask::OUTPUT,
        guards_over_voltage: true,
        guards_over_current: true,
        on_mains_return: OnMainsReturn::Off,
        watchdog: None,
    }
}

fn metal(name: &str, form: Form) -> Piece {
    Piece {
        name: name.into(),
        surface: Surface::Metal,
        form,
        texture: 1.0,
        uncertainty: None,
        paint: Paint::default(),
        peak_to_mean: None,
    }
}

fn painted(name: &str, form: Form, contact_cm2: f64) -> Piece {
    let contact = Some(Area::from_cm2(contact_cm2));
    Piece {
        surface: Surface::Paint,
        paint: Paint {
            contact,
            ..Paint::default()
        },
        ..metal(name, form)
    }
}

fn job(pieces: Vec<Piece>, target: Target, full: f64) -> Job {
    Job {
        name: "a night".into(),
        bath: "copper".into(),
        target,
        until: Until::Thinnest,
        density: density(full),
        strike: None,
        ramp: None,
        finish: None,
        pieces,
        hangers: vec![],
        looks: vec![],
    }
}

fn striking(job: Job, at: f64, minutes: f64) -> Job {
    Job {
        strike: Some(Strike {
            density: density(at),
            duration: Span::from_min(minutes),
            until_covered: false,
        }),
        ..job
    }
}

fn sheet(dm2: f64) -> Form {
    Form::Plain {
        area: Area::from_dm2(dm2),
        like: None,
    }
}

fn wire(diameter: f64, length: f64) -> Form {
    Form::Wire {
        diameter: mm(diameter),
        length: mm(length),
    }
}

fn draw(job: &Job) -> Outlook {
    plan::draw(job, &bath(), &station(), &supply()).unwrap()
}

fn codes(outlook: &Outlook) -> Vec<&'static str> {
    outlook
        .refusals
        .iter()
        .chain(&outlook.warnings)
        .map(|remark| remark.code)
        .collect()
}

#[test]
fn a_flat_piece_by_the_handbook() {
    // The Guidebook's table (from memory): 17.8 Ah/ft² for a thousandth of an inch, 1.186 g/Ah. One
    // square foot is 9.290304 dm²; at 2 A/dm² it takes 18.58 A for 57.5 min.
    let job = job(
        vec![metal("panel", sheet(9.290_304))],
        Target::Thickness(mm(0.0254)),
        2.0,
    );
    let outlook = draw(&job);
    let forecast = &outlook.plan.forecast;
    agree(forecast.charge.ah(), 17.8, 3e-3);
    agree(forecast.mass.g(), 17.8 * 1.186, 3e-3);
    agree(forecast.current_start.a(), 18.580_608, 1e-12);
    agree(forecast.duration.h(), 17.8 / 18.580_608, 3e-3);
    // No supply on this bench gives that.
    assert_eq!(
        codes(&outlook)[..2],
        ["current-above-supply", "current-above-station"]
    );
}

#[test]
fn a_thin_wire_through_the_night() {
    // 1 mm wire, 100 mm, 0.30 mm at 1.5 A/dm²: the current follows the area, so thickness grows at
    // an even 1.5 · 13.2310 µm/h: 15.1161 h. π(0.8² − 0.5²)·100 mm³ at 132.310 mm³/Ah are 0.926 026
    // Ah; the straight line would have asked for 0.712 327 Ah, and stopped at 0.243 mm.
    let job = job(
        vec![metal("stem", wire(1.0, 100.0))],
        Target::Thickness(mm(0.30)),
        1.5,
    );
    let outlook = draw(&job);
    let forecast = &outlook.plan.forecast;
    agree(forecast.charge.ah(), 0.926_026, 1e-5);
    agree(forecast.duration.h(), 15.116_06, 1e-4);
    agree(forecast.mass.g(), 1.097_798, 1e-5);
    // 1.5 A/dm² on π·1·100 mm², and on π·1.6·100 mm² at the end.
    agree(forecast.current_start.a(), 0.047_123_89, 1e-7);
    agree(forecast.current_peak.a(), 0.075_398_22, 1e-4);
    agree(forecast.pieces[0].area_end.mm2(), 502.654_825, 1e-5);
    agree(forecast.pieces[0].thickness.best.mm(), 0.30, 1e-6);
    assert!(outlook.refusals.is_empty(), "{:?}", outlook.refusals);
    assert!(forecast.curve.len() <= 300 && forecast.curve.len() > 100);
    assert_eq!(forecast.curve[0], (Span::ZERO, forecast.current_start));
    assert_eq!(forecast.curve.last().unwrap().0, forecast.duration);
}

#[test]
fn two_pieces_and_a_hanger_share_one_current() {
    // All metal, so one thickness on all: 200 µm at 1.5 A/dm² take 10.0774 h. Volumes: sphere
    // 4/3·π(11.2³ − 11³) = 309.669, wire π(0.8² − 0.6²)·180 = 158.336, hanger π(0.7² − 0.5²)·60 =
    // 45.239 mm³.
    let head = Form::Sphere { diameter: mm(22.0) };
    let pieces = vec![metal("head", head), metal("stem", wire(1.2, 180.0))];
    let hangers = vec![Hanger {
        form: wire(1.0, 60.0),
    }];
    let job = Job {
        hangers,
        ..job(pieces, Target::Thickness(um(200.0)), 1.5)
    };
    let outlook = draw(&job);
    let forecast = &outlook.plan.forecast;
    agree(forecast.duration.h(), 10.077_37, 1e-4);
    agree(forecast.pieces[0].charge.ah(), 2.340_487, 1e-4);
    agree(forecast.pieces[1].charge.ah(), 1.196_710, 1e-4);
    agree(forecast.hangers[0].charge.ah(), 0.341_917, 1e-4);
    agree(forecast.charge.ah(), 3.879_114, 1e-4);
    agree(forecast.current_start.a(), 0.358_141_562, 1e-8);
    agree(forecast.current_peak.a(), 0.411_749_7, 1e-4);
    // Hangers are no target: π·22² + π·1.2·180 mm².
    agree(forecast.area.mm2(), 2_199.114_858, 1e-8);
    agree(forecast.mass.g(), 3.879_114 * 1.185_494, 1e-4);
}

#[test]
fn strike_and_ramp_add_up() {
    // 1 dm²: 40 min at 0.3 A are 0.2 Ah, 2 h from 0.3 to 1.5 A are 1.8 Ah, and 3 Ah more at 1.5 A
    // take 2 h.
    let bare = job(
        vec![metal("panel", sheet(1.0))],
        Target::Charge(Charge::from_ah(5.0)),
        1.5,
    );
    let ramp = Some(Ramp {
        over: Span::from_h(2.0),
    });
    let outlook = draw(&Job {
        ramp,
        ..striking(bare.clone(), 0.3, 40.0)
    });
    let forecast = &outlook.plan.forecast;
    agree(forecast.duration.h(), 4.666_666_667, 1e-6);
    agree(forecast.charge.ah(), 5.0, 1e-6);
    agree(forecast.current_start.a(), 0.3, 1e-12);
    agree(forecast.current_peak.a(), 1.5, 1e-9);
    // A strike alone steps to the full density: 0.2 Ah, then 4.8 Ah at 1.5 A: 3.2 h.
    agree(
        draw(&striking(bare.clone(), 0.3, 40.0))
            .plan
            .forecast
            .duration
            .h(),
        3.866_666_667,
        1e-6,
    );
    // A ramp alone starts at a tenth: 2 h at 0.825 A on the mean, then 3.35 Ah at 1.5 A.
    let alone = draw(&Job { ramp, ..bare });
    agree(alone.plan.forecast.duration.h(), 2.0 + 3.35 / 1.5, 1e-6);
    agree(alone.plan.forecast.current_start.a(), 0.15, 1e-12);
}

#[test]
fn paint_takes_current_as_it_is_covered() {
    // 1 dm² of paint with a contact of 1 cm², strike 1 A/dm² for 1 h: ∫(0.1 + 0.9x)² dx = 0.37 Ah,
    // then 1 Ah in the second hour.
    let piece = painted("leaf", sheet(1.0), 1.0);
    let night = striking(
        job(vec![piece], Target::Charge(Charge::from_ah(1.37)), 1.0),
        1.0,
        60.0,
    );
    let outlook = draw(&night);
    agree(outlook.plan.forecast.duration.h(), 2.0, 1e-5);
    agree(outlook.plan.forecast.charge.ah(), 1.37, 1e-6);
    // It starts on the patch alone.
    agree(outlook.plan.forecast.current_start.ma(), 10.0, 1e-9);
}

#[test]
fn each_way_to_end_a_rack_ends_it() {
    // 1 dm² of metal beside 1 dm² of paint covered as above. After 2 h: metal 2 Ah and 26.4619 µm,
    // paint 1.37 Ah and 18.1264 µm, the mean 22.2942 µm.
    let pieces = vec![metal("plate", sheet(1.0)), painted("leaf", sheet(1.0), 1.0)];
    let night = |until, target| Job {
        until,
        ..striking(job(pieces.clone(), target, 1.0), 1.0, 60.0)
    };
    let ah = |ah| Target::Charge(Charge::from_ah(ah));
    for (until, target) in [
        (Until::Thinnest, Target::Thickness(um(18.126_42))),
        (Until::RackMean, Target::Thickness(um(22.294_17))),
        (
            Until::Piece("plate".into()),
            Target::Thickness(um(26.461_92)),
        ),
        (
            Until::Piece("leaf".into()),
            Target::Mass(Mass::from_g(1.624_127)),
        ),
        (Until::Thinnest, ah(1.37)),
        (Until::RackMean, ah(1.685)),
        (Until::Thinnest, Target::Hours(Span::from_h(2.0))),
    ] {
        let outlook = draw(&night(until.clone(), target));
        let forecast = &outlook.plan.forecast;
        let said = format!("{until:?} {target:?}: {:?} h", forecast.duration.h());
        assert!((forecast.duration.h() - 2.0).abs() < 1e-4, "{said}");
        assert!(
            (forecast.pieces[0].charge.ah() - 2.0).abs() < 3e-4,
            "{said}"
        );
        assert!(
            (forecast.pieces[1].charge.ah() - 1.37).abs() < 3e-4,
            "{said}"
        );
    }
}

#[test]
fn a_rack_tells_how_far_it_is() {
    let pieces = vec![metal("plate", sheet(1.0)), painted("leaf", sheet(1.0), 1.0)];
    let target = Target::Charge(Charge::from_ah(2.74));
    let outlook = draw(&striking(job(pieces, target, 1.0), 1.0, 60.0));
    let mut rack = Rack::new(&outlook.plan);
    assert_eq!((rack.pieces(), rack.electrodes()), (2, 2));
    // At the start the leaf has only its patch of 1 cm².
    agree(rack.current_wanted().a(), 1.01, 1e-12);
    assert_eq!(rack.time_to_goal(Current::ZERO), None);
    for _ in 0..7_200 {
        let span = Span::from_s(1.0);
        rack.book(Bounded::exact(rack.current_wanted() * span), span);
    }
    // After 2 h the metal has 2 Ah and the leaf 1.37 of 2.74 Ah: half-way, and 1.37 h to go at 2 A.
    assert_eq!(rack.governing(), 1);
    agree(rack.charge(0).best.ah(), 2.0, 1e-3);
    agree(rack.charge(1).best.ah(), 1.37, 1e-3);
    agree(rack.progress(), 0.5, 1e-3);
    agree(
        rack.time_to_goal(Current::from_a(2.0)).unwrap().h(),
        1.37,
        1e-3,
    );
    agree(rack.shown_thickness().um(), 18.126_42, 1e-3);
    agree(rack.mean_thickness().um(), 22.294_17, 1e-3);
    agree(rack.mass(0).g(), 2.370_988, 1e-3);
    agree(rack.area(0).dm2(), 1.0, 1e-12);
    assert_eq!(rack.time_on(), Span::from_s(7_200.0));
    let interval = rack.thickness_interval(1);
    assert!(interval.low < interval.best && interval.best < interval.high);
    assert_eq!(rack.hold_current(), None);
}

#[test]
fn a_rack_ends_on_the_named_piece_and_on_the_mean() {
    let pieces = vec![metal("plate", sheet(3.0)), metal("tag", sheet(1.0))];
    let named = Job {
        until: Until::Piece("tag".into()),
        ..job(pieces.clone(), Target::Charge(Charge::from_ah(2.0)), 1.0)
    };
    let mut rack = Rack::new(&draw(&named).plan);
    // 4 A for an hour: 3 Ah and 1 Ah.
    rack.book(Bounded::exact(Charge::from_ah(4.0)), Span::from_h(1.0));
    assert_eq!(rack.governing(), 1);
    agree(rack.progress(), 0.5, 1e-12);
    agree(
        rack.time_to_goal(Current::from_a(2.0)).unwrap().h(),
        2.0,
        1e-12,
    );
    let mean = Job {
        until: Until::RackMean,
        ..named
    };
    // Two charges of 2 Ah over 4 dm²: a mean of 13.2310 µm. It is there.
    let outlook = draw(&mean);
    let Goal::RackMean(goal) = outlook.plan.goal else {
        panic!("{:?}", outlook.plan.goal)
    };
    agree(goal.um(), 13.230_96, 1e-6);
    let mut rack = Rack::new(&outlook.plan);
    rack.book(Bounded::exact(Charge::from_ah(4.0)), Span::from_h(1.0));
    assert!(rack.time_to_goal(Current::from_a(4.0)).unwrap() < Span::from_ms(1.0));
    agree(rack.shown_thickness().um(), 13.230_96, 1e-6);
}

#[test]
fn the_forecast_agrees_with_small_steps() {
    // The demo night again in steps of half a second, first order, as control books it.
    let shelf = Shelf::embedded();
    let job = spec::job::open(spec::DEMO_JOB, &shelf).unwrap();
    let bath = spec::bath::open(&job.bath, &shelf).unwrap();
    let station = spec::station::open(spec::DEMO_STATION, &shelf).unwrap();
    let supply = spec::open_supply(&station.supply, &shelf)
        .unwrap()
        .capability();
    let outlook = plan::draw(&job, &bath, &station, &supply).unwrap();
    assert!(outlook.refusals.is_empty(), "{:?}", outlook.refusals);
    let forecast = &outlook.plan.forecast;
    let mut rack = Rack::new(&outlook.plan);
    let mut charge = Charge::ZERO;
    loop {
        let current = rack.current_wanted();
        let step = rack.time_to_goal(current).unwrap().min(Span::from_s(0.5));
        if step < Span::from_ms(1.0) {
            break;
        }
        charge += current * step;
        rack.book(Bounded::exact(current * step), step);
    }
    agree(forecast.charge.ah(), charge.ah(), 1e-4);
    agree(forecast.duration.h(), rack.time_on().h(), 1e-4);
    for (index, piece) in forecast.pieces.iter().enumerate() {
        agree(piece.charge.ah(), rack.charge(index).best.ah(), 1e-4);
    }
    // Nothing is lost between the electrodes, and the thinnest piece has what was asked.
    let pieces: Charge = forecast.pieces.iter().map(|piece| piece.charge).sum();
    let hangers: Charge = forecast.hangers.iter().map(|hanger| hanger.charge).sum();
    agree((pieces + hangers).ah(), forecast.charge.ah(), 1e-9);
    let thinnest = forecast
        .pieces
        .iter()
        .map(|piece| piece.thickness.best.um());
    agree(thinnest.fold(f64::INFINITY, f64::min), 200.0, 1e-6);
}

#[test]
fn limits_stand_a_little_above_the_night() {
    // 1 dm² at 2 A/dm² for 5 Ah, then 0.05 A/dm² for 6 h: 2.5 h and 0.3 Ah of hold.
    let flat = job(
        vec![metal("panel", sheet(1.0))],
        Target::Charge(Charge::from_ah(5.0)),
        2.0,
    );
    let finish = Some(Finish {
        hold: density(0.05),
        at_most: Span::from_h(6.0),
    });
    let limits = draw(&Job {
        finish,
        ..flat.clone()
    })
    .plan
    .limits;
    agree(limits.current.a(), 2.2, 1e-9);
    agree(limits.over_current.a(), 2.31, 1e-9);
    agree(limits.voltage.v(), 2.5, 1e-12);
    agree(limits.over_voltage.v(), 2.575, 1e-12);
    agree(limits.charge.ah(), 5.3 * 1.1, 1e-6);
    agree(limits.time_on.h(), 8.5 * 1.25, 1e-6);
    // A coarse supply: three of its steps instead; and never beyond its rating or the station.
    let coarse = Capability {
        max_current: Current::from_a(2.3),
        set_current: Tolerance {
            share: 0.001,
            fixed: 0.0,
            step: 0.05,
        },
        set_voltage: Tolerance {
            share: 0.001,
            fixed: 0.0,
            step: 0.1,
        },
        max_voltage: Voltage::from_v(5.0),
        ..supply()
    };
    let tight = Station {
        max_current: Current::from_a(2.1),
        ..station()
    };
    let limits = plan::draw(&flat, &bath(), &tight, &coarse)
        .unwrap()
        .plan
        .limits;
    agree(limits.current.a(), 2.1, 1e-9);
    agree(limits.over_current.a(), 2.25, 1e-9);
    agree(limits.over_voltage.v(), 2.8, 1e-9);
    let full = Station {
        max_voltage: Voltage::from_v(5.0),
        ..tight
    };
    let limits = plan::draw(&flat, &bath(), &full, &coarse)
        .unwrap()
        .plan
        .limits;
    assert_eq!(limits.over_voltage, Voltage::from_v(5.0));
}

#[test]
fn the_schedule_keeps_its_stages() {
    let bare = job(
        vec![metal("panel", sheet(1.0))],
        Target::Charge(Charge::from_ah(5.0)),
        1.5,
    );
    let ramp = Some(Ramp {
        over: Span::from_h(2.0),
    });
    let looks = vec![Look { at: um(20.0) }];
    let plan = draw(&Job {
        ramp,
        looks,
        ..striking(bare, 0.3, 60.0)
    })
    .plan;
    let at = |h| plan.schedule.density(Span::from_h(h)).a_per_dm2();
    let stage = |h| plan.schedule.stage(Span::from_h(h));
    assert_eq!(
        [stage(0.5), stage(1.0), stage(3.0)],
        [Stage::Strike, Stage::Ramp, Stage::Build]
    );
    agree(at(0.5), 0.3, 1e-12);
    agree(at(2.0), 0.9, 1e-12);
    agree(at(9.0), 1.5, 1e-12);
    assert_eq!(plan.looks, [um(20.0)]);
}

#[test]
fn a_coarse_supply_widens_the_interval() {
    // A tag of 1 cm² at 15 mA on a supply good to 10 mA: 1.96/√3 of two thirds and more.
    let tag = metal("tag", sheet(0.01));
    let sure = Piece {
        uncertainty: Some(Fraction::from_percent(1.0)),
        ..tag
    };
    let night = job(vec![sure], Target::Thickness(um(100.0)), 1.5);
    let loose = Tolerance {
        share: 0.0,
        fixed: 0.010,
        step: 0.0,
    };
    let coarse = Capability {
        set_current: loose,
        read_current: loose,
        ..supply()
    };
    let fine = draw(&night).plan.forecast.pieces[0].thickness;
    let wide = plan::draw(&night, &bath(), &station(), &coarse).unwrap();
    let thickness = wide.plan.forecast.pieces[0].thickness;
    assert!((fine.high - fine.best).um() < 4.0, "{fine:?}");
    agree((thickness.high - thickness.best).um(), 75.6, 5e-3);
    assert!(codes(&wide).contains(&"interval-wide"));
}

/// A night on which nothing is to be said, but that a bare area does not tell how it grows.
fn quiet() -> Job {
    let panel = Piece {
        uncertainty: Some(Fraction::from_percent(5.0)),
        ..metal("panel", sheet(1.0))
    };
    job(vec![panel], Target::Charge(Charge::from_ah(5.0)), 1.5)
}

#[test]
fn a_sound_night_has_no_remark() {
    assert_eq!(codes(&draw(&quiet())), ["growth-unknown"]);
}

/// The codes for one thing changed about a sound night, without what is said of a bare area, which
/// is said once of each.
fn changed(change: impl FnOnce(&mut Job, &mut Station, &mut Capability)) -> Vec<&'static str> {
    let (mut job, mut station, mut supply) = (quiet(), station(), supply());
    change(&mut job, &mut station, &mut supply);
    let mut found = codes(&plan::draw(&job, &bath(), &station, &supply).unwrap());
    let before = found.len();
    found.retain(|code| *code != "growth-unknown");
    let bare = job.pieces.iter().filter(|piece| piece.form.is_flat());
    assert_eq!(before - found.len(), bare.count());
    found
}

#[test]
fn each_refusal_has_its_cause() {
    let ask = |reads: Ask| changed(move |_, _, supply| supply.reads = reads);
    assert_eq!(ask(Ask::VOLTAGE), ["no-proof-of-off", "readback-missing"]);
    assert_eq!(ask(Ask::OUTPUT), ["readback-missing"]);
    assert_eq!(ask(Ask::CURRENT), [""; 0]);
    let volts = |v| changed(move |_, station, _| station.max_voltage = Voltage::from_v(v));
    assert_eq!(volts(30.0), [""; 0]);
    assert_eq!(volts(30.1), ["voltage-above-supply"]);
    // The night peaks at 1.5 A.
    let rated = |a| changed(move |_, _, supply| supply.max_current = Current::from_a(a));
    assert_eq!(rated(1.501), [""; 0]);
    assert_eq!(rated(1.49), ["current-above-supply"]);
    let allowed = |a| changed(move |_, station, _| station.max_current = Current::from_a(a));
    assert_eq!(allowed(1.501), [""; 0]);
    assert_eq!(allowed(1.49), ["current-above-station"]);
    // Edges at 1.5 times the mean, window 5 A/dm² stirred and 2.5 still.
    let dense = |a, stirred| {
        changed(move |job, station, _| {
            job.density = density(a);
            station.tank.stirred = stirred;
        })
    };
    assert_eq!(dense(3.33, true), [""; 0]);
    assert_eq!(dense(3.34, true), ["density-above-window"]);
    assert_eq!(dense(1.66, false), [""; 0]);
    assert_eq!(dense(1.67, false), ["density-above-window"]);
    // Twenty steps of the peak: 75 mA each.
    let step = |a| changed(move |_, _, supply| supply.set_current.step = a);
    assert_eq!(step(0.0749), [""; 0]);
    assert_eq!(step(0.0751), ["setpoint-too-coarse"]);
}

#[test]
fn each_warning_has_its_cause() {
    assert_eq!(
        changed(|job, _, _| job.density = density(0.49)),
        ["density-below-window"]
    );
    let gentle = |step_set: f64, step_read: f64| {
        changed(move |job, _, supply| {
            job.strike = Some(Strike {
                density: density(0.3),
                duration: Span::from_min(40.0),
                until_covered: false,
            });
            supply.set_current.step = step_set;
            supply.read_current.step = step_read;
        })
    };
    // The strike takes 0.3 A.
    assert_eq!(gentle(0.029, 0.029), [""; 0]);
    assert_eq!(gentle(0.031, 0.029), ["setpoint-coarse"]);
    assert_eq!(gentle(0.029, 0.031), ["meter-coarse"]);
    assert_eq!(
        changed(|_, _, supply| supply.guards_over_voltage = false),
        ["no-over-voltage"]
    );
    assert_eq!(
        changed(|_, _, supply| supply.guards_over_current = false),
        ["no-over-current"]
    );
    let mains = |after| changed(move |_, _, supply| supply.on_mains_return = after);
    assert_eq!(mains(OnMainsReturn::On), ["mains-return-on"]);
    assert_eq!(mains(OnMainsReturn::Unknown), ["mains-return-unknown"]);
    let port = |name: &'static str| changed(move |_, station, _| station.port = name.to_owned());
    assert_eq!(port("/dev/ttyUSB0"), ["port-by-number"]);
    assert_eq!(port("/dev/ttyACM3"), ["port-by-number"]);
    for lasting in [
        "/dev/serial/by-id/usb-ttyUSB",
        "/dev/ttyS0",
        "/dev/cu.usbserial-A1",
    ] {
        assert_eq!(port(lasting), [""; 0], "{lasting}");
    }
    let looks = changed(|job, _, _| job.looks = vec![Look { at: um(60.0) }]);
    assert_eq!(looks, ["look-due"]);
    // 1 dm² of cathode, 5 Ah: 5.9275 g, half as much again 8.89 g.
    let anode = |cm2, g| {
        changed(move |_, station, _| {
            station.tank.anode = Some(Anode {
                area: Area::from_cm2(cm2),
                mass: Some(Mass::from_g(g)),
            });
        })
    };
    assert_eq!(anode(101.0, 8.90), [""; 0]);
    assert_eq!(anode(99.0, 8.90), ["anode-small"]);
    assert_eq!(anode(101.0, 8.88), ["anode-light"]);
    let hours = |h| changed(move |job, _, _| job.target = Target::Hours(Span::from_h(h)));
    assert_eq!(hours(30.0), [""; 0]);
    assert_eq!(hours(30.1), ["long-night"]);
    let unsure = |p| {
        changed(move |job, _, _| {
            job.pieces[0].uncertainty = Some(Fraction::from_percent(p));
        })
    };
    // Thickness goes as one over area: 1/(1 − 0.2) is 25 % above, and the rest adds a little.
    assert_eq!(unsure(19.0), [""; 0]);
    assert_eq!(unsure(20.0), ["interval-wide"]);
}

#[test]
fn shapes_that_cannot_be_foretold_are_named() {
    let shaped = |form: Form| {
        changed(move |job, _, _| {
            job.pieces = vec![metal("piece", form)];
            job.target = Target::Thickness(um(500.0));
        })
    };
    let tube = |inner| Form::Tube {
        outer: mm(4.0),
        inner: mm(inner),
        length: mm(200.0),
    };
    assert_eq!(shaped(tube(1.1)), [""; 0]);
    assert_eq!(shaped(tube(0.9)), ["bore-closes"]);
    let pod = concat!(env!("CARGO_MANIFEST_DIR"), "/profiles/jobs/pod.stl");
    let pod = Mesh::from_stl(&std::fs::read(pod).unwrap(), mm(1.0)).unwrap();
    assert_eq!(shaped(Form::Mesh(Arc::new(pod.clone()))), [""; 0]);
    let torn = Mesh::new(pod.triangles()[9..].to_vec());
    let torn = Form::Many {
        count: 2,
        each: Box::new(Form::Mesh(Arc::new(torn))),
    };
    assert_eq!(shaped(torn), ["mesh-open"]);
    // The pod pushed inwards along its lower half: a sharp waist.
    let mut waist = pod.triangles().to_vec();
    for corner in waist.iter_mut().flatten() {
        if (corner[2] - 0.015).abs() < 1e-3 {
            corner[0] *= 0.5;
            corner[1] *= 0.5;
        }
    }
    assert_eq!(
        shaped(Form::Together(vec![Form::Mesh(Arc::new(Mesh::new(waist)))])),
        ["bore-closes", "mesh-sharp-inward"]
    );
    let contact = changed(|job, _, _| {
        job.pieces[0].surface = Surface::Paint;
        job.strike = Some(Strike {
            density: density(1.0),
            duration: Span::from_min(40.0),
            until_covered: false,
        });
    });
    assert!(contact.contains(&"contact-assumed"), "{contact:?}");
}

#[test]
fn every_remark_says_what_to_do_under_a_listed_code() {
    let (mut job, mut station, mut supply) = (quiet(), station(), supply());
    job.density = density(4.0);
    job.target = Target::Hours(Span::from_h(40.0));
    station.max_voltage = Voltage::from_v(50.0);
    station.max_current = Current::from_a(1.0);
    station.tank.anode = Some(Anode {
        area: Area::from_cm2(1.0),
        mass: Some(Mass::from_g(1.0)),
    });
    supply.max_current = Current::from_a(2.0);
    supply.reads = Ask::NOTHING;
    supply.set_current.step = 1.0;
    supply.read_current.step = 1.0;
    supply.guards_over_current = false;
    supply.guards_over_voltage = false;
    supply.on_mains_return = OnMainsReturn::On;
    let outlook = plan::draw(&job, &bath(), &station, &supply).unwrap();
    // All at once, and the refusals worst first.
    let refusals: Vec<&str> = outlook.refusals.iter().map(|remark| remark.code).collect();
    assert_eq!(refusals, REFUSALS);
    assert_eq!(outlook.warnings.len(), 8, "{:?}", outlook.warnings);
    for warning in &outlook.warnings {
        assert!(WARNINGS.contains(&warning.code));
    }
    for remark in outlook.refusals.iter().chain(&outlook.warnings) {
        let tidy = !remark.text.contains("  ") && remark.text.contains(':');
        assert!(tidy, "{}", remark.text);
    }
}

#[test]
fn what_is_no_plan_says_why() {
    let fault = |job: &Job| plan::draw(job, &bath(), &station(), &supply()).unwrap_err();
    let flat = |dm2| Form::Sphere { diameter: mm(dm2) };
    let empty = Job {
        pieces: vec![],
        ..quiet()
    };
    assert_eq!(fault(&empty), PlanError::NoPiece);
    let broken = Job {
        pieces: vec![metal("head", flat(0.0))],
        ..quiet()
    };
    assert!(
        fault(&broken)
            .to_string()
            .starts_with("piece \"head\": the diameter")
    );
    let hanger = Job {
        hangers: vec![Hanger { form: flat(-1.0) }],
        ..quiet()
    };
    assert!(
        fault(&hanger)
            .to_string()
            .starts_with("hanger 1: the diameter")
    );
    let other = Job {
        until: Until::Piece("tag".into()),
        ..quiet()
    };
    assert_eq!(fault(&other), PlanError::NoSuchPiece { name: "tag".into() });
    let bare = Job {
        pieces: vec![painted("leaf", sheet(1.0), 1.0)],
        ..quiet()
    };
    assert!(matches!(fault(&bare), PlanError::PaintWithoutStrike { .. }));
    let large = Job {
        pieces: vec![painted("leaf", sheet(1.0), 101.0)],
        ..bare
    };
    let large = striking(large, 0.3, 40.0);
    assert!(
        matches!(fault(&large), PlanError::Deposit { .. }),
        "{:?}",
        fault(&large)
    );
    let bath = BathProfile {
        efficiency: 0.0,
        ..bath()
    };
    let fault = plan::draw(&quiet(), &bath, &station(), &supply()).unwrap_err();
    assert!(
        fault
            .to_string()
            .starts_with("bath \"copper\": a cathode efficiency of 0 %")
    );
}

#[test]
fn the_longest_job_a_file_may_ask_for_is_planned() {
    // 5 mm at 0.05 A/dm² on a thread: 5000/(0.05·13.231) = 7558 h, and it ends.
    let night = job(
        vec![metal("thread", wire(0.1, 100.0))],
        Target::Thickness(mm(5.0)),
        0.05,
    );
    let outlook = draw(&night);
    agree(outlook.plan.forecast.duration.h(), 7_558.03, 1e-3);
    assert!(codes(&outlook).contains(&"long-night"));
}
