//! What was found: one file a kind, each with its rule, its evidence, its words, its next check and
//! its caution. [`catalogue`] is the one list of them.

pub mod catalogue;
pub mod cause;
pub mod evidence;

mod absorption_short;
mod array_dark;
mod array_part_out;
mod array_weak;
mod cold_charge;
mod controller_limiting;
mod drop_battery_cable;
mod harvest_short;
mod load_over_budget;
mod log_gaps;
mod meter_offset;
mod never_full;
mod panel_care;
mod shade_repeating;
mod soc_unreliable;
mod use_exceeds_harvest;

pub use catalogue::{Outcome, Rule, look};
pub use cause::Cause;
pub use evidence::Evidence;
