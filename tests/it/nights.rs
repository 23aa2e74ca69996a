//! Whole nights on the bench: each guard from a physical cause, planted errors, pauses, looks and
//! holds.

use super::night_kit::{Memory, Studio, WIRE, disturbed, night, night_with, studio};
use nightvat::control::{Fault, Outcome, State, Wish, blind};
use nightvat::exchange::{Ask, Capability, Tolerance};
use nightvat::ledger::Entry;
use nightvat::rig::cell::CellFault;
use nightvat::run::Input;
use nightvat::supply::wire::Line;
use nightvat::units::{Current, Moment, Span, Voltage};
use std::sync::Arc;

fn wire() -> Studio {
    studio(WIRE, "scpi-standard", 1, false)
}

#[test]
fn an_undisturbed_night_finishes_as_planned() {
    for supply in ["scpi-standard", "scpi-standard-two-channel", "terse-fixed"] {
        let studio = studio(WIRE, supply, 1, false);
        let night = night(&studio);
        assert_eq!(night.outcome(), Some(Outcome::Finished), "{supply}");
        night.is_sound();
        let planned = studio.plan.forecast.charge.ah();
        let delivered = night.charge().best.ah();
        assert!(
            (delivered / planned - 1.0).abs() < 0.005,
            "{supply}: {delivered} of {planned} Ah"
        );
        assert_eq!(
            night.states(),
            [
                State::Proving,
                State::Striking,
                State::Ramping,
                State::Building,
                State::Finished
            ],
            "{supply}"
        );
    }
}

#[test]
fn a_clean_night_agrees_with_the_cells_own_account() {
    let studio = studio(WIRE, "scpi-standard", 1, true);
    let night = night(&studio);
    night.is_sound();
    let off = night.charge().best.ah() / night.truth.charge_ah - 1.0;
    assert!(off.abs() < 50e-6, "{:.1} ppm", off * 1e6);
    // 30 um asked for; the bench agrees with the job in everything.
    let thickness = night.truth.electrodes[0].thickness_um;
    assert!((thickness / 30.0 - 1.0).abs() < 1e-3, "{thickness} um");
}

#[test]
fn the_bounds_hold_the_truth_whatever_world_is_drawn() {
    for seed in 1..=12 {
        for supply in ["scpi-standard", "terse-fixed"] {
            let night = night(&studio(WIRE, supply, seed, false));
            assert_eq!(
                night.outcome(),
                Some(Outcome::Finished),
                "seed {seed} on {supply}"
            );
            night.is_sound();
        }
    }
}

/// A 10 % error on either side must show in what the night comes to: the two sides share no
/// physics.
#[test]
fn a_planted_error_of_ten_per_cent_shows() {
    let honest = night(&studio(WIRE, "scpi-standard", 1, true))
        .truth
        .electrodes[0]
        .thickness_um;
    let with = |change: &dyn Fn(&mut Studio)| {
        let mut studio = studio(WIRE, "scpi-standard", 1, true);
        change(&mut studio);
        night(&studio).truth.electrodes[0].thickness_um / honest
    };
    let area = with(&|studio| studio.world.electrodes[0].area_factor = 1.1);
    assert!(
        (0.88..0.93).contains(&area),
        "true area 10 % larger: {area}"
    );
    let efficiency = with(&|studio| studio.world.efficiency *= 0.9);
    assert!(
        (0.88..0.92).contains(&efficiency),
        "true efficiency 10 % lower: {efficiency}"
    );
    let planned = with(&|studio| {
        let mut plan = (*studio.plan).clone();
        plan.pieces[0].target_charge = plan.pieces[0].target_charge.map(|charge| charge * 1.1);
        plan.limits.charge = plan.limits.charge * 1.2;
        studio.plan = Arc::new(plan);
    });
    assert!(
        (1.08..1.12).contains(&planned),
        "target 10 % too high: {planned}"
    );
}

/// A supply whose settings and meter are both 10 % off, and agree with each other, is beyond any
/// guard: it shows in the weight of the piece. One that is off on one side only is caught by the
/// guard.
#[test]
fn a_meter_ten_per_cent_off_is_caught() {
    let mut studio = wire();
    studio.quirks.read_current.share = 0.10;
    studio.world.meter.read_current_gain = 1.0;
    let night = night(&studio);
    assert_eq!(night.tripped_by(), Some(Fault::CurrentOffSetpoint));
    assert!(!night.truth.output_on);
}

