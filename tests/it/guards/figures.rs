//! What a guard says it saw: the figures in its words are those of the second that fired it.

use super::table::{Scene, Second, quiet, volts, with};
use nightvat::control::{Fault, Sense, State, Watch};
use nightvat::exchange::{DeviceError, LinkFault};
use nightvat::spec::{Brightener, Measures};
use nightvat::units::{Charge, Current, CurrentDensity, Span};

/// The words of a guard hold each of these figures.
#[track_caller]
fn says(scene: &mut Scene, fault: Fault, second: &Second, figures: &[&str]) {
    let said = scene.sight(second, |watch: &mut Watch, sight| {
        watch.evidence(fault, sight)
    });
    for figure in figures {
        let code = fault.code();
        assert!(said.contains(figure), "{code}: `{said}` without {figure}");
    }
}

fn scene(fault: Fault) -> Scene {
    let mut scene = Scene::new(fault, State::Building);
    scene.quiet_for(70);
    scene
}

#[test]
fn what_a_reading_shows_is_told_as_it_was_read() {
    let error = with(|reading| {
        let text = "Hardware error".to_owned();
        reading.error = Some(DeviceError { code: -240, text });
    });
    let mut any = scene(Fault::SupplyError);
    says(&mut any, Fault::SupplyError, &error, &["-240", "Hardware"]);
    let moved = with(|reading| reading.set_current = Some(Current::from_a(0.9)));
    for fault in [Fault::SetpointChanged, Fault::SupplyPowerCycled] {
        says(&mut any, fault, &moved, &["1.0000 A", "0.9000 A"]);
    }
    says(&mut any, Fault::ChargeCap, &quiet(), &["5.000", "10.000"]);
    says(&mut any, Fault::TimeCap, &quiet(), &["5.00 h", "10.00 h"]);
    let off = volts(1.7);
    says(
        &mut any,
        Fault::CellVoltageHigh,
        &off,
        &["1.000 A", "1.700"],
    );
}

#[test]
fn the_link_is_told_by_its_times_and_counts() {
    let nothing = Second {
        reading: None,
        ..quiet()
    };
    let mut silent = scene(Fault::LinkLost);
    silent.after(12.3, &nothing);
    says(&mut silent, Fault::LinkLost, &nothing, &["12.3 s"]);

    let mut stale = scene(Fault::ReadingStale);
    let now = stale.now + Span::from_s(11.5);
    stale.watch.failed(now, &LinkFault::Garbled("?".into()));
    stale.after(11.5, &nothing);
    says(&mut stale, Fault::ReadingStale, &nothing, &["11.5 s"]);
    says(&mut stale, Fault::LinkLost, &nothing, &["0.0 s"]);

    let mut garbled = scene(Fault::LinkGarbled);
    garbled.after(1.0, &with(|reading| reading.repeated = 11));
    let figures = ["11 replies", "five minutes"];
    says(&mut garbled, Fault::LinkGarbled, &quiet(), &figures);

    let late = Second {
        took_s: 2.0,
        ..quiet()
    };
    says(&mut garbled, Fault::RepliesLate, &late, &["2.00 s"]);
}

#[test]
fn the_cell_is_told_by_what_is_remembered_of_it() {
    // Up and down by 0.4 V, for so long that the mean is all but that.
    let mut noisy = scene(Fault::VoltageNoisy);
    for _ in 0..400 {
        noisy.after(1.0, &volts(1.4));
        noisy.after(1.0, &volts(1.0));
    }
    says(&mut noisy, Fault::VoltageNoisy, &quiet(), &["400 mV"]);

    // 11 minutes at 1 ohm, two at 1.2 ohm.
    let mut climbing = scene(Fault::VoltageClimbing);
    for _ in 0..660 {
        climbing.after(1.0, &quiet());
    }
    for _ in 0..125 {
        climbing.after(1.0, &volts(1.2));
    }
    for fault in [Fault::VoltageClimbing, Fault::AnodeFilm] {
        let figures = ["1.200 ohm now", "1.000 ohm ten", "1.000 ohm at"];
        says(&mut climbing, fault, &quiet(), &figures);
    }

    // A slope of 0.2 V on 0.1 A is 2 ohm, 0.1 of them leads: 10.5 mohm m2 / 1.9 ohm / 90 cm2 = 61.4 %.
    let mut cover = Scene::new(Fault::CoverNotGrowing, State::Striking);
    cover.quiet_for(70);
    let planned = |cm2: f64| Second {
        covered_cm2: cm2,
        ..quiet()
    };
    cover.step(&planned(30.0), [1.0, 0.9], [1.0, 0.9], [1.0, 0.8]);
    cover.step(&planned(90.0), [1.0, 0.9], [1.0, 0.9], [1.0, 0.8]);
    says(&mut cover, Fault::CoverNotGrowing, &quiet(), &["61 %"]);
}

#[test]
fn the_bath_is_told_by_its_sensors_and_its_window() {
    let mut bath = scene(Fault::TemperatureOut);
    let mut second = quiet();
    second.bounds.density = CurrentDensity::from_a_per_dm2(1.0);
    second.bounds.sensors = vec![Measures::Stirring];
    second.bounds.brightener = Some(Brightener {
        every: Charge::from_ah(10.0),
        since: Charge::from_ah(6.0),
    });
    // 0.9995 A on 1 dm2, times 1.5.
    let dense = ["1.50 A/dm2", "1.00 A/dm2"];
    says(&mut bath, Fault::PeakDensityHigh, &second, &dense);
    let due = ["11.0 Ah", "10.0 Ah"];
    says(&mut bath, Fault::BrightenerOverdue, &second, &due);
    bath.sense(Sense::Sensor(Measures::Level, Some(-0.5)));
    bath.sense(Sense::Sensor(Measures::Temperature, Some(31.2)));
    bath.sense(Sense::Sensor(Measures::Stirring, Some(199.0)));
    says(&mut bath, Fault::LevelLow, &second, &["-0.5 mm"]);
    let window = ["31.2 C", "18 to 30"];
    says(&mut bath, Fault::TemperatureOut, &second, &window);
    let turns = ["199", "200 to 400"];
    says(&mut bath, Fault::StirringOut, &second, &turns);
    bath.after(301.0, &second);
    let word = Measures::Stirring.word();
    says(&mut bath, Fault::SensorSilent, &second, &[word]);
}

#[test]
fn the_computer_is_told_by_what_it_did() {
    let mut host = scene(Fault::HostSlept);
    host.sense(Sense::Slept(Span::from_s(3.2)));
    host.sense(Sense::ClockJumped(Span::from_s(-12.5)));
    host.sense(Sense::DiskFree(99_000_000));
    host.sense(Sense::LedgerWaits(Span::from_s(6.5)));
    for (fault, figure) in [
        (Fault::HostSlept, "3.2 s"),
        (Fault::ClockJumped, "-12.5 s"),
        (Fault::DiskNearlyFull, "99 MB"),
        (Fault::LedgerSlow, "6.5 s"),
    ] {
        says(&mut host, fault, &quiet(), &[figure]);
    }
}
