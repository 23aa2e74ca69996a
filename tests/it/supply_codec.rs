//! Numbers, error queues and orders as bytes, against the forms of SCPI-99 and IEEE 488.2.

use nightvat::exchange::{Ask, DeviceError, Mode, Order, Reading};
use nightvat::spec::supply::{self, SupplyProfile};
use nightvat::supply::codec::{Codec, Move, Number, entry, number, take};
use nightvat::supply::wire::{Exchange, Raise, ReplyEnd};
use nightvat::units::{Current, Voltage};
use std::sync::Arc;

pub(crate) const STANDARD: &str = include_str!("../../profiles/supplies/scpi-standard.toml");
pub(crate) const TWO: &str = include_str!("../../profiles/supplies/scpi-standard-two-channel.toml");
pub(crate) const TERSE: &str = include_str!("../../profiles/supplies/terse-fixed.toml");

pub(crate) fn load(text: &str) -> Arc<SupplyProfile> {
    Arc::new(supply::read("supply.toml", text).unwrap_or_else(|problems| panic!("{problems}")))
}

fn is(text: &str) -> f64 {
    match number(text.as_bytes(), Some("A")) {
        Ok(Number::Is(value)) => value,
        other => panic!("{text}: {other:?}"),
    }
}

#[test]
fn the_three_forms_of_numbers_are_read() {
    // IEEE 488.2 §8.7.2 (NR1), §8.7.3 (NR2), §8.7.4 (NR3); the examples are those of the
    // standard's extracts.
    for (text, value) in [
        ("146", 146.0),
        ("+146", 146.0),
        ("-7", -7.0),
        ("12.3", 12.3),
        ("-0.123", -0.123),
        (".5", 0.5),
        ("5.", 5.0),
        ("1.23400E+00", 1.234),
        ("1.5e0", 1.5),
        ("-2.5E-3", -0.0025),
        ("  0.350 ", 0.35),
        ("0.350A", 0.35),
        ("0.350 a", 0.35),
        ("01.500", 1.5),
    ] {
        assert_eq!(is(text), value, "{text}");
    }
}

#[test]
fn no_reading_is_never_a_figure() {
    // SCPI-99 vol. 1 §7.2.1: 9.91E37 is not-a-number, 9.9E37 and -9.9E37 are the infinities.
    for text in [
        "9.91E37",
        "+9.9E37",
        "9.9E+37",
        "-9.9E37",
        "9.900000E+37",
        "1E400",
    ] {
        assert_eq!(
            number(text.as_bytes(), None),
            Ok(Number::NoReading),
            "{text}"
        );
    }
}

#[test]
fn what_is_no_number_or_two_is_rejected() {
    for text in [
        "", " ", "+", ".", "E5", "A", "1.0,2.0", "1.0 2.0", "1.0;2.0", "1..2", "1.5V", "0x10",
        "nan", "inf", "1E", "--1", "1.0A1.0A", "0,350", "\u{0}1", "1\u{0}2",
    ] {
        assert!(number(text.as_bytes(), Some("A")).is_err(), "{text:?}");
    }
}

#[test]
fn error_queue_entries_are_read_by_their_number() {
    // SCPI-99 vol. 2 §21.8: <code>,"<text>" with optional ;detail. The detailed one as libscpi 2
    // sends it.
    for (reply, code, text) in [
        ("0,\"No error\"", 0, "No error"),
        ("+0,\"No error\"", 0, "No error"),
        ("-113,\"Undefined header\"", -113, "Undefined header"),
        (
            "-113,\"Undefined header;CURRE 1\"",
            -113,
            "Undefined header;CURRE 1",
        ),
        ("-350,\"Queue overflow\"", -350, "Queue overflow"),
        ("42,\"\"", 42, ""),
        ("0", 0, ""),
    ] {
        let expected = DeviceError {
            code,
            text: text.to_owned(),
        };
        assert_eq!(entry(reply.as_bytes()), Ok(expected), "{reply}");
    }
    for bad in ["", "No error", "0.350", "\"0\"", "0 0,\"x\""] {
        assert!(entry(bad.as_bytes()).is_err(), "{bad}");
    }
}

/// The exchanges of an order.
pub(crate) fn exchanges(profile: &str, order: Order) -> Vec<Exchange> {
    let codec = Codec::new(load(profile));
    let mut moves = Vec::new();
    codec
        .plan(order, &mut moves)
        .unwrap_or_else(|e| panic!("{order:?}: {}", e.0));
    moves
        .iter()
        .map(|step| codec.exchange(step).unwrap())
        .collect()
}

