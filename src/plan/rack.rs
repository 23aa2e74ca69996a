//! How far each piece has come: accounts of charge, and the area as it stands now.

use super::{Goal, Plan, Schedule};
use crate::deposit::{Account, Cover, thickness_interval};
use crate::units::{Area, Bounded, Charge, Current, Length, Mass, Span};

/// Half-width of the 95 % interval of a piece's current density against the rack's mean, as a
/// share: place, contact and shading (`common practice, no source`). One electrode alone has no
/// share to be wrong.
pub const SHARE_DOUBT: f64 = 0.10;

/// One electrode.
#[derive(Clone, Debug)]
struct Electrode {
    account: Account,
    cover: Cover,
    target: Option<Charge>,
    covered: Area,
    share: f64,
}

/// The pieces and hangers of a run with their accounts, pieces first.
#[derive(Clone, Debug)]
pub struct Rack {
    electrodes: Vec<Electrode>,
    pieces: usize,
    schedule: Schedule,
    goal: Goal,
    on: Span,
}

impl Rack {
    /// A rack on which nothing has been deposited.
    #[must_use]
    pub fn new(plan: &Plan) -> Self {
        let hung = |body, cover, target| Electrode {
            account: Account::open(body, plan.deposit),
            cover,
            target,
            covered: Area::ZERO,
            share: 0.0,
        };
        let pieces = plan
            .pieces
            .iter()
            .map(|one| hung(one.body, one.cover, one.target_charge));
        let hangers = plan
            .hangers
            .iter()
            .map(|body| hung(*body, Cover::METAL, None));
        let mut rack = Self {
            electrodes: pieces.chain(hangers).collect(),
            pieces: plan.pieces.len(),
            schedule: plan.schedule,
            goal: plan.goal,
            on: Span::ZERO,
        };
        rack.spread();
        rack
    }

    /// A rack that goes on from charges on record, one for each electrode, pieces first, after so
    /// long with the output on.
    #[must_use]
    pub fn resume(plan: &Plan, charges: &[Bounded<Charge>], on: Span) -> Self {
        let mut rack = Self::new(plan);
        for (electrode, charge) in rack.electrodes.iter_mut().zip(charges) {
            let account = &electrode.account;
            electrode.account = Account::resume(*account.body(), *account.deposit(), *charge);
        }
        rack.on = on;
        rack.spread();
        rack
    }

    /// Books charge that flowed while the output was on for `span`, shared by the covered areas as
    /// they stood.
    pub fn book(&mut self, charge: Bounded<Charge>, span: Span) {
        for electrode in &mut self.electrodes {
            electrode.account.add(Bounded {
                low: charge.low * electrode.share,
                best: charge.best * electrode.share,
                high: charge.high * electrode.share,
            });
        }
        self.on += span;
        self.spread();
    }

    /// Lets the next charge be shared as it is on another moment's rack.
    pub(super) fn share_as(&mut self, other: &Self) {
        for (electrode, other) in self.electrodes.iter_mut().zip(&other.electrodes) {
            electrode.share = other.share;
        }
    }

