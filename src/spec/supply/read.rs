//! The TOML of a supply profile, read section by section. Every section reads all its keys before
//! it gives up, so that every problem of a file is told at once.

use super::{
    Acknowledge, End, ErrorQueue, Flow, Framing, IdentityRule, LineSettings, OffRule, OwnWatchdog,
    Parity, Ratings, SupplyProfile, Timing, checks, question, steps,
};
use crate::exchange::{OnMainsReturn, Tolerance};
use crate::spec::node::Value;
use crate::spec::{Problems, Sheet, Table};
use crate::units::{Fraction, Quantity, Span};

/// Reads a supply profile.
///
/// # Errors
/// Every problem of the text, with its place. A profile without an off step or without a proof of
/// off is one.
pub fn read(file: &str, text: &str) -> Result<SupplyProfile, Problems> {
    let sheet = Sheet::parse(file, text);
    let profile = profile(&sheet.root());
    sheet.finish(profile)
}

fn profile(root: &Table<'_>) -> Option<SupplyProfile> {
    let name = root.required_text("name");
    let provenance = root.required_text("provenance");
    let identity_table = root.required_table("identity");
    let framing = root.required_table("framing").and_then(|t| framing(&t));
    let line = root.required_table("line").and_then(|t| line(&t));
    let timing = root.required_table("timing").and_then(|t| timing(&t));
    let identity = identity_table.and_then(|t| identity(&t));
    let errors_table = root.table("errors");
    let errors = errors_table.as_ref().and_then(errors);
    let acknowledge = match root.table("acknowledge") {
        Some(t) => acknowledge(&t, errors_table.is_some()),
        None => Some(Acknowledge::Nothing),
    };
    let ratings_table = root.required_table("ratings");
    let ratings = ratings_table.as_ref().and_then(ratings);
    let numbers_table = root.required_table("numbers");
    let numbers = numbers_table
        .as_ref()
        .and_then(|t| steps::numbers(t, ratings.as_ref()));
    let steps_table = root.required_table("steps");
    let (steps, select) = steps_table.as_ref().map_or((None, None), steps::steps);
    let questions = question::questions(root, framing.as_ref());
    let off_table = root.required_table("off");
    let off = off_table.as_ref().and_then(off);
    checks::proof_of_off(root, &questions);
    let watchdog = root.table("watchdog").map(|t| watchdog(&t));
    let profile = SupplyProfile {
        name: name?,
        identity: identity?,
        line: line?,
        framing: framing?,
        timing: timing?,
        acknowledge: acknowledge?,
        errors,
        select,
        steps: steps?,
        numbers: numbers?,
        questions: questions?,
        ratings: ratings?,
        off: off?,
        watchdog: watchdog.map_or(Some(None), |own| own.map(Some))?,
        provenance: provenance?,
    };
    checks::whole(&profile, root, &steps_table?, &off_table?, &numbers_table?);
    Some(profile)
}

/// How a reply ends, where a table says so; one way at most.
pub(super) fn end(table: &Table<'_>) -> Option<End> {
    let byte = table
        .text("reply_end")
        .map(|text| End::Byte(text.into_bytes()));
    let count = table.whole("reply_bytes", 1, 4096);
    let count = count.and_then(|n| usize::try_from(n).ok()).map(End::Count);
    let quiet = table.quantity::<Span>("reply_quiet").and_then(|span| {
        table.in_range(
            "reply_quiet",
            span,
            Span::from_ms(1.0),
            Span::from_s(5.0),
            "a silence",
        )
    });
    let quiet = quiet.map(|span| End::Quiet(whole_ms(span)));
    if byte == Some(End::Byte(Vec::new())) {
        table.problem_at(
            "reply_end",
            "an empty text",
            "the bytes that end a reply, \"\\n\" or \"\\r\\n\"",
            "name them, or use reply_bytes or reply_quiet",
        );
        return None;
    }
    let ways = [byte, count, quiet];
    if ways.iter().flatten().count() > 1 {
        table.problem_at(
            "reply_end",
            "more than one way to end a reply",
            "one of reply_end, reply_bytes, reply_quiet",
            "keep one of them",
        );
    }
    ways.into_iter().flatten().next()
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)] // 1 to 5000
fn whole_ms(span: Span) -> u32 {
    span.ms().round() as u32
}

/// A text that goes over the wire: nothing beyond ASCII, whose bytes would be anybody's guess.
pub(super) fn wire_text(table: &Table<'_>, key: &str, text: Option<String>) -> Option<String> {
    let text = text?;
    if text.is_ascii() {
        return Some(text);
    }
    table.problem_at(
        key,
        "a letter beyond ASCII",
        "ASCII, with \\u0001 and the like for control characters",
        "write it in ASCII",
    );
    None
}

