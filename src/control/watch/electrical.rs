//! Current and voltage, and what they say of the cell.

use super::{Sees, Sight, State, from, limit, news};
use crate::exchange::{Capability, Mode, Reading, Tolerance};
use crate::units::{Area, Current, Moment, Voltage};
use std::collections::VecDeque;

/// A minute's mean needs this many readings.
const MINUTE_READINGS: u32 = 10;
/// A minute, s.
const MINUTE_S: f64 = 60.0;
/// So many minutes lie between the two that a climb compares.
const CLIMB_MINUTES: usize = 10;
/// Two readings further apart than this say nothing of noise, s.
const NEIGHBOURS_S: f64 = 5.0;

/// A step down of the setpoint: what was set and read before it, and in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// What was set.
    pub set: [Current; 2],
    /// What was read.
    pub current: [Current; 2],
    /// And the voltage.
    pub voltage: [Voltage; 2],
}

impl Step {
    fn by(&self) -> [f64; 3] {
        [
            (self.set[0] - self.set[1]).a(),
            (self.current[0] - self.current[1]).a(),
            (self.voltage[0] - self.voltage[1]).v(),
        ]
    }
}

/// The last settled voltage, its moment and setpoint, and by how much it had risen.
#[derive(Clone, Copy, Debug)]
struct Last {
    at: Moment,
    set: Current,
    voltage: Voltage,
    rose_v: Option<f64>,
}

/// The mean that a minute is building.
#[derive(Clone, Copy, Debug)]
struct Minute {
    since: Moment,
    sum: f64,
    count: u32,
}

/// What is remembered of current and voltage, in one state: area and current differ between states,
/// and on paint the strike's resistance changes by the minute.
#[derive(Clone, Debug)]
pub(super) struct Electrical {
    state: Option<(State, Moment)>,
    slow_ohm: Option<f64>,
    updated: Moment,
    /// The setpoint at that moment.
    followed: Current,
    last: Option<Last>,
    noise_v: Option<f64>,
    minute: Minute,
    /// Minutes' means of the resistance, the oldest first.
    minutes: VecDeque<f64>,
    lowest: Option<f64>,
    /// Share planned and conductance at the first step that counts, and what the last one says.
    cover_base: Option<[f64; 2]>,
    cover_seen: Option<(f64, bool)>,
    still: u32,
}

impl Electrical {
    pub(super) fn new(now: Moment) -> Self {
        Self {
            state: None,
            slow_ohm: None,
            updated: now,
            followed: Current::ZERO,
            last: None,
            noise_v: None,
            minute: Minute {
                since: now,
                sum: 0.0,
                count: 0,
            },
            minutes: VecDeque::new(),
            lowest: None,
            cover_base: None,
            cover_seen: None,
            still: 0,
        }
    }

    /// Takes a reading in before it is judged.
    pub(super) fn note(&mut self, sight: &Sight<'_>) {
        if self.state.is_none_or(|(state, _)| state != sight.state) {
            let still = self.still;
            *self = Self::new(sight.now);
            self.still = still;
            self.state = Some((sight.state, sight.now));
        }
        self.note_noise(sight);
        self.note_minute(sight);
    }

    /// The mean of what the voltage goes up and comes down again, at one setpoint. What only rises
    /// or only falls is no noise: copper that spreads over paint lets it fall.
    fn note_noise(&mut self, sight: &Sight<'_>) {
        let Some(voltage) = sight.reading.and_then(|reading| reading.voltage) else {
            return;
        };
        if !sight.settled || in_constant_voltage(sight) {
            self.last = None;
            return;
        }
        let mut now = Last {
            at: sight.now,
            set: sight.set,
            voltage,
            rose_v: None,
        };
        let before = self.last.replace(now);
        let Some(before) = before.filter(|before| before.set == sight.set) else {
            return;
        };
        let passed = sight.now.since(before.at).s();
        if passed > NEIGHBOURS_S {
            return;
        }
        let rose = (voltage - before.voltage).v();
        now.rose_v = Some(rose);
        self.last = Some(now);
        let Some(rose_before) = before.rose_v else {
            return;
        };
        let jump = if rose * rose_before < 0.0 {
            rose.abs().min(rose_before.abs())
        } else {
            0.0
        };
        let share = (passed / limit::NOISE_S).min(1.0);
        let mean = self.noise_v.unwrap_or(0.0);
        self.noise_v = Some(mean + (jump - mean) * share);
    }

