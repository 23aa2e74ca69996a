//! A whole night of one plain wire on the bench, from a plan written by hand.

use super::rig_studio::{bench, clean, copper, station};
use nightvat::control::Outcome;
use nightvat::deposit::{Cover, Deposit, Metal};
use nightvat::ledger::{Entry, RunHead, RunId, Store, StoreFault};
use nightvat::plan::{Forecast, Goal, Limits, Plan, PlannedPiece, Schedule};
use nightvat::rig::instrument::{Kind, Quirks};
use nightvat::rig::rehearsal::{Manner, rehearse};
use nightvat::run::{Habits, Run};
use nightvat::spec::{Form, Shelf, Surface, open_supply};
use nightvat::supply::link::Link;
use nightvat::units::{Charge, Current, CurrentDensity, Density, Length, Moment, Span, Voltage};
use std::sync::Arc;

#[derive(Default)]
struct Memory {
    entries: Vec<Entry>,
}

impl Store for Memory {
    fn begin(&mut self, _: &RunHead) -> Result<RunId, StoreFault> {
        Ok(1)
    }
    fn append(&mut self, _: RunId, entry: &Entry) -> Result<(), StoreFault> {
        if !matches!(entry, Entry::Reading(_)) {
            println!("{entry:?}");
        }
        self.entries.push(entry.clone());
        Ok(())
    }
    fn commit(&mut self) -> Result<(), StoreFault> {
        Ok(())
    }
}

#[test]
fn a_night() {
    let form = Form::Wire {
        diameter: Length::from_mm(2.0),
        length: Length::from_mm(300.0),
    };
    let body = form.body().unwrap();
    let deposit = Deposit::new(Metal::COPPER, Density::from_g_per_cm3(8.93), 0.995, 0.005).unwrap();
    let target = deposit.charge_for(&body, Length::from_um(100.0));
    let plan = Plan {
        job: "wire".into(),
        pieces: vec![PlannedPiece {
            name: "wire".into(),
            surface: Surface::Metal,
            body,
            cover: Cover::METAL,
            target_charge: Some(target),
        }],
        hangers: vec![],
        deposit,
        schedule: Schedule {
            strike: CurrentDensity::from_a_per_dm2(0.3),
            strike_for: Span::from_min(20.0),
            ramp_over: Span::from_h(1.0),
            full: CurrentDensity::from_a_per_dm2(1.5),
            finish: None,
        },
        goal: Goal::Thinnest,
        looks: vec![],
        limits: Limits {
            current: Current::from_a(0.6),
            voltage: Voltage::from_v(2.5),
            over_voltage: Voltage::from_v(2.6),
            over_current: Current::from_a(0.65),
            charge: target * 1.1,
            time_on: Span::from_h(12.0),
        },
        forecast: Forecast::default(),
    };
    let job = super::rig_studio::job(vec![super::rig_studio::piece("wire", Surface::Metal, form)]);
    let mut line = bench(Kind::Standard, Quirks::of(Kind::Standard), clean(&job));
    let profile = Arc::new(open_supply("scpi-standard", &Shelf::embedded()).unwrap());
    let head = RunHead::default();
    let mut run = Run::new(
        Moment::ZERO,
        1,
        &head,
        Arc::new(plan),
        profile.capability(),
        Link::new(profile),
        Habits {
            batch: Span::from_h(1.0),
            ..Habits::default()
        },
    );
    let mut store = Memory::default();
    let _ = (copper(1.0), station(), Charge::ZERO);
    let done = rehearse(
        &mut run,
        1,
        &mut line,
        &mut store,
        Manner::default(),
        |_, _, _| {},
    )
    .unwrap();
    let truth = line.truth();
    println!("{done:?} {:?}", run.core().charge());
    println!("{truth:?}");
    assert_eq!(done.outcome, Some(Outcome::Finished));
}
