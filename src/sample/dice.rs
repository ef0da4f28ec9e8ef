//! Chance with a seed: the same throws on every machine.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use rand_distr::{Distribution, StandardNormal};

/// A stream of chance of its own for each concern, so that a change in one (say, another log step)
/// leaves the others as they were.
#[derive(Debug, Clone)]
pub(super) struct Dice(ChaCha8Rng);

impl Dice {
    /// Stream `stream` of `seed`.
    pub(super) fn new(seed: u64, stream: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(stream);
        Self(rng)
    }

    /// Evenly between 0 and 1.
    pub(super) fn unit(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Evenly between two ends.
    pub(super) fn range(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Normal with mean 0 and standard deviation 1.
    pub(super) fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }
}
