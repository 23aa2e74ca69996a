//! What a station says of the relay in its output lead.

use nightvat::spec::station::read;
use nightvat::spec::{Problem, Relay, RelayLine, Shelf, Station};
use nightvat::units::Span;

const PLAIN: &str = r#"
name = "north tank"
supply = "scpi-standard"
port = "/dev/supply"
[limits]
current = "3 A"
voltage = "2.5 V"
[tank]
volume = "6 L"
"#;

fn station(more: &str) -> Result<Station, Vec<Problem>> {
    let text = format!("{PLAIN}{more}");
    read("north.toml", &text, &Shelf::embedded()).map_err(|problems| problems.0)
}

fn relay(lines: &str) -> Result<Option<Relay>, Vec<Problem>> {
    station(&format!("[relay]\n{lines}")).map(|station| station.relay)
}

#[test]
fn a_plain_station_has_none() {
    assert_eq!(station("").unwrap().relay, None);
}

#[test]
fn it_is_read_and_toggled_twice_a_second_if_nothing_is_said() {
    let words = [
        ("rts", RelayLine::Rts),
        ("dtr", RelayLine::Dtr),
        ("tx", RelayLine::Tx),
    ];
    for (word, line) in words {
        let lines = format!("port = '/dev/relay'\nline = '{word}'\nopens_within = '1.5 s'\n");
        let wanted = Relay {
            port: "/dev/relay".into(),
            line,
            every: Span::from_ms(500.0),
            opens_within: Span::from_s(1.5),
        };
        assert_eq!(relay(&lines), Ok(Some(wanted.clone())));
        let more = format!("{lines}every = '200 ms'\nin_lead = 'output'\n");
        let every = Span::from_ms(200.0);
        assert_eq!(relay(&more), Ok(Some(Relay { every, ..wanted })));
    }
}

/// Each with its code, and a word of what is to be done about it.
#[test]
fn what_cannot_work_is_said() {
    let port = "port = '/dev/relay'\n";
    let rest = "line = 'rts'\nopens_within = '1.5 s'\n";
    let cases = [
        (
            format!("port = '/dev/supply'\n{rest}"),
            "bad-value",
            "another port",
        ),
        (
            format!("port = 'COM7'\n{rest}"),
            "bad-value",
            "supply ports",
        ),
        (rest.to_owned(), "missing-key", "port"),
        (
            format!("{port}opens_within = '1.5 s'\n"),
            "missing-key",
            "line",
        ),
        (
            format!("{port}line = 'rts'\n"),
            "missing-key",
            "opens_within",
        ),
        (
            format!("{port}line = 'cts'\nopens_within = '1.5 s'\n"),
            "unknown-word",
            "rts",
        ),
        (
            format!("{port}{rest}every = '40 ms'\n"),
            "out-of-range",
            "within that range",
        ),
        (
            format!("{port}{rest}every = '1.1 s'\n"),
            "out-of-range",
            "within that range",
        ),
        (
            format!("{port}line = 'tx'\nopens_within = '5.1 s'\n"),
            "out-of-range",
            "range",
        ),
        // Two edges that do not come are a busy computer.
        (
            format!("{port}line = 'tx'\nopens_within = '1 s'\n"),
            "bad-value",
            "measure it again",
        ),
        (
            format!("{port}{rest}in_lead = 'mains'\n"),
            "bad-value",
            "output lead",
        ),
        (
            format!("{port}{rest}normally = 'open'\n"),
            "unknown-key",
            "",
        ),
    ];
    for (lines, code, remedy) in cases {
        let problems = relay(&lines).expect_err(&lines);
        let [problem] = &problems[..] else {
            panic!("{lines}: {problems:?}")
        };
        assert_eq!(problem.code, code, "{lines}: {problem}");
        assert!(problem.to_string().contains(remedy), "{lines}: {problem}");
    }
}

#[test]
fn its_bounds_are_in() {
    let port = "port = '/dev/relay'\nline = 'dtr'\n";
    for lines in [
        "every = '1 s'\nopens_within = '5 s'\n",
        "every = '50 ms'\nopens_within = '150 ms'\n",
        "every = '500 ms'\nopens_within = '1.01 s'\n",
    ] {
        assert!(relay(&format!("{port}{lines}")).is_ok(), "{lines}");
    }
}