/// Two commands swapped in a profile: volts go where amperes should.
#[test]
fn a_profile_with_two_commands_swapped_does_not_get_past_proving() {
    let swaps: [&dyn Fn(&mut Studio); 3] = [
        &|studio| {
            let steps = &mut Arc::make_mut(&mut studio.profile).steps;
            std::mem::swap(&mut steps.set_current, &mut steps.set_over_current);
        },
        &|studio| {
            let steps = &mut Arc::make_mut(&mut studio.profile).steps;
            std::mem::swap(&mut steps.on, &mut steps.off);
        },
        &|studio| {
            let questions = &mut Arc::make_mut(&mut studio.profile).questions;
            let (first, second) = questions.split_at_mut(1);
            std::mem::swap(&mut first[0].ask, &mut second[0].ask);
        },
    ];
    for (number, swap) in swaps.iter().enumerate() {
        let mut studio = wire();
        swap(&mut studio);
        let night = night(&studio);
        assert!(
            night.tripped_by().is_some() || night.outcome().is_none(),
            "swap {number}"
        );
        let got_far = night.states().iter().any(|state| state.is_live());
        assert!(!got_far, "swap {number} reached {:?}", night.states());
    }
}

#[test]
fn a_fallen_lead_is_seen() {
    let night = disturbed(&wire(), State::Building, 100.0, |bench| {
        bench.fault(CellFault::LeadOpen)
    });
    assert_eq!(night.tripped_by(), Some(Fault::ConstantCurrentLost));
    night.is_sound();
}

#[test]
fn an_anode_that_films_over_is_seen() {
    let night = disturbed(&wire(), State::Building, 400.0, |bench| {
        bench.fault(CellFault::AnodeFilm {
            free: 0.5,
            ohm_m2: 0.2,
        });
    });
    let fault = night.tripped_by();
    assert!(
        matches!(
            fault,
            Some(Fault::ConstantCurrentLost | Fault::CellVoltageHigh)
        ),
        "{fault:?}"
    );
    night.is_sound();
}

#[test]
fn a_contact_that_goes_bad_is_seen() {
    let night = disturbed(&wire(), State::Building, 400.0, |bench| {
        bench.fault(CellFault::Contact {
            electrode: None,
            ohm: 2.5,
        });
    });
    assert_eq!(night.tripped_by(), Some(Fault::CellVoltageHigh));
    night.is_sound();
}

#[test]
fn a_short_is_seen() {
    let night = disturbed(&wire(), State::Building, 100.0, |bench| {
        bench.fault(CellFault::Short(0.02));
    });
    assert_eq!(night.tripped_by(), Some(Fault::CellVoltageCollapsed));
    assert!(!night.truth.output_on);
}

#[test]
fn a_turned_knob_is_seen() {
    let mut studio = wire();
    // A supply whose panel stays live.
    Arc::make_mut(&mut studio.profile).steps.prepare.clear();
    let night = disturbed(&studio, State::Building, 100.0, |bench| {
        let now = bench.now();
        assert!(
            bench
                .instrument()
                .turn_current_knob(now, Current::from_a(0.2))
        );
    });
    let fault = night.tripped_by();
    assert!(
        matches!(
            fault,
            Some(Fault::SetpointChanged | Fault::CurrentOffSetpoint)
        ),
        "{fault:?}"
    );
    assert!(!night.truth.output_on);
}

#[test]
fn a_pressed_output_button_is_seen() {
    let night = disturbed(&wire(), State::Building, 100.0, |bench| {
        let now = bench.now();
        bench.instrument().press_output(now);
    });
    let fault = night.tripped_by();
    assert!(
        matches!(
            fault,
            Some(Fault::OutputNotAsCommanded | Fault::CurrentOffSetpoint)
        ),
        "{fault:?}"
    );
    night.is_sound();
}

#[test]
fn a_supply_without_power_ends_unconfirmed_and_says_so() {
    let night = disturbed(&wire(), State::Building, 100.0, |bench| {
        let now = bench.now();
        bench.instrument().lose_power(now);
    });
    assert_eq!(night.outcome(), None, "nothing can prove that it is off");
    assert_eq!(night.run.state(), State::Unconfirmed);
    let spoke = night
        .entries
        .iter()
        .any(|entry| matches!(entry, Entry::Event { code, .. } if *code == Fault::LinkLost.code()));
    assert!(spoke);
}

