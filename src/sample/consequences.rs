//! What follows from a trip as it went, by the report's finding kinds and in their figures.

use serde_json::{Value, json};

use super::faults::figures;
use super::mending::sum;
use super::run::Outcome;
use super::scenario::Scenario;
use super::truth::{TruthDay, TruthFault};
use crate::report::model::DayState;
use crate::smallest;

/// A fault by its kind and figures.
fn fault(kind: &str, value: Value) -> TruthFault {
    TruthFault {
        kind: kind.to_owned(),
        figures: figures(value),
    }
}

/// More used than came in, from the smallest share of the daily need on that shows.
pub(super) fn exceeds(scenario: &Scenario, outcome: &Outcome) -> Option<TruthFault> {
    let deficit = outcome.balance.deficit_wh() / outcome.days.len().max(1) as f64;
    let shown = least("use-exceeds-harvest") * scenario.budget_wh();
    (deficit >= shown).then(|| {
        fault(
            "use-exceeds-harvest",
            json!({"deficit_wh_per_day": deficit}),
        )
    })
}

/// The smallest size of a kind.
fn least(kind: &str) -> f64 {
    smallest::of(kind).map_or(f64::INFINITY, |s| s.value)
}

/// What goes with a fault, a place or the use: a drop that rose, charging too cold or too hot or too
/// strong, cells emptied, more used than budgeted.
pub(super) fn beside(scenario: &Scenario, outcome: &Outcome) -> Vec<TruthFault> {
    let mut found = Vec::new();
    if let Some((excess, from)) = scenario.faults.joint.filter(|f| f.1 > 0) {
        let before = 1000.0 * scenario.run_ohm("controller-battery");
        let since = scenario.date(from).to_string();
        found.push(fault(
            "drop-rising",
            json!({"before_mohm": before, "after_mohm": before + excess, "since": since}),
        ));
    }
    found.extend(gone_through(scenario, outcome));
    found.extend(worn(scenario, outcome));
    let load_wh = sum(outcome, |d| d.load) / outcome.days.len().max(1) as f64;
    let budget_wh = scenario.budget_wh();
    let over = load_wh / budget_wh - 1.0;
    if scenario.faults.heavy_use.is_none() && over >= least("load-over-budget") {
        found.push(fault(
            "load-over-budget",
            json!({"load_wh": load_wh, "budget_wh": budget_wh}),
        ));
    }
    found
}

/// What shows of a bank and its meter by the figures, whatever the case was built for.
fn worn(scenario: &Scenario, outcome: &Outcome) -> Vec<TruthFault> {
    let (bank, extremes) = (&scenario.bank, &outcome.extremes);
    let mut found = Vec::new();
    if scenario.faults.false_full.is_none() && outcome.meter_off_pct >= least("soc-unreliable") {
        found.push(fault(
            "soc-unreliable",
            json!({"worst_error_pct": outcome.meter_off_pct, "false_full": []}),
        ));
    }
    // Lead that is kept full gives back far less than it takes without a fault; gassing is one.
    let efficiency = extremes.kept_as / extremes.in_as.max(1.0);
    let lossy = bank.lowest_usual_efficiency() - least("charge-loss-high");
    if scenario.faults.gassing_a.is_some() && efficiency <= lossy {
        found.push(fault(
            "charge-loss-high",
            json!({"charge_efficiency": efficiency, "usual_low": bank.lowest_usual_efficiency()}),
        ));
    }
    let full_a = bank.full_current * bank.rated_ah;
    let early = extremes.ending_a().filter(|_| extremes.endings.len() >= 3);
    let early = early.filter(|a| *a >= least("absorption-short") * full_a);
    if let (None, Some(ending_a)) = (scenario.faults.absorption_ends_a, early) {
        found.push(fault(
            "absorption-short",
            json!({"ending_a": ending_a, "full_current_a": full_a}),
        ));
    }
    found
}

/// What the bank went through that it must not.
fn gone_through(scenario: &Scenario, outcome: &Outcome) -> Vec<TruthFault> {
    let (bank, extremes) = (&scenario.bank, &outcome.extremes);
    let mut found = Vec::new();
    if extremes.cold_s > 0.0 {
        found.push(fault(
            "cold-charge",
            json!({"charged_min": extremes.cold_s / 60.0, "lowest_c": extremes.coldest_c}),
        ));
    }
    if extremes.hot_s > 0.0 {
        found.push(fault(
            "hot-charge",
            json!({"charged_min": extremes.hot_s / 60.0, "highest_c": extremes.hottest_c}),
        ));
    }
    if extremes.bank_a > bank.max_charge_a {
        found.push(fault(
            "charge-current-high",
            json!({"current_a": extremes.bank_a, "limit_a": bank.max_charge_a}),
        ));
    }
    let high_v = least("charge-voltage-high") * bank.units();
    let planned = scenario.faults.set_v.is_some() || scenario.controller.equalise.is_some();
    if extremes.over_v >= high_v && !planned {
        found.push(fault(
            "charge-voltage-high",
            json!({"over_v": extremes.over_v}),
        ));
    }
    if extremes.low_v < bank.cell_limit_v() {
        found.push(fault(
            "cell-limit-passed",
            json!({"lowest_v": extremes.low_v, "limit_v": bank.cell_limit_v()}),
        ));
    }
    found
}

/// What follows from the days: a harvest that fell short, a bank that was not filled, or drained.
pub(super) fn derived(scenario: &Scenario, days: &[TruthDay]) -> Vec<TruthFault> {
    let mut found = Vec::new();
    let short: Vec<&TruthDay> = days.iter().filter(|d| d.state == DayState::Short).collect();
    if let Some(worst) = short.iter().max_by(|a, b| a.lost_wh.total_cmp(&b.lost_wh)) {
        let lost: f64 = short.iter().map(|d| d.lost_wh).sum();
        found.push(TruthFault {
            kind: "harvest-short".to_owned(),
            figures: figures(
                json!({"lost_wh": lost, "worst_day": worst.date, "days": short.len()}),
            ),
        });
    }
    let last = days.iter().rposition(|d| d.reached_full);
    let since = last.map_or(days.len(), |i| days.len() - 1 - i);
    let never = if last.is_none() {
        days.len() >= 5
    } else {
        since as f64 > scenario.bank.max_days_between_full
    };
    if never {
        found.push(TruthFault {
            kind: "never-full".to_owned(),
            figures: figures(json!({
                "last_full": last.map(|i| days[i].date.clone()),
                "days_since_full": last.map(|_| since),
                "days_full": days.iter().filter(|d| d.reached_full).count(),
                "days_counted": days.len(),
            })),
        });
    }
    let reserve = scenario.bank.reserve_pct;
    let drained = days
        .iter()
        .filter(|d| d.soc_low_pct.is_some_and(|pct| pct < reserve))
        .count();
    if drained > 0 {
        let lowest = |f: fn(&TruthDay) -> Option<f64>| days.iter().filter_map(f).reduce(f64::min);
        found.push(TruthFault {
            kind: "bank-drained".to_owned(),
            figures: figures(json!({
                "lowest_pct": lowest(|d| d.soc_low_pct), "lowest_v": lowest(|d| d.low_v), "nights": drained,
            })),
        });
    }
    found
}
