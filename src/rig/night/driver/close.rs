//! The end of a night, and its account.

use super::{AFTERWARDS, Driver, Spent};
use crate::plan::Goal;
use crate::rig::night::oracle::{Account, Ending};
use crate::supply::wire::Line;
use crate::units::{Moment, Span};

/// What a start after a pause lacks of the full current: it comes back from a fifth in two minutes.
const SOFT: Span = Span::from_s(0.4 * 120.0);

impl Driver<'_> {
    /// What the strikes that began again after a pause lack, C.
    fn soft_c(&self) -> f64 {
        let plan = self.run.core().plan();
        let schedule = plan.schedule;
        let most = plan.forecast.current_peak * (schedule.strike / schedule.full);
        let told = self.book.told.iter();
        let strikes = told.filter(|line| line.ends_with(" striking")).count();
        (most * SOFT).c() * f64::from(u32::try_from(strikes).unwrap_or(u32::MAX).saturating_sub(1))
    }

    /// Watches on for a while, and closes the account.
    pub(super) fn close(mut self) -> Spent {
        let lasted = self.line.now().since(Moment::ZERO);
        let ended = self.line.now();
        // What a button lets flow after the end is nobody's account.
        let truth = self.line.0.borrow_mut().bench().truth();
        while self.line.now().since(ended) < AFTERWARDS {
            let at = self.instant(self.line.now());
            let _reported = self.keeper.due(at);
            self.line.rest(Span::from_s(1.0));
            let mut wire = self.line.0.borrow_mut();
            let (now, flow) = (wire.now(), wire.bench().flow());
            wire.oracle.flows(now, flow);
        }
        let core = self.run.core();
        let charge = core.charge();
        let forecast = core.plan().forecast.charge;
        let ending = self.ending.unwrap_or(Ending::GivenUp);
        let mut wire = self.line.0.borrow_mut();
        let account = Account {
            ending,
            low_c: charge.low.c(),
            best_c: charge.best.c(),
            high_c: charge.high.c(),
            of_plan: core.reached().map(|reached| match core.plan().goal {
                // A night of so many hours has its hours, whatever charge that comes to.
                Goal::Hours(hours) => core.rack().time_on().min(hours) / hours,
                Goal::Thinnest | Goal::RackMean(_) | Goal::Piece(_) => {
                    reached.charge.best / forecast
                }
            }),
            softened: self.soft_c() / forecast.c(),
            truth_c: truth.charge_ah * 3600.0,
        };
        let now = wire.now();
        if matches!(ending, Ending::Unconfirmed | Ending::Cut | Ending::GivenUp) {
            wire.oracle.left(now, ending == Ending::Cut);
        }
        let broken = wire.oracle.close(now, &account);
        let mut digest = wire.oracle.digest;
        digest.word(truth.charge_ah.to_bits());
        Spent {
            account,
            broken,
            digest: digest.0,
            lasted,
            onsets: wire.oracle.onsets.clone(),
            worst: wire
                .oracle
                .worst
                .iter()
                .map(|(word, s)| (*word, *s))
                .collect(),
            exchanges: wire.exchanges,
            unwatched_c: wire.oracle.unwatched_c(),
            proved_within: self.left_at.map(|at| ended.since(at).s()),
            off_after: wire.oracle.off_after,
            tolerable: wire.oracle.is_tolerable(),
            told: self.book.told,
            wire: wire.told.take().unwrap_or_default(),
        }
    }
}
