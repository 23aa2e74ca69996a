//! What happened to a run that was broken off, and what can be done for its pieces.

use super::layout::{WIDTH, wrap};
use crate::units::{Bounded, Charge, Current, Span};
use crate::view::cards;
use crate::view::salvage::{SOURCE, Salvage};
use crate::view::words::{ah, amperes, lasting};

/// What is known of a run that was broken off.
#[derive(Clone, Debug, PartialEq)]
pub struct Aftermath<'a> {
    /// The run's number.
    pub run: i64,
    /// The job's name.
    pub job: &'a str,
    /// What happened, in a sentence.
    pub what: &'a str,
    /// Charge delivered.
    pub charge: Bounded<Charge>,
    /// The output as the supply last said.
    pub output_on: Option<bool>,
    /// The current as the supply last said.
    pub current: Option<Current>,
    /// When the supply said that, where it was long ago.
    pub read_at: Option<String>,
    /// Since when the output is off, and who read that, in a sentence.
    pub since: &'a str,
    /// At most so long; `None` where the computer's clock does not tell.
    pub off_for: Option<Span>,
}

/// All of it, for a terminal.
#[must_use]
pub fn salvage(of: &Aftermath<'_>, card: &Salvage) -> String {
    let mut out = String::new();
    let mut say = |text: &str| {
        for line in wrap(text, WIDTH) {
            out.push_str(&line);
            out.push('\n');
        }
    };
    say(&format!("Run {}, \"{}\": {}", of.run, of.job, of.what));
    say(&format!(
        "Delivered: {} Ah; at least {}, at most {}.",
        ah(of.charge.best),
        ah(of.charge.low),
        ah(of.charge.high)
    ));
    let state = match of.output_on {
        Some(true) => "OUTPUT ON",
        Some(false) => "output off",
        None => "nothing that can be read",
    };
    let current = of.current.map_or(String::new(), |current| {
        format!(", {} flow", amperes(current))
    });
    let when = match &of.read_at {
        Some(at) => format!("When it was last read, {at}, the supply said"),
        None => "The supply says now".to_owned(),
    };
    say(&format!("{when}: {state}{current}."));
    let off_for = of.off_for.map_or_else(
        || "For how long is not known: this computer's clock was changed.".to_owned(),
        |off_for| format!("That is {} at most.", lasting(off_for)),
    );
    say(&format!("{} {off_for}", of.since));
    say(&format!("{} ({SOURCE})", card.effect));
    out.push_str(&cards::lines(&card.steps));
    out
}
