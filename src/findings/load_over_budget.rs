//! More was used than the load budget allows for.

use serde_json::json;

use crate::design::budget::budget;
use crate::findings::{Evidence, Outcome, Rule, cause, zero};
use crate::quantity::{How, Interval};
use crate::report::model::{Confidence, DayState, Finding, Limiting, NextCheck, Severity};
use crate::stats::student;
use crate::words::{about, days, ranged};

pub(super) const RULE: Rule = Rule {
    kind: "load-over-budget",
    area: Limiting::Use,
    meaning: "The loads take more than the design planned for. The array may be right for the plan and still too small for the use.",
    decided: "Mean load a day over whole days, with the spread from day to day as its interval. Found when its lower end is above the budget and 10 % on top, on at least 4 days, by more than the smallest loss worth a job.",
    limits: "Loads wired past the shunt do not show; a budget with lines missing makes everything look too much.",
    cause: cause::by_loss,
    follows_from: &["standby-high"],
    look,
};

/// Loads of a day, Wh, without what the zero error of the bank's ammeter adds to those reckoned from it.
fn without_zero_error(evidence: &Evidence, load: &Interval) -> Interval {
    let reckoned = evidence.accounts.loads.load_how == How::Inferred;
    let Some(offset) = zero::beyond_doubt(evidence).filter(|o| reckoned && o.value < 0.0) else {
        return *load;
    };
    let a_day = 24.0 * evidence.design.nominal_v();
    Interval::new(
        load.value + offset.value * a_day,
        load.low + offset.low * a_day,
        load.high + offset.high * a_day,
    )
}

/// How far loads may lie below and above their figure where the bank alone was logged, which shows those of the
/// day only beside the sun, shares of it.
fn unseen_by_day(evidence: &Evidence) -> [f64; 2] {
    let bank = &evidence.accounts.account.bank;
    let loads = bank.iter().find(|e| e.name == "loads" && e.wh > 0.0);
    match loads.filter(|_| evidence.accounts.attribution.estimated) {
        Some(loads) => [1.0 - loads.low / loads.wh, loads.high / loads.wh - 1.0],
        None => [0.0, 0.0],
    }
}

fn look(evidence: &Evidence) -> Outcome {
    let planned = budget(evidence.design).total_wh;
    let loads: Vec<(f64, &str)> = evidence
        .accounts
        .days
        .iter()
        .filter(|d| d.state != DayState::Unmeasured && d.coverage > 0.9)
        .filter_map(|d| Some((d.load_wh?, d.date.as_str())))
        .collect();
    if planned <= 0.0 {
        return Outcome::CannotTell {
            text: "whether the use was as planned: the design has no load budget".to_owned(),
            needs: "the loads in the design, each with its watts and hours a day".to_owned(),
        };
    }
    if (loads.len() as f64) < evidence.design.judging.use_days {
        return Outcome::CannotTell {
            text: format!(
                "whether the use was as planned: only {} with loads logged throughout",
                days(loads.len())
            ),
            needs: "at least 4 whole days with the bank's current and the controller's output"
                .to_owned(),
        };
    }
    let n = loads.len() as f64;
    let mean = loads.iter().map(|l| l.0).sum::<f64>() / n;
    let sd = (loads.iter().map(|l| (l.0 - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
    let half = student::t95(n - 1.0) * sd / n.sqrt();
    let [less, more] = unseen_by_day(evidence);
    let load = Interval::new(
        mean,
        mean - half.hypot(less * mean),
        mean + half.hypot(more * mean),
    );
    let real = without_zero_error(evidence, &load);
    let over = real.low > planned * (1.0 + evidence.design.judging.budget_slack)
        && real.value - planned > evidence.accounts.yardsticks.worth_a_job_wh;
    if !over && real != load {
        return Outcome::Fine(format!(
            "the loads took {} a day against a budget of {} Wh, but the bank's ammeter counts about {} Wh a day that nothing took",
            ranged(&load, "Wh"),
            about(planned),
            about(load.value - real.value)
        ));
    }
    if !over {
        return Outcome::Fine(format!(
            "the loads took {} a day against a budget of {} Wh",
            ranged(&load, "Wh"),
            about(planned)
        ));
    }
    Outcome::Found(Box::new(Finding {
        kind: RULE.kind.to_owned(),
        severity: Severity::Fix,
        confidence: if loads.len() >= 10 { Confidence::High } else { Confidence::Medium },
        r#where: "the loads".to_owned(),
        from: loads.first().map(|l| l.1.to_owned()),
        to: loads.last().map(|l| l.1.to_owned()),
        days: loads.iter().map(|l| l.1.to_owned()).collect(),
        lost_wh_per_day: Some(Interval::new(
            real.value - planned,
            real.low - planned,
            real.high - planned,
        )),
        part_of: None,
        summary: format!(
            "The loads took {} a day where {} Wh were planned.",
            ranged(&load, "Wh"),
            about(planned)
        ),
        evidence: [
            ("load_wh".to_owned(), json!(load.value)),
            ("budget_wh".to_owned(), json!(planned)),
        ]
        .into(),
        why: vec![format!(
            "Mean of {}; the lower end of its interval is above the budget and 10 % on top.",
            days(loads.len())
        )],
        also_possible: vec![
            "a load missing from the budget: the inverter's idle draw is the usual one".to_owned(),
            "a shunt that reads discharge too high".to_owned(),
        ],
        next_check: NextCheck {
            tool: "a clamp meter with 10 mA resolution".to_owned(),
            r#where: "round each circuit's conductor in turn, at the fuse board, once by day and once late in the evening".to_owned(),
            healthy: "each circuit at its line in the budget, and nothing where everything is off".to_owned(),
            faulty: "one circuit well above its line, or drawing while its load is off".to_owned(),
            then: "switch off, move to midday or replace the largest; bring the budget up to date".to_owned(),
            caution: "Never start an engine, inverter or pump through a multimeter's current jack. Keep bilge pump and gas alarm powered.".to_owned(),
        },
        chart: Some("charts/load.svg".to_owned()),
    }))
}