fn identity(table: &Table<'_>) -> Option<IdentityRule> {
    let ask = wire_text(table, "ask", table.required_text("ask"));
    let end = end(table);
    let patterns = table.texts("match");
    if patterns.is_empty() {
        table.need(
            "match",
            "a list of patterns, * for any text",
            "match = [\"*,MODEL,*\"]",
        );
    }
    let shape = table.text("shape").unwrap_or_else(|| "*".to_owned());
    let tries = table.whole("tries", 1, 10).unwrap_or(3);
    Some(IdentityRule {
        ask: ask?,
        end,
        patterns,
        shape,
        tries: u8::try_from(tries).ok()?,
    })
}

fn line(table: &Table<'_>) -> Option<LineSettings> {
    let baud = table.required_whole("baud", 50, 4_000_000);
    let bits = table.whole("bits", 7, 8).unwrap_or(8);
    let stop = table.whole("stop", 1, 2).unwrap_or(1);
    let parity = match table.one_of("parity", &["none", "even", "odd"]) {
        Some("even") => Parity::Even,
        Some("odd") => Parity::Odd,
        Some(_) | None => Parity::None,
    };
    let flow = match table.one_of("flow", &["none", "hardware", "software"]) {
        Some("hardware") => Flow::Hardware,
        Some("software") => Flow::Software,
        Some(_) | None => Flow::None,
    };
    let dtr = table.one_of("dtr", &["on", "off"]).map(|word| word == "on");
    let wait = span_or(table, "wait_after_open", Span::ZERO, Span::from_s(10.0));
    Some(LineSettings {
        baud: u32::try_from(baud?).ok()?,
        bits: u8::try_from(bits).ok()?,
        parity,
        stop: u8::try_from(stop).ok()?,
        flow,
        dtr,
        wait_after_open: wait?,
    })
}

fn framing(table: &Table<'_>) -> Option<Framing> {
    let send_end = wire_text(table, "send_end", table.text("send_end"));
    if send_end.is_none() {
        table.need(
            "send_end",
            "what ends a message; may be empty",
            "send_end = \"\\n\"",
        );
    }
    let reply_end = end(table);
    if reply_end.is_none() {
        let example = "reply_end = \"\\n\", reply_bytes = 6 or reply_quiet = \"20 ms\"";
        table.need("reply_end", "how a reply ends", example);
    }
    let longest = table.whole("longest_reply", 1, 4096).unwrap_or(256);
    let echo = table.flag("echo").unwrap_or(false);
    if echo && !matches!(reply_end, None | Some(End::Quiet(_))) {
        table.problem_at(
            "echo",
            "an echo in front of replies that end at a byte or a count",
            "reply_quiet where the supply echoes",
            "end replies by silence: reply_quiet = \"50 ms\"",
        );
    }
    let longest_reply = usize::try_from(longest).ok()?;
    Some(Framing {
        send_end: send_end?,
        reply_end: reply_end?,
        longest_reply,
        echo,
    })
}

fn timing(table: &Table<'_>) -> Option<Timing> {
    let first_byte = required_span(table, "first_byte", Span::from_ms(1.0), Span::from_s(10.0));
    let between = required_span(table, "between", Span::from_ms(1.0), Span::from_s(2.0));
    let longest = required_span(table, "longest", Span::from_ms(1.0), Span::from_s(10.0));
    let command = span_or(table, "gap_after_command", Span::ZERO, Span::from_s(5.0));
    let question = span_or(table, "gap_after_question", Span::ZERO, Span::from_s(5.0));
    let timing = Timing {
        first_byte: first_byte?,
        between: between?,
        gap_after_command: command?,
        gap_after_question: question?,
        longest: longest?,
    };
    if timing.longest < timing.first_byte.max(timing.between) {
        table.problem_at(
            "longest",
            "less than first_byte or between",
            "the time after which no reply can still come",
            "make it at least as long as both",
        );
    }
    Some(timing)
}

fn span_or(table: &Table<'_>, key: &str, low: Span, high: Span) -> Option<Span> {
    if !table.has(key) {
        return Some(low);
    }
    let span = table.quantity::<Span>(key)?;
    table.in_range(key, span, low, high, "a time")
}

fn required_span(table: &Table<'_>, key: &str, low: Span, high: Span) -> Option<Span> {
    let span = table.required_quantity::<Span>(key)?;
    table.in_range(key, span, low, high, "a time")
}

fn errors(table: &Table<'_>) -> Option<ErrorQueue> {
    let ask = wire_text(table, "ask", table.required_text("ask"));
    let (events, noise) = (codes(table, "events"), codes(table, "noise"));
    let empty = codes(table, "empty");
    if empty.len() > 1 {
        table.problem_at(
            "empty",
            "several numbers",
            "one number",
            "write empty = [0]",
        );
    }
    let empty = empty.first().copied().unwrap_or(0);
    Some(ErrorQueue {
        ask: ask?,
        empty,
        events,
        noise,
    })
}

