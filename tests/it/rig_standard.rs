//! Conversations with the simulated standard supply, written by hand after SCPI-99 and IEEE 488.2.

use crate::rig_studio::{bench, clean, converse, flat, job, number, piece, say};
use nightvat::exchange::OnMainsReturn;
use nightvat::rig::bench::Bench;
use nightvat::rig::cell::CellFault;
use nightvat::rig::instrument::{Kind, Quirks};
use nightvat::spec::Surface;
use nightvat::supply::wire::{Line, WireFault};
use nightvat::units::{Current, Moment, Span};

/// One plate of 1 dm² on a quiet bench, the supply with its usual steps.
fn quiet(change: impl FnOnce(&mut Quirks)) -> Bench {
    let mut world = clean(&job(vec![piece("plate", Surface::Metal, flat(100.0))]));
    // Not clean, so that the supply keeps its steps; but nothing is drawn into it.
    world.clean = false;
    let mut quirks = Quirks::of(Kind::Standard);
    change(&mut quirks);
    bench(Kind::Standard, quirks, world)
}

fn supply() -> Bench {
    quiet(|_| {})
}

#[test]
fn says_who_it_is_in_four_fields() {
    // IEEE 488.2 §10.14: maker, model, serial (0 where there is none), firmware.
    converse(
        &mut supply(),
        &[
            ("*IDN?", "NIGHTVAT,SIMULATED-SUPPLY,0,1.0"),
            ("*idn?", "NIGHTVAT,SIMULATED-SUPPLY,0,1.0"),
            ("SYSTEM:VERSION?", "1999.0"),
            ("SYST:VERS?", "1999.0"),
            ("SYST:ERR?", "0,\"No error\""),
        ],
    );
}

#[test]
fn takes_short_and_long_headers_in_any_case_with_and_without_optional_nodes() {
    // SCPI-99 volume 1 §6.2.1: exactly the short or the long form.
    for header in [
        "CURR",
        "curr",
        "CURRENT",
        "SOUR:CURR",
        "SOURce:CURRent",
        ":SOUR:CURR:LEV",
        "CURR:LEV:IMM",
        "CURR:AMPL",
        "source:current:level:immediate:amplitude",
        "CURR1",
    ] {
        let mut supply = supply();
        converse(
            &mut supply,
            &[(&format!("{header} 0.35"), ""), ("CURR?", "0.3500")],
        );
        converse(
            &mut supply,
            &[
                (&format!("{header}?"), "0.3500"),
                ("SYST:ERR?", "0,\"No error\""),
            ],
        );
    }
    for header in [
        "CURRE",
        "CURREN",
        "CU",
        "SOUR:CURR:PROTE",
        "CURR:CURR",
        "MEAS",
        "SOUR",
    ] {
        converse(
            &mut supply(),
            &[
                (&format!("{header} 0.35"), ""),
                ("SYST:ERR?", "-113,\"Undefined header\""),
            ],
        );
    }
    converse(
        &mut supply(),
        &[
            ("CURR2 1", ""),
            ("SYST:ERR?", "-114,\"Header suffix out of range\""),
        ],
    );
}

#[test]
fn goes_on_from_the_path_of_the_unit_before() {
    // SCPI-99 volume 1 §6.2.4; a common command leaves the path alone, a colon returns to the root.
    converse(
        &mut supply(),
        &[
            ("SOUR:VOLT 2.5;CURR 0.5", ""),
            ("SOUR:VOLT?;CURR?", "2.5000;0.5000"),
            ("VOLT:PROT 2.7;PROT:STAT ON", ""),
            ("SYST:ERR?", "0,\"No error\""),
            ("CURR:PROT 3.1;STAT ON", ""),
            ("SYST:ERR?", "-113,\"Undefined header\""),
            ("CURR:PROT:LEV 3.1;STAT ON", ""),
            ("CURR:PROT?;PROT:STAT?", "3.1000;1"),
            ("CURR:PROT:LEV?;*OPC?;STAT?;:OUTP?", "3.1000;1;1;0"),
            ("MEAS:CURR?;VOLT?", "0.0000;0.0000"),
            ("SYST:ERR?;ERR?", "0,\"No error\";0,\"No error\""),
        ],
    );
}

