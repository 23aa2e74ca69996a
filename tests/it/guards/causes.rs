//! Each row fired by a physical cause in the cell, the supply, the line, the bath or the computer.

use super::kit::{Bed, Deed, Spent, in_turn, once, spend};
use crate::night_kit::{Studio, WIRE, studio};
use nightvat::control::{Fault, Outcome, State, Wish};
use nightvat::exchange::OnMainsReturn;
use nightvat::rig::cell::{CellFault, RelayAil, RelayDeed};
use nightvat::rig::instrument::Ail;
use nightvat::spec::{Brightener, Level, Measures};
use nightvat::supply::wire::Line;
use nightvat::units::{Charge, Current, Length, Moment, Span};
use std::collections::{BTreeSet, VecDeque};
use std::sync::Arc;

fn wire() -> Studio {
    studio(WIRE, "scpi-standard", 1, false)
}

/// A station with all three sensors and a stirrer that turns 300 times a minute.
fn sensing(job: &str) -> Studio {
    let mut studio = studio(job, "scpi-standard", 1, false);
    let bounds = &mut Arc::make_mut(&mut studio.plan).bounds;
    bounds.sensors = Measures::ALL.to_vec();
    bounds.stirring = Some([200.0, 400.0]);
    studio
}

fn cell(studio: &Studio, after: f64, fault: CellFault) -> Spent {
    once(studio, State::Building, after, |bed| bed.bench.fault(fault))
}

fn ail(studio: &Studio, after: f64, ail: Ail) -> Spent {
    once(studio, State::Building, after, |bed| {
        let now = bed.bench.now();
        bed.bench.instrument().ail(now, ail);
    })
}

fn tripped(mut spent: Spent, fault: Fault) {
    let spoke = spent.spoke();
    assert_eq!(spent.outcome, Some(Outcome::Tripped(fault)), "{spoke:?}");
    spent.is_sound();
}

fn interrupted(mut spent: Spent, fault: Fault) {
    let spoke = spent.spoke();
    assert_eq!(
        spent.outcome,
        Some(Outcome::Interrupted(fault)),
        "{spoke:?}"
    );
    spent.is_sound();
}

/// An alarm spoke, once, and the night went on to its end.
fn alarmed(mut spent: Spent, fault: Fault) {
    let spoke = spent.spoke();
    assert_eq!(
        spoke.iter().filter(|one| **one == fault).count(),
        1,
        "{spoke:?}"
    );
    assert_eq!(spent.outcome, Some(Outcome::Finished), "{spoke:?}");
    spent.is_sound();
}

fn deed(after: f64, deed: impl FnMut(&mut Bed) + 'static) -> Deed {
    (after, Box::new(deed))
}

fn loses_power(bed: &mut Bed) {
    let now = bed.bench.now();
    bed.bench.instrument().lose_power(now);
}

fn regains_power(bed: &mut Bed) {
    let now = bed.bench.now();
    bed.bench.instrument().regain_power(now);
}

#[test]
fn mains_that_flicker_at_the_supply() {
    let deeds = VecDeque::from([deed(100.0, loses_power), deed(1.5, regains_power)]);
    let spent = in_turn(&wire(), State::Building, deeds);
    interrupted(spent, Fault::SupplyPowerCycled);
}

#[test]
fn another_output_selected_at_the_panel() {
    let studio = studio(WIRE, "scpi-standard-two-channel", 1, false);
    let select = |other| {
        move |bed: &mut Bed| {
            let now = bed.bench.now();
            bed.bench.instrument().ail(now, Ail::OtherOutput(other));
        }
    };
    let deeds = VecDeque::from([deed(100.0, select(true)), deed(60.0, select(false))]);
    let spent = in_turn(&studio, State::Building, deeds);
    // The other output reads as off: that proves nothing, and the run says so loudly.
    assert!(spent.states().contains(&State::Unconfirmed));
    tripped(spent, Fault::WrongChannel);
}

