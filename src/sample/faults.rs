//! What is wrong with a trip, by the report's finding kinds and in their figures.

use serde_json::{Map, Value, json};

use super::mending::{Gain, sum};
use super::run::Outcome;
use super::scenario::Scenario;
use super::truth::{TruthDay, TruthFault};
use crate::report::model::DayState;

fn figures(value: Value) -> Map<String, Value> {
    match value {
        Value::Object(map) => map,
        _ => Map::new(),
    }
}

/// The faults the case was built with, in figures.
pub(super) fn built_in(scenario: &Scenario, outcome: &Outcome, gains: &[Gain]) -> Vec<TruthFault> {
    gains
        .iter()
        .map(|gain| {
            let mut figures = figures(fault_figures(scenario, outcome, gain.kind));
            figures.insert("mending_gives_wh".to_owned(), json!(gain.wh));
            TruthFault {
                kind: gain.kind.to_owned(),
                figures,
            }
        })
        .collect()
}

fn fault_figures(s: &Scenario, outcome: &Outcome, kind: &str) -> Value {
    let f = &s.faults;
    let date = |day: u32| s.date(day).to_string();
    match kind {
        "drop-battery-cable" => {
            let design = 1000.0 * s.run_ohm("controller-battery");
            let (excess, since) = f.joint.unwrap_or_default();
            json!({
                "resistance_mohm": design + excess, "design_mohm": design, "excess_mohm": excess,
                "since": date(since), "cable_wh": sum(outcome, |d| d.run_loss),
            })
        }
        "array-part-out" | "array-dark" => {
            let (share, from, to) = f.strings_out.unwrap_or_default();
            json!({"fraction_out": share, "since": date(from), "until": date(to.min(s.days).saturating_sub(1))})
        }
        "array-weak" => {
            let scale = s.array.true_scale * f.dirt.unwrap_or(1.0);
            json!({"scale": scale / s.array.allowance})
        }
        "shade-repeating" => f.shade.map_or(Value::Null, |shade| {
            json!({
                "sun_from_deg": shade.azimuth_from, "sun_to_deg": shade.azimuth_to,
                "below_deg": shade.below_deg, "depth": shade.sections,
            })
        }),
        "controller-limiting" => {
            json!({"limit_a": f.limit_a, "lost_wh": -sum(outcome, |d| d.limit_step)})
        }
        "absorption-short" => {
            json!({"held_min": f.absorption_min, "full_current_a": s.bank.full_current * s.bank.rated_ah})
        }
        "charge-voltage-low" => {
            let held_v = s.controller.absorption_v - f.set_low_v.unwrap_or(0.0);
            json!({"held_v": (held_v * 100.0).round() / 100.0, "set_v": s.controller.absorption_v})
        }
        "load-over-budget" => {
            json!({"load_wh": sum(outcome, |d| d.load) / f64::from(s.days), "budget_wh": s.budget_wh()})
        }
        _ => reading_figures(s, outcome, kind),
    }
}

/// Figures of the faults of meters and loggers.
fn reading_figures(s: &Scenario, outcome: &Outcome, kind: &str) -> Value {
    let f = &s.faults;
    match kind {
        "meter-offset" => json!({"offset_v": s.logging.volts_apart}),
        "soc-unreliable" => {
            let calendar = s.calendar();
            let at: Vec<String> = outcome
                .false_full
                .iter()
                .map(|t| calendar.rfc3339(*t))
                .collect();
            json!({"worst_error_pct": outcome.worst_jump_pct, "false_full": at})
        }
        "capacity-low" => json!({"capacity_ah": s.bank.true_ah, "rated_ah": s.bank.rated_ah}),
        "clock-off" => json!({"shift_min": -s.logging.clock_s.0 as f64 / 60.0}),
        "log-gaps" => {
            let calendar = s.calendar();
            let hours: Vec<f64> = s
                .logging
                .gaps
                .iter()
                .map(|g| g.2.min(calendar.hours_in(s.date(g.0))) - g.1)
                .collect();
            json!({"gap_h": hours.iter().sum::<f64>(), "longest_day_h": hours.iter().copied().fold(0.0, f64::max)})
        }
        "current-offset" => json!({"offset_a": f.shunt_offset_a}),
        _ => Value::Null,
    }
}

/// More used than came in: what the bank gave beside, a day.
pub(super) fn exceeds(outcome: &Outcome) -> TruthFault {
    let deficit = sum(outcome, |d| d.bank_out - d.bank_in) / outcome.days.len().max(1) as f64;
    TruthFault {
        kind: "use-exceeds-harvest".to_owned(),
        figures: figures(json!({"deficit_wh_per_day": deficit})),
    }
}

/// What goes with a fault or a cold place: a drop that rose, charging below freezing.
pub(super) fn beside(scenario: &Scenario, outcome: &Outcome) -> Vec<TruthFault> {
    let mut found = Vec::new();
    if let Some((excess, from)) = scenario.faults.joint.filter(|f| f.1 > 0) {
        let before = 1000.0 * scenario.run_ohm("controller-battery");
        let since = scenario.date(from).to_string();
        found.push(TruthFault {
            kind: "drop-rising".to_owned(),
            figures: figures(
                json!({"before_mohm": before, "after_mohm": before + excess, "since": since}),
            ),
        });
    }
    if outcome.cold_s > 0.0 {
        found.push(TruthFault {
            kind: "cold-charge".to_owned(),
            figures: figures(
                json!({"charged_min": outcome.cold_s / 60.0, "lowest_c": outcome.coldest_c}),
            ),
        });
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
