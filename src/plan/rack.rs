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
    /// Time its current has flowed.
    on: Span,
    /// The time that copper on paint needs to be where it is: less than `on` where the cell showed
    /// that it fell behind.
    spread: Span,
    /// It hangs in the bath now.
    hangs: bool,
    covered: Area,
    share: f64,
}

/// What is on record of one electrode.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OnRecord {
    /// Charge through it.
    pub charge: Bounded<Charge>,
    /// Time its current has flowed.
    pub on: Span,
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
        let nothing = Bounded::exact(Charge::ZERO);
        let hung = |body, cover, target, hangs| Electrode {
            account: Account::resume(body, plan.deposit, nothing),
            cover,
            target,
            on: Span::ZERO,
            spread: Span::ZERO,
            hangs,
            covered: Area::ZERO,
            share: 0.0,
        };
        let pieces = plan
            .pieces
            .iter()
            .map(|one| hung(one.body, one.cover, one.target_charge, one.hangs));
        let hangers = plan
            .hangers
            .iter()
            .map(|body| hung(*body, Cover::METAL, None, true));
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

    /// A rack that goes on from what is on record of each electrode, pieces first, after so long
    /// with the output on.
    #[must_use]
    pub fn resume(plan: &Plan, recorded: &[OnRecord], on: Span) -> Self {
        let mut rack = Self::new(plan);
        for (electrode, recorded) in rack.electrodes.iter_mut().zip(recorded) {
            let account = &electrode.account;
            electrode.account =
                Account::resume(*account.body(), *account.deposit(), recorded.charge);
            electrode.on = recorded.on;
            electrode.spread = recorded.on;
        }
        rack.on = on;
        rack.spread();
        rack
    }

    /// The same rack after a change of what hangs on it: the plan holds all pieces there were, in
    /// their order, and those that are new after them.
    #[must_use]
    pub fn rehung(&self, plan: &Plan) -> Self {
        let recorded = |index: usize| OnRecord {
            charge: self.charge(index),
            on: self.electrodes[index].on,
        };
        let fresh = OnRecord {
            charge: Bounded::exact(Charge::ZERO),
            on: Span::ZERO,
        };
        let added = plan.pieces.len().saturating_sub(self.pieces);
        let all: Vec<OnRecord> = (0..self.pieces)
            .map(recorded)
            .chain(std::iter::repeat_n(fresh, added))
            .chain((self.pieces..self.electrodes.len()).map(recorded))
            .collect();
        Self::resume(plan, &all, self.on)
    }

    /// Books charge that flowed while the output was on for `span`, shared by the covered areas as
    /// they stood.
    pub fn book(&mut self, charge: Bounded<Charge>, span: Span) {
        for electrode in self.electrodes.iter_mut().filter(|one| one.hangs) {
            electrode.account.add(Bounded {
                low: charge.low * electrode.share,
                best: charge.best * electrode.share,
                high: charge.high * electrode.share,
            });
            electrode.on += span;
            electrode.spread += span;
        }
        self.on += span;
        self.spread();
    }

    /// The cell has shown that no more than this surface can take part: if more should be covered,
    /// copper on paint is behind, each piece by the same share, and goes on from there. True if it
    /// was.
    pub fn hold_back(&mut self, most: Area) -> bool {
        let spreads = |one: &Electrode| one.hangs && one.spread < one.cover.whole_after();
        let all = self.covered_area();
        let paint: Area = self
            .electrodes
            .iter()
            .filter(|one| spreads(one))
            .map(|one| one.covered)
            .sum();
        if most >= all || paint <= Area::ZERO {
            return false;
        }
        let left = (most - (all - paint)).max(Area::ZERO) / paint;
        for one in self.electrodes.iter_mut().filter(|one| spreads(one)) {
            one.spread = one.cover.when(one.cover.share(one.spread) * left);
        }
        self.spread();
        true
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
            let covered = electrode.cover.share(electrode.spread);
            electrode.covered = if electrode.hangs {
                electrode.account.area() * covered
            } else {
                Area::ZERO
            };
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
        self.schedule.density(self.along()) * self.covered_area()
    }

    /// How far along the schedule the rack is. All pieces on one bar take about the same density,
    /// so the newest paint that hangs sets it: the gentle start begins again with it, and where it
    /// ends with the last bare spot it waits for copper that is behind, up to its longest time.
    /// Without paint it is the time with the output on.
    #[must_use]
    pub fn along(&self) -> Span {
        self.electrodes
            .iter()
            .filter(|one| one.hangs && one.cover.whole_after() > Span::ZERO)
            .map(|one| one.spread.max(one.on - self.schedule.strike_waits))
            .reduce(Span::min)
            .unwrap_or(self.on)
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

    /// What should be covered by now had copper spread as it was planned.
    #[must_use]
    pub fn planned_area(&self) -> Area {
        self.electrodes
            .iter()
            .filter(|electrode| electrode.hangs)
            .map(|electrode| electrode.account.area() * electrode.cover.share(electrode.on))
            .sum()
    }

    /// All the area that hangs, pieces and hangers, covered or not.
    #[must_use]
    pub fn whole_area(&self) -> Area {
        self.electrodes
            .iter()
            .filter(|electrode| electrode.hangs)
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
    /// 100). What hung beside it for a part of the time counts as all of it or not at all,
    /// whichever leaves more doubt.
    #[must_use]
    pub fn thickness_interval(&self, index: usize) -> Bounded<Length> {
        let own = &self.electrodes[index];
        let beside = |hangs: bool| {
            let others = self.electrodes.iter().enumerate();
            others
                .filter(move |(other, one)| *other != index && (one.hangs || !hangs))
                .map(|(_, one)| &one.account)
        };
        let among_all = thickness_interval(&own.account, beside(false), SHARE_DOUBT);
        if self.electrodes.iter().all(|one| one.hangs) {
            return among_all;
        }
        let among_these = thickness_interval(&own.account, beside(true), SHARE_DOUBT);
        Bounded {
            low: among_all.low.min(among_these.low),
            best: among_all.best,
            high: among_all.high.max(among_these.high),
        }
    }

    /// True while this electrode hangs in the bath.
    #[must_use]
    pub fn hangs(&self, index: usize) -> bool {
        self.electrodes[index].hangs
    }

    /// Time the current of this electrode has flowed.
    #[must_use]
    pub fn on(&self, index: usize) -> Span {
        self.electrodes[index].on
    }

    /// The pieces that hang, by their numbers.
    fn hanging(&self) -> impl DoubleEndedIterator<Item = usize> + '_ {
        (0..self.pieces).filter(|index| self.electrodes[*index].hangs)
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
            Goal::Thinnest | Goal::RackMean(_) | Goal::Hours(_) => self
                .hanging()
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
    /// one's, or the mean of all that hang, which is no piece's. It falls only when what hangs
    /// changes.
    #[must_use]
    pub fn shown(&self) -> (Length, Option<usize>) {
        let piece = match self.goal {
            Goal::RackMean(_) => None,
            Goal::Piece(index) => Some(index),
            Goal::Thinnest | Goal::Hours(_) => self
                .hanging()
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

    /// Mean thickness of the pieces that hang, weighted by their areas at the start.
    #[must_use]
    pub fn mean_thickness(&self) -> Length {
        let pieces = || self.hanging().map(|index| &self.electrodes[index]);
        let area: Area = pieces().map(Electrode::start).sum();
        pieces()
            .map(|piece| piece.account.thickness() * (piece.start() / area))
            .sum()
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
            Goal::Thinnest => self
                .hanging()
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
        let pieces = || self.hanging().map(|index| &self.electrodes[index]);
        let area: Area = pieces().map(Electrode::start).sum();
        let second = Span::from_s(1.0);
        pieces()
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
