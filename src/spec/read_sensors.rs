//! Reads what a station measures beside its supply, and what it says of level, brightener and link.

use super::read_notices::command;
use super::station::{Brightener, LINK_ALLOWANCE, Level, Measures, Sensor, Source};
use super::table::Table;
use crate::units::{Charge, Length, Span};

/// A sensor is read this often where the station says nothing.
const EVERY: Span = Span::from_s(10.0);
/// A reading may take this long where the station says nothing.
const WITHIN: Span = Span::from_s(3.0);

/// How long the link may be lost.
pub(super) fn link_allowance(root: &Table<'_>) -> Option<Span> {
    let Some(table) = root.table("link") else {
        return Some(LINK_ALLOWANCE);
    };
    let allowance = table.required_quantity::<Span>("allowance")?;
    let (low, high) = (Span::from_s(5.0), Span::from_min(5.0));
    table.in_range(
        "allowance",
        allowance,
        low,
        high,
        "the time a link may be lost,",
    )
}

/// How the level falls.
pub(super) fn level(table: &Table<'_>) -> Option<Level> {
    let read = |key, low| {
        let found = table.required_quantity::<Length>(key)?;
        table.in_range(
            key,
            found,
            low,
            Length::from_mm(500.0),
            "a depth of liquid,",
        )
    };
    let above = read("above", Length::from_mm(1.0));
    let falls_a_day = read("falls_a_day", Length::ZERO);
    Some(Level {
        above: above?,
        falls_a_day: falls_a_day?,
    })
}

/// When the brightener is due.
pub(super) fn brightener(table: &Table<'_>) -> Option<Brightener> {
    let high = Charge::from_ah(100_000.0);
    let every = table
        .required_quantity::<Charge>("every")
        .and_then(|every| {
            let low = Charge::from_ah(0.1);
            table.in_range(
                "every",
                every,
                low,
                high,
                "the charge between two additions,",
            )
        });
    let since = match table.has("since") {
        false => Some(Charge::ZERO),
        true => table.quantity::<Charge>("since").and_then(|since| {
            table.in_range(
                "since",
                since,
                Charge::ZERO,
                high,
                "the charge since the last,",
            )
        }),
    };
    Some(Brightener {
        every: every?,
        since: since?,
    })
}

/// All sensors; `None` where one of them cannot be read.
pub(super) fn sensors(root: &Table<'_>) -> Option<Vec<Sensor>> {
    let read: Vec<Option<Sensor>> = root.tables("sensor").iter().map(sensor).collect();
    read.into_iter().collect()
}

fn sensor(table: &Table<'_>) -> Option<Sensor> {
    let words = Measures::ALL.map(Measures::word);
    let word = table.required_one_of("measures", &words);
    let measures = Measures::ALL
        .into_iter()
        .find(|one| Some(one.word()) == word);
    let from = source(table);
    let scale = table.number("scale").unwrap_or(1.0);
    // A guard looks for 30 s before it ends a night: it must see two numbers in them.
    let every = span(table, "every", EVERY, [1.0, 15.0]);
    let within = span(table, "within", WITHIN, [0.1, 60.0]);
    let window = window(table, measures);
    Some(Sensor {
        measures: measures?,
        from: from?,
        scale,
        every: every?,
        within: within?,
        window: window?,
    })
}

fn source(table: &Table<'_>) -> Option<Source> {
    match (table.has("file"), table.has("run")) {
        (true, false) => table.text("file").map(Source::File),
        (false, true) => command(table, true).map(Source::Command),
        (both, _) => {
            let found = if both {
                "a file and a program"
            } else {
                "neither a file nor a program"
            };
            let allowed = "one of the two that gives a number";
            let remedy = "write file = \"/path/to/number\" or run = [\"program\", \"argument\"]";
            // Both keys are looked at, so that neither counts as unknown.
            let _ = (table.text("file"), table.texts("run"));
            table.problem_at(
                if both { "run" } else { "measures" },
                found,
                allowed,
                remedy,
            );
            None
        }
    }
}

fn span(table: &Table<'_>, key: &str, usual: Span, [low, high]: [f64; 2]) -> Option<Span> {
    if !table.has(key) {
        return Some(usual);
    }
    let span = table.quantity::<Span>(key)?;
    let (low, high) = (Span::from_s(low), Span::from_s(high));
    table.in_range(key, span, low, high, "a time of a sensor,")
}

/// The window of stirring; nothing else has one here, since a bath has its own.
#[allow(clippy::option_option)] // the outer one is a problem, the inner one is "none"
fn window(table: &Table<'_>, measures: Option<Measures>) -> Option<Option<[f64; 2]>> {
    let (low, high) = (table.number("low"), table.number("high"));
    match (measures, low, high) {
        (Some(Measures::Stirring), Some(low), Some(high)) if low < high => Some(Some([low, high])),
        (Some(Measures::Stirring), _, _) => {
            let allowed = "`low` and `high`, the least and the most there should be";
            let remedy = "write low = 200 and high = 400";
            table.problem_at("measures", "stirring without a window", allowed, remedy);
            None
        }
        (Some(Measures::Temperature | Measures::Level) | None, None, None) => Some(None),
        (Some(Measures::Temperature | Measures::Level) | None, _, _) => {
            let allowed = "a window for stirring only: the bath file has that of the temperature";
            table.problem_at(
                "measures",
                "a window",
                allowed,
                "leave `low` and `high` out",
            );
            None
        }
    }
}
