//! What there is to say before a night: what forbids it, and what should be known.

mod gear;
mod shapes;
mod taught;

pub(super) use taught::{LESSONS, Taught};

use super::{Plan, Remark, paint};
use crate::bath::BathProfile;
use crate::exchange::Capability;
use crate::spec::{Job, Station, Surface};
use crate::units::Span;

/// Nights beyond this are long enough to be asked about.
const LONG_NIGHT: Span = Span::from_h(30.0);
/// An interval wider than this, as a share of the thickness, is worth a better area.
const WIDE: f64 = 0.25;

/// Every code a refusal can have, worst first.
pub const REFUSALS: &[&str] = &[
    "no-proof-of-off",
    "readback-missing",
    "voltage-above-supply",
    "current-above-supply",
    "current-above-station",
    "density-above-window",
    "setpoint-too-coarse",
];

/// Every code a warning can have.
pub const WARNINGS: &[&str] = &[
    "level-low",
    "brightener-overdue",
    "look-due",
    "density-below-window",
    "setpoint-coarse",
    "meter-coarse",
    "no-over-voltage",
    "no-over-current",
    "mains-return-on",
    "mains-return-unknown",
    "port-by-number",
    "anode-small",
    "anode-large",
    "anode-light",
    "long-night",
    "interval-wide",
    "contact-assumed",
    "strike-short",
    "bore-closes",
    "growth-unknown",
    "mesh-open",
    "mesh-sharp-inward",
    "mesh-inner-walls",
    "mesh-overlaps",
    "area-from-gauge",
    "mass-from-scale",
    "only-simulated",
    "bath-unknown",
];

/// Everything there is to say, sorted by weight.
#[derive(Default)]
pub(super) struct Remarks {
    pub(super) warnings: Vec<Remark>,
    pub(super) refusals: Vec<Remark>,
}

impl Remarks {
    fn warn(&mut self, code: &'static str, text: String) {
        self.warnings.push(Remark { code, text });
    }

    fn refuse(&mut self, code: &'static str, text: String) {
        self.refusals.push(Remark { code, text });
    }
}

/// Holds a plan against its bath, station and supply.
pub(super) fn on(
    plan: &Plan,
    job: &Job,
    bath: &BathProfile,
    station: &Station,
    supply: &Capability,
) -> Remarks {
    let mut said = Remarks::default();
    gear::proof(&mut said, supply);
    gear::powers(&mut said, plan, station, supply);
    window(&mut said, plan, bath, station);
    gear::steps(&mut said, plan, supply);
    gear::protections(&mut said, supply);
    gear::port(&mut said, station);
    looks(&mut said, plan);
    gear::anode(&mut said, plan, bath, station);
    gear::brightener(&mut said, plan);
    gear::level(&mut said, plan);
    night(&mut said, plan);
    let pieces = job.pieces.iter().zip(&plan.forecast.pieces);
    let hang = pieces
        .zip(&plan.pieces)
        .filter(|(_, planned)| planned.hangs);
    for ((piece, forecast), planned) in hang {
        if piece.surface == Surface::Paint && piece.paint.contact.is_none() {
            said.warn(
                "contact-assumed",
                format!(
                    "piece {:?} does not say how large its contact patch is, so 4 mm2 are \
                 assumed: add `contact`",
                    piece.name
                ),
            );
        }
        if paint::outlasts(&planned.cover, &plan.schedule) {
            said.warn(
                "strike-short",
                format!(
                    "at the pace stated, copper needs {:.0} min over piece {:?}, and the strike \
                     lasts {:.0} min: make it longer, or add a contact",
                    planned.cover.whole_after().s() / 60.0,
                    piece.name,
                    plan.schedule.strike_for.s() / 60.0
                ),
            );
        }
        shapes::shapes(&mut said, &piece.name, &piece.form, forecast.thickness.best);
    }
    said
}

/// The build's density against what the bath bears; strike and hold are below it by intention.
fn window(said: &mut Remarks, plan: &Plan, bath: &BathProfile, station: &Station) {
    let stirred = station.tank.stirred;
    let [low, high] = bath.window(stirred);
    let full = plan.schedule.full;
    let kind = if stirred { "stirred" } else { "still" };
    let peak = plan.peak_to_mean();
    if full * peak > high {
        let stir = if stirred {
            ""
        } else {
            ", or stir the tank and say so in the station"
        };
        said.refuse("density-above-window", format!(
            "{:.2} A/dm2 on the mean is about {:.2} A/dm2 at edges and tips, and this bath bears \
             {:.2} A/dm2 when {kind}: lower `current.density` to {:.2} A/dm2{stir}",
            full.a_per_dm2(),
            full.a_per_dm2() * peak,
            high.a_per_dm2(),
            high.a_per_dm2() / peak,
        ));
    }
    if full < low {
        said.warn("density-below-window", format!(
            "{:.2} A/dm2 is below the {:.2} A/dm2 at which this bath works well when {kind}: the \
             deposit may be dull or coarse",
            full.a_per_dm2(), low.a_per_dm2()
        ));
    }
}

fn night(said: &mut Remarks, plan: &Plan) {
    let duration = plan.forecast.duration;
    if duration > LONG_NIGHT {
        said.warn(
            "long-night",
            format!(
                "it takes {:.0} h with the output on: plan when somebody looks, or divide the job",
                duration.h()
            ),
        );
    }
    let pieces = plan.forecast.pieces.iter().zip(&plan.pieces);
    for (piece, _) in pieces.filter(|(_, planned)| planned.hangs) {
        let thickness = piece.thickness;
        let up = (thickness.high - thickness.best) / thickness.best;
        if up > WIDE {
            said.warn("interval-wide", format!(
                "piece {:?} may come out anywhere from {:.0} to {:.0} um for {:.0} um: find its \
                 area by another way, say a mesh or foil, and state it",
                piece.name, thickness.low.um(), thickness.high.um(), thickness.best.um()
            ));
        }
    }
}

/// The night stops for each planned look, and somebody must be there.
fn looks(said: &mut Remarks, plan: &Plan) {
    if plan.looks.is_empty() {
        return;
    }
    let at: Vec<String> = plan
        .looks
        .iter()
        .map(|at| format!("{:.0} um", at.um()))
        .collect();
    said.warn(
        "look-due",
        format!(
            "at {} the output goes off and the run waits until you have looked and said \
             `nightvat resume`: the finish time counts none of that",
            at.join(", ")
        ),
    );
}
