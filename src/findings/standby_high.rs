//! More runs round the clock than the design knows of.

use serde_json::json;

use crate::account::night::{Night, Nights};
use crate::design::When;
use crate::design::budget::budget;
use crate::findings::{Evidence, Outcome, Rule, cause, zero};
use crate::quantity::Interval;
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::stats::quantile::{mad, median};
use crate::stats::student::t95;
use crate::words::{about, ranged, with_unit};

pub(super) const RULE: Rule = Rule {
    kind: "standby-high",
    area: Limiting::Use,
    meaning: "Something draws current round the clock that the design does not know of, or draws more than it should. One ampere is 24 Ah a day.",
    decided: "The floor of the current drawn between midnight and five, sun down and nothing charging: by night the level about the tenth percentile of the readings, over nights the median with its 90 % interval and the meter's zero error. Found when its lower end is above what the design runs at night (loads of 24 hours, the inverter's idle draw where it is on for 24 hours, long night loads, 0.1 A per 12 V for controller and monitor) by more than 0.3 A per 12 V and a quarter, on at least 4 nights, and the rest is worth a job.",
    limits: "About 0.3 A per 12 V is the least that can be told. A fridge that never stops in those hours looks like standby: where no cycle is seen its running current is allowed for. Rows more than 5 minutes apart blur its cycles. Needs the bank's current, or the loads', by night.",
    cause: cause::by_loss,
    follows_from: &[],
    look,
};

/// A night load of so many hours may well run all through the small hours.
const LONG_NIGHT_H: f64 = 6.0;
/// A load of so many hours a day may run without a break in the small hours.
const CYCLES_H: f64 = 4.0;
/// A fridge shows itself where the night's readings spread over this share of its current.
const CYCLE_SEEN: f64 = 0.5;
/// Readings this far below zero, A, are charging.
const CHARGED_A: f64 = -0.2;

/// What the design lets run at night, A.
struct Allowed {
    /// Round the clock (contract: loads of 24 hours).
    budget_a: f64,
    /// With long night loads and the meters' own use.
    night_a: f64,
    /// The largest load that starts and stops by itself.
    cycles_a: f64,
}

fn look(evidence: &Evidence) -> Outcome {
    let read = Nights::new(
        evidence.calendar,
        evidence.timeline,
        evidence.expected,
        &evidence.accounts.loads,
    );
    let Some(read) = read else {
        return cannot_tell(
            "neither the bank's current nor the loads' was logged",
            "the bank monitor's current, nights included",
        );
    };
    let nights: Vec<&Night> = read
        .nights
        .iter()
        .filter(|n| n.floor_a > CHARGED_A)
        .collect();
    if (nights.len() as f64) < evidence.design.judging.use_days {
        return cannot_tell(
            &format!("only {} without charging were logged", count(nights.len())),
            "at least 4 whole nights with the bank's current, engine and shore power off",
        );
    }
    let standby = floor_of(evidence, &read, &nights);
    if evidence.design.loads.is_empty() && evidence.design.inverter.is_none() {
        return cannot_tell(
            &format!(
                "the design has no load budget; at night the use fell to {}",
                ranged(&standby, "A")
            ),
            "the loads in the design, those that are always on with 24 hours",
        );
    }
    decide(evidence, &read, &nights, standby)
}

fn decide(evidence: &Evidence, read: &Nights, nights: &[&Night], standby: Interval) -> Outcome {
    let judging = &evidence.design.judging;
    let allowed = allowed(evidence);
    let margin = (judging.standby_margin_a / evidence.volts_per_12())
        .max(judging.standby_share * allowed.night_a);
    let volts = median(&nights.iter().filter_map(|n| n.bank_v).collect::<Vec<_>>())
        .unwrap_or(evidence.design.nominal_v());
    let daily = |a: f64| (a - allowed.budget_a).max(0.0) * 24.0 * volts;
    let lost = Interval::new(
        daily(standby.value),
        daily(standby.low),
        daily(standby.high),
    );
    let worth = lost.value > evidence.accounts.yardsticks.worth_a_job_wh;
    if standby.low <= allowed.night_a + margin || !worth {
        return Outcome::Fine(format!(
            "at night the use fell to {}; {} A are planned round the clock",
            ranged(&standby, "A"),
            about(allowed.budget_a)
        ));
    }
    let spreads: Vec<f64> = nights.iter().map(|n| n.top_a - n.floor_a).collect();
    let cycle_seen = median(&spreads).is_some_and(|s| s >= CYCLE_SEEN * allowed.cycles_a)
        && allowed.cycles_a > 0.0;
    let hidden = if cycle_seen { 0.0 } else { allowed.cycles_a };
    if standby.low <= allowed.night_a + hidden + margin {
        return cannot_tell(
            &format!(
                "the night's use never fell below {} A, but {} may have run without a break: no stop of it is seen in rows {} s apart",
                about(standby.value),
                with_unit(allowed.cycles_a, "A of fridge or the like"),
                about(read.step_s)
            ),
            "one night with the fridge off, or rows a minute apart",
        );
    }
    Outcome::Found(Box::new(finding(
        evidence, nights, standby, lost, &allowed, margin,
    )))
}