    fn note_minute(&mut self, sight: &Sight<'_>) {
        if let Some(ohm) = resistance(sight) {
            self.minute.sum += ohm;
            self.minute.count += 1;
        }
        if sight.now.since(self.minute.since).s() < MINUTE_S {
            return;
        }
        let Minute { sum, count, .. } = self.minute;
        self.minute = Minute {
            since: sight.now,
            sum: 0.0,
            count: 0,
        };
        if count < MINUTE_READINGS {
            return;
        }
        let mean = sum / f64::from(count);
        self.lowest = Some(self.lowest.map_or(mean, |lowest| lowest.min(mean)));
        self.minutes.push_back(mean);
        if self.minutes.len() > CLIMB_MINUTES + 1 {
            self.minutes.pop_front();
        }
    }

    /// Lets the slow mean of the cell's resistance follow an undisturbed reading.
    pub(super) fn follow(&mut self, sight: &Sight<'_>) {
        let Some(ohm) = resistance(sight) else { return };
        let passed = sight.now.since(self.updated).s();
        self.updated = sight.now;
        // A cell's resistance falls as the current rises: the mean goes along with the setpoint.
        let moved = ((sight.set - self.followed) / sight.set).abs();
        self.followed = sight.set;
        let slow = self.slow_ohm.unwrap_or(ohm);
        let within_s = if ohm < slow {
            limit::FALL_S
        } else {
            limit::SLOW_MEAN_S
        };
        let share = (passed / within_s + limit::GOES_ALONG * moved).min(1.0);
        self.slow_ohm = Some(slow + (ohm - slow) * share);
    }

    /// The slow mean, once it has followed its state for long enough.
    fn learned(&self, sight: &Sight<'_>) -> Option<f64> {
        let (_, since) = self.state?;
        let long_enough = sight.now.since(since).s() >= limit::LEARNED_S;
        long_enough.then_some(self.slow_ohm?)
    }

    /// A step of the setpoint: the meter follows it, and it tells how much surface takes part; the
    /// most that can, in a strike.
    pub(super) fn stepped(&mut self, step: &Step, sight: &Sight<'_>) -> Option<Area> {
        let [set, read, volts] = step.by();
        let (ammeter, voltmeter) = (sight.supply.read_current, sight.supply.read_voltage);
        if set < limit::JUDGED * step_of(ammeter) {
            return None;
        }
        let chord = step.voltage[0].v() / step.set[0].a();
        // Half of the chord's is less than any cell's slope.
        let due_v = 0.5 * chord * set;
        let shows_v = due_v >= limit::JUDGED * least_of(voltmeter);
        // A voltmeter that lives shows another last digit; how far it goes a bad contact hides.
        let same_v = volts.abs() < 0.5 * step_of(voltmeter);
        let stands = read < limit::FOLLOWS * set || (shows_v && same_v);
        self.still = if stands { self.still + 1 } else { 0 };
        if stands || !shows_v || volts <= 0.0 || sight.state != State::Striking {
            return None;
        }
        self.note_cover(set / volts, sight);
        // What the voltmeter cannot tell must not make the surface smaller than it is.
        most_area(sight, (volts - least_of(voltmeter)) / set)
    }

    fn note_cover(&mut self, siemens: f64, sight: &Sight<'_>) {
        let planned = sight.planned / sight.whole;
        if (limit::COVER_BASE..limit::COVER_BASE_MOST).contains(&planned) {
            self.cover_base.get_or_insert([planned, siemens]);
        }
        let Some([then, base]) = self.cover_base.filter(|_| planned >= limit::COVER_JUDGED) else {
            return;
        };
        let Some(most) = most_area(sight, siemens.recip()) else {
            return;
        };
        let seen = most / sight.planned;
        let grown = 1.0 + limit::COVER_GROWTH * (planned / then - 1.0);
        let behind = seen < limit::COVER_SEEN && siemens < base * grown;
        self.cover_seen = Some((seen, behind));
    }

