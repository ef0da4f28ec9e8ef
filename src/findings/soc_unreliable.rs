//! The meter's own state of charge said full when the bank was not, or strayed from the charge counted.

use serde_json::json;

use crate::account::charge::full_above_v;
use crate::account::meter::{self, Drift, Promise};
use crate::expect::{Folded, STEP_S};
use crate::findings::battery_resistance_high::measured_mohm;
use crate::findings::capacity_low;
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::quantity::Interval;
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::words::{about, days, ranged};

pub(super) const RULE: Rule = Rule {
    kind: "soc-unreliable",
    area: Limiting::Settings,
    meaning: "The meter's percentage does not follow the charge in the bank: it set itself to 100 % although the bank was not full, or it reckons with a wrong capacity, or it strayed. The bank may be emptier than it says.",
    decided: "False full: the meter's figure jumps to 100 % by more than 3 points beyond what the counted charge explains, while within two hours before and after no full charge is confirmed: the bank's voltage was below the full mark, or its current above the full current. Wrong capacity: in stretches without charging, the charge drawn over the points the figure fell gives the capacity the meter reckons with; its 90 % interval lies more than 20 % beside the design's. Promised too much: at a low point whose voltage tells what is left (lithium past its knee, lead at rest) the figure lies more than 10 points above the most that the voltage allows. Strayed: for at least an hour the figure lies more than 10 points beyond the error of the charge counted since the last true full charge.",
    limits: "Without a true full charge in the log only the jumps and the capacity can be told. The counted charge comes from the same current as the meter's: an error of the current itself shows in neither. A figure that never moves is no figure.",
    cause: cause::without_cost,
    follows_from: &["capacity-low", "current-offset", "charge-loss-high"],
    look,
};

/// Points by which a meter must be wrong to be worth a job: less is what the best of them stray in a few weeks.
const WORTH_POINTS: f64 = 10.0;

fn look(evidence: &Evidence) -> Outcome {
    let signals = &evidence.expected.signals;
    let (Some(soc), Some(amps), Some(volts)) = (&signals.soc, &signals.bank_a, &signals.bank_v)
    else {
        return Outcome::CannotTell {
            text: "whether the meter's percentage can be trusted: it was not logged beside the bank's own current".to_owned(),
            needs: "the bank monitor's state of charge, current and voltage in one log".to_owned(),
        };
    };
    if meter::stuck(evidence.design, soc, amps) {
        return Outcome::CannotTell {
            text: "whether the meter's percentage can be trusted: the logged figure never moves although charge was drawn".to_owned(),
            needs: "a look at the meter itself: where its own display moves, the log is at fault".to_owned(),
        };
    }
    let jumps = jumps(evidence, soc, amps, volts);
    let strayed = strayed(evidence);
    if jumps.false_full.is_empty() && strayed.is_none() {
        return Outcome::Fine(format!(
            "the meter came to 100 % {} times, never by an unexplained jump away from a full charge{}",
            jumps.arrivals,
            match meter::drift(evidence.expected, &evidence.accounts.charge) {
                Some(d) => format!(
                    "; it lay within {} points of the charge counted",
                    about(d.points.abs().max(d.error_points))
                ),
                None => String::new(),
            }
        ));
    }
    Outcome::Found(Box::new(finding(evidence, &jumps, strayed)))
}

/// Arrivals at 100 % and those of them that no charge explains.
struct Jumps {
    false_full: Vec<usize>,
    worst: f64,
    arrivals: usize,
}

fn jumps(evidence: &Evidence, soc: &Folded, amps: &Folded, volts: &Folded) -> Jumps {
    let grid = &evidence.expected.grid;
    let capacity = evidence.design.battery.capacity_ah.max(0.1);
    let mut found = Jumps {
        false_full: Vec::new(),
        worst: 0.0,
        arrivals: 0,
    };
    for m in 1..grid.moments {
        let (Some(before), true) = (soc.mean(m - 1), soc.high(m).is_finite()) else {
            continue;
        };
        if soc.high(m) < 99.5 || before >= 99.5 {
            continue;
        }
        found.arrivals += 1;
        // The first reading of the moment may already be the new figure: the step before counts too.
        let counted = 100.0 * (amps.net(m) + amps.net(m - 1)).max(0.0) / capacity;
        let jump = soc.high(m) - soc.low(m - 1) - counted;
        let full_v = full_above_v(evidence.design, evidence.expected, grid.time_of(m));
        let near_full = volts.mean(m).is_some_and(|v| v >= full_v);
        if jump > evidence.design.judging.soc_jump_pct && !near_full && !confirmed_near(evidence, m)
        {
            found.false_full.push(m);
            found.worst = found.worst.max(jump);
        }
    }
    found
}

