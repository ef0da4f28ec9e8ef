//! A bank charged while it was hotter than it may be.

use serde_json::json;

use crate::account::charging_temperature::{Beyond, Blind, Bound, beyond, season_allows};
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::words::{about, lasting};

pub(super) const RULE: Rule = Rule {
    kind: "hot-charge",
    area: Limiting::Battery,
    meaning: "The bank took charge while it was hotter than it may be. A hot lithium cell ages fast and its protection may open; hot lead gases, dries out and can run away.",
    decided: "Charge current above 2 % of capacity for more than 5 minutes while the logged battery temperature is above the limit (charge_to in the design; 45 C for lithium and 50 C for lead unless it says otherwise). Air temperature is never taken for it: where the bank's own was not logged and the season lets it get that hot (the month's mean air less than 30 C below the limit, or logged air less than 15 C below it), that is said to be unknown.",
    limits: "Needs the bank's own temperature and current. A sensor on a terminal may be warmed by a poor joint there. A temperature that never moves is no reading.",
    cause: cause::without_cost,
    follows_from: &[],
    look,
};

/// From so many minutes on, or on a second day, it is no slip of the sensor.
const SURE_MIN: f64 = 30.0;

fn look(evidence: &Evidence) -> Outcome {
    let limit_c = evidence.design.battery.charge_to_c;
    let bound = Bound::Highest(limit_c);
    let unknown = |because: String| {
        Outcome::CannotTell {
        text: format!(
            "whether the bank was charged above {} C: {because}",
            about(limit_c)
        ),
        needs: "the bank's temperature, at the cells, in the log with the bank's own current; until then feel or measure its case on a hot afternoon".to_owned(),
    }
    };
    match beyond(evidence.design, evidence.expected, bound) {
        Err(Blind::NoTemperature) if !season_allows(evidence.design, evidence.expected, bound) => {
            Outcome::NotApplicable
        }
        Err(Blind::NoTemperature) => unknown(
            "its own temperature was not logged, and a closed locker can get that hot in this season"
                .to_owned(),
        ),
        Err(Blind::StandsStill(c)) => unknown(format!(
            "its temperature reads {} C from beginning to end, so the sensor shows nothing",
            about(c)
        )),
        Err(Blind::NoCurrent) => unknown(
            "it was that hot while the controller gave current, and what of it went into the bank was not logged"
                .to_owned(),
        ),
        Ok(seen)
            if seen.charged_min <= evidence.design.judging.charged_beyond_s / 60.0
                || !seen.is_clear(bound) =>
        {
            Outcome::Fine(format!(
                "{} above {} C; the hottest reading of the bank was {} C",
                seen.hardly(),
                about(limit_c),
                about(seen.worst_c.unwrap_or(limit_c))
            ))
        }
        Ok(seen) => Outcome::Found(Box::new(finding(evidence, &seen))),
    }
}

fn finding(evidence: &Evidence, seen: &Beyond) -> Finding {
    let battery = &evidence.design.battery;
    let highest = seen.worst_charged_c.unwrap_or(battery.charge_to_c);
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
            "The bank was charged for {} while it was hotter than {} C, up to {} C. Stop charging it until it has cooled.",
            lasting(seen.charged_min),
            about(battery.charge_to_c),
            about(highest)
        ),
        evidence: [
            ("charged_min".to_owned(), json!(seen.charged_min)),
            ("highest_c".to_owned(), json!(highest)),
        ]
        .into(),
        why: vec![format!(
            "Minutes with more than {} A into the bank and a logged battery temperature above the limit.",
            about(evidence.design.judging.charging_c * battery.capacity_ah)
        )],
        also_possible: vec![
            "a sensor that reads too hot, or sits on a terminal that a poor joint warms".to_owned(),
            "heat from a neighbour: an engine, an inverter, the sun on the locker".to_owned(),
        ],
        next_check: NextCheck {
            tool: "an infrared thermometer or one with a probe".to_owned(),
            r#where: "on the case of each battery and on its terminals, on a hot afternoon while it charges".to_owned(),
            healthy: format!("all alike and below {} C", about(battery.charge_to_c)),
            faulty: "one battery or one terminal much hotter than the others, or all above the limit".to_owned(),
            then: "stop charging until it is cool; give the bank air and shade, lower the charging current, set the high-temperature stop where there is one".to_owned(),
            caution: "Do not touch a battery that is bulged, hissing or smelling: switch charging off from a distance, keep flames away, ventilate, and have it looked at by someone qualified.".to_owned(),
        },
        chart: None,
    }
}
