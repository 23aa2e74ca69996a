//! The shipped profiles against the simulated supplies of the rig, whose command tables are
//! written by hand.

use super::rig_studio::{bench, clean, flat, job, piece, station};
use super::supply_codec::{STANDARD, TERSE, TWO, load};
use nightvat::exchange::{Answer, Ask, LinkFault, Mode, Order};
use nightvat::rig::bench::Bench;
use nightvat::rig::instrument::{Kind, Quirks};
use nightvat::rig::world::World;
use nightvat::spec::Surface;
use nightvat::supply::link::Link;
use nightvat::supply::off::turn_off;
use nightvat::supply::wire::Line;
use nightvat::units::{Current, Span, Voltage};

fn supply(kind: Kind) -> Bench {
    let world = clean(&job(vec![piece("plate", Surface::Metal, flat(50.0))]));
    bench(kind, Quirks::of(kind), world)
}

const SETTINGS: [Order; 4] = [
    Order::SetOverVoltage(Voltage::from_v(3.0)),
    Order::SetOverCurrent(Current::from_a(0.5)),
    Order::SetVoltage(Voltage::from_v(2.5)),
    Order::SetCurrent(Current::from_a(0.35)),
];

const SETPOINTS: Ask = Ask::SET_CURRENT;

/// Identifies, prepares and sets; everything must be accepted.
fn ready(profile: &str, line: &mut Bench) -> Link {
    let mut link = Link::new(load(profile));
    for order in [Order::Identify, Order::Prepare]
        .into_iter()
        .chain(SETTINGS)
    {
        if let Err(fault) = link.carry(order, line) {
            panic!("{order:?}: {fault}");
        }
    }
    link
}

#[test]
fn a_night_in_short_in_every_dialect() {
    for (profile, kind) in [
        (STANDARD, Kind::Standard),
        (TWO, Kind::Standard),
        (TERSE, Kind::Terse),
    ] {
        let mut line = supply(kind);
        let mut link = ready(profile, &mut line);
        let set = Ask::SET_CURRENT | Ask::SET_VOLTAGE | Ask::OVER_VOLTAGE | Ask::OVER_CURRENT;
        let reading = link
            .read(set | Ask::OUTPUT | Ask::TRIPPED | Ask::ERROR, &mut line)
            .unwrap();
        assert_eq!(reading.set_current, Some(Current::from_a(0.35)));
        assert_eq!(reading.set_voltage, Some(Voltage::from_v(2.5)));
        assert_eq!(reading.over_voltage, Some(Voltage::from_v(3.0)));
        assert_eq!(reading.over_current, Some(Current::from_a(0.5)));
        assert_eq!(
            (reading.output, reading.tripped),
            (Some(false), Some(false))
        );
        assert_eq!(reading.error, None);

        assert!(link.carry(Order::On, &mut line).is_ok());
        line.rest(Span::from_s(2.0));
        let reading = link
            .read(Ask::MEASURED | Ask::OUTPUT | Ask::MODE, &mut line)
            .unwrap();
        let flows = line.truth().current_a;
        assert!(
            (reading.current.unwrap().a() - flows).abs() < 1e-6,
            "a perfect meter: {reading:?}"
        );
        assert!((flows - 0.35).abs() < 1e-6, "{flows} A");
        assert_eq!(
            (reading.output, reading.mode),
            (Some(true), Some(Mode::ConstantCurrent))
        );

        let report = turn_off(&mut link, &mut line);
        assert!(report.confirmed && report.rounds == 1, "{report:?}");
        assert_eq!(line.truth().current_a, 0.0);
        assert!(link.carry(Order::Release, &mut line).is_ok());
    }
}

#[test]
fn the_stated_limits_of_error_hold_in_a_hundred_worlds() {
    for seed in 0..100 {
        for (profile, kind) in [(STANDARD, Kind::Standard), (TERSE, Kind::Terse)] {
            let plate = job(vec![piece("plate", Surface::Metal, flat(50.0))]);
            let bath = super::rig_studio::copper(1.0);
            let world = World::draw(&plate, &station(), &bath, seed, false);
            let quiet = World {
                current_noise_a: 0.0,
                voltage_noise_v: 0.0,
                ..world
            };
            let mut line = bench(kind, Quirks::of(kind), quiet);
            let mut link = ready(profile, &mut line);
            assert!(link.carry(Order::On, &mut line).is_ok());
            line.rest(Span::from_s(2.0));
            let reading = link.read(Ask::CURRENT, &mut line).unwrap();
            let (read, flows) = (reading.current.unwrap().a(), line.truth().current_a);
            let capability = link.profile().capability();
            let off = (read - flows).abs();
            assert!(
                off <= capability.read_current.half_width(read),
                "{seed}: {read} for {flows}"
            );
            let off = (flows - 0.35).abs();
            assert!(
                off <= capability.set_current.half_width(0.35),
                "{seed}: {flows} for 0.35"
            );
        }
    }
}

