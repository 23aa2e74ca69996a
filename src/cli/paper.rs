//! Printing: data on standard output, and a reader who has gone away is no error.

use std::io::Write;

/// Prints a JSON value on one line.
pub(super) fn print_json(value: &impl serde::Serialize) {
    match serde_json::to_string(value) {
        Ok(line) => print_text(&line),
        Err(fault) => say(&format!("error: cannot write JSON: {fault}")),
    }
}

/// Prints a text and a line end.
pub(super) fn print_text(text: &str) {
    let mut out = std::io::stdout().lock();
    // A pipe closed by `head` ends the output, not the command.
    let _ = writeln!(out, "{}", text.trim_end_matches('\n')).and_then(|()| out.flush());
}

/// A label in RFC 3339 as a person says it: `Thu 07:44`. Anything else is left as it is.
pub(super) fn day_and_time(label: &str) -> String {
    shown(label, "%a %H:%M")
}

/// The same to the second, for what may have happened just now.
pub(super) fn day_time_and_second(label: &str) -> String {
    shown(label, "%a %H:%M:%S")
}

fn shown(label: &str, form: &str) -> String {
    chrono::DateTime::parse_from_rfc3339(label)
        .map_or_else(|_| label.to_owned(), |at| at.format(form).to_string())
}

/// Says something on standard error. A terminal that is gone is no error either.
pub(super) fn say(words: &impl std::fmt::Display) {
    let _ = writeln!(std::io::stderr().lock(), "{words}");
}

/// A path that means the same to the daemon; a built-in name stays as it is.
pub(super) fn absolute(path: &str) -> String {
    if path.starts_with("embedded:") {
        return path.to_owned();
    }
    std::path::absolute(path).map_or_else(|_| path.to_owned(), |path| path.display().to_string())
}