    /// Recomputes covered areas and shares.
    fn spread(&mut self) {
        let mut total = Area::ZERO;
        for electrode in &mut self.electrodes {
            electrode.covered = electrode.account.area() * electrode.cover.share(self.on);
            total += electrode.covered;
        }
        for electrode in &mut self.electrodes {
            let any = total > Area::ZERO;
            electrode.share = if any { electrode.covered / total } else { 0.0 };
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
        self.schedule
            .finish
            .map(|finish| finish.hold * self.covered_area())
    }

    /// How long the hold lasts at most; zero where there is none.
    pub(super) fn hold_at_most(&self) -> Span {
        self.schedule
            .finish
            .map_or(Span::ZERO, |finish| finish.at_most)
    }

    /// Covered area of pieces and hangers.
    #[must_use]
    pub fn covered_area(&self) -> Area {
        self.electrodes
            .iter()
            .map(|electrode| electrode.covered)
            .sum()
    }

    /// All the area of pieces and hangers, covered or not.
    #[must_use]
    pub fn whole_area(&self) -> Area {
        self.electrodes
            .iter()
            .map(|electrode| electrode.account.area())
            .sum()
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
        self.electrodes[index].account.charge()
    }

    /// Mean thickness on one electrode.
    #[must_use]
    pub fn thickness(&self, index: usize) -> Length {
        self.electrodes[index].account.thickness()
    }

    /// Mean thickness with its 95 % interval: area, efficiency, share and charge combined (JCGM
    /// 100).
    #[must_use]
    pub fn thickness_interval(&self, index: usize) -> Bounded<Length> {
        let beside = self
            .electrodes
            .iter()
            .enumerate()
            .filter(|(other, _)| *other != index);
        let beside = beside.map(|(_, electrode)| &electrode.account);
        thickness_interval(&self.electrodes[index].account, beside, SHARE_DOUBT)
    }

    /// Mass on one electrode.
    #[must_use]
    pub fn mass(&self, index: usize) -> Mass {
        self.electrodes[index].account.mass()
    }

    /// Area of one electrode as it stands.
    #[must_use]
    pub fn area(&self, index: usize) -> Area {
        self.electrodes[index].account.area()
    }

    /// Share of all their area that is covered, 0 to 1.
    #[must_use]
    pub fn covered_share(&self) -> f64 {
        let whole = self.whole_area();
        if whole > Area::ZERO {
            (self.covered_area() / whole).min(1.0)
        } else {
            1.0
        }
    }

    /// Number of electrodes, hangers included.
    #[must_use]
    pub fn electrodes(&self) -> usize {
        self.electrodes.len()
    }

    /// The piece that governs the end: the one furthest behind, the named one, or none for a mean
    /// or hours.
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
        let electrode = &self.electrodes[index];
        match electrode.target {
            Some(target) => 1.0 - electrode.account.charge().best / target,
            None => -electrode.account.thickness().um(),
        }
    }

    /// The thickness shown for the run, and the piece it is of: the named piece's, the thinnest
    /// one's, or the mean of all, which is no piece's. It never falls.
    #[must_use]
    pub fn shown(&self) -> (Length, Option<usize>) {
        let piece = match self.goal {
            Goal::RackMean(_) => None,
            Goal::Piece(index) => Some(index),
            Goal::Thinnest | Goal::Hours(_) => (0..self.pieces)
                .min_by(|a, b| self.thickness(*a).um().total_cmp(&self.thickness(*b).um())),
        };
        (
            piece.map_or_else(|| self.mean_thickness(), |index| self.thickness(index)),
            piece,
        )
    }

    /// The thickness shown for the run; see [`Self::shown`].
    #[must_use]
    pub fn shown_thickness(&self) -> Length {
        self.shown().0
    }

    /// Mean thickness of the pieces, weighted by their areas at the start.
    #[must_use]
    pub fn mean_thickness(&self) -> Length {
        let pieces = &self.electrodes[..self.pieces];
        let area: Area = pieces.iter().map(Electrode::start).sum();
        let weighted = pieces
            .iter()
            .map(|piece| piece.account.thickness() * (piece.start() / area));
        weighted.sum()
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

    /// Time until the goal at this current with shares as they stand; zero when it is reached,
    /// `None` when nothing flows.
    #[must_use]
    pub fn time_to_goal(&self, current: Current) -> Option<Span> {
        match self.goal {
            Goal::Hours(hours) => Some((hours - self.on).max(Span::ZERO)),
            Goal::Piece(_) | Goal::Thinnest | Goal::RackMean(_) if current <= Current::ZERO => None,
            Goal::Piece(index) => self.time_for_piece(index, current),
            Goal::Thinnest => (0..self.pieces)
                .map(|index| self.time_for_piece(index, current))
                .try_fold(Span::ZERO, |worst, span| span.map(|span| worst.max(span))),
            Goal::RackMean(target) => {
                let missing = target - self.mean_thickness();
                Some(Span::from_s(
                    (missing.m() / self.mean_rate(current)).max(0.0),
                ))
            }
        }
    }

    fn time_for_piece(&self, index: usize, current: Current) -> Option<Span> {
        let electrode = &self.electrodes[index];
        let missing = (electrode.target? - electrode.account.charge().best).max(Charge::ZERO);
        Some(missing / (current * electrode.share))
    }

    /// Growth of the mean thickness, metres per second, at a current.
    fn mean_rate(&self, current: Current) -> f64 {
        let pieces = &self.electrodes[..self.pieces];
        let area: Area = pieces.iter().map(Electrode::start).sum();
        let second = Span::from_s(1.0);
        pieces
            .iter()
            .map(|piece| {
                let volume = piece
                    .account
                    .deposit()
                    .volume(current * piece.share * second);
                (volume / piece.account.area()).m() * (piece.start() / area)
            })
            .sum()
    }
}

impl Electrode {
    /// Its area at the start.
    fn start(&self) -> Area {
        self.account.body().area
    }
}
