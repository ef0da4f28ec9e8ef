//! The one serialisable result: what `report.json` holds and every renderer reads.
//!
//! Names, places and units are the project's published contract: keys may be added, never renamed.
//! Not known is `null`. Everything a renderer shows is computed here already, charts' points
//! included, so that outputs can be made again without the logs.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::Value;

pub use super::comparison::Comparison;
pub use super::series::{
    ChartData, DropChart, HoursRow, LoadHours, LongHours, LowCharge, NightCurrent, Profile,
};
pub use crate::quantity::{How, Interval};
pub use crate::tally::{Measured, Rows};

/// Schema name written into every report.
pub const SCHEMA: &str = "ampledger-report-1";

/// A whole report.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Report {
    /// Always [`SCHEMA`].
    pub schema: String,
    /// Version of the program that made it.
    pub version: String,
    /// Digest of the inputs: equal for equal inputs.
    pub run: String,
    /// What was built.
    pub system: SystemSummary,
    /// The files and how they were read.
    pub inputs: Vec<Input>,
    /// Energy and charge as logged, per file and role, per day and in total.
    pub measured: Vec<Measured>,
    /// What was looked at.
    pub period: Period,
    /// What limits this system.
    pub verdict: Verdict,
    /// One entry a local day.
    pub days: Vec<Day>,
    /// What the owner did or saw on days of the period, as the design has it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub noted: Vec<Noted>,
    /// The two accounts.
    pub account: Account,
    /// Yields and ratios.
    pub performance: Performance,
    /// What was found.
    pub findings: Vec<Finding>,
    /// Upgrades replayed on the owner's days.
    pub options: Vec<OptionRow>,
    /// The row to do first.
    pub recommended: Option<String>,
    /// Why that row or none, and what would change it; null where nothing was weighed.
    #[serde(default)]
    pub recommended_why: Option<String>,
    /// Before and after a mend; there only where a run was asked to tell them apart.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub comparison: Option<Comparison>,
    /// What was looked for and is fine.
    pub checked: Vec<Checked>,
    /// What this log cannot tell.
    pub unknown: Vec<Unknown>,
    /// Defaults that were taken.
    pub assumed: Vec<crate::design::Assumed>,
    /// Limits that decide what is worth a job, Wh a day.
    pub yardsticks: Yardsticks,
    /// Points behind the charts.
    pub series: ChartData,
}

/// What the owner noted of a day.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Noted {
    /// Local date, `YYYY-MM-DD`.
    pub date: String,
    /// The owner's words.
    pub note: String,
}

/// What was built.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct SystemSummary {
    /// Owner's name for it.
    pub name: String,
    /// Nominal voltage.
    pub nominal_v: f64,
    /// Label power of all arrays.
    pub array_w: f64,
    /// Bank, 20 h rate.
    pub capacity_ah: f64,
    /// `lfp`, `agm`, `gel`, `flooded` or `nmc`.
    pub chemistry: String,
    /// Names the owner gave to arrays and controllers, so that a post can leave them out.
    #[serde(default)]
    pub names: Vec<String>,
    /// Where, rounded to 0.1 degree, with the zone: for instance `57.0 N, 9.9 E, Europe/Copenhagen`. Of a
    /// journey the place at its beginning.
    pub place: String,
    /// Of a journey each place of the period, in order; left out where it was one place all along.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub stops: Vec<Stop>,
    /// State of charge the owner means to stay above.
    pub reserve_pct: f64,
    /// Budgeted load a day.
    pub budget_wh: Option<f64>,
}

/// A place of a journey and its days.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Stop {
    /// First local date.
    pub from: String,
    /// Last local date.
    pub to: String,
    /// Where, rounded to 0.1 degree, with the zone.
    pub place: String,
    /// The owner's remark.
    pub note: Option<String>,
}

/// How a column was understood.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct RoleUse {
    /// Column header, or its number.
    pub column: String,
    /// Unit of the cells.
    pub unit: String,
    /// `header`, `units row`, `cell`, `range`, `data`, `design`.
    pub how: String,
}

/// One file as read.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Input {
    /// Path as typed.
    pub file: String,
    /// Rows.
    pub rows: Rows,
    /// First instant, RFC 3339.
    pub first: Option<String>,
    /// Last instant, RFC 3339.
    pub last: Option<String>,
    /// Median step.
    pub step_s: Option<f64>,
    /// Columns by role.
    pub roles: BTreeMap<String, RoleUse>,
    /// Repairs, shifts, choices.
    pub notes: Vec<String>,
}

