//! The edges of what a line says and of what a dialect can: the largest current, a supply that tells
//! half of its mode, a queue that never ends, and what a period in trouble may leave out.

use super::supply_codec::{STANDARD, load};
use super::supply_link::{NONE, Script, WHO, met};
use nightvat::exchange::{Answer, Ask, LinkFault, Mode, Order};
use nightvat::supply::codec::{Codec, Verdict};
use nightvat::supply::link::{Link, Step};
use nightvat::supply::wire::{Exchange, Line, Outcome, WireFault};
use nightvat::units::{Current, Moment, Span, Voltage};

/// 5 A is what the supply is rated for, whatever dust the figure carries.
#[test]
fn the_rating_itself_can_be_said() {
    let codec = Codec::new(load(STANDARD));
    for (amps, said) in [
        (5.0, true),
        (4.999_999_999, true),
        (5.0 + 1e-12, true),
        (5.0 + 1e-6, false),
    ] {
        let order = Order::SetCurrent(Current::from_a(amps));
        let plan = codec.plan(order, &mut Vec::new());
        assert_eq!(plan.is_ok(), said, "{amps} A");
    }
}

/// SCPI-99 vol. 2 §21.8.10: -200 is the generic execution error.
#[test]
fn a_token_of_refusal_is_the_generic_error() {
    let token = "by = \"token\"\nyes = \"OK\"\nno = \"ERR\"";
    let codec = Codec::new(load(&STANDARD.replace("by = \"error-queue\"", token)));
    match codec.verdict(b"ERROR 7") {
        Verdict::Refused(error) => assert_eq!((error.code, &*error.text), (-200, "ERROR 7")),
        other => panic!("{other:?}"),
    }
}

/// A supply that has one bit of its mode: what is not the one is the other.
#[test]
fn one_bit_of_the_mode_tells_both() {
    for (bit, set, clear) in [
        (
            "constant_voltage_bit = 1",
            Mode::ConstantVoltage,
            Mode::ConstantCurrent,
        ),
        (
            "constant_current_bit = 1",
            Mode::ConstantCurrent,
            Mode::ConstantVoltage,
        ),
    ] {
        let both = "constant_current_bit = 0, constant_voltage_bit = 1";
        let mut link = met(&STANDARD.replace(both, bit));
        let mut line = Script::new(&[("STAT:QUES:COND?", "2"), ("STAT:QUES:COND?", "0")]);
        for mode in [set, clear] {
            let reading = link.read(Ask::MODE, &mut line).unwrap();
            assert_eq!(reading.mode, Some(mode), "{bit}");
        }
    }
}

/// A supply that tells its current in milliamperes.
#[test]
fn figures_are_scaled_as_the_profile_says() {
    let profile = STANDARD.replacen(
        "current = { unit = \"A\" }",
        "current = { unit = \"mA\", scale = 0.001 }",
        1,
    );
    let mut link = met(&profile);
    let mut line = Script::new(&[("MEAS:CURR?", "350 mA")]);
    let reading = link.read(Ask::CURRENT, &mut line).unwrap();
    assert!((reading.current.unwrap().ma() - 350.0).abs() < 1e-9);
}

/// What the loop needs each period is never left out: only what was asked besides.
#[test]
fn a_period_in_trouble_does_not_do_without_its_voltage() {
    let mut link = met(STANDARD);
    let mut line = Script::new(&[("MEAS:CURR?", "0.35")]);
    line.then("MEAS:VOLT?", Err(WireFault::Silent));
    for (send, reply) in [WHO, ("MEAS:VOLT?", "1.2"), NONE] {
        line.then(send, Ok(reply.into()));
    }
    let briefly = Ask::MEASURED | Ask::ERROR | Ask::BRIEFLY;
    let reading = link.read(briefly, &mut line).unwrap();
    assert_eq!(reading.voltage, Some(Voltage::from_v(1.2)));
    assert!(line.is_spent());
}

