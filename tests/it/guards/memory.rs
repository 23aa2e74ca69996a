//! What the guards remember, and what they must not make of it: small currents, unsettled readings,
//! steps that did not show, and what happened while the output was off.

use super::table::{Scene, Second, quiet, repeated, volts, with};
use nightvat::control::{Fault, Sense, State, Verdict, Watch};
use nightvat::exchange::Mode;
use nightvat::spec::Level;
use nightvat::units::{Current, Length, Moment, Span, Voltage};

/// A second at this current and voltage.
fn flows(amps: f64, v: f64) -> Second {
    let mut second = volts(v);
    second.set = amps;
    if let Some(reading) = second.reading.as_mut() {
        reading.current = Some(Current::from_a(amps));
        reading.set_current = Some(Current::from_a(amps));
    }
    second
}

/// A scene that has learned 1 ohm at this current.
fn at(fault: Fault, amps: f64) -> Scene {
    let mut scene = Scene::new(fault, State::Building);
    scene.seconds(1300, &flows(amps, amps));
    assert!(!scene.spoke);
    scene
}

/// A rise in voltage counts in volts: at 0.1 A half as much resistance again is a twentieth of a
/// volt, which a bad contact of her clip can be.
#[test]
fn a_rise_of_resistance_counts_by_its_volts() {
    for (fault, amps, v, wanted) in [
        // More than 0.1 V and half as much again.
        (Fault::CellVoltageHigh, 1.0, 1.6, true),
        (Fault::CellVoltageHigh, 0.1, 0.16, false),
        (Fault::CellVoltageHigh, 0.3, 0.5, true),
        // More than 50 mV and 30 %.
        (Fault::AnodeFilm, 0.1, 0.14, false),
        (Fault::AnodeFilm, 0.2, 0.27, true),
        // More than 20 mV and 10 %.
        (Fault::VoltageClimbing, 0.1, 0.115, false),
        (Fault::VoltageClimbing, 0.3, 0.34, true),
    ] {
        let mut scene = at(fault, amps);
        scene.seconds(500, &flows(amps, v));
        let code = fault.code();
        assert_eq!(scene.spoke, wanted, "{code} at {amps} A and {v} V");
    }
}

/// What should be there must be a voltage that the meter can tell: 1 ohm at 20 mA is 20 mV, and
/// this meter tells 40 mV.
#[test]
fn a_voltage_too_small_to_tell_has_not_collapsed() {
    let mut scene = at(Fault::CellVoltageCollapsed, 1.0);
    scene.seconds(30, &flows(0.02, 0.0));
    assert!(!scene.spoke);
    let mut scene = at(Fault::CellVoltageCollapsed, 1.0);
    scene.seconds(30, &flows(0.5, 0.1));
    assert!(scene.spoke);
}

/// One of two figures that the meter cannot tell from nothing makes no resistance: 1 V at 1 mA.
#[test]
fn a_current_too_small_to_tell_has_no_resistance() {
    let mut scene = at(Fault::CellVoltageHigh, 1.0);
    scene.seconds(60, &flows(0.001, 1.0));
    assert!(!scene.spoke);
}

/// A reading while a setpoint is still on its way says nothing of the cell.
#[test]
fn an_unsettled_reading_is_not_compared() {
    let unsettled = Second {
        settled: false,
        ..volts(1.9)
    };
    let mut scene = at(Fault::CellVoltageHigh, 1.0);
    scene.seconds(60, &unsettled);
    assert!(!scene.spoke);
}

/// The slow mean takes minutes: ten seconds at 1.4 ohm leave it near 1 ohm, and 1.9 ohm are high.
#[test]
fn the_slow_mean_does_not_run_after_what_it_judges() {
    let mut scene = at(Fault::CellVoltageHigh, 1.0);
    scene.seconds(10, &volts(1.4));
    repeated(&mut scene, &volts(1.9));
    assert!(scene.spoke);
}

