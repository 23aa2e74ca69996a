//! Link transcripts: what is sent, what comes back, and what the link makes of it.

use super::supply_codec::{STANDARD, TERSE, TWO, load};
use nightvat::exchange::{Answer, Ask, Identity, LinkFault, Mode, Order, Reading};
use nightvat::supply::link::{Link, Step};
use nightvat::supply::off::turn_off;
use nightvat::supply::wire::{Exchange, Line, Outcome, WireFault};
use nightvat::units::{Current, Moment, Span, Voltage};
use std::collections::VecDeque;

mockall::mock! {
    Wire {}
    impl Line for Wire {
        fn exchange(&mut self, exchange: &Exchange) -> Outcome;
        fn now(&self) -> Moment;
        fn rest(&mut self, span: Span);
    }
}

/// A line that answers from a list and holds every message against it. Every exchange takes 20 ms.
#[derive(Default)]
pub(crate) struct Script {
    lines: VecDeque<(&'static str, Result<Vec<u8>, WireFault>)>,
    now: Span,
    pub(crate) rested: Span,
}

impl Script {
    pub(crate) fn new(lines: &[(&'static str, &str)]) -> Self {
        let mut script = Self::default();
        for (send, reply) in lines {
            script.then(send, Ok(reply.as_bytes().to_vec()));
        }
        script
    }

    pub(crate) fn then(&mut self, send: &'static str, reply: Result<Vec<u8>, WireFault>) {
        self.lines.push_back((send, reply));
    }

    fn moment(&self) -> Moment {
        Moment::ZERO + self.now
    }

    /// True if everything in the list was sent.
    pub(crate) fn is_spent(&self) -> bool {
        self.lines.is_empty()
    }
}

impl Line for Script {
    fn exchange(&mut self, exchange: &Exchange) -> Outcome {
        let said = String::from_utf8(exchange.send.clone()).unwrap();
        let (send, reply) = self
            .lines
            .pop_front()
            .unwrap_or_else(|| panic!("unexpected {said:?}"));
        assert_eq!(said.trim_end(), send);
        let sent = self.moment();
        self.now += Span::from_ms(20.0);
        Outcome {
            sent,
            received: self.moment(),
            reply,
        }
    }

    fn now(&self) -> Moment {
        self.moment()
    }

    fn rest(&mut self, span: Span) {
        self.now += span;
        self.rested += span;
    }
}

pub(crate) const WHO: (&str, &str) = ("*IDN?", "SIM,BENCH-1,0,1.0");
pub(crate) const NONE: (&str, &str) = ("SYST:ERR?", "0,\"No error\"");

/// A link that has met its supply.
pub(crate) fn met(profile: &str) -> Link {
    let mut link = Link::new(load(profile));
    let (ask, who) = if profile == TERSE {
        ("?", "SIM-TERSE-01 V10")
    } else {
        WHO
    };
    let mut script = Script::new(&[(ask, who)]);
    let answer = link.carry(Order::Identify, &mut script);
    assert_eq!(answer, Ok(Answer::Identity(Identity(who.to_owned()))));
    link
}

fn amps(reading: &Reading) -> f64 {
    reading.current.expect("a current").a()
}

#[test]
fn a_period_takes_two_exchanges_and_knows_its_times() {
    let mut link = met(STANDARD);
    let mut line = Script::new(&[("MEAS:CURR?", "3.500E-01"), ("MEAS:VOLT?", "+1.204")]);
    let reading = link.read(Ask::MEASURED, &mut line).unwrap();
    assert_eq!(
        (amps(&reading), reading.voltage),
        (0.35, Some(Voltage::from_v(1.204)))
    );
    assert_eq!(reading.sent, Moment::ZERO);
    assert_eq!(
        reading.received,
        Moment::from_s(0.02),
        "of the current query, not of the whole order"
    );
    assert!(line.is_spent());
}

#[test]
fn everything_can_be_asked_in_one_order() {
    let mut link = met(STANDARD);
    let all =
        Ask::MEASURED | Ask::OUTPUT | Ask::MODE | Ask::TRIPPED | Ask::SET_CURRENT | Ask::ERROR;
    let mut line = Script::new(&[
        ("MEAS:CURR?", "0.35"),
        ("MEAS:VOLT?", "9.91E37"),
        ("OUTP?", "1"),
        ("STAT:QUES:COND?", "1"),
        ("CURR?", "0.350"),
        ("VOLT:PROT:TRIP?", "1"),
        ("CURR:PROT:TRIP?", "0"),
        ("SYST:ERR?", "-222,\"Data out of range\""),
    ]);
    let reading = link.read(all, &mut line).unwrap();
    assert_eq!(reading.voltage, None, "no reading is no figure");
    assert_eq!(
        (reading.output, reading.mode),
        (Some(true), Some(Mode::ConstantCurrent))
    );
    assert_eq!(reading.tripped, Some(true), "any of the two counts");
    assert_eq!(reading.set_current, Some(Current::from_a(0.35)));
    assert_eq!(reading.error.unwrap().code, -222);
    assert!(line.is_spent());
}

#[test]
fn a_late_reply_is_never_taken_for_the_next_one() {
    let mut link = met(STANDARD);
    let mut line = Script::default();
    line.then("MEAS:CURR?", Err(WireFault::Silent));
    // Replies come in the order of the questions: after the identity nothing older is under way.
    line.then("*IDN?", Ok(WHO.1.into()));
    line.then("MEAS:CURR?", Ok(b"0.351".to_vec()));
    line.then("MEAS:VOLT?", Ok(b"1.2".to_vec()));
    let reading = link.read(Ask::MEASURED, &mut line).unwrap();
    assert_eq!(
        (amps(&reading), reading.voltage),
        (0.351, Some(Voltage::from_v(1.2)))
    );
    assert_eq!(line.rested, Span::ZERO, "nothing is waited for");
    assert!(line.is_spent());
}

#[test]
fn a_late_reply_to_the_identity_question_does_not_pass() {
    let mut link = met(STANDARD);
    let mut line = Script::default();
    line.then("MEAS:CURR?", Err(WireFault::Silent));
    line.then("*IDN?", Ok(b"0.35".to_vec()));
    line.then("*IDN?", Ok(WHO.1.into()));
    line.then("MEAS:CURR?", Ok(b"0.35".to_vec()));
    assert_eq!(amps(&link.read(Ask::CURRENT, &mut line).unwrap()), 0.35);
    assert_eq!(
        line.rested,
        link.profile().longest_exchange() - Span::from_ms(20.0),
        "silent as long as the reply to the identity question can be late"
    );
    assert!(line.is_spent());
}

#[test]
fn a_period_in_trouble_does_without_its_extra_question() {
    let mut link = met(STANDARD);
    let mut line = Script::new(&[("MEAS:CURR?", "0.35")]);
    line.then("SYST:ERR?", Err(WireFault::Silent));
    let briefly = Ask::CURRENT | Ask::ERROR | Ask::BRIEFLY;
    let reading = link.read(briefly, &mut line).unwrap();
    assert_eq!((amps(&reading), reading.error), (0.35, None));
    assert!(line.is_spent());

    // Whoever must know is not told of half the answer; and the next order meets the supply first.
    let mut line = Script::new(&[WHO, ("MEAS:CURR?", "0.36")]);
    line.then("SYST:ERR?", Err(WireFault::Silent));
    for (send, reply) in [WHO, ("SYST:ERR?", "-222,\"Data out of range\"")] {
        line.then(send, Ok(reply.into()));
    }
    let reading = link.read(Ask::CURRENT | Ask::ERROR, &mut line).unwrap();
    assert_eq!(reading.error.map(|error| error.code), Some(-222));
    assert!(line.is_spent());
}

#[test]
fn off_that_a_front_panel_forbids_is_insisted_on_once() {
    let no = ("SYST:ERR?", "-201,\"Invalid while in local\"");
    let mut link = met(STANDARD);
    let mut line = Script::new(&[OFF, no, NONE, TAKEN, CLEARED, OFF, NONE]);
    assert!(link.carry(Order::Off, &mut line).is_ok());
    assert!(line.is_spent());
    let mut line = Script::new(&[OFF, no, NONE, TAKEN, CLEARED, OFF, no, NONE]);
    let answer = link.carry(Order::Off, &mut line);
    assert!(matches!(answer, Err(LinkFault::Refused(_))), "{answer:?}");
    assert!(line.is_spent());

    // The keeper asks for no errors: a current that flows on tells it.
    let on = [("MEAS:CURR?", "0.35"), ("OUTP?", "1")];
    let off = [("MEAS:CURR?", "0"), ("OUTP?", "0")];
    let script = [&[OFF][..], &on, &[TAKEN, CLEARED, OFF], &off, &off].concat();
    let mut line = Script::new(&script);
    assert!(turn_off(&mut link, &mut line).confirmed);
    assert!(line.is_spent());
}

#[test]
fn half_replies_garbage_and_two_numbers_are_asked_again() {
    for fault in [
        Err(WireFault::Partial(b"0.3".to_vec())),
        Err(WireFault::TooLong),
        Ok(b"0.3\xff\xfe".to_vec()),
        Ok(b"0.35,1.2".to_vec()),
        Ok(b"MEAS:CURR?".to_vec()),
        Ok(Vec::new()),
    ] {
        let mut link = met(STANDARD);
        let mut line = Script::default();
        line.then("MEAS:CURR?", fault.clone());
        line.then("*IDN?", Ok(WHO.1.into()));
        line.then("MEAS:CURR?", Ok(b"0.35".to_vec()));
        assert_eq!(
            amps(&link.read(Ask::CURRENT, &mut line).unwrap()),
            0.35,
            "{fault:?}"
        );
        assert!(line.is_spent());
    }
}

#[test]
fn nuls_and_blanks_around_a_reply_do_no_harm() {
    let mut link = met(STANDARD);
    let mut line = Script::new(&[("MEAS:CURR?", "\0 0.35\0\0"), ("MEAS:CURR?", "\0\r 0.36")]);
    assert_eq!(amps(&link.read(Ask::CURRENT, &mut line).unwrap()), 0.35);
    assert_eq!(amps(&link.read(Ask::CURRENT, &mut line).unwrap()), 0.36);
}

#[test]
fn retries_are_bounded_and_the_last_fault_is_told() {
    let mut link = met(STANDARD);
    let mut line = Script::default();
    line.then("MEAS:CURR?", Err(WireFault::Silent));
    for _ in 0..3 {
        line.then("*IDN?", Ok(WHO.1.into()));
        line.then("MEAS:CURR?", Ok(b"????".to_vec()));
    }
    assert_eq!(
        link.read(Ask::CURRENT, &mut line),
        Err(LinkFault::Garbled("????".into()))
    );
    assert!(line.is_spent());

    let mut dead = Script::default();
    for _ in 0..3 {
        dead.then("*IDN?", Err(WireFault::Silent));
    }
    assert_eq!(
        link.read(Ask::CURRENT, &mut dead),
        Err(LinkFault::Silent),
        "it meets again first"
    );
    assert!(dead.is_spent());
}

#[test]
fn another_supply_is_a_stranger_and_rubbish_is_not() {
    let narrow = STANDARD.replace("match = [\"*,*,*,*\"]", "match = [\"SIM,BENCH-?,*\"]");
    let mut link = Link::new(load(&narrow));
    let mut line = Script::new(&[("*IDN?", "OTHER,X,1,2"), ("*IDN?", "OTHER,X,1,2")]);
    let answer = link.carry(Order::Identify, &mut line);
    assert_eq!(answer, Err(LinkFault::Stranger("OTHER,X,1,2".into())));

    let mut link = Link::new(load(&narrow));
    let mut line = Script::new(&[
        ("*IDN?", "0.35"),
        ("*IDN?", "0.35"),
        ("*IDN?", "1"),
        ("*IDN?", "2"),
    ]);
    assert_eq!(
        link.carry(Order::Identify, &mut line),
        Err(LinkFault::Garbled("2".into()))
    );
    assert!(line.is_spent());
}

#[test]
fn a_supply_changed_behind_the_same_port_is_a_stranger() {
    let mut link = met(STANDARD);
    link.mistrust();
    let mut line = Script::new(&[
        ("*IDN?", "SIM,BENCH-2,0,1.0"),
        ("*IDN?", "SIM,BENCH-2,0,1.0"),
    ]);
    let answer = link.carry(Order::On, &mut line);
    assert_eq!(answer, Err(LinkFault::Stranger("SIM,BENCH-2,0,1.0".into())));
    assert!(line.is_spent(), "and nothing was turned on");
}

#[test]
fn a_command_is_checked_and_a_refusal_is_told() {
    let mut link = met(STANDARD);
    let mut line = Script::new(&[("CURR 0.350", ""), NONE]);
    let order = Order::SetCurrent(Current::from_a(0.35));
    let answer = link.carry(order, &mut line);
    assert_eq!(
        answer,
        Ok(Answer::Done {
            sent: Moment::ZERO,
            received: Moment::from_s(0.04)
        })
    );

    // SCPI-99 vol. 2 §21.8.10: -222 data out of range. The queue is emptied, so that the next
    // command is not blamed.
    let refusal = ("SYST:ERR?", "-222,\"Data out of range;CURR\"");
    let mut line = Script::new(&[
        ("CURR 0.350", ""),
        refusal,
        ("SYST:ERR?", "-100,\"Command error\""),
        NONE,
    ]);
    match link.carry(order, &mut line) {
        Err(LinkFault::Refused(error)) => assert_eq!(error.code, -222),
        other => panic!("{other:?}"),
    }
    assert!(line.is_spent());
}

#[test]
fn events_in_the_queue_are_no_refusal() {
    let mut link = met(STANDARD);
    // §21.8.12: -800 operation complete, -600 user request: they tell of something, nothing is
    // wrong.
    let mut line = Script::new(&[
        ("OUTP ON", ""),
        ("SYST:ERR?", "-800,\"Operation complete\""),
        ("SYST:ERR?", "-600,\"User request\""),
        NONE,
        ("SYST:ERR?", "-800,\"Operation complete\""),
        NONE,
    ]);
    assert!(link.carry(Order::On, &mut line).is_ok());
    assert_eq!(link.read(Ask::ERROR, &mut line).unwrap().error, None);
    assert!(line.is_spent());
}

#[test]
fn a_command_hurt_by_the_line_goes_again() {
    let mut link = met(STANDARD);
    // §21.8.11: -363 input buffer overrun: the supply lost characters.
    let overrun = ("SYST:ERR?", "-363,\"Input buffer overrun\"");
    let mut line = Script::new(&[
        ("CURR 0.350", ""),
        overrun,
        NONE,
        WHO,
        ("CURR 0.350", ""),
        NONE,
    ]);
    assert!(
        link.carry(Order::SetCurrent(Current::from_a(0.35)), &mut line)
            .is_ok()
    );
    assert!(line.is_spent());

    // A lost reply to the check may have held a refusal: the command goes again, it sets and does
    // not step.
    let mut line = Script::new(&[("CURR 0.350", "")]);
    line.then("SYST:ERR?", Err(WireFault::Silent));
    for (send, reply) in [WHO, ("CURR 0.350", ""), NONE] {
        line.then(send, Ok(reply.into()));
    }
    assert!(
        link.carry(Order::SetCurrent(Current::from_a(0.35)), &mut line)
            .is_ok()
    );
    assert!(line.is_spent());
}

#[test]
fn a_token_acknowledges_where_the_dialect_has_one() {
    let token = "by = \"token\"\nyes = \"OK\"\nno = \"ERR\"";
    let profile = STANDARD.replace("by = \"error-queue\"", token);
    let mut link = Link::new(load(&profile));
    let mut line = Script::new(&[
        WHO,
        ("OUTP ON", "OK"),
        ("OUTP OFF", "ERROR 7"),
        ("SYST:REM", "OK"),
        ("*CLS", "OK"),
        ("OUTP OFF", "ERROR 7"),
    ]);
    assert!(link.carry(Order::Identify, &mut line).is_ok());
    assert!(link.carry(Order::On, &mut line).is_ok());
    match link.carry(Order::Off, &mut line) {
        Err(LinkFault::Refused(error)) => assert_eq!(error.text, "ERROR 7"),
        other => panic!("{other:?}"),
    }
}

#[test]
fn an_echo_is_taken_off_where_the_dialect_echoes() {
    let profile = STANDARD
        .replace(
            "reply_end = \"\\r\\n\"",
            "reply_quiet = \"50 ms\"\necho = true",
        )
        .replace("by = \"error-queue\"", "by = \"nothing\"");
    let mut link = Link::new(load(&profile));
    let mut line = Script::new(&[
        ("*IDN?", "*IDN?\r\nSIM,BENCH-1,0,1.0\r\n"),
        ("OUTP ON", "OUTP ON\r\n"),
        ("MEAS:CURR?", "MEAS:CURR?\r\n0.35\r\n"),
    ]);
    assert!(link.carry(Order::Identify, &mut line).is_ok());
    assert!(link.carry(Order::On, &mut line).is_ok());
    assert_eq!(amps(&link.read(Ask::CURRENT, &mut line).unwrap()), 0.35);
    assert_eq!(link.identity(), Some(WHO.1));
}

#[test]
fn the_port_gone_is_told_at_once_and_the_way_back_comes_first() {
    let mut link = met(STANDARD);
    let mut line = Script::default();
    line.then("MEAS:CURR?", Err(WireFault::PortLost("unplugged".into())));
    assert_eq!(
        link.read(Ask::CURRENT, &mut line),
        Err(LinkFault::PortLost("unplugged".into()))
    );
    let mut line = Script::new(&[WHO, ("OUTP ON", ""), NONE]);
    assert!(link.carry(Order::On, &mut line).is_ok());
    assert!(line.is_spent(), "identity before anything that raises");

    let mut line = Script::default();
    line.then("OUTP ON", Err(WireFault::Forbidden("not armed".into())));
    assert_eq!(
        link.carry(Order::On, &mut line),
        Err(LinkFault::Forbidden("not armed".into()))
    );
    assert!(!link.is_doubtful(), "nothing was sent");
}

#[test]
fn off_goes_first_whatever_the_doubt() {
    let mut link = met(STANDARD);
    link.mistrust();
    let mut line = Script::new(&[("OUTP OFF", ""), NONE]);
    assert!(link.carry(Order::Off, &mut line).is_ok());
    assert!(line.is_spent());
    assert!(link.is_doubtful(), "but it cures nothing");
}

const OFF: (&str, &str) = ("OUTP OFF", "");
/// The supply is taken over from its front panel before off is insisted on.
const TAKEN: (&str, &str) = ("SYST:REM", "");
const CLEARED: (&str, &str) = ("*CLS", "");

#[test]
fn off_is_proved_by_state_and_current_twice() {
    let mut link = met(STANDARD);
    let off = [("MEAS:CURR?", "0.002"), ("OUTP?", "0")];
    let mut line = Script::new(&[OFF, off[0], off[1], off[0], off[1]]);
    let report = turn_off(&mut link, &mut line);
    assert!(report.confirmed && line.is_spent(), "{report:?}");
    assert_eq!(report.rounds, 1);
    assert!(
        (report.took.s() - 0.2).abs() < 1e-6,
        "five exchanges of 20 ms and 100 ms to settle"
    );
}

#[test]
fn off_without_its_proof_is_never_confirmed() {
    for (current, state, word) in [
        ("0.350", "0", "0.350 A flow"),
        ("0.000", "1", "output is on"),
        ("9.91E37", "0", "no reading"),
    ] {
        let mut link = met(STANDARD);
        let round = [OFF, ("MEAS:CURR?", current), ("OUTP?", state)];
        let again = [&[TAKEN, CLEARED][..], &round].concat();
        let mut line = Script::new(&[&round[..], &again, &again].concat());
        let report = turn_off(&mut link, &mut line);
        assert!(!report.confirmed && line.is_spent(), "{report:?}");
        assert_eq!(report.rounds, 3);
        assert!(
            report.text().starts_with("OUTPUT NOT CONFIRMED OFF"),
            "{}",
            report.text()
        );
        assert!(report.text().contains(word), "{}", report.text());
    }
}

#[test]
fn one_reading_that_disagrees_begins_another_round() {
    let mut link = met(STANDARD);
    let (on, off) = (
        [("MEAS:CURR?", "0.35"), ("OUTP?", "0")],
        [("MEAS:CURR?", "0"), ("OUTP?", "0")],
    );
    let script = [&[OFF][..], &off, &on, &[TAKEN, CLEARED, OFF], &off, &off].concat();
    let mut line = Script::new(&script);
    let report = turn_off(&mut link, &mut line);
    assert!(report.confirmed && line.is_spent(), "{report:?}");
    assert_eq!(report.rounds, 2);
}

#[test]
fn the_proof_is_read_only_after_the_way_back_and_off_goes_out_again_on_it() {
    let mut link = met(STANDARD);
    link.mistrust();
    let off = [("MEAS:CURR?", "-0.001"), ("OUTP?", "0")];
    let mut line = Script::new(&[OFF, OFF, WHO, off[0], off[1], off[0], off[1]]);
    assert!(turn_off(&mut link, &mut line).confirmed);
    assert!(line.is_spent());
}

#[test]
fn a_dead_line_gets_off_again_and_again() {
    let mut link = met(STANDARD);
    let mut line = Script::default();
    for round in 0..3 {
        line.then("OUTP OFF", Ok(Vec::new()));
        if round == 0 {
            line.then("MEAS:CURR?", Err(WireFault::Silent));
        }
        for hello in 0..3 {
            if round > 0 || hello > 0 {
                line.then("OUTP OFF", Ok(Vec::new()));
            }
            line.then("*IDN?", Err(WireFault::Silent));
        }
    }
    let report = turn_off(&mut link, &mut line);
    assert!(line.is_spent());
    assert_eq!(
        (report.confirmed, report.fault),
        (false, Some(LinkFault::Silent))
    );
}

#[test]
fn the_terse_supply_is_turned_off_by_its_own_bytes() {
    let mut link = met(TERSE);
    let mut line = Script::default();
    line.then("X0", Ok(Vec::new()));
    for _ in 0..2 {
        line.then("c", Ok(b"0.0000".to_vec()));
        line.then("s", Ok(vec![0x80]));
    }
    assert!(turn_off(&mut link, &mut line).confirmed);
    assert!(line.is_spent());
}

#[test]
fn a_channel_is_selected_before_every_order() {
    let mut link = met(TWO);
    let select = ("INST:NSEL 1", "");
    let mut line = Script::new(&[select, ("OUTP OFF", ""), NONE, select, ("MEAS:CURR?", "0")]);
    assert!(link.carry(Order::Off, &mut line).is_ok());
    assert!(link.read(Ask::CURRENT, &mut line).is_ok());
    assert!(line.is_spent());
}

#[test]
fn what_cannot_be_said_never_reaches_the_wire() {
    let mut wire = MockWire::new();
    wire.expect_exchange().never();
    wire.expect_rest().never();
    let mut link = met(STANDARD);
    let answer = link.carry(Order::SetCurrent(Current::from_a(99.0)), &mut wire);
    assert!(matches!(answer, Err(LinkFault::Forbidden(_))), "{answer:?}");
    let mut link = met(TERSE);
    assert!(matches!(
        link.carry(Order::Prepare, &mut wire),
        Ok(Answer::Done { .. })
    ));
}

#[test]
fn an_order_can_be_dropped_for_off_between_exchanges() {
    let mut link = met(STANDARD);
    let Step::Wire(first) = link.begin(Order::Read(Ask::MEASURED)) else {
        panic!("a query first")
    };
    assert_eq!(first.send, b"MEAS:CURR?\n");
    let busy = link.begin(Order::Off);
    assert!(
        matches!(busy, Step::Answer(Err(LinkFault::Forbidden(_)))),
        "one at a time"
    );
    let at = Moment::ZERO;
    let _voltage = link.heard(Outcome {
        sent: at,
        received: at,
        reply: Ok(b"0.35".to_vec()),
    });
    link.abandon();
    let Step::Wire(off) = link.begin(Order::Off) else {
        panic!("off at once")
    };
    assert_eq!(off.send, b"OUTP OFF\n");
}

#[test]
fn a_port_that_comes_and_goes_never_keeps_off_itself_from_being_said() {
    let gone = || Err(WireFault::PortLost("unplugged".into()));
    let mut link = met(TWO);
    let mut line = Script::default();
    line.then("INST:NSEL 1", gone());
    line.then("OUTP OFF", Ok(Vec::new()));
    line.then("SYST:ERR?", Ok(b"0,\"No error\"".to_vec()));
    // Said, and not done: it may have been the other output's.
    let told = link.carry(Order::Off, &mut line);
    assert_eq!(told, Err(LinkFault::PortLost("unplugged".into())));
    assert!(line.is_spent());
    // What raises stops at the first word that is lost.
    let mut link = met(TWO);
    let mut line = Script::default();
    line.then("INST:NSEL 1", gone());
    let told = link.carry(Order::On, &mut line);
    assert_eq!(told, Err(LinkFault::PortLost("unplugged".into())));
    assert!(line.is_spent());
}
