//! Reads what a station says of the relay in its output lead.

use super::read_station::absolute;
use super::station::{Relay, RelayLine};
use super::table::Table;
use crate::units::Span;

/// The line is toggled this often where the station says nothing.
const EVERY: Span = Span::from_ms(500.0);
/// It must stay closed over two edges that do not come: a computer may be busy.
const EDGES: f64 = 2.0;
/// With the five seconds in which off is tried, it is open within ten.
const LATEST: Span = Span::from_s(5.0);

/// The relay, if the station has one; `None` where what it says cannot be used.
#[allow(clippy::option_option)] // the outer one is a problem, the inner one is "none"
pub(super) fn relay(root: &Table<'_>, supply: Option<&str>) -> Option<Option<Relay>> {
    let Some(table) = root.table("relay") else {
        return Some(None);
    };
    let port = table
        .required_text("port")
        .and_then(|port| absolute(&table, port))
        .and_then(|port| its_own(&table, port, supply));
    let word = table.required_one_of("line", &RelayLine::ALL.map(RelayLine::word));
    let line = RelayLine::ALL
        .into_iter()
        .find(|one| Some(one.word()) == word);
    let every = every(&table);
    let opens_within = opens_within(&table, every);
    let lead = output_lead(&table);
    lead?;
    Some(Some(Relay {
        port: port?,
        line: line?,
        every: every?,
        opens_within: opens_within?,
    }))
}

/// On the supply's port every question would close it.
fn its_own(table: &Table<'_>, port: String, supply: Option<&str>) -> Option<String> {
    if supply != Some(port.as_str()) {
        return Some(port);
    }
    table.problem_at(
        "port",
        &format!("{port:?}, which is the supply's"),
        "a port of the relay's own",
        "name another port: a second adapter, or the lines of one that is not in use",
    );
    None
}

fn every(table: &Table<'_>) -> Option<Span> {
    if !table.has("every") {
        return Some(EVERY);
    }
    let every = table.quantity::<Span>("every")?;
    let (low, high) = (Span::from_ms(50.0), Span::from_s(1.0));
    table.in_range("every", every, low, high, "the time between two edges,")
}

fn opens_within(table: &Table<'_>, every: Option<Span>) -> Option<Span> {
    let found = table.required_quantity::<Span>("opens_within")?;
    let what = "the time from the last edge to an open contact,";
    let found = table.in_range("opens_within", found, Span::from_ms(150.0), LATEST, what)?;
    let least = every? * EDGES;
    if found > least {
        return Some(found);
    }
    table.problem_at(
        "opens_within",
        &format!("{} s", found.s()),
        &format!("more than two edges: more than {} s", least.s()),
        "make `every` shorter, or the hold time of the one-shot longer, and measure it again",
    );
    None
}

/// In the mains lead the supply would fall silent, and nothing could be read of it any more.
fn output_lead(table: &Table<'_>) -> Option<()> {
    match table.one_of("in_lead", &["output", "mains"]) {
        Some("mains") => {
            table.problem_at(
                "in_lead",
                "a relay in the mains lead",
                "\"output\": it is tested before each run with the supply on",
                "put its contact into the output lead and write in_lead = \"output\"",
            );
            None
        }
        Some(_) => Some(()),
        None => (!table.has("in_lead")).then_some(()),
    }
}
