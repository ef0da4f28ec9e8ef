//! The cases: systems of our own, healthy or with one thing wrong, and the barge that shows the main job.

mod array;
mod bank;
mod charging;
mod healthy_banks;
mod healthy_loggers;
mod healthy_places;
mod logs;
mod september;
mod usage;
mod wiring;

use super::draw::Draw;
use super::scenario::Scenario;

/// Makes the scenario of a case from its name.
type Build = fn(&'static str, &mut Draw) -> Scenario;

/// A case that can be simulated.
#[derive(Debug, Clone, Copy)]
pub struct Case {
    /// Name, as `--case` takes it.
    pub name: &'static str,
    /// One line on what happens.
    pub about: &'static str,
    /// Kinds of finding it was built to show, at the size asked for; none where nothing is wrong.
    pub kinds: &'static [&'static str],
    build: Build,
}

const fn sound(name: &'static str, about: &'static str, build: Build) -> Case {
    case(name, &[], about, build)
}

const fn case(
    name: &'static str,
    kinds: &'static [&'static str],
    about: &'static str,
    build: Build,
) -> Case {
    Case {
        name,
        about,
        kinds,
        build,
    }
}

/// Every case; the first is the default.
#[rustfmt::skip] // A table: one case a line or two.
pub(super) const CASES: &[Case] = &[
    case("barge-september", &["drop-battery-cable", "array-part-out", "harvest-short", "never-full"],
        "a joint that eats voltage, then half the array gone: 24 days in autumn", september::barge_september),

    sound("healthy-summer", "nothing wrong; full by midday on most days", healthy_places::healthy_summer),
    sound("healthy-full-by-noon", "nothing wrong; hardly any use in June", healthy_places::full_by_noon),
    sound("healthy-winter", "nothing wrong; a northern December", healthy_places::healthy_winter),
    sound("healthy-overcast", "nothing wrong; a grey week", healthy_places::healthy_overcast),
    sound("healthy-travelling", "nothing wrong; a van that crosses a time zone", healthy_places::healthy_travelling),
    sound("healthy-southern", "nothing wrong; panels that look north in the south", healthy_places::healthy_southern),
    sound("healthy-flooded-24", "nothing wrong; 24 V flooded lead in a workshop", healthy_banks::healthy_flooded),
    sound("healthy-pwm", "nothing wrong; a switching controller and an AGM bank", healthy_banks::healthy_pwm),
    sound("healthy-gel", "nothing wrong; a gel bank", healthy_banks::healthy_gel),
    sound("healthy-equalised", "nothing wrong; flooded cells equalised on one day", healthy_banks::healthy_equalised),
    sound("healthy-cabin-48", "nothing wrong; a 48 V cabin", healthy_banks::healthy_cabin),
    sound("healthy-nmc", "nothing wrong; seven NMC cells for 24 V", healthy_banks::healthy_nmc),
    sound("healthy-busy", "nothing wrong; a small bank that goes deep each night", healthy_banks::healthy_busy),
    sound("healthy-engine", "nothing wrong; the engine charges most mornings", healthy_banks::healthy_engine),
    sound("healthy-quarter-hours", "nothing wrong; rows every 15 minutes", healthy_loggers::quarter_hours),
    sound("healthy-ten-seconds", "nothing wrong; rows every 10 seconds", healthy_loggers::ten_seconds),
    sound("healthy-bank-log", "nothing wrong; the bank monitor's log alone", healthy_loggers::bank_log),
    sound("healthy-controller-log", "nothing wrong; the controller's log alone", healthy_loggers::controller_log),
    sound("healthy-one-voltage", "nothing wrong; the controller's voltage is not logged", healthy_loggers::one_voltage),
    sound("healthy-utc", "nothing wrong; stamps in UTC far west of it", healthy_loggers::utc),

    case("string-out", &["array-part-out", "harvest-short"], "strings of a parallel array drop out", array::string_out),
    case("shade-mast", &["shade-repeating"], "a mast shades the array on every clear morning", array::shade_mast),
    case("dirty-array", &["array-weak"], "an array that gives far less than its label", array::dirty_array),
    case("array-dark", &["array-dark"], "days without anything from the array", array::array_dark),
    case("breaker-off", &["array-dark"], "hours of a clear day without anything from the array", array::breaker_off),

    case("drop-joint", &["drop-battery-cable"], "a poor joint between controller and bank", wiring::drop_joint),
    case("drop-rising", &["drop-rising", "drop-battery-cable"],
        "a joint between controller and bank that comes loose in the second week", wiring::drop_rising),
    case("joint-unseen", &[], "a poor joint, and the controller's voltage not logged", wiring::joint_unseen),
    case("thin-array-cable", &["drop-array-cable"], "a long thin cable from the array", wiring::thin_array_cable),
    case("cable-too-small", &["cable-undersized"], "a cable rated below what the panels give", wiring::cable_too_small),
    case("fuse-too-large", &["fuse-unsuitable"], "a fuse above what its cable bears", wiring::fuse_too_large),
    case("cold-voltage", &["cold-voltage-over-limit"], "a string too long for its controller in the cold", wiring::cold_voltage),
    case("input-too-small", &["controller-undersized"], "a controller whose input bears too little current", wiring::input_too_small),
    case("switch-too-small", &["controller-undersized"], "a switching controller rated below its panels", wiring::switch_too_small),

    case("controller-limit", &["controller-limiting"], "a controller that stops at too little current", charging::controller_limit),
    case("short-absorption", &["absorption-short"], "absorption cut short on a lead bank", charging::short_absorption),
    case("set-low", &["charge-voltage-low"], "an absorption voltage set too low", charging::set_low),
    case("set-high", &["charge-voltage-high"], "an absorption voltage set too high", charging::set_high),
    case("false-full", &["soc-unreliable"], "a meter that calls the bank full when it is not", charging::false_full),
    case("meter-offset", &["meter-offset"], "two voltmeters that disagree at any current", charging::meter_offset),
    case("strong-engine", &["charge-current-high"], "an engine's charger too strong for the bank", charging::strong_engine),
    case("large-array", &["charge-current-high"], "an array too strong for the bank", charging::large_array),

    case("capacity-low", &["capacity-low"], "a lithium bank that holds far less than its label", bank::capacity_low),
    case("capacity-low-lead", &["capacity-low"], "a lead bank that holds far less than its label", bank::capacity_low_lead),
    case("bank-resistance", &["battery-resistance-high"], "a lithium bank with far too much resistance", bank::bank_resistance),
    case("bank-resistance-lead", &["battery-resistance-high"], "a lead bank with far too much resistance", bank::bank_resistance_lead),
    case("leaky-bank", &["charge-loss-high"], "a lithium bank that leaks charge", bank::leaky_bank),
    case("leaky-bank-lead", &["charge-loss-high"], "a lead bank that gives back too little", bank::leaky_bank_lead),
    case("drained-bank", &["bank-drained"], "a lead bank taken below its reserve", bank::drained_bank),
    case("drained-lithium", &["bank-drained"], "a lithium bank taken below its reserve", bank::drained_lithium),
    case("emptied-cells", &["cell-limit-passed"], "a lithium bank emptied below its cells' lowest voltage", bank::emptied_cells),
    case("cold-charge", &["cold-charge"], "a lithium bank charged below freezing", bank::cold_charge),
    case("hot-charge", &["hot-charge"], "a bank charged beside a hot engine", bank::hot_charge),
    case("runaway", &["runaway-signs"], "an old bank that warms and takes more at a held voltage", bank::runaway),
    case("never-full", &["never-full"], "a lead bank under a grey sky for too long", bank::never_full),

    case("load-heavy", &["load-over-budget"], "more used than was budgeted", usage::load_heavy),
    case("standby", &["standby-high"], "something always on that no budget knows of", usage::standby),
    case("sun-limited", &["use-exceeds-harvest"], "a November that gives less than is used", usage::sun_limited),
    case("hungry-crew", &["use-exceeds-harvest"], "a budget larger than the sun", usage::hungry_crew),

    case("log-gaps", &["log-gaps"], "a logger that slept", logs::log_gaps),
    case("clock-off", &["clock-off"], "loggers that run ahead", logs::clock_off),
    case("clock-behind", &["clock-off"], "loggers that run behind", logs::clock_behind),
    case("clock-apart", &["clock-off"], "two loggers with clocks of their own", logs::clock_apart),
    case("shunt-reversed", &["current-reversed"], "a bank monitor that logs discharge as positive", logs::shunt_reversed),
    case("current-offset", &["current-offset"], "a shunt that reads beside the truth", logs::current_offset),
    case("logs-disagree", &["logs-disagree"], "a shunt that reads a share too much or too little", logs::logs_disagree),
];

/// The scenario of a case name, or `None` where there is no such case.
pub(super) fn scenario(name: &str, seed: u64, size: Option<f64>) -> Option<Scenario> {
    let found = CASES.iter().find(|c| c.name == name)?;
    Some((found.build)(found.name, &mut Draw::new(seed, size)))
}
