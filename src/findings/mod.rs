//! What was found: one file a kind, each with its rule, its evidence, its words, its next check and
//! its caution. [`catalogue`] is the one list of them.

pub mod catalogue;
pub mod cause;
pub mod evidence;

mod absorption_short;
mod bank_drained;
mod cell_limit_passed;
mod charge_current_high;
mod charge_voltage_high;
mod charge_voltage_low;
mod cold_charge;
mod controller_limiting;
mod drop_battery_cable;
mod harvest_short;
mod hot_charge;
mod load_over_budget;
mod log_gaps;
mod meter_offset;
mod never_full;
mod runaway_signs;
mod soc_unreliable;
mod use_exceeds_harvest;

pub use catalogue::{Outcome, Rule, look};
pub use cause::Cause;
pub use evidence::Evidence;