/// Copper that still spreads over paint lets the resistance fall to a third within half a minute,
/// as a strike that was too short leaves it: the mean goes along, and nothing touches the anode. A
/// fall to the same within a second is a short.
#[test]
fn a_resistance_that_falls_as_copper_spreads_has_not_collapsed() {
    let fault = Fault::CellVoltageCollapsed;
    let mut scene = Scene::new(fault, State::Building);
    for second in 0..120_u32 {
        let spreads = 0.7 + 1.4 * (-f64::from(second) / 15.0).exp();
        scene.seconds(1, &volts(spreads));
        assert!(!scene.spoke, "after {second} s");
    }
    repeated(&mut scene, &volts(0.25));
    assert!(scene.spoke);
}

/// A lead that opens for a moment between the reading of the current and that of the voltage leaves
/// the full current beside the ceiling. Where the cell's own voltage is too small to tell, that one
/// would be all that is learned, and every sound reading after it a short.
#[test]
fn a_reading_torn_by_a_flicker_teaches_no_resistance() {
    let fault = Fault::CellVoltageCollapsed;
    // Its mode was read while the lead was open still, or when it was back.
    let modes = [Mode::ConstantVoltage, Mode::ConstantCurrent];
    // The meter shows what is set, or less by what it may be off.
    for (mode, [set, read]) in modes
        .into_iter()
        .flat_map(|mode| [[0.017; 2], [0.0062, 0.0053]].map(|amps| (mode, amps)))
    {
        let shows = |v| {
            let mut second = flows(set, v);
            if let Some(reading) = second.reading.as_mut() {
                reading.current = Some(Current::from_a(read));
            }
            second
        };
        let mut torn = shows(2.5);
        if let Some(reading) = torn.reading.as_mut() {
            reading.mode = Some(mode);
        }
        let mut scene = Scene::new(fault, State::Holding);
        scene.seconds(40, &shows(0.022));
        scene.seconds(1, &torn);
        scene.seconds(20, &shows(0.022));
        assert!(!scene.spoke, "{mode:?} at {set} A");
    }
}

/// A supply that does not say how it regulates is at its ceiling of 2.5 V from 2.45 V less half a
/// step of the meter: 2.445 V. There a current that falls short is no error of the supply.
#[test]
fn the_ceiling_is_told_by_the_voltage_where_the_mode_is_not() {
    let short = |v: f64| {
        with(|reading| {
            reading.mode = Some(Mode::Unregulated);
            reading.voltage = Some(Voltage::from_v(v));
            reading.current = Some(Current::from_a(0.5));
        })
    };
    for (v, lost) in [(2.4449, false), (2.4451, true)] {
        for (fault, wanted) in [
            (Fault::ConstantCurrentLost, lost),
            (Fault::CurrentOffSetpoint, !lost),
        ] {
            let mut scene = at(fault, 1.0);
            repeated(&mut scene, &short(v));
            assert_eq!(scene.spoke, wanted, "{} at {v} V", fault.code());
        }
    }
    // While a setpoint is on its way there, nothing has been lost yet.
    let mut scene = at(Fault::ConstantCurrentLost, 1.0);
    let unsettled = Second {
        settled: false,
        ..short(2.5)
    };
    repeated(&mut scene, &unsettled);
    assert!(!scene.spoke);
}

/// A hundredth of the voltage may jump: 50 mV at 5 V, where three steps are 30 mV.
#[test]
fn noise_counts_by_the_share_where_the_voltage_is_high() {
    for (jump, wanted) in [(0.04, false), (0.06, true)] {
        let mut scene = at(Fault::VoltageNoisy, 1.0);
        for _ in 0..900 {
            scene.seconds(1, &volts(5.0 + jump));
            scene.seconds(1, &volts(5.0));
        }
        assert_eq!(scene.spoke, wanted, "{jump} V");
    }
}

/// What goes up and down while setpoints are on their way is no noise.
#[test]
fn an_unsettled_voltage_makes_no_noise() {
    let mut scene = at(Fault::VoltageNoisy, 1.0);
    for _ in 0..300 {
        for v in [1.4, 1.0] {
            let second = Second {
                settled: false,
                ..volts(v)
            };
            scene.seconds(1, &second);
        }
    }
    assert!(!scene.spoke);
}

fn strike(covered_cm2: f64) -> Second {
    Second {
        covered_cm2,
        ..quiet()
    }
}

