//! Every code that a person can meet has a page, and every page a code.

use nightvat::control::{Fault, State};
use nightvat::{manual, plan};
use std::collections::BTreeSet;
use std::path::Path;

/// What is wrong in a file.
const PROBLEMS: [&str; 17] = [
    "bad-mesh",
    "bad-quantity",
    "bad-value",
    "bare-number",
    "missing-key",
    "more-problems",
    "not-found",
    "not-readable",
    "not-toml",
    "out-of-range",
    "paint-without-strike",
    "same-bytes",
    "several-problems",
    "unknown-key",
    "unknown-word",
    "unreadable",
    "wrong-type",
];

/// What a record tells of, beside guards.
const EVENTS: [&str; 12] = [
    "alarm-over",
    "cleared",
    "daemon-lost",
    "gap",
    "kept",
    "look-due",
    "not-kept",
    "not-told",
    "off-again",
    "paused-by-hand",
    "reached",
    "told",
];

/// What can be wrong with a port.
const PORTS: [&str; 5] = [
    "port-busy",
    "port-not-permitted",
    "port-not-simulated",
    "port-not-there",
    "port-unusable",
];

/// The codes that daemon and command line put into their failures, as they stand in the source.
fn failures() -> BTreeSet<String> {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut found = BTreeSet::new();
    let mut folders = vec![source.join("cli"), source.join("daemon")];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                found.extend(codes_of(&std::fs::read_to_string(path).unwrap()));
            }
        }
    }
    found
}

/// The second argument of each `Failure::new` and `Refusal::new`, where it is written out.
fn codes_of(text: &str) -> Vec<String> {
    let made = |by: &str| -> Vec<String> {
        let calls = text.split(by).skip(1);
        let codes = calls.filter_map(|rest| {
            let (first, rest) = rest.split_once(',')?;
            let literal = rest.trim_start().strip_prefix('"')?;
            let plain = first
                .trim()
                .chars()
                .all(|c| c.is_alphanumeric() || "_:".contains(c));
            plain.then(|| literal.split('"').next().unwrap_or_default().to_owned())
        });
        codes.collect()
    };
    [
        made("Failure::new("),
        made("Refusal::new("),
        made("Self::new("),
    ]
    .concat()
}

#[test]
fn every_code_has_a_page_and_every_page_a_code() {
    let failures = failures();
    assert!(
        failures.len() > 20,
        "only {failures:?} were found in the source"
    );
    let pages: BTreeSet<&str> = manual::codes().collect();
    let mut met: BTreeSet<&str> = Fault::ALL.into_iter().map(Fault::code).collect();
    met.extend([State::Unconfirmed, State::Interrupted].map(State::word));
    met.extend(plan::REFUSALS.iter().chain(&plan::WARNINGS));
    met.extend(PROBLEMS.iter().chain(&EVENTS).chain(&PORTS));
    met.extend(failures.iter().map(String::as_str));
    // Stands for a list of problems without a first one.
    met.insert("bad-input");
    let without: Vec<_> = met.difference(&pages).collect();
    let unused: Vec<_> = pages.difference(&met).collect();
    assert!(without.is_empty(), "no page: {without:?}");
    assert!(unused.is_empty(), "no such code: {unused:?}");
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
    let known = [
        "area", "clear", "explain", "hush", "off", "plan", "rehearse", "report", "resume", "runs",
        "serve", "start", "status", "stop", "supply", "tell", "unit",
    ];
    for code in manual::codes() {
        let page = manual::page(code).unwrap();
        for rest in page.split("`nightvat ").skip(1) {
            let name = rest.split([' ', '`', '\n']).next().unwrap();
            assert!(known.contains(&name), "{code} names `nightvat {name}`");
        }
    }
}