#[test]
fn a_meter_that_stands_still() {
    let mut spent = ail(&wire(), 100.0, Ail::Frozen(true));
    let spoke = spent.spoke();
    // Such a meter proves no off either: the run says so until somebody mends it.
    assert_eq!(spoke.first(), Some(&Fault::ReadbackFrozen), "{spoke:?}");
    assert_eq!(spent.outcome, None);
    assert_eq!(spent.run.state(), State::Unconfirmed);
    spent.is_sound();
}

#[test]
fn a_dead_short_at_thick_leads() {
    let job = WIRE.replace("400 mm", "2000 mm");
    let mut studio = studio(&job, "scpi-standard", 1, false);
    studio.world.lead_ohm = 0.003;
    let spent = cell(&studio, 100.0, CellFault::Short(0.001));
    tripped(spent, Fault::CurrentWithoutVoltage);
}

#[test]
fn a_current_amplifier_that_has_drifted() {
    tripped(
        ail(&wire(), 100.0, Ail::SetGain(0.8)),
        Fault::CurrentOffSetpoint,
    );
    tripped(
        ail(&wire(), 100.0, Ail::SetGain(1.1)),
        Fault::EnvelopeExceeded,
    );
}

#[test]
fn a_meter_that_reads_backwards() {
    let spent = ail(&wire(), 100.0, Ail::ReadGain(-1.0));
    assert_eq!(spent.spoke().first(), Some(&Fault::ReadingImplausible));
}

#[test]
fn a_lead_that_falls() {
    let spent = cell(&wire(), 100.0, CellFault::LeadOpen);
    tripped(spent, Fault::ConstantCurrentLost);
}

#[test]
fn a_clip_that_is_pulled_half_off() {
    let fault = CellFault::Contact {
        electrode: None,
        ohm: 2.5,
    };
    tripped(cell(&wire(), 400.0, fault), Fault::CellVoltageHigh);
}

#[test]
fn a_piece_that_touches_the_anode() {
    let spent = cell(&wire(), 100.0, CellFault::Short(0.02));
    tripped(spent, Fault::CellVoltageCollapsed);
}

#[test]
fn an_anode_that_films_over_smoothly() {
    let spent = cell(&wire(), 400.0, CellFault::Films(1.2e-5));
    let spoke = spent.spoke();
    assert!(spoke.contains(&Fault::VoltageClimbing), "{spoke:?}");
    assert!(!spoke.contains(&Fault::VoltageNoisy), "{spoke:?}");
    // She is told long before the output goes off.
    let (told, off) = (spent.at("voltage-climbing"), spent.at("anode-film"));
    assert!(told.unwrap() + 60.0 < off.unwrap(), "{told:?} {off:?}");
    tripped(spent, Fault::AnodeFilm);
}

#[test]
fn a_contact_that_shows_before_it_fails() {
    let loosens = CellFault::Loosens {
        ohm_per_s: 2e-4,
        jumps_ohm: 0.25,
    };
    let deeds = VecDeque::from([
        deed(400.0, move |bed: &mut Bed| bed.bench.fault(loosens)),
        deed(900.0, |bed: &mut Bed| bed.bench.fault(CellFault::LeadOpen)),
    ]);
    let spent = in_turn(&wire(), State::Building, deeds);
    let (told, off) = (spent.at("voltage-noisy"), spent.at("constant-current-lost"));
    assert!(told.unwrap() + 600.0 < off.unwrap(), "{told:?} {off:?}");
    tripped(spent, Fault::ConstantCurrentLost);
}

#[test]
fn hands_at_the_panel() {
    let spent = once(&wire(), State::Building, 100.0, |bed| {
        let now = bed.bench.now();
        bed.bench.instrument().press_output(now);
    });
    tripped(spent, Fault::OutputNotAsCommanded);
    let mut live = wire();
    // A supply whose panel stays live.
    Arc::make_mut(&mut live.profile).steps.prepare.clear();
    let spent = once(&live, State::Building, 100.0, |bed| {
        let now = bed.bench.now();
        let knob = Current::from_a(0.2);
        assert!(bed.bench.instrument().turn_current_knob(now, knob));
    });
    tripped(spent, Fault::SetpointChanged);
    tripped(
        ail(&wire(), 100.0, Ail::GuardVolts(0.2)),
        Fault::ProtectionTripped,
    );
}