fn cannot_tell(why: &str, needs: &str) -> Outcome {
    Outcome::CannotTell {
        text: format!("what runs round the clock: {why}"),
        needs: needs.to_owned(),
    }
}

fn count(nights: usize) -> String {
    match nights {
        1 => "1 night".to_owned(),
        n => format!("{n} nights"),
    }
}

/// The floor over nights: median, its spread from night to night, and the meter's zero error.
fn floor_of(evidence: &Evidence, read: &Nights, nights: &[&Night]) -> Interval {
    let floors: Vec<f64> = nights.iter().map(|n| n.floor_a).collect();
    let n = floors.len() as f64;
    // A median of normal values is 1.2533 times as unsure as their mean.
    let spread = 1.2533 * mad(&floors).unwrap_or(0.0) * t95((n - 1.0).max(1.0)) / n.sqrt();
    let zero = zero::of(evidence);
    let shift = if read.from_bank { zero.value } else { 0.0 };
    let value = (median(&floors).unwrap_or(0.0) + shift).max(0.0);
    let half = spread.hypot(zero.half);
    Interval::new(value, (value - half).max(0.0), value + half)
}

fn allowed(evidence: &Evidence) -> Allowed {
    let design = evidence.design;
    let volts = design.nominal_v();
    let efficiency = design.inverter.as_ref().map_or(1.0, |i| i.efficiency);
    let amps = |load: &crate::design::system::Load| {
        let share = if load.through_inverter {
            efficiency
        } else {
            1.0
        };
        load.power_w * load.quantity / share / volts
    };
    let budget_a = budget(design).standby_a;
    let long_night: f64 = design
        .loads
        .iter()
        .filter(|l| l.when == When::Night && (LONG_NIGHT_H..24.0).contains(&l.hours))
        .map(amps)
        .sum();
    let cycles_a = design
        .loads
        .iter()
        .filter(|l| l.when == When::Always && (CYCLES_H..24.0).contains(&l.hours))
        .map(amps)
        .fold(0.0, f64::max);
    Allowed {
        budget_a,
        night_a: budget_a + long_night + design.judging.standby_own_a / evidence.volts_per_12(),
        cycles_a,
    }
}

fn finding(
    evidence: &Evidence,
    nights: &[&Night],
    standby: Interval,
    lost: Interval,
    allowed: &Allowed,
    margin: f64,
) -> Finding {
    let dates = &evidence.expected.grid.dates;
    let days: Vec<String> = nights.iter().map(|n| dates[n.day].to_string()).collect();
    Finding {
        kind: RULE.kind.to_owned(),
        severity: Severity::Fix,
        confidence: if nights.len() >= 10 { Confidence::High } else { Confidence::Medium },
        r#where: "the loads that are never off".to_owned(),
        from: days.first().cloned(),
        to: days.last().cloned(),
        days,
        lost_wh_per_day: Some(lost),
        part_of: None,
        summary: format!(
            "Something draws {} round the clock, where {} A are planned. That is {} a day more.",
            ranged(&standby, "A"),
            about(allowed.budget_a),
            ranged(&lost, "Wh")
        ),
        evidence: [
            ("standby_a".to_owned(), json!(standby.value)),
            ("budget_a".to_owned(), json!(allowed.budget_a)),
            ("standby_range_a".to_owned(), json!(standby)),
            ("nights".to_owned(), json!(nights.len())),
        ]
        .into(),
        why: vec![
            format!(
                "Between midnight and five, over {}, the current out of the bank fell to {} A and hardly ever below.",
                count(nights.len()),
                about(standby.value)
            ),
            format!(
                "The design lets {} A run then, own use of the meters included; the lower end of the interval is more than {} A above that.",
                about(allowed.night_a),
                about(margin)
            ),
        ],
        also_possible: vec![
            "a load missing from the design: the inverter left on is the usual one".to_owned(),
            "a bank meter that does not read zero at rest".to_owned(),
            "a fridge that never stops, in great heat or with its vents blocked".to_owned(),
        ],
        next_check: NextCheck {
            tool: "a clamp meter that reads 10 mA".to_owned(),
            r#where: "round the bank's negative lead in the evening, everything switched off; then pull one fuse after the other".to_owned(),
            healthy: format!("{} A or less with everything off", about(allowed.night_a)),
            faulty: "more, until one fuse is pulled: that circuit owns the draw".to_owned(),
            then: "switch it off for good, or write it into the design's loads with 24 hours".to_owned(),
            caution: "Switch solar, shore and engine charging off first, then the loads. A multimeter's current jack bears about 10 A: start no engine, inverter or pump through it. On a petrol boat run the blower first. Keep bilge pump and gas alarm powered unless someone watches.".to_owned(),
        },
        chart: Some("charts/night.svg".to_owned()),
    }
}
