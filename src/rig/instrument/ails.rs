//! What can go wrong inside a supply, each from a physical cause.

use super::panel::Settings;

/// A mishap inside a supply, or its repair.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ail {
    /// The converter behind the display stops at what it shows, or goes on.
    Frozen(bool),
    /// The shunt of the meter has drifted: what it shows over what it should.
    ReadGain(f64),
    /// The amplifier that holds the current has drifted: what flows over what should.
    SetGain(f64),
    /// The output takes no off: the command is swallowed and the supply says on.
    KeepsOn(bool),
    /// The contacts of the output relay weld when they are closed: the supply says off.
    Welded(bool),
    /// It swallows every off, says off and shows nothing: beyond what any reading can tell.
    SwallowsOff,
    /// The over-voltage protection is turned, at the panel, to this share of the voltage that is
    /// set.
    GuardVolts(f64),
    /// Every setting is acknowledged and none is taken.
    TakesNothing(bool),
    /// Protection levels are acknowledged and not taken.
    ForgetsGuards(bool),
    /// Another output is selected at the panel, and stays selected whatever the wire says. Nothing
    /// hangs on it.
    OtherOutput(bool),
    /// Somebody hung the leads on the other output.
    LeadsElsewhere(bool),
    /// Replies are so much later, s: a supply that is busy with its display.
    Slow(f64),
    /// Its self-test finds a fault and enters it in the error queue; without one nothing happens.
    Hardware,
}

/// What ails a supply.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Ails {
    pub(super) frozen: Option<[f64; 2]>,
    pub(super) read_gain: f64,
    pub(super) set_gain: f64,
    pub(super) keeps_on: bool,
    pub(super) welded: bool,
    pub(super) swallows_off: bool,
    pub(super) takes_nothing: bool,
    pub(super) forgets_guards: bool,
    /// What the wire speaks to in place of the output that is wired.
    pub(super) other_output: Option<Settings>,
    pub(super) leads_elsewhere: bool,
    pub(super) later_s: f64,
}

impl Default for Ails {
    fn default() -> Self {
        Self {
            frozen: None,
            read_gain: 1.0,
            set_gain: 1.0,
            keeps_on: false,
            welded: false,
            swallows_off: false,
            takes_nothing: false,
            forgets_guards: false,
            other_output: None,
            leads_elsewhere: false,
            later_s: 0.0,
        }
    }
}