/// What was looked at.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Period {
    /// First local date.
    pub from: String,
    /// Last local date.
    pub to: String,
    /// Number of local days.
    pub days: usize,
    /// Hours with readings.
    pub covered_h: f64,
    /// Share of the period with readings.
    pub coverage: f64,
}

/// How much a finding matters; ordered from worst.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Danger: stop using or charging until looked at.
    Stop,
    /// Mend.
    Fix,
    /// Keep an eye on.
    Watch,
    /// Nothing to do.
    Fine,
}

impl Severity {
    /// The word in reports.
    pub fn word(self) -> &'static str {
        match self {
            Severity::Stop => "stop",
            Severity::Fix => "fix",
            Severity::Watch => "watch",
            Severity::Fine => "fine",
        }
    }
}

/// How sure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)]
pub enum Confidence {
    High,
    Medium,
    Low,
}

impl Confidence {
    /// The word in reports.
    pub fn word(self) -> &'static str {
        match self {
            Confidence::High => "high",
            Confidence::Medium => "medium",
            Confidence::Low => "low",
        }
    }
}

/// The area whose mending gives back most.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)]
pub enum Limiting {
    Nothing,
    Sun,
    Use,
    Array,
    Wiring,
    Settings,
    Battery,
    Log,
}

/// What limits this system, told as one story.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Verdict {
    /// Area.
    pub limiting: Limiting,
    /// Deed.
    pub severity: Severity,
    /// One or two sentences with figures and a range.
    pub text: String,
    /// How sure.
    pub confidence: Confidence,
    /// Kind of the finding whose next check comes first, where there is one.
    pub first_action: Option<String>,
    /// Kinds of the findings to act on, in order; at most three.
    #[serde(default)]
    pub actions: Vec<String>,
    /// Further sentences: how the findings explain one another.
    pub story: Vec<String>,
}

/// State of a day; the contract says which applies first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)]
pub enum DayState {
    Unmeasured,
    Short,
    Full,
    Dull,
    Ok,
    Unclear,
}

impl DayState {
    /// The word in reports and days.csv.
    pub fn word(self) -> &'static str {
        match self {
            DayState::Unmeasured => "unmeasured",
            DayState::Short => "short",
            DayState::Full => "full",
            DayState::Dull => "dull",
            DayState::Ok => "ok",
            DayState::Unclear => "unclear",
        }
    }
}

/// A local day, all energies at the controller's output terminals.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Day {
    /// Local date.
    pub date: String,
    /// Share of the day with readings.
    pub coverage: f64,
    /// Share of sunrise to sunset with readings; `None` where the sun does not rise.
    pub sun_coverage: Option<f64>,
    /// What the owner planned with.
    pub planned_wh: Option<f64>,
    /// Under a clear sky at that date and place.
    pub clear_wh: Option<f64>,
    /// What the day's real sky and heat offered to the array as designed.
    pub offered_wh: Option<f64>,
    /// Measured at the array's terminals.
    pub array_wh: Option<f64>,
    /// Measured (or inferred) at the controller's output.
    pub harvest_wh: Option<f64>,
    /// What the bank did not take.
    pub held_back_wh: Option<f64>,
    /// What a fault, shade, wire or limit took beyond the design's own losses.
    pub lost_wh: Option<f64>,
    /// Offered during gaps.
    pub unmeasured_wh: Option<f64>,
    /// Signed rest.
    pub unexplained_wh: Option<f64>,
    /// Loads.
    pub load_wh: Option<f64>,
    /// Engine, shore and the like.
    pub other_charge_wh: Option<f64>,
    /// Into the bank.
    pub bank_in_wh: Option<f64>,
    /// Out of the bank.
    pub bank_out_wh: Option<f64>,
    /// Into the bank.
    pub bank_in_ah: Option<f64>,
    /// Out of the bank.
    pub bank_out_ah: Option<f64>,
    /// Lowest state of charge as the meter says.
    pub soc_low_pct: Option<f64>,
    /// Highest state of charge as the meter says.
    pub soc_high_pct: Option<f64>,
    /// Lowest bank voltage.
    pub low_v: Option<f64>,
    /// Highest bank voltage.
    pub high_v: Option<f64>,
    /// Whether a full charge was seen; `None` without bank current.
    pub reached_full: Option<bool>,
    /// Whether the day can be judged at all.
    pub judged: bool,
    /// State.
    pub state: DayState,
    /// One sentence.
    pub why: String,
    /// 90 % intervals of the modelled and inferred figures above, by key
    /// (`offered_wh`, `held_back_wh`, `lost_wh`, `unmeasured_wh`, ...).
    pub intervals: BTreeMap<String, Interval>,
}

/// One step of an account; steps are signed, `low <= wh <= high`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Entry {
    /// Step.
    pub name: String,
    /// Energy over the period.
    pub wh: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// How it came about.
    pub how: How,
}

