//! The result of weighing options, as `weigh --json` prints it.

use serde::{Deserialize, Serialize};

use super::model::OptionRow;

/// Schema name of the weighing.
pub const SCHEMA: &str = "ampledger-weigh-1";

/// How well the replay gives back the trip.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
pub struct Reproduced {
    /// Difference of charge into or out of the bank, the larger of the two, %.
    pub ah_pct: Option<f64>,
    /// Largest difference of state of charge at the end of a day, points.
    pub soc_points: Option<f64>,
    /// Whether both are small enough for advice.
    pub ok: bool,
    /// In words.
    pub why: String,
}

/// Options replayed on the owner's days.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Weighing {
    /// Always [`SCHEMA`].
    pub schema: String,
    /// Whether the replay gives back the trip as logged.
    pub reproduced: Reproduced,
    /// The month lived in, in words; null: the days logged.
    pub season: Option<String>,
    /// The rows; none where the replay does not give back the trip.
    pub options: Vec<OptionRow>,
    /// The row to do first.
    pub recommended: Option<String>,
    /// Why, and what would change it.
    pub why: String,
}
