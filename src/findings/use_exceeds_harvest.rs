//! The loads took more than all sources brought, though the array did what it should.

use serde_json::json;

use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::quantity::Interval;
use crate::report::model::{Confidence, Day, DayState, Finding, Limiting, NextCheck, Severity};
use crate::stats::student;
use crate::words::{about, days, ranged};

pub(super) const RULE: Rule = Rule {
    kind: "use-exceeds-harvest",
    area: Limiting::Use,
    meaning: "More was used than came in: the bank made up the difference and ran down, day after day.",
    decided: "Load minus harvest minus other charging, a mean over days with both sides logged. Found when the lower end of its 90 % interval over days is above the smallest loss worth a job, on at least 4 days.",
    limits: "Loads wired past the shunt do not show. A few days are a sample: a different week differs.",
    cause: cause::none,
    follows_from: &[
        "array-part-out",
        "array-dark",
        "array-weak",
        "shade-repeating",
        "harvest-short",
        "controller-limiting",
        "load-over-budget",
        "standby-high",
    ],
    look,
};

fn look(evidence: &Evidence) -> Outcome {
    let deficits: Vec<(f64, &Day)> = evidence
        .accounts
        .days
        .iter()
        .filter(|d| d.state != DayState::Unmeasured && d.coverage > 0.9)
        .filter_map(|d| {
            Some((
                d.load_wh? - d.harvest_wh? - d.other_charge_wh.unwrap_or(0.0),
                d,
            ))
        })
        .collect();
    if (deficits.len() as f64) < evidence.design.judging.use_days {
        return Outcome::CannotTell {
            text: format!(
                "whether use and harvest balance: only {} with both sides logged throughout",
                days(deficits.len())
            ),
            needs: "at least 4 whole days with the bank's current and the controller's output"
                .to_owned(),
        };
    }
    let n = deficits.len() as f64;
    let mean = deficits.iter().map(|d| d.0).sum::<f64>() / n;
    let sd = (deficits.iter().map(|d| (d.0 - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    let half = student::t95(n - 1.0) * sd / n.sqrt();
    let deficit = Interval::new(mean, mean - half, mean + half);
    if deficit.low <= evidence.accounts.yardsticks.worth_a_job_wh {
        return Outcome::Fine(format!(
            "load minus all charging was {} a day",
            ranged(&deficit, "Wh")
        ));
    }
    Outcome::Found(Box::new(finding(&deficits, deficit)))
}

fn finding(deficits: &[(f64, &Day)], deficit: Interval) -> Finding {
    let n = deficits.len() as f64;
    let mean =
        |pick: fn(&Day) -> Option<f64>| deficits.iter().filter_map(|d| pick(d.1)).sum::<f64>() / n;
    Finding {
        kind: RULE.kind.to_owned(),
        severity: Severity::Watch,
        confidence: if deficits.len() >= 10 { Confidence::High } else { Confidence::Medium },
        r#where: "the loads against all charging".to_owned(),
        from: deficits.first().map(|d| d.1.date.clone()),
        to: deficits.last().map(|d| d.1.date.clone()),
        days: deficits.iter().map(|d| d.1.date.clone()).collect(),
        lost_wh_per_day: Some(deficit),
        part_of: None,
        summary: format!(
            "The loads took about {} Wh a day and {} Wh came in: {} a day had to come out of the bank.",
            about(mean(|d| d.load_wh)),
            about(mean(|d| d.harvest_wh) + mean(|d| d.other_charge_wh)),
            ranged(&deficit, "Wh")
        ),
        evidence: [("deficit_wh_per_day".to_owned(), json!(deficit))].into(),
        why: vec![format!(
            "Mean of {} with both sides logged; the interval is the spread from day to day.",
            days(deficits.len())
        )],
        also_possible: vec![
            "harvest that fell short for another reason: see the other findings first".to_owned(),
            "a shunt that reads discharge too high".to_owned(),
        ],
        next_check: NextCheck {
            tool: "a clamp meter with 10 mA resolution".to_owned(),
            r#where: "round each circuit's conductor in turn, at the fuse board, once by day and once by night".to_owned(),
            healthy: "the sum of the circuits matches the load budget within 10 %".to_owned(),
            faulty: "one circuit takes clearly more, or takes something when its load is off".to_owned(),
            then: "switch off, shift to midday or replace the largest; write the list into the design's loads".to_owned(),
            caution: "Never start an engine, inverter or pump through a multimeter's current jack. Keep bilge pump and gas alarm powered.".to_owned(),
        },
        chart: Some("charts/charge.svg".to_owned()),
    }
}
