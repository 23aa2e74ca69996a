//! Supply profiles: the shipped ones load, and a profile that could not end a night well does not.

use nightvat::exchange::{Ask, OnMainsReturn};
use nightvat::spec::supply::{self, Give, SupplyProfile, TruthIn};
use nightvat::units::Span;

const STANDARD: &str = include_str!("../../profiles/supplies/scpi-standard.toml");
const TWO: &str = include_str!("../../profiles/supplies/scpi-standard-two-channel.toml");
const TERSE: &str = include_str!("../../profiles/supplies/terse-fixed.toml");

fn load(text: &str) -> SupplyProfile {
    supply::read("supply.toml", text).unwrap_or_else(|problems| panic!("{problems}"))
}

/// The codes of all problems of a text.
fn codes(text: &str) -> Vec<&'static str> {
    match supply::read("supply.toml", text) {
        Ok(_) => Vec::new(),
        Err(problems) => problems.0.iter().map(|problem| problem.code).collect(),
    }
}

fn changed(from: &str, to: &str) -> String {
    assert!(STANDARD.contains(from), "{from}");
    STANDARD.replace(from, to)
}

#[test]
fn shipped_profiles_load_and_can_read_all() {
    for text in [STANDARD, TWO, TERSE] {
        let profile = load(text);
        let reads = profile.reads();
        let all = Ask::MEASURED | Ask::OUTPUT | Ask::MODE | Ask::SET_CURRENT | Ask::SET_VOLTAGE;
        assert!(reads.has(all | Ask::OVER_VOLTAGE | Ask::OVER_CURRENT | Ask::TRIPPED));
        let capability = profile.capability();
        assert!(capability.guards_over_voltage && capability.guards_over_current);
    }
    assert!(load(STANDARD).reads().has(Ask::ERROR));
    assert!(!load(TERSE).reads().has(Ask::ERROR));
    assert_eq!(load(TWO).select.unwrap().text(), "INST:NSEL 1");
}

#[test]
fn the_terse_profile_says_what_its_manual_says() {
    // Numbers from the command table of the simulated terse supply.
    let profile = load(TERSE);
    assert_eq!(profile.numbers.current.written(0.35).unwrap().1, "0.3500");
    assert_eq!(profile.numbers.voltage.written(2.5).unwrap().1, "02.500");
    assert_eq!(
        profile.numbers.over_voltage.written(2.7).unwrap().1,
        "02.700"
    );
    assert_eq!(
        profile.numbers.over_current.written(3.1).unwrap().1,
        "3.1000"
    );
    assert_eq!(
        profile.numbers.current.written(10.0),
        None,
        "seven characters do not fit"
    );
    let status = profile.questions.iter().find(|q| q.ask == "s").unwrap();
    let masks: Vec<u32> = status
        .gives
        .iter()
        .filter_map(|give| match give {
            Give::Truth(_, TruthIn::Bits { mask, .. }) => Some(*mask),
            Give::Truth(_, TruthIn::Words { .. }) | Give::Figure(..) | Give::Mode(_) => None,
        })
        .collect();
    assert_eq!(masks, [0x01, 0x0C]);
    assert_eq!(profile.capability().on_mains_return, OnMainsReturn::Off);
    assert_eq!(profile.timing.gap_after_command, Span::from_ms(50.0));
}

#[test]
fn numbers_go_down_to_a_step_and_never_up() {
    let current = load(STANDARD).numbers.current;
    for (ordered, written) in [
        (0.35, "0.350"),
        (0.3509, "0.350"),
        (0.350_999, "0.350"),
        (2.0, "2.000"),
        (0.0, "0.000"),
        (0.1 + 0.2, "0.300"),
        (0.0299, "0.029"),
    ] {
        let (value, text) = current.written(ordered).unwrap();
        assert_eq!(text, written, "{ordered}");
        assert!(value <= ordered + 1e-9, "{value} is above {ordered}");
    }
    for bad in [-0.001, f64::NAN, f64::INFINITY] {
        assert_eq!(current.written(bad), None, "{bad}");
    }
}

