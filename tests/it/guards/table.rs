//! Each guard that judges a moment, just below, at and above its limit, in every state. The figures
//! follow from the limits in `limit` and the supply of this folder, worked out by hand.

use super::supply;
use nightvat::control::{
    Envelope, Evidence, Fault, Patience, Sense, Sight, State, Step, Watch, limit,
};
use nightvat::exchange::{DeviceError, LinkFault, Mode, Reading};
use nightvat::plan::Bounds;
use nightvat::spec::{Brightener, Measures};
use nightvat::units::{
    Area, Charge, Current, CurrentDensity, Length, Moment, Span, Temperature, Voltage,
};

/// How far a case is from the limit of its guard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Level {
    Below,
    At,
    Above,
}

const LEVELS: [Level; 3] = [Level::Below, Level::At, Level::Above];

impl Level {
    fn pick(self, below: f64, at: f64, above: f64) -> f64 {
        match self {
            Self::Below => below,
            Self::At => at,
            Self::Above => above,
        }
    }

    fn is_above(self) -> bool {
        self == Self::Above
    }
}

/// One moment. By itself an undisturbed second: 1 A set, 1 A read at 1 V, constant current, on
/// 100 cm² that are all covered.
#[derive(Clone)]
pub(super) struct Second {
    pub(super) reading: Option<Reading>,
    pub(super) set: f64,
    pub(super) settled: bool,
    pub(super) took_s: f64,
    pub(super) covered_cm2: f64,
    pub(super) charge_ah: f64,
    pub(super) on_h: f64,
    pub(super) envelope_a: f64,
    pub(super) bounds: Bounds,
}

pub(super) fn quiet() -> Second {
    Second {
        reading: Some(Reading {
            current: Some(Current::from_a(1.0)),
            voltage: Some(Voltage::from_v(1.0)),
            output: Some(true),
            mode: Some(Mode::ConstantCurrent),
            set_current: Some(Current::from_a(1.0)),
            tripped: Some(false),
            channel: Some(true),
            ..Reading::default()
        }),
        set: 1.0,
        settled: true,
        took_s: 0.3,
        covered_cm2: 100.0,
        charge_ah: 5.0,
        on_h: 5.0,
        envelope_a: 1.1,
        bounds: Bounds {
            link_allowance: Span::from_s(10.0),
            gap: Length::from_cm(12.0),
            temperature: [18.0, 30.0].map(Temperature::from_c),
            stirring: Some([200.0, 400.0]),
            ..Bounds::default()
        },
    }
}

pub(super) fn with(change: impl FnOnce(&mut Reading)) -> Second {
    let mut second = quiet();
    change(second.reading.as_mut().unwrap());
    second
}

pub(super) fn volts(v: f64) -> Second {
    with(|reading| reading.voltage = Some(Voltage::from_v(v)))
}

/// The guards in one state, and the clock.
pub(super) struct Scene {
    pub(super) watch: Watch,
    pub(super) now: Moment,
    state: State,
    fault: Fault,
    pub(super) spoke: bool,
}

impl Scene {
    pub(super) fn new(fault: Fault, state: State) -> Self {
        let now = Moment::from_s(1.0);
        let mut watch = Watch::new(now);
        watch.begin(now);
        Self {
            watch,
            now,
            state,
            fault,
            spoke: false,
        }
    }

