//! From a run to its truth: the accounts, the faults by name, and which mending gives back most.

use serde_json::{Map, Value, json};

use super::meters::rounded;
use super::run::{Outcome, run};
use super::scenario::Scenario;
use super::totals::DayTotals;
use super::truth::{Truth, TruthDay, TruthFault, TruthSignal};
use crate::quantity::How;
use crate::report::model::{Account, DayState, Entry};

/// The loss worth a job: 5 % of the daily need, at least 50 Wh.
fn worth_wh(scenario: &Scenario) -> f64 {
    (0.05 * scenario.budget_wh()).max(50.0)
}

/// Planned harvest a day: label x sun hours x the factor of that day's clear sky.
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
    let gains = gains(scenario, outcome);
    let mut faults = built_in(scenario, outcome, &gains);
    faults.extend(derived(scenario, &days));
    Truth {
        case: scenario.case.to_owned(),
        seed: scenario.seed,
        limiting: limiting(scenario, outcome, &gains).to_owned(),
        account: account(scenario, outcome),
        faults,
        days,
        signals,
    }
}

/// Both accounts. A fitted scale that differs from the allowance shows in `weather`: `clear` is
/// reckoned with the allowance, `offered` with the array's own scale.
fn account(scenario: &Scenario, outcome: &Outcome) -> Account {
    let sum = |f: fn(&DayTotals) -> f64| outcome.days.iter().map(f).sum::<f64>();
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

/// What mending each fault alone would give back over the trip, Wh.
struct Gain {
    kind: &'static str,
    area: &'static str,
    wh: f64,
}

/// Runs the trip again with each fault mended. Gain: more energy at the bank, or less use.
fn gains(scenario: &Scenario, outcome: &Outcome) -> Vec<Gain> {
    let mut mended: Vec<(&'static str, &'static str, Scenario)> = Vec::new();
    let mut mend = |is: bool, kind, area, fix: fn(&mut Scenario)| {
        if is {
            let mut whole = scenario.clone();
            fix(&mut whole);
            mended.push((kind, area, whole));
        }
    };
    let f = &scenario.faults;
    let small = scenario.bank.true_ah < 0.8 * scenario.bank.rated_ah;
    mend(f.joint.is_some(), "drop-battery-cable", "wiring", |s| {
        s.faults.joint = None
    });
    mend(f.strings_out.is_some(), "array-part-out", "array", |s| {
        s.faults.strings_out = None
    });
    mend(f.dirt.is_some(), "array-weak", "array", |s| {
        s.faults.dirt = None
    });
    mend(f.shade.is_some(), "shade-repeating", "array", |s| {
        s.faults.shade = None
    });
    mend(
        f.limit_a.is_some(),
        "controller-limiting",
        "settings",
        |s| s.faults.limit_a = None,
    );
    mend(
        f.absorption_min.is_some(),
        "absorption-short",
        "settings",
        |s| s.faults.absorption_min = None,
    );
    mend(
        f.set_low_v.is_some(),
        "charge-voltage-low",
        "settings",
        |s| s.faults.set_low_v = None,
    );
    mend(f.heavy_use.is_some(), "load-over-budget", "use", |s| {
        s.faults.heavy_use = None
    });
    mend(small, "capacity-low", "battery", |s| {
        s.bank.true_ah = s.bank.rated_ah
    });
    // A meter's or a logger's fault costs no energy of the plant: nothing to run again.
    let mut found: Vec<Gain> = mended
        .into_iter()
        .map(|(kind, area, whole)| {
            let then = run(&whole);
            let wh = if area == "use" {
                sum(outcome, |d| d.load) - sum(&then, |d| d.load)
            } else {
                sum(&then, |d| d.harvest - d.run_loss) - sum(outcome, |d| d.harvest - d.run_loss)
            };
            Gain { kind, area, wh }
        })
        .collect();
    let mut reading = |is: bool, kind, area| {
        if is {
            found.push(Gain {
                kind,
                area,
                wh: 0.0,
            });
        }
    };
    reading(f.false_full.is_some(), "soc-unreliable", "settings");
    reading(f.shunt_offset_a.is_some(), "current-offset", "nothing");
    reading(
        scenario.logging.clock_s.0.abs() > 300,
        "clock-off",
        "nothing",
    );
    reading(!scenario.logging.gaps.is_empty(), "log-gaps", "nothing");
    found
}

fn sum(outcome: &Outcome, f: fn(&DayTotals) -> f64) -> f64 {
    outcome.days.iter().map(f).sum()
}

/// The area whose mending gives back most; without a fault, the sun where less was offered than
/// used and less than planned, the use where more was used than offered in spite of that, else nothing.
fn limiting(scenario: &Scenario, outcome: &Outcome, gains: &[Gain]) -> &'static str {
    if let Some(best) = gains.iter().max_by(|a, b| a.wh.total_cmp(&b.wh)) {
        return best.area;
    }
    let planned: f64 = outcome.days.iter().map(|d| planned_wh(scenario, d)).sum();
    let offered = sum(outcome, |d| d.offered - d.unmeasured);
    let used = sum(outcome, |d| d.load);
    if offered >= used {
        "nothing"
    } else if offered < 0.9 * planned {
        "sun"
    } else {
        "use"
    }
}

fn figures(value: Value) -> Map<String, Value> {
    match value {
        Value::Object(map) => map,
        _ => Map::new(),
    }
}

/// The faults the case was built with, in figures.
fn built_in(scenario: &Scenario, outcome: &Outcome, gains: &[Gain]) -> Vec<TruthFault> {
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

/// What follows from the days: a harvest that fell short, a bank that was not filled, or drained.
fn derived(scenario: &Scenario, days: &[TruthDay]) -> Vec<TruthFault> {
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
