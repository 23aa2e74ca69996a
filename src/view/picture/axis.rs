//! Ticks at round figures.

/// Steps of time that people count in, hours.
const STEPS_H: [f64; 14] = [
    1.0 / 60.0,
    2.0 / 60.0,
    5.0 / 60.0,
    0.25,
    0.5,
    1.0,
    2.0,
    3.0,
    4.0,
    6.0,
    12.0,
    24.0,
    48.0,
    168.0,
];
/// Labels of whole hours stand no closer than this, px.
const APART_H: f64 = 26.0;
/// Labels of hours and minutes stand no closer than this, px.
const APART_MIN: f64 = 56.0;
/// Labels of figures stand no closer than this, px.
const APART: f64 = 30.0;

/// One tick.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Tick {
    pub(super) value: f64,
    pub(super) text: String,
}

/// A straight scale from zero.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Axis {
    /// The figure at its end.
    pub(super) end: f64,
    /// Its length, px.
    pub(super) length: f64,
    /// Where it is labelled.
    pub(super) ticks: Vec<Tick>,
}

impl Axis {
    /// Time from zero to so many hours.
    pub(super) fn hours(end: f64, length: f64) -> Self {
        let apart = |step: f64| if step >= 1.0 { APART_H } else { APART_MIN };
        let fits = |step: &f64| step * length / end >= apart(*step);
        let step = STEPS_H.into_iter().find(fits).unwrap_or(end);
        let text = |hour: f64| {
            if step >= 1.0 {
                return format!("{hour:.0}");
            }
            let minutes = (hour * 60.0).round();
            format!("{:.0}:{:02.0}", (minutes / 60.0).floor(), minutes % 60.0)
        };
        Self {
            end,
            length,
            ticks: ticks(end, step, text),
        }
    }

    /// Figures from zero to a round one at or above the most that occurs.
    pub(super) fn figures(most: f64, length: f64) -> Self {
        let most = if most > 0.0 { most } else { 1.0 };
        let step = round_step(APART * most / length);
        let end = (most / step - 1e-9).ceil().max(1.0) * step;
        // Figures of a step below one need as many places as its own.
        let places = (0..9)
            .find(|places| step * 10_f64.powi(*places) > 0.999)
            .unwrap_or(9);
        let places = usize::try_from(places).unwrap_or(0);
        Self {
            end,
            length,
            ticks: ticks(end, step, |figure| format!("{figure:.places$}")),
        }
    }

    /// How far along a figure stands, px, held within the scale.
    pub(super) fn at(&self, value: f64) -> f64 {
        let share = (value / self.end).clamp(0.0, 1.0);
        if share.is_finite() {
            share * self.length
        } else {
            0.0
        }
    }
}

/// The least of 1, 2 or 5 times a power of ten that is not below this.
fn round_step(least: f64) -> f64 {
    let power = 10_f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0]
        .into_iter()
        .map(|of| of * power)
        .find(|step| *step >= least * 0.999_999)
        .unwrap_or(10.0 * power)
}

fn ticks(end: f64, step: f64, text: impl Fn(f64) -> String) -> Vec<Tick> {
    (0..1_000_u32)
        .map(|index| f64::from(index) * step)
        .take_while(|value| *value <= end * 1.000_001)
        .map(|value| Tick {
            value,
            text: text(value),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(axis: &Axis) -> Vec<&str> {
        axis.ticks.iter().map(|tick| tick.text.as_str()).collect()
    }

    #[test]
    fn a_night_is_ticked_in_whole_hours_and_a_short_run_in_minutes() {
        assert_eq!(
            texts(&Axis::hours(12.1, 678.0)),
            (0..=12).map(|h| h.to_string()).collect::<Vec<_>>()
        );
        assert_eq!(
            texts(&Axis::hours(12.1, 286.0)),
            ["0", "2", "4", "6", "8", "10", "12"]
        );
        assert_eq!(
            texts(&Axis::hours(1.0, 286.0)),
            ["0:00", "0:15", "0:30", "0:45", "1:00"]
        );
    }

    #[test]
    fn figures_are_ticked_round_and_with_the_places_they_need() {
        assert_eq!(
            texts(&Axis::figures(1.32, 132.0)),
            ["0.0", "0.5", "1.0", "1.5"]
        );
        assert_eq!(
            texts(&Axis::figures(212.0, 132.0)),
            ["0", "50", "100", "150", "200", "250"]
        );
        assert_eq!(
            texts(&Axis::figures(0.04, 132.0)),
            ["0.00", "0.01", "0.02", "0.03", "0.04"]
        );
        assert_eq!(Axis::figures(0.0, 132.0).end, 1.0);
    }
}