#[test]
fn takes_numbers_in_every_decimal_form_and_with_units() {
    // IEEE 488.2 §7.7.2 (NRf) and SCPI-99 volume 1 §7.2; `M` before A and V is milli.
    for (written, answered) in [
        ("1", "1.0000"),
        ("+1.5", "1.5000"),
        (".25", "0.2500"),
        ("0.5E0", "0.5000"),
        ("5e-1", "0.5000"),
        ("12.5E-02", "0.1250"),
        ("500 mA", "0.5000"),
        ("500MA", "0.5000"),
        ("0.5A", "0.5000"),
        ("0.0005 KA", "0.5000"),
        ("MAX", "5.0000"),
        ("MAXimum", "5.0000"),
        ("min", "0.0000"),
        ("DEF", "0.0000"),
        ("0.12345", "0.1230"),
    ] {
        let line = format!("CURR {written}");
        converse(
            &mut supply(),
            &[
                (&line, ""),
                ("CURR?", answered),
                ("SYST:ERR?", "0,\"No error\""),
            ],
        );
    }
    converse(
        &mut supply(),
        &[
            ("CURR? MAX", "5.0000"),
            ("CURR? MIN", "0.0000"),
            ("VOLT? MAX", "30.0000"),
            ("VOLT:PROT? MAX", "33.0000"),
        ],
    );
}

#[test]
fn names_each_slip_by_its_standard_number() {
    // Numbers and texts: SCPI-99 volume 2 §21.8.
    for (line, entry) in [
        ("CURR", "-109,\"Missing parameter\""),
        ("CURR 1,2", "-108,\"Parameter not allowed\""),
        ("*RST 1", "-108,\"Parameter not allowed\""),
        ("CURR ABC", "-104,\"Data type error\""),
        ("CURR 1.2.3", "-121,\"Invalid character in number\""),
        ("CURR 1 V", "-131,\"Invalid suffix\""),
        ("CURR 500 MAMP", "-131,\"Invalid suffix\""),
        ("CURR 5.1", "-222,\"Data out of range\""),
        ("CURR -0.1", "-222,\"Data out of range\""),
        ("VOLT 31", "-222,\"Data out of range\""),
        ("OUTP PERHAPS", "-224,\"Illegal parameter value\""),
        ("INST:NSEL 2", "-222,\"Data out of range\""),
        ("INST OUT7", "-224,\"Illegal parameter value\""),
        ("CURR::LEV 1", "-102,\"Syntax error\""),
        ("CURR \u{7f}", "-101,\"Invalid character\""),
        ("FLOW 1", "-113,\"Undefined header\""),
        ("MEAS:CURR 1", "-113,\"Undefined header\""),
        ("*CLS?", "-113,\"Undefined header\""),
    ] {
        let mut supply = supply();
        say(&mut supply, "CURR 0.2");
        say(&mut supply, line.trim_end_matches('?'));
        if line.ends_with('?') {
            let silent = say(&mut supply, line);
            assert_eq!(silent.reply, Err(WireFault::Silent), "{line}");
        }
        converse(&mut supply, &[("SYST:ERR?", entry), ("CURR?", "0.2000")]);
    }
}

#[test]
fn a_query_it_does_not_know_stays_without_an_answer() {
    let mut supply = supply();
    let outcome = say(&mut supply, "FLOW?");
    assert_eq!(outcome.reply, Err(WireFault::Silent));
    // Half a second of patience after the last of six bytes at 9600 baud.
    assert!((outcome.received.s() - outcome.sent.s() - 0.506_25).abs() < 1e-6);
}

#[test]
fn the_error_queue_is_first_in_first_out_and_says_when_it_overflows() {
    // SCPI-99 volume 2 §21.8.1: the last entry becomes -350 and newer errors are lost.
    let mut supply = quiet(|quirks| quirks.error_depth = 4);
    for line in ["CURR", "FLOW 1", "CURR 9", "CURR 1 V", "OUTP 2 2", "FLOW 2"] {
        say(&mut supply, line);
    }
    converse(
        &mut supply,
        &[
            ("SYST:ERR:COUN?", "4"),
            ("SYST:ERR?", "-109,\"Missing parameter\""),
            ("SYST:ERR:NEXT?", "-113,\"Undefined header\""),
            ("SYSTEM:ERROR?", "-222,\"Data out of range\""),
            ("SYST:ERR?", "-350,\"Queue overflow\""),
            ("SYST:ERR?", "0,\"No error\""),
        ],
    );
}

