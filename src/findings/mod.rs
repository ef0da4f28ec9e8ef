//! What was found: one file a kind, each with its rule, its evidence, its words, its next check and
//! its caution. [`catalogue`] is the one list of them.

pub mod catalogue;
pub mod cause;
pub mod evidence;

mod absorption_short;
mod array_dark;
mod array_part_out;
mod array_weak;
mod bank_drained;
mod battery_resistance_high;
mod cable_undersized;
mod capacity_low;
mod cell_limit_passed;
mod charge_current_high;
mod charge_loss_high;
mod charge_voltage_high;
mod charge_voltage_low;
mod clock_off;
mod cold_charge;
mod cold_voltage_over_limit;
mod controller_limiting;
mod controller_undersized;
mod current_offset;
mod current_reversed;
mod drop_array_cable;
mod drop_battery_cable;
mod drop_rising;
mod fuse_unsuitable;
mod harvest_short;
mod hot_charge;
mod load_over_budget;
mod log_gaps;
mod logs_disagree;
mod meter_offset;
mod never_full;
mod panel_care;
mod paper;
mod runaway_signs;
mod shade_repeating;
mod soc_unreliable;
mod standby_high;
mod use_exceeds_harvest;
mod zero;

pub use catalogue::{Outcome, Rule, look};
pub use cause::Cause;
pub use evidence::Evidence;
