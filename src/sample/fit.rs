//! Trial runs by which a case is given exactly the size of fault that was asked for.

use super::run::{Outcome, run};
use super::scenario::{Faults, Scenario};
use super::totals::DayTotals;

/// Highest current the sound system gives at a clear noon into a bank that takes it, A.
pub(super) fn clear_noon_a(scenario: &Scenario) -> f64 {
    let mut trial = scenario.clone();
    trial.faults = Faults::default();
    trial.days = 1;
    trial.weather = "c".into();
    trial.bank.start_soc = 0.4;
    run(&trial).extremes.charge_a
}

/// Lowest state of charge of the trip, percent.
pub(super) fn lowest_pct(scenario: &Scenario) -> f64 {
    let lowest = run(scenario)
        .days
        .iter()
        .filter_map(DayTotals::lowest_soc)
        .fold(f64::INFINITY, f64::min);
    100.0 * lowest
}

/// Mean of a figure over the days.
pub(super) fn mean(outcome: &Outcome, figure: fn(&DayTotals) -> f64) -> f64 {
    outcome.days.iter().map(figure).sum::<f64>() / outcome.days.len().max(1) as f64
}

/// Multiplies what every load draws, in the budget and in truth.
pub(super) fn scale_loads(scenario: &mut Scenario, factor: f64) {
    for load in &mut scenario.loads {
        load.power_w *= factor;
    }
    if let Some(inverter) = &mut scenario.inverter {
        inverter.idle_w *= factor;
    }
}

/// Scales the loads to what the sky offers, so that the bank wants all of it.
pub(super) fn scale_to_offer(scenario: &mut Scenario) {
    let outcome = run(scenario);
    let load = mean(&outcome, |d| d.load);
    if load > 0.0 {
        scale_loads(scenario, mean(&outcome, |d| d.offered) / load);
    }
    round_loads(scenario);
}

/// Budgets are written in tenths of a watt.
fn round_loads(scenario: &mut Scenario) {
    let tenth = |x: f64| (x * 10.0).round() / 10.0;
    for load in &mut scenario.loads {
        load.power_w = tenth(load.power_w);
    }
    if let Some(inverter) = &mut scenario.inverter {
        inverter.idle_w = tenth(inverter.idle_w);
    }
}

/// Scales the loads until the bank gives `share` of the budgeted need a day beside the harvest.
pub(super) fn scale_to_deficit(scenario: &mut Scenario, share: f64) {
    for _ in 0..3 {
        let outcome = run(scenario);
        let came = mean(&outcome, |d| d.harvest + d.other);
        let rest = mean(&outcome, |d| d.load) - share * scenario.budget_wh();
        if rest > 0.0 {
            scale_loads(scenario, came / rest);
        }
    }
    round_loads(scenario);
}

/// Sets the plan's sun hours so that what the sky really offered is `share` of the plan.
pub(super) fn plan_sun(scenario: &mut Scenario, share: f64) {
    let outcome = run(scenario);
    let clear = mean(&outcome, |d| d.clear);
    let sun = mean(&outcome, |d| d.sun_wh);
    let offered = mean(&outcome, |d| d.offered);
    if clear > 0.0 {
        let hours = offered / share / scenario.array.label_w() * sun / clear;
        scenario.sun_hours = (hours * 100.0).round() / 100.0;
    }
}

/// Moves the air until the bank, while charged, is as cold (`coldest`) or as warm as asked for.
pub(super) fn shift_air(scenario: &mut Scenario, aim_c: f64, coldest: bool) {
    for _ in 0..3 {
        let extremes = run(scenario).extremes;
        let now_c = if coldest {
            extremes.coldest_c
        } else {
            extremes.hottest_c
        };
        if now_c.is_finite() {
            scenario.air_c.0 += aim_c - now_c;
        }
    }
}

/// The smallest value up to `most` at which a figure of the trip reaches `aim`: in sixteen steps, and
/// then between the last two of them.
pub(super) fn first_reaching(
    scenario: &Scenario,
    most: f64,
    aim: f64,
    set: fn(&mut Scenario, f64),
    figure: fn(&Outcome) -> f64,
) -> f64 {
    let step = most / 16.0;
    let mut low = 0.0;
    for _ in 0..16 {
        let mut trial = scenario.clone();
        set(&mut trial, low + step);
        if figure(&run(&trial)) >= aim {
            break;
        }
        low += step;
    }
    bisect(scenario, (low, low + step), aim, set, figure)
}

/// The value between two ends at which a rising figure of the trip reaches `aim`.
pub(super) fn bisect(
    scenario: &Scenario,
    ends: (f64, f64),
    aim: f64,
    set: fn(&mut Scenario, f64),
    figure: fn(&Outcome) -> f64,
) -> f64 {
    let (mut low, mut high) = ends;
    for _ in 0..6 {
        let middle = 0.5 * (low + high);
        let mut trial = scenario.clone();
        set(&mut trial, middle);
        if figure(&run(&trial)) < aim {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}
