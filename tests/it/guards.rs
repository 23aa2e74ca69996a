//! Each guard just below, at and above its limit, in every state.

use nightvat::control::{Envelope, Fault, Patience, Sight, State, Watch, limit};
use nightvat::exchange::{Ask, Capability, DeviceError, Mode, OnMainsReturn, Reading, Tolerance};
use nightvat::units::{Charge, Current, Moment, Span, Voltage};

/// A supply with 1 mA and 10 mV steps and no other error, so that the limits can be written down by
/// hand.
pub(crate) fn supply() -> Capability {
    Capability {
        max_current: Current::from_a(5.0),
        max_voltage: Voltage::from_v(30.0),
        set_current: Tolerance {
            share: 0.0,
            fixed: 0.0,
            step: 0.001,
        },
        set_voltage: Tolerance {
            share: 0.0,
            fixed: 0.0,
            step: 0.01,
        },
        read_current: Tolerance {
            share: 0.0,
            fixed: 0.0,
            step: 0.001,
        },
        read_voltage: Tolerance {
            share: 0.0,
            fixed: 0.0,
            step: 0.01,
        },
        least_set_interval: Span::from_s(1.0),
        longest_exchange: Span::from_ms(50.0),
        reads: Ask::MEASURED
            | Ask::OUTPUT
            | Ask::MODE
            | Ask::SET_CURRENT
            | Ask::SET_VOLTAGE
            | Ask::TRIPPED
            | Ask::ERROR,
        guards_over_voltage: true,
        guards_over_current: true,
        on_mains_return: OnMainsReturn::Off,
        watchdog: None,
    }
}

/// What a case changes in an undisturbed second: 1 A set, 1 A read at 1 V, constant current.
#[derive(Clone)]
struct Second {
    reading: Reading,
    set: f64,
    charge_ah: f64,
    on_h: f64,
    envelope_a: f64,
    gap_s: f64,
}

fn quiet() -> Second {
    Second {
        reading: Reading {
            current: Some(Current::from_a(1.0)),
            voltage: Some(Voltage::from_v(1.0)),
            output: Some(true),
            mode: Some(Mode::ConstantCurrent),
            set_current: Some(Current::from_a(1.0)),
            tripped: Some(false),
            ..Reading::default()
        },
        set: 1.0,
        charge_ah: 5.0,
        on_h: 5.0,
        envelope_a: 1.1,
        gap_s: 1.0,
    }
}

/// How far a case is from the limit of its guard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Level {
    Below,
    At,
    Above,
}

fn pick(level: Level, below: f64, at: f64, above: f64) -> f64 {
    match level {
        Level::Below => below,
        Level::At => at,
        Level::Above => above,
    }
}

/// The second that brings a guard to its limit; `None` for guards that speak through events. The
/// figures follow from the limits in `limit` and the supply above, worked out by hand.
fn case(fault: Fault, level: Level, state: State) -> Option<Second> {
    let mut second = quiet();
    let reading = &mut second.reading;
    match fault {
        // 1.5 x (0.5 mA + 0.5 mA) + 1 % of 1 A = 11.5 mA.
        Fault::CurrentOffSetpoint => {
            reading.current = Some(Current::from_a(
                1.0 + pick(level, 0.0114, 0.011_499, 0.0116),
            ));
        }
        // 0.9 A less half a step of the meter.
        Fault::ConstantCurrentLost => {
            reading.mode = Some(Mode::ConstantVoltage);
            reading.current = Some(Current::from_a(pick(level, 0.9, 0.899_500_1, 0.8994)));
        }
        // The slow mean is 1 ohm; it has risen when over 1.5 ohm.
        Fault::CellVoltageHigh => {
            reading.voltage = Some(Voltage::from_v(pick(level, 1.49, 1.5, 1.51)));
        }
        // In strike the resistance changes by the minute: only less than leads have, 10 mohm,
        // counts, less half a step of the meter: 5 mV at 1 A.
        Fault::CellVoltageCollapsed if state == State::Striking => {
            reading.voltage = Some(Voltage::from_v(pick(level, 0.0051, 0.005, 0.0049)));
        }
        // 0.4 of 1 ohm at 1 A, less half a step of the meter: 0.395 V.
        Fault::CellVoltageCollapsed => {
            reading.voltage = Some(Voltage::from_v(pick(level, 0.396, 0.395, 0.394)));
        }
        Fault::OutputNotAsCommanded => reading.output = Some(level != Level::Above),
        // 0.6 of a step of 1 mA.
        Fault::SetpointChanged => {
            reading.set_current =
                Some(Current::from_a(1.0 + pick(level, 5.9e-4, 5.999e-4, 6.1e-4)));
        }
        Fault::ProtectionTripped => reading.tripped = Some(level == Level::Above),
        // -600 and below are events; -500 is a power-on (SCPI-99 vol. 2 chapter 21).
        Fault::SupplyError => {
            let code = if level == Level::Above { -500 } else { -800 };
            reading.error = Some(DeviceError {
                code,
                text: "from the queue".into(),
            });
        }
        Fault::ReadingStale => {
            if level != Level::Below {
                reading.voltage = None;
            }
            second.gap_s = pick(level, 1.0, limit::STALE_S - 0.001, limit::STALE_S + 0.001);
        }
        // 110 % of 30 V.
        Fault::ReadingImplausible => {
            reading.voltage = Some(Voltage::from_v(pick(level, 32.9, 33.0, 33.1)));
        }
        // 1.1 A and half a step of both meters.
        Fault::EnvelopeExceeded => {
            second.set = 1.1;
            reading.set_current = Some(Current::from_a(1.1));
            reading.current = Some(Current::from_a(pick(level, 1.1009, 1.101, 1.1011)));
        }
        Fault::ChargeCap => second.charge_ah = pick(level, 9.9, 10.0, 10.1),
        Fault::TimeCap => second.on_h = pick(level, 9.9, 10.0, 10.1),
        Fault::LedgerNotWriting
        | Fault::CommandFailed
        | Fault::WrongSupply
        | Fault::OnBeforeStart
        | Fault::LimitsNotTaken
        | Fault::NoContact
        | Fault::KeeperLost
        | Fault::DaemonLost => return None,
    }
    Some(second)
}

