//! How far each piece has come: accounts of charge, and the area as it stands now.

use super::{Goal, Plan, Schedule};
use crate::deposit::{cover, growth, interval};
use crate::shape::Body;
use crate::units::{Area, Bounded, Charge, Current, Length, Mass, Span};

/// One electrode's account.
#[derive(Clone, Debug)]
struct Account {
    body: Body,
    covered_at_start: f64,
    cover_time: Span,
    target: Option<Charge>,
    charge: Bounded<Charge>,
    thickness: Length,
    share: f64,
    covered: Area,
}

/// The pieces and hangers of a run with their accounts, pieces first.
#[derive(Clone, Debug)]
pub struct Rack {
    accounts: Vec<Account>,
    pieces: usize,
    plan_deposit: super::Deposit,
    schedule: Schedule,
    goal: Goal,
    on: Span,
}

impl Rack {
    /// A rack on which nothing has been deposited.
    #[must_use]
    pub fn new(plan: &Plan) -> Self {
        let pieces = plan.pieces.iter().map(|piece| Account {
            body: piece.body,
            covered_at_start: piece.covered_at_start,
            cover_time: piece.cover_time,
            target: piece.target_charge,
            ..Account::bare(piece.body)
        });
        let hangers = plan.hangers.iter().map(|body| Account::bare(*body));
        let mut rack = Self {
            accounts: pieces.chain(hangers).collect(),
            pieces: plan.pieces.len(),
            plan_deposit: plan.deposit,
            schedule: plan.schedule,
            goal: plan.goal,
            on: Span::ZERO,
        };
        rack.spread();
        rack
    }

    /// Books charge that flowed while the output was on for `span`, shared by the covered areas as they stood.
    pub fn book(&mut self, charge: Bounded<Charge>, span: Span) {
        for account in &mut self.accounts {
            account.charge.low += charge.low * account.share;
            account.charge.best += charge.best * account.share;
            account.charge.high += charge.high * account.share;
            account.thickness =
                growth::thickness(&account.body, &self.plan_deposit, account.charge.best, account.thickness);
        }
        self.on += span;
        self.spread();
    }

    /// Recomputes covered areas and shares.
    fn spread(&mut self) {
        let mut total = Area::ZERO;
        for account in &mut self.accounts {
            let share = cover::share(account.covered_at_start, account.cover_time, self.on);
            account.covered = account.body.area_at(account.thickness) * share;
            total += account.covered;
        }
        for account in &mut self.accounts {
            account.share = account.covered / total;
        }
    }

    /// The current the schedule wants now, over the covered area as it stands.
    #[must_use]
    pub fn current_wanted(&self) -> Current {
        self.schedule.density(self.on) * self.covered_area()
    }

    /// The hold current over the whole area.
    #[must_use]
    pub fn hold_current(&self) -> Option<Current> {
        self.schedule.finish.map(|finish| finish.hold * self.covered_area())
    }

    /// Covered area of pieces and hangers.
    #[must_use]
    pub fn covered_area(&self) -> Area {
        self.accounts.iter().map(|account| account.covered).sum()
    }

    /// Time with the output on so far, hold not counted.
    #[must_use]
    pub fn time_on(&self) -> Span {
        self.on
    }

    /// Number of pieces.
    #[must_use]
    pub fn pieces(&self) -> usize {
        self.pieces
    }

    /// Charge through one electrode; pieces first, then hangers.
    #[must_use]
    pub fn charge(&self, index: usize) -> Bounded<Charge> {
        self.accounts[index].charge
    }

    /// Mean thickness on one electrode.
    #[must_use]
    pub fn thickness(&self, index: usize) -> Length {
        self.accounts[index].thickness
    }

    /// Mean thickness with its 95 % interval: area, efficiency, share and charge combined (JCGM 100).
    #[must_use]
    pub fn thickness_interval(&self, index: usize) -> Bounded<Length> {
        let account = &self.accounts[index];
        interval::thickness(&account.body, &self.plan_deposit, account.charge, self.accounts.len())
    }

    /// Mass on one electrode.
    #[must_use]
    pub fn mass(&self, index: usize) -> Mass {
        self.plan_deposit.metal.mass(self.accounts[index].charge.best, self.plan_deposit.efficiency)
    }