#[test]
fn event_bits_and_the_status_byte_follow_the_classes() {
    // IEEE 488.2 §11.5.1: 128 power on, 32 command, 16 execution error, 1 complete; reading clears.
    converse(
        &mut supply(),
        &[
            ("*ESR?", "128"),
            ("*ESR?", "0"),
            ("FLOW 1", ""),
            ("*STB?", "4"),
            ("*ESE 48;*SRE 32", ""),
            ("*ESE?;*SRE?", "48;32"),
            ("*STB?", "100"),
            ("CURR 9", ""),
            ("*OPC", ""),
            ("*ESR?", "49"),
            ("*STB?", "4"),
            ("*CLS", ""),
            ("*STB?;*ESR?;:SYST:ERR?", "0;0;0,\"No error\""),
            ("*ESE?", "48"),
            ("*SRE 255", ""),
            ("*SRE?", "191"),
            ("*TST?", "0"),
            ("*WAI", ""),
            ("*OPC?", "1"),
        ],
    );
}

#[test]
fn a_command_error_ends_the_message_and_an_execution_error_does_not() {
    converse(
        &mut supply(),
        &[
            ("VOLT 1;FLOW 1;VOLT 2", ""),
            ("VOLT?", "1.0000"),
            ("VOLT 99;CURR 0.3", ""),
            ("CURR?", "0.3000"),
            (
                "SYST:ERR?;ERR?",
                "-113,\"Undefined header\";-222,\"Data out of range\"",
            ),
        ],
    );
}

#[test]
fn crosses_from_constant_current_to_constant_voltage_and_says_so() {
    // QUEStionable: 1 voltage questionable (constant current), 2 current questionable (constant
    // voltage).
    let mut supply = supply();
    converse(
        &mut supply,
        &[
            ("STAT:QUES:COND?", "0"),
            ("VOLT 1;CURR 0.5;OUTP ON", ""),
            ("OUTP?", "1"),
            ("STAT:QUES:COND?", "1"),
            ("CURR 4", ""),
            ("STAT:QUES:COND?", "2"),
            ("STAT:QUES?", "3"),
            ("STAT:QUES:EVEN?", "0"),
            ("STAT:QUES:ENAB 2;ENAB?", "2"),
        ],
    );
    assert!((number(&mut supply, "MEAS:VOLT?") - 1.0).abs() < 2e-3);
    let held = number(&mut supply, "MEAS:SCAL:CURR:DC?");
    assert!(held > 0.5 && held < 4.0, "{held}");
    converse(
        &mut supply,
        &[("CURR 0.5", ""), ("STAT:QUES:COND?", "1"), ("*STB?", "0")],
    );
    converse(
        &mut supply,
        &[
            ("CURR 4", ""),
            ("*STB?", "8"),
            ("OUTP 0", ""),
            ("STAT:QUES:COND?", "0"),
        ],
    );
    assert_eq!(number(&mut supply, "MEAS:CURR?"), 0.0);
}

#[test]
fn over_voltage_trips_latches_and_is_cleared_by_hand() {
    let mut supply = supply();
    converse(
        &mut supply,
        &[
            ("VOLT 2.5;CURR 1;VOLT:PROT 2.0", ""),
            ("OUTP ON", ""),
            ("OUTP?;:VOLT:PROT:TRIP?", "1;0"),
        ],
    );
    supply.fault(CellFault::LeadOpen);
    converse(
        &mut supply,
        &[
            ("OUTP?;:VOLT:PROT:TRIP?;:CURR:PROT:TRIP?", "0;1;0"),
            ("STAT:QUES:COND?", "512"),
            ("OUTP ON", ""),
            ("SYST:ERR?", "-221,\"Settings conflict\""),
            ("OUTP?", "0"),
            ("OUTP:PROT:CLE", ""),
            ("OUTP?;:VOLT:PROT:TRIP?", "0;0"),
        ],
    );
    supply.fault(CellFault::LeadBack);
    converse(
        &mut supply,
        &[("OUTP ON;OUTP?", "1"), ("SYST:ERR?", "0,\"No error\"")],
    );
}

