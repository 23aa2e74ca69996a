//! Chance from a seed.

use crate::units::Span;
use rand::{RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;

/// A source of chance that a seed repeats.
#[derive(Clone, Debug)]
pub struct Die(Xoshiro256PlusPlus);

impl Die {
    /// From a seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self(Xoshiro256PlusPlus::seed_from_u64(seed))
    }

    /// Evenly between two bounds.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        if high > low {
            self.0.random_range(low..high)
        } else {
            low
        }
    }

    /// Evenly between the logarithms of two bounds above zero.
    pub fn decades(&mut self, low: f64, high: f64) -> f64 {
        self.between(low.ln(), high.ln()).exp()
    }

    /// A span of this many seconds, evenly between the logarithms.
    pub fn seconds(&mut self, low: f64, high: f64) -> Span {
        Span::from_s(self.decades(low, high))
    }

    /// True with this probability.
    pub fn chance(&mut self, probability: f64) -> bool {
        probability > 0.0 && self.0.random_range(0.0..1.0) < probability
    }

    /// A whole number below this one.
    pub fn below(&mut self, count: usize) -> usize {
        if count == 0 {
            0
        } else {
            self.0.random_range(0..count)
        }
    }

    /// One of several.
    pub fn pick<'a, T>(&mut self, list: &'a [T]) -> &'a T {
        &list[self.below(list.len())]
    }

    /// A seed for something else.
    pub fn seed(&mut self) -> u64 {
        self.0.random_range(0..u64::MAX)
    }
}
