//! A run as one of two that are compared.

use crate::ledger::{PieceRow, ReadingRow, RunRecord};
use crate::units::{Area, Charge, Current, CurrentDensity, Mass, Span};

/// A run, for a comparison.
#[derive(Clone, Debug, PartialEq)]
pub struct Trial {
    /// The run.
    pub record: RunRecord,
    /// Its pieces, as the ledger lists them.
    pub pieces: Vec<PieceRow>,
    /// How they looked, by her word.
    pub looks: Vec<String>,
    /// Time while current flowed, by the readings.
    pub flowed: Span,
}

/// Densities that differ by more than this share are not the same (common practice, no source).
const SAME: f64 = 0.05;

impl Trial {
    /// From what the ledger holds.
    #[must_use]
    pub fn of(
        record: RunRecord,
        readings: &[ReadingRow],
        pieces: Vec<PieceRow>,
        looks: Vec<String>,
    ) -> Self {
        let flowing = |pair: &&[ReadingRow]| {
            let current = pair[0].current.unwrap_or(Current::ZERO);
            current > Current::from_ma(1.0)
        };
        let flowed = readings
            .windows(2)
            .filter(flowing)
            .map(|pair| (pair[1].at - pair[0].at).max(Span::ZERO))
            .sum();
        Self {
            record,
            pieces,
            looks,
            flowed,
        }
    }

    /// The bath in its tank, by its name in the ledger, else the profile.
    #[must_use]
    pub fn bath(&self) -> &str {
        let head = &self.record.head;
        head.bath_ledger.as_deref().unwrap_or(&head.bath)
    }

    /// Area at the start, hangers included.
    #[must_use]
    pub fn area(&self) -> Area {
        self.record.electrodes.iter().map(|one| one.head.area).sum()
    }

    /// Mean density while current flowed, on the area at the start.
    #[must_use]
    pub fn density(&self) -> Option<CurrentDensity> {
        let known = self.flowed > Span::ZERO && self.area() > Area::ZERO;
        known.then(|| self.record.charge.best / self.flowed / self.area())
    }

    /// What the scale says for an amp-hour, of all pieces, if each was weighed.
    #[must_use]
    pub fn weighed(&self) -> Option<(Mass, Charge)> {
        let masses: Option<Vec<Mass>> = self.pieces.iter().map(|piece| piece.weighed).collect();
        let mass = masses.filter(|list| !list.is_empty())?.into_iter().sum();
        let charge: Charge = self
            .pieces
            .iter()
            .map(|piece| piece.account.charge.best)
            .sum();
        (charge > Charge::ZERO).then_some((mass, charge))
    }
}

/// What differs between two runs beside the bath, so that a comparison of baths is not fair.
#[must_use]
pub fn unlike(trials: &[Trial; 2]) -> Vec<String> {
    let [one, other] = trials;
    let mut list = Vec::new();
    if one.bath() == other.bath() {
        list.push(format!(
            "both took place in {}: it compares no baths",
            one.bath()
        ));
    }
    let areas = one.area() / other.area() - 1.0;
    if areas.abs() > SAME || one.pieces.len() != other.pieces.len() {
        list.push(format!(
            "the pieces differ: {} of {:.1} cm2 against {} of {:.1} cm2",
            one.pieces.len(),
            one.area().cm2(),
            other.pieces.len(),
            other.area().cm2()
        ));
    }
    if let Some((one, other)) = one.density().zip(other.density())
        && (one / other - 1.0).abs() > SAME
    {
        list.push(format!(
            "the density differs: {:.2} against {:.2} A/dm2",
            one.a_per_dm2(),
            other.a_per_dm2()
        ));
    }
    let charges = one.record.charge.best / other.record.charge.best - 1.0;
    if charges.is_nan() || charges.abs() > SAME {
        list.push(format!(
            "the charge differs: {:.2} against {:.2} Ah",
            one.record.charge.best.ah(),
            other.record.charge.best.ah()
        ));
    }
    if one.record.head.simulated != other.record.head.simulated {
        list.push("one of them was simulated".to_owned());
    }
    list
}