/// A strike in which 30 of 100 cm2 took part at 0.25 S.
fn struck() -> Scene {
    let mut scene = Scene::new(Fault::CoverNotGrowing, State::Striking);
    scene.quiet_for(70);
    scene.step(&strike(30.0), [1.0, 0.9], [1.0, 0.9], [1.0, 0.6]);
    scene
}

/// Three times the surface is planned, so 1 + 0.4 · 2 = 1.8 times the conductance is asked.
#[test]
fn cover_has_grown_when_its_conductance_has() {
    for (times, wanted) in [(1.75, true), (1.85, false)] {
        let mut scene = struck();
        let fell = 0.1 / (0.25 * times);
        scene.step(&strike(90.0), [1.0, 0.9], [1.0, 0.9], [1.0, 1.0 - fell]);
        scene.seconds(12, &strike(90.0));
        assert_eq!(scene.spoke, wanted, "{times} times");
    }
}

/// A step that the meter did not follow, or in which the voltage rose, tells nothing of the cover.
#[test]
fn a_step_that_did_not_show_says_nothing_of_the_cover() {
    for (read, volts) in [(1.0, 0.7), (0.9, 1.2), (0.9, 1.0)] {
        let mut scene = struck();
        scene.step(&strike(90.0), [1.0, 0.9], [1.0, read], [1.0, volts]);
        scene.seconds(12, &strike(90.0));
        assert!(!scene.spoke, "{read} A and {volts} V");
    }
}

/// The most surface that can take part: 10.5 mohm m2 over what 0.1 A met, less 0.1 ohm of leads and
/// less the 10 mV that this meter cannot tell.
#[test]
fn a_step_bounds_the_surface_from_above() {
    let bound = |state, fell: f64| {
        let mut scene = Scene::new(Fault::CoverNotGrowing, state);
        scene.step(&strike(90.0), [1.0, 0.9], [1.0, 0.9], [1.0, 1.0 - fell])
    };
    let most = bound(State::Striking, 0.1).unwrap();
    assert!((most.cm2() - 131.25).abs() < 1e-6, "{most:?}");
    let most = bound(State::Striking, 0.2).unwrap();
    assert!((most.cm2() - 58.333_333).abs() < 1e-4, "{most:?}");
    assert_eq!(
        bound(State::Striking, 0.015),
        None,
        "leads may be all of it"
    );
    assert_eq!(bound(State::Building, 0.1), None);
}

/// At the ceiling what flows is what the surface takes: under 0.6 of what was set it is too little.
#[test]
fn at_the_ceiling_the_current_tells_the_cover() {
    for (amps, wanted) in [(0.59, true), (0.61, false)] {
        let mut second = with(|reading| {
            reading.mode = Some(Mode::ConstantVoltage);
            reading.voltage = Some(Voltage::from_v(2.5));
            reading.current = Some(Current::from_a(amps));
        });
        second.covered_cm2 = 90.0;
        let mut scene = Scene::new(Fault::CoverNotGrowing, State::Striking);
        scene.quiet_for(70);
        repeated(&mut scene, &second);
        assert_eq!(scene.spoke, wanted, "{amps} A");
    }
}

/// The ceiling reads back within 1.1 steps of 10 mV.
#[test]
fn a_ceiling_that_moved_by_more_than_a_step_is_a_changed_setpoint() {
    for (off, wanted) in [(0.0105, false), (-0.0105, false), (0.0115, true)] {
        let mut scene = at(Fault::SetpointChanged, 1.0);
        let moved = with(|reading| reading.set_voltage = Some(Voltage::from_v(2.5 + off)));
        repeated(&mut scene, &moved);
        assert_eq!(scene.spoke, wanted, "{off} V");
    }
}

/// A supply that has one output and does not speak of it lost its power when it is off and holds
/// another setpoint.
#[test]
fn a_supply_with_one_output_can_lose_its_power() {
    let mut scene = at(Fault::SupplyPowerCycled, 1.0);
    let back = with(|reading| {
        reading.channel = None;
        reading.output = Some(false);
        reading.set_current = Some(Current::ZERO);
    });
    scene.after(1.0, &back);
    assert!(scene.spoke);
}

