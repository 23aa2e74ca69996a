//! A night that never was, for the views: the record of a rack of four pieces and one hanger, with
//! readings every ten seconds. Its figures are plausible and nothing more.

use nightvat::control::{Fault, Outcome, State};
use nightvat::exchange::Mode;
use nightvat::ledger::{
    Account, ElectrodeHead, ElectrodeRow, Ending, EventRow, ReachedRow, ReadingRow, RunHead,
    RunRecord, StateRow,
};
use nightvat::units::{Area, Bounded, Charge, Current, Length, Mass, Span, Voltage};
use nightvat::view::{TrueElectrode, TruthTable};

const PIECES: [(&str, f64, f64); 5] = [
    ("seed head a", 19.0, 0.10),
    ("seed head b", 17.4, 0.10),
    ("pod", 12.2, 0.08),
    ("stem", 6.8, 0.03),
    ("hanger 1", 7.5, 0.05),
];

/// Micrometres that one Ah lays on one dm2: 13.231 (M 63.546, z 2, 8.96 g/cm3).
const UM_PER_AH_DM2: f64 = 13.231;

/// The record, its readings, and what a simulated cell would say.
pub(crate) struct MadeUp {
    pub(crate) record: RunRecord,
    pub(crate) readings: Vec<ReadingRow>,
    pub(crate) truth: TruthTable,
}

fn density(hour: f64, hold_from: f64) -> f64 {
    match hour {
        _ if hour > hold_from => 0.05,
        _ if hour < 0.68 => 0.3,
        _ if hour < 2.68 => 0.3 + 0.6 * (hour - 0.68),
        _ => 1.5,
    }
}

/// A noise between -1 and 1 that is the same each time.
fn noise(step: i32) -> f64 {
    let x = (f64::from(step) * 12.989_8).sin() * 43_758.545;
    (x - x.floor()) * 2.0 - 1.0
}

pub(crate) fn night(tripped: bool) -> MadeUp {
    let hours = if tripped { 7.35 } else { 12.07 };
    let hold_from = 11.55;
    let mut um = [0.0_f64; 5];
    let mut ah = [0.0_f64; 5];
    let mut readings = Vec::new();
    let mut step = 0;
    while f64::from(step) * 10.0 < hours * 3600.0 {
        let hour = f64::from(step) / 360.0;
        let j = density(hour, hold_from);
        let mut amperes = 0.0;
        for (index, (_, cm2, _)) in PIECES.iter().enumerate() {
            let covered = if index < 3 {
                (0.15 + hour * 1.4).min(1.0)
            } else {
                1.0
            };
            let area = cm2 / 100.0 * (1.0 + um[index] / 4_000.0) * covered;
            amperes += j * area;
            ah[index] += j * area / 360.0;
            um[index] += j / 360.0 * UM_PER_AH_DM2 * covered;
        }
        let lost = tripped && hour > 7.346;
        let shown = if lost {
            0.02
        } else {
            amperes * (1.0 + 0.003 * noise(step))
        };
        let volts =
            0.18 + amperes * 0.9 + 0.05 * (1.0 + amperes * 40.0).ln() + 0.006 * noise(step + 9);
        let dip = if step == 1_500 { -0.35 } else { 0.0 };
        readings.push(ReadingRow {
            at: Span::from_s(f64::from(step) * 10.0),
            current: (step % 997 != 5).then_some(Current::from_a(shown)),
            voltage: Some(Voltage::from_v(if lost { 2.5 } else { volts + dip })),
            setpoint: Current::from_a((amperes * 1000.0).round() / 1000.0),
            mode: Some(if lost {
                Mode::ConstantVoltage
            } else {
                Mode::ConstantCurrent
            }),
            charge: Charge::from_ah(ah.iter().sum()),
            thickness: Length::from_um(um.iter().copied().take(4).fold(f64::INFINITY, f64::min)),
        });
        step += 1;
    }
    finish(tripped, hours, hold_from, readings, um, ah)
}

