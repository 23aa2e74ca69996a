//! What one piece has been given.

use super::Deposit;
use crate::shape::Body;
use crate::units::{Area, Bounded, Charge, Length, Mass};

/// One piece's charge, and what that charge has made of it. A piece hung later starts its own
/// account.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Account {
    body: Body,
    deposit: Deposit,
    charge: Bounded<Charge>,
    /// Of the best charge; also where the next search starts.
    thickness: Length,
    closed: bool,
}

impl Account {
    /// An account without a charge yet.
    #[must_use]
    pub fn open(body: Body, deposit: Deposit) -> Self {
        Self::resume(body, deposit, Bounded::exact(Charge::ZERO))
    }

    /// An account that goes on from a charge on record.
    #[must_use]
    pub fn resume(body: Body, deposit: Deposit, charge: Bounded<Charge>) -> Self {
        let mut account = Self {
            body,
            deposit,
            charge,
            thickness: Length::ZERO,
            closed: false,
        };
        account.settle();
        account
    }

    /// Adds a charge with its hard bounds.
    pub fn add(&mut self, charge: Bounded<Charge>) {
        self.charge = self.charge + charge;
        self.settle();
    }

    /// Widens the bounds without moving the best charge: for a gap, or for a lie found later.
    pub fn doubt(&mut self, less: Charge, more: Charge) {
        self.charge.low -= less.abs();
        self.charge.high += more.abs();
    }

    fn settle(&mut self) {
        let best = self.charge.best.max(Charge::ZERO);
        let found = self
            .deposit
            .thickness_near(&self.body, best, self.thickness);
        self.closed = found.is_none();
        // A body that has closed stays as thick as it had room for.
        self.thickness = found.or(self.body.closes_at()).unwrap_or(self.thickness);
    }

    /// The body, as it was before the first charge.
    #[must_use]
    pub const fn body(&self) -> &Body {
        &self.body
    }

    /// What it is charged with.
    #[must_use]
    pub const fn deposit(&self) -> &Deposit {
        &self.deposit
    }

    /// The charge so far.
    #[must_use]
    pub const fn charge(&self) -> Bounded<Charge> {
        self.charge
    }

    /// Mean thickness so far, of the best charge.
    #[must_use]
    pub const fn thickness(&self) -> Length {
        self.thickness
    }

    /// True once the body has taken more than it had room for: its thickness and area no longer
    /// mean anything.
    #[must_use]
    pub const fn closed(&self) -> bool {
        self.closed
    }

    /// The area as it stands now.
    #[must_use]
    pub fn area(&self) -> Area {
        self.body.area_at(self.thickness)
    }

    /// Mass so far, of the best charge.
    #[must_use]
    pub fn mass(&self) -> Mass {
        self.deposit.mass(self.charge.best)
    }

    /// Charge still to go until a mean thickness; nothing once it is there.
    #[must_use]
    pub fn charge_to(&self, thickness: Length) -> Charge {
        let whole = self.deposit.charge_for(&self.body, thickness);
        (whole - self.charge.best).max(Charge::ZERO)
    }
}
