//! What can go wrong inside a supply, each from a physical cause.

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
        }
    }
}