#[test]
fn a_profile_without_off_or_without_its_proof_does_not_load() {
    assert_eq!(codes(&changed("off = \"OUTP OFF\"\n", "")), ["missing-key"]);
    assert_eq!(
        codes(&changed("off = \"OUTP OFF\"", "off = []")),
        ["bad-value"]
    );
    let no_state = changed(
        "output = { yes = [\"1\", \"ON\"]",
        "tripped = { yes = [\"1\", \"ON\"]",
    );
    assert_eq!(codes(&no_state), ["no-proof-of-off"]);
    let no_current = changed(
        "current = { unit = \"A\" }\n[[question]]\nask = \"MEAS:VOLT?\"\n",
        "",
    );
    assert_eq!(codes(&no_current), ["no-proof-of-off"]);
    let blind = changed("below = \"20 mA\"", "below = \"2 mA\"");
    assert_eq!(
        codes(&blind),
        ["bad-value"],
        "the meter may show 2.5 mA at rest"
    );
    let lax = changed("below = \"20 mA\"", "below = \"300 mA\"");
    assert_eq!(
        codes(&lax),
        ["bad-value"],
        "a threshold that a small job never reaches"
    );
}

#[test]
fn two_orders_with_the_same_bytes_do_not_load() {
    assert_eq!(
        codes(&changed("off = \"OUTP OFF\"", "off = \"OUTP ON\"")),
        ["same-bytes"]
    );
    let slip = changed(
        "set_voltage = \"VOLT {voltage}\"",
        "set_voltage = \"CURR {voltage}\"",
    );
    assert_eq!(codes(&slip), ["same-bytes"]);
    let sly = changed("prepare = [\"SYST:REM\"", "prepare = [\"OUTP ON\"");
    assert_eq!(codes(&sly), ["same-bytes"]);
    let twice = changed(
        "ask = \"MEAS:VOLT?\"\nvoltage",
        "ask = \"MEAS:VOLT?\"\ncurrent",
    );
    assert_eq!(codes(&twice), ["bad-value"]);
}

#[test]
fn placeholders_and_digits_are_checked() {
    for (from, to) in [
        ("CURR {current}\"\nset_v", "CURR {amps}\"\nset_v"),
        ("CURR {current}\"\nset_v", "CURR {voltage}\"\nset_v"),
        ("CURR {current}\"\nset_v", "CURR\"\nset_v"),
        ("on = \"OUTP ON\"", "on = \"OUTP {current}\""),
        (
            "[numbers.current]\ndecimals = 3",
            "[numbers.current]\ndecimals = 2",
        ),
        (
            "[numbers.voltage]\ndecimals = 3",
            "[numbers.voltage]\ndecimals = 3\nwidth = 5",
        ),
        (
            "[numbers.voltage]\ndecimals = 3",
            "[numbers.voltage]\ndecimals = 3\nscale = 0",
        ),
        ("longest = \"1 s\"", "longest = \"100 ms\""),
        ("off = \"OUTP OFF\"", "off = \"OUTP ÖFF\""),
        ("reply_end = \"\\r\\n\"", "reply_end = \"\""),
        (
            "reply_end = \"\\r\\n\"",
            "reply_end = \"\\n\"\nreply_bytes = 4",
        ),
        ("constant_current_bit = 0, constant_voltage_bit = 1", ""),
        (
            "output = { yes = [\"1\", \"ON\"], no",
            "output = { byte = 1, no",
        ),
        (
            "output = { yes = [\"1\", \"ON\"], no",
            "output = { bits = [40], no",
        ),
        ("baud = 9600", "baud = 1"),
        ("baud = 9600", "baud = 9600\nparitty = \"even\""),
    ] {
        assert!(!codes(&changed(from, to)).is_empty(), "{from} -> {to}");
    }
    let no_errors = changed(
        "[errors]\nask = \"SYST:ERR?\"",
        "[erors]\nask = \"SYST:ERR?\"",
    );
    assert!(!codes(&no_errors).is_empty());
}

#[test]
fn every_problem_is_told_at_once() {
    let text = STANDARD
        .replace("off = \"OUTP OFF\"\n", "")
        .replace("max_current = \"5 A\"", "max_current = 5")
        .replace("parity = \"none\"", "parity = \"nine\"")
        .replace("CURR {current}\"\nset_v", "CURR {amps}\"\nset_v");
    let told = codes(&text);
    for code in ["missing-key", "bare-number", "unknown-word", "bad-value"] {
        assert!(told.contains(&code), "{code} in {told:?}");
    }
}

#[test]
fn a_profile_survives_the_way_to_the_keeper() {
    for text in [STANDARD, TWO, TERSE] {
        let profile = load(text);
        let json = serde_json::to_string(&profile).unwrap();
        assert_eq!(
            serde_json::from_str::<SupplyProfile>(&json).unwrap(),
            profile
        );
    }
}
