//! The load budget of a design, reckoned at the bank's terminals.

use super::system::{Design, Load, When};
use crate::quantity::trim;

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

/// One line of the budget.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// The load's name.
    pub name: String,
    /// By daylight, Wh a day.
    pub day_wh: f64,
    /// In the dark, Wh a day.
    pub night_wh: f64,
    /// Drawn from the bank while it runs, W.
    pub drawn_w: f64,
    /// Hours a day.
    pub hours: f64,
    /// When it runs.
    pub when: When,
    /// How it is reckoned, in words.
    pub arithmetic: String,
}

/// Every load at the bank's terminals: power times quantity times hours, divided by the inverter's
/// efficiency where it hangs on it; then the inverter's idle draw times its hours. `day` and
/// `night` loads count for their half; `always` and the inverter's idle are split in two equal
/// halves of 12 hours.
pub fn items(design: &Design) -> Vec<Item> {
    let efficiency = design.inverter.as_ref().map_or(1.0, |i| i.efficiency);
    let of_load = |load: &Load| {
        let share = if load.through_inverter {
            efficiency
        } else {
            1.0
        };
        let mut arithmetic = format!("{} W", trim(load.power_w));
        if (load.quantity - 1.0).abs() > 1e-9 {
            arithmetic.push_str(&format!(" x {}", trim(load.quantity)));
        }
        arithmetic.push_str(&format!(" x {} h", trim(load.hours)));
        if load.through_inverter {
            arithmetic.push_str(&format!(" / {} inverter", trim(efficiency)));
        }
        let drawn_w = load.power_w * load.quantity / share;
        item(&load.name, drawn_w, load.hours, load.when, arithmetic)
    };
    let idle = design.inverter.as_ref().map(|inverter| {
        let arithmetic = format!("{} W x {} h", trim(inverter.idle_w), trim(inverter.hours));
        let (watts, hours) = (inverter.idle_w, inverter.hours);
        item("inverter, idle", watts, hours, When::Always, arithmetic)
    });
    design.loads.iter().map(of_load).chain(idle).collect()
}

fn item(name: &str, drawn_w: f64, hours: f64, when: When, arithmetic: String) -> Item {
    let wh = drawn_w * hours;
    let (day_wh, night_wh) = match when {
        When::Day => (wh, 0.0),
        When::Night => (0.0, wh),
        When::Always => (wh / 2.0, wh / 2.0),
    };
    Item {
        name: name.to_owned(),
        day_wh,
        night_wh,
        drawn_w,
        hours,
        when,
        arithmetic,
    }
}

/// Adds up the [`items`]. Standby is what has 24 hours: loads and the idle draw.
pub fn budget(design: &Design) -> Budget {
    let mut found = Budget::default();
    let mut standby_w = 0.0;
    for item in items(design) {
        if item.when == When::Always {
            found.always_wh += item.day_wh + item.night_wh;
        }
        found.day_wh += item.day_wh;
        found.night_wh += item.night_wh;
        if item.hours >= 24.0 {
            standby_w += item.drawn_w;
        }
    }
    found.total_wh = found.day_wh + found.night_wh;
    found.standby_a = standby_w / design.nominal_v();
    found
}

/// What a full bank holds down to its reserve at the nominal voltage, Wh.
pub fn usable_wh(design: &Design) -> f64 {
    design.battery.capacity_ah * design.nominal_v() * (1.0 - design.battery.reserve_pct / 100.0)
}
