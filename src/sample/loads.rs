//! What is switched on: thermostats that cycle, blocks of use, things that are always on.

use super::dice::Dice;
use super::scenario::{Pattern, Scenario};

/// One load on one day.
#[derive(Debug, Clone)]
enum Course {
    /// On all day at a power (W, at the bank).
    Steady(f64),
    /// Cycling: power (W), share of time at 20 C, period (h), phase (0-1).
    Cycle(f64, f64, f64, f64),
    /// Power (W), from, to (hours of the day), through the inverter.
    Block(f64, f64, f64, bool),
}

/// All loads of one day.
#[derive(Debug, Clone)]
pub(super) struct DayLoads {
    courses: Vec<Course>,
    idle_w: f64,
    /// Whether something that never stops hangs on the inverter.
    inverter_always: bool,
}

impl DayLoads {
    /// Draws the day's use.
    pub(super) fn draw(scenario: &Scenario, day: u32, dice: &mut Dice) -> Self {
        let presence = scenario.presence(day);
        let heavy = scenario.faults.heavy_use.unwrap_or(1.0);
        let courses = scenario
            .loads
            .iter()
            .map(|load| {
                // Both throws are made for every load, so that one load's nature does not move the next one's.
                let (mood, place) = (1.0 + 0.12 * dice.normal(), dice.unit());
                let factor = load.factor * presence * heavy;
                let share = match scenario.inverter {
                    Some(i) if load.inverter => i.efficiency,
                    _ => 1.0,
                };
                let watts = load.power_w / share;
                match load.pattern {
                    // Standing by does not stop when nobody is there.
                    Pattern::Always => Course::Steady(watts * load.factor * heavy),
                    Pattern::Cycle(minutes) => {
                        Course::Cycle(watts, load.hours / 24.0 * factor, minutes / 60.0, place)
                    }
                    Pattern::Block(from, to) => {
                        let hours = (load.hours * factor * mood.max(0.3)).min(24.0);
                        let start = (from + (to - from) * place).min(24.0 - hours).max(0.0);
                        Course::Block(watts, start, start + hours, load.inverter)
                    }
                }
            })
            .chain(scenario.faults.standby_w.map(Course::Steady))
            .collect();
        Self {
            courses,
            idle_w: scenario.inverter.map_or(0.0, |i| i.idle_w),
            inverter_always: scenario
                .loads
                .iter()
                .any(|l| l.inverter && !matches!(l.pattern, Pattern::Block(..))),
        }
    }

    /// Power wanted from the bank at an hour of the day, W. Thermostats run longer in the heat.
    pub(super) fn watts(&self, hour: f64, air_c: f64) -> f64 {
        let mut sum = 0.0;
        let mut inverter_on = self.inverter_always;
        for course in &self.courses {
            match *course {
                Course::Steady(watts) => sum += watts,
                Course::Cycle(watts, share, period_h, phase) => {
                    let share = share * (1.0 + 0.03 * (air_c - 18.0)).max(0.2);
                    if (hour / period_h + phase).fract() < share {
                        sum += watts;
                    }
                }
                Course::Block(watts, from, to, through_inverter) => {
                    if (from..to).contains(&hour) {
                        sum += watts;
                        inverter_on |= through_inverter;
                    }
                }
            }
        }
        if inverter_on { sum + self.idle_w } else { sum }
    }
}
