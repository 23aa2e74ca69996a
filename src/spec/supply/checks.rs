//! What must hold between the parts of a supply profile. Each check guards against a night that
//! ends badly.

use super::{NumberOut, Question, Steps, SupplyProfile, Template};
use crate::exchange::Ask;
use crate::spec::Table;
use crate::spec::said::Said;
use crate::units::Current;

/// Off is proved by the state and by the current; a profile that can ask for neither is refused.
pub(super) fn proof_of_off(root: &Table<'_>, questions: &Option<Vec<Question>>) {
    let Some(questions) = questions else { return };
    let asked = questions.iter().fold(Ask::NOTHING, |all, q| all | q.asks());
    for (ask, key) in [(Ask::CURRENT, "current"), (Ask::OUTPUT, "output")] {
        if !asked.has(ask) {
            root.problem_of(
                "no-proof-of-off",
                "question",
                &format!("no question that gives `{key}`"),
                "questions for `current` and for `output`: without both, off cannot be proved",
                &format!("add a [[question]] with {key} = …, or use another supply"),
            );
        }
    }
}

/// A number written with the stated digits falls on the supply's own steps.
pub(super) fn grid(table: &Table<'_>, number: &NumberOut) {
    let digits = number.digits_per_step();
    if digits < 0.5 || (digits - digits.round()).abs() > 1e-6 * digits {
        table.problem_at(
            "decimals",
            "too few decimals for the supply's step",
            "so many that a step is a whole number of last digits",
            "add decimals, or mend the step in [ratings]",
        );
    }
}

/// Everything that needs the whole profile.
pub(super) fn whole(
    profile: &SupplyProfile,
    root: &Table<'_>,
    steps: &Table<'_>,
    off: &Table<'_>,
    numbers: &Table<'_>,
) {
    two_sources(root, &profile.questions);
    same_bytes(profile, steps);
    threshold(profile, off);
    for (key, number, most) in [
        (
            "current",
            profile.numbers.current,
            profile.ratings.max_current.a(),
        ),
        (
            "voltage",
            profile.numbers.voltage,
            profile.ratings.max_voltage.v(),
        ),
    ] {
        if number.written(most).is_none() {
            numbers.problem_at(
                key,
                "a width too narrow for the highest rating",
                "a width that holds every number up to the rating",
                "widen it, or lower the rating",
            );
        }
    }
}

/// No figure comes from two questions; only `tripped` may, and then any of them counts.
fn two_sources(root: &Table<'_>, questions: &[Question]) {
    let mut seen = Ask::NOTHING;
    for question in questions {
        let again = question.asks().and(seen).without(Ask::TRIPPED);
        if !again.is_empty() {
            root.problem_at(
                "question",
                &format!(
                    "something that `{}` gives, given by another question too",
                    question.ask
                ),
                "one question for each thing; only tripped may have several",
                "take one of them out",
            );
        }
        seen = seen | question.asks();
    }
}

/// Two orders that are one and the same on the wire: one of them is not what it says.
fn same_bytes(profile: &SupplyProfile, table: &Table<'_>) {
    let mut seen: Vec<(String, &str)> = Vec::new();
    for question in &profile.questions {
        seen.push((question.ask.clone(), "a question"));
    }
    seen.push((profile.identity.ask.clone(), "the identity question"));
    seen.extend(
        profile
            .errors
            .iter()
            .map(|e| (e.ask.clone(), "the error question")),
    );
    for (name, list) in named_with_select(&profile.steps, profile.select.as_ref()) {
        for template in list {
            let bytes = header(template);
            let twin = seen
                .iter()
                .find(|(other, by)| *other == bytes && *by != name);
            if let Some((_, by)) = twin {
                table.problem_of(
                    "same-bytes",
                    name,
                    &format!("`{}`, which is also {by}", template.text()),
                    "bytes of its own for every order",
                    "look both up in the supply's manual; one of them is wrong",
                );
            }
            seen.push((bytes, name));
        }
    }
}

fn named_with_select<'a>(
    steps: &'a Steps,
    select: Option<&'a Template>,
) -> impl Iterator<Item = (&'static str, &'a [Template])> {
    let select = select.map_or(&[][..], std::slice::from_ref);
    steps.named().into_iter().chain([("select", select)])
}

/// The bytes of a message with its number left open: two numbers under one header are one order.
fn header(template: &Template) -> String {
    match template.slot {
        None => template.before.clone(),
        Some(_) => format!("{}{{}}{}", template.before, template.after),
    }
}

/// The threshold of off lies above what a meter at rest can show, and well below what a cell draws.
fn threshold(profile: &SupplyProfile, off: &Table<'_>) {
    let least = Current::from_a(profile.ratings.read_current.half_width(0.0));
    let most = profile.ratings.max_current * 0.05;
    if profile.off.below <= least || profile.off.below > most {
        off.problem_at(
            "below",
            &profile.off.below.said(),
            &format!(
                "above {}, which the meter may show at rest, and at most {}, 5 % of the rating",
                least.said(),
                most.said()
            ),
            "choose a threshold between them",
        );
    }
}