#[test]
fn a_supply_that_finds_a_fault_in_itself() {
    tripped(ail(&wire(), 100.0, Ail::Hardware), Fault::SupplyError);
}

#[test]
fn a_line_that_gives_nothing_but_rubbish() {
    let deeds = VecDeque::from([
        deed(100.0, |bed: &mut Bed| bed.garbles = 1.0),
        deed(60.0, |bed: &mut Bed| bed.garbles = 0.0),
    ]);
    tripped(
        in_turn(&wire(), State::Building, deeds),
        Fault::ReadingStale,
    );
}

#[test]
fn a_plug_with_a_bad_pin() {
    let deeds = VecDeque::from([
        deed(100.0, |bed: &mut Bed| bed.garbles = 0.01),
        deed(900.0, |bed: &mut Bed| bed.garbles = 0.0),
    ]);
    let mut spent = in_turn(&wire(), State::Building, deeds);
    // It may fall silent and speak again, as the pin does.
    let spoke = spent.spoke();
    assert_eq!(spoke.first(), Some(&Fault::LinkGarbled));
    assert!(
        spoke.iter().all(|one| *one == Fault::LinkGarbled),
        "{spoke:?}"
    );
    assert_eq!(spent.outcome, Some(Outcome::Finished));
    spent.is_sound();
}

#[test]
fn a_supply_that_is_busy_with_its_display() {
    alarmed(ail(&wire(), 100.0, Ail::Slow(0.3)), Fault::RepliesLate);
}

fn unplugged(for_s: f64) -> Spent {
    let deeds = VecDeque::from([
        deed(100.0, |bed: &mut Bed| bed.unplugged = true),
        deed(for_s, |bed: &mut Bed| bed.unplugged = false),
    ]);
    in_turn(&wire(), State::Building, deeds)
}

/// Where the way back from the confusion ends within the station's 6 s it comes back by itself;
/// beyond them the first word is off.
#[test]
fn a_cable_that_is_pulled() {
    for for_s in [0.5, 1.5, 3.0, 4.0] {
        let mut spent = unplugged(for_s);
        let spoke = spent.spoke();
        assert_eq!(spoke, [], "out for {for_s} s");
        assert_eq!(spent.outcome, Some(Outcome::Finished), "out for {for_s} s");
        spent.is_sound();
    }
    for for_s in [9.0, 20.0, 300.0] {
        let spent = unplugged(for_s);
        let lost = spent.at("link-lost").unwrap_or(f64::NAN);
        let back = spent.bed.sent.iter().find(|(at, _)| at.s() > lost);
        let words = back.map(|(_, bytes)| String::from_utf8_lossy(bytes).into_owned());
        assert_eq!(words.as_deref(), Some("OUTP OFF\n"), "out for {for_s} s");
        tripped(spent, Fault::LinkLost);
    }
}

#[test]
fn a_station_that_allows_more() {
    let mut studio = wire();
    Arc::make_mut(&mut studio.plan).bounds.link_allowance = Span::from_s(60.0);
    let deeds = VecDeque::from([
        deed(100.0, |bed: &mut Bed| bed.unplugged = true),
        deed(50.0, |bed: &mut Bed| bed.unplugged = false),
    ]);
    let mut spent = in_turn(&studio, State::Building, deeds);
    assert_eq!(spent.spoke(), []);
    assert_eq!(spent.outcome, Some(Outcome::Finished));
    spent.is_sound();
}

/// A cable that is out while a setpoint is on its way: nobody knows which one stands.
#[test]
fn a_cable_that_is_pulled_in_the_ramp() {
    for tenth in 0..10 {
        let studio = wire();
        let pulled = 100.0 + f64::from(tenth) * 0.1;
        let deeds = VecDeque::from([
            deed(pulled, |bed: &mut Bed| bed.unplugged = true),
            deed(2.5, |bed: &mut Bed| bed.unplugged = false),
        ]);
        let mut spent = in_turn(&studio, State::Ramping, deeds);
        assert_eq!(spent.outcome, Some(Outcome::Finished), "{pulled}");
        assert_eq!(spent.spoke(), [], "{pulled}");
        spent.is_sound();
    }
}

