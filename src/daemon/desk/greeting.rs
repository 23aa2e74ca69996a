//! Before a run is opened the supply is asked who it is: one that is not there costs a refusal, not
//! a run whose output can never be proved off.

use super::super::going_on::GoOn;
use super::super::hand::Sent;
use super::super::inbox::Reply;
use super::super::prepare::Prepared;
use super::super::refusal::{NO_SUPPLY, Refusal};
use super::Desk;
use crate::exchange::{LinkFault, Order};
use crate::supply::link::{Link, Step};
use crate::supply::wire::Outcome;
use crate::units::Moment;
use std::sync::Arc;

/// What begins when the supply has said who it is.
pub(super) enum Wants {
    /// A new run.
    New(Box<Prepared>),
    /// An interrupted run.
    Again(Box<GoOn>),
}

/// A run that is asked for while the supply is asked who it is.
pub(super) struct Greeting {
    link: Link,
    wants: Wants,
    reply: Reply,
    /// Nothing is sent before.
    rest_until: Option<Moment>,
}

impl Greeting {
    pub(super) const fn rest_until(&self) -> Option<Moment> {
        self.rest_until
    }
}

impl Desk {
    pub(super) fn start(&mut self, prepared: Prepared, reply: Reply) {
        if let Some(refusal) = self.no_start() {
            reply.send(Err(refusal));
            return;
        }
        self.meet(Wants::New(Box::new(prepared)), reply);
    }

    /// An interrupted run is to go on.
    pub(super) fn go_on(&mut self, go_on: Box<GoOn>, reply: Reply) {
        match self.no_going_on(&go_on) {
            Some(refusal) => reply.send(Err(refusal)),
            None => self.meet(Wants::Again(go_on), reply),
        }
    }

    fn meet(&mut self, wants: Wants, reply: Reply) {
        let mut link = Link::new(Arc::clone(&self.standing.profile));
        let step = link.begin(Order::Identify);
        self.greet(
            Greeting {
                link,
                wants,
                reply,
                rest_until: None,
            },
            step,
        );
    }

    /// The exchange came to this; without a greeting under way it is the run's.
    pub(super) fn greeting_heard(&mut self, outcome: Outcome) -> Result<(), Outcome> {
        let Some(mut greeting) = self.greeting.take() else {
            return Err(outcome);
        };
        let step = greeting.link.heard(outcome);
        self.greet(greeting, step);
        Ok(())
    }

    /// The silence the link asked for may be over.
    pub(super) fn greeting_rested(&mut self) {
        let now = self.clock.now();
        let rested = |it: &mut Greeting| it.rest_until.is_some_and(|at| at <= now);
        if let Some(mut greeting) = self.greeting.take_if(rested) {
            greeting.rest_until = None;
            let step = greeting.link.rested();
            self.greet(greeting, step);
        }
    }

    /// Nobody is there who could ask the supply.
    pub(super) fn greeting_failed(&mut self, fault: &LinkFault) {
        if let Some(greeting) = self.greeting.take() {
            greeting.reply.send(Err(not_there(fault)));
        }
    }

    /// Gives up a run that has not even been opened.
    pub(super) fn greeting_cancelled(&mut self, refusal: &Refusal) {
        if let Some(greeting) = self.greeting.take() {
            greeting.reply.send(Err(refusal.clone()));
        }
    }

    fn greet(&mut self, mut greeting: Greeting, step: Step) {
        match step {
            Step::Wire(exchange) => match self.hand.exchange(exchange) {
                Sent::Yes => {
                    self.greeting = Some(greeting);
                    self.await_exchange();
                }
                Sent::Held => self.greeting = Some(greeting),
                Sent::Nobody => greeting.reply.send(Err(not_there(&LinkFault::KeeperLost))),
            },
            Step::Rest(span) => {
                greeting.rest_until = Some(self.clock.now() + span);
                self.greeting = Some(greeting);
            }
            Step::Answer(Ok(_)) => match greeting.wants {
                Wants::New(prepared) => self.open(*prepared, greeting.reply),
                Wants::Again(go_on) => self.begin_again(*go_on, greeting.reply),
            },
            Step::Answer(Err(fault)) => greeting.reply.send(Err(not_there(&fault))),
        }
    }
}

/// The supply is not there, or is another one.
fn not_there(fault: &LinkFault) -> Refusal {
    let (code, remedy) = match fault {
        LinkFault::Stranger(_) => (
            "wrong-supply",
            "the station file names another supply profile, or another port: mend it",
        ),
        LinkFault::Silent
        | LinkFault::Garbled(_)
        | LinkFault::Refused(_)
        | LinkFault::PortLost(_)
        | LinkFault::Forbidden(_)
        | LinkFault::KeeperLost => (
            "no-supply",
            "look at the supply, its cable and its settings",
        ),
    };
    Refusal::new(NO_SUPPLY, code, format!("{fault}; nothing was energised")).remedy(remedy)
}
