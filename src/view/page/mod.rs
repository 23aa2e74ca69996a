//! The page a phone shows: the same sentences as the terminal, in the same order. It is drawn
//! whole; a small script only fetches it again and carries a press of a button to the daemon.

use super::text::status::{all_right, charge, done, electric, to_do};
use super::words::{clean, cm2, g, hung, percent, um};
use crate::control::State;
use crate::run::{PieceState, Snapshot};
use crate::units::Moment;
use maud::{DOCTYPE, Markup, html};

/// The style sheet, served as `/page.css`.
pub const STYLE: &str = include_str!("page.css");
/// The script, served as `/page.js`.
pub const SCRIPT: &str = include_str!("page.js");

/// What is shown beside the moment itself.
#[derive(Clone, Debug, Default)]
pub struct Beside<'a> {
    /// What a person must read before the next run: its code and its evidence.
    pub latch: Option<(&'a str, &'a str)>,
    /// It can go on.
    pub resumes: bool,
}

/// The whole page.
#[must_use]
pub fn page(of: &Snapshot, beside: &Beside<'_>, label: &dyn Fn(Moment) -> String) -> String {
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                title { (clean(&of.station)) }
                link rel="stylesheet" href="/page.css";
                script src="/page.js" defer {}
                noscript { meta http-equiv="refresh" content="5"; }
            }
            body {
                p #silent hidden { "The daemon does not answer. What stands below is old." }
                main #now { (drawn(of, beside, label)) }
                section #hands hidden {
                    @for (route, word, sure) in BUTTONS {
                        button data-route=(route) data-sure=[sure] { (word) }
                    }
                    p #answer role="status" {}
                }
                p #unpaired hidden {
                    "This browser may look. To let it act, run " code { "nightvat pair" }
                    " on the computer of the bath, and open the address it prints."
                }
            }
        }
    };
    page.into_string()
}

/// What a paired browser may do: the route, the word on the button, and what is asked first.
const BUTTONS: [(&str, &str, Option<&str>); 5] = [
    ("/pause", "Pause", None),
    (
        "/resume",
        "Go on",
        Some("Hands out of the bath, pieces covered, leads on?"),
    ),
    (
        "/stop",
        "Stop",
        Some("End this run and turn the output off?"),
    ),
    ("/hush", "I have heard", None),
    (
        "/clear",
        "I have read it",
        Some("Have you seen to the cause?"),
    ),
];

/// The part that changes.
#[must_use]
pub fn now(of: &Snapshot, beside: &Beside<'_>, label: &dyn Fn(Moment) -> String) -> String {
    drawn(of, beside, label).into_string()
}

fn drawn(of: &Snapshot, beside: &Beside<'_>, label: &dyn Fn(Moment) -> String) -> Markup {
    html! {
        header data-state=(of.state.word()) data-resumes=(beside.resumes) {
            p.over {
                (clean(&of.station))
                @if let Some(run) = of.run { " · run " (run) }
                @if let Some(job) = &of.job { " · " (clean(job)) }
            }
            h1 class=(mood(of)) { (all_right(of)) }
            p.electric { (electric(of, label)) }
        }
        @for alarm in &of.alarms {
            p.alarm {
                b { (alarm.fault.code()) } " since " (label(alarm.since)) ": " (clean(&alarm.text))
            }
        }
        @if of.run.is_some() { (figures(of, label)) }
        section { h2 { "To do" } p { (marked(&to_do(of))) } }
        @if let Some((code, text)) = beside.latch {
            section.latch {
                h2 { "To be read before the next run" }
                p { b { (code) } ": " (clean(text)) }
            }
        }
        @if !of.pieces.is_empty() { (pieces(of)) }
    }
}

/// What stands between backticks is something to type.
fn marked(text: &str) -> Markup {
    html! {
        @for (index, part) in text.split('`').enumerate() {
            @if index % 2 == 1 { code { (part) } } @else { (part) }
        }
    }
}

/// How the first sentence is to look.
fn mood(of: &Snapshot) -> &'static str {
    let said = all_right(of);
    if said.starts_with("DANGER") {
        "danger"
    } else if said.starts_with("LOOK") || said.starts_with("NOT ALL RIGHT") {
        "look"
    } else if matches!(of.state, State::Stopping) {
        "waits"
    } else {
        "well"
    }
}

fn figures(of: &Snapshot, label: &dyn Fn(Moment) -> String) -> Markup {
    html! {
        section.figures {
            p.thick {
                b { (um(of.thickness)) " µm" }
                @if let Some(target) = of.target { " of " (um(target)) " µm" }
                " · " (percent(of.progress))
            }
            progress max="1" value=(format!("{:.3}", of.progress)) {}
            dl {
                dt { "Done" } dd { (done(of, label)) }
                dt { "Charge" } dd { (charge(of)) }
            }
        }
    }
}

fn pieces(of: &Snapshot) -> Markup {
    html! {
        section {
            h2 { "Pieces" }
            table {
                thead { tr { th { "Piece" } th { "µm" } th { "95 %" } th { "g" } th { "cm²" } } }
                tbody { @for piece in of.pieces.iter().chain(&of.hangers) { (row(piece)) } }
            }
            p.note { "Means over each piece: edges and tips have more, hollows less." }
        }
    }
}

fn row(piece: &PieceState) -> Markup {
    let thickness = piece.thickness;
    html! {
        tr {
            th scope="row" { (clean(&hung(&piece.name, piece.hangs))) }
            td { (um(thickness.best)) }
            td { (um(thickness.low)) "–" (um(thickness.high)) }
            td { (g(piece.mass)) }
            td { (cm2(piece.area)) }
        }
    }
}
