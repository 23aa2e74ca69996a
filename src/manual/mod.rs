//! One page for each word code: what it means, what was done, what to check, how to save the piece,
//! and when to go on. This room knows the pages and their codes, and must never know a run, a file
//! or a screen. View and everything below come in.

/// How alike a slip and a code must be for the code to be proposed, 0 to 1.
const ALIKE: f64 = 0.7;

/// Takes in the pages of these codes from the files beside this one.
macro_rules! pages {
    ($($code:literal,)+) => {
        &[$(($code, include_str!(concat!($code, ".md")))),+]
    };
}

/// Codes and their pages, in the order they are listed in.
static PAGES: &[(&str, &str)] = pages![
    // Guards.
    "current-off-setpoint",
    "constant-current-lost",
    "cell-voltage-high",
    "cell-voltage-collapsed",
    "output-not-as-commanded",
    "setpoint-changed",
    "protection-tripped",
    "strike-short",
    "supply-error",
    "reading-stale",
    "reading-implausible",
    "envelope-exceeded",
    "charge-cap",
    "time-cap",
    "ledger-not-writing",
    "command-failed",
    "wrong-supply",
    "on-before-start",
    "limits-not-taken",
    "no-contact",
    "keeper-lost",
    "daemon-lost",
    "supply-power-cycled",
    "wrong-channel",
    "readback-frozen",
    "current-without-voltage",
    "anode-film",
    "voltage-climbing",
    "voltage-noisy",
    "cover-not-growing",
    "link-lost",
    "link-garbled",
    "replies-late",
    "peak-density-high",
    "level-low",
    "temperature-out",
    "stirring-out",
    "sensor-silent",
    "brightener-overdue",
    "host-slept",
    "clock-jumped",
    "ledger-slow",
    "disk-nearly-full",
    "identity-changed",
    "output-stays-on",
    "relay-stuck",
    "relay-open",
    "relay-lost",
    // States that need a person.
    "unconfirmed",
    "interrupted",
    // What a plan refuses or warns of.
    "density-above-window",
    "density-below-window",
    "current-above-station",
    "current-above-supply",
    "voltage-above-supply",
    "setpoint-too-coarse",
    "readback-missing",
    "no-proof-of-off",
    "setpoint-coarse",
    "meter-coarse",
    "no-over-voltage",
    "no-over-current",
    "mains-return-unknown",
    "mains-return-on",
    "port-by-number",
    "anode-small",
    "anode-large",
    "anode-light",
    "long-night",
    "interval-wide",
    "bore-closes",
    "growth-unknown",
    "mesh-open",
    "mesh-sharp-inward",
    "mesh-inner-walls",
    "mesh-overlaps",
    "area-from-gauge",
    "mass-from-scale",
    "only-simulated",
    "contact-assumed",
    // What is wrong in a file.
    "paint-without-strike",
    "unknown-key",
    "missing-key",
    "bad-value",
    "bare-number",
    "bad-quantity",
    "out-of-range",
    "wrong-type",
    "unknown-word",
    "not-toml",
    "not-found",
    "not-readable",
    "unreadable",
    "bad-mesh",
    "bad-picture",
    "several-problems",
    "more-problems",
    "same-bytes",
    // What a record tells of.
    "look-due",
    "paused-by-hand",
    "copper-behind",
    "lifted",
    "hung",
    "no-such-piece",
    "wrong-host",
    "wrong-origin",
    "not-paired",
    "no-page",
    "off-again",
    "cut",
    "alarm-over",
    "gap",
    "reached",
    "cleared",
    "went-on",
    "job-file",
    "told",
    "not-told",
    "kept",
    "not-kept",
    // Ports, supplies, daemon, ledger and the command line.
    "port-not-there",
    "port-not-permitted",
    "port-busy",
    "port-unusable",
    "port-lost",
    "port-not-simulated",
    "not-simulated",
    "no-supply",
    "supply-silent",
    "supply-garbled",
    "bad-shape",
    "no-state-folder",
    "state-unusable",
    "ledger-unusable",
    "ledger-unreadable",
    "not-now",
    "not-cleared",
    "nothing-runs",
    "no-daemon",
    "daemon-silent",
    "loop-silent",
    "busy",
    "closing",
    "ended",
    "run-failed",
    "missing-file",
    "not-writable",
    "not-finished",
    "no-simulated-supply",
    "no-pseudo-terminal",
    "unknown-code",
    "bad-usage",
    "bad-request",
    "too-large",
    "too-slow",
    "no-such-route",
    "no-sense",
    "no-thread",
    "no-program",
    "no-signals",
    "stopped",
    "nobody-told",
    // Baths.
    "two-strengths",
    "vessel-small",
    "acid-weak",
    "impossible-bath",
    "below-window",
    "above-window",
    "not-in-bath",
    "wont-dissolve",
    "may-crystallise",
    "chloride-worth",
    "water-chloride",
    "vessel-full",
    "not-analysed",
    "coarse-reading",
    "bath-differs",
    "bath-unknown",
    "profile-gone",
    "in-future",
    "additive-due",
    "overdose",
    // What bedtime asks for.
    "not-covered",
    "voltage-near-limit",
];

