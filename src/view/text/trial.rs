//! Two runs side by side, readings as CSV, and what may be behind a look.

use super::layout::{Side, Table, labelled};
use crate::bath::looks::Ranked;
use crate::ledger::{ReadingRow, RunId};
use crate::units::{Current, CurrentDensity, Voltage};
use crate::view::json::{mode, set};
use crate::view::words::{ah, cm2, day, g, h_mm, um};
use crate::view::{Trial, unlike};
use std::fmt::Write;

/// Causes that are shown.
const SHOWN: usize = 4;

/// Two runs.
#[must_use]
pub fn compared(trials: &[Trial; 2]) -> String {
    let [one, other] = trials;
    let heading = trials
        .each_ref()
        .map(|trial| format!("run {}", trial.record.id));
    let mut table = Table::new(&[
        ("", Side::Word),
        (&heading[0], Side::Name),
        (&heading[1], Side::Name),
    ]);
    let mut row = |label: &str, of: &dyn Fn(&Trial) -> String| {
        table.row([label.to_owned(), of(one), of(other)]);
    };
    let density = |it: CurrentDensity| format!("{:.2}", it.a_per_dm2());
    row("job", &|it| it.record.head.job.clone());
    row("bath", &|it| it.bath().to_owned());
    row("began", &|it| day(&it.record.head.began));
    row("area cm2", &|it| cm2(it.area()));
    row("A/dm2, mean", &|it| {
        it.density().map_or_else(|| "–".to_owned(), density)
    });
    row("h:mm", &|it| h_mm(it.flowed));
    row("Ah", &|it| ah(it.record.charge.best));
    row("µm", &|it| {
        it.record.thickness.map_or_else(|| "–".to_owned(), um)
    });
    row("g by the scale", &|it| {
        it.weighed()
            .map_or_else(|| "not weighed".to_owned(), |(mass, _)| g(mass))
    });
    row("g/Ah by the scale", &|it| {
        it.weighed().map_or_else(
            || "–".to_owned(),
            |(mass, charge)| format!("{:.3}", mass.g() / charge.ah()),
        )
    });
    row("gauge µm", &|it| {
        let read: Vec<String> = it
            .pieces
            .iter()
            .filter_map(|one| one.gauged)
            .map(um)
            .collect();
        if read.is_empty() {
            "not gauged".to_owned()
        } else {
            read.join(", ")
        }
    });
    row("looks", &|it| {
        if it.looks.is_empty() {
            "not said".to_owned()
        } else {
            it.looks.join(", ")
        }
    });
    let mut out = table.text();
    for text in unlike(trials) {
        out.push_str(&labelled("Not alike", &text));
    }
    out
}

/// The readings as CSV: a comma between, a point in numbers, empty where nothing was read.
#[must_use]
pub fn exported(readings: &[ReadingRow]) -> String {
    let mut out = String::from("t_s,current_a,voltage_v,setpoint_a,mode,charge_ah,thickness_um\n");
    let number = |value: Option<f64>| value.map_or_else(String::new, |it| it.to_string());
    for one in readings {
        // Writing to a text cannot fail.
        let _ = writeln!(
            out,
            "{},{},{},{},{},{},{}",
            one.at.s(),
            number(one.current.map(Current::a)),
            number(one.voltage.map(Voltage::v)),
            set(one.setpoint),
            one.mode.map_or("", mode),
            one.charge.ah(),
            one.thickness.um()
        );
    }
    out
}

/// What may be behind a look.
#[must_use]
pub fn looked(run: RunId, looks: &[String], ranked: &[Ranked<'_>]) -> String {
    let mut out = labelled("Looks", &format!("run {run}: {}", looks.join(", ")));
    for (one, place) in ranked.iter().take(SHOWN).zip(1..) {
        out.push('\n');
        out.push_str(&labelled(&format!("Cause {place}"), &one.cause.name));
        if let Some(found) = one.evidence {
            let label = if found.speaks_for {
                "  for it"
            } else {
                "  against"
            };
            out.push_str(&labelled(label, &found.text));
        }
        out.push_str(&labelled("  apart", &one.cause.apart));
        out.push_str(&labelled("  source", &one.cause.source));
    }
    if let Some(first) = ranked.first() {
        out.push('\n');
        let text = format!("{}; nothing else at the same time", first.cause.change);
        out.push_str(&labelled("Change", &text));
    }
    out
}
