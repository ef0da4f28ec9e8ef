//! What is wrong with a trip, by the report's finding kinds and in their figures.

use serde_json::{Map, Value, json};

use super::mending::{Gain, sum};
use super::run::Outcome;
use super::scenario::Scenario;
use super::truth::TruthFault;

pub(super) fn figures(value: Value) -> Map<String, Value> {
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
        "array-dark" => dark_figures(s),
        "array-part-out" => {
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
                "below_deg": shade.below_deg, "depth": share(outcome.shadowed_j.1, outcome.shadowed_j.0),
            })
        }),
        "controller-limiting" => {
            json!({"limit_a": f.limit_a, "lost_wh": -sum(outcome, |d| d.limit_step)})
        }
        "absorption-short" => {
            let ends = &outcome.extremes.endings;
            let n = ends.len() as f64;
            json!({
                "held_min": share(ends.iter().map(|e| e.0).sum(), n),
                "ending_a": outcome.extremes.ending_a(),
                "full_current_a": s.bank.full_current * s.bank.rated_ah,
            })
        }
        "charge-voltage-low" | "charge-voltage-high" => {
            json!({"held_v": f.set_v, "set_v": s.controller.absorption_v})
        }
        "load-over-budget" => {
            json!({"load_wh": sum(outcome, |d| d.load) / f64::from(s.days), "budget_wh": s.budget_wh()})
        }
        "standby-high" => {
            let volts = 1.1 * s.nominal_v;
            let budget_a = s.standing_w() / volts;
            json!({"standby_a": budget_a + f.standby_w.unwrap_or(0.0) / volts, "budget_a": budget_a})
        }
        "drop-array-cable" => {
            json!({"design_mohm": 1000.0 * s.run_ohm("array-controller"), "drop_pct": s.array_drop_pct()})
        }
        _ => bank_figures(s, outcome, kind),
    }
}

/// A part of a whole, `None` where there is no whole.
fn share(part: f64, whole: f64) -> Option<f64> {
    (whole > 0.0).then(|| part / whole)
}

/// How long the array was dark.
fn dark_figures(s: &Scenario) -> Value {
    match (s.faults.breaker_off, s.faults.strings_out) {
        (Some((day, from, to)), _) => {
            json!({"dark_h": to - from, "since": s.date(day).to_string()})
        }
        (_, Some((share, from, to))) => {
            let until = to.min(s.days).saturating_sub(1);
            json!({
                "fraction_out": share, "since": s.date(from).to_string(), "until": s.date(until).to_string(),
            })
        }
        _ => Value::Null,
    }
}

/// Figures of the faults of a bank.
fn bank_figures(s: &Scenario, outcome: &Outcome, kind: &str) -> Value {
    let extremes = &outcome.extremes;
    match kind {
        "capacity-low" => json!({"capacity_ah": s.bank.true_ah, "rated_ah": s.bank.rated_ah}),
        "charge-loss-high" => json!({
            "charge_efficiency": share(extremes.kept_as, extremes.in_as),
            "usual_low": s.bank.lowest_usual_efficiency(),
        }),
        "battery-resistance-high" => json!({
            "resistance_mohm": 1000.0 * s.bank.r0_ohm,
            "typical_mohm": 1000.0 * s.bank.highest_usual_ohm(),
        }),
        "runaway-signs" => {
            let (rise_a, warmer_c, held_v) = extremes.rise;
            json!({"held_v": held_v, "current_rise_a": rise_a, "temperature_rise_c": warmer_c})
        }
        _ => design_figures(s, kind).unwrap_or_else(|| reading_figures(s, outcome, kind)),
    }
}

/// Figures of what the design alone has wrong.
fn design_figures(s: &Scenario, kind: &str) -> Option<Value> {
    match kind {
        "cold-voltage-over-limit" => Some(json!({
            "string_voc_v": s.cold_voc_v(), "limit_v": s.controller.max_input_v, "at_c": s.record_low_c,
        })),
        "controller-undersized" => s
            .undersized_controller()
            .map(|(array_a, limit_a)| json!({"array_a": array_a, "limit_a": limit_a})),
        "cable-undersized" => s.undersized_cable().map(
            |(run, amps, ampacity)| json!({"run": run, "current_a": amps, "ampacity_a": ampacity}),
        ),
        "fuse-unsuitable" => s.unsuitable_fuse().map(
            |(run, fuse, ampacity)| json!({"run": run, "fuse_a": fuse, "ampacity_a": ampacity}),
        ),
        _ => None,
    }
}

/// Figures of the faults of meters and loggers.
fn reading_figures(s: &Scenario, outcome: &Outcome, kind: &str) -> Value {
    let f = &s.faults;
    match kind {
        "meter-offset" => {
            json!({"offset_v": s.logging.volts_apart - f.controller_reads_low_v.unwrap_or(0.0)})
        }
        "soc-unreliable" => {
            let calendar = s.calendar();
            let at: Vec<String> = outcome
                .false_full
                .iter()
                .map(|t| calendar.rfc3339(*t))
                .collect();
            json!({"worst_error_pct": outcome.worst_jump_pct, "false_full": at})
        }
        "clock-off" => {
            let (bank, controller) = s.logging.clock_s;
            json!({
                "shift_min": -bank as f64 / 60.0, "controller_shift_min": -controller as f64 / 60.0,
            })
        }
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
        "logs-disagree" => {
            json!({"ratio": 1.0 + f.shunt_gain.unwrap_or(0.0), "what": "battery_current"})
        }
        _ => Value::Null,
    }
}