/// The page of a code, as Markdown: a title and sections with `##` headings.
#[must_use]
pub fn page(code: &str) -> Option<&'static str> {
    PAGES
        .iter()
        .find(|(known, _)| *known == code)
        .map(|(_, page)| *page)
}

/// Every code that has a page: guards, states, refusals and warnings, problems, events, failures.
pub fn codes() -> impl Iterator<Item = &'static str> {
    PAGES.iter().map(|(code, _)| *code)
}

/// The code that was most likely meant, if one is like enough.
#[must_use]
pub fn nearest(slip: &str) -> Option<&'static str> {
    let slip = slip.trim().to_lowercase().replace(['_', ' '], "-");
    let likeness = |code: &str| strsim::jaro_winkler(&slip, code);
    let best = codes().max_by(|a, b| likeness(a).total_cmp(&likeness(b)))?;
    (likeness(best) >= ALIKE).then_some(best)
}

/// The sections of a page: each heading, and its text on one line.
pub fn sections(page: &str) -> impl Iterator<Item = (&str, String)> {
    page.split("\n## ").skip(1).map(|section| {
        let (heading, text) = section.split_once('\n').unwrap_or((section, ""));
        (
            heading.trim(),
            text.split_whitespace().collect::<Vec<_>>().join(" "),
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const GUARD_PAGE: [&str; 5] = [
        "What it means",
        "What was done",
        "What to check",
        "The piece",
        "When to go on",
    ];
    const OTHER_PAGE: [&str; 4] = [
        "What it means",
        "What was done",
        "What to do",
        "When to go on",
    ];

    #[test]
    fn every_page_has_its_title_its_sections_and_a_readable_length() {
        for (code, page) in PAGES {
            assert_eq!(page.lines().next(), Some(format!("# {code}").as_str()));
            let headings: Vec<&str> = sections(page).map(|(heading, _)| heading).collect();
            assert!(
                headings == GUARD_PAGE || headings == OTHER_PAGE,
                "{code}: {headings:?}"
            );
            assert!(
                sections(page).all(|(_, text)| text.ends_with(['.', '?'])),
                "{code}: a cut section"
            );
            let words: usize = sections(page)
                .map(|(_, text)| text.split(' ').count())
                .sum();
            assert!((60..=150).contains(&words), "{code}: {words} words");
            assert!(
                page.lines().all(|line| line.chars().count() <= 100),
                "{code}: a long line"
            );
        }
    }

    #[test]
    fn a_slip_finds_its_code_and_a_stranger_finds_none() {
        assert_eq!(nearest("keeper-lots"), Some("keeper-lost"));
        assert_eq!(nearest("Reading Stale"), Some("reading-stale"));
        assert_eq!(nearest("no_contact"), Some("no-contact"));
        assert_eq!(nearest("xyzzy"), None);
        assert_eq!(page("keeper-lots"), None);
    }
}
