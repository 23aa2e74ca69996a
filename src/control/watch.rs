//! Holds each reading against the guard table and remembers how long each guard has seen its fault.

use super::guard::{Fault, Patience};
use super::permit::Envelope;
use super::state::State;
use crate::exchange::{Capability, Mode, Reading, Tolerance};
use crate::units::{Charge, Current, Moment, Span, Voltage};

/// Every figure a guard compares against, in one place.
pub mod limit {
    /// A current may miss its setpoint by the stated limits of both meters, times this, and 1 %
    /// more.
    pub const SETPOINT_MARGIN: f64 = 1.5;
    /// The extra share of the setpoint.
    pub const SETPOINT_SHARE: f64 = 0.01;
    /// In constant voltage the current falls short when it is under this share of the setpoint.
    pub const SHORTFALL: f64 = 0.9;
    /// The cell's resistance has risen when it is over this multiple of its slow mean.
    pub const RISE: f64 = 1.5;
    /// The cell's resistance has collapsed when it is under this share of its slow mean.
    pub const COLLAPSE: f64 = 0.4;
    /// No cell with its leads has less resistance at the supply's terminals, ohm (`common practice,
    /// no source`).
    pub const LEAST_OHM: f64 = 0.010;
    /// The slow mean follows with this time constant, s.
    pub const SLOW_MEAN_S: f64 = 300.0;
    /// A figure this many times what the meter can tell from nothing (its fixed error and a step)
    /// can be judged as a ratio.
    pub const JUDGED: f64 = 4.0;
    /// The slow mean is not compared with before it has followed a state for this long, s.
    pub const LEARNED_S: f64 = 30.0;
    /// A current beyond this multiple of the supply's rating cannot be true.
    pub const BEYOND_RATING: f64 = 1.1;
    /// A voltage counts as at the ceiling from this share of it.
    pub const AT_CEILING: f64 = 0.98;
    /// Without a usable reading for this long, s, the output goes off.
    pub const STALE_S: f64 = 5.0;
}

/// What there is to judge at one reading.
#[derive(Clone, Copy, Debug)]
pub struct Sight<'a> {
    /// The clock.
    pub now: Moment,
    /// The state the run is in.
    pub state: State,
    /// The reading.
    pub reading: &'a Reading,
    /// The setpoint that was last sent and acknowledged.
    pub set: Current,
    /// The setpoint has stood long enough to be judged.
    pub settled: bool,
    /// The constant-voltage ceiling.
    pub ceiling: Voltage,
    /// The envelope that stands.
    pub envelope: Envelope,
    /// The supply's limits and steps.
    pub supply: &'a Capability,
    /// Charge delivered so far.
    pub charge: Charge,
    /// The most that may be delivered.
    pub charge_cap: Charge,
    /// Time with the output on.
    pub on: Span,
    /// The longest it may be on.
    pub on_cap: Span,
}

/// What one guard says of one reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Sees {
    Fault,
    Clear,
    NoNews,
}

/// The memory of the guards.
#[derive(Clone, Debug)]
pub struct Watch {
    seen: [Option<(Moment, u32)>; Fault::ALL.len()],
    slow_ohm: Option<f64>,
    /// The state the slow mean belongs to, and since when.
    learning: Option<(State, Moment)>,
    updated: Moment,
    good: Moment,
}

impl Watch {
    /// Guards that have seen nothing yet.
    #[must_use]
    pub const fn new(now: Moment) -> Self {
        Self {
            seen: [None; Fault::ALL.len()],
            slow_ohm: None,
            learning: None,
            updated: now,
            good: now,
        }
    }

    /// When the last usable reading came.
    #[must_use]
    pub const fn last_good(&self) -> Moment {
        self.good
    }

    /// Starts afresh after the output was off: the silence meanwhile is not the supply's.
    pub fn wake(&mut self, now: Moment) {
        *self = Self::new(now);
    }

    /// True if no usable reading has come for too long.
    #[must_use]
    pub fn stale(&self, now: Moment) -> bool {
        now.since(self.good).s() > limit::STALE_S
    }

    /// Judges a reading. The worst guard that has seen its fault long enough speaks.
    pub fn judge(&mut self, sight: &Sight<'_>) -> Option<Fault> {
        if plausible(sight) {
            self.good = sight.now;
        }
        self.learn_anew(sight);
        let mut worst: Option<Fault> = None;
        let mut any = false;
        for (slot, fault) in Fault::ALL.into_iter().enumerate() {
            let guard = fault.guard();
            if !guard.states.contains(&sight.state) {
                self.seen[slot] = None;
                continue;
            }
            match self.sees(fault, sight) {
                Sees::Clear => self.seen[slot] = None,
                Sees::NoNews => {}
                Sees::Fault => {
                    any = true;
                    let (first, count) = self.seen[slot].unwrap_or((sight.now, 0));
                    self.seen[slot] = Some((first, count + 1));
                    if ripe(guard.patience, first, count + 1, sight.now)
                        && worst.is_none_or(|other| guard.response > other.guard().response)
                    {
                        worst = Some(fault);
                    }
                }
            }
        }
        if !any {
            self.follow(sight);
        }
        worst
    }