#[test]
fn a_tripped_protection_is_read_and_cleared_with_the_output_off() {
    for (profile, kind) in [(STANDARD, Kind::Standard), (TERSE, Kind::Terse)] {
        let mut line = supply(kind);
        let mut link = ready(profile, &mut line);
        let low = Order::SetOverCurrent(Current::from_a(0.2));
        for order in [low, Order::On] {
            assert!(link.carry(order, &mut line).is_ok());
        }
        line.rest(Span::from_s(1.0));
        let reading = link.read(Ask::TRIPPED | Ask::OUTPUT, &mut line).unwrap();
        assert_eq!(
            (reading.tripped, reading.output),
            (Some(true), Some(false)),
            "{profile}"
        );
        assert!(link.carry(Order::ClearTrip, &mut line).is_ok());
        let reading = link.read(Ask::TRIPPED | Ask::OUTPUT, &mut line).unwrap();
        assert_eq!(
            (reading.tripped, reading.output),
            (Some(false), Some(false))
        );
        assert_eq!(line.truth().current_a, 0.0);
    }
}

/// Swaps two texts.
fn swapped(profile: &str, a: &str, b: &str) -> String {
    assert!(profile.contains(a) && profile.contains(b));
    profile
        .replace(a, "\u{1}")
        .replace(b, a)
        .replace('\u{1}', b)
}

#[test]
fn a_profile_with_two_commands_swapped_does_not_read_back_what_it_set() {
    // The standard supply takes 0.35 as volts and 2.5 as amperes: each reads back as the other.
    let wrong = swapped(STANDARD, "\"CURR {", "\"VOLT {");
    let mut line = supply(Kind::Standard);
    let mut link = ready(&wrong, &mut line);
    let reading = link.read(SETPOINTS, &mut line).unwrap();
    assert_eq!(reading.set_current, Some(Current::from_a(2.5)));

    // The terse supply ignores a number of another form without a word: nothing was set.
    let wrong = swapped(TERSE, "\"C{", "\"V{");
    let mut line = supply(Kind::Terse);
    let mut link = ready(&wrong, &mut line);
    let reading = link.read(SETPOINTS, &mut line).unwrap();
    assert_eq!(reading.set_current, Some(Current::ZERO));

    // On and off swapped: the off that goes out first turns on, and no reading ever confirms it.
    let wrong = swapped(STANDARD, "\"OUTP ON\"", "\"OUTP OFF\"");
    let mut line = supply(Kind::Standard);
    let mut link = ready(&wrong, &mut line);
    let report = turn_off(&mut link, &mut line);
    assert!(!report.confirmed, "{report:?}");

    // The two meters swapped: an open output at rest would do, so it is tried with current.
    let wrong = swapped(STANDARD, "\"MEAS:CURR?\"", "\"MEAS:VOLT?\"");
    let mut line = supply(Kind::Standard);
    let mut link = ready(&wrong, &mut line);
    assert!(link.carry(Order::On, &mut line).is_ok());
    line.rest(Span::from_s(2.0));
    let result = link.read(Ask::CURRENT, &mut line);
    let honest = result.as_ref().is_ok_and(|reading| {
        reading
            .current
            .is_some_and(|current| (current.a() - 0.35).abs() < 0.01)
    });
    assert!(!honest, "{result:?}");
    line.rest(Span::from_s(1.0));
}

#[test]
fn a_header_the_supply_does_not_know_is_refused_with_its_own_words() {
    let wrong = STANDARD.replace("\"CURR {current}\"", "\"CURRE {current}\"");
    let mut line = supply(Kind::Standard);
    let mut link = Link::new(load(&wrong));
    assert!(matches!(
        link.carry(Order::Identify, &mut line),
        Ok(Answer::Identity(_))
    ));
    match link.carry(Order::SetCurrent(Current::from_a(0.1)), &mut line) {
        // SCPI-99 vol. 2 §21.8.9: -113 undefined header.
        Err(LinkFault::Refused(error)) => assert_eq!(error.code, -113),
        other => panic!("{other:?}"),
    }
}

#[test]
fn late_replies_never_pass_for_other_quantities() {
    // The supply begins to answer after 8 to 25 ms; with so little patience some replies are late,
    // again and again.
    let hasty = STANDARD.replace("first_byte = \"500 ms\"", "first_byte = \"22 ms\"");
    let mut line = supply(Kind::Standard);
    let mut link = Link::new(load(STANDARD));
    for order in [Order::Identify, Order::Prepare]
        .into_iter()
        .chain(SETTINGS)
        .chain([Order::On])
    {
        assert!(link.carry(order, &mut line).is_ok());
    }
    line.rest(Span::from_s(2.0));
    let mut link = Link::new(load(&hasty));
    let (mut read, mut failed) = (0, 0);
    for _ in 0..300 {
        match link.read(Ask::MEASURED, &mut line) {
            Ok(reading) => {
                read += 1;
                let (amps, volts) = (reading.current.unwrap().a(), reading.voltage.unwrap().v());
                let (true_amps, true_volts) = (line.truth().current_a, line.truth().voltage_v);
                assert!((amps - true_amps).abs() < 0.01, "{amps} A for {true_amps}");
                assert!(
                    (volts - true_volts).abs() < 0.05,
                    "{volts} V for {true_volts}"
                );
            }
            Err(_) => failed += 1,
        }
    }
    assert!(read > 100, "{read} read, {failed} failed");
    assert!(
        line.now().s() > 30.0,
        "it went silent and met again many times: {:?}",
        line.now()
    );
}