#[test]
fn over_current_trips_only_when_armed() {
    let mut supply = supply();
    converse(
        &mut supply,
        &[
            ("VOLT 3;CURR 0.5;CURR:PROT 0.6", ""),
            ("CURR:PROT:STAT?;:VOLT:PROT:STAT?", "0;1"),
            ("OUTP ON;:CURR 0.7", ""),
            ("OUTP?", "1"),
            ("CURR 0.5;CURR:PROT:STAT ON", ""),
            ("OUTP?", "1"),
            ("CURR 0.7", ""),
            ("OUTP?;:CURR:PROT:TRIP?;:STAT:QUES:COND?", "0;1;1024"),
            ("CURR:PROT:CLE;TRIP?", "0"),
        ],
    );
    assert_eq!(supply.truth().current_a, 0.0);
}

#[test]
fn reset_turns_off_and_leaves_the_error_queue() {
    // IEEE 488.2 §10.32.
    converse(
        &mut supply(),
        &[
            ("VOLT 2;CURR 0.5;OUTP ON", ""),
            ("FLOW 1", ""),
            ("*RST", ""),
            ("OUTP?;:VOLT?;:CURR?", "0;0.0000;0.0000"),
            ("VOLT:PROT?;:CURR:PROT?", "33.0000;5.5000"),
            ("SYST:ERR?", "-113,\"Undefined header\""),
        ],
    );
}

#[test]
fn numbers_with_exponents_where_the_supply_answers_so() {
    // IEEE 488.2 §8.7.4 (NR3).
    let mut supply = quiet(|quirks| {
        quirks.exponents = true;
        quirks.decimals = 5;
        quirks.reply_end = "\r\n";
    });
    converse(
        &mut supply,
        &[
            ("CURR 0.35;CURR?", "+3.50000E-01"),
            ("VOLT 12;VOLT?", "+1.20000E+01"),
        ],
    );
    converse(&mut supply, &[("MEAS:CURR?", "+0.00000E+00")]);
}

#[test]
fn a_line_too_long_is_an_overrun_and_the_next_line_is_heard() {
    let mut supply = supply();
    say(&mut supply, &"X".repeat(300));
    converse(
        &mut supply,
        &[
            ("SYST:ERR?", "-363,\"Input buffer overrun\""),
            ("SYST:ERR?", "0,\"No error\""),
        ],
    );
}

#[test]
fn in_local_it_refuses_where_it_wants_remote_first() {
    let mut supply = quiet(|quirks| quirks.needs_remote = true);
    converse(
        &mut supply,
        &[
            ("CURR 1", ""),
            ("SYST:ERR?", "-201,\"Invalid while in local\""),
            ("SYST:REM", ""),
            ("CURR 1;CURR?", "1.0000"),
            ("SYST:LOC", ""),
            ("OUTP ON", ""),
            ("SYST:ERR?", "-201,\"Invalid while in local\""),
        ],
    );
}

#[test]
fn a_hand_at_the_knob_is_seen_unless_the_panel_is_locked() {
    let mut supply = supply();
    converse(&mut supply, &[("CURR 0.5;VOLT 2;OUTP ON", "")]);
    let now = supply.now();
    assert!(
        supply
            .instrument()
            .turn_current_knob(now, Current::from_a(0.8))
    );
    converse(&mut supply, &[("CURR?", "0.8000"), ("SYST:RWL", "")]);
    let now = supply.now();
    assert!(
        !supply
            .instrument()
            .turn_current_knob(now, Current::from_a(0.9))
    );
    converse(&mut supply, &[("CURR?", "0.8000"), ("SYST:KLOC?", "1")]);
    let now = supply.now();
    supply.instrument().press_output(now);
    converse(&mut supply, &[("OUTP?", "0")]);
}

