//! What a case is drawn with: its seed, its chance, and how large its fault is.

use super::dice::Dice;
use crate::smallest;

/// Stream of the size alone, so that a size given leaves all other chance as it was.
const SIZE_STREAM: u64 = 5;
/// Between which multiples of the smallest a size is drawn.
const SIZES: (f64, f64) = (2.0, 4.0);

/// Seed, chance and size of one case.
#[derive(Debug)]
pub(super) struct Draw {
    pub(super) seed: u64,
    /// Chance of the case itself.
    pub(super) dice: Dice,
    /// Multiple of the smallest size.
    pub(super) size: f64,
}

impl Draw {
    /// A size of `None` is drawn by the seed.
    pub(super) fn new(seed: u64, size: Option<f64>) -> Self {
        let drawn = Dice::new(seed, SIZE_STREAM).range(SIZES.0, SIZES.1);
        Self {
            seed,
            dice: Dice::new(seed, 0),
            size: size.unwrap_or(drawn),
        }
    }

    /// The size of a fault of this kind, in the figure and unit its smallest size is given in.
    pub(super) fn fault(&self, kind: &str) -> f64 {
        self.size * smallest::of(kind).map_or(0.0, |s| s.value)
    }

    /// Plus or minus one, by chance.
    pub(super) fn sign(&mut self) -> f64 {
        if self.dice.unit() < 0.5 { -1.0 } else { 1.0 }
    }
}
