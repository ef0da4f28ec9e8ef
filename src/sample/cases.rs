//! The cases: systems of our own, healthy or with one thing wrong, and the barge that shows the main job.

use super::dice::Dice;
use super::scenario::Scenario;
use super::{faulty, healthy};

/// A case that can be simulated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Case {
    /// Name, as `--case` takes it.
    pub name: &'static str,
    /// One line on what happens.
    pub about: &'static str,
}

const fn case(name: &'static str, about: &'static str) -> Case {
    Case { name, about }
}

/// Every case; the first is the default.
pub(super) const CASES: [Case; 27] = [
    case(
        "barge-september",
        "a joint that eats voltage, then half the array gone: 24 days in autumn",
    ),
    case("healthy-summer", "nothing wrong; full by midday every day"),
    case("healthy-winter", "nothing wrong; a northern December"),
    case("healthy-overcast", "nothing wrong; a grey week"),
    case(
        "healthy-flooded-24",
        "nothing wrong; 24 V flooded lead in a workshop",
    ),
    case(
        "healthy-pwm",
        "nothing wrong; a switching controller and an AGM bank",
    ),
    case(
        "healthy-travelling",
        "nothing wrong; a van that crosses a time zone",
    ),
    case(
        "healthy-quarter-hours",
        "nothing wrong; rows every 15 minutes",
    ),
    case("healthy-cabin-48", "nothing wrong; a 48 V cabin"),
    case("drop-joint", "a poor joint between controller and bank"),
    case("string-out", "one of two strings drops out"),
    case(
        "shade-mast",
        "a mast shades the array on every clear morning",
    ),
    case("dirty-array", "an array that gives far less than its label"),
    case("load-heavy", "more used than was budgeted"),
    case(
        "controller-limit",
        "a controller that stops at too little current",
    ),
    case("short-absorption", "absorption cut short on a lead bank"),
    case(
        "false-full",
        "a meter that calls the bank full when it is not",
    ),
    case("set-low", "an absorption voltage set too low"),
    case("capacity-low", "a bank that holds far less than its label"),
    case("current-offset", "a shunt that reads beside the truth"),
    case("clock-off", "a logger an hour ahead"),
    case("log-gaps", "a logger that slept"),
    case("sun-limited", "a November that gives less than is used"),
    case(
        "drop-rising",
        "a joint between controller and bank that comes loose in the second week",
    ),
    case(
        "meter-offset",
        "two voltmeters that disagree at any current",
    ),
    case(
        "array-dark",
        "two sunny days without anything from the array",
    ),
    case("cold-charge", "a lithium bank charged below freezing"),
];

/// The scenario of a case name, or `None` where there is no such case.
pub(super) fn scenario(name: &str, seed: u64) -> Option<Scenario> {
    let found = CASES.iter().find(|c| c.name == name)?;
    let mut dice = Dice::new(seed, 0);
    let dice = &mut dice;
    Some(match found.name {
        "barge-september" => faulty::barge_september(seed, dice),
        "healthy-summer" => healthy::healthy_summer(seed, dice),
        "healthy-winter" => healthy::healthy_winter(seed, dice),
        "healthy-overcast" => healthy::healthy_overcast(seed, dice),
        "healthy-flooded-24" => healthy::healthy_flooded(seed, dice),
        "healthy-pwm" => healthy::healthy_pwm(seed, dice),
        "healthy-travelling" => healthy::healthy_travelling(seed, dice),
        "healthy-quarter-hours" => healthy::quarter_hours(seed, dice),
        "healthy-cabin-48" => healthy::healthy_cabin(seed, dice),
        other => return faulty::faulty(other, seed, dice),
    })
}