/// One extra question that is lost does not take the others with it.
#[test]
fn one_extra_question_is_left_out_and_not_all() {
    let mut link = met(STANDARD);
    let mut line = Script::new(&[("MEAS:CURR?", "0.35")]);
    line.then("OUTP?", Err(WireFault::Silent));
    for (send, reply) in [WHO, ("SYST:ERR?", "-222,\"Data out of range\"")] {
        line.then(send, Ok(reply.into()));
    }
    let briefly = Ask::CURRENT | Ask::OUTPUT | Ask::ERROR | Ask::BRIEFLY;
    let reading = link.read(briefly, &mut line).unwrap();
    assert_eq!(reading.output, None);
    assert_eq!(reading.error.map(|error| error.code), Some(-222));
    assert!(line.is_spent());
}

/// When the first message of an order left is known as long as the order is under way.
#[test]
fn an_order_under_way_knows_when_it_began() {
    let mut link = met(STANDARD);
    assert_eq!(link.since(), None);
    let order = Order::SetCurrent(Current::from_a(0.35));
    assert!(matches!(link.begin(order), Step::Wire(_)));
    assert_eq!(link.since(), None, "nothing was heard of it yet");
    let step = link.heard(Outcome {
        sent: Moment::from_s(1.0),
        received: Moment::from_s(1.02),
        reply: Ok(Vec::new()),
    });
    assert!(matches!(step, Step::Wire(_)), "the error queue comes next");
    assert_eq!(link.since(), Some(Moment::from_s(1.0)));
}

/// A port that is gone swallows nothing: what may still be under way from before it went is waited
/// for once, and looking for the port in vain adds nothing to that.
#[test]
fn a_port_that_stays_gone_adds_no_silence() {
    let gone = || Err(WireFault::PortLost("it is not there".into()));
    let mut link = met(STANDARD);
    link.mistrust();
    let mut line = Script::default();
    // The identity question may have left: its reply can be late.
    line.then(WHO.0, gone());
    assert!(link.read(Ask::CURRENT, &mut line).is_err());
    let first = line.rested;
    line.then(WHO.0, gone());
    assert!(link.read(Ask::CURRENT, &mut line).is_err());
    let second = line.rested;
    assert!(second > first, "that reply is waited for");
    for (send, reply) in [WHO, ("MEAS:CURR?", "0.35")] {
        line.then(send, Ok(reply.into()));
    }
    assert!(link.read(Ask::CURRENT, &mut line).is_ok());
    assert_eq!(line.rested, second, "and nothing more");
}

/// A queue that repeats itself for ever, and a count of how often it was asked.
struct Endless {
    says: &'static str,
    asked: u32,
    now: Moment,
}

impl Line for Endless {
    fn exchange(&mut self, exchange: &Exchange) -> Outcome {
        let asks = exchange.send.starts_with(b"SYST:ERR?");
        self.asked += u32::from(asks);
        assert!(self.asked < 1000, "it goes on asking");
        let sent = self.now;
        self.now = self.now + Span::from_ms(20.0);
        let reply = if asks { self.says } else { "" };
        Outcome {
            sent,
            received: self.now,
            reply: Ok(reply.into()),
        }
    }

    fn now(&self) -> Moment {
        self.now
    }

    fn rest(&mut self, span: Span) {
        self.now = self.now + span;
    }
}

/// No queue is longer than 64 entries: it is read so often, whatever it says, and once more where
/// all of them were events, to see whether that was the last.
#[test]
fn a_queue_without_an_end_is_given_up() {
    for (says, times) in [
        ("-800,\"Operation complete\"", 65),
        ("-222,\"Data out of range\"", 64),
    ] {
        let mut link: Link = met(STANDARD);
        let mut line = Endless {
            says,
            asked: 0,
            now: Moment::ZERO,
        };
        let answer: Result<Answer, LinkFault> = link.carry(Order::On, &mut line);
        assert!(matches!(answer, Err(LinkFault::Refused(_))), "{answer:?}");
        assert_eq!(line.asked, times, "{says}");
    }
}