/// Current and voltage that are held need not come together: one that is as it was sent says nothing
/// of the other one, and brings its own news back.
#[test]
fn one_setpoint_does_not_forget_the_other() {
    let tells = |current: Option<f64>, voltage: Option<f64>| {
        with(|reading| {
            reading.set_current = current.map(Current::from_a);
            reading.set_voltage = voltage.map(Voltage::from_v);
        })
    };
    let moved_current = tells(Some(0.9), None);
    let moved_voltage = tells(None, Some(2.6));
    let (good_current, good_voltage) = (tells(Some(1.0), None), tells(None, Some(2.5)));
    for (moved, other, own) in [
        (&moved_current, &good_voltage, &good_current),
        (&moved_voltage, &good_current, &good_voltage),
    ] {
        let after = |between: &[&Second]| {
            let mut scene = at(Fault::SetpointChanged, 1.0);
            scene.after(1.0, moved);
            for second in between {
                scene.after(1.0, second);
            }
            scene.after(1.0, moved);
            scene.spoke
        };
        assert!(after(&[other, other]));
        assert!(!after(&[own]));
        assert!(!after(&[other, own]));
    }
}

/// Whoever is uneasy asks everything: for a setpoint as well, and not for an alarm.
#[test]
fn only_a_guard_that_could_end_the_run_makes_uneasy() {
    let uneasy = |second: Second, sense: Option<Sense>| {
        let mut scene = at(Fault::TimeCap, 1.0);
        assert!(!scene.watch.is_uneasy());
        if let Some(sense) = sense {
            scene.sense(sense);
        }
        scene.after(1.0, &second);
        scene.watch.is_uneasy()
    };
    let off = with(|reading| reading.current = Some(Current::from_a(0.9)));
    assert!(uneasy(off, None));
    let waits = Sense::LedgerWaits(Span::from_s(6.0));
    assert!(!uneasy(quiet(), Some(waits)));
    let moved = with(|reading| reading.set_current = Some(Current::from_a(0.9)));
    assert!(uneasy(moved, None));
}

/// An alarm that never spoke does not fall silent either.
#[test]
fn nothing_is_said_to_be_gone_that_never_was() {
    let mut scene = Scene::new(Fault::LedgerSlow, State::Building);
    for _ in 0..300 {
        scene.now = scene.now + Span::from_s(1.0);
        let verdict = scene.sight(&quiet(), Watch::judge);
        assert_eq!(verdict, Verdict::default());
    }
}

/// The output was off for an hour: nobody asked the supply, the computer may have slept, and what
/// the cell was like before says nothing any more.
#[test]
fn what_happened_while_the_output_was_off_is_forgotten() {
    let mut scene = at(Fault::HostSlept, 1.0);
    scene.step(&quiet(), [1.0, 0.9], [1.0, 1.0], [1.0, 1.0]);
    assert!(scene.watch.doubts_meter());
    scene.sense(Sense::Slept(Span::from_s(600.0)));
    scene.now = scene.now + Span::from_h(1.0);
    scene.watch.wake(scene.now);
    assert!(!scene.watch.doubts_meter());
    let nothing = Second {
        reading: None,
        ..quiet()
    };
    for _ in 0..3 {
        scene.now = scene.now + Span::from_s(1.0);
        let verdict = scene.sight(&nothing, Watch::judge);
        assert_eq!(verdict.trips, None);
    }
}

/// 6 mm above the highest piece and 12 mm a day: half a day from when the run began, not from when
/// the guards were made.
#[test]
fn the_level_falls_from_when_the_run_began() {
    let mut second = quiet();
    second.bounds.level = Some(Level {
        above: Length::from_mm(6.0),
        falls_a_day: Length::from_mm(12.0),
    });
    let mut scene = Scene::new(Fault::LevelLow, State::Building);
    scene.now = Moment::from_s(11.0 * 3600.0);
    scene.watch.begin(scene.now);
    scene.seconds(2 * 3600, &second);
    assert!(!scene.spoke, "two hours after it began");
}
