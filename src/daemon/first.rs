//! The first thing a daemon does with its supply: output off, read back. Done over whole exchanges,
//! so that a keeper that finds nobody there may leave again; only where a doubt stands is it told
//! never to give up.

use super::hand::{Hand, Heard, Sent};
use super::inbox::Message;
use super::refusal::{NO_SUPPLY, NOT_CONFIRMED_OFF, REFUSED, Refusal};
use super::standing::Standing;
use crate::supply::clock::Clock;
use crate::supply::keeper::{HireError, Report};
use crate::supply::link::Link;
use crate::supply::off::{OffReport, turn_off};
use crate::supply::wire::{Exchange, Line, Outcome, WireFault};
use crate::units::{Moment, Span};
use std::sync::Arc;
use std::sync::mpsc::Receiver;
use std::time::{Duration, Instant};

/// A keeper may have to wait for the last one to let go of the port.
const HIRED_WITHIN: Duration = Duration::from_secs(20);
/// So much longer than an exchange can take the keeper may stay silent.
const SILENCE: Duration = Duration::from_secs(2);

/// What the first look found.
#[derive(Debug)]
pub(super) struct FirstLook {
    /// What came of turning off.
    pub(super) report: OffReport,
    /// Who the supply says it is.
    pub(super) identity: Option<String>,
}

/// Hires the first keeper, turns the output off and proves it. With a doubt, an off that is not
/// proved is left to the keeper, which never gives up, and the daemon stays.
pub(super) fn first_look(
    hand: &mut Hand,
    inbox: &Receiver<Message>,
    standing: &Standing,
    doubt: bool,
) -> Result<FirstLook, Refusal> {
    hire(hand, inbox, doubt).map_err(|refusal| refusal.at(&standing.station.port))?;
    let longest = standing
        .clock
        .patience(standing.capability.longest_exchange);
    let clock = standing.clock;
    let mut line = Kept {
        hand,
        inbox,
        clock,
        patience: longest + SILENCE,
        ended: false,
    };
    let mut link = Link::new(Arc::clone(&standing.profile));
    let report = turn_off(&mut link, &mut line);
    let ended = line.ended;
    let identity = link.identity().map(str::to_owned);
    let flows = report
        .reading
        .as_ref()
        .is_some_and(|reading| reading.output != Some(false));
    if !report.confirmed && (doubt || flows) {
        hand.off();
    }
    if ended {
        return Err(if report.confirmed || !(doubt || flows) {
            Refusal::new(
                REFUSED,
                "ended",
                "the daemon was asked to end before it had begun",
            )
        } else {
            unproved(&report.text())
        });
    }
    if report.confirmed && doubt {
        // Read by itself, it is no longer what the keeper before left behind.
        hand.disarm();
    }
    if report.confirmed || doubt {
        return Ok(FirstLook { report, identity });
    }
    // Nothing was on as far as anybody knows: the trouble is the supply's silence, not its output.
    let refusal = match &report.fault {
        Some(fault) if !flows => Refusal::from(fault),
        Some(_) | None if flows => unproved(&report.text()),
        Some(_) | None => not_taken_up("no-supply", &report.text()),
    };
    Err(refusal.at(&standing.station.port))
}

fn hire(hand: &mut Hand, inbox: &Receiver<Message>, doubt: bool) -> Result<(), Refusal> {
    hand.hire();
    let until = Instant::now() + HIRED_WITHIN;
    loop {
        match inbox.recv_timeout(until.saturating_duration_since(Instant::now())) {
            Ok(Message::Keeper(_, heard)) => match *heard {
                Heard::Hired(Ok(hired)) => {
                    hand.fill(hired);
                    return Ok(());
                }
                Heard::Hired(Err(fault)) => return Err(not_hired(&fault, doubt)),
                Heard::Said(_) => {}
            },
            Ok(Message::Signal(_)) if !doubt => {
                let text = "the daemon was asked to end before it had begun";
                return Err(Refusal::new(REFUSED, "ended", text));
            }
            Ok(
                Message::Ledger(_)
                | Message::Asked(..)
                | Message::Sensed(_)
                | Message::Told(_)
                | Message::Signal(_),
            ) => {}
            Err(_) if doubt => return Err(unproved("the keeper does not answer")),
            Err(_) => return Err(not_taken_up("keeper-lost", "the keeper does not answer")),
        }
    }
}

/// No keeper: the port is not there, or somebody else has it.
fn not_hired(fault: &HireError, doubt: bool) -> Refusal {
    if doubt {
        return unproved(&fault.to_string());
    }
    match fault {
        HireError::Port(fault) => {
            let text = format!("{fault}; nothing was energised");
            Refusal::new(NO_SUPPLY, fault.code(), text).remedy(fault.remedy())
        }
        HireError::NotStarted(_) | HireError::Died(_) => {
            not_taken_up("keeper-lost", &fault.to_string())
        }
    }
}

fn unproved(text: &str) -> Refusal {
    Refusal::new(NOT_CONFIRMED_OFF, "unconfirmed", text)
        .remedy("turn the supply off by hand, then look at its cable and port")
}

fn not_taken_up(code: &str, text: &str) -> Refusal {
    let text = format!("{text}; nothing was energised");
    Refusal::new(NO_SUPPLY, code, text)
        .remedy("look at the supply, its cable and its settings; `nightvat supply probe` asks it")
}

/// The keeper as a plain line, while nothing else happens.
struct Kept<'a> {
    hand: &'a mut Hand,
    inbox: &'a Receiver<Message>,
    clock: Clock,
    patience: Duration,
    /// The system has asked the process to end.
    ended: bool,
}

impl Kept<'_> {
    fn outcome(&mut self) -> Result<Outcome, WireFault> {
        let until = Instant::now() + self.patience;
        loop {
            let left = until.saturating_duration_since(Instant::now());
            match self.inbox.recv_timeout(left) {
                Ok(Message::Keeper(_, heard)) => match *heard {
                    Heard::Said(Report::Exchanged { id, outcome }) => {
                        if let Some(outcome) = self.hand.outcome(id, outcome) {
                            return Ok(outcome);
                        }
                    }
                    Heard::Said(Report::Gone(_)) => return Err(WireFault::KeeperLost),
                    Heard::Said(_) | Heard::Hired(_) => {}
                },
                Ok(Message::Signal(_)) => self.ended = true,
                Ok(
                    Message::Ledger(_) | Message::Asked(..) | Message::Sensed(_) | Message::Told(_),
                ) => {}
                Err(_) => return Err(WireFault::KeeperLost),
            }
        }
    }
}

impl Line for Kept<'_> {
    fn exchange(&mut self, exchange: &Exchange) -> Outcome {
        let sent = self.clock.now();
        let outcome = match self.hand.exchange(exchange.clone()) {
            Sent::Yes => self.outcome(),
            Sent::Held | Sent::Nobody => Err(WireFault::KeeperLost),
        };
        outcome.unwrap_or_else(|fault| Outcome {
            sent,
            received: self.clock.now(),
            reply: Err(fault),
        })
    }

    fn now(&self) -> Moment {
        self.clock.now()
    }

    fn rest(&mut self, span: Span) {
        std::thread::sleep(self.clock.patience(span));
    }
}
