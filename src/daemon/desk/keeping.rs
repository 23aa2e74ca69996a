//! The keeper: hired, awaited, replaced when it is gone or does not answer.

use super::super::hand::{Heard, LEASE};
use super::{Desk, HIRE_AGAIN, SILENCE};
use crate::exchange::LinkFault;
use crate::run::Input;
use crate::supply::keeper::{HireError, Hired, Report};
use crate::supply::wire::{Outcome, WireFault};
use std::time::{Duration, Instant};

impl Desk {
    pub(super) fn heard(&mut self, heard: Heard) {
        match heard {
            Heard::Hired(hired) => self.hired(hired),
            Heard::Said(Report::Exchanged { id, outcome }) => {
                if let Some(outcome) = self.hand.outcome(id, outcome) {
                    self.exchange_due = None;
                    if let Err(outcome) = self.greeting_heard(outcome) {
                        self.tell(Input::Wire(outcome));
                    }
                }
            }
            Heard::Said(Report::Off { why, report }) => self.off_reported(&why, &report),
            Heard::Said(Report::Gone(code)) => {
                let code = code.map_or("killed".to_owned(), |code| format!("status {code}"));
                self.keeper_gone(&code);
            }
            Heard::Said(Report::Cut { asked }) => {
                tracing::error!(
                    asked,
                    "the keeper let the relay go: a cut, and no proof of off"
                );
                if !asked {
                    self.tell(Input::RelayCut);
                }
            }
            Heard::Said(Report::RelayLost(why)) => {
                tracing::error!("the relay is lost: {why}");
                self.tell(Input::RelayLost(why));
            }
            Heard::Said(Report::NotArmed(why)) => tracing::error!("the keeper is not armed: {why}"),
            Heard::Said(Report::NoPort(fault)) => tracing::error!("{fault}"),
            Heard::Said(Report::Ready { .. } | Report::Armed(_) | Report::Disarmed) => {}
        }
    }

    /// The exchange has a time within which its keeper answers. It may be turning the output off
    /// first.
    pub(super) fn await_exchange(&mut self) {
        let longest = self
            .clock
            .patience(self.standing.capability.longest_exchange);
        let now = Instant::now();
        let tries = self
            .tried
            .map(|tried| tried + self.off_patience())
            .filter(|until| *until > now)
            .map(|_| now + self.off_patience());
        let from = self.off_due.or(tries).unwrap_or(now);
        self.exchange_due = Some(from + longest + SILENCE);
    }

    /// Nothing ran here: what the keeper has said meanwhile still lies in its pipe, and it has its
    /// time from now on.
    pub(super) fn wait_anew(&mut self) {
        let until = Instant::now() + self.off_patience();
        self.off_due = self.off_due.map(|_| until);
        if self.exchange_due.is_some() {
            self.await_exchange();
        }
    }

    /// There is nobody to carry the exchange out.
    pub(super) fn nobody(&mut self) {
        let now = self.clock.now();
        let reply = Err(WireFault::KeeperLost);
        self.pending.push_back(Input::Wire(Outcome {
            sent: now,
            received: now,
            reply,
        }));
    }

    /// The keeper is gone: the next one turns the output off before anything else.
    pub(super) fn keeper_gone(&mut self, why: &str) {
        tracing::error!("the keeper is gone: {why}");
        self.exchange_due = None;
        self.tried = None;
        self.off_due = None;
        self.renewed = None;
        self.off_proved = false;
        self.greeting_failed(&LinkFault::KeeperLost);
        self.hire();
        self.tell(Input::KeeperLost);
    }

    /// The keeper said what came of its off: one that could not prove it tries again, and an
    /// exchange that waits for that is not late.
    pub(super) fn off_was_tried(&mut self, confirmed: bool) {
        let now = Instant::now();
        self.tried = (!confirmed).then_some(now);
        if !confirmed && self.exchange_due.is_some() {
            self.exchange_due = Some(now + self.off_patience());
        }
    }

    /// When the lease of a keeper that is armed lapsed.
    pub(super) fn lapsed(&self, now: Instant) -> Option<Instant> {
        Some(self.renewed? + LEASE).filter(|at| *at <= now)
    }

    /// The same, if it may be turning the output off by itself since.
    pub(super) fn turning_off(&self, now: Instant) -> Option<Instant> {
        let still = |at: &Instant| now < *at + self.off_patience();
        self.lapsed(now).filter(still)
    }

    pub(super) fn hire(&mut self) {
        self.hire_at = None;
        self.hand.hire();
    }

    pub(super) fn hired(&mut self, hired: Result<Hired, HireError>) {
        match hired {
            Ok(hired) => {
                tracing::info!(pid = hired.pid(), "a keeper is hired; its first act is off");
                self.hire_fault = None;
                self.off_due = Some(Instant::now() + self.off_patience());
                if self.hand.welcome(hired) {
                    self.await_exchange();
                }
            }
            Err(fault) => {
                // Said once, however often it is tried.
                let fault = fault.to_string();
                if self.hire_fault.as_ref() != Some(&fault) {
                    tracing::error!("no keeper: {fault}");
                }
                self.hire_fault = Some(fault);
                self.greeting_failed(&LinkFault::KeeperLost);
                self.hire_at = Some(Instant::now() + HIRE_AGAIN);
                if self.hand.vacate() {
                    self.nobody();
                    self.tell_pending();
                }
            }
        }
    }

    /// How long a keeper may take over its off: three rounds of it, with the way back from a
    /// confusion.
    pub(super) fn off_patience(&self) -> Duration {
        self.clock
            .patience(self.standing.capability.longest_exchange * 40.0)
            + SILENCE
    }
}
