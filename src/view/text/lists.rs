//! Runs and pieces, a line each.

use super::layout::{Side, Table, labelled};
use crate::ledger::{PieceRow, RunRow};
use crate::view::words::{ah, day, g, h_mm, um};

/// The runs of a ledger.
#[must_use]
pub fn runs(rows: &[RunRow]) -> String {
    if rows.is_empty() {
        return "No run is in this ledger. `nightvat rehearse` makes one.\n".to_owned();
    }
    let mut table = Table::new(&[
        ("run", Side::Figure),
        ("began", Side::Word),
        ("job", Side::Name),
        ("outcome", Side::Name),
        ("", Side::Word),
        ("h:mm", Side::Figure),
        ("Ah", Side::Figure),
        ("µm", Side::Figure),
    ]);
    for row in rows {
        let asked = row.target.map(|target| format!(" of {}", um(target)));
        let came = row.thickness.map_or_else(|| "–".to_owned(), um);
        table.row([
            row.id.to_string(),
            day(&row.began),
            row.job.clone(),
            outcome(row),
            match (row.rehearsed, row.simulated) {
                (true, _) => "rehearsed",
                (false, true) => "simulated",
                (false, false) => "",
            }
            .to_owned(),
            row.ending.map(|ending| h_mm(ending.at)).unwrap_or_default(),
            ah(row.charge.best),
            format!("{came}{}", asked.unwrap_or_default()),
        ]);
    }
    table.text()
}

/// How a run ended.
fn outcome(row: &RunRow) -> String {
    let word = row
        .ending
        .map_or("not ended", |ending| ending.outcome.state().word());
    let fault = row.ending.and_then(|ending| ending.outcome.fault());
    let fault = fault
        .map(|fault| format!(": {}", fault.code()))
        .unwrap_or_default();
    format!("{word}{fault}")
}

/// The pieces of a ledger.
#[must_use]
pub fn pieces(rows: &[PieceRow]) -> String {
    if rows.is_empty() {
        return "No piece is in this ledger.\n".to_owned();
    }
    let mut table = Table::new(&[
        ("run", Side::Figure),
        ("began", Side::Word),
        ("piece", Side::Name),
        ("Ah", Side::Figure),
        ("g", Side::Figure),
        ("µm", Side::Figure),
        ("95 %", Side::Figure),
        ("scale g", Side::Figure),
        ("gauge µm", Side::Figure),
    ]);
    for row in rows {
        let thickness = row.account.thickness;
        table.row([
            row.run.to_string(),
            day(&row.began),
            row.name.clone(),
            ah(row.account.charge.best),
            g(row.account.mass),
            um(thickness.best),
            format!("{} to {}", um(thickness.low), um(thickness.high)),
            row.weighed.map(g).unwrap_or_default(),
            row.gauged.map(um).unwrap_or_default(),
        ]);
    }
    let mut simulated: Vec<_> = rows
        .iter()
        .filter(|row| row.simulated)
        .map(|row| row.run)
        .collect();
    simulated.dedup();
    let mut text = table.text();
    if !simulated.is_empty() {
        let runs: Vec<_> = simulated.iter().map(ToString::to_string).collect();
        text.push('\n');
        text.push_str(&labelled("Simulated", &format!("run {}", runs.join(", "))));
    }
    text
}
