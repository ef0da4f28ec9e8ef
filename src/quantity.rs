//! What a figure is: a number with a unit, how it came about, and how sure it is.
//!
//! Inside the program every quantity is an `f64` in the base unit its name ends with
//! (`_v`, `_a`, `_w`, `_wh`, `_ah`, `_c`, `_mohm`, `_deg`, `_h`, `_min`, `_s`, `_pct`; a share or a
//! ratio, 0 to 1, has no suffix). Text with units, as owners write it, is turned into those by
//! [`parse`] and nowhere else.

use serde::{Deserialize, Serialize};

mod bearing;
mod parse;
mod units;
pub use bearing::of_wind;
pub(crate) use parse::trim;
pub use parse::{Dimension, QuantityError, convert, parse, with_unit};

/// How a figure came about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum How {
    /// Read off an instrument and at most added up.
    Measured,
    /// Computed from the design and physics alone.
    Modelled,
    /// Concluded from measurements with the help of a model.
    Inferred,
    /// Taken for granted; listed in the report as such.
    Assumed,
}

/// A value with its 90 % interval, `low <= value <= high`, all in one unit.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Interval {
    /// Best estimate.
    pub value: f64,
    /// Lower end (5 %).
    pub low: f64,
    /// Upper end (95 %).
    pub high: f64,
}

impl Interval {
    /// An interval with its ends put in order around `value`.
    pub fn new(value: f64, low: f64, high: f64) -> Self {
        Self {
            value,
            low: low.min(high).min(value),
            high: high.max(low).max(value),
        }
    }

    /// A value known exactly (or whose uncertainty is stated elsewhere).
    pub fn exact(value: f64) -> Self {
        Self::new(value, value, value)
    }

    /// Half the distance between the ends.
    pub fn half_width(&self) -> f64 {
        (self.high - self.low) / 2.0
    }

    /// Every member multiplied by `factor`.
    pub fn scale(&self, factor: f64) -> Self {
        Self::new(self.value * factor, self.low * factor, self.high * factor)
    }
}