    /// A cell's resistance is compared with the same state's only: area and current differ between
    /// them, and on paint the strike's own changes by the minute.
    fn learn_anew(&mut self, sight: &Sight<'_>) {
        if self.learning.is_none_or(|(state, _)| state != sight.state) {
            self.learning = Some((sight.state, sight.now));
            self.slow_ohm = None;
        }
    }

    /// The slow mean, once it has followed its state for long enough.
    fn learned(&self, sight: &Sight<'_>) -> Option<f64> {
        let (state, since) = self.learning?;
        let long_enough = sight.now.since(since).s() >= limit::LEARNED_S;
        (long_enough && state != State::Striking).then_some(self.slow_ohm?)
    }

    /// Lets the slow mean of the cell's resistance follow an undisturbed reading.
    fn follow(&mut self, sight: &Sight<'_>) {
        let Some(ohm) = resistance(sight) else { return };
        let passed = sight.now.since(self.updated).s();
        self.updated = sight.now;
        let share = (passed / limit::SLOW_MEAN_S).min(1.0);
        self.slow_ohm = Some(
            self.slow_ohm
                .map_or(ohm, |slow| slow + (ohm - slow) * share),
        );
    }

    fn sees(&self, fault: Fault, sight: &Sight<'_>) -> Sees {
        match fault {
            Fault::CurrentOffSetpoint => off_setpoint(sight),
            Fault::ConstantCurrentLost => cc_lost(sight),
            Fault::CellVoltageHigh => self.resistance_beyond(sight, |ohm, slow| {
                ohm > slow * limit::RISE && (ohm - slow) * sight.set.a() > 0.1
            }),
            Fault::CellVoltageCollapsed => self.collapsed(sight),
            Fault::OutputNotAsCommanded => news(sight.reading.output, |on| !on),
            Fault::SetpointChanged => news(sight.reading.set_current, |set| {
                sight.settled
                    && (set - sight.set).abs().a() > 0.6 * step_of(sight.supply.set_current)
            }),
            Fault::ProtectionTripped => news(sight.reading.tripped, |tripped| tripped),
            Fault::SupplyError => news(sight.reading.error.as_ref(), |error| is_fault(error.code)),
            Fault::ReadingStale => from(self.stale(sight.now)),
            Fault::ReadingImplausible => from(!plausible(sight)),
            Fault::EnvelopeExceeded => news(sight.reading.current, |current| {
                let slack = sight.supply.read_current.half_width(current.a())
                    + sight.supply.set_current.half_width(current.a());
                current.a() > sight.envelope.current.a() + slack
            }),
            Fault::ChargeCap => from(sight.charge > sight.charge_cap),
            Fault::TimeCap => from(sight.on > sight.on_cap),
            // These speak through events, not through readings.
            Fault::LedgerNotWriting
            | Fault::CommandFailed
            | Fault::WrongSupply
            | Fault::OnBeforeStart
            | Fault::LimitsNotTaken
            | Fault::NoContact
            | Fault::KeeperLost
            | Fault::DaemonLost => Sees::NoNews,
        }
    }

    fn resistance_beyond(&self, sight: &Sight<'_>, beyond: impl Fn(f64, f64) -> bool) -> Sees {
        match (resistance(sight), self.learned(sight)) {
            (Some(ohm), Some(slow)) => from(beyond(ohm, slow)),
            (Some(_), None) | (None, _) => Sees::NoNews,
        }
    }

    fn collapsed(&self, sight: &Sight<'_>) -> Sees {
        let Some(current) = sight.reading.current else {
            return Sees::NoNews;
        };
        let Some(voltage) = sight.reading.voltage else {
            return Sees::NoNews;
        };
        let meter = sight.supply.read_voltage;
        let most = voltage.v() + meter.half_width(voltage.v());
        if most < current.a() * limit::LEAST_OHM {
            return Sees::Fault;
        }
        match self.learned(sight) {
            // The voltage that should be there must be one the meter can tell from nothing.
            Some(slow) if slow * current.a() >= limit::JUDGED * least_of(meter) => {
                from(most < slow * current.a() * limit::COLLAPSE)
            }
            Some(_) | None => Sees::Clear,
        }
    }
}

