//! What inspection and report both say of a file: how its rows were counted and what it adds up to.

use serde::{Deserialize, Serialize};

/// Rows of a file; `read = used + repaired + merged + refused`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Rows {
    /// Data rows seen.
    pub read: u64,
    /// Taken as they stand.
    pub used: u64,
    /// Taken after a repair that is named in the notes.
    pub repaired: u64,
    /// Repeats of the same reading across overlapping files.
    pub merged: u64,
    /// Not usable; each has a line and a reason.
    pub refused: u64,
}

/// Energy and charge as logged, of one role in one file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Measured {
    /// Path as typed.
    pub file: String,
    /// A power or current role, for instance `battery_power`.
    pub role: String,
    /// Local date; `None` for the total.
    pub date: Option<String>,
    /// Positive part.
    pub wh_in: Option<f64>,
    /// Negative part, as a positive number.
    pub wh_out: Option<f64>,
    /// Positive part.
    pub ah_in: Option<f64>,
    /// Negative part, as a positive number.
    pub ah_out: Option<f64>,
    /// Time that rows cover.
    pub covered_h: f64,
}
