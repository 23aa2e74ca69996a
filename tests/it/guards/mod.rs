//! The guard table: each row just below, at and above its limit in every state; each row fired by a
//! physical cause; each latent fault found before the night.

mod calm;
mod causes;
mod course;
mod figures;
mod kit;
mod latent;
mod relay;
mod memory;
mod spreading;
mod table;

use nightvat::control::{Evidence, Fault, Latch, Response, Severity, State};
use nightvat::exchange::{Ask, Capability, OnMainsReturn, Tolerance};
use nightvat::manual;
use nightvat::units::{Current, Span, Voltage};

/// A supply with 1 mA and 10 mV steps and no other error, so that the limits can be written down by
/// hand.
pub(crate) fn supply() -> Capability {
    let step = |step| Tolerance {
        share: 0.0,
        fixed: 0.0,
        step,
    };
    Capability {
        max_current: Current::from_a(5.0),
        max_voltage: Voltage::from_v(30.0),
        set_current: step(0.001),
        set_voltage: step(0.01),
        read_current: step(0.001),
        read_voltage: step(0.01),
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

#[test]
fn codes_and_words_are_their_own_inverse() {
    for fault in Fault::ALL {
        assert_eq!(Fault::from_code(fault.code()), Some(fault));
    }
    for state in State::ALL {
        assert_eq!(State::from_word(state.word()), Some(state));
    }
}

/// At least thirty rows, each whole: what it sees, the least it can, a page, a state it watches in.
#[test]
fn the_table_is_whole() {
    assert!(Fault::ALL.len() >= 30, "{} rows", Fault::ALL.len());
    for fault in Fault::ALL {
        let (guard, code) = (fault.guard(), fault.code());
        assert!(
            guard.sees.len() > 20,
            "{code} says too little of what it sees"
        );
        assert!(
            guard.least.len() > 5,
            "{code} does not say the least it can see"
        );
        assert!(manual::page(code).is_some(), "{code} has no page");
        assert!(!guard.states.is_empty(), "{code} never watches");
        // What ends a run is a danger, stays until it is cleared, and the other way round.
        let ends = guard.response != Response::Alarm;
        assert_eq!(ends, guard.severity == Severity::Danger, "{code}");
        assert!(!ends || guard.latch == Latch::UntilCleared, "{code}");
        // Nothing that speaks through readings can be seen while none is taken.
        let reads = matches!(guard.evidence, Evidence::Electrical | Evidence::Supply);
        let flows = |state: &State| state.is_live() || *state == State::Proving;
        assert!(!reads || guard.states.iter().all(flows), "{code}");
    }
}
