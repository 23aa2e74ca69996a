//! What a person does with her hands, before a run and after it: the same words on every screen.

use crate::view::text::layout::{WIDTH, wrap};
use serde::Serialize;

/// One step: the word that says it, and what goes with it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Step {
    /// What to do, in a word or a few.
    pub word: &'static str,
    /// How, or why.
    pub text: &'static str,
}

/// Before the current rises.
pub const CHECKLIST: [Step; 5] = [
    Step {
        word: "Sealed.",
        text: "Paint and lacquer are dry and whole; no bare stalk or thread drinks the bath.",
    },
    Step {
        word: "Air out of hollows.",
        text: "Tilt each piece under the surface until no bubble rises; a bubble leaves a hole.",
    },
    Step {
        word: "Sunk.",
        text: "Every piece stays under by a finger's breadth, all night, though the level falls.",
    },
    Step {
        word: "Contacts tugged.",
        text: "Tug each wire and clip gently: what moves now comes off by midnight.",
    },
    Step {
        word: "Fuse in.",
        text: "The fuse sits in the lead, the leads are the right way round, the anode hangs free.",
    },
];

/// When the run is over and the output is confirmed off.
pub const MORNING: [Step; 7] = [
    Step {
        word: "Gloves and goggles on.",
        text: "The bath is acid, and copper salts are harmful; keep soda and water at hand.",
    },
    Step {
        word: "Lift",
        text: "the pieces with the output off, and let them drip over the tank.",
    },
    Step {
        word: "Rinse",
        text: "in a still pot first; its water tops up what the tank has lost to the air. Then \
               rinse under running water where your local rules allow it.",
    },
    Step {
        word: "Neutralise",
        text: "in water with a spoon of soda.",
    },
    Step {
        word: "Rinse",
        text: "again, in clean water.",
    },
    Step {
        word: "Dry",
        text: "with warm air, hollows too: trapped bath seeps out for days.",
    },
    Step {
        word: "Weigh when dry.",
        text: "The gain against the grams above tells how well charge becomes metal here; a \
               calliper tells whether the area was right.",
    },
];

/// The steps on one line, each by its word.
#[must_use]
pub fn short(steps: &[Step]) -> String {
    let numbered = steps.iter().enumerate();
    let words =
        numbered.map(|(at, step)| format!("{}. {}", at + 1, step.word.trim_end_matches('.')));
    format!("{}.", words.collect::<Vec<_>>().join(", "))
}

/// The steps under a heading, for a terminal.
#[must_use]
pub fn text(heading: &str, steps: &[Step]) -> String {
    format!("{heading}\n{}", lines(steps))
}

/// The steps, numbered, for a terminal.
#[must_use]
pub fn lines(steps: &[Step]) -> String {
    let mut out = String::new();
    for (index, step) in steps.iter().enumerate() {
        let said = format!("{} {}", step.word, step.text);
        for (line, words) in wrap(&said, WIDTH - 4).into_iter().enumerate() {
            let mark = if line == 0 {
                format!("{}.", index + 1)
            } else {
                String::new()
            };
            out.push_str(&format!("{mark:<4}{words}\n"));
        }
    }
    out
}
