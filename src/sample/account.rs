//! From a run to its truth: the accounts, the faults by name, and which mending gives back most.

use super::consequences::{beside, derived, exceeds};
use super::faults::built_in;
use super::mending::{gains, limiting, overuse, sum};
use super::meters::rounded;
use super::run::Outcome;
use super::scenario::Scenario;
use super::totals::DayTotals;
use super::truth::{Truth, TruthDay, TruthFault, TruthSignal};
use crate::quantity::How;
use crate::report::model::{Account, Entry};

/// The loss worth a job: 5 % of the daily need, at least 50 Wh.
fn worth_wh(scenario: &Scenario) -> f64 {
    (0.05 * scenario.budget_wh()).max(50.0)
}

/// Planned harvest a day: label x sun hours x what heat, cable, conversion and the allowance leave of the label
/// on that day's clear sky.
fn planned_wh(scenario: &Scenario, day: &DayTotals) -> f64 {
    let factor = if day.sun_wh > 0.0 {
        day.clear / day.sun_wh
    } else {
        0.0
    };
    scenario.array.label_w() * scenario.sun_hours * factor
}

/// The truth of a run.
pub(super) fn truth(scenario: &Scenario, outcome: &Outcome, signals: Vec<TruthSignal>) -> Truth {
    let worth = worth_wh(scenario);
    let days: Vec<TruthDay> = outcome
        .days
        .iter()
        .map(|d| d.truth(planned_wh(scenario, d), worth))
        .collect();
    let planned = outcome.days.iter().map(|d| planned_wh(scenario, d)).sum();
    let mut gains = gains(scenario, outcome, worth);
    let mut faults = built_in(scenario, outcome, &gains);
    faults.extend(derived(scenario, &days));
    faults.extend(beside(scenario, outcome));
    faults.extend(exceeds(scenario, outcome));
    if faults.iter().any(|f| f.kind == "load-over-budget") && scenario.faults.heavy_use.is_none() {
        gains.push(overuse(outcome, scenario.budget_wh()));
    }
    let hungry = |f: &TruthFault| f.kind == "use-exceeds-harvest" || f.kind == "never-full";
    let hungry = faults.iter().any(hungry);
    let limiting = limiting(outcome, planned, &gains, worth, hungry);
    Truth {
        case: scenario.case.to_owned(),
        seed: scenario.seed,
        limiting: limiting.to_owned(),
        account: account(scenario, outcome),
        faults,
        days,
        signals,
    }
}

/// Both accounts. A fitted scale that differs from the allowance shows in `weather`: `clear` is
/// reckoned with the allowance, `offered` with the array's own scale.
fn account(scenario: &Scenario, outcome: &Outcome) -> Account {
    let sum = |f| sum(outcome, f);
    let planned: f64 = outcome.days.iter().map(|d| planned_wh(scenario, d)).sum();
    let clear = sum(|d| d.clear);
    let mut harvest = vec![
        entry("planned", planned),
        entry("season", clear - planned),
        entry("weather", sum(|d| d.weather) - clear),
        entry("heat", sum(|d| d.offered - d.weather)),
        entry("array", sum(|d| d.array_step)),
        entry("shade", sum(|d| d.shade_step)),
        entry("array_cable", 0.0),
        entry("conversion", sum(|d| d.conversion_step)),
        entry("controller_limit", sum(|d| d.limit_step)),
        entry("held_back", -sum(|d| d.held_back)),
        entry("unmeasured", -sum(|d| d.unmeasured)),
        entry("unexplained", 0.0),
    ];
    harvest.push(entry("harvested", sum(|d| d.harvest)));
    let bank = vec![
        entry("harvested", sum(|d| d.harvest)),
        entry("other_charge", sum(|d| d.other)),
        entry("unexplained", 0.0),
        entry("loads", sum(|d| d.load)),
        entry("bank_cable", sum(|d| d.run_loss)),
        entry("bank_change", sum(|d| d.stored)),
        entry("bank_loss", sum(|d| d.bank_loss)),
    ];
    Account { harvest, bank }
}

fn entry(name: &str, exact_wh: f64) -> Entry {
    let wh = rounded(exact_wh, 1000.0);
    Entry {
        name: name.to_owned(),
        wh,
        low: wh,
        high: wh,
        how: How::Measured,
    }
}