#[test]
fn a_power_cycle_leaves_the_output_off_and_is_told() {
    let mut supply = supply();
    converse(&mut supply, &[("CURR 0.5;VOLT 2;OUTP ON;*ESR?", "128")]);
    let now = supply.now();
    supply.instrument().lose_power(now);
    assert_eq!(say(&mut supply, "OUTP?").reply, Err(WireFault::Silent));
    let now = supply.now();
    supply.instrument().regain_power(now);
    converse(
        &mut supply,
        &[
            ("OUTP?;:CURR?", "0;0.0000"),
            ("*ESR?", "128"),
            ("SYST:ERR?", "-500,\"Power on\""),
        ],
    );
    let charge = supply.truth().charge_ah;
    supply.rest(Span::from_h(1.0));
    assert_eq!(supply.truth().charge_ah, charge);
}

#[test]
fn one_that_restores_its_output_comes_back_on() {
    let mut supply = quiet(|quirks| quirks.on_mains_return = OnMainsReturn::On);
    converse(&mut supply, &[("CURR 0.5;VOLT 2;OUTP ON", "")]);
    supply.rest(Span::from_s(1.0));
    let now = supply.now();
    supply.instrument().lose_power(now);
    supply.rest(Span::from_s(60.0));
    let now = supply.now();
    assert_eq!(supply.instrument().truth(now).current_a, 0.0);
    supply.instrument().regain_power(now);
    converse(&mut supply, &[("OUTP?;:CURR?", "1;0.5000")]);
}

#[test]
fn settings_and_readings_stay_within_the_stated_limits() {
    use crate::rig_studio::{copper, rack, station};
    use nightvat::rig::world::World;
    for seed in 0..50 {
        let world = World::draw(&rack(), &station(), &copper(0.995), seed, false);
        let mut supply = bench(Kind::Standard, Quirks::of(Kind::Standard), world);
        converse(&mut supply, &[("VOLT 2.5;CURR 0.2;OUTP ON", "")]);
        for _ in 0..20 {
            supply.rest(Span::from_s(1.0));
            // 0.1 % and 2 mA, and half a step of 1 mA; 0.05 % and 5 mV, and half a step of 1 mV.
            let amps = number(&mut supply, "MEAS:CURR?");
            let truth = supply.truth();
            let allowed = 1e-3 * truth.current_a + 2e-3 + 0.5e-3 + 1e-9;
            assert!(
                (amps - truth.current_a).abs() <= allowed,
                "{seed}: {amps} {truth:?}"
            );
            assert!(
                truth.current_a <= 0.2 * 1.001 + 2e-3 + 1e-9,
                "{seed}: {truth:?}"
            );
            let volts = number(&mut supply, "MEAS:VOLT?");
            let allowed = 0.5e-3 * truth.voltage_v + 5e-3 + 0.5e-3 + 1e-6;
            assert!(
                (volts - truth.voltage_v).abs() <= allowed,
                "{seed}: {volts} {truth:?}"
            );
        }
    }
}

#[test]
fn a_planted_meter_error_shows() {
    let mut world = clean(&job(vec![piece("plate", Surface::Metal, flat(100.0))]));
    world.clean = false;
    world.meter.read_current_gain = 1.0;
    let mut quirks = Quirks::of(Kind::Standard);
    quirks.read_current.share = 0.1;
    quirks.read_current.fixed = 0.0;
    let mut supply = bench(Kind::Standard, quirks, world);
    converse(&mut supply, &[("VOLT 5;CURR 1;OUTP ON", "")]);
    supply.rest(Span::from_s(1.0));
    converse(
        &mut supply,
        &[("MEAS:CURR?", "1.1000"), ("CURR?", "1.0000")],
    );
}

#[test]
fn the_output_button_between_two_moments_is_charged_exactly() {
    let mut supply = supply();
    converse(&mut supply, &[("VOLT 5;CURR 1", "")]);
    let instrument = supply.instrument();
    instrument.press_output(Moment::from_s(10.0));
    instrument.press_output(Moment::from_s(110.0));
    // 100 s at 1 A, less the slope of 20 A/s at the start: 0.5 · 1 A · 0.05 s.
    let charge = instrument.truth(Moment::from_s(200.0)).charge_ah * 3600.0;
    assert!((charge - 99.975).abs() < 1e-9, "{charge}");
}