/// A list of whole numbers, signed.
fn codes(table: &Table<'_>, key: &str) -> Vec<i32> {
    let list = |value: &Value| match value {
        Value::List(items) => items.iter().map(|item| as_code(&item.value)).collect(),
        Value::Whole(_) => as_code(value).map(|code| vec![code]),
        Value::Text(_) | Value::Number(_) | Value::Flag(_) | Value::Date | Value::Table(_) => None,
    };
    let Some(node) = table.node(key) else {
        return Vec::new();
    };
    list(&node.value).unwrap_or_else(|| {
        table.problem_at(
            key,
            "something that is no list of numbers",
            "a list of whole numbers",
            "write [-100, -101]",
        );
        Vec::new()
    })
}

fn as_code(value: &Value) -> Option<i32> {
    match value {
        Value::Whole(Some(whole)) => i32::try_from(*whole).ok(),
        Value::Whole(None)
        | Value::Text(_)
        | Value::Number(_)
        | Value::Flag(_)
        | Value::Date
        | Value::List(_)
        | Value::Table(_) => None,
    }
}

fn acknowledge(table: &Table<'_>, has_queue: bool) -> Option<Acknowledge> {
    match table.required_one_of("by", &["nothing", "token", "error-queue"])? {
        "nothing" => Some(Acknowledge::Nothing),
        "token" => {
            let yes = table.required_text("yes");
            let no = table.text("no");
            Some(Acknowledge::Token { yes: yes?, no })
        }
        _ => {
            if !has_queue {
                table.problem_at(
                    "by",
                    "the error queue, which the file does not describe",
                    "an [errors] table beside it",
                    "add [errors] with ask = \"SYST:ERR?\"",
                );
            }
            Some(Acknowledge::ErrorQueue)
        }
    }
}

fn ratings(table: &Table<'_>) -> Option<Ratings> {
    let max_current = table.required_quantity("max_current");
    let max_voltage = table.required_quantity("max_voltage");
    let set_current = tolerance::<crate::units::Current>(table, "set_current");
    let set_voltage = tolerance::<crate::units::Voltage>(table, "set_voltage");
    let read_current = tolerance::<crate::units::Current>(table, "read_current");
    let read_voltage = tolerance::<crate::units::Voltage>(table, "read_voltage");
    let interval = span_or(table, "least_set_interval", Span::ZERO, Span::from_h(1.0));
    let words = ["off", "on", "unknown"];
    let on_mains_return = match table.required_one_of("on_mains_return", &words) {
        Some("off") => OnMainsReturn::Off,
        Some("on") => OnMainsReturn::On,
        Some(_) | None => OnMainsReturn::Unknown,
    };
    Some(Ratings {
        max_current: max_current?,
        max_voltage: max_voltage?,
        set_current: set_current?,
        set_voltage: set_voltage?,
        read_current: read_current?,
        read_voltage: read_voltage?,
        least_set_interval: interval?,
        on_mains_return,
    })
}

fn tolerance<Q: Quantity>(table: &Table<'_>, key: &str) -> Option<Tolerance> {
    let table = table.required_table(key)?;
    let share = table
        .quantity::<Fraction>("share")
        .map_or(0.0, Fraction::share);
    let fixed = table.quantity::<Q>("fixed").map_or(0.0, Quantity::to_si);
    let step = table.required_quantity::<Q>("step").map(Quantity::to_si);
    let tolerance = Tolerance {
        share,
        fixed,
        step: step?,
    };
    if tolerance.share < 0.0 || tolerance.fixed < 0.0 || tolerance.step <= 0.0 {
        table.problem_at(
            "step",
            "a tolerance below zero, or a step of nothing",
            "share and fixed of zero or more, step above zero",
            "write the sizes without signs",
        );
    }
    Some(tolerance)
}

/// Its time is longer than the keeper's lease, so that the keeper, which proves off, acts first.
fn watchdog(table: &Table<'_>) -> Option<OwnWatchdog> {
    let within = required_span(table, "within", Span::from_s(8.0), Span::from_min(10.0));
    let step = |key: &str| steps::required_step(table, key, None);
    let (arm, renew, disarm) = (step("arm"), step("renew"), step("disarm"));
    Some(OwnWatchdog {
        within: within?,
        arm,
        renew,
        disarm,
    })
}

fn off(table: &Table<'_>) -> Option<OffRule> {
    let below = table.required_quantity("below");
    let repeats = table.whole("repeats", 1, 10).unwrap_or(2);
    let settle = span_or(table, "settle", Span::ZERO, Span::from_s(5.0));
    Some(OffRule {
        below: below?,
        repeats: u8::try_from(repeats).ok()?,
        settle: settle?,
    })
}