/// The messages an order sends, as text, and what they may raise.
pub(crate) fn sent(profile: &str, order: Order) -> Vec<(String, Raise)> {
    let text = |x: Exchange| (String::from_utf8(x.send).unwrap(), x.raises);
    exchanges(profile, order).into_iter().map(text).collect()
}

fn texts(profile: &str, order: Order) -> Vec<String> {
    sent(profile, order)
        .into_iter()
        .map(|(text, _)| text)
        .collect()
}

#[test]
fn standard_orders_are_the_standard_headers() {
    // Headers of SCPI-99 vol. 2 (CURRent, VOLTage, OUTPut, INSTrument, SYSTem:ERRor).
    let current = Order::SetCurrent(Current::from_ma(350.4));
    assert_eq!(texts(STANDARD, current), ["CURR 0.350\n", "SYST:ERR?\n"]);
    assert_eq!(texts(STANDARD, Order::Off), ["OUTP OFF\n", "SYST:ERR?\n"]);
    let guard = Order::SetOverVoltage(Voltage::from_v(2.7));
    assert_eq!(
        texts(STANDARD, guard),
        [
            "VOLT:PROT 2.700\n",
            "SYST:ERR?\n",
            "VOLT:PROT:STAT ON\n",
            "SYST:ERR?\n"
        ]
    );
    assert_eq!(
        texts(STANDARD, Order::Read(Ask::MEASURED)),
        ["MEAS:CURR?\n", "MEAS:VOLT?\n"]
    );
    assert_eq!(texts(STANDARD, Order::Identify), ["*IDN?\n"]);
    let both = texts(TWO, Order::Read(Ask::VOLTAGE | Ask::ERROR));
    assert_eq!(both, ["INST:NSEL 1\n", "MEAS:VOLT?\n", "SYST:ERR?\n"]);
    assert_eq!(
        texts(TWO, Order::Off),
        ["INST:NSEL 1\n", "OUTP OFF\n", "SYST:ERR?\n"]
    );
}

#[test]
fn terse_orders_are_those_of_its_command_table() {
    // The command table of the simulated terse supply.
    let current = Order::SetCurrent(Current::from_a(0.35));
    assert_eq!(texts(TERSE, current), ["C0.3500"]);
    assert_eq!(
        texts(TERSE, Order::SetVoltage(Voltage::from_v(2.5))),
        ["V02.500"]
    );
    assert_eq!(
        texts(TERSE, Order::SetOverVoltage(Voltage::from_v(2.7))),
        ["P02.700"]
    );
    assert_eq!(
        texts(TERSE, Order::SetOverCurrent(Current::from_a(3.1))),
        ["Q3.1000"]
    );
    assert_eq!(
        (texts(TERSE, Order::On), texts(TERSE, Order::Off)),
        (vec!["X1".into()], vec!["X0".into()])
    );
    let all = Ask::CURRENT | Ask::SET_CURRENT | Ask::SET_VOLTAGE | Ask::OUTPUT | Ask::TRIPPED;
    assert_eq!(texts(TERSE, Order::Read(all)), ["c", "s", "g"]);
    assert!(texts(TERSE, Order::Prepare).is_empty());
}

#[test]
fn the_keeper_is_told_what_may_raise_and_nothing_else_raises() {
    let amps = |a| Raise {
        current: Some(Current::from_a(a)),
        ..Raise::default()
    };
    let order = Order::SetCurrent(Current::from_a(0.25));
    assert_eq!(sent(STANDARD, order)[0].1, amps(0.25));
    assert_eq!(sent(TERSE, order)[0].1, amps(0.25));
    let on = sent(TWO, Order::On);
    assert!(on[0].1.is_nothing(), "selecting a channel raises nothing");
    assert_eq!(
        on[1],
        (
            "OUTP ON\n".into(),
            Raise {
                output: true,
                ..Raise::default()
            }
        )
    );
    for order in [
        Order::Identify,
        Order::Prepare,
        Order::Off,
        Order::ClearTrip,
        Order::Release,
        Order::SetOverCurrent(Current::from_a(1.0)),
        Order::SetOverVoltage(Voltage::from_v(1.0)),
        Order::Read(Ask::MEASURED | Ask::ERROR),
    ] {
        for profile in [STANDARD, TWO] {
            assert!(
                sent(profile, order)
                    .iter()
                    .all(|(_, raise)| raise.is_nothing()),
                "{order:?}"
            );
        }
    }
}