#[test]
fn a_power_cycle_of_the_supply_ends_the_run() {
    let (mut lost, mut back) = (None, false);
    let night = night_with(&wire(), Memory::default(), |run, now, bench| {
        if run.state() == State::Building && lost.is_none() {
            lost = Some(now);
            bench.instrument().lose_power(now);
        }
        if !back && lost.is_some_and(|at| now.since(at).s() > 2.0) {
            back = true;
            bench.instrument().regain_power(now);
        }
        None
    });
    assert!(night.tripped_by().is_some(), "{:?}", night.states());
    night.is_sound();
}

#[test]
fn a_protection_that_trips_is_seen() {
    let night = disturbed(&wire(), State::Building, 100.0, |bench| {
        let now = bench.now();
        bench
            .instrument()
            .turn_voltage_knob(now, Voltage::from_v(9.0));
        bench.fault(CellFault::Contact {
            electrode: None,
            ohm: 60.0,
        });
    });
    let fault = night.tripped_by();
    assert!(
        matches!(
            fault,
            Some(
                Fault::ProtectionTripped
                    | Fault::OutputNotAsCommanded
                    | Fault::ConstantCurrentLost
                    | Fault::CurrentOffSetpoint
                    | Fault::CellVoltageHigh
            )
        ),
        "{fault:?}"
    );
    night.is_sound();
}

#[test]
fn no_contact_at_all_is_found_while_proving() {
    let night = disturbed(&wire(), State::Proving, 0.0, |bench| {
        bench.fault(CellFault::LeadOpen)
    });
    assert_eq!(night.tripped_by(), Some(Fault::NoContact));
    night.is_sound();
    assert!(night.truth.charge_ah < 1e-5);
}

#[test]
fn an_output_that_was_on_before_is_turned_off_and_told() {
    let studio = wire();
    let night = disturbed(&studio, State::Proving, 0.0, |bench| {
        let now = bench.now();
        bench.instrument().press_output(now);
    });
    assert_eq!(night.tripped_by(), Some(Fault::OnBeforeStart));
    assert!(!night.truth.output_on);
}

#[test]
fn a_ledger_that_refuses_ends_the_run() {
    let refusing = Memory {
        refuse_after: Some(60),
        ..Memory::default()
    };
    let night = night_with(&wire(), refusing, |_, _, _| None);
    assert!(
        night.rehearsed.is_none(),
        "the driver says that the ledger refused"
    );
    assert!(!night.truth.output_on);
    assert_eq!(night.run.state(), State::Tripped);
}

#[test]
fn a_person_stops_in_every_state() {
    for state in [
        State::Proving,
        State::Striking,
        State::Ramping,
        State::Building,
    ] {
        let mut asked = None;
        let night = night_with(&wire(), Memory::default(), |run, now, _| {
            if run.state() == state && asked.is_none() {
                asked = Some(now);
                return Some(Input::Asked(Wish::Stop));
            }
            None
        });
        assert_eq!(night.outcome(), Some(Outcome::Stopped), "{}", state.word());
        night.is_sound();
        let ended = night.entries.iter().find_map(|entry| match entry {
            Entry::Ended { at, .. } => Some(*at),
            _ => None,
        });
        let took = ended.unwrap().s() - asked.unwrap().s();
        assert!(took < 0.5, "{}: confirmed off after {took} s", state.word());
    }
}

#[test]
fn a_pause_costs_no_account_and_the_run_goes_on() {
    let mut paused = 0;
    let night = night_with(&wire(), Memory::default(), |run, now, _| {
        let late = now.s() > 4000.0;
        if run.state() == State::Building && paused == 0 && late {
            paused += 1;
            return Some(Input::Asked(Wish::Pause));
        }
        None
    });
    assert_eq!(night.outcome(), Some(Outcome::Finished));
    night.is_sound();
    assert!(night.states().contains(&State::Paused));
    let thickness = night.run.core().rack().thickness(0).um();
    assert!((thickness - 30.0).abs() < 0.05, "{thickness}");
}

#[test]
fn looks_and_hold_come_as_the_job_says() {
    let job = format!(
        "{}\n[finish]\nhold = \"0.05 A/dm2\"\nat_most = \"30 min\"\n[[look]]\nat = \"10 um\"\n",
        WIRE
    );
    let studio = studio(&job, "scpi-standard", 1, true);
    let night = night(&studio);
    assert_eq!(night.outcome(), Some(Outcome::Finished));
    night.is_sound();
    let states = night.states();
    assert!(
        states.contains(&State::Paused) && states.contains(&State::Holding),
        "{states:?}"
    );
    let reached = night.run.core().reached().unwrap();
    let target = studio.plan.pieces[0].target_charge.unwrap();
    let over = reached.charges[0] / target - 1.0;
    assert!(
        over.abs() < 20e-6,
        "the hold began {:.1} ppm past the target",
        over * 1e6
    );
    // The hold's own copper: half an hour at a thirtieth of the density.
    let held = night.charge().best - reached.charge.best;
    assert!(held.ah() > 0.0 && held / target < 0.05, "{}", held.ah());
    let off = night.charge().best.ah() / night.truth.charge_ah - 1.0;
    assert!(off.abs() < 50e-6, "{:.1} ppm", off * 1e6);
}