    /// The largest share of the surface that can take part, by the last step.
    pub(super) fn cover_seen(&self) -> Option<f64> {
        self.cover_seen.map(|(seen, _)| seen)
    }

    pub(super) fn frozen(&self) -> Sees {
        from(self.still >= limit::FROZEN_STEPS)
    }

    /// True after a step that did not show: another one follows soon.
    pub(super) fn doubts_meter(&self) -> bool {
        self.still > 0
    }

    pub(super) fn uncovered(&self, sight: &Sight<'_>) -> Sees {
        if sight.planned / sight.whole < limit::COVER_JUDGED {
            return Sees::NoNews;
        }
        let Some(current) = sight.reading.and_then(|reading| reading.current) else {
            return Sees::NoNews;
        };
        // At the ceiling no step can be told: what flows is what the surface takes.
        if sight.settled && in_constant_voltage(sight) {
            return from(current < sight.set * limit::COVER_LEAST);
        }
        news(self.cover_seen, |(_, behind)| behind)
    }

    pub(super) fn high(&self, sight: &Sight<'_>) -> Sees {
        self.compared(sight, |ohm, slow| {
            ohm > slow * limit::RISE && (ohm - slow) * sight.set.a() > 0.1
        })
    }

    fn compared(&self, sight: &Sight<'_>, beyond: impl Fn(f64, f64) -> bool) -> Sees {
        match (resistance(sight), self.learned(sight)) {
            (Some(ohm), Some(slow)) => from(beyond(ohm, slow)),
            (Some(_), None) | (None, _) => Sees::NoNews,
        }
    }

    pub(super) fn collapsed(&self, sight: &Sight<'_>) -> Sees {
        let Some((current, voltage)) = measured(sight) else {
            return Sees::NoNews;
        };
        let meter = sight.supply.read_voltage;
        let most = voltage.v() + meter.half_width(voltage.v());
        match self.learned(sight) {
            // The voltage that should be there must be one the meter can tell from nothing.
            Some(slow) if slow * current.a() >= limit::JUDGED * least_of(meter) => {
                from(most < slow * current.a() * limit::COLLAPSE)
            }
            Some(_) | None => Sees::Clear,
        }
    }

    pub(super) fn filmed(&self, sight: &Sight<'_>) -> Sees {
        match (self.minutes.back(), self.lowest) {
            (Some(now), Some(lowest)) => {
                let rise_v = (now - lowest) * sight.set.a();
                let risen = *now > lowest * limit::FILM && rise_v > limit::FILM_V;
                from(risen && self.noisy(sight) != Sees::Fault)
            }
            (Some(_) | None, _) => Sees::NoNews,
        }
    }

    pub(super) fn climbing(&self, sight: &Sight<'_>) -> Sees {
        if self.minutes.len() <= CLIMB_MINUTES {
            return Sees::NoNews;
        }
        match (self.minutes.front(), self.minutes.back()) {
            (Some(before), Some(now)) => {
                let rise_v = (now - before) * sight.set.a();
                from(*now > before * limit::CLIMB && rise_v > limit::CLIMB_V)
            }
            (Some(_) | None, _) => Sees::NoNews,
        }
    }

    pub(super) fn noisy(&self, sight: &Sight<'_>) -> Sees {
        let meter = sight.supply.read_voltage;
        let volts = self.last.map_or(0.0, |last| last.voltage.v());
        let most = limit::NOISE_V
            .max(limit::NOISE_SHARE * volts)
            .max(limit::NOISE_STEPS * step_of(meter))
            .max(meter.fixed);
        news(self.noise_v, |noise| noise > most)
    }

    /// What the voltage jumps by on the mean, V.
    pub(super) fn noise_v(&self) -> Option<f64> {
        self.noise_v
    }

