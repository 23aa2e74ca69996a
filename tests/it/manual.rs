//! Every code that a person can meet has a page, and every page a code.

use nightvat::control::{Fault, State};
use nightvat::{bath, manual, plan};
use std::collections::BTreeSet;
use std::path::Path;

/// What is wrong in a file.
const PROBLEMS: [&str; 18] = [
    "bad-mesh",
    "bad-picture",
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
const EVENTS: [&str; 17] = [
    "alarm-over",
    "cleared",
    "copper-behind",
    "cut",
    "gap",
    "hung",
    "job-file",
    "kept",
    "lifted",
    "look-due",
    "not-kept",
    "not-told",
    "off-again",
    "paused-by-hand",
    "reached",
    "told",
    "went-on",
];

/// What `bedtime` asks for, beside guards and refusals.
const BEDTIME: [&str; 2] = ["not-covered", "voltage-near-limit"];

/// What can be wrong with a port.
const PORTS: [&str; 5] = [
    "port-busy",
    "port-not-permitted",
    "port-not-simulated",
    "port-not-there",
    "port-unusable",
];

/// What can be wrong with a supply before anything runs, as its link says it.
const LINK: [&str; 7] = [
    "keeper-lost",
    "no-supply",
    "port-lost",
    "supply-error",
    "supply-garbled",
    "supply-silent",
    "wrong-supply",
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
    met.extend(plan::REFUSALS.iter().chain(plan::WARNINGS));
    met.extend(PROBLEMS.iter().chain(&EVENTS).chain(&PORTS));
    met.extend(failures.iter().map(String::as_str));
    met.extend(bath::NOTES.iter().chain(&bath::FAULTS));
    met.extend(nightvat::view::BATH_NOTES);
    met.extend(LINK);
    met.extend(BEDTIME);
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

/// Every text a person reads: the pages, the notes, the built-in files and the two top documents.
fn texts() -> Vec<(String, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut found = Vec::new();
    let top = [
        "README.md",
        "DEVELOPERS.md",
        "src",
        "hardware-notes",
        "profiles",
    ];
    let mut waiting: Vec<_> = top.iter().map(|name| root.join(name)).collect();
    while let Some(path) = waiting.pop() {
        if path.is_dir() {
            let entries = std::fs::read_dir(path).unwrap();
            waiting.extend(entries.map(|entry| entry.unwrap().path()));
        } else if let Ok(text) = std::fs::read_to_string(&path) {
            found.push((path.display().to_string(), text));
        }
    }
    found
}

/// The commands a text names in `code`: one word, or two for a command of commands.
fn commands_in(text: &str) -> BTreeSet<Vec<&str>> {
    let plain = |word: &&str| word.chars().all(|c| c.is_ascii_lowercase());
    let after = text.split("`nightvat ").skip(1);
    after
        .map(|rest| {
            let said = rest.split('`').next().unwrap_or_default();
            let most = if said.starts_with("supply") { 2 } else { 1 };
            said.split_whitespace()
                .take(most)
                .take_while(plain)
                .collect()
        })
        .filter(|words: &Vec<&str>| !words.is_empty())
        .collect()
}

#[test]
fn texts_name_only_commands_that_there_are() {
    let texts = texts();
    let mut named = BTreeSet::new();
    for (path, text) in &texts {
        named.extend(commands_in(text).into_iter().map(|words| (words, path)));
    }
    let distinct: BTreeSet<_> = named.iter().map(|(words, _)| words).collect();
    assert!(distinct.len() > 12, "only {distinct:?} were found");
    let unknown: BTreeSet<_> = distinct
        .into_iter()
        .filter(|words| !there_is(words))
        .collect();
    let wrong: Vec<_> = named
        .iter()
        .filter(|(words, _)| unknown.contains(words))
        .collect();
    assert!(wrong.is_empty(), "no such command: {wrong:?}");
}

/// Asked of the program itself.
fn there_is(words: &[&str]) -> bool {
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_nightvat"));
    let done = command.args(words).arg("--help").output().unwrap();
    done.status.success()
}