/// What the meter strayed by, what it promised at a low point, and the capacity it reckons with where that
/// is why.
struct Strayed {
    drift: Option<Drift>,
    promise: Option<Promise>,
    set_capacity_ah: Option<Interval>,
}

fn strayed(evidence: &Evidence) -> Option<Strayed> {
    let judging = &evidence.design.judging;
    let drift = meter::drift(evidence.expected, &evidence.accounts.charge)
        .filter(|d| d.points.abs() - d.error_points > judging.soc_drift_pct);
    let rated = evidence.design.battery.capacity_ah;
    let set_capacity_ah = meter::set_capacity_ah(evidence.expected).filter(|set| {
        set.high < rated * (1.0 - judging.soc_capacity_share)
            || set.low > rated / (1.0 - judging.soc_capacity_share)
    });
    let promise = meter::promised(
        evidence.design,
        evidence.expected,
        measured_mohm(evidence),
        judging.soc_drift_pct,
    );
    let any = drift.is_some() || promise.is_some() || set_capacity_ah.is_some();
    any.then_some(Strayed {
        drift,
        promise,
        set_capacity_ah,
    })
}

/// Whether this rule finds something, for rules that would go by the meter's figure.
pub(super) fn is_found(evidence: &Evidence) -> bool {
    matches!(look(evidence), Outcome::Found(_))
}

fn confirmed_near(evidence: &Evidence, moment: usize) -> bool {
    let at = evidence.expected.grid.time_of(moment);
    evidence
        .accounts
        .charge
        .fulls
        .iter()
        .any(|full| (full - at).abs() <= 2 * 3600 + STEP_S)
}

/// The meter's worst error, points: the largest false jump, else the drift, else what a wrong capacity
/// makes of the deepest draw counted.
fn worst_error(evidence: &Evidence, jumps: &Jumps, strayed: Option<&Strayed>) -> f64 {
    if !jumps.false_full.is_empty() {
        return jumps.worst;
    }
    let Some(strayed) = strayed else {
        return 0.0;
    };
    let drift = strayed.drift.map(|d| d.points.abs());
    let promise = strayed.promise.map(|p| p.meter_pct - p.left_pct);
    if let Some(worst) = drift.into_iter().chain(promise).reduce(f64::max) {
        return worst;
    }
    let soc = evidence.expected.signals.soc.as_ref();
    let lowest = soc
        .into_iter()
        .flat_map(|s| s.min.iter().map(|v| f64::from(*v)))
        .filter(|v| v.is_finite())
        .fold(100.0, f64::min);
    let rated = evidence.design.battery.capacity_ah.max(0.1);
    strayed.set_capacity_ah.map_or(0.0, |set| {
        (100.0 - lowest) * (1.0 - set.value / rated).abs()
    })
}

fn summary(evidence: &Evidence, jumps: &Jumps, strayed: Option<&Strayed>, on: usize) -> String {
    let mut told = Vec::new();
    if !jumps.false_full.is_empty() {
        told.push(format!(
            "On {} the meter jumped to 100 % although the bank was not full, at worst by {} points that no charge explains. The bank is emptier than the meter says.",
            days(on),
            about(jumps.worst)
        ));
    }
    if let Some(set) = strayed.and_then(|s| s.set_capacity_ah) {
        told.push(format!(
            "The meter reckons with a bank of {}, the design says {} Ah.",
            ranged(&set, "Ah"),
            about(evidence.design.battery.capacity_ah)
        ));
    }
    if let Some(drift) = strayed.and_then(|s| s.drift) {
        told.push(format!(
            "Its percentage strayed {} points {} the charge counted since the last full charge, which is good to {}.",
            about(drift.points.abs()),
            if drift.points > 0.0 { "above" } else { "below" },
            about(drift.error_points)
        ));
    }
    if let Some(promise) = strayed.and_then(|s| s.promise) {
        told.push(format!(
            "On {} the meter promised too much of a bank that was low: at worst {} % at {:.2} V, where the voltage allows {} % at the most.",
            days(promise.days),
            about(promise.meter_pct),
            promise.volts,
            about(promise.most_pct)
        ));
    }
    told.join(" ")
}

