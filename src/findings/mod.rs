//! What was found: one file a kind, each with its rule, its evidence, its words, its next check and
//! its caution. [`catalogue`] is the one list of them.

pub mod catalogue;
pub mod cause;
pub mod evidence;

mod absorption_short;
mod cable_undersized;
mod clock_off;
mod cold_charge;
mod cold_voltage_over_limit;
mod controller_limiting;
mod controller_undersized;
mod current_reversed;
mod drop_array_cable;
mod drop_battery_cable;
mod drop_rising;
mod fuse_unsuitable;
mod harvest_short;
mod load_over_budget;
mod log_gaps;
mod logs_disagree;
mod meter_offset;
mod never_full;
mod paper;
mod soc_unreliable;
mod use_exceeds_harvest;

pub use catalogue::{Outcome, Rule, look};
pub use cause::Cause;
pub use evidence::Evidence;
