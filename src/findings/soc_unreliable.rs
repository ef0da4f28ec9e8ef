//! The meter's own state of charge said full when the bank was not.

use serde_json::json;

use crate::account::charge::full_above_v;
use crate::expect::STEP_S;
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::words::{about, days};

pub(super) const RULE: Rule = Rule {
    kind: "soc-unreliable",
    area: Limiting::Settings,
    meaning: "The meter set itself to 100 % although the bank was not full. From then on its percentage is too high, and the bank is emptier than it says.",
    decided: "The meter's figure jumps to 100 % by more than 3 points beyond what the counted charge explains, or stands at 100 % for the first time that day, while within two hours before and after no full charge is confirmed: the bank's voltage was below the full mark, or its current above the full current. A jump of more than 3 points is required, so that an honest arrival at 100 % is none.",
    limits: "What the figure was worth before the first full charge is not known. A meter that drifts without jumping is seen only at its next true full.",
    cause: cause::without_cost,
    follows_from: &[],
    look,
};

fn look(evidence: &Evidence) -> Outcome {
    let signals = &evidence.expected.signals;
    let (Some(soc), Some(amps), Some(volts)) = (&signals.soc, &signals.bank_a, &signals.bank_v)
    else {
        return Outcome::CannotTell {
            text: "whether the meter's percentage can be trusted: it was not logged beside the bank's own current".to_owned(),
            needs: "the bank monitor's state of charge, current and voltage in one log".to_owned(),
        };
    };
    let grid = &evidence.expected.grid;
    let capacity = evidence.design.battery.capacity_ah.max(0.1);
    let mut false_full = Vec::new();
    let (mut worst, mut arrivals) = (0.0f64, 0usize);
    for m in 1..grid.moments {
        let (Some(before), true) = (soc.mean(m - 1), soc.max[m].is_finite()) else {
            continue;
        };
        if soc.max[m] < 99.5 || before >= 99.5 {
            continue;
        }
        arrivals += 1;
        // The first reading of the moment may already be the new figure: the step before counts too.
        let counted = 100.0 * (amps.net(m) + amps.net(m - 1)).max(0.0) / capacity;
        let jump = soc.max[m] - soc.min[m - 1] - counted;
        let full_v = full_above_v(evidence.design, evidence.expected, grid.time_of(m));
        let near_full = volts.mean(m).is_some_and(|v| v >= full_v);
        if jump > evidence.design.judging.soc_jump_pct && !near_full && !confirmed_near(evidence, m)
        {
            false_full.push(m);
            worst = worst.max(jump);
        }
    }
    if false_full.is_empty() {
        return Outcome::Fine(format!(
            "the meter came to 100 % {arrivals} times, never by an unexplained jump away from a full charge"
        ));
    }
    Outcome::Found(Box::new(finding(evidence, &false_full, worst, arrivals)))
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

fn finding(evidence: &Evidence, false_full: &[usize], worst: f64, arrivals: usize) -> Finding {
    let grid = &evidence.expected.grid;
    let mut on: Vec<String> = false_full
        .iter()
        .map(|m| grid.dates[grid.day_of(*m)].to_string())
        .collect();
    on.dedup();
    let full_a = evidence.design.battery.full_current_a;
    Finding {
        kind: RULE.kind.to_owned(),
        // Once can be a hand on the meter's button; twice is a setting.
        severity: if false_full.len() >= 2 { Severity::Fix } else { Severity::Watch },
        confidence: if false_full.len() >= 2 { Confidence::High } else { Confidence::Low },
        r#where: "the bank monitor's settings".to_owned(),
        from: on.first().cloned(),
        to: on.last().cloned(),
        days: on.clone(),
        lost_wh_per_day: None,
        part_of: None,
        summary: format!(
            "On {} the meter jumped to 100 % although the bank was not full, at worst by {} points that no charge explains. The bank is emptier than the meter says.",
            days(on.len()),
            about(worst)
        ),
        evidence: [
            ("worst_error_pct".to_owned(), json!(worst)),
            (
                "false_full".to_owned(),
                json!(
                    false_full
                        .iter()
                        .map(|m| evidence.calendar.rfc3339(grid.time_of(*m)))
                        .collect::<Vec<_>>()
                ),
            ),
        ]
        .into(),
        why: vec![format!(
            "{} of {arrivals} arrivals at 100 % came by a jump of more than {} points with the bank's voltage below the full mark or its current above {} A.",
            false_full.len(),
            about(evidence.design.judging.soc_jump_pct),
            about(full_a)
        )],
        also_possible: vec!["somebody set the meter to 100 % by hand".to_owned()],
        next_check: NextCheck {
            tool: "the bank monitor's settings".to_owned(),
            r#where: "its capacity, the voltage and the current at which it calls the bank full, and for how long".to_owned(),
            healthy: format!(
                "full only at {:.1} V or more, below {} A, for at least {} minutes",
                evidence.expected.absorption_v - 0.25 * evidence.volts_per_12(),
                about(full_a),
                about(crate::physics::bank::full_hold_min(evidence.design.battery.chemistry))
            ),
            faulty: "a lower voltage, a larger current or a shorter time".to_owned(),
            then: "set them, then charge once until really full and let it set itself there".to_owned(),
            caution: "Until then believe the voltage under a light load rather than the percentage. Lithium cuts off without warning: keep a light and the bilge pump supplied from elsewhere.".to_owned(),
        },
        chart: Some("charts/charge.svg".to_owned()),
    }
}
