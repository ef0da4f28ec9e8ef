//! The bank is charged at a higher voltage than it bears, or than the design sets.

mod danger;

use std::collections::BTreeMap;

use danger::Danger;
use serde_json::json;

use crate::account::holds::Hold;
use crate::account::set_point;
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::stats::quantile::median;
use crate::timeline::stage;
use crate::words::{about, days, lasting};

pub(super) const RULE: Rule = Rule {
    kind: "charge-voltage-high",
    area: Limiting::Settings,
    meaning: "The bank is charged at a higher voltage than it bears or than was meant for it. Lithium cells are harmed and their protection may cut off under load; lead gases, loses water and heats up, sealed lead for good.",
    decided: "A danger: the voltage, averaged over 10 minutes while the bank is charged, on both meters where there are two, is above what the chemistry bears (lithium iron phosphate 3.65 V a cell, NMC 4.20; flooded lead 15.0, AGM 14.7, gel 14.4 V for six cells at 25 C, 24 mV per degree more in the cold) by more than the meters' error (0.1 V per 12 V; 0.2 V for lead, which bears a little for a while). An engine's or shore charger's voltage counts too. Equalising flooded lead is no danger as long as the stage says so or it happens on no more than one day and one in fourteen, up to 16.0 V or the design's own equalising voltage. Above the design's absorption voltage by more than 0.2 V per 12 V on three days and at least half of those with a held level: to watch, or to mend where it is above the chemistry's usual range.",
    limits: "Peaks shorter than 10 minutes, or than three rows of the log, are not seen. Where the temperature of a lead bank was not logged, the coldest that the month allows is allowed for, so that a danger may show as something to mend only. Where two meters disagree, the lower one decides.",
    cause: cause::without_cost,
    follows_from: &[],
    look,
};

/// Whether this rule finds something, for rules that read how charging ends.
pub(super) fn is_found(evidence: &Evidence) -> bool {
    matches!(look(evidence), Outcome::Found(_))
}

fn look(evidence: &Evidence) -> Outcome {
    let Some(danger) = Danger::new(evidence) else {
        return Outcome::CannotTell {
            text: "whether the bank is charged at too high a voltage: no voltage was logged"
                .to_owned(),
            needs: "the bank's voltage in the log".to_owned(),
        };
    };
    if !danger.days.is_empty() && !danger.equalises(evidence) {
        return Outcome::Found(Box::new(in_danger(evidence, &danger)));
    }
    if let Some(volts) = danger.disputed_v {
        return Outcome::CannotTell {
            text: format!(
                "whether the bank is charged at too high a voltage: its own meter shows up to {volts:.2} V, above the {:.2} V it bears, and the controller's does not; one of the two is wrong",
                danger.limit_v
            ),
            needs: "a third voltmeter at the battery's posts while it charges; until then take the higher one for true".to_owned(),
        };
    }
    let levels = levels(evidence);
    let high: Vec<&Hold> = levels.iter().filter(|h| is_high(evidence, h)).collect();
    let needed = evidence.design.judging.held_days;
    if high.len() as f64 >= needed && 2 * high.len() >= levels.len() {
        return Outcome::Found(Box::new(above_setting(evidence, &high, levels.len())));
    }
    let Some(highest) = danger.highest_v else {
        return Outcome::CannotTell {
            text: "whether the bank is charged at too high a voltage: the meter stands still or never reads for ten minutes".to_owned(),
            needs: "a bank voltage that moves with day and night".to_owned(),
        };
    };
    Outcome::Fine(format!(
        "the highest voltage held for ten minutes was {highest:.2} V; above {:.2} V would be too much for this bank{}",
        danger.limit_v + danger::slack_v(evidence),
        if danger.days.is_empty() {
            ""
        } else {
            ", but while it is equalised it bears more"
        }
    ))
}

fn in_danger(evidence: &Evidence, danger: &Danger) -> Finding {
    let dates = evidence.dates_of(&danger.days);
    let highest_v = danger.highest_v.unwrap_or(danger.limit_v);
    let held_v = danger.usual_v.unwrap_or(highest_v);
    let right = set_point::right(evidence.design, evidence.expected, danger.days[0], None);
    Finding {
        kind: RULE.kind.to_owned(),
        severity: Severity::Stop,
        confidence: if danger.days.len() >= 2 || danger.minutes >= 60.0 {
            Confidence::High
        } else {
            Confidence::Medium
        },
        r#where: match &danger.by {
            _ if danger.by_other => {
                "another charger: engine, shore or the like (the array gave nothing meanwhile)".to_owned()
            }
            Some(name) => format!("the charging voltage of \"{name}\""),
            None => "the controller's charging voltage".to_owned(),
        },
        from: dates.first().cloned(),
        to: dates.last().cloned(),
        lost_wh_per_day: None,
        part_of: None,
        summary: format!(
            "The bank was charged at {held_v:.2} V{}{}, more than the {:.2} V it bears, for about {} on {}. Stop charging it at that voltage.",
            if highest_v - held_v > 0.02 {
                format!(" (up to {highest_v:.2} V)")
            } else {
                String::new()
            },
            match &danger.by {
                Some(name) if !danger.by_other => format!(" by \"{name}\""),
                _ => String::new(),
            },
            danger.limit_v,
            lasting(danger.minutes),
            days(dates.len())
        ),
        days: dates,
        evidence: figures(held_v, right.low_v, right.high_v.min(danger.limit_v), danger.minutes),
        why: vec![
            format!(
                "Averaged over ten minutes, the voltage passed {:.2} V plus {:.2} V for the meters' error while the bank was charged.",
                danger.limit_v,
                danger::slack_v(evidence)
            ),
            "Where two meters were logged, both showed it.".to_owned(),
        ],
        also_possible: vec![
            "a voltmeter that reads too high: check with another one before changing anything".to_owned(),
            "a protection that had opened inside the pack, so that the meter outside it saw the charger alone".to_owned(),
        ],
        next_check: next_check(right.high_v.min(danger.limit_v), held_v),
        chart: Some("charts/charge.svg".to_owned()),
    }
}