fn finish(
    tripped: bool,
    hours: f64,
    hold_from: f64,
    readings: Vec<ReadingRow>,
    um: [f64; 5],
    ah: [f64; 5],
) -> MadeUp {
    let electrodes: Vec<ElectrodeRow> = PIECES
        .iter()
        .enumerate()
        .map(|(index, (name, cm2, doubt))| ElectrodeRow {
            head: ElectrodeHead {
                name: (*name).to_owned(),
                hanger: index == 4,
                area: Area::from_cm2(*cm2),
            },
            account: account(ah[index], um[index], *cm2, *doubt),
            hangs: true,
        })
        .collect();
    let total: f64 = ah.iter().sum();
    let truth = TruthTable {
        charge: Charge::from_ah(total * 1.0008),
        thickness: Length::from_um(um[0] * 1.034),
        electrodes: PIECES
            .iter()
            .zip([1.034, 0.942, 1.021, 0.958, 1.011])
            .enumerate()
            .map(|(index, ((name, ..), by))| TrueElectrode {
                name: (*name).to_owned(),
                charge: Charge::from_ah(ah[index] * by),
                mass: Mass::from_g(ah[index] * by * 1.185_494),
                thickness: Length::from_um(um[index] * by),
            })
            .collect(),
    };
    let bounded = |ah: f64| Bounded {
        low: Charge::from_ah(ah * 0.996),
        best: Charge::from_ah(ah),
        high: Charge::from_ah(ah * 1.004),
    };
    let (outcome, states, events) = course(tripped, hours, hold_from);
    let reached = Some(ReachedRow {
        at: Span::from_h(hold_from),
        charge: bounded(total * 0.985),
    });
    let record = RunRecord {
        id: 12,
        head: RunHead {
            bath_ledger: None,
            stirred: Some(true),
            job: "seed heads, first rack".to_owned(),
            job_text: "name = \"seed heads, first rack\"\nbath = \"acid-copper-bright\"\n"
                .to_owned(),
            station: "north tank".to_owned(),
            bath: "acid-copper-bright".to_owned(),
            began: "2026-11-24T20:14:00+01:00".to_owned(),
            simulated: true,
            seed: Some(7),
            target: Some(Length::from_um(200.0)),
            peak_to_mean: Some(1.2),
            electrodes: electrodes.iter().map(|row| row.head.clone()).collect(),
        },
        identity: Some("BENCH,SUPPLY,0001,1.0".to_owned()),
        accounted: Span::from_h(hours),
        charge: bounded(total),
        thickness: readings.last().map(|row| row.thickness),
        governing: Some(0),
        states,
        events,
        electrodes,
        papers: Vec::new(),
        envelopes: Vec::new(),
        reached: reached.filter(|_| !tripped),
        ending: Some(Ending {
            at: Span::from_h(hours),
            outcome,
        }),
        thinned: false,
    };
    MadeUp {
        record,
        readings,
        truth,
    }
}

fn account(ah: f64, um: f64, cm2: f64, doubt: f64) -> Account {
    Account {
        charge: Bounded {
            low: Charge::from_ah(ah * 0.99),
            best: Charge::from_ah(ah),
            high: Charge::from_ah(ah * 1.01),
        },
        mass: Mass::from_g(ah * 1.185_494),
        thickness: Bounded {
            low: Length::from_um(um * (1.0 - doubt)),
            best: Length::from_um(um),
            high: Length::from_um(um * (1.0 + doubt)),
        },
        area: Area::from_cm2(cm2 * (1.0 + um / 4_000.0)),
        on: Span::from_h(8.0),
    }
}

fn course(tripped: bool, hours: f64, hold_from: f64) -> (Outcome, Vec<StateRow>, Vec<EventRow>) {
    let entered = |hour: f64, state| StateRow {
        at: Span::from_h(hour),
        state,
    };
    let event = |hour: f64, code: &str, text: &str| EventRow {
        at: Span::from_h(hour),
        code: code.to_owned(),
        text: text.to_owned(),
    };
    let mut states = vec![
        entered(0.0, State::Proving),
        entered(0.012, State::Striking),
        entered(0.68, State::Ramping),
        entered(2.68, State::Building),
    ];
    let mut events = vec![event(
        4.17,
        "gap",
        "nobody looked for 3.2 s; the charge has a bound for it",
    )];
    if tripped {
        let text = "2.50 V at its ceiling, and 0.020 A in place of 0.862 A";
        events.push(event(7.35, Fault::ConstantCurrentLost.code(), text));
        states.push(entered(hours, State::Tripped));
        return (Outcome::Tripped(Fault::ConstantCurrentLost), states, events);
    }
    states.push(entered(hold_from, State::Holding));
    states.push(entered(hours, State::Finished));
    (Outcome::Finished, states, events)
}