#[test]
fn what_cannot_be_said_is_not_sent() {
    let codec = Codec::new(load(STANDARD));
    for order in [
        Order::SetCurrent(Current::from_a(5.001)),
        Order::SetCurrent(Current::from_a(-0.1)),
        Order::SetCurrent(Current::from_a(f64::NAN)),
        Order::SetVoltage(Voltage::from_v(30.5)),
        Order::SetVoltage(Voltage::from_v(f64::INFINITY)),
        Order::SetOverVoltage(Voltage::from_v(-1.0)),
    ] {
        let mut moves: Vec<Move> = Vec::new();
        assert!(codec.plan(order, &mut moves).is_err(), "{order:?}");
        assert!(moves.is_empty(), "{order:?}");
    }
    let bare = load(&STANDARD.replace("set_over_current", "# set_over_current"));
    let refused =
        Codec::new(bare).plan(Order::SetOverCurrent(Current::from_a(1.0)), &mut Vec::new());
    assert!(refused.unwrap_err().0.contains("over-current"));
}

/// A reading from one reply to the question `ask`.
fn read(profile: &str, ask: &str, reply: &[u8]) -> Result<Reading, String> {
    let profile = load(profile);
    let question = profile.questions.iter().find(|q| q.ask == ask).unwrap();
    let mut reading = Reading::default();
    take(question, reply, reply.trim_ascii(), &mut reading).map_err(|e| e.0)?;
    Ok(reading)
}

#[test]
fn one_reply_feeds_several_figures() {
    // The simulated terse supply: `g` gives current d.dddd then voltage dd.ddd; `p` the other way
    // round.
    let set = read(TERSE, "g", b"0.350002.500").unwrap();
    assert_eq!(
        (set.set_current, set.set_voltage),
        (Some(Current::from_a(0.35)), Some(Voltage::from_v(2.5)))
    );
    let guards = read(TERSE, "p", b"02.7003.1000").unwrap();
    assert_eq!(guards.over_voltage, Some(Voltage::from_v(2.7)));
    assert_eq!(guards.over_current, Some(Current::from_a(3.1)));
    assert!(
        read(TERSE, "g", b"0.350002.50").is_err(),
        "a byte is missing"
    );
}

#[test]
fn a_raw_status_byte_is_never_taken_for_text() {
    // Bit 0 output on, bit 1 constant current, bits 2 and 3 tripped, bit 7 always set.
    let on = read(TERSE, "s", &[0x83]).unwrap();
    assert_eq!(
        (on.output, on.mode, on.tripped),
        (Some(true), Some(Mode::ConstantCurrent), Some(false))
    );
    let tripped = read(TERSE, "s", &[0x88]).unwrap();
    assert_eq!((tripped.output, tripped.tripped), (Some(false), Some(true)));
    assert_eq!(
        read(TERSE, "s", &[0x0A]).unwrap().mode,
        Some(Mode::ConstantCurrent)
    );
    assert_eq!(read(TERSE, "s", &[0x00]).unwrap().output, Some(false));
}

#[test]
fn status_bits_of_the_standard_say_the_mode() {
    // SCPI-99 vol. 2 ch. 20: QUEStionable bit 0 VOLTage, bit 1 CURRent; the questionable one is
    // not regulated.
    for (reply, mode) in [
        ("1", Mode::ConstantCurrent),
        ("2", Mode::ConstantVoltage),
        ("+1", Mode::ConstantCurrent),
        ("1.0", Mode::ConstantCurrent),
        ("0", Mode::Unregulated),
        ("3", Mode::Unregulated),
        ("17", Mode::ConstantCurrent),
    ] {
        let reading = read(STANDARD, "STAT:QUES:COND?", reply.as_bytes()).unwrap();
        assert_eq!(reading.mode, Some(mode), "{reply}");
    }
    for bad in ["1.5", "-1", "CC", "9.91E37"] {
        assert!(
            read(STANDARD, "STAT:QUES:COND?", bad.as_bytes()).is_err(),
            "{bad}"
        );
    }
    let output = |reply: &str| read(STANDARD, "OUTP?", reply.as_bytes()).map(|r| r.output);
    assert_eq!(
        (output("1"), output("off"), output("0")),
        (Ok(Some(true)), Ok(Some(false)), Ok(Some(false)))
    );
    assert!(output("2").is_err());
    let nothing = read(STANDARD, "MEAS:CURR?", b"9.91E37").unwrap();
    assert_eq!(nothing.current, None);
}

#[test]
fn replies_end_as_the_profile_says() {
    let codec = Codec::new(load(TERSE));
    let end = |step: &Move| codec.exchange(step).unwrap().end;
    assert_eq!(end(&Move::Hello), ReplyEnd::Count(16));
    let ends: Vec<ReplyEnd> = (0..5).map(|at| end(&Move::Ask(at))).collect();
    let counts = [6, 6, 1, 12, 12].map(ReplyEnd::Count);
    assert_eq!(ends, counts);
}
