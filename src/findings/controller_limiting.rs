//! The controller stood at its own current limit while the sky offered more.

use serde_json::json;

use crate::expect::Regime;
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::quantity::Interval;
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::words::{about, days, ranged};

pub(super) const RULE: Rule = Rule {
    kind: "controller-limiting",
    area: Limiting::Settings,
    meaning: "The controller gave no more than one fixed current although the sun offered more and the bank was below its set point. That may be its rating, or a limit set too low.",
    decided: "The charging current stands within 2 % of its highest value, flat, on at least three days and for an hour and a half in all, or within 2 % of the rating in the design. Found when the energy lost to it is above the smallest loss worth a job.",
    limits: "A larger array than the controller is often meant that way: what it takes counts in the verdict only where the bank is seldom full.",
    cause: takes,
    follows_from: &[],
    look,
};

/// A limit set too low is a fault, whatever it takes. A controller at its rating was meant that way, and
/// limits only where the bank is seldom full for it.
fn takes(evidence: &Evidence, finding: &Finding) -> Option<cause::Cause> {
    let at_rating = finding.severity > Severity::Fix;
    let full = &evidence.accounts.charge.full_days;
    let often_full = 2 * full.iter().filter(|f| **f).count() >= full.len();
    let sure = finding
        .lost_wh_per_day
        .is_some_and(|lost| lost.low > evidence.accounts.yardsticks.worth_a_job_wh);
    if !at_rating {
        return cause::by_loss(evidence, finding);
    }
    (sure && !often_full).then(|| cause::Cause {
        wh_per_day: finding.lost_wh_per_day.map_or(0.0, |lost| lost.value),
        clause: cause::clause_of(finding),
    })
}

fn look(evidence: &Evidence) -> Outcome {
    let grid = &evidence.expected.grid;
    if evidence.expected.signals.charge_a.is_none() {
        return Outcome::CannotTell {
            text: "whether the controller stood at its limit: its current was not logged"
                .to_owned(),
            needs: "the controller's output current in the log".to_owned(),
        };
    }
    // What a limit keeps from a bank that is full no mending brings back.
    let wanted = |m: usize| match evidence.expected.regimes[m] {
        Regime::Held => Interval::exact(0.0),
        _ => evidence.accounts.attribution.limit[m],
    };
    let part =
        |pick: fn(&Interval) -> f64| -> f64 { (0..grid.moments).map(|m| pick(&wanted(m))).sum() };
    let lost = Interval::new(part(|i| i.value), part(|i| i.low), part(|i| i.high));
    let judged = evidence.mean_over_judged(|m| Some(wanted(m)));
    // Just the days at the limit are the ones that cannot be settled.
    let readable = evidence.readable().count().max(1) as f64;
    let read = lost.scale(1.0 / readable);
    let per_day = if read.value > judged.value {
        read
    } else {
        judged
    };
    if per_day.value <= evidence.accounts.yardsticks.worth_a_job_wh {
        return Outcome::Fine(format!(
            "the controller's limit took about {} Wh a day",
            about(per_day.value)
        ));
    }
    let stood = stood(evidence);
    let (set_low, limit, rated) = (stood.is_set_low(), stood.limit_a, stood.rated);
    let at = stood.moments.iter();
    let mut on: Vec<String> = at
        .map(|m| grid.dates[grid.day_of(*m)].to_string())
        .collect();
    on.dedup();
    Outcome::Found(Box::new(Finding {
        kind: RULE.kind.to_owned(),
        severity: if set_low { Severity::Fix } else { Severity::Watch },
        confidence: Confidence::High,
        r#where: stood.place(),
        from: on.first().cloned(),
        to: on.last().cloned(),
        days: on.clone(),
        lost_wh_per_day: Some(per_day),
        part_of: None,
        summary: format!(
            "On {} {} stood at {} A while the sky offered more: {} a day not harvested.{}",
            days(on.len()),
            stood.subject(),
            about(limit),
            ranged(&per_day, "Wh"),
            if set_low {
                rated.map_or(String::new(), |r| format!(" Its rating is {} A: the limit is set too low, or it is protecting itself.", about(r)))
            } else {
                String::new()
            }
        ),
        evidence: [
            ("limit_a".to_owned(), json!(limit)),
            ("lost_wh".to_owned(), json!(lost)),
        ]
        .into(),
        why: vec![format!(
            "The current is flat at {} A, starting and ending at different hours, and is never passed.",
            about(limit)
        )],
        also_possible: vec![
            "heat: a hot controller lowers its own limit in the afternoon".to_owned(),
            "a limit that the battery's own electronics asks for".to_owned(),
        ],
        next_check: NextCheck {
            tool: "the controller's settings and its data sheet".to_owned(),
            r#where: "its charge current limit, and the space round its heat sink at noon".to_owned(),
            healthy: "the limit at the rating, or at what the bank and the cable bear if that is less".to_owned(),
            faulty: "a lower limit, or a heat sink without air".to_owned(),
            then: "raise the limit to the smallest of rating, cable, fuse and bank, and give it air".to_owned(),
            caution: "Never above what cable, fuse and bank are made for: ask the data sheets. Panels stay live; switch the array off before opening the controller.".to_owned(),
        },
        chart: Some("charts/hours.svg".to_owned()),
    }))
}

/// What stood at its limit.
struct Stood {
    /// Its name, where there are several and they were logged apart.
    name: Option<String>,
    limit_a: f64,
    /// By its data sheet, A.
    rated: Option<f64>,
    /// Moments at the limit.
    moments: Vec<usize>,
}

impl Stood {
    fn new(name: Option<String>, limit_a: f64, rated: Option<f64>, regimes: &[Regime]) -> Self {
        let at_limit = |m: &usize| regimes[*m] == Regime::Limited;
        Self {
            name,
            limit_a,
            rated,
            moments: (0..regimes.len()).filter(at_limit).collect(),
        }
    }

    /// Below its rating by more than the meters' error, or below one that nobody knows.
    fn is_set_low(&self) -> bool {
        self.rated.is_none_or(|rated| self.limit_a < 0.9 * rated)
    }

    /// As the subject of a sentence.
    fn subject(&self) -> String {
        match &self.name {
            Some(name) => format!("\"{name}\""),
            None => "the controller".to_owned(),
        }
    }

    fn place(&self) -> String {
        match &self.name {
            Some(name) => format!("the charge controller \"{name}\""),
            None => "the charge controller".to_owned(),
        }
    }
}

/// The controller that stood at its limit: of several that were logged apart one that is set low before one at
/// its rating, and then the one that stood there longest.
fn stood(evidence: &Evidence) -> Stood {
    let Evidence {
        design, expected, ..
    } = evidence;
    let rated = design.controllers.iter().map(|c| c.max_output_a).sum();
    let together = || Stood::new(None, expected.limit_a, rated, &expected.regimes);
    let apart = expected.branches.iter().map(|branch| {
        let controller = &design.controllers[branch.controller];
        let (name, rated) = (controller.name.clone(), controller.max_output_a);
        Stood::new(name, branch.limit_a, rated, &branch.regimes)
    });
    let at_limit = apart.filter(|stood| !stood.moments.is_empty());
    at_limit
        .max_by_key(|stood| (stood.is_set_low(), stood.moments.len()))
        .unwrap_or_else(together)
}
