//! What hanging without current does to a metal in its bath, and what can be done for the piece:
//! common practice, no source, and said so on the card.

use super::cards::Step;
use crate::units::Span;

/// Where the facts of the card come from.
pub const SOURCE: &str = "common practice, no source";

/// What is known of a metal that hangs in its bath without current.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Habit {
    /// New metal holds on it as it is for so long.
    holds: Span,
    /// What has happened to it by then: nothing.
    still: &'static str,
    /// What has happened to it after that.
    dull: &'static str,
    /// How it is made to hold again.
    activate: &'static str,
}

const COPPER: Habit = Habit {
    holds: Span::from_s(600.0),
    still: "Copper that stayed wet in its bath for minutes takes new copper as it is.",
    dull: "Copper grows a thin dull film in its bath, acid and air eat a little of it, and what \
           the brightener leaves on it keeps new copper from holding: layers may peel.",
    activate: "half a minute in weak sulfuric acid, 5 to 10 %, until it is evenly pink; rinse.",
};
const NICKEL: Habit = Habit {
    holds: Span::from_s(30.0),
    still: "Nickel that was without current for seconds takes new nickel as it is.",
    dull: "Nickel grows a skin within a minute that new nickel does not hold on: layers peel.",
    activate: "a minute in weak sulfuric acid, 10 %, and back with the current on as soon as you \
               can; a proved recipe of your own is better than this one.",
};
const SILVER: Habit = Habit {
    holds: Span::from_s(300.0),
    still: "Silver that stayed wet in its bath for minutes takes new silver as it is.",
    dull: "Silver tarnishes slowly; what dries on it keeps new silver from holding.",
    activate: "no acid: with a cyanide bath acid makes a deadly gas. Rinse well and hang it again.",
};
const ANY: Habit = Habit {
    holds: Span::ZERO,
    still: "What this metal does without current is not known here.",
    dull: "What this metal does without current is not known here: take it that new metal does \
           not hold on it as it is.",
    activate: "as the maker of the bath says.",
};

const HANGING: [Step; 2] = [
    Step {
        word: "Leave it hanging.",
        text: "Wet and under the surface is the best place for it.",
    },
    Step {
        word: "Look:",
        text: "every piece is under, the leads are on, and what broke the night off is mended.",
    },
];
const LIFTING: [Step; 3] = [
    Step {
        word: "Gloves and goggles on.",
        text: "The supply's output is off; look at its display as well.",
    },
    Step {
        word: "Lift",
        text: "one piece after the other. Let none of them dry: new metal does not hold on salts.",
    },
    Step {
        word: "Rinse",
        text: "at once, in clean water, hollows too.",
    },
];
const HANG_AGAIN: Step = Step {
    word: "Hang again,",
    text: "wet, no bubble under it, every contact tugged.",
};
const GO_ON: Step = Step {
    word: "Go on:",
    text: "`nightvat resume` proves supply and cell again and comes up over a short ramp. To give \
           the run up instead: `nightvat clear`.",
};
const GIVE_UP: Step = Step {
    word: "Then",
    text: "see to the cause, `nightvat clear`, and a job for what is missing.",
};

/// What to do for pieces that have hung without current.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Salvage {
    /// What it has done to the metal.
    pub effect: &'static str,
    /// What to do, in order.
    pub steps: Vec<Step>,
}

/// How long a metal may hang without current until it must be lifted, rinsed and activated; of a
/// metal that is not known here, not at all.
#[must_use]
pub fn holds_for(metal: Option<&str>) -> Span {
    habit(metal).holds
}

/// The card for a metal, by its name, after so long without current; a time that is not known is a
/// long one. `resumes`: the run can go on.
#[must_use]
pub fn salvage(metal: Option<&str>, off_for: Option<Span>, resumes: bool) -> Salvage {
    let habit = habit(metal);
    let last = if resumes { GO_ON } else { GIVE_UP };
    if off_for.is_some_and(|off_for| off_for <= habit.holds) {
        let steps = HANGING.into_iter().chain([last]).collect();
        return Salvage {
            effect: habit.still,
            steps,
        };
    }
    let activate = Step {
        word: "Activate:",
        text: habit.activate,
    };
    let steps = LIFTING.into_iter().chain([activate, HANG_AGAIN, last]);
    Salvage {
        effect: habit.dull,
        steps: steps.collect(),
    }
}

fn habit(metal: Option<&str>) -> &'static Habit {
    match metal {
        Some("copper") => &COPPER,
        Some("nickel") => &NICKEL,
        Some("silver") => &SILVER,
        Some(_) | None => &ANY,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::deposit::Metal;

    fn words(card: &Salvage) -> Vec<&str> {
        card.steps.iter().map(|step| step.word).collect()
    }

    #[test]
    fn minutes_on_copper_just_go_on_and_hours_are_lifted_rinsed_activated_and_hung_again() {
        let soon = salvage(Some("copper"), Some(Span::from_min(10.0)), true);
        assert_eq!(words(&soon), ["Leave it hanging.", "Look:", "Go on:"]);
        let late = salvage(Some("copper"), Some(Span::from_min(10.1)), true);
        assert_eq!(
            salvage(Some("copper"), None, true),
            late,
            "not known is long"
        );
        let order = ["Lift", "Rinse", "Activate:", "Hang again,", "Go on:"];
        assert_eq!(words(&late)[1..], order);
    }

    #[test]
    fn a_run_that_cannot_go_on_is_not_told_to() {
        let card = salvage(Some("nickel"), Some(Span::from_min(5.0)), false);
        assert!(!words(&card).contains(&"Go on:"), "{card:?}");
        assert!(card.effect.contains("peel"));
    }

    #[test]
    fn every_metal_that_baths_lay_down_has_a_card_of_its_own_and_others_are_never_trusted() {
        for metal in Metal::ALL {
            assert_ne!(*habit(Some(metal.name)), ANY, "{}", metal.name);
        }
        assert_eq!(holds_for(Some("unheard")), Span::ZERO);
        assert!(
            salvage(None, Some(Span::from_s(1.0)), true)
                .effect
                .contains("not known")
        );
    }
}
