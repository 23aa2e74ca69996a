//! Reads the table of looks.

use super::embedded;
use super::problem::Problems;
use super::sheet::Sheet;
use super::table::Table;
use crate::bath::looks::{Cause, Clue, LOOKS};

/// The table that is built in.
///
/// # Errors
/// Every problem of it; a test holds that there is none.
pub fn built_in() -> Result<Vec<Cause>, Problems> {
    read("embedded:looks.toml", embedded::CAUSES)
}

/// Reads the text of a table of looks.
///
/// # Errors
/// Every problem of the text, in its order.
pub fn read(path: &str, text: &str) -> Result<Vec<Cause>, Problems> {
    let sheet = Sheet::parse(path, text);
    let root = sheet.root();
    let causes = root.tables("cause").iter().map(cause).collect();
    root.end();
    sheet.finish(causes)
}

fn cause(table: &Table<'_>) -> Option<Cause> {
    let looks = table.texts("looks");
    table.need("looks", "how it looks", "looks = [\"dull\"]");
    for look in &looks {
        if !LOOKS.contains(&look.as_str()) {
            let allowed = format!("looks among {}", LOOKS.join(", "));
            table.problem_at("looks", &format!("{look:?}"), &allowed, "use one of these");
        }
    }
    let words = Clue::ALL.map(Clue::word);
    let clue = table.required_one_of("clue", &words);
    let name = table.required_text("name");
    let weight = table.required_number("weight");
    let change = table.required_text("change");
    let apart = table.required_text("apart");
    let source = table.required_text("source");
    Some(Cause {
        looks,
        name: name?,
        weight: weight.filter(|weight| *weight > 0.0)?,
        clue: Clue::ALL.into_iter().find(|one| Some(one.word()) == clue)?,
        change: change?,
        apart: apart?,
        source: source?,
    })
}
