//! The rows: those that judge readings, and those that judge what is around them. The rows stand
//! in the order of [`Fault::ALL`]; the constants below do not compile otherwise.

mod around;
mod readings;

use super::{Evidence, Fault, Guard, Latch, Patience, Response, Severity};
use crate::control::state::State;

const LIVE: &[State] = &[
    State::Striking,
    State::Ramping,
    State::Building,
    State::Holding,
];
const FLOWING: &[State] = &[
    State::Proving,
    State::Striking,
    State::Ramping,
    State::Building,
    State::Holding,
];
const FULL: &[State] = &[State::Ramping, State::Building, State::Holding];
const PROVING: &[State] = &[State::Proving];
const STRIKING: &[State] = &[State::Striking];
/// Off is on its way, whatever the run came to.
const LEAVING: &[State] = &[
    State::Proving,
    State::Paused,
    State::Stopping,
    State::Tripped,
    State::Interrupted,
    State::Unconfirmed,
];
const ALWAYS: &[State] = &[
    State::Proving,
    State::Striking,
    State::Ramping,
    State::Building,
    State::Holding,
    State::Paused,
    State::Stopping,
    State::Tripped,
    State::Interrupted,
    State::Unconfirmed,
];

/// One row, in the order of the columns.
const fn row(
    fault: Fault,
    evidence: Evidence,
    (severity, response, latch): (Severity, Response, Latch),
    patience: Patience,
    states: &'static [State],
    [sees, least]: [&'static str; 2],
) -> Guard {
    Guard {
        fault,
        evidence,
        sees,
        severity,
        response,
        latch,
        patience,
        states,
        least,
    }
}

/// The table.
pub(super) const TABLE: [Guard; Fault::ALL.len()] = {
    let mut table = [readings::ROWS[0]; Fault::ALL.len()];
    let mut at = 0;
    while at < table.len() {
        table[at] = if at < readings::ROWS.len() {
            readings::ROWS[at]
        } else {
            around::ROWS[at - readings::ROWS.len()]
        };
        at += 1;
    }
    table
};

const _: () = {
    assert!(readings::ROWS.len() + around::ROWS.len() == Fault::ALL.len());
    let mut at = 0;
    while at < TABLE.len() {
        assert!(TABLE[at].fault as usize == at && Fault::ALL[at] as usize == at);
        at += 1;
    }
};