    /// Area of one electrode as it stands.
    #[must_use]
    pub fn area(&self, index: usize) -> Area {
        self.accounts[index].body.area_at(self.accounts[index].thickness)
    }

    /// Number of electrodes, hangers included.
    #[must_use]
    pub fn electrodes(&self) -> usize {
        self.accounts.len()
    }

    /// The piece that governs the end: the one furthest behind, the named one, or none for a mean or hours.
    #[must_use]
    pub fn governing(&self) -> usize {
        match self.goal {
            Goal::Piece(index) => index,
            Goal::Thinnest | Goal::RackMean(_) | Goal::Hours(_) => (0..self.pieces)
                .max_by(|a, b| self.behind(*a).total_cmp(&self.behind(*b)))
                .unwrap_or(0),
        }
    }

    /// How far behind a piece is: the share of its target that is missing, or less thickness.
    fn behind(&self, index: usize) -> f64 {
        let account = &self.accounts[index];
        match account.target {
            Some(target) => 1.0 - account.charge.best / target,
            None => -account.thickness.um(),
        }
    }

    /// The thickness shown for the run: the governing piece's, or the mean.
    #[must_use]
    pub fn shown_thickness(&self) -> Length {
        match self.goal {
            Goal::RackMean(_) => self.mean_thickness(),
            Goal::Thinnest | Goal::Piece(_) | Goal::Hours(_) => self.thickness(self.governing()),
        }
    }

    /// Mean thickness of the pieces, weighted by their areas at the start.
    #[must_use]
    pub fn mean_thickness(&self) -> Length {
        let pieces = &self.accounts[..self.pieces];
        let area: Area = pieces.iter().map(|piece| piece.body.area).sum();
        Length::from_m(
            pieces.iter().map(|piece| piece.thickness.m() * (piece.body.area / area)).sum::<f64>(),
        )
    }

    /// Share of the way to the goal, 0 to 1, by delivered charge (or time where the goal is hours).
    #[must_use]
    pub fn progress(&self) -> f64 {
        let done = match self.goal {
            Goal::Hours(hours) => self.on / hours,
            Goal::RackMean(target) => self.mean_thickness() / target,
            Goal::Thinnest | Goal::Piece(_) => 1.0 - self.behind(self.governing()),
        };
        done.clamp(0.0, 1.0)
    }

    /// Time until the goal at this current with shares as they stand; zero when it is reached, `None` when
    /// nothing flows.
    #[must_use]
    pub fn time_to_goal(&self, current: Current) -> Option<Span> {
        if let Goal::Hours(hours) = self.goal {
            return Some((hours - self.on).max(Span::ZERO));
        }
        if current.a() <= 0.0 {
            return None;
        }
        match self.goal {
            Goal::Hours(hours) => Some((hours - self.on).max(Span::ZERO)),
            Goal::Piece(index) => self.time_for_piece(index, current),
            Goal::Thinnest => (0..self.pieces)
                .map(|index| self.time_for_piece(index, current))
                .try_fold(Span::ZERO, |worst, span| span.map(|span| worst.max(span))),
            Goal::RackMean(target) => {
                let missing = target - self.mean_thickness();
                Some(Span::from_s((missing.m() / self.mean_rate(current)).max(0.0)))
            }
        }
    }

    fn time_for_piece(&self, index: usize, current: Current) -> Option<Span> {
        let account = &self.accounts[index];
        let missing = (account.target? - account.charge.best).max(Charge::ZERO);
        Some(missing / (current * account.share))
    }

    /// Growth of the mean thickness, metres per second, at a current.
    fn mean_rate(&self, current: Current) -> f64 {
        let pieces = &self.accounts[..self.pieces];
        let area: Area = pieces.iter().map(|piece| piece.body.area).sum();
        pieces
            .iter()
            .map(|piece| {
                let volume = growth::volume(&self.plan_deposit, current * piece.share * Span::from_s(1.0));
                (volume / piece.body.area_at(piece.thickness)).m() * (piece.body.area / area)
            })
            .sum()
    }
}

impl Account {
    fn bare(body: Body) -> Self {
        Self {
            body,
            covered_at_start: 1.0,
            cover_time: Span::ZERO,
            target: None,
            charge: Bounded::exact(Charge::ZERO),
            thickness: Length::ZERO,
            share: 0.0,
            covered: body.area,
        }
    }
}
