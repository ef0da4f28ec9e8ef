//! What was true of a simulated trip, in the report's own terms.

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use crate::report::model::{Account, DayState};

/// Everything a judge of the logs should find, and what the logs should add up to.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Truth {
    /// Name of the case.
    pub case: String,
    /// Seed it was made with.
    pub seed: u64,
    /// What is wrong, by the report's finding kinds.
    pub faults: Vec<TruthFault>,
    /// The local days, with the report's keys.
    pub days: Vec<TruthDay>,
    /// Both accounts, with the report's steps; `low` = `high` = `wh`.
    pub account: Account,
    /// Area whose mending gives back most: found by running the same trip with each fault mended.
    pub limiting: String,
    /// Energy through each instrument, as it was and as logged.
    pub signals: Vec<TruthSignal>,
}

/// One thing that is wrong.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TruthFault {
    /// Finding kind.
    pub kind: String,
    /// Its evidence keys and more.
    pub figures: Map<String, Value>,
}

/// One local day. The keys are the report's; see there. What the logs missed (gaps) is in
/// `unmeasured_wh` and in nothing else of harvest, loss, loads and bank. State of charge is the true one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[allow(missing_docs)]
pub struct TruthDay {
    pub date: String,
    pub coverage: f64,
    pub sun_coverage: Option<f64>,
    pub planned_wh: f64,
    pub clear_wh: f64,
    pub offered_wh: f64,
    pub array_wh: f64,
    pub harvest_wh: f64,
    pub held_back_wh: f64,
    pub lost_wh: f64,
    pub unmeasured_wh: f64,
    pub unexplained_wh: f64,
    pub load_wh: f64,
    pub other_charge_wh: f64,
    pub bank_in_wh: f64,
    pub bank_out_wh: f64,
    pub bank_in_ah: f64,
    pub bank_out_ah: f64,
    pub soc_low_pct: Option<f64>,
    pub soc_high_pct: Option<f64>,
    pub low_v: Option<f64>,
    pub high_v: Option<f64>,
    pub reached_full: bool,
    pub judged: bool,
    pub state: DayState,
    pub why: String,
}

/// Energy through one instrument.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TruthSignal {
    /// Start of the names of the files it is in.
    pub log: String,
    /// Role, as the report's `measured` names it.
    pub role: String,
    /// True energy into the bank (or out of the array, or of the controller) while logged.
    pub true_wh_in: f64,
    /// True energy out of the bank while logged, positive.
    pub true_wh_out: f64,
    /// Trapezoid of the rows as written, positive part.
    pub logged_wh_in: f64,
    /// Trapezoid of the rows as written, negative part as a positive number.
    pub logged_wh_out: f64,
}