    pub(super) fn sight<R>(
        &mut self,
        second: &Second,
        look: impl FnOnce(&mut Watch, &Sight<'_>) -> R,
    ) -> R {
        let supply = supply();
        let sight = Sight {
            now: self.now,
            state: self.state,
            reading: second.reading.as_ref(),
            took: Span::from_s(second.took_s),
            period: Span::from_s(1.0),
            set: Current::from_a(second.set),
            settled: second.settled,
            ceiling: Voltage::from_v(2.5),
            envelope: Envelope {
                current: Current::from_a(second.envelope_a),
                voltage: Voltage::from_v(2.5),
                until: self.now + Span::from_h(1.0),
            },
            supply: &supply,
            bounds: &second.bounds,
            covered: Area::from_cm2(second.covered_cm2),
            planned: Area::from_cm2(second.covered_cm2),
            whole: Area::from_cm2(100.0),
            charge: Charge::from_ah(second.charge_ah),
            charge_cap: Charge::from_ah(10.0),
            on: Span::from_h(second.on_h),
            on_cap: Span::from_h(10.0),
        };
        look(&mut self.watch, &sight)
    }

    /// Lets a second come `gap` seconds after the last; true if it ended the run or began an alarm.
    pub(super) fn after(&mut self, gap_s: f64, second: &Second) -> bool {
        self.now = self.now + Span::from_s(gap_s);
        let verdict = self.sight(second, Watch::judge);
        let fault = self.fault;
        self.spoke |= verdict.trips == Some(fault) || verdict.begun.has(fault);
        verdict.trips.is_some() || !verdict.begun.is_empty()
    }

    pub(super) fn seconds(&mut self, count: u32, second: &Second) {
        for _ in 0..count {
            if self.spoke {
                return;
            }
            self.after(1.0, second);
        }
    }

    pub(super) fn quiet_for(&mut self, count: u32) {
        for _ in 0..count {
            assert!(
                !self.after(1.0, &quiet()),
                "something spoke in a quiet second of {}",
                self.state.word()
            );
        }
    }

    /// A step of the setpoint; the most surface that can take part, if it shows.
    pub(super) fn step(
        &mut self,
        second: &Second,
        set: [f64; 2],
        read: [f64; 2],
        volts: [f64; 2],
    ) -> Option<Area> {
        let step = Step {
            set: set.map(Current::from_a),
            current: read.map(Current::from_a),
            voltage: volts.map(Voltage::from_v),
        };
        self.sight(second, |watch, sight| watch.stepped(&step, sight))
    }

    pub(super) fn sense(&mut self, sense: Sense) {
        self.watch.sense(self.now, sense);
    }
}

/// Enough of one second to use up the guard's patience.
pub(super) fn repeated(scene: &mut Scene, second: &Second) {
    match scene.fault.guard().patience {
        Patience::None => {
            scene.after(1.0, second);
        }
        Patience::Readings(count) => scene.seconds(count, second),
        Patience::For(span) => {
            for _ in 0..22 {
                if !scene.spoke {
                    scene.after((span.s() / 20.0).max(1.0), second);
                }
            }
        }
    }
}

/// Brings a guard to its limit. False for guards that speak through events; they are in `course`.
fn at_limit(scene: &mut Scene, level: Level) -> bool {
    match scene.fault.guard().evidence {
        Evidence::Electrical => electrical(scene, level),
        Evidence::Supply => says(scene, level),
        Evidence::Link => link(scene, level),
        Evidence::Bath => bath(scene, level),
        Evidence::Host => host(scene, level),
        Evidence::Course => caps(scene, level),
    }
}

fn electrical(scene: &mut Scene, level: Level) -> bool {
    let current = |a: f64| with(|reading| reading.current = Some(Current::from_a(a)));
    let second = match scene.fault {
        // A hundredth of a second beyond: 10 mohm at 1 A, less half a step of the meter, 5 mV.
        Fault::CurrentWithoutVoltage => volts(level.pick(0.0051, 0.005, 0.0049)),
        // 1.5 x (0.5 mA + 0.5 mA) + 1 % of 1 A = 11.5 mA.
        Fault::CurrentOffSetpoint => current(1.0 + level.pick(0.0114, 0.011_499, 0.0116)),
        // 0.9 A less half a step of the meter.
        Fault::ConstantCurrentLost => with(|reading| {
            reading.mode = Some(Mode::ConstantVoltage);
            reading.current = Some(Current::from_a(level.pick(0.9, 0.899_500_1, 0.8994)));
        }),
        // The slow mean is 1 ohm; it has risen when over 1.5 ohm.
        Fault::CellVoltageHigh => volts(level.pick(1.49, 1.5, 1.51)),
        // 0.4 of 1 ohm at 1 A, less half a step of the meter: 0.395 V.
        Fault::CellVoltageCollapsed => volts(level.pick(0.396, 0.395, 0.394)),
        // 110 % of 30 V.
        Fault::ReadingImplausible => volts(level.pick(32.9, 33.0, 33.1)),
        // 1.1 A and half a step of both meters.
        Fault::EnvelopeExceeded => {
            let flows = Current::from_a(level.pick(1.1009, 1.101, 1.1011));
            let mut second = with(|reading| {
                reading.current = Some(flows);
                reading.set_current = Some(Current::from_a(1.1));
            });
            second.set = 1.1;
            second
        }
        _ => return slow(scene, level),
    };
    repeated(scene, &second);
    true
}

/// The electrical guards that need more than one kind of second.
fn slow(scene: &mut Scene, level: Level) -> bool {
    match scene.fault {
        // A step of 0.1 A shows when a quarter of it is read, twice; the voltage follows.
        Fault::ReadbackFrozen => {
            let read = 1.0 - level.pick(0.0251, 0.025, 0.0249);
            scene.step(&quiet(), [1.0, 0.9], [1.0, read], [1.0, 0.94]);
            scene.seconds(1, &quiet());
            assert!(!scene.spoke, "one step that does not show is not enough");
            scene.step(&quiet(), [1.0, 0.9], [1.0, read], [1.0, 0.94]);
            scene.seconds(1, &quiet());
        }
        // The lowest minute was 1 ohm, so 1.3 ohm for five minutes after the minute that shows it.
        Fault::AnodeFilm => scene.seconds(480, &volts(level.pick(1.29, 1.299_999, 1.31))),
        // Ten minutes at 1 ohm, then a whole minute at 1.1 ohm.
        Fault::VoltageClimbing => {
            scene.seconds(660, &quiet());
            scene.seconds(125, &volts(level.pick(1.09, 1.099_999, 1.11)));
        }
        // Three steps of 10 mV, up and down again and again.
        Fault::VoltageNoisy => {
            let up = 1.0 + level.pick(0.0290, 0.03, 0.0315);
            for _ in 0..600 {
                scene.seconds(1, &volts(up));
                scene.seconds(1, &volts(1.0));
            }
        }
        // 12 cm at 15 S/m and 2.5 mohm m2 are 10.5 mohm m2. With 90 of 100 cm2 planned, 0.8 of
        // them take part at 0.1 A / 155.83 mV, 0.1 ohm of leads taken off.
        Fault::CoverNotGrowing => {
            let planned = |cm2: f64| Second {
                covered_cm2: cm2,
                ..quiet()
            };
            scene.step(&planned(30.0), [1.0, 0.9], [1.0, 0.9], [1.0, 0.8]);
            let by = level.pick(0.154, 0.155_83, 0.158);
            scene.step(&planned(90.0), [1.0, 0.9], [1.0, 0.9], [1.0, 1.0 - by]);
            scene.seconds(12, &planned(90.0));
        }
        _ => return false,
    }
    true
}

fn says(scene: &mut Scene, level: Level) -> bool {
    // 0.6 of a step of 1 mA.
    let set = Current::from_a(1.0 + level.pick(5.9e-4, 5.999e-4, 6.1e-4));
    let second = with(|reading| match scene.fault {
        Fault::SupplyPowerCycled => {
            reading.output = Some(false);
            reading.set_current = Some(set);
        }
        Fault::WrongChannel => reading.channel = Some(!level.is_above()),
        Fault::OutputNotAsCommanded => reading.output = Some(!level.is_above()),
        Fault::SetpointChanged => reading.set_current = Some(set),
        Fault::ProtectionTripped => reading.tripped = Some(level.is_above()),
        // -600 and below are events (SCPI-99 vol. 2 chapter 21); -240 is a hardware error.
        Fault::SupplyError => {
            let code = if level.is_above() { -240 } else { -800 };
            let text = "from the queue".to_owned();
            reading.error = Some(DeviceError { code, text });
        }
        other => panic!("{} is no word of the supply", other.code()),
    });
    repeated(scene, &second);
    true
}

fn link(scene: &mut Scene, level: Level) -> bool {
    match scene.fault {
        // Rubbish, for 10 s.
        Fault::ReadingStale => {
            let nothing = Second {
                reading: None,
                ..quiet()
            };
            for gap in [2.0, 2.0, 2.0, 2.0, level.pick(1.9, 2.0, 2.001)] {
                let now = scene.now + Span::from_s(gap);
                scene.watch.failed(now, &LinkFault::Garbled("?".into()));
                scene.after(gap, &nothing);
            }
        }
        // Nothing, for the 10 s of the station.
        Fault::LinkLost => {
            let nothing = Second {
                reading: None,
                ..quiet()
            };
            for _ in 0..9 {
                scene.after(1.0, &nothing);
            }
            scene.after(level.pick(0.9, 1.0, 1.001), &nothing);
        }
        // Ten repeats in five minutes may be; a failed order counts three.
        Fault::LinkGarbled => {
            scene
                .watch
                .failed(scene.now, &LinkFault::Garbled("?".into()));
            let repeated = match level {
                Level::Below => 6,
                Level::At => 7,
                Level::Above => 8,
            };
            scene.after(1.0, &with(|reading| reading.repeated = repeated));
        }
        Fault::RepliesLate => {
            let second = Second {
                took_s: level.pick(0.99, 1.0, 1.01),
                ..quiet()
            };
            scene.seconds(5, &second);
        }
        _ => return false,
    }
    true
}

fn bath(scene: &mut Scene, level: Level) -> bool {
    let (mut second, fault) = (quiet(), scene.fault);
    let mut tells = |measures, number| scene.sense(Sense::Sensor(measures, Some(number)));
    match fault {
        // 1 A less half a milliampere on 100 cm2, times 1.5 at edges: 149.925 A/m2.
        Fault::PeakDensityHigh => {
            let bears = level.pick(149.93, 149.925_001, 149.92);
            second.bounds.density = CurrentDensity::from_a_per_m2(bears);
        }
        Fault::LevelLow => tells(Measures::Level, level.pick(0.1, 0.0, -0.1)),
        Fault::TemperatureOut => tells(Measures::Temperature, level.pick(29.9, 30.0, 30.1)),
        Fault::StirringOut => tells(Measures::Stirring, level.pick(201.0, 200.0, 199.0)),
        Fault::SensorSilent => {
            second.bounds.sensors = vec![Measures::Temperature];
            tells(Measures::Temperature, 25.0);
            let most = limit::SENSOR_S;
            scene.after(level.pick(most - 1.0, most, most + 1e-3), &second);
            return true;
        }
        Fault::BrightenerOverdue => {
            second.bounds.brightener = Some(Brightener {
                every: Charge::from_ah(10.0),
                since: Charge::from_ah(level.pick(4.9, 5.0, 5.1)),
            });
        }
        _ => return false,
    }
    repeated(scene, &second);
    true
}

fn host(scene: &mut Scene, level: Level) -> bool {
    let s = |below, at, above| Span::from_s(level.pick(below, at, above));
    scene.sense(match scene.fault {
        Fault::HostSlept => Sense::Slept(s(1.9, 2.0, 2.1)),
        Fault::ClockJumped => Sense::ClockJumped(s(-9.9, -10.0, -10.1)),
        Fault::LedgerSlow => Sense::LedgerWaits(s(4.9, 5.0, 5.1)),
        Fault::DiskNearlyFull => Sense::DiskFree(match level {
            Level::Below => 100_000_001,
            Level::At => 100_000_000,
            Level::Above => 99_999_999,
        }),
        _ => return false,
    });
    repeated(scene, &quiet());
    true
}

fn caps(scene: &mut Scene, level: Level) -> bool {
    let mut second = quiet();
    match scene.fault {
        Fault::ChargeCap => second.charge_ah = level.pick(9.9, 10.0, 10.1),
        Fault::TimeCap => second.on_h = level.pick(9.9, 10.0, 10.1),
        _ => return false,
    }
    repeated(scene, &second);
    true
}

/// Whether a guard speaks after a minute of quiet; `None` if it speaks through events.
fn spoke(fault: Fault, level: Level, state: State) -> Option<bool> {
    let mut scene = Scene::new(fault, state);
    scene.quiet_for(70);
    at_limit(&mut scene, level).then_some(scene.spoke)
}

#[test]
fn every_guard_speaks_above_its_limit_and_in_its_states_only() {
    let mut rows = 0;
    for fault in Fault::ALL {
        let mut judged = false;
        for state in State::ALL {
            for level in LEVELS {
                let Some(spoke) = spoke(fault, level, state) else {
                    continue;
                };
                judged = true;
                let watches = fault.guard().states.contains(&state);
                let wanted = watches && level.is_above();
                let (code, word) = (fault.code(), state.word());
                assert_eq!(spoke, wanted, "{code} {level:?} in {word}");
            }
        }
        rows += u32::from(judged);
    }
    // The other thirteen speak through events: `course` has them.
    assert_eq!(rows, 34);
    println!("{rows} rows x 13 states x 3 levels");
}

#[test]
fn the_other_side_of_a_window_counts_as_well() {
    let says = |measures, number: f64, fault| {
        let mut scene = Scene::new(fault, State::Building);
        scene.quiet_for(70);
        scene.sense(Sense::Sensor(measures, Some(number)));
        repeated(&mut scene, &quiet());
        scene.spoke
    };
    assert!(says(Measures::Temperature, 17.9, Fault::TemperatureOut));
    assert!(!says(Measures::Temperature, 18.0, Fault::TemperatureOut));
    assert!(says(Measures::Stirring, 401.0, Fault::StirringOut));
    assert!(!says(Measures::Stirring, 400.0, Fault::StirringOut));
    // Not a number is no number.
    assert!(!says(
        Measures::Temperature,
        f64::NAN,
        Fault::TemperatureOut
    ));
}

#[test]
fn one_reading_less_than_a_guards_patience_is_silence() {
    let mut tried = 0;
    for fault in Fault::ALL {
        let Patience::Readings(count) = fault.guard().patience else {
            continue;
        };
        for state in fault.guard().states {
            let second = match fault {
                Fault::WrongChannel => with(|reading| reading.channel = Some(false)),
                Fault::CurrentWithoutVoltage => volts(0.0),
                Fault::CurrentOffSetpoint => with(|r| r.current = Some(Current::from_a(0.9))),
                Fault::CellVoltageCollapsed => volts(0.3),
                Fault::OutputNotAsCommanded => with(|reading| reading.output = Some(false)),
                Fault::SetpointChanged => with(|r| r.set_current = Some(Current::from_a(0.9))),
                Fault::ProtectionTripped => with(|reading| reading.tripped = Some(true)),
                Fault::ReadingImplausible => volts(-5.0),
                Fault::EnvelopeExceeded => with(|r| r.current = Some(Current::from_a(1.2))),
                Fault::RepliesLate => Second {
                    took_s: 2.0,
                    ..quiet()
                },
                other => panic!("{} has no second of its own", other.code()),
            };
            let mut scene = Scene::new(fault, *state);
            scene.quiet_for(70);
            scene.seconds(count - 1, &second);
            assert!(!scene.spoke, "{}", fault.code());
            // A good reading in between starts the count again.
            scene.after(1.0, &quiet());
            scene.seconds(count - 1, &second);
            assert!(!scene.spoke, "{}", fault.code());
            scene.seconds(1, &second);
            assert!(scene.spoke, "{}", fault.code());
            tried += 1;
        }
    }
    assert!(tried > 30, "{tried}");
}

#[test]
fn an_alarm_speaks_once_and_falls_silent_a_minute_after_its_cause() {
    let mut scene = Scene::new(Fault::LedgerSlow, State::Building);
    scene.quiet_for(70);
    let said = |scene: &mut Scene, sense: Span, count: u32| {
        scene.sense(Sense::LedgerWaits(sense));
        let (mut begun, mut gone) = (0, 0);
        for _ in 0..count {
            scene.now = scene.now + Span::from_s(1.0);
            let verdict = scene.sight(&quiet(), Watch::judge);
            begun += u32::from(verdict.begun.has(Fault::LedgerSlow));
            gone += u32::from(verdict.gone.has(Fault::LedgerSlow));
        }
        (begun, gone)
    };
    assert_eq!(said(&mut scene, Span::from_s(6.0), 300), (1, 0));
    assert_eq!(said(&mut scene, Span::ZERO, 60), (0, 0));
    assert_eq!(said(&mut scene, Span::ZERO, 60), (0, 1));
    assert_eq!(said(&mut scene, Span::from_s(6.0), 10), (1, 0));
}

#[test]
fn the_worst_guard_wins_and_the_one_that_says_more_comes_first() {
    // Off beats ramp off.
    let mut scene = Scene::new(Fault::ChargeCap, State::Building);
    scene.quiet_for(70);
    scene.sense(Sense::Sensor(Measures::Level, Some(-1.0)));
    for _ in 0..40 {
        let trips = scene.sight(&quiet(), Watch::judge).trips;
        scene.now = scene.now + Span::from_s(1.0);
        assert!(trips.is_none() || trips == Some(Fault::LevelLow));
    }
    let second = Second {
        charge_ah: 11.0,
        ..quiet()
    };
    let trips = scene.sight(&second, Watch::judge).trips;
    assert_eq!(trips, Some(Fault::ChargeCap));
    // A supply that came back from nothing is off, too, and its setpoint is another.
    let mut scene = Scene::new(Fault::SupplyPowerCycled, State::Building);
    scene.quiet_for(70);
    let back = with(|reading| {
        reading.current = Some(Current::ZERO);
        reading.voltage = Some(Voltage::ZERO);
        reading.output = Some(false);
        reading.set_current = Some(Current::ZERO);
    });
    scene.after(1.0, &back);
    assert!(scene.spoke);
}

#[test]
fn a_level_that_nobody_measures_falls_by_the_clock() {
    let mut second = quiet();
    // 6 mm above the piece, 12 mm a day: half a day.
    second.bounds.level = Some(nightvat::spec::Level {
        above: Length::from_mm(6.0),
        falls_a_day: Length::from_mm(12.0),
    });
    let mut scene = Scene::new(Fault::LevelLow, State::Building);
    for _ in 0..719 {
        scene.after(60.0, &second);
        assert!(!scene.spoke);
    }
    for _ in 0..4 {
        scene.after(60.0, &second);
    }
    assert!(scene.spoke);
}

#[test]
fn a_painted_piece_in_strike_may_sit_at_the_ceiling() {
    let mut second = with(|reading| {
        reading.mode = Some(Mode::ConstantVoltage);
        reading.voltage = Some(Voltage::from_v(2.5));
        reading.current = Some(Current::from_a(0.2));
    });
    second.covered_cm2 = 80.0;
    let mut scene = Scene::new(Fault::ConstantCurrentLost, State::Striking);
    for _ in 0..3600 {
        assert!(!scene.after(1.0, &second));
    }
}
