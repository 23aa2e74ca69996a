//! Drives a run over a line in virtual time, with a ledger: the daemon's loop without its waiting.

use crate::control::{Outcome, State, Wish};
use crate::ledger::{RunId, Store, StoreFault};
use crate::run::{Effect, Input, Run};
use crate::supply::wire::{Exchange, Line};
use crate::units::{Moment, Span};

/// How a rehearsal is carried out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Manner {
    /// A person comes to a planned look after this long.
    pub look_lasts: Span,
    /// The rehearsal is given up after this much simulated time.
    pub at_most: Span,
    /// The person looks this often, in simulated time.
    pub look_every: Span,
}

impl Default for Manner {
    fn default() -> Self {
        Self {
            look_lasts: Span::from_min(5.0),
            at_most: Span::from_h(240.0),
            look_every: Span::from_min(10.0),
        }
    }
}

/// What a rehearsal came to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rehearsed {
    /// How the run ended; `None` if it was given up.
    pub outcome: Option<Outcome>,
    /// Simulated time.
    pub lasted: Span,
    /// When the off of the target left, for the goals of the benchmarks.
    pub exchanges: u64,
}

/// What is in the driver's hands.
struct Hands<'a, L, S> {
    line: &'a mut L,
    store: &'a mut S,
    id: RunId,
    began: Moment,
    exchange: Option<Exchange>,
    wake: Option<Moment>,
    committed: Option<crate::ledger::Ticket>,
    /// Why the ledger refused; from then on it is given nothing more.
    refused: Option<StoreFault>,
    told: bool,
    ended: Option<Outcome>,
    exchanges: u64,
}

/// Carries a run out on a line, from [`Input::Begin`] to its end. The person at the bench looks
/// every [`Manner::look_every`] and when the run pauses, may do something to the bench, and may
/// tell the run something.
///
/// # Errors
/// [`StoreFault`] if the ledger refuses; the run is told as well and turns its output off first.
pub fn rehearse<L: Line, S: Store>(
    run: &mut Run,
    id: RunId,
    line: &mut L,
    store: &mut S,
    manner: Manner,
    mut person: impl FnMut(&Run, Moment, &mut L) -> Option<Input>,
) -> Result<Rehearsed, StoreFault> {
    let began = line.now();
    let mut effects = Vec::with_capacity(16);
    let mut hands = Hands {
        line,
        store,
        id,
        began,
        exchange: None,
        wake: None,
        committed: None,
        refused: None,
        told: false,
        ended: None,
        exchanges: 0,
    };
    let mut next_look = began;
    let mut paused = false;
    run.handle(began, Input::Begin, &mut effects);
    while hands.ended.is_none() && hands.line.now().since(began) < manner.at_most {
        hands.carry_out(&mut effects);
        if hands.ended.is_some() {
            break;
        }
        let input = hands.next_input(run.state(), manner);
        let now = hands.line.now();
        run.handle(now, input, &mut effects);
        // Whoever paused it stands at the bench.
        let pauses = run.core().is_paused() && !paused;
        paused = run.core().is_paused();
        if now >= next_look || pauses {
            next_look = now + manner.look_every;
            if let Some(input) = person(run, now, hands.line) {
                run.handle(now, input, &mut effects);
            }
        }
    }
    let lasted = hands.line.now().since(hands.began);
    match hands.refused {
        Some(fault) => Err(fault),
        None => Ok(Rehearsed {
            outcome: hands.ended,
            lasted,
            exchanges: hands.exchanges,
        }),
    }
}

impl<L: Line, S: Store> Hands<'_, L, S> {
    /// Carries effects out in their order. A ledger that refuses holds nothing else up.
    fn carry_out(&mut self, effects: &mut Vec<Effect>) {
        for effect in effects.drain(..) {
            match effect {
                Effect::Exchange(exchange) => self.exchange = Some(exchange),
                Effect::Record(entry) => {
                    if self.refused.is_none() {
                        self.refused = self.store.append(self.id, &entry).err();
                    }
                }
                Effect::Commit(ticket) => {
                    if self.refused.is_none() {
                        self.refused = self.store.commit().err();
                        self.committed = self.refused.is_none().then_some(ticket);
                    }
                }
                Effect::Wake(at) => self.wake = Some(at),
                Effect::Ended(outcome) => self.ended = Some(outcome),
                Effect::Relay(contact) => self.line.relay(contact),
                // The bench needs no keeper: nothing outlives this function.
                Effect::Arm(_) | Effect::Renew | Effect::Disarm => {}
            }
        }
    }

    /// What happens next: an answer of the ledger, of the line, or the next deadline.
    fn next_input(&mut self, state: State, manner: Manner) -> Input {
        if let Some(refused) = &self.refused
            && !self.told
        {
            self.told = true;
            return Input::LedgerFailed(refused.to_string());
        }
        if let Some(ticket) = self.committed.take() {
            return Input::Committed(ticket);
        }
        if let Some(exchange) = self.exchange.take() {
            self.exchanges += 1;
            return Input::Wire(self.line.exchange(&exchange));
        }
        let now = self.line.now();
        if state == State::Paused {
            self.line.rest(manner.look_lasts);
            return Input::Asked(Wish::Resume);
        }
        if let Some(at) = self.wake {
            self.line.rest(at.since(now));
        }
        Input::Woke
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::control::State;
    use crate::ledger::{Entry, MockStore, Ticket};
    use crate::supply::wire::Outcome as WireOutcome;

    /// A line on which nothing may happen.
    struct Still;

    impl Line for Still {
        fn exchange(&mut self, _: &Exchange) -> WireOutcome {
            unreachable!("nothing was to be exchanged")
        }
        fn now(&self) -> Moment {
            Moment::ZERO
        }
        fn rest(&mut self, _: Span) {}
    }

    fn entered() -> Effect {
        Effect::Record(Entry::Entered {
            at: Span::ZERO,
            state: State::Proving,
        })
    }

    #[test]
    fn a_ledger_that_refused_is_given_nothing_more_and_the_run_is_told_once() {
        let mut store = MockStore::new();
        store.expect_append().times(1).returning(|_, _| Ok(()));
        store.expect_commit().times(1).returning(|| {
            Err(StoreFault {
                place: "in memory".into(),
                what: "is full".into(),
            })
        });
        let mut hands = Hands {
            line: &mut Still,
            store: &mut store,
            id: 1,
            began: Moment::ZERO,
            exchange: None,
            wake: None,
            committed: None,
            refused: None,
            told: false,
            ended: None,
            exchanges: 0,
        };
        let mut effects = vec![entered(), Effect::Commit(Ticket(1)), entered()];
        effects.push(Effect::Commit(Ticket(2)));
        hands.carry_out(&mut effects);
        let told = hands.next_input(State::Proving, Manner::default());
        assert_eq!(
            told,
            Input::LedgerFailed("the ledger in memory is full".into())
        );
        assert_eq!(
            hands.next_input(State::Proving, Manner::default()),
            Input::Woke
        );
    }
}