fn reasons(evidence: &Evidence, jumps: &Jumps, strayed: Option<&Strayed>) -> Vec<String> {
    let judging = &evidence.design.judging;
    let mut why = Vec::new();
    if !jumps.false_full.is_empty() {
        why.push(format!(
            "{} of {} arrivals at 100 % came by a jump of more than {} points with the bank's voltage below the full mark or its current above {} A.",
            jumps.false_full.len(),
            jumps.arrivals,
            about(judging.soc_jump_pct),
            about(evidence.design.battery.full_current_a)
        ));
    }
    if strayed.is_some_and(|s| s.set_capacity_ah.is_some()) {
        why.push(format!(
            "In stretches without charging, the Ah drawn divided by the points the figure fell; the whole interval is more than {:.0} % beside the design's capacity.",
            100.0 * judging.soc_capacity_share
        ));
    }
    if let Some(drift) = strayed.and_then(|s| s.drift) {
        why.push(format!(
            "At {} the meter's figure differed from the counted one by {} points, for at least an hour; the count's own error and {} points are less.",
            evidence.calendar.rfc3339(evidence.expected.grid.time_of(drift.moment)),
            about(drift.points.abs()),
            about(judging.soc_drift_pct)
        ));
    }
    if let Some(promise) = strayed.and_then(|s| s.promise) {
        why.push(format!(
            "At {} the bank stood at {:.2} V, low enough to tell what is left: about {} %, at the most {} %. The meter said {} %.",
            evidence.calendar.rfc3339(evidence.expected.grid.time_of(promise.moment)),
            promise.volts,
            about(promise.left_pct),
            about(promise.most_pct),
            about(promise.meter_pct)
        ));
    }
    why
}

fn finding(evidence: &Evidence, jumps: &Jumps, strayed: Option<Strayed>) -> Finding {
    let grid = &evidence.expected.grid;
    let moments = jumps
        .false_full
        .iter()
        .copied()
        .chain(strayed.as_ref().and_then(|s| s.drift).map(|d| d.moment))
        .chain(strayed.as_ref().and_then(|s| s.promise).map(|p| p.moment));
    let mut on: Vec<String> = moments
        .map(|m| grid.dates[grid.day_of(m)].to_string())
        .collect();
    on.sort();
    on.dedup();
    let mut jumped: Vec<usize> = jumps.false_full.iter().map(|m| grid.day_of(*m)).collect();
    jumped.dedup();
    let full_a = evidence.design.battery.full_current_a;
    // Once can be a hand on the meter's button; twice is a setting, and so is a capacity.
    let sure = jumps.false_full.len() >= 2
        || strayed
            .as_ref()
            .is_some_and(|s| s.set_capacity_ah.is_some());
    // A few points are no job.
    let worth = worst_error(evidence, jumps, strayed.as_ref()) >= WORTH_POINTS;
    let set = strayed.as_ref().and_then(|s| s.set_capacity_ah);
    let mut shown = vec![
        (
            "worst_error_pct".to_owned(),
            json!(worst_error(evidence, jumps, strayed.as_ref())),
        ),
        (
            "false_full".to_owned(),
            json!(
                jumps
                    .false_full
                    .iter()
                    .map(|m| evidence.calendar.rfc3339(grid.time_of(*m)))
                    .collect::<Vec<_>>()
            ),
        ),
    ];
    shown.extend(set.map(|set| ("set_capacity_ah".to_owned(), json!(set))));
    Finding {
        kind: RULE.kind.to_owned(),
        severity: if sure && worth {
            Severity::Fix
        } else {
            Severity::Watch
        },
        confidence: if sure { Confidence::High } else { Confidence::Low },
        r#where: "the bank monitor's settings".to_owned(),
        from: on.first().cloned(),
        to: on.last().cloned(),
        days: on,
        lost_wh_per_day: None,
        part_of: None,
        summary: summary(evidence, jumps, strayed.as_ref(), jumped.len()),
        evidence: shown.into_iter().collect(),
        why: reasons(evidence, jumps, strayed.as_ref()),
        also_possible: vec![
            "somebody set the meter to 100 % by hand".to_owned(),
            "a bank that is not the size the design says".to_owned(),
        ],
        next_check: NextCheck {
            tool: "the bank monitor's settings".to_owned(),
            r#where: "its capacity, its charge efficiency, the voltage and the current at which it calls the bank full, and for how long".to_owned(),
            healthy: format!(
                "{} Ah; full only at {:.1} V or more, below {} A, for at least {} minutes",
                about(capacity_low::held_ah(evidence).unwrap_or(evidence.design.battery.capacity_ah)),
                evidence.expected.absorption_v - 0.25 * evidence.volts_per_12(),
                about(full_a),
                about(crate::physics::bank::full_hold_min(evidence.design.battery.chemistry))
            ),
            faulty: "another capacity, a lower voltage, a larger current or a shorter time".to_owned(),
            then: "set them, then charge once until really full and let it set itself there".to_owned(),
            caution: if evidence.design.battery.chemistry.is_lead() {
                "Until then believe the voltage at rest rather than the percentage. Do not take lead to a dead stop: keep a light and the bilge pump supplied from elsewhere."
            } else {
                "Until then believe the voltage under a light load rather than the percentage. Lithium cuts off without warning: keep a light and the bilge pump supplied from elsewhere."
            }
            .to_owned(),
        },
        chart: Some("charts/charge.svg".to_owned()),
    }
}
