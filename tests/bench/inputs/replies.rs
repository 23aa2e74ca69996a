//! What a supply may answer. An input is one reply; the order it belongs to must come to an end,
//! whatever is answered.

use super::die::Die;
use nightvat::exchange::{Ask, Order};
use nightvat::spec::{Shelf, SupplyProfile, open_supply};
use nightvat::supply::link::{Link, Step};
use nightvat::supply::wire::{Outcome, WireFault};
use nightvat::units::{Current, Moment, Span, Voltage};
use std::sync::Arc;

const GOOD: [&[u8]; 14] = [
    b"+1.02600E+00",
    b"0",
    b"1",
    b"0,\"No error\"",
    b"-113,\"Undefined header\"",
    b"NIGHTVAT,SIMULATED-SUPPLY,0,1.0",
    b"1.026",
    b"OK",
    b"12.50",
    b"ON",
    b"CC",
    b"+3.49700E+00",
    b"9.91E37",
    b"0.350\r",
];
/// No order needs more steps than this, however ill it is answered.
const MOST_STEPS: usize = 2000;

/// A link in the middle of an order, and the steps that order has taken.
struct Talk {
    link: Link,
    step: Option<Step>,
    steps: usize,
    now: Moment,
}

pub(crate) fn parser() -> Box<dyn FnMut(&mut Die) -> bool> {
    let shelf = Shelf::disk();
    let names = ["scpi-standard", "scpi-standard-two-channel", "terse-fixed"];
    let talks = names.map(|name| {
        let profile: Arc<SupplyProfile> = open_supply(name, &shelf).expect("a profile").into();
        Talk {
            link: Link::new(profile),
            step: None,
            steps: 0,
            now: Moment::ZERO,
        }
    });
    let mut talks = talks.into_iter().collect::<Vec<_>>();
    Box::new(move |die| {
        let which = die.below(talks.len());
        talks[which].hears_one(die)
    })
}

impl Talk {
    /// One reply; true if it ended an order well.
    fn hears_one(&mut self, die: &mut Die) -> bool {
        loop {
            match self.step.take() {
                None => {
                    self.steps = 0;
                    self.step = Some(self.link.begin(order(die)));
                }
                Some(Step::Answer(answer)) => {
                    if answer.is_err() && die.one_in(4) {
                        self.link.mistrust();
                    }
                    if answer.is_ok() {
                        return true;
                    }
                }
                Some(Step::Rest(span)) => {
                    self.now = self.now + span;
                    self.step = Some(self.link.rested());
                }
                Some(Step::Wire(exchange)) => {
                    self.steps += 1;
                    assert!(self.steps < MOST_STEPS, "an order without an end");
                    let sent = self.now;
                    self.now = self.now + Span::from_ms(20.0);
                    let outcome = Outcome {
                        sent,
                        received: self.now,
                        reply: reply(die, &exchange.send),
                    };
                    self.step = Some(self.link.heard(outcome));
                    return false;
                }
            }
        }
    }
}

fn order(die: &mut Die) -> Order {
    let amps = Current::from_a(die.below(3000) as f64 * 1e-3);
    let volts = Voltage::from_v(die.below(3000) as f64 * 1e-3);
    let orders = [
        Order::Identify,
        Order::Prepare,
        Order::SetCurrent(amps),
        Order::SetVoltage(volts),
        Order::SetOverVoltage(volts),
        Order::On,
        Order::Off,
        Order::Release,
        Order::Read(Ask::MEASURED | Ask::MODE | Ask::BRIEFLY),
        Order::Read(Ask::MEASURED | Ask::OUTPUT | Ask::ERROR | Ask::CHANNEL | Ask::TRIPPED),
    ];
    orders[die.below(orders.len())]
}

/// What the simulated supplies would say, in both dialects.
fn right(asked: &[u8]) -> &'static [u8] {
    let asked = String::from_utf8_lossy(asked);
    let asked = asked.trim_end();
    match asked {
        "*IDN?" => b"NIGHTVAT,SIMULATED-SUPPLY,0,1.0",
        "SYST:ERR?" => b"0,\"No error\"",
        "INST:NSEL?" | "OUTP?" | "STAT:QUES:COND?" => b"1",
        "VOLT:PROT:TRIP?" | "CURR:PROT:TRIP?" => b"0",
        "?" => b"SIM-TERSE-01 V10",
        "c" | "v" => b"1.0000",
        "s" => b"\x43",
        "g" | "p" => b"1.000012.000",
        _ if asked.ends_with('?') => b"+1.02600E+00",
        _ => b"",
    }
}

fn reply(die: &mut Die, asked: &[u8]) -> Result<Vec<u8>, WireFault> {
    if die.one_in(2) {
        return Ok(right(asked).to_vec());
    }
    match die.below(20) {
        0 => Err(WireFault::Silent),
        1 => Err(WireFault::Partial(die.hurt(&GOOD))),
        2 => Err(WireFault::TooLong),
        3 if die.one_in(10) => Err(WireFault::PortLost("gone".to_owned())),
        4..=10 => Ok(die.pick(&GOOD).to_vec()),
        _ => Ok(die.hurt(&GOOD)),
    }
}