/// The two accounts over all days of the period.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Account {
    /// `planned`, `season`, `weather`, `heat`, `array`, `shade`, `array_cable`, `conversion`,
    /// `controller_limit`, `held_back`, `unmeasured`, `unexplained`, `harvested` (their sum).
    pub harvest: Vec<Entry>,
    /// `harvested`, `other_charge`, `unexplained`, `loads`, `bank_cable`, `bank_change`, `bank_loss`:
    /// the first three sum to the last four.
    pub bank: Vec<Entry>,
}

/// Yields in the terms of IEC 61724-1, with the usage factor beside them. Null where it can't be told.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Performance {
    /// Irradiation in the array's plane over 1 kW/m2, h a day; clear-sky referenced where no sensor.
    pub reference_yield_h: Option<f64>,
    /// Array energy over label power, h a day.
    pub array_yield_h: Option<f64>,
    /// Energy used or stored from the array over label power, h a day.
    pub final_yield_h: Option<f64>,
    /// Final over reference yield.
    pub performance_ratio: Option<f64>,
    /// Harvest over what could have been harvested from an always accepting bank.
    pub usage_factor: Option<f64>,
    /// How long the usable bank carries the mean load without sun.
    pub autonomy_h: Option<f64>,
    /// From the lowest state of charge to the next full charge.
    pub recovery_days: Option<f64>,
}

/// One measurement that confirms or clears a finding.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct NextCheck {
    /// What to take in hand.
    pub tool: String,
    /// Where to touch and when.
    pub r#where: String,
    /// Reading if healthy.
    pub healthy: String,
    /// Reading if faulty.
    pub faulty: String,
    /// What then.
    pub then: String,
    /// How not to get hurt at this step.
    pub caution: String,
}

/// Something found.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Finding {
    /// Kind, for instance `drop-battery-cable`.
    pub kind: String,
    /// Deed.
    pub severity: Severity,
    /// How sure.
    pub confidence: Confidence,
    /// Which part of the system, in words.
    pub r#where: String,
    /// First local date.
    pub from: Option<String>,
    /// Last local date.
    pub to: Option<String>,
    /// Local dates that show it.
    pub days: Vec<String>,
    /// Energy at stake, mean over judged days.
    pub lost_wh_per_day: Option<Interval>,
    /// Kind of the finding that explains this one, where one does.
    #[serde(default)]
    pub part_of: Option<String>,
    /// The claim in a sentence or two.
    pub summary: String,
    /// Figures by the contract's keys; numbers, intervals, strings or null.
    pub evidence: BTreeMap<String, Value>,
    /// Rule, thresholds, days used, in sentences.
    pub why: Vec<String>,
    /// What else could explain it.
    pub also_possible: Vec<String>,
    /// The one check to make next.
    pub next_check: NextCheck,
    /// Path of its chart under the output folder.
    pub chart: Option<String>,
}

/// An option replayed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct OptionRow {
    /// Name.
    pub name: String,
    /// Design keys changed.
    pub set: BTreeMap<String, Value>,
    /// Cost, where given.
    pub cost: Option<f64>,
    /// Load that would take the bank below reserve or the cut-off.
    pub unserved_wh_per_day: Option<Interval>,
    /// Share of days with a full charge.
    pub full_share: Option<f64>,
    /// Lowest state of charge.
    pub lowest_soc_pct: Option<f64>,
    /// Nights below reserve.
    pub nights_below_reserve: Option<f64>,
    /// Offered and not taken.
    pub held_back_wh_per_day: Option<f64>,
    /// `better`, `same`, `worse` or `unclear`.
    pub change: String,
    /// Remark.
    pub note: String,
    /// 90 % intervals of the other figures above, by key.
    #[serde(default)]
    pub intervals: BTreeMap<String, Interval>,
    /// Why it was not weighed.
    #[serde(default)]
    pub refused: Option<String>,
}

/// Looked for and fine.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Checked {
    /// Finding kind.
    pub kind: String,
    /// What was seen, with figures.
    pub text: String,
}

/// What this log cannot tell.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Unknown {
    /// Finding kind or account step.
    pub kind: String,
    /// What is not known.
    pub text: String,
    /// The measurement that would settle it.
    pub needs: String,
}

/// Limits that decide what is worth a job.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(test, derive(schemars::JsonSchema))]
pub struct Yardsticks {
    /// Smallest loss worth a job: the larger of 5 % of daily need and 50 Wh a day.
    pub worth_a_job_wh: f64,
    /// Smallest loss this log can show, Wh a day; null where it can show none.
    pub smallest_visible_wh: Option<f64>,
}