#[test]
fn another_supply_at_the_end_of_the_cable() {
    let studio = wire();
    let swap = {
        let twin = wire();
        move |bed: &mut Bed| {
            bed.another_supply(&twin, "ANOTHER,SIMULATED-SUPPLY,1,1.0");
            bed.unplugged = false;
        }
    };
    let deeds = VecDeque::from([
        deed(100.0, |bed: &mut Bed| bed.unplugged = true),
        deed(2.0, swap),
    ]);
    let spent = in_turn(&studio, State::Building, deeds);
    assert_eq!(spent.spoke().first(), Some(&Fault::IdentityChanged));
}

#[test]
fn a_stirrer_that_stops() {
    // 1.2 A/dm2 on the mean are 1.8 at edges: a still bath bears 2.5.
    let gentle = sensing(&WIRE.replace("1.5 A/dm2", "1.2 A/dm2"));
    let spent = cell(&gentle, 100.0, CellFault::StirrerStops);
    alarmed(spent, Fault::StirringOut);
    // 1.8 are 2.7.
    let harsh = sensing(&WIRE.replace("1.5 A/dm2", "1.8 A/dm2"));
    let spent = cell(&harsh, 100.0, CellFault::StirrerStops);
    tripped(spent, Fault::PeakDensityHigh);
}

#[test]
fn a_heater_that_sticks() {
    let spent = cell(&sensing(WIRE), 100.0, CellFault::Bath(309.0));
    alarmed(spent, Fault::TemperatureOut);
}

#[test]
fn a_tank_that_leaks() {
    // 20 mm stand above the piece; 2000 s later they are gone.
    let spent = cell(&sensing(WIRE), 100.0, CellFault::Falls(1e-5));
    tripped(spent, Fault::LevelLow);
}

#[test]
fn a_bath_that_dries_up_where_nobody_measures() {
    let mut studio = wire();
    Arc::make_mut(&mut studio.plan).bounds.level = Some(Level {
        above: Length::from_mm(1.0),
        falls_a_day: Length::from_mm(24.0),
    });
    tripped(
        spend(&studio, Bed::new(&studio), |_, _, _| None),
        Fault::LevelLow,
    );
}

#[test]
fn a_sensor_whose_wire_breaks() {
    let studio = sensing(WIRE);
    let spent = once(&studio, State::Building, 100.0, |bed| {
        bed.sensors_broken = true
    });
    alarmed(spent, Fault::SensorSilent);
}

#[test]
fn a_bath_that_was_not_fed() {
    let mut studio = wire();
    Arc::make_mut(&mut studio.plan).bounds.brightener = Some(Brightener {
        every: Charge::from_ah(40.0),
        since: Charge::from_ah(39.8),
    });
    let spent = spend(&studio, Bed::new(&studio), |_, _, _| None);
    alarmed(spent, Fault::BrightenerOverdue);
}

#[test]
fn a_computer_that_sleeps() {
    let spent = once(&wire(), State::Building, 100.0, |bed| {
        bed.sleeps = Span::from_min(20.0)
    });
    interrupted(spent, Fault::HostSlept);
}

#[test]
fn a_time_of_day_that_jumps() {
    let spent = once(&wire(), State::Building, 100.0, |bed| {
        bed.wall = Span::from_h(1.0)
    });
    alarmed(spent, Fault::ClockJumped);
}

#[test]
fn a_disk_that_is_tired_and_one_that_is_full() {
    let deeds = VecDeque::from([
        deed(100.0, |bed: &mut Bed| bed.disk_takes = Span::from_s(8.0)),
        deed(60.0, |bed: &mut Bed| bed.disk_takes = Span::ZERO),
    ]);
    alarmed(in_turn(&wire(), State::Building, deeds), Fault::LedgerSlow);
    let spent = once(&wire(), State::Building, 100.0, |bed| {
        bed.disk_takes = Span::from_h(1.0)
    });
    assert_eq!(spent.spoke(), [Fault::LedgerSlow, Fault::LedgerNotWriting]);
    tripped(spent, Fault::LedgerNotWriting);
    let spent = once(&wire(), State::Building, 100.0, |bed| {
        bed.disk_free = 40_000_000
    });
    alarmed(spent, Fault::DiskNearlyFull);
}