    /// The newest minute's mean and the lowest there was, ohm.
    pub(super) fn minutes(&self) -> Option<[f64; 3]> {
        Some([*self.minutes.front()?, *self.minutes.back()?, self.lowest?])
    }
}

pub(super) fn step_of(tolerance: Tolerance) -> f64 {
    tolerance.step.max(1e-6)
}

/// The most surface that can take part where a step meets so many ohms; none where leads alone may
/// be all of them.
fn most_area(sight: &Sight<'_>, ohm: f64) -> Option<Area> {
    // The most that a square metre of it resists: bath and both interfaces.
    let ohm_m2 = sight.bounds.gap.m() / limit::LEAST_S_PER_M + limit::INTERFACE_OHM_M2;
    let without = ohm - limit::LEAD_OHM;
    (without > 0.0).then(|| Area::from_m2(ohm_m2 / without))
}

/// What a meter can tell from nothing.
fn least_of(tolerance: Tolerance) -> f64 {
    tolerance.fixed + step_of(tolerance)
}

fn measured(sight: &Sight<'_>) -> Option<(Current, Voltage)> {
    let reading = sight.reading?;
    Some((reading.current?, reading.voltage?))
}

/// The supply's mode, or what voltage and ceiling say of it.
fn in_constant_voltage(sight: &Sight<'_>) -> bool {
    match sight.reading.and_then(|reading| reading.mode) {
        Some(Mode::ConstantVoltage) => true,
        Some(Mode::ConstantCurrent) => false,
        Some(Mode::Unregulated) | None => at_ceiling(sight),
    }
}

/// True if the voltage reads as its ceiling.
fn at_ceiling(sight: &Sight<'_>) -> bool {
    let slack = sight.supply.read_voltage.half_width(sight.ceiling.v());
    let voltage = sight.reading.and_then(|reading| reading.voltage);
    voltage.is_some_and(|v| v.v() + slack >= sight.ceiling.v() * limit::AT_CEILING)
}

pub(super) fn without_voltage(sight: &Sight<'_>) -> Sees {
    news(measured(sight), |(current, voltage)| {
        let meter = sight.supply.read_voltage;
        voltage.v() + meter.half_width(voltage.v()) < current.a() * limit::LEAST_OHM
    })
}

pub(super) fn off_setpoint(sight: &Sight<'_>) -> Sees {
    let Some(current) = sight.reading.and_then(|reading| reading.current) else {
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

pub(super) fn cc_lost(sight: &Sight<'_>) -> Sees {
    let Some(current) = sight.reading.and_then(|reading| reading.current) else {
        return Sees::NoNews;
    };
    from(sight.settled && in_constant_voltage(sight) && is_short(sight, current))
}

/// Less than what is set flows, whatever the meter's own limits.
fn is_short(sight: &Sight<'_>, current: Current) -> bool {
    let meter = sight.supply.read_current.half_width(current.a());
    current.a() + meter < sight.set.a() * limit::SHORTFALL
}

pub(super) fn beyond_envelope(sight: &Sight<'_>) -> Sees {
    let current = sight.reading.and_then(|reading| reading.current);
    news(current, |current| {
        let slack = sight.supply.read_current.half_width(current.a())
            + sight.supply.set_current.half_width(current.a());
        current.a() > sight.envelope.current.a() + slack
    })
}

pub(super) fn implausible(sight: &Sight<'_>) -> Sees {
    news(sight.reading, |reading| !plausible(reading, sight.supply))
}

/// True for figures that this supply can give.
pub(super) fn plausible(reading: &Reading, supply: &Capability) -> bool {
    let (Some(current), Some(voltage)) = (reading.current, reading.voltage) else {
        return false;
    };
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
    let (current, voltage) = measured(sight)?;
    let clear = current.a() >= limit::JUDGED * least_of(sight.supply.read_current)
        && voltage.v() >= limit::JUDGED * least_of(sight.supply.read_voltage);
    // A lead that was open for one of the two readings leaves the full current beside the ceiling.
    let torn = !is_short(sight, current) && (in_constant_voltage(sight) || at_ceiling(sight));
    (clear && sight.settled && !torn).then(|| voltage.v() / current.a())
}
