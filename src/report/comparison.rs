//! Two reports of one system side by side, as `compare --json` prints it and as a report after a mend holds it.

use serde::{Deserialize, Serialize};

use super::model::Interval;

/// Schema name of a comparison.
pub const SCHEMA: &str = "ampledger-compare-1";

/// What a report says of itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Side {
    /// Digest of its inputs.
    pub run: String,
    /// First local date.
    pub from: String,
    /// Last local date.
    pub to: String,
}

/// One figure before and after.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ComparedRow {
    /// `array`, `wiring`, `full_charges` or `night_draw`.
    pub name: String,
    /// What it is, in words.
    pub title: String,
    /// Unit of the figures; empty for a share or a ratio.
    pub unit: String,
    /// Before; null where that report cannot tell.
    pub before: Option<Interval>,
    /// After.
    pub after: Option<Interval>,
    /// After less before.
    pub difference: Option<Interval>,
    /// `better`, `same`, `worse` or `unclear`.
    pub change: String,
    /// What it rests on, or what is missing.
    pub note: String,
}

/// A finding of either report.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ComparedFinding {
    /// Its kind.
    pub kind: String,
    /// `went`, `came`, `stayed`, or `unclear` where one of the two logs cannot tell.
    pub change: String,
    /// Why it is unclear; empty otherwise.
    pub note: String,
}

/// The comparison.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Comparison {
    /// Always [`SCHEMA`].
    pub schema: String,
    /// The system's name.
    pub system: String,
    /// The earlier report.
    pub before: Side,
    /// The later report.
    pub after: Side,
    /// What was built differently at the two times, a sentence each: the reports may be of two systems.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub differ: Vec<String>,
    /// The figures.
    pub rows: Vec<ComparedRow>,
    /// The findings of either report.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub findings: Vec<ComparedFinding>,
}
