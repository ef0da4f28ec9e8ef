//! What was found: one file a kind, each with its rule, its evidence, its words, its next check and
//! its caution. [`catalogue`] is the one list of them.

pub mod catalogue;
pub mod evidence;
pub mod thresholds;
pub mod words;

mod cold_charge;
mod drop_battery_cable;
mod harvest_short;
mod log_gaps;
mod meter_offset;
mod never_full;
mod use_exceeds_harvest;

pub use catalogue::{Outcome, Rule, look};
pub use evidence::Evidence;
