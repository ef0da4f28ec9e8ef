//! Lithium charged below freezing: plates metal inside the cells.

use serde_json::json;

use crate::account::charging_temperature::{Beyond, Blind, Bound, beyond, season_allows};
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::words::{about, lasting};

pub(super) const RULE: Rule = Rule {
    kind: "cold-charge",
    area: Limiting::Battery,
    meaning: "A lithium bank took charge while its cells were colder than they may be. That plates metal inside: capacity is lost for good and a cell can short.",
    decided: "Charge current above 2 % of capacity for more than 5 minutes while the logged battery temperature is below the limit (0 C unless the design says otherwise). Air temperature is never taken for it: where the bank's own was not logged and the season lets it get that cold (the month's mean air less than 15 C above the limit, or logged air less than 15 C above it), that is said to be unknown.",
    limits: "Needs the bank's own temperature and current. The sensor may sit outside the cells: cells warm and cool more slowly than their case. A temperature that never moves is no reading.",
    cause: cause::without_cost,
    follows_from: &[],
    look,
};

/// From so many minutes on, or on a second day, it is no slip of the sensor.
const SURE_MIN: f64 = 30.0;

fn look(evidence: &Evidence) -> Outcome {
    let battery = &evidence.design.battery;
    if battery.chemistry.is_lead() {
        return Outcome::NotApplicable;
    }
    let bound = Bound::Lowest(battery.charge_from_c);
    let needs = "the bank's temperature, at the cells, in the log with the bank's own current; until then don't charge when the bank may be below its limit".to_owned();
    match beyond(evidence.design, evidence.expected, bound) {
        Err(Blind::NoTemperature) if !season_allows(evidence.design, evidence.expected, bound) => {
            Outcome::NotApplicable
        }
        Err(Blind::NoTemperature) => Outcome::CannotTell {
            text: format!(
                "whether this lithium bank was charged below {} C: its own temperature was not logged, and the season lets it get that cold",
                about(battery.charge_from_c)
            ),
            needs,
        },
        Err(Blind::StandsStill(c)) => Outcome::CannotTell {
            text: format!(
                "whether this lithium bank was charged below {} C: its temperature reads {} C from beginning to end, so the sensor shows nothing",
                about(battery.charge_from_c),
                about(c)
            ),
            needs,
        },
        Err(Blind::NoCurrent) => Outcome::CannotTell {
            text: format!(
                "whether this lithium bank was charged below {} C: it was that cold while the controller gave current, and what of it went into the bank was not logged",
                about(battery.charge_from_c)
            ),
            needs,
        },
        Ok(seen)
            if seen.charged_min <= evidence.design.judging.charged_beyond_s / 60.0
                || !seen.is_clear(bound) =>
        {
            Outcome::Fine(format!(
                "{} below {} C; the coldest reading of the bank was {} C",
                seen.hardly(),
                about(battery.charge_from_c),
                about(seen.worst_c.unwrap_or(battery.charge_from_c))
            ))
        }
        Ok(seen) => Outcome::Found(Box::new(finding(evidence, &seen))),
    }
}

fn finding(evidence: &Evidence, seen: &Beyond) -> Finding {
    let battery = &evidence.design.battery;
    let lowest = seen.worst_charged_c.unwrap_or(battery.charge_from_c);
    let days = evidence.dates_of(&seen.days);
    Finding {
        kind: RULE.kind.to_owned(),
        severity: Severity::Stop,
        confidence: if seen.charged_min >= SURE_MIN || seen.days.len() >= 2 {
            Confidence::High
        } else {
            Confidence::Medium
        },
        r#where: "the bank".to_owned(),
        from: days.first().cloned(),
        to: days.last().cloned(),
        days,
        lost_wh_per_day: None,
        part_of: None,
        summary: format!(
            "The lithium bank was charged for {} while it was colder than {} C, down to {} C. Stop charging it in the cold.",
            lasting(seen.charged_min),
            about(battery.charge_from_c),
            about(lowest)
        ),
        evidence: [
            ("charged_min".to_owned(), json!(seen.charged_min)),
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
    }
}
