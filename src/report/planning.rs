//! The design on its own, as `plan --json` prints it.

use serde::{Deserialize, Serialize};

use super::model::Severity;
use crate::design::Assumed;

/// Schema name of the plan.
pub const SCHEMA: &str = "ampledger-plan-1";

/// What the month's harvest is to the loads.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Covers {
    /// Even the lower end of the harvest covers the loads.
    Yes,
    /// The band of the harvest holds what is needed.
    Perhaps,
    /// Not even the upper end does.
    No,
}

/// What a month's harvest follows from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Source {
    /// The owner's plan.
    Plan,
    /// The clear sky at the base place: without a plan, or where the plan is more than that gives.
    ClearSky,
}

/// The harvest to expect in a month.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Month {
    /// 1 to 12.
    pub month: u32,
    /// At the controller's output on a mean day of the month, Wh a day.
    pub harvest_wh: f64,
    /// Lower end of the 90 % band, Wh a day.
    pub low: f64,
    /// Upper end, Wh a day.
    pub high: f64,
    /// What it follows from.
    pub from: Source,
    /// Whether it covers the loads; null without a load budget.
    pub covers: Option<Covers>,
}

/// A line of the load budget.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LoadLine {
    /// The load's name.
    pub name: String,
    /// By daylight, Wh a day at the bank.
    pub day_wh: f64,
    /// In the dark, Wh a day at the bank.
    pub night_wh: f64,
    /// How it is reckoned.
    pub arithmetic: String,
}

/// One figure of the design against its limit: within it where `value` is no more than `limit`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Check {
    /// The kind of finding that tells the same.
    pub kind: String,
    /// What is checked, in words.
    pub r#where: String,
    /// The reckoned figure; null where the design does not say enough.
    pub value: Option<f64>,
    /// Its limit; null where the design does not state it.
    pub limit: Option<f64>,
    /// Unit of both.
    pub unit: String,
    /// Whether it keeps the limit; null where that cannot be told.
    pub ok: Option<bool>,
    /// How much it matters: `watch` also for less than the usual margin; null where it cannot be told.
    pub severity: Option<Severity>,
    /// The arithmetic, or what is missing for it.
    pub arithmetic: String,
}

/// Something the design should state.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Asked {
    /// What cannot be told without it.
    pub text: String,
    /// The line of the design that settles it.
    pub needs: String,
}

/// A design reckoned on its own, before any log.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Planning {
    /// Always [`SCHEMA`].
    pub schema: String,
    /// The owner's name for the system.
    pub name: String,
    /// The system in one line.
    pub summary: String,
    /// January to December.
    pub months: Vec<Month>,
    /// How the harvest and its band come about.
    pub harvest_why: String,
    /// Loads by daylight, Wh a day at the bank.
    pub load_day_wh: f64,
    /// Loads in the dark, Wh a day at the bank.
    pub load_night_wh: f64,
    /// The budget's lines.
    pub loads: Vec<LoadLine>,
    /// Harvest that the loads take: what goes by way of the bank loses a part there, Wh a day; null
    /// without a load budget.
    pub need_wh: Option<f64>,
    /// How that comes about.
    pub need_why: String,
    /// From full down to the reserve under the mean load without any sun, h; null without a budget.
    pub autonomy_h: Option<f64>,
    /// Its arithmetic, or what is missing for it.
    pub autonomy_why: String,
    /// Figures against their limits.
    pub checks: Vec<Check>,
    /// What the design should state before it is relied on.
    pub asked: Vec<Asked>,
    /// Defaults that were filled in.
    pub assumed: Vec<Assumed>,
    /// What arithmetic cannot do.
    pub caution: String,
}