/// The words for what a guard saw, with the figures.
#[must_use]
pub fn evidence(fault: Fault, sight: &Sight<'_>) -> String {
    let current = sight
        .reading
        .current
        .map_or("none".into(), |i| format!("{:.3} A", i.a()));
    let voltage = sight
        .reading
        .voltage
        .map_or("none".into(), |v| format!("{:.3} V", v.v()));
    let read = format!(
        "current {current} at a setpoint of {:.3} A, voltage {voltage}",
        sight.set.a()
    );
    match fault {
        Fault::SupplyError => match &sight.reading.error {
            Some(error) => format!("{} {}", error.code, error.text),
            None => read,
        },
        Fault::SetpointChanged => match sight.reading.set_current {
            Some(set) => format!(
                "sent {:.4} A, the supply holds {:.4} A",
                sight.set.a(),
                set.a()
            ),
            None => read,
        },
        Fault::ChargeCap => {
            format!(
                "{:.3} Ah delivered, {:.3} Ah allowed",
                sight.charge.ah(),
                sight.charge_cap.ah()
            )
        }
        Fault::TimeCap => format!(
            "{:.2} h on, {:.2} h allowed",
            sight.on.h(),
            sight.on_cap.h()
        ),
        Fault::CurrentOffSetpoint
        | Fault::ConstantCurrentLost
        | Fault::CellVoltageHigh
        | Fault::CellVoltageCollapsed
        | Fault::OutputNotAsCommanded
        | Fault::ProtectionTripped
        | Fault::ReadingStale
        | Fault::ReadingImplausible
        | Fault::EnvelopeExceeded
        | Fault::LedgerNotWriting
        | Fault::CommandFailed
        | Fault::WrongSupply
        | Fault::OnBeforeStart
        | Fault::LimitsNotTaken
        | Fault::NoContact
        | Fault::KeeperLost
        | Fault::DaemonLost => read,
    }
}

/// True for an error code that is a fault and not an event. SCPI-99 vol. 2 §21.8: -6xx, -7xx and
/// -8xx tell of user request, request control and operation complete; -230 and -231 are stale or
/// doubtful data.
fn is_fault(code: i32) -> bool {
    !matches!(code, 0 | -899..=-600 | -231 | -230)
}

fn from(fault: bool) -> Sees {
    if fault { Sees::Fault } else { Sees::Clear }
}

fn news<T>(value: Option<T>, fault: impl Fn(T) -> bool) -> Sees {
    value.map_or(Sees::NoNews, |value| from(fault(value)))
}

fn ripe(patience: Patience, first: Moment, count: u32, now: Moment) -> bool {
    match patience {
        Patience::None => true,
        Patience::Readings(wanted) => count >= wanted,
        Patience::For(span) => now.since(first) >= span,
    }
}

fn step_of(tolerance: Tolerance) -> f64 {
    tolerance.step.max(1e-6)
}

/// What a meter can tell from nothing.
fn least_of(tolerance: Tolerance) -> f64 {
    tolerance.fixed + step_of(tolerance)
}

/// The supply's mode, or what voltage and ceiling say of it.
fn in_constant_voltage(sight: &Sight<'_>) -> bool {
    match sight.reading.mode {
        Some(Mode::ConstantVoltage) => true,
        Some(Mode::ConstantCurrent) => false,
        Some(Mode::Unregulated) | None => at_ceiling(sight),
    }
}

/// True if the voltage reads as its ceiling.
fn at_ceiling(sight: &Sight<'_>) -> bool {
    let slack = sight.supply.read_voltage.half_width(sight.ceiling.v());
    sight
        .reading
        .voltage
        .is_some_and(|v| v.v() + slack >= sight.ceiling.v() * limit::AT_CEILING)
}

fn off_setpoint(sight: &Sight<'_>) -> Sees {
    let Some(current) = sight.reading.current else {
        return Sees::NoNews;
    };
    if !sight.settled || in_constant_voltage(sight) {
        return Sees::Clear;
    }
    let set = sight.set.a();
    let allowed = limit::SETPOINT_MARGIN
        * (sight.supply.read_current.half_width(set) + sight.supply.set_current.half_width(set))
        + limit::SETPOINT_SHARE * set;
    from((current.a() - set).abs() > allowed)
}

fn cc_lost(sight: &Sight<'_>) -> Sees {
    let Some(current) = sight.reading.current else {
        return Sees::NoNews;
    };
    let meter = sight.supply.read_current.half_width(current.a());
    let short = current.a() + meter < sight.set.a() * limit::SHORTFALL;
    from(sight.settled && in_constant_voltage(sight) && short)
}

fn plausible(sight: &Sight<'_>) -> bool {
    let (Some(current), Some(voltage)) = (sight.reading.current, sight.reading.voltage) else {
        return false;
    };
    let supply = sight.supply;
    let inside = |value: f64, most: f64, tolerance: Tolerance| {
        value.is_finite()
            && value >= -2.0 * (tolerance.fixed + step_of(tolerance))
            && value <= most * limit::BEYOND_RATING
    };
    inside(current.a(), supply.max_current.a(), supply.read_current)
        && inside(voltage.v(), supply.max_voltage.v(), supply.read_voltage)
}

/// The cell's resistance at the supply's terminals, where both meters can tell it.
fn resistance(sight: &Sight<'_>) -> Option<f64> {
    let current = sight.reading.current?.a();
    let voltage = sight.reading.voltage?.v();
    let clear = current >= limit::JUDGED * least_of(sight.supply.read_current)
        && voltage >= limit::JUDGED * least_of(sight.supply.read_voltage);
    (clear && sight.settled).then(|| voltage / current)
}
