//! Two meters of one quantity say different things.

use serde_json::json;

use crate::account::agreement::{Comparison, compare_all};
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};

pub(super) const RULE: Rule = Rule {
    kind: "logs-disagree",
    area: Limiting::Log,
    meaning: "Two meters show the same thing and do not agree. One of them is set or wired wrongly, and energies, losses and state of charge that rest on it are wrong by as much.",
    decided: "Compared are: currents that two logs hold of one place; the bank's current with charging less loads, where the loads have a meter; power out of the controller with power into it; the swings of the bank's current with those of the controller's when clouds pass; charge out of the bank by night with the loads' meter; an energy counter with power added up. Found where the whole 90 % range of the ratio lies beyond what two meters of 3 % each allow, and beyond what differs by nature (a controller's own use, loads that no meter shows).",
    limits: "Says that two meters disagree, never which is wrong. Needs two figures of one quantity over at least three days; the bank's current and the controller's alone do only where clouds swing both, and rows stand minutes apart at most. Loads wired past a shunt look the same and are named as a possibility.",
    cause: cause::none,
    follows_from: &["clock-off"],
    look,
};

/// A ratio says that meters agree when half its range is no more than this share of it.
const TELLING: f64 = 0.10;

fn look(evidence: &Evidence) -> Outcome {
    let gains = evidence.design.judging.meters_gain;
    let compared = compare_all(evidence.design, evidence.timeline, evidence.expected);
    let worst = compared
        .iter()
        .filter(|c| c.past(gains) > 1.0)
        .max_by(|a, b| a.past(gains).total_cmp(&b.past(gains)));
    if let Some(worst) = worst {
        return Outcome::Found(Box::new(finding(evidence, worst)));
    }
    let told: Vec<&Comparison> = compared
        .iter()
        .filter(|c| c.ratio.half_width() <= TELLING * c.ratio.value)
        .collect();
    if told.is_empty() {
        return Outcome::CannotTell {
            text: "whether the meters agree: no quantity shows clearly in two of them".to_owned(),
            needs: "the loads' current beside the bank's and the controller's for three days, or a clamp meter held beside each meter".to_owned(),
        };
    }
    let seen: Vec<String> = told
        .iter()
        .map(|c| {
            format!(
                "{}: {:.2} ({:.2} to {:.2})",
                c.what, c.ratio.value, c.ratio.low, c.ratio.high
            )
        })
        .collect();
    Outcome::Fine(seen.join("; "))
}

fn finding(evidence: &Evidence, compared: &Comparison) -> Finding {
    let ratio = compared.ratio;
    let gains = evidence.design.judging.meters_gain;
    let dates: Vec<String> = compared
        .days
        .iter()
        .filter_map(|d| evidence.expected.grid.dates.get(*d))
        .map(ToString::to_string)
        .collect();
    Finding {
        kind: RULE.kind.to_owned(),
        // Twice what the meters' gains allow makes every energy here doubtful.
        severity: if compared.past(2.0 * gains) > 1.0 { Severity::Fix } else { Severity::Watch },
        confidence: Confidence::Medium,
        r#where: compared.what.clone(),
        from: dates.first().cloned(),
        to: dates.last().cloned(),
        days: dates,
        lost_wh_per_day: None,
        part_of: None,
        summary: format!(
            "Two meters disagree: {} is {:.2} ({:.2} to {:.2}).",
            compared.what, ratio.value, ratio.low, ratio.high
        ),
        evidence: [
            ("ratio".to_owned(), json!(ratio.value)),
            ("ratio_range".to_owned(), json!(ratio)),
            ("what".to_owned(), json!(compared.what)),
        ]
        .into(),
        why: vec![
            compared.how.clone(),
            format!(
                "Two meters of 3 % each may differ by {:.0} %; right ratios are {} with that taken off.",
                100.0 * gains,
                rightly(compared.expected)
            ),
        ],
        also_possible: compared.also_possible.clone(),
        next_check: NextCheck {
            tool: "a DC clamp meter".to_owned(),
            r#where: "round the cable beside each of the two meters in turn, in steady sun or with one steady load; zero the clamp first".to_owned(),
            healthy: "clamp and meter within 5 %, both times".to_owned(),
            faulty: "one of the two differs from the clamp by about what the ratio says".to_owned(),
            then: "set that meter's shunt rating or gain right, or move what is wired past it to its other side".to_owned(),
            caution: "A clamp breaks no circuit. Before moving any wire at a shunt: array off, loads off, fuse at the bank out; a spanner across the posts welds and burns. Local code and a licensed practitioner come first.".to_owned(),
        },
        chart: None,
    }
}

fn rightly(expected: (f64, f64)) -> String {
    match expected {
        (low, high) if high.is_infinite() => format!("{low:.2} or more"),
        (low, high) if low <= 0.0 => format!("{high:.2} or less"),
        (low, high) if (low - high).abs() < 1e-9 => format!("{low:.2}"),
        (low, high) => format!("{low:.2} to {high:.2}"),
    }
}