fn judge(watch: &mut Watch, now: Moment, state: State, second: &Second) -> Option<Fault> {
    let supply = supply();
    watch.judge(&Sight {
        now,
        state,
        reading: &second.reading,
        set: Current::from_a(second.set),
        settled: true,
        ceiling: Voltage::from_v(2.5),
        envelope: Envelope {
            current: Current::from_a(second.envelope_a),
            voltage: Voltage::from_v(2.5),
            until: now + Span::from_h(1.0),
        },
        supply: &supply,
        charge: Charge::from_ah(second.charge_ah),
        charge_cap: Charge::from_ah(10.0),
        on: Span::from_h(second.on_h),
        on_cap: Span::from_h(10.0),
    })
}

/// What the guards say after a minute of quiet and then enough of the case to use up all patience.
fn said(fault: Fault, level: Level, state: State) -> Option<Fault> {
    let second = case(fault, level, state)?;
    let mut now = Moment::from_s(1.0);
    let mut watch = Watch::new(now);
    for _ in 0..60 {
        now = now + Span::from_s(1.0);
        if let Some(early) = judge(&mut watch, now, state, &quiet()) {
            panic!(
                "{} spoke in a quiet minute of {}",
                early.code(),
                state.word()
            );
        }
    }
    let (repeats, gap) = match fault.guard().patience {
        Patience::None => (1, second.gap_s),
        Patience::Readings(count) => (count, second.gap_s),
        Patience::For(span) => (22, (span.s() / 20.0).max(second.gap_s)),
    };
    let mut last = None;
    for _ in 0..repeats {
        now = now + Span::from_s(gap);
        last = judge(&mut watch, now, state, &second);
        if last.is_some() {
            break;
        }
    }
    last
}

#[test]
fn every_guard_speaks_above_its_limit_and_in_its_states_only() {
    let mut tried = 0;
    for fault in Fault::ALL {
        for state in State::ALL {
            for level in [Level::Below, Level::At, Level::Above] {
                if case(fault, level, state).is_none() {
                    continue;
                }
                tried += 1;
                let watches = fault.guard().states.contains(&state);
                let spoke = said(fault, level, state) == Some(fault);
                let wanted = watches && level == Level::Above;
                assert_eq!(
                    spoke,
                    wanted,
                    "{} {level:?} in {}",
                    fault.code(),
                    state.word()
                );
            }
        }
    }
    assert_eq!(tried, 13 * 13 * 3);
}

#[test]
fn one_reading_less_than_a_guards_patience_is_silence() {
    for fault in Fault::ALL {
        let Patience::Readings(count) = fault.guard().patience else {
            continue;
        };
        let state = fault.guard().states[fault.guard().states.len() - 1];
        let Some(second) = case(fault, Level::Above, state) else {
            continue;
        };
        let mut now = Moment::from_s(1.0);
        let mut watch = Watch::new(now);
        for _ in 0..60 {
            now = now + Span::from_s(1.0);
            assert_eq!(judge(&mut watch, now, state, &quiet()), None);
        }
        for _ in 1..count {
            now = now + Span::from_s(1.0);
            assert_eq!(
                judge(&mut watch, now, state, &second),
                None,
                "{}",
                fault.code()
            );
        }
        // A good reading in between starts the count again.
        now = now + Span::from_s(1.0);
        assert_eq!(judge(&mut watch, now, state, &quiet()), None);
        now = now + Span::from_s(1.0);
        assert_eq!(
            judge(&mut watch, now, state, &second),
            None,
            "{}",
            fault.code()
        );
    }
}

#[test]
fn a_painted_piece_in_strike_may_sit_at_the_ceiling() {
    let mut second = quiet();
    second.reading.mode = Some(Mode::ConstantVoltage);
    second.reading.voltage = Some(Voltage::from_v(2.5));
    second.reading.current = Some(Current::from_a(0.2));
    let mut now = Moment::from_s(1.0);
    let mut watch = Watch::new(now);
    for _ in 0..3600 {
        now = now + Span::from_s(1.0);
        assert_eq!(judge(&mut watch, now, State::Striking, &second), None);
    }
}

#[test]
fn codes_and_words_are_their_own_inverse() {
    for fault in Fault::ALL {
        assert_eq!(Fault::from_code(fault.code()), Some(fault));
        assert!(!fault.guard().sees.is_empty());
        assert!(
            !fault.guard().states.is_empty(),
            "{} never watches",
            fault.code()
        );
    }
    for state in State::ALL {
        assert_eq!(State::from_word(state.word()), Some(state));
    }
}
