//! Points behind the charts: the part of the report's model that is drawn rather than read.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::model::{How, Interval};

/// Points behind the charts, thinned to what a screen can show. `null` is a gap.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct ChartData {
    /// Quarter-hours (or coarser) through the period.
    pub profile: Profile,
    /// The last two months at half hours or finer, where the whole period is longer.
    #[serde(default)]
    pub detail: Option<Profile>,
    /// The hours of the day by weeks or months, where the days are too many for a row each.
    #[serde(default)]
    pub long_hours: Option<LongHours>,
    /// Controller volts minus bank volts against charging amperes.
    pub drop: Option<DropChart>,
    /// Moments of a confirmed full charge, RFC 3339.
    pub fulls: Vec<String>,
    /// How long the bank stood below each state of charge; null where none is known.
    #[serde(default)]
    pub low_charge: Option<LowCharge>,
    /// Loads by hour of the day; null where they are not known through most of it.
    #[serde(default)]
    pub load_hours: Option<LoadHours>,
    /// Current from evening to morning; null where fewer than three nights are known.
    #[serde(default)]
    pub night_current: Option<NightCurrent>,
}

/// Hours below each state of charge, over the period. All lists are as long as the levels.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LowCharge {
    /// States of charge, ascending.
    pub levels_pct: Vec<f64>,
    /// Hours below each as counted anew between full charges.
    pub counted_h: Option<Vec<f64>>,
    /// Lower end: the count wrong upwards by its whole error.
    pub counted_low_h: Option<Vec<f64>>,
    /// Upper end: the count wrong downwards by its whole error.
    pub counted_high_h: Option<Vec<f64>>,
    /// Hours in which a count is known.
    pub counted_covered_h: f64,
    /// Hours below each as the meter says.
    pub meter_h: Option<Vec<f64>>,
    /// Hours in which the meter was read.
    pub meter_covered_h: f64,
}

/// Loads by hour of the local clock: 24 entries in every list. `null` where fewer than three days tell.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LoadHours {
    /// Mean over the days.
    pub mean_w: Vec<Option<f64>>,
    /// A tenth of the days lie below.
    pub low_w: Vec<Option<f64>>,
    /// A tenth of the days lie above.
    pub high_w: Vec<Option<f64>>,
    /// Days behind each hour.
    pub days: Vec<usize>,
    /// The design's budget; null where it has none.
    pub budget_w: Option<Vec<f64>>,
    /// How the loads came about.
    pub how: How,
}

/// Current drawn from 20:00 to 08:00, by half hour: 24 entries in every list. `null` where fewer than
/// three nights tell.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct NightCurrent {
    /// Median over the nights.
    pub median_a: Vec<Option<f64>>,
    /// A tenth of the nights lie below.
    pub low_a: Vec<Option<f64>>,
    /// A tenth of the nights lie above.
    pub high_a: Vec<Option<f64>>,
    /// Nights with readings.
    pub nights: usize,
    /// What the current falls to in the small hours, median of the nights.
    pub floor_a: Option<f64>,
    /// What the design runs round the clock; null where it names no loads.
    pub budget_a: Option<f64>,
    /// Some of the nights, evenly chosen: date of the evening, and the night's course.
    pub lines: Vec<(String, Vec<Option<f64>>)>,
}

impl ChartData {
    /// The profile fine enough to show the hours of a day.
    pub fn fine(&self) -> &Profile {
        self.detail.as_ref().unwrap_or(&self.profile)
    }
}

/// What the hours of the day were like through a long period.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct LongHours {
    /// Weeks or months in order.
    pub rows: Vec<HoursRow>,
    /// Hours of the whole period by what ruled the array, by the letters of [`Profile::regime`].
    pub hours: BTreeMap<char, f64>,
}

/// The hours of the day in a week or month.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct HoursRow {
    /// First local date.
    pub from: String,
    /// Output over clear sky by hour, 24 of them, of the moments that were read and not held back; `null`
    /// where they are fewer than half of the light ones.
    pub share: Vec<Option<f64>>,
    /// What ruled the array most of each hour, by the letters of [`Profile::regime`].
    pub regime: String,
}

/// Signals at an even step through the period. All vectors are equally long.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Profile {
    /// Start, RFC 3339 with offset.
    pub start: String,
    /// Start, Unix seconds.
    pub start_s: i64,
    /// Step.
    pub step_s: i64,
    /// Seconds east of Greenwich at each point's time, run-length coded as (index, offset).
    pub offsets: Vec<(usize, i32)>,
    /// Controller output.
    pub harvest_w: Vec<Option<f64>>,
    /// Clear sky, as designed.
    pub clear_w: Vec<Option<f64>>,
    /// Loads.
    pub load_w: Vec<Option<f64>>,
    /// State of charge as the meter says.
    pub soc_pct: Vec<Option<f64>>,
    /// State of charge counted anew between full charges.
    pub counted_soc_pct: Vec<Option<f64>>,
    /// Bank voltage.
    pub bank_v: Vec<Option<f64>>,
    /// What ruled the array: `d` dark, `f` following the sun, `h` held by a full bank, `r` refused,
    /// `l` limited by the controller, `x` disconnected, `u` unknown, `g` gap; one letter a point.
    pub regime: String,
}

/// Scatter of the drop in the controller-to-bank run.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct DropChart {
    /// Points (A, V), at most 600.
    pub points: Vec<(f64, f64)>,
    /// Fitted resistance, mohm.
    pub resistance_mohm: Option<Interval>,
    /// Intercept: disagreement of the two meters, V.
    pub offset_v: Option<f64>,
    /// The run's own resistance from the design, mohm.
    pub design_mohm: f64,
}
