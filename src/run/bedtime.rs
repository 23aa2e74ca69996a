//! The one answer before she sleeps: go, or what to mend first. It is drawn from what the run shows
//! and what was planned; it decides nothing for the run.

use super::Snapshot;
use crate::control::{Blind, Fault, State, blind};
use crate::exchange::Capability;
use crate::plan::{Layer, Plan, Remark, layers};
use crate::units::{Area, Length, Span, Voltage, Volume};

/// Covered less than this, a piece is not left alone (common practice, no source).
const COVERED: f64 = 0.98;
/// A cell that takes more than this share of the voltage it may have is near its end of constant
/// current (common practice, no source).
const NEAR_LIMIT: f64 = 0.85;
/// Liquid that should stay above the highest piece (common practice, no source).
const LEAST_ABOVE: Length = Length::from_mm(5.0);

/// What the answer is drawn from.
#[derive(Clone, Copy, Debug)]
pub struct Evening<'a> {
    /// The run as it stands, or the station at rest.
    pub snapshot: &'a Snapshot,
    /// The run's plan, and the share of its pieces that is covered, if a run is on.
    pub night: Option<(&'a Plan, f64)>,
    /// Surface of the liquid, if the station says.
    pub surface: Option<Area>,
    /// What the supply can do.
    pub supply: &'a Capability,
    /// The relay in the output lead opens within this, if there is one.
    pub relay: Option<Span>,
    /// Whether the station tells anybody.
    pub tells: bool,
    /// Whether a keeper holds the port.
    pub kept: bool,
}

/// The answer.
#[derive(Clone, Debug, PartialEq)]
pub struct Bedtime {
    /// Nothing is to be mended.
    pub go: bool,
    /// What is to be mended first.
    pub fix: Vec<Remark>,
    /// What she should know, and can sleep with.
    pub know: Vec<Remark>,
    /// The state.
    pub state: State,
    /// Share of the pieces that is covered.
    pub covered: Option<f64>,
    /// The cell's voltage, and the most it may have.
    pub voltage: Option<(Voltage, Voltage)>,
    /// Time until the goal.
    pub time_left: Option<Span>,
    /// Water that will have gone by then, to be added before or after.
    pub water: Option<Volume>,
    /// The layers of protection.
    pub layers: Vec<Layer>,
    /// Which guards are blind.
    pub blind: Vec<Blind>,
}

impl Evening<'_> {
    /// The answer.
    #[must_use]
    pub fn bedtime(&self) -> Bedtime {
        let of = self.snapshot;
        let plan = self.night.map(|(plan, _)| plan);
        let covered = self.night.map(|(_, covered)| covered);
        let voltage = of
            .voltage
            .zip(plan.map(|plan| plan.limits.voltage))
            .filter(|_| of.output_on == Some(true));
        let level = plan.and_then(|plan| plan.bounds.level);
        let falls = level
            .zip(of.time_left)
            .map(|(level, left)| level.falls_a_day * (left / Span::from_h(24.0)));
        let mut fix = self.state();
        fix.extend(self.bath(falls));
        if let Some((is, may)) = voltage.filter(|(is, may)| *is > *may * NEAR_LIMIT) {
            let text = format!(
                "the cell takes {:.2} V of {:.2} V: look at leads, contacts and anode",
                is.v(),
                may.v()
            );
            fix.push(remark("voltage-near-limit", text));
        }
        for alarm in &of.alarms {
            fix.push(remark(alarm.fault.code(), alarm.text.clone()));
        }
        Bedtime {
            go: fix.is_empty(),
            fix,
            know: self.know(),
            state: of.state,
            covered,
            voltage,
            time_left: of.time_left,
            water: self
                .surface
                .zip(falls)
                .map(|(surface, falls)| surface * falls),
            layers: layers(self.supply, self.relay),
            blind: plan
                .map(|plan| blind(plan, self.supply))
                .unwrap_or_default(),
        }
    }

    /// What its state asks for.
    fn state(&self) -> Vec<Remark> {
        let mut fix = Vec::new();
        let state = self.snapshot.state;
        match state {
            State::Building | State::Holding => {}
            State::Proving | State::Striking | State::Ramping => {
                let text = format!("it is {}: ask again when it is building", state.word());
                fix.push(remark("not-covered", text));
            }
            State::Paused => fix.push(remark(
                "paused-by-hand",
                "it is paused: `nightvat resume`, or nothing grows".to_owned(),
            )),
            State::Unconfirmed => fix.push(remark(
                "unconfirmed",
                "no reading proves that the output is off: go and switch the supply off by hand"
                    .to_owned(),
            )),
            State::Idle
            | State::Finished
            | State::Stopping
            | State::Stopped
            | State::Tripped
            | State::Interrupted => {
                let text = format!("no run is on: the station is {}", state.word());
                fix.push(remark("nothing-runs", text));
            }
        }
        let bare = self.night.filter(|(_, covered)| *covered < COVERED);
        if let Some((_, covered)) = bare.filter(|_| fix.is_empty()) {
            let text = format!(
                "{:.0} % of the pieces is covered: look at them, and ask again",
                covered * 100.0
            );
            fix.push(remark("not-covered", text));
        }
        if !self.kept {
            let text = "no keeper holds the port now: ask again in a minute".to_owned();
            fix.push(remark(Fault::KeeperLost.code(), text));
        }
        fix
    }

    /// What the bath needs before the end.
    fn bath(&self, falls: Option<Length>) -> Vec<Remark> {
        let mut fix = Vec::new();
        let Some((plan, _)) = self.night else {
            return fix;
        };
        if let Some((level, falls)) = plan.bounds.level.zip(falls) {
            let fallen = level.falls_a_day * (self.snapshot.elapsed / Span::from_h(24.0));
            let left = level.above - fallen - falls;
            if left < LEAST_ABOVE {
                let text = format!(
                    "at its end the liquid would stand {:.0} mm above the highest piece: top up \
                     with distilled water now",
                    left.mm()
                );
                fix.push(remark(Fault::LevelLow.code(), text));
            }
        }
        if let Some(brightener) = plan.bounds.brightener {
            let by_the_end = brightener.since + plan.forecast.charge;
            if by_the_end > brightener.every {
                let text = format!(
                    "{:.1} Ah will have flowed since the last brightener; it is due every {:.1} Ah",
                    by_the_end.ah(),
                    brightener.every.ah()
                );
                fix.push(remark(Fault::BrightenerOverdue.code(), text));
            }
        }
        fix
    }

    /// What is as it is.
    fn know(&self) -> Vec<Remark> {
        let mut know = Vec::new();
        if !self.tells {
            let text = "the station tells nobody: what happens shows in the morning".to_owned();
            know.push(remark("nobody-told", text));
        }
        let plan = self.night.map(|(plan, _)| plan);
        let looks = plan.map_or(&[][..], |plan| &plan.looks);
        for at in looks.iter().filter(|at| **at > self.snapshot.thickness) {
            let text = format!(
                "at {:.0} um the output goes off for a planned look, and nothing grows until \
                 `nightvat resume`",
                at.um()
            );
            know.push(remark("look-due", text));
        }
        know
    }
}

fn remark(code: &'static str, text: String) -> Remark {
    Remark { code, text }
}
