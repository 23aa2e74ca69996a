//! Every code that a person can meet has a page, and every page a code.

use nightvat::control::{Fault, State};
use nightvat::manual;
use std::collections::BTreeSet;

/// What a plan refuses or warns of, and what is wrong in a file.
const OTHERS: [&str; 34] = [
    "anode-light",
    "anode-small",
    "bad-mesh",
    "bad-quantity",
    "bad-value",
    "bare-number",
    "current-above-station",
    "current-above-supply",
    "density-above-window",
    "density-below-window",
    "interval-wide",
    "long-night",
    "mains-return-on",
    "mains-return-unknown",
    "meter-coarse",
    "missing-key",
    "more-problems",
    "no-over-current",
    "no-over-voltage",
    "no-proof-of-off",
    "not-found",
    "not-readable",
    "not-toml",
    "out-of-range",
    "paint-without-strike",
    "readback-missing",
    "setpoint-coarse",
    "setpoint-too-coarse",
    "several-problems",
    "unknown-key",
    "unknown-word",
    "unreadable",
    "voltage-above-supply",
    "wrong-type",
];

#[test]
fn every_guard_has_a_page_and_every_page_a_code() {
    let pages: BTreeSet<&str> = manual::codes().collect();
    let guards = Fault::ALL.into_iter().map(Fault::code);
    let states = [State::Unconfirmed, State::Interrupted]
        .into_iter()
        .map(State::word);
    let met: BTreeSet<&str> = guards.chain(states).chain(OTHERS).collect();
    assert_eq!(pages, met);
    assert_eq!(manual::codes().count(), pages.len(), "a code stands twice");
}

#[test]
fn a_guards_page_warns_of_acid_wherever_it_sends_hands_into_the_bath() {
    for fault in Fault::ALL {
        let page = manual::page(fault.code()).unwrap();
        let careful = page.contains("gloves") && page.contains("goggles");
        assert!(
            careful || !page.to_lowercase().contains("lift"),
            "{}",
            fault.code()
        );
    }
}

#[test]
fn pages_name_only_commands_that_there_are() {
    // The commands of this program's own interface.
    let known = ["area", "explain", "off", "plan", "rehearse", "runs"];
    for code in manual::codes() {
        let page = manual::page(code).unwrap();
        for rest in page.split("`nightvat ").skip(1) {
            let name = rest.split([' ', '`', '\n']).next().unwrap();
            assert!(known.contains(&name), "{code} names `nightvat {name}`");
        }
    }
}
