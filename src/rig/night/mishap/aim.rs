//! Mishaps that are aimed at the short and the rare states, each kind at each of them in turn:
//! where they fall by chance alone they would hardly ever meet.

use super::draw::{draw_class, in_house, in_supply};
use super::{Class, Mishap, When};
use crate::rig::night::die::Die;
use crate::units::Span;

/// The states, and how long one lasts at the least, s.
const STATES: [(&str, f64); 5] = [
    ("proving", 8.0),
    ("holding", 60.0),
    ("paused", 20.0),
    ("stopping", 0.1),
    ("unconfirmed", 8.0),
];

/// What is aimed.
#[derive(Clone, Debug)]
pub struct Aimed {
    /// What happens.
    pub mishaps: Vec<Mishap>,
    /// It needs a relay in the output lead.
    pub needs_relay: bool,
}

/// The mishap with this number, of all kinds and states in turn, and what brings the state about.
/// `length` is how long the night is to take.
#[must_use]
pub fn aimed(die: &mut Die, number: usize, length: Span) -> Aimed {
    let class = Class::ALL[number % Class::ALL.len()];
    let (state, lasts) = STATES[number / Class::ALL.len() % STATES.len()];
    let when = When::In(state, Span::from_s(die.between(0.0, lasts)));
    let mild = die.chance(0.5);
    let aimed = draw_class(die, class, when, mild, length);
    let at = Span::from_s(die.between(0.1, 0.9) * length.s());
    let mut mishaps = Vec::with_capacity(3);
    match state {
        "paused" => mishaps.push(in_house(die, Class::Pause, When::At(at), true)),
        "stopping" => mishaps.push(in_house(die, Class::Stop, When::At(at), true)),
        "unconfirmed" => {
            mishaps.push(in_supply(die, Class::IgnoresOff, When::At(at), false));
            let stop = When::At(at + Span::from_s(20.0));
            mishaps.push(in_house(die, Class::Stop, stop, true));
        }
        _ => {}
    }
    mishaps.push(aimed);
    Aimed {
        mishaps,
        needs_relay: matches!(class, Class::CutOffStuck | Class::CutOffPortLost),
    }
}