/// The highest level the controller held on each day, equalising aside.
fn levels(evidence: &Evidence) -> Vec<Hold> {
    let mut found: Vec<Hold> = Vec::new();
    for hold in evidence.holds() {
        if !hold.top || hold.stage == Some(stage::EQUALISE) {
            continue;
        }
        match found.last_mut() {
            Some(last) if last.day == hold.day => {
                if hold.lowest_v() > last.lowest_v() {
                    *last = hold;
                }
            }
            _ => found.push(hold),
        }
    }
    found
}

fn is_high(evidence: &Evidence, hold: &Hold) -> bool {
    let right = set_point::right(evidence.design, evidence.expected, hold.day, hold.bank_c);
    let slack = evidence.design.judging.set_point_v * evidence.volts_per_12();
    hold.lowest_v() > right.high_v + slack
}

/// Above the design's setting, but bearable.
fn above_setting(evidence: &Evidence, high: &[&Hold], seen: usize) -> Finding {
    let indices: Vec<usize> = high.iter().map(|h| h.day).collect();
    let dates = evidence.dates_of(&indices);
    let rights: Vec<_> = high
        .iter()
        .map(|h| set_point::right(evidence.design, evidence.expected, h.day, h.bank_c))
        .collect();
    let middle = |values: Vec<f64>| median(&values).unwrap_or(0.0);
    let held_v = middle(high.iter().map(|h| h.level_v()).collect());
    let low_v = middle(rights.iter().map(|r| r.low_v).collect());
    let high_v = middle(rights.iter().map(|r| r.high_v).collect());
    let usual_v =
        set_point::usual(evidence.design).1 + middle(rights.iter().map(|r| r.shift_v.1).collect());
    let hours: f64 = high.iter().map(|h| h.hours(evidence.expected)).sum();
    let stated = rights.iter().all(|r| r.stated);
    let by = evidence.only_giver(high.iter().flat_map(|h| h.moments.clone()));
    Finding {
        kind: RULE.kind.to_owned(),
        severity: if held_v > usual_v {
            Severity::Fix
        } else {
            Severity::Watch
        },
        confidence: if high.len() >= 5 {
            Confidence::High
        } else {
            Confidence::Medium
        },
        r#where: match by {
            Some(name) => format!("the absorption voltage of \"{name}\""),
            None => "the controller's absorption voltage".to_owned(),
        },
        from: dates.first().cloned(),
        to: dates.last().cloned(),
        days: dates,
        lost_wh_per_day: None,
        part_of: None,
        summary: format!(
            "{} holds the bank at {held_v:.2} V, where at most {high_v:.2} V {}: {} hours on {}.",
            by.map_or("The controller".to_owned(), |name| format!("\"{name}\"")),
            if stated {
                "is set by the design"
            } else {
                "is usual for this chemistry"
            },
            about(hours),
            days(high.len())
        ),
        evidence: figures(held_v, low_v, high_v, 60.0 * hours),
        why: vec![format!(
            "On {} of {} with a held voltage the level was more than {:.2} V above {high_v:.2} V. {:.2} V is the most that is usual for this chemistry, as compensated.",
            high.len(),
            days(seen),
            evidence.design.judging.set_point_v * evidence.volts_per_12(),
            usual_v
        )],
        also_possible: vec![
            "an absorption voltage in the design that is not the one meant for this battery"
                .to_owned(),
            "a controller that measures temperature in a cold place and raises the voltage for it"
                .to_owned(),
            "a voltmeter, or both, that read high: check with a third one".to_owned(),
        ],
        next_check: next_check(high_v, held_v),
        chart: Some("charts/charge.svg".to_owned()),
    }
}

fn figures(
    held_v: f64,
    low_v: f64,
    high_v: f64,
    minutes: f64,
) -> BTreeMap<String, serde_json::Value> {
    [
        ("held_v".to_owned(), json!(held_v)),
        ("expected_low_v".to_owned(), json!(low_v.min(high_v))),
        ("expected_high_v".to_owned(), json!(high_v)),
        ("minutes".to_owned(), json!(minutes)),
    ]
    .into_iter()
    .collect()
}

fn next_check(high_v: f64, held_v: f64) -> NextCheck {
    NextCheck {
        tool: "a second voltmeter at the battery's posts, then the charger's settings".to_owned(),
        r#where: "the posts while it charges; then the absorption voltage, battery type and temperature sensor of the controller, and those of any other charger".to_owned(),
        healthy: format!("at most {high_v:.2} V at the posts"),
        faulty: format!("about {held_v:.2} V at the posts on the second meter too"),
        then: "set the voltage to the battery's data sheet, equalising off unless the battery is flooded and the maker asks for it; if it does not obey, have the charger or regulator looked at".to_owned(),
        caution: "Do not charge at that voltage meanwhile: switch the array or the charger off first, the battery last. Lead gases hydrogen: ventilate, no sparks. Do not touch a battery that is hot, bulged or smelling. Local code and a licensed practitioner come first.".to_owned(),
    }
}
