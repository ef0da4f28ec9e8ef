//! Lithium charged below freezing: plates metal inside the cells.

use serde_json::json;

use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::words::about;

pub(super) const RULE: Rule = Rule {
    kind: "cold-charge",
    area: Limiting::Battery,
    meaning: "A lithium bank took charge while its cells were colder than they may be. That plates metal inside: capacity is lost for good and a cell can short.",
    decided: "Charge current above 2 % of capacity for more than 5 minutes while the logged battery temperature is below the limit (0 C unless the design says otherwise). Air temperature is never taken for it.",
    limits: "The sensor may sit outside the cells.",
    cause: cause::without_cost,
    follows_from: &[],
    look,
};

fn look(evidence: &Evidence) -> Outcome {
    let battery = &evidence.design.battery;
    if battery.chemistry.is_lead() {
        return Outcome::NotApplicable;
    }
    let signals = &evidence.expected.signals;
    let (Some(cells), Some(amps)) = (&signals.bank_c, &signals.bank_a) else {
        return Outcome::CannotTell {
            text: "whether this lithium bank was charged below freezing: its own temperature was not logged with its current".to_owned(),
            needs: "the bank's temperature, at the cells, in the log; until then don't charge when the bank may be below 0 C".to_owned(),
        };
    };
    let grid = &evidence.expected.grid;
    let mut minutes = 0.0;
    let mut lowest = f64::INFINITY;
    let mut days = Vec::new();
    for m in 0..grid.moments {
        let (Some(c), Some(a)) = (cells.mean(m), amps.mean(m)) else {
            continue;
        };
        if c < battery.charge_from_c && a > evidence.design.judging.charging_c * battery.capacity_ah
        {
            minutes += amps.covered_s[m] / 60.0;
            lowest = lowest.min(c);
            days.push(grid.dates[grid.day_of(m)].to_string());
        }
    }
    days.dedup();
    if minutes <= evidence.design.judging.charged_beyond_s / 60.0 {
        return Outcome::Fine(format!(
            "never charged below {} C",
            about(battery.charge_from_c)
        ));
    }
    Outcome::Found(Box::new(Finding {
        kind: RULE.kind.to_owned(),
        severity: Severity::Stop,
        confidence: Confidence::High,
        r#where: "the bank".to_owned(),
        from: days.first().cloned(),
        to: days.last().cloned(),
        days,
        lost_wh_per_day: None,
        part_of: None,
        summary: format!(
            "The lithium bank was charged for {} minutes while it was colder than {} C, down to {} C. Stop charging it in the cold.",
            about(minutes),
            about(battery.charge_from_c),
            about(lowest)
        ),
        evidence: [
            ("charged_min".to_owned(), json!(minutes)),
            ("lowest_c".to_owned(), json!(lowest)),
        ]
        .into(),
        why: vec![format!(
            "Minutes with more than {} A into the bank and a logged battery temperature below the limit.",
            about(evidence.design.judging.charging_c * battery.capacity_ah)
        )],
        also_possible: vec!["a sensor that reads too cold, or sits away from the cells".to_owned()],
        next_check: NextCheck {
            tool: "a thermometer".to_owned(),
            r#where: "on the cells or the case, before sunrise".to_owned(),
            healthy: "above freezing, or the pack refuses charge by itself".to_owned(),
            faulty: "below freezing and current flowing in".to_owned(),
            then: "keep charging off below the maker's limit: set the low-temperature stop, or warm and insulate the bank".to_owned(),
            caution: "Never bypass a pack's cold protection. A bank charged frozen can short inside later: have it looked at by someone qualified, and keep it where a fire would be noticed.".to_owned(),
        },
        chart: None,
    }))
}
