//! What the ledger knows of a run that bears on how its pieces look.

use super::AdditiveState;
use crate::bath::BathProfile;
use crate::bath::looks::{Clue, Evidence};
use crate::control::Fault;
use crate::ledger::{ReadingRow, RunRecord};
use crate::plan::PEAK_TO_MEAN;
use crate::units::{Area, Current, CurrentDensity, Span};

/// Density of a run by its readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RunDensity {
    /// The highest mean over all electrodes.
    pub peak: CurrentDensity,
    /// The mean while current flowed.
    pub mean: CurrentDensity,
    /// The highest density on a piece against the mean, as the plan took it.
    pub peak_to_mean: f64,
    /// Time for which edges and tips were above the window, as the tank was stirred.
    pub above: Span,
    /// The window that counts.
    pub window: [CurrentDensity; 2],
}

/// Whether the bath counts as stirred in a run: its station says so, and no guard found that the
/// stirring had stopped. A run of which nobody knows counts as still, the narrower window.
fn was_stirred(record: &RunRecord) -> bool {
    let stopped = record
        .events
        .iter()
        .any(|event| event.code == Fault::StirringOut.code());
    record.head.stirred == Some(true) && !stopped
}

/// What edges and tips of the run's pieces got against the mean. The ledger keeps what the plan
/// took for those it began with; what was hung later, and a run of before it was kept, count as
/// edged.
fn peak_to_mean(record: &RunRecord) -> f64 {
    let kept = record.head.peak_to_mean.unwrap_or(PEAK_TO_MEAN);
    if record.papers.is_empty() {
        kept
    } else {
        kept.max(PEAK_TO_MEAN)
    }
}

/// Density of a run on the area it began with, which is the least it had; `None` without
/// readings of a current.
#[must_use]
pub fn run_density(
    record: &RunRecord,
    readings: &[ReadingRow],
    profile: &BathProfile,
) -> Option<RunDensity> {
    let area: Area = record.electrodes.iter().map(|one| one.head.area).sum();
    if area <= Area::ZERO {
        return None;
    }
    let window = profile.window(was_stirred(record));
    let edges = peak_to_mean(record);
    let (mut peak, mut above) = (Current::ZERO, Span::ZERO);
    let mut flowed = Span::ZERO;
    for pair in readings.windows(2) {
        let Some(current) = pair[0].current else {
            continue;
        };
        let lasted = (pair[1].at - pair[0].at).max(Span::ZERO);
        peak = peak.max(current);
        if current > Current::from_ma(1.0) {
            flowed += lasted;
        }
        if current / area * edges > window[1] {
            above += lasted;
        }
    }
    (flowed > Span::ZERO).then(|| RunDensity {
        peak: peak / area,
        mean: record.charge.best / flowed / area,
        peak_to_mean: edges,
        above,
        window,
    })
}

/// Everything the ledger can say for or against a cause.
#[must_use]
pub fn evidence(
    record: &RunRecord,
    readings: &[ReadingRow],
    profile: &BathProfile,
    additive: Option<&AdditiveState>,
) -> Vec<Evidence> {
    let mut list = Vec::new();
    if let Some(one) = additive {
        let level = &one.level;
        let text = format!(
            "{}: {:.2} mL by the account at its end, due below {:.2}, too much above {:.2}; \
             {:.1} Ah since it was added",
            one.additive.name,
            level.held.cm3(),
            level.low.cm3(),
            level.most.cm3(),
            level.since.ah()
        );
        let clues = [
            (Clue::AdditiveLow, level.due()),
            (Clue::AdditiveHigh, level.too_much()),
        ];
        list.extend(clues.map(|(clue, speaks_for)| Evidence {
            clue,
            speaks_for,
            text: text.clone(),
        }));
    }
    if let Some(density) = run_density(record, readings, profile) {
        let [low, high] = density.window;
        let stirred = match (was_stirred(record), record.head.stirred) {
            (true, _) => "stirred, as its station says",
            (false, Some(true)) => "still, since its stirring was out",
            (false, Some(false)) => "still, as its station says",
            (false, None) => "still, since nobody wrote down how it was stirred",
        };
        let at_edges = density.peak * density.peak_to_mean;
        let text = format!(
            "{:.2} A/dm2 at most, about {:.2} at edges; the window is {:.2} to {:.2}, {stirred}; \
             {:.1} h above it",
            density.peak.a_per_dm2(),
            at_edges.a_per_dm2(),
            low.a_per_dm2(),
            high.a_per_dm2(),
            density.above.h()
        );
        let clues = [
            (Clue::DensityHigh, at_edges > high),
            (Clue::DensityLow, density.peak < low),
        ];
        list.extend(clues.map(|(clue, speaks_for)| Evidence {
            clue,
            speaks_for,
            text: text.clone(),
        }));
    }
    list.extend(told(record));
    list
}

/// What guards said in the run. A guard that was silent may have been blind, so silence is none.
fn told(record: &RunRecord) -> Vec<Evidence> {
    let codes: [(Clue, &[&str]); 4] = [
        (Clue::Temperature, &["temperature-out"]),
        (Clue::StirringLost, &["stirring-out"]),
        (Clue::AnodeStrained, &["anode-film", "voltage-climbing"]),
        (Clue::Uncovered, &["cover-not-growing"]),
    ];
    let mut list = Vec::new();
    for (clue, words) in codes {
        let event = record
            .events
            .iter()
            .find(|event| words.contains(&event.code.as_str()));
        list.extend(event.map(|event| Evidence {
            clue,
            speaks_for: true,
            text: format!("{}: {}", event.code, event.text),
        }));
    }
    list
}
