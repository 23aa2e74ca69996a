//! What earlier pieces changed in a plan, said.

use crate::deposit::Deposit;
use crate::plan::Remark;
use crate::plan::learn::{Gauged, Weighed};
use crate::shape::Body;

/// The codes of all that is said here.
pub(in crate::plan) const LESSONS: [&str; 3] = [BY_SCALE, BY_SIMULATION, BY_GAUGE];
const BY_SCALE: &str = "mass-from-scale";
const BY_SIMULATION: &str = "only-simulated";
const BY_GAUGE: &str = "area-from-gauge";

/// What was learnt, in sentences.
pub(in crate::plan) struct Taught {
    pub(in crate::plan) said: Vec<Remark>,
}

impl Taught {
    /// Begins with the mass per charge.
    pub(in crate::plan) fn of(weighed: Option<&Weighed>, plain: &Deposit) -> Self {
        let said = weighed.map(|weighed| {
            let deposit = weighed.deposit;
            let per_ah = |deposit: &Deposit| {
                let ah = crate::units::Charge::from_ah(1.0);
                deposit.mass(ah).g()
            };
            Remark {
                code: BY_SCALE,
                text: format!(
                    "pieces like these, weighed after run {}, gained {:.4} g for each Ah, and the \
                     bath profile says {:.4}: the plan reckons with the scale, to {:.1} %",
                    weighed.run,
                    per_ah(&deposit),
                    per_ah(plain),
                    deposit.efficiency_uncertainty * 100.0,
                ),
            }
        });
        Self {
            said: said.into_iter().collect(),
        }
    }

    /// A piece like it was measured after a simulated run only.
    pub(in crate::plan) fn nothing(&mut self, name: &str, simulated: Option<i64>) {
        self.said.extend(simulated.map(|run| Remark {
            code: BY_SIMULATION,
            text: format!(
                "piece {name:?} is like one measured after run {run}, which was simulated: that \
                 teaches nothing, and the plan reckons with its shape"
            ),
        }));
    }

    /// A corrected area.
    pub(in crate::plan) fn area(&mut self, name: &str, before: &Body, gauged: Option<&Gauged>) {
        let Some(Gauged { run, body }) = gauged else {
            return;
        };
        self.said.push(Remark {
            code: BY_GAUGE,
            text: format!(
                "piece {name:?} is like the one gauged after run {run}, so its area is {:.2} cm2, \
                 to {:.0} %, where its shape says {:.2} cm2: give it another name or shape if \
                 it is not like it",
                body.area.cm2(),
                body.uncertainty * 100.0,
                before.area.cm2(),
            ),
        });
    }
}