/// Soft starts after one look too many take the hours that the margin held.
#[test]
fn a_person_who_looks_all_the_time() {
    let studio = wire();
    let mut since: Option<Moment> = None;
    let spent = spend(&studio, Bed::new(&studio), |run, now, _| {
        if run.state() != State::Building {
            since = None;
            return None;
        }
        let since = *since.get_or_insert(now);
        (now.since(since).s() > 60.0).then_some(Wish::Pause)
    });
    tripped(spent, Fault::TimeCap);
}

#[test]
fn a_supply_that_goes_dark_while_it_is_proved() {
    let deeds = VecDeque::from([deed(2.0, loses_power), deed(60.0, regains_power)]);
    let spent = in_turn(&wire(), State::Proving, deeds);
    tripped(spent, Fault::CommandFailed);
}

#[test]
fn an_output_that_welds_shut() {
    let welds = |welded| {
        move |bed: &mut Bed| {
            let now = bed.bench.now();
            bed.bench.instrument().ail(now, Ail::Welded(welded));
        }
    };
    let studio = wire();
    let mut asked = false;
    let mut mended = false;
    let spent = spend(&studio, Bed::new(&studio), |run, now, bed| {
        if run.state() == State::Building && !asked && now.s() > 3000.0 {
            asked = true;
            welds(true)(bed);
            return Some(Wish::Stop);
        }
        if run.state() == State::Unconfirmed && !mended {
            mended = true;
            welds(false)(bed);
        }
        None
    });
    assert!(mended, "{:?}", spent.states());
    // A run that was to be stopped ends as tripped: somebody must look at this supply.
    tripped(spent, Fault::OutputStaysOn);
}

#[test]
fn a_relay_whose_port_is_pulled_out() {
    let studio = wire().with_relay();
    let spent = once(&studio, State::Building, 100.0, |bed| {
        bed.relay_unplugged = true
    });
    assert_eq!(spent.at("cut"), None, "off is confirmed in time");
    tripped(spent, Fault::RelayLost);
}

/// Nothing says so: the supply holds its voltage, and nothing flows.
#[test]
fn a_relay_whose_one_shot_dies() {
    let studio = wire().with_relay();
    let spent = once(&studio, State::Building, 100.0, |bed| {
        let now = bed.bench.now();
        let deed = RelayDeed::Ails(Some(RelayAil::Dead));
        bed.bench.instrument().relay(now, deed);
    });
    tripped(spent, Fault::ConstantCurrentLost);
}

/// Somebody presses the output key while she is at the bath. Her look is twenty seconds long; the
/// supply's own meter or word shows it within ten.
#[test]
fn an_output_key_that_is_pressed_in_a_pause() {
    for profile in ["scpi-standard", "terse-fixed"] {
        let studio = studio(WIRE, profile, 1, false);
        let (mut asked, mut paused, mut pressed, mut dark) = (false, None, None, None);
        let mut flowed = 0.0_f64;
        let spent = spend(&studio, Bed::new(&studio), |run, now, bed| {
            if run.state() == State::Building && !asked {
                asked = true;
                return Some(Wish::Pause);
            }
            if run.state() == State::Paused {
                let since = *paused.get_or_insert(now);
                if now.since(since).s() > 5.0 && pressed.is_none() {
                    pressed = Some(now);
                    bed.bench.instrument().press_output(now);
                }
                flowed = flowed.max(bed.bench.flow().amps);
            }
            if pressed.is_some() && dark.is_none() && !bed.bench.flow().on {
                dark = Some(now);
            }
            None
        });
        let took = dark.unwrap().since(pressed.unwrap()).s();
        assert!(flowed > 0.01, "{profile}: {flowed} A");
        assert!(took < 11.0, "{profile}: {took} s");
        tripped(spent, Fault::OutputStaysOn);
    }
}

