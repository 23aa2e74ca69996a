//! The studio of a night: a job, a station, and a supply that differs from its description only
//! inside the stated limits.

use super::die::Die;
use crate::exchange::OnMainsReturn;
use crate::rig::instrument::{Kind, Quirks};
use crate::rig::world::World;
use crate::spec::{
    Finish, Form, Hanger, Job, Look, Paint, Piece, Ramp, Relay, RelayLine, Station, Strike,
    SupplyProfile, Surface, Target, Until,
};
use crate::units::{Area, CurrentDensity, Fraction, Length, Span};
use std::sync::Arc;

/// The supply profiles a night is drawn on, all of them described in this program.
pub const SUPPLIES: [&str; 3] = ["scpi-standard", "scpi-standard-two-channel", "terse-fixed"];

/// Copper's growth at full density, um/h for each A/dm2: 63.546 g/mol over 2 x 96485.332 C/mol and
/// 8.96 g/cm3.
const UM_PER_H: f64 = 13.23;

/// What stands before a night.
#[derive(Clone, Debug)]
pub struct Studio {
    /// The job.
    pub job: Job,
    /// The station.
    pub station: Station,
    /// The profile that tonight's supply is spoken to by.
    pub profile: Arc<SupplyProfile>,
    /// The true world.
    pub world: World,
    /// The dialect of the simulated supply.
    pub kind: Kind,
    /// Its traits.
    pub quirks: Quirks,
    /// What the numbers of the plan come to, for the oracle and the driver alone.
    pub plan: Arc<super::driver::prepare::Planned>,
}

impl Studio {
    /// The same with a relay in the output lead, whose one-shot holds less long than the station
    /// says.
    pub(super) fn with_relay(mut self, die: &mut Die) -> Self {
        let every = Span::from_s(die.between(0.1, 0.5));
        let opens_within = every * die.between(2.5, 10.0);
        self.world.relay_holds = Some(opens_within * die.between(0.6, 0.99));
        let mut planned = (*self.plan).clone();
        let mut plan = (*planned.plan).clone();
        plan.bounds.relay = Some(opens_within);
        planned.plan = Arc::new(plan);
        self.plan = Arc::new(planned);
        self.station.relay = Some(Relay {
            port: "/dev/relay".to_owned(),
            line: RelayLine::Rts,
            every,
            opens_within,
        });
        self
    }
}

/// Draws a job that takes about so many hours.
pub(super) fn job(die: &mut Die, hours: f64) -> Job {
    let pieces: Vec<Piece> = (0..1 + die.below(4))
        .map(|number| piece(die, number))
        .collect();
    let hangers = (0..die.below(3)).map(|_| Hanger {
        form: wire(die, 0.8, 1.5, 30.0, 80.0),
    });
    let hangers = hangers.collect();
    let density = die.between(0.6, 2.5);
    let has_strike = die.chance(0.6) || pieces.iter().any(|p| p.surface == Surface::Paint);
    let strike_h = hours * die.between(0.02, 0.08);
    let strike = has_strike.then(|| Strike {
        density: a_per_dm2(density * die.between(0.2, 0.5)),
        duration: Span::from_h(strike_h),
        until_covered: die.chance(0.3),
    });
    let ramp_h = hours * die.between(0.02, 0.2);
    let ramp = die.chance(0.6).then_some(Ramp {
        over: Span::from_h(ramp_h),
    });
    let lost_h = strike.map_or(0.0, |_| strike_h * 0.7) + ramp.map_or(0.0, |_| ramp_h * 0.4);
    let thickness = Length::from_um(density * UM_PER_H * (hours - lost_h));
    let looks = (0..die.below(3)).map(|_| Look {
        at: thickness * die.between(0.05, 0.95),
    });
    let mut looks: Vec<Look> = looks.collect();
    looks.sort_by(|a, b| a.at.m().total_cmp(&b.at.m()));
    let until = match die.below(4) {
        0 => Until::RackMean,
        1 => Until::Piece(die.pick(&pieces).name.clone()),
        _ => Until::Thinnest,
    };
    Job {
        name: "a drawn night".to_owned(),
        bath: "acid-copper-bright".to_owned(),
        target: if die.chance(0.15) {
            Target::Hours(Span::from_h(hours))
        } else {
            Target::Thickness(thickness)
        },
        until,
        density: a_per_dm2(density),
        strike,
        ramp,
        finish: die.chance(0.5).then(|| Finish {
            hold: a_per_dm2(die.between(0.03, 0.1)),
            at_most: Span::from_h(hours * die.between(0.01, 0.05)),
        }),
        pieces,
        hangers,
        looks,
    }
}

