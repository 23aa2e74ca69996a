//! The bath: what its sensors say, and what is reckoned of it.

use super::{Sees, Sight, from, limit, news};
use crate::spec::Measures;
use crate::units::{CurrentDensity, Length, Moment, Span, Temperature};

/// What is remembered of the bath.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bath {
    began: Moment,
    /// How long the run had current before it was broken off, if it was.
    before: Span,
    /// The last number of each sensor, and when it came.
    numbers: [Option<(Moment, f64)>; Measures::ALL.len()],
}

impl Bath {
    pub(super) fn new(now: Moment) -> Self {
        Self {
            began: now,
            before: Span::ZERO,
            numbers: [None; Measures::ALL.len()],
        }
    }

    pub(super) fn begin(&mut self, now: Moment) {
        self.began = now;
    }

    /// It goes on after so long: the liquid has fallen by then.
    pub(super) fn goes_on(&mut self, before: Span) {
        self.before = before;
    }

    pub(super) fn sense(&mut self, now: Moment, measures: Measures, number: Option<f64>) {
        if let Some(number) = number.filter(|number| number.is_finite()) {
            self.numbers[measures as usize] = Some((now, number));
        }
    }

    /// A sensor's number, while it is fresh.
    pub(super) fn number(&self, measures: Measures, now: Moment) -> Option<f64> {
        let (at, number) = self.numbers[measures as usize]?;
        (now.since(at).s() <= limit::SENSOR_S).then_some(number)
    }

    /// Liquid above the highest piece: as the sensor says, or as it falls in a day.
    pub(super) fn above(&self, sight: &Sight<'_>) -> Option<Length> {
        if let Some(mm) = self.number(Measures::Level, sight.now) {
            return Some(Length::from_mm(mm));
        }
        let level = sight.bounds.level?;
        let days = (self.before + sight.now.since(self.began)).h() / 24.0;
        Some(level.above - level.falls_a_day * days)
    }

    /// What edges and tips get at least, by the reading, and what the bath bears as it is stirred.
    pub(super) fn density(&self, sight: &Sight<'_>) -> Option<[CurrentDensity; 2]> {
        let read = sight.reading?.current?;
        let doubt = sight.supply.read_current.half_width(read.a());
        let least = (read.a() - doubt).max(0.0);
        let mean = CurrentDensity::from_a_per_m2(least / sight.covered.m2());
        let stands_still = match (sight.bounds.stirring, self.stirring(sight)) {
            (Some([low, _]), Some(stirring)) => stirring < low,
            (Some(_) | None, _) => false,
        };
        let bears = if stands_still {
            sight.bounds.density_still
        } else {
            sight.bounds.density
        };
        Some([mean * sight.bounds.peak_to_mean, bears])
    }

    pub(super) fn stirring(&self, sight: &Sight<'_>) -> Option<f64> {
        self.number(Measures::Stirring, sight.now)
    }

    pub(super) fn temperature(&self, sight: &Sight<'_>) -> Option<Temperature> {
        self.number(Measures::Temperature, sight.now)
            .map(Temperature::from_c)
    }

    /// A sensor that has been silent for too long.
    pub(super) fn silent(&self, sight: &Sight<'_>) -> Option<Measures> {
        sight.bounds.sensors.iter().copied().find(|measures| {
            let last = self.numbers[*measures as usize].map_or(self.began, |(at, _)| at);
            sight.now.since(last).s() > limit::SENSOR_S
        })
    }

    pub(super) fn too_dense(&self, sight: &Sight<'_>) -> Sees {
        news(self.density(sight), |[peak, bears]| peak > bears)
    }

    pub(super) fn low(&self, sight: &Sight<'_>) -> Sees {
        news(self.above(sight), |above| above < Length::ZERO)
    }

    pub(super) fn out_of_temperature(&self, sight: &Sight<'_>) -> Sees {
        let [low, high] = sight.bounds.temperature;
        news(self.temperature(sight), |now| now < low || now > high)
    }

    pub(super) fn out_of_stirring(&self, sight: &Sight<'_>) -> Sees {
        match (sight.bounds.stirring, self.stirring(sight)) {
            (Some([low, high]), Some(now)) => from(now < low || now > high),
            (Some(_) | None, _) => Sees::NoNews,
        }
    }
}

pub(super) fn overdue(sight: &Sight<'_>) -> Sees {
    news(sight.bounds.brightener, |due| {
        due.since + sight.charge > due.every
    })
}