/// The relay opens within ten seconds of what was decided, and the supply goes on saying on.
#[test]
fn a_supply_that_ignores_off_is_cut_by_the_relay() {
    let studio = wire().with_relay();
    let (mut asked, mut dead, mut mended) = (None, None, false);
    let mut spent = spend(&studio, Bed::new(&studio), |run, now, bed| {
        if run.state() == State::Building && asked.is_none() && now.s() > 3000.0 {
            asked = Some(now);
            bed.bench.instrument().ail(now, Ail::KeepsOn(true));
            return Some(Wish::Stop);
        }
        let asked = asked?;
        let flow = bed.bench.flow();
        if flow.amps < 1e-9 && flow.on && dead.is_none() {
            dead = Some(now.since(asked).s());
            assert!(run.core().is_cut());
        }
        if now.since(asked).s() > 60.0 && !mended {
            mended = true;
            assert_eq!(run.state(), State::Unconfirmed, "a cut is no end");
            assert!(run.snapshot(now).cut);
            bed.bench.instrument().ail(now, Ail::KeepsOn(false));
        }
        None
    });
    let dead = dead.expect("an open lead");
    assert!((5.0..=7.5).contains(&dead), "cut after {dead} s");
    assert!(mended && spent.at("cut").is_some());
    spent.is_sound();
    tripped(spent, Fault::OutputStaysOn);
}

#[test]
fn a_keeper_that_is_killed() {
    let spent = once(&wire(), State::Building, 100.0, |bed| {
        bed.keeper_dies = true
    });
    interrupted(spent, Fault::KeeperLost);
}

/// Every row is fired above, or by a latent fault in `latent`, or stands here with the reason why
/// the bench cannot.
#[test]
fn every_row_has_its_cause() {
    let here = [
        include_str!("causes.rs"),
        include_str!("latent.rs"),
        include_str!("spreading.rs"),
    ]
    .concat();
    let without = [
        // More charge than the plan's margin needs an error in our own sums: `table` plants one.
        Fault::ChargeCap,
        // It is the next daemon that says so: the tests of real processes kill one.
        Fault::DaemonLost,
    ];
    let fired: BTreeSet<&str> = Fault::ALL
        .into_iter()
        .filter(|fault| !without.contains(fault))
        .map(Fault::code)
        .filter(|code| {
            let fault = Fault::from_code(code).unwrap();
            here.matches(&format!("Fault::{fault:?}")).count() > 0
        })
        .collect();
    assert_eq!(fired.len() + without.len(), Fault::ALL.len());
}

/// Mains that come back with the output as it was: the run sees a gap and nothing else, or the
/// supply's own word that its power came on.
#[test]
fn mains_that_flicker_at_a_supply_that_comes_back_on() {
    let mut studio = wire();
    studio.quirks.on_mains_return = OnMainsReturn::On;
    let deeds = VecDeque::from([deed(100.0, loses_power), deed(1.5, regains_power)]);
    let spent = in_turn(&studio, State::Building, deeds);
    interrupted(spent, Fault::SupplyPowerCycled);
}

/// Off and on again between four readings, early in the night: what did not flow meanwhile is a good
/// part of what did, and the lower bound must know, however many readings come before the one that
/// asks for errors.
#[test]
fn mains_that_flicker_between_two_readings() {
    let mut studio = wire();
    studio.quirks.on_mains_return = OnMainsReturn::On;
    for wait in 0..6 {
        let (mut readings, mut booked) = (0, Charge::ZERO);
        let mut spent = spend(&studio, Bed::new(&studio), |run, _, bed| {
            // Right after a reading was booked: the next comes when it would have come anyway.
            let before = std::mem::replace(&mut booked, run.core().charge().best);
            readings += u32::from(booked > before && booked > Charge::from_c(1.0));
            if booked > before && (wait + 1..wait + 5).contains(&readings) {
                loses_power(bed);
                bed.bench.rest(Span::from_ms(800.0));
                regains_power(bed);
            }
            None
        });
        assert!(readings > wait);
        spent.is_sound();
        interrupted(spent, Fault::SupplyPowerCycled);
    }
}
