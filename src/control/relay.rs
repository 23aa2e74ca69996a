//! The relay in the output lead: held closed while a run needs current, let go to test it, cut when
//! off cannot be confirmed. What it does is no proof.

use super::event::Action;
use super::night::Night;
use super::permit::ConfirmedOff;
use crate::exchange::{Contact, Reading, Word};
use crate::units::{Current, Span};

/// Off that is not confirmed within this is cut. With the five seconds a relay may take at most
/// the lead is open within ten.
pub(super) const CUT_AFTER: Span = Span::from_s(5.0);
/// The terminals of a supply that is off, with nothing on them, show less than this share of the
/// ceiling.
const DEAD_SHARE: f64 = 0.1;

/// So many readings without a current prove an output off whose word is worth nothing.
const QUIET: u32 = 3;

/// What is said when the keeper let the relay go by itself while current was meant to flow.
pub(super) const KEEPER_CUT: &str = "the keeper let it go, since nobody renewed its lease";

/// What is known of the relay.
#[derive(Clone, Copy, Debug)]
pub(super) struct Relay {
    /// It opens within this; none where there is no relay.
    opens_within: Option<Span>,
    /// Its line was last told to stand still, or cannot be toggled.
    open: bool,
    /// It was let go since off could not be confirmed.
    cut: bool,
    /// What the supply's word for off is worth.
    word: Word,
    /// So many readings in a row have shown no current.
    quiet: u32,
}

impl Relay {
    /// Open, as at rest.
    pub(super) fn at_rest(opens_within: Option<Span>) -> Self {
        Self {
            opens_within,
            open: true,
            cut: false,
            word: Word::default(),
            quiet: 0,
        }
    }

    /// It opens within this, if there is one.
    pub(super) const fn opens_within(&self) -> Option<Span> {
        self.opens_within
    }

    /// It was let go since off could not be confirmed.
    pub(super) const fn is_cut(&self) -> bool {
        self.cut
    }

    /// It has opened, though nobody here let it go.
    pub(super) const fn opened(&mut self) {
        self.open = true;
    }
}

impl Night {
    /// Moves the contact, where there is one.
    pub(super) fn relay(&mut self, contact: Contact) {
        if self.relay.opens_within.is_none() {
            return;
        }
        self.relay.open = contact != Contact::Hold;
        self.relay.cut = matches!(contact, Contact::Cut { .. });
        self.out.push(Action::Relay(contact));
    }

    /// Lets the relay go since off cannot be confirmed. True if there is one that was not yet.
    pub(super) fn cut_lead(&mut self) -> bool {
        let first = self.relay.opens_within.is_some() && !self.relay.cut;
        if first {
            let lies = self.relay.word.is_false();
            self.relay(Contact::Cut { lies });
        }
        first
    }

    /// True if this meter cannot tell the current from nothing.
    pub(super) fn is_nothing(&self, current: Current) -> bool {
        ConfirmedOff::is_nothing(current, &self.supply)
    }

    /// The proof that the output is off. With an open lead no current says little: the supply must
    /// say off as well, and if its word is worth nothing, or it has none, its terminals must show
    /// nothing either. Behind a closed lead a false word wants several readings: a contact that is
    /// open for a moment looks like off as well.
    pub(super) fn confirms(&mut self, reading: &Reading) -> Option<ConfirmedOff> {
        let quiet = std::mem::take(&mut self.relay.quiet);
        let proof = ConfirmedOff::from_reading(reading, &self.supply)?;
        self.relay.quiet = quiet + 1;
        let is_open = self.relay.opens_within.is_some() && self.relay.open;
        let is_false = self.relay.word.is_false();
        if !is_open {
            return (!is_false || quiet + 1 >= QUIET).then_some(proof);
        }
        if reading.output == Some(false) && !is_false {
            return Some(proof);
        }
        let meter = self.supply.read_voltage.half_width(0.0);
        let dead = self.plan.limits.voltage.v() * DEAD_SHARE + meter;
        reading
            .voltage
            .is_some_and(|volts| volts.v() < dead)
            .then_some(proof)
    }

    /// Remembers what the supply says of its output while current flows.
    pub(super) fn weigh_word(&mut self, reading: &Reading) {
        let flows = reading
            .current
            .is_some_and(|current| !self.is_nothing(current));
        let is_ours = reading.channel != Some(false);
        self.relay.word.weigh(flows && is_ours, reading.output);
    }
}