fn a_per_dm2(value: f64) -> CurrentDensity {
    CurrentDensity::from_a_per_dm2(value)
}

fn piece(die: &mut Die, number: usize) -> Piece {
    let form = form(die);
    let painted = die.chance(0.5);
    Piece {
        name: format!("piece {}", number + 1),
        surface: if painted {
            Surface::Paint
        } else {
            Surface::Metal
        },
        form,
        texture: die.between(1.0, 1.3),
        uncertainty: die
            .chance(0.5)
            .then(|| Fraction::from_share(die.between(0.02, 0.12))),
        paint: Paint {
            contact: painted.then(|| Area::from_mm2(die.between(2.0, 12.0))),
            ..Paint::default()
        },
        peak_to_mean: None,
    }
}

fn wire(die: &mut Die, thin: f64, thick: f64, short: f64, long: f64) -> Form {
    Form::Wire {
        diameter: mm(die, thin, thick),
        length: mm(die, short, long),
    }
}

fn mm(die: &mut Die, low: f64, high: f64) -> Length {
    Length::from_mm(die.between(low, high))
}

fn form(die: &mut Die) -> Form {
    match die.below(10) {
        0 => Form::Sphere {
            diameter: mm(die, 10.0, 35.0),
        },
        1 => Form::Ellipsoid {
            a: mm(die, 12.0, 20.0),
            b: mm(die, 12.0, 25.0),
            c: mm(die, 18.0, 40.0),
        },
        2 => wire(die, 1.0, 3.0, 80.0, 300.0),
        3 => Form::Rod {
            diameter: mm(die, 3.0, 15.0),
            length: mm(die, 20.0, 80.0),
        },
        4 => {
            let inner = die.between(8.0, 16.0);
            Form::Tube {
                outer: Length::from_mm(inner + die.between(1.0, 4.0)),
                inner: Length::from_mm(inner),
                length: mm(die, 15.0, 40.0),
            }
        }
        5 => Form::Ring {
            across: mm(die, 15.0, 40.0),
            wire: mm(die, 1.5, 5.0),
        },
        6 => Form::Plate {
            length: mm(die, 15.0, 50.0),
            width: mm(die, 10.0, 40.0),
            thickness: mm(die, 1.0, 5.0),
        },
        7 => Form::Disc {
            diameter: mm(die, 15.0, 40.0),
            thickness: mm(die, 1.0, 5.0),
        },
        8 => Form::Prism {
            sides: 6,
            edge: mm(die, 5.0, 12.0),
            height: mm(die, 10.0, 40.0),
        },
        _ => {
            let like = Form::Sphere {
                diameter: Length::from_mm(20.0),
            };
            Form::Plain {
                area: Area::from_cm2(die.between(6.0, 40.0)),
                like: Some(Box::new(like)),
            }
        }
    }
}

/// The station for a night that needs so much current and voltage.
pub(super) fn station(die: &mut Die, demo: &Station, peak_a: f64, needs_v: f64) -> Station {
    let mut station = demo.clone();
    station.tank.anode = None;
    station.max_current = crate::units::Current::from_a(peak_a * die.between(1.0, 1.5));
    station.max_voltage = crate::units::Voltage::from_v(needs_v * die.between(1.3, 2.5));
    station
}

/// Traits of a supply that its profile is true of.
pub(super) fn quirks(die: &mut Die, kind: Kind, profile: &SupplyProfile) -> Quirks {
    let usual = Quirks::of(kind).as_stated(&profile.capability());
    let slow = die.decades(0.005, 0.08);
    match kind {
        Kind::Standard => Quirks {
            slew_a_per_s: die.decades(2.0, 50.0),
            reply_s: [die.between(0.001, slow), slow],
            digest_s: die.decades(0.001, 0.02),
            decimals: 4 + die.below(3),
            exponents: die.chance(0.2),
            reply_end: if die.chance(0.3) { "\r\n" } else { "\n" },
            error_depth: 4 + die.below(16),
            needs_remote: die.chance(0.3),
            shows_setpoint_when_off: die.chance(0.3),
            on_mains_return: if die.chance(0.3) {
                OnMainsReturn::On
            } else {
                OnMainsReturn::Off
            },
            ..usual
        },
        Kind::Terse => Quirks {
            slew_a_per_s: die.decades(2.0, 50.0),
            ..usual
        },
    }
}