/// Off leaves within one exchange of the moment the controller's own charge crosses the target.
#[test]
fn off_is_not_late() {
    for seed in 1..=6 {
        let studio = studio(WIRE, "scpi-standard", seed, false);
        let night = night(&studio);
        let target = studio.plan.pieces[0].target_charge.unwrap();
        let over = night.charge().best - target;
        let current = studio.plan.forecast.current_peak;
        let late = over / current;
        // Two words of about ten bytes at 9600 baud and the supply's own 25 ms.
        assert!(
            late.abs() < Span::from_ms(60.0),
            "seed {seed}: {:.1} ms",
            late.s() * 1e3
        );
    }
}

#[test]
fn one_seed_is_one_night() {
    let first = night(&studio(WIRE, "scpi-standard", 7, false));
    let second = night(&studio(WIRE, "scpi-standard", 7, false));
    assert_eq!(first.entries, second.entries);
    assert_eq!(
        first.truth.charge_ah.to_bits(),
        second.truth.charge_ah.to_bits()
    );
    let other = night(&studio(WIRE, "scpi-standard", 8, false));
    assert_ne!(first.entries, other.entries);
}

#[test]
fn until_chooses_which_piece_ends_the_night() {
    let rack = |until: &str| {
        format!(
            r#"
name = "two wires"
bath = "acid-copper-bright"
[target]
thickness = "30 um"
until = "{until}"
[current]
density = "1.5 A/dm2"
[[piece]]
name = "thick"
surface = "metal"
shape = {{ kind = "wire", diameter = "4 mm", length = "200 mm" }}
[[piece]]
name = "thin"
surface = "metal"
shape = {{ kind = "wire", diameter = "0.6 mm", length = "200 mm" }}
[[hanger]]
shape = {{ kind = "wire", diameter = "1 mm", length = "50 mm" }}
"#
        )
    };
    let mut ends = Vec::new();
    for until in ["thinnest", "rack-mean", "thick", "thin"] {
        let night = night(&studio(&rack(until), "scpi-standard", 1, true));
        assert_eq!(night.outcome(), Some(Outcome::Finished), "{until}");
        let rack = night.run.core().rack();
        let (thick, thin) = (rack.thickness(0).um(), rack.thickness(1).um());
        ends.push((until, thick, thin, rack.mean_thickness().um()));
    }
    let near = |a: f64| (a - 30.0).abs() < 0.05;
    assert!(ends[0].1.min(ends[0].2) > 29.95, "{ends:?}");
    assert!(near(ends[1].3), "{ends:?}");
    assert!(near(ends[2].1), "{ends:?}");
    assert!(near(ends[3].2), "{ends:?}");
}

/// The hard bounds are no wider than the stated limits of the meter, the named gaps and 0.1 %.
#[test]
fn the_bounds_are_no_wider_than_the_meters_limits() {
    for supply in ["scpi-standard", "terse-fixed"] {
        let studio = studio(WIRE, supply, 3, false);
        let night = night(&studio);
        night.is_sound();
        let mut last: Option<(f64, f64)> = None;
        let mut allowed = 0.0;
        for entry in &night.entries {
            let Entry::Reading(reading) = entry else {
                continue;
            };
            let amps = reading.current.unwrap().a();
            // In constant current the truth lies in the overlap of setting and meter: no wider
            // than the narrower of the two.
            let meter = studio.supply.read_current.half_width(amps);
            let half = meter.min(studio.supply.set_current.half_width(amps)) + 0.001 * amps;
            if let Some((at, before)) = last {
                allowed += (reading.at.s() - at) * (half + before) / 2.0;
            }
            last = Some((reading.at.s(), half));
        }
        // The first and the last current, each unsure by a tenth of a second and its exchange.
        allowed += 0.15 * 2.0 * studio.plan.forecast.current_peak.a();
        let charge = night.charge();
        let half = (charge.high - charge.low).c() / 2.0;
        assert!(
            half <= allowed * 1.02,
            "{supply}: ±{half:.2} C, allowed ±{allowed:.2} C"
        );
        assert!(
            half > allowed * 0.3,
            "{supply}: ±{half:.2} C is too good to be true"
        );
    }
}

