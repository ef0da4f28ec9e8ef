//! What was found: one file a kind, each with its rule, its evidence, its words, its next check and
//! its caution. [`catalogue`] is the one list of them.

pub mod catalogue;
pub mod cause;
pub mod evidence;

mod absorption_short;
mod battery_resistance_high;
mod capacity_low;
mod charge_loss_high;
mod cold_charge;
mod controller_limiting;
mod current_offset;
mod drop_battery_cable;
mod harvest_short;
mod load_over_budget;
mod log_gaps;
mod meter_offset;
mod never_full;
mod soc_unreliable;
mod standby_high;
mod use_exceeds_harvest;
mod zero;

pub use catalogue::{Outcome, Rule, look};
pub use cause::Cause;
pub use evidence::Evidence;
