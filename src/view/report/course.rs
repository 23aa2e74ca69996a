//! How the night went: its pictures and its list.

use crate::control::{Fault, State};
use crate::ledger::{ReadingRow, RunRecord};
use crate::units::{Length, Span};
use crate::view::picture::{self, Frame, Mark, Night, Panel, Series, Stretch};
use crate::view::words::{clean, h_mm, state_words, um};
use maud::{Markup, PreEscaped, html};

/// More events than this are cut in the list.
const MOST_EVENTS: usize = 200;

pub(super) fn pictures(record: &RunRecord, readings: &[ReadingRow]) -> Markup {
    let night = night(record, readings);
    html! {
        section {
            h2 { "The night" }
            @if readings.is_empty() {
                p { "No reading was taken." }
            } @else {
                figure {
                    div.wide { (PreEscaped(picture::night(&night, Frame::WIDE))) }
                    div.narrow { (PreEscaped(picture::night(&night, Frame::NARROW))) }
                    figcaption {
                        "Above: the states of the run, and what happened. Thickness is that of the "
                        "piece that governs the end."
                        @if record.thinned {
                            " Quiet hours are thinned to their extremes; nothing else is left out."
                        }
                    }
                }
            }
        }
    }
}

fn night(record: &RunRecord, readings: &[ReadingRow]) -> Night {
    let lasted = readings
        .last()
        .map_or(Span::ZERO, |row| row.at)
        .max(record.lasted());
    let line = |name, class, figure: &dyn Fn(&ReadingRow) -> Option<f64>| {
        let point = |row: &ReadingRow| figure(row).map(|figure| (row.at.h(), figure));
        Series {
            name,
            class,
            points: readings.iter().filter_map(point).collect(),
        }
    };
    let current = vec![
        line("measured", "current", &|row| {
            row.current.map(|current| current.a())
        }),
        line("setpoint", "setpoint", &|row| Some(row.setpoint.a())),
    ];
    let voltage = vec![line("measured", "voltage", &|row| {
        row.voltage.map(|voltage| voltage.v())
    })];
    let thickness = vec![line("reckoned", "thickness", &|row| {
        Some(row.thickness.um())
    })];
    let asked = |target: Length| (target.um(), format!("asked: {} µm", um(target)));
    let panel = |title, unit, series| Panel {
        title,
        unit,
        series,
        level: None,
    };
    Night {
        lasted,
        stretches: stretches(record, lasted),
        marks: record
            .events
            .iter()
            .map(|row| Mark {
                at: row.at,
                code: row.code.clone(),
                grave: is_guard(&row.code),
            })
            .collect(),
        panels: vec![
            panel("Current", "A", current),
            panel("Voltage", "V", voltage),
            Panel {
                level: record.head.target.map(asked),
                ..panel("Thickness", "µm", thickness)
            },
        ],
    }
}

fn stretches(record: &RunRecord, lasted: Span) -> Vec<Stretch> {
    let ends = record
        .states
        .iter()
        .skip(1)
        .map(|row| row.at)
        .chain([lasted]);
    let rows = record
        .states
        .iter()
        .zip(ends)
        .filter(|(row, to)| *to > row.at);
    rows.map(|(row, to)| Stretch {
        from: row.at,
        to,
        name: trade_word(row.state),
    })
    .collect()
}

/// The short word of the trade for a state of the current, and its own word for the rest.
const fn trade_word(state: State) -> &'static str {
    match state {
        State::Striking => "strike",
        State::Ramping => "ramp",
        State::Building => "build",
        State::Holding => "hold",
        State::Idle
        | State::Proving
        | State::Finished
        | State::Paused
        | State::Stopping
        | State::Stopped
        | State::Tripped
        | State::Interrupted
        | State::Unconfirmed => state.word(),
    }
}

/// True for a guard's code.
fn is_guard(code: &str) -> bool {
    Fault::from_code(code).is_some()
}

/// One line of the list: when, a word, a sentence, and whether it is a guard's.
struct Line<'a> {
    at: Span,
    word: &'a str,
    text: String,
    class: &'static str,
}

pub(super) fn timeline(record: &RunRecord) -> Markup {
    let mut lines = lines(record);
    let untold = lines.len().saturating_sub(MOST_EVENTS);
    lines.truncate(MOST_EVENTS);
    html! {
        section {
            h2 { "What happened" }
            table.timeline {
                thead.unseen { tr { th { "h:mm" } th { "what" } th { "in words" } } }
                tbody {
                    @for line in &lines {
                        tr class=(line.class) {
                            td.figure { (h_mm(line.at)) }
                            th scope="row" { (clean(line.word)) }
                            td { (clean(&line.text)) }
                        }
                    }
                }
            }
            @if untold > 0 { p.note { (untold) " more are in the ledger." } }
            p.note { "Hours and minutes since the start." }
        }
    }
}

/// States and events, in the order of their times.
fn lines(record: &RunRecord) -> Vec<Line<'_>> {
    let states = record.states.iter().map(|row| Line {
        at: row.at,
        word: row.state.word(),
        text: state_words(row.state).to_owned(),
        class: "state",
    });
    let reached = record.reached.iter().map(|row| Line {
        at: row.at,
        word: "reached",
        text: format!(
            "the target, with {} Ah",
            crate::view::words::ah(row.charge.best)
        ),
        class: "event",
    });
    let events = record.events.iter().map(|row| Line {
        at: row.at,
        word: &row.code,
        text: row.text.clone(),
        class: if is_guard(&row.code) {
            "guard"
        } else {
            "event"
        },
    });
    let told = record.events.iter().any(|row| row.code == "reached");
    let mut lines: Vec<Line<'_>> = reached
        .filter(|_| !told)
        .chain(events)
        .chain(states)
        .collect();
    // What happened at the moment of a change of state was its reason, and stands before it.
    lines.sort_by(|a, b| a.at.s().total_cmp(&b.at.s()));
    lines
}