/// A short at 13 mA hides below a meter with 10 mV steps, and the plan says so; a fine meter sees
/// it.
#[test]
fn the_plan_says_what_is_blind() {
    let studio = wire();
    let mut plan = (*studio.plan).clone();
    // What the station lacks is another matter, see below.
    let bounds = std::mem::take(&mut plan.bounds);
    plan.forecast.current_start = Current::from_ma(13.0);
    let mut supply = studio.supply.clone();
    let step = |step| Tolerance {
        share: 0.0,
        fixed: 0.0,
        step,
    };
    supply.read_voltage = step(0.010);
    supply.read_current = step(0.010);
    let codes = |supply: &Capability| -> Vec<&str> {
        blind(&plan, supply).iter().map(|row| row.code).collect()
    };
    assert_eq!(
        codes(&supply),
        ["current-off-setpoint", "current-without-voltage"]
    );
    supply.read_voltage = step(0.0001);
    supply.read_current = step(0.001);
    assert_eq!(codes(&supply), [""; 0]);
    supply.reads = supply.reads.without(Ask::TRIPPED | Ask::ERROR);
    assert_eq!(codes(&supply), ["protection-tripped", "supply-error"]);
    supply.reads = supply.reads | Ask::TRIPPED | Ask::ERROR;
    // A station without sensors, and without a word on level and brightener.
    plan.bounds = bounds;
    let lacks: Vec<&str> = blind(&plan, &supply).iter().map(|row| row.code).collect();
    assert_eq!(
        lacks,
        [
            "temperature-out",
            "stirring-out",
            "level-low",
            "brightener-overdue"
        ]
    );
}

/// Sound jobs of every sort finish, whatever world is drawn, without a guard that speaks.
#[test]
fn odd_jobs_finish_without_a_false_trip() {
    let strike = "[current.strike]\ndensity = '0.3 A/dm2'\nfor = '40 min'\n\
                  [current.ramp]\nover = '1 h'\n";
    let hold = "[finish]\nhold = '0.05 A/dm2'\nat_most = '30 min'\n";
    let piece = |surface: &str, shape: &str| {
        let contact = if surface == "paint" {
            "contact = '4 mm2'\n"
        } else {
            ""
        };
        format!(
            "[[piece]]\nname = '{surface} piece'\nsurface = '{surface}'\nshape = {{ {shape} }}\n{contact}"
        )
    };
    let ball = "kind = 'sphere', diameter = '22 mm'";
    let stalk = "kind = 'wire', diameter = '1.2 mm', length = '180 mm'";
    let plate = "kind = 'plate', length = '100 mm', width = '80 mm', thickness = '2 mm'";
    let tube = "kind = 'tube', outer = '12 mm', inner = '9 mm', length = '40 mm'";
    let jobs = [
        (
            "thickness = '60 um'",
            format!("{strike}{hold}"),
            piece("paint", ball),
        ),
        (
            "thickness = '60 um'",
            strike.to_owned(),
            piece("paint", ball) + &piece("metal", stalk),
        ),
        ("thickness = '60 um'", String::new(), piece("metal", plate)),
        (
            "thickness = '40 um'\nuntil = 'rack-mean'",
            strike.to_owned(),
            piece("metal", tube),
        ),
        ("hours = '2 h'", strike.to_owned(), piece("metal", stalk)),
        ("mass = '500 mg'", strike.to_owned(), piece("metal", stalk)),
        ("charge = '0.3 Ah'", hold.to_owned(), piece("metal", stalk)),
        (
            "thickness = '1 um'",
            strike.to_owned(),
            piece("metal", stalk),
        ),
        (
            "thickness = '5 um'",
            format!("{strike}{hold}"),
            piece("metal", stalk),
        ),
    ];
    for (number, (target, more, pieces)) in jobs.iter().enumerate() {
        let text = format!(
            "name = 'odd'\nbath = 'acid-copper-bright'\n[target]\n{target}\n[current]\n\
             density = '1.5 A/dm2'\n{more}{pieces}"
        );
        for supply in ["scpi-standard", "terse-fixed"] {
            for seed in 1..=3 {
                let night = night(&studio(&text, supply, seed, false));
                let spoke = night.run.snapshot(Moment::ZERO).alarms;
                assert_eq!(
                    night.outcome(),
                    Some(Outcome::Finished),
                    "job {number} on {supply}, seed {seed}: {spoke:?}"
                );
                night.is_sound();
            }
        }
    }
}
