//! The load budget of a design, reckoned at the bank's terminals.

use super::system::{Design, When};

/// What a design means to use.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Budget {
    /// By daylight, Wh a day.
    pub day_wh: f64,
    /// In the dark, Wh a day.
    pub night_wh: f64,
    /// Together, Wh a day.
    pub total_wh: f64,
    /// Of both, what runs at any hour of day and night, Wh a day: half of it in each.
    pub always_wh: f64,
    /// What runs round the clock, A at nominal voltage.
    pub standby_a: f64,
}

/// Adds up the loads. Power times quantity times hours, divided by the inverter's efficiency where
/// a load hangs on it; the inverter's idle draw times its hours on top. `day` and `night` loads
/// count for their half; `always` and the inverter's idle are split in two equal halves of 12
/// hours. Standby is what has 24 hours: loads and the idle draw.
pub fn budget(design: &Design) -> Budget {
    let efficiency = design.inverter.as_ref().map_or(1.0, |i| i.efficiency);
    let mut found = Budget::default();
    let mut standby_w = 0.0;
    for load in &design.loads {
        let share = if load.through_inverter {
            efficiency
        } else {
            1.0
        };
        let drawn_w = load.power_w * load.quantity / share;
        let wh = drawn_w * load.hours;
        match load.when {
            When::Day => found.day_wh += wh,
            When::Night => found.night_wh += wh,
            When::Always => {
                found.always_wh += wh;
                found.day_wh += wh / 2.0;
                found.night_wh += wh / 2.0;
            }
        }
        if load.hours >= 24.0 {
            standby_w += drawn_w;
        }
    }
    if let Some(inverter) = &design.inverter {
        let wh = inverter.idle_w * inverter.hours;
        found.always_wh += wh;
        found.day_wh += wh / 2.0;
        found.night_wh += wh / 2.0;
        if inverter.hours >= 24.0 {
            standby_w += inverter.idle_w;
        }
    }
    found.total_wh = found.day_wh + found.night_wh;
    found.standby_a = standby_w / design.nominal_v();
    found
}
