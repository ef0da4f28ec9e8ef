//! An array that gives less than its allowance's range over the whole log.

use serde_json::json;

use crate::account::episode::{Of, Reduction};
use crate::account::weak_branch::Weak;
use crate::account::{lean, part};
use crate::expect::clear::{ALLOWANCE_RANGE, EDGE, mean_allowance};
use crate::findings::array_part_out::{all, array_loss};
use crate::findings::panel_care::CAUTION;
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::quantity::Interval;
use crate::report::model::{Confidence, Finding, Limiting, NextCheck};
use crate::words::{about, date, days, percent, ranged};

pub(super) const RULE: Rule = Rule {
    kind: "array-weak",
    area: Limiting::Array,
    meaning: "Through the whole log the array gave less than any healthy array gives of its label: dirt, old panels, the wrong tilt in the design, or a label that promises too much.",
    decided: "The array's scale is its output over the design's clear-sky output in clear, unheld hours. It is weak when the whole 90 % interval, with haze and 3 degrees of unnoticed lean in it, lies below 80 % of label power (the low end of what healthy arrays give), on at least two days of intact clear shape with 5 clear hours between them, and no day of the log was better. A level that just one missing part leaves is told as that part. Where several controllers were logged apart, one whose arrays gave less than 78 % of what the others' level would have brought them (the low end of healthy arrays over the high end), beyond the scatter of its days and the meters' error, over three days and 5 hours of bright sky, is weak whatever the haze.",
    limits: "Needs the controller's output and clear hours with a bank that took all. In winter the lean alone moves the level by 15 %, so little is said then. It can't tell dirt from age, from a wrong label or from a wrong tilt: washing half of the panels can.",
    cause: cause::by_loss,
    follows_from: &["array-part-out"],
    look,
};

/// Clear hours a verdict on hardware needs (owners' reference Q11),
const LEAST_H: f64 = 5.0;
/// on so many days.
const LEAST_DAYS: usize = 2;

/// What the clear hours say, and on what they rest.
struct Level {
    scale: Interval,
    /// The low and the high end of a healthy array's, against the design.
    range: (f64, f64),
    lean: f64,
    days: Vec<usize>,
    clear_h: f64,
}

fn look(evidence: &Evidence) -> Outcome {
    let expected = evidence.expected;
    if expected.signals.harvest.is_none() || !expected.clear.calibrated {
        // The account's step of that name says so already.
        return Outcome::NotApplicable;
    }
    if let Some((spell, weak)) = weak_branch(evidence) {
        return Outcome::Found(Box::new(beside_the_others(evidence, spell, weak)));
    }
    let level = level(evidence);
    if all(evidence).iter().any(|p| p.from_start) {
        // What is missing has a name already.
        return Outcome::NotApplicable;
    }
    if level.scale.low > level.range.1 {
        return Outcome::CannotTell {
            text: format!(
                "how strong the array is against its label: in clear hours it gave {} of the design, more than any array gives of its label",
                percent(&level.scale)
            ),
            needs: "the panels' label power, tilt and heading in the design, checked".to_owned(),
        };
    }
    if level.scale.value >= level.range.0 {
        return Outcome::Fine(format!(
            "in its best clear hours the array gave {} of the design; a healthy one gives {:.0} to {:.0} %",
            percent(&level.scale),
            100.0 * level.range.0,
            100.0 * level.range.1
        ));
    }
    if let Some(doubt) = doubt(evidence, &level) {
        return Outcome::CannotTell {
            text: format!(
                "whether the array is weak: in clear hours it gave {} of the design where a healthy one gives {:.0} % or more, but {doubt}",
                percent(&level.scale),
                100.0 * level.range.0
            ),
            needs: "two clear days about noon with the bank low, at a high sun or with the tilt and heading measured; or half of the panels washed and compared".to_owned(),
        };
    }
    Outcome::Found(Box::new(finding(evidence, &level)))
}

/// The spell of one controller's arrays that are weak beside the others'.
fn weak_branch<'e>(evidence: &'e Evidence) -> Option<(&'e Reduction, &'e Weak)> {
    let mut spells = evidence.accounts.reductions.iter();
    spells.find_map(|spell| match &spell.of {
        Of::Weak(weak) => Some((spell, weak)),
        _ => None,
    })
}

/// One controller's arrays beside the others', which stand under the same haze.
fn beside_the_others(evidence: &Evidence, spell: &Reduction, weak: &Weak) -> Finding {
    let lost = array_loss(evidence, |_| true);
    let shown = evidence.dates_of(&spell.shown_on);
    let dates = &evidence.expected.grid.dates;
    let controller = &evidence.design.controllers[weak.controller];
    let name = controller
        .name
        .as_deref()
        .unwrap_or("one of the controllers");
    Finding {
        kind: RULE.kind.to_owned(),
        severity: evidence.severity_of_loss(lost, &shown),
        confidence: if spell.shown_on.len() >= 4 {
            Confidence::High
        } else {
            Confidence::Medium
        },
        r#where: format!("the panels on \"{name}\""),
        from: dates.first().map(ToString::to_string),
        to: dates.last().map(ToString::to_string),
        days: shown.clone(),
        lost_wh_per_day: (lost.value > 0.0).then_some(lost),
        part_of: None,
        summary: format!(
            "Through the whole log the panels on \"{name}\" gave only {} of what the others' level would have brought them{}.",
            percent(&weak.beside),
            if lost.value > 0.0 {
                format!(": {} a day lost", ranged(&lost, "Wh"))
            } else {
                String::new()
            }
        ),
        evidence: [
            ("scale".to_owned(), json!(weak.beside)),
            (
                "healthy_from".to_owned(),
                json!(ALLOWANCE_RANGE.0 / ALLOWANCE_RANGE.1),
            ),
            ("clear_h".to_owned(), json!(spell.clear_h)),
        ]
        .into(),
        why: vec![
            format!(
                "{} hours on {}, under a bright sky that all of them followed.",
                about(spell.clear_h),
                days(shown.len())
            ),
            format!(
                "Healthy arrays give 80 to 102 % of their label, so that one gives {:.0} % of another's level at least. Haze is over all of them and explains nothing here.",
                100.0 * ALLOWANCE_RANGE.0 / ALLOWANCE_RANGE.1
            ),
            "What is missing below the low end of the healthy range counts as lost.".to_owned(),
        ],
        also_possible: [
            "a tilt or heading in the design that is not the true one, as of panels set up by hand".to_owned(),
            "a string or a panel that has been out since before the log began".to_owned(),
            "the same wrong scale in that controller's meter throughout".to_owned(),
            "thin shade through all of those days".to_owned(),
        ]
        .into(),
        next_check: NextCheck {
            tool: "water and a soft cloth, then a clamp meter for direct current".to_owned(),
            r#where: format!("the panels on \"{name}\" and, beside them, some of the others of the same make, in the same plane"),
            healthy: "each panel brings about the same current at a clear noon".to_owned(),
            faulty: "one string brings nothing, or all of them clearly less than the others' panels".to_owned(),
            then: "wash them and compare the next clear day; where a string brings nothing, look for its fuse or connector; check tilt and heading in the design".to_owned(),
            caution: format!("No cold water on hot glass, no scraping. {CAUTION}"),
        },
        chart: Some("charts/days.svg".to_owned()),
    }
}

fn level(evidence: &Evidence) -> Level {
    let (design, expected) = (evidence.design, evidence.expected);
    let allowance = mean_allowance(design);
    let days: Vec<usize> = (0..expected.clear.days.len())
        .filter(|d| {
            expected.clear.days[*d].is_some() && part::has_clear_shape(design, expected, *d)
        })
        .collect();
    let moments: Vec<usize> = days
        .iter()
        .flat_map(|d| part::clear_moments(expected, *d))
        .collect();
    let lean = lean::band(design, expected, &moments);
    let reference = expected.clear.reference;
    let half = (reference.half_width() / reference.value.max(0.01)).hypot(lean);
    // Through hazier air than reckoned with the array is stronger than it seems.
    let air = expected.usual_air;
    Level {
        scale: Interval::new(
            reference.value,
            reference.value * (1.0 - half.hypot(air.above)),
            reference.value * (1.0 + half.hypot(air.below)),
        ),
        range: (
            ALLOWANCE_RANGE.0.min(allowance) / allowance,
            ALLOWANCE_RANGE.1.max(allowance) / allowance,
        ),
        lean,
        clear_h: moments.len() as f64 * expected.grid.step_h(),
        days,
    }
}

/// What stands against calling it weak.
fn doubt(evidence: &Evidence, level: &Level) -> Option<String> {
    if let Some(best) = better(evidence, level) {
        return Some(format!(
            "on some day it gave {:.0} % for half an hour, so an even cloud may have passed for a clear sky",
            100.0 * best
        ));
    }
    if level.scale.high >= level.range.0 {
        return Some(format!(
            "a haze common to all of them and {:.0} % for an unnoticed lean of 3 degrees explain as much",
            100.0 * level.lean
        ));
    }
    if level.days.len() < LEAST_DAYS || level.clear_h < LEAST_H {
        return Some(format!(
            "only {} clear hours on {} kept the shape of a clear day",
            about(level.clear_h),
            days(level.days.len())
        ));
    }
    (evidence.unexplained_share() > evidence.design.judging.unexplained_most).then(|| {
        format!(
            "{:.0} % of the offer is unexplained",
            100.0 * evidence.unexplained_share()
        )
    })
}

/// The most it gave for half an hour, where that is more than such an array can give at any sky.
fn better(evidence: &Evidence, level: &Level) -> Option<f64> {
    let best = evidence.expected.clear.best.iter().flatten().copied();
    best.max_by(f64::total_cmp)
        .filter(|b| *b > EDGE * level.scale.high)
}

fn finding(evidence: &Evidence, level: &Level) -> Finding {
    let parts = all(evidence);
    let in_part = |day: usize| {
        parts.iter().any(|p| {
            let spell = &evidence.accounts.reductions[p.spell];
            (spell.earliest..=spell.last).contains(&day)
        })
    };
    let lost = array_loss(evidence, |d| !in_part(d));
    let dates = &evidence.expected.grid.dates;
    let shown = evidence.dates_of(&level.days);
    Finding {
        kind: RULE.kind.to_owned(),
        severity: evidence.severity_of_loss(lost, &shown),
        confidence: if level.days.len() >= 4 && level.lean < 0.10 {
            Confidence::High
        } else {
            Confidence::Medium
        },
        r#where: "the panels".to_owned(),
        from: dates.first().map(ToString::to_string),
        to: dates.last().map(ToString::to_string),
        days: shown,
        lost_wh_per_day: (lost.value > 0.0).then_some(lost),
        part_of: None,
        summary: format!(
            "Through the whole log the panels gave only {} of what the design says under a clear sky, where healthy ones give {:.0} % or more{}.",
            percent(&level.scale),
            100.0 * level.range.0,
            if lost.value > 0.0 {
                format!(": {} a day lost", ranged(&lost, "Wh"))
            } else {
                String::new()
            }
        ),
        evidence: [
            ("scale".to_owned(), json!(level.scale)),
            ("healthy_from".to_owned(), json!(level.range.0)),
            ("clear_h".to_owned(), json!(level.clear_h)),
        ]
        .into(),
        why: reasons(evidence, level),
        also_possible: also_possible(evidence),
        next_check: NextCheck {
            tool: "water and a soft cloth, then a clamp meter for direct current".to_owned(),
            r#where: "the panels, in the cool of the morning: wash one half and leave the other".to_owned(),
            healthy: "both halves bring the same current at the next clear noon".to_owned(),
            faulty: "the washed half brings clearly more: it is dirt. Both alike: age, tilt, or a label that promises too much".to_owned(),
            then: "wash the rest, or check label power, tilt and heading in the design; then compare the next clear day".to_owned(),
            caution: format!("No cold water on hot glass, no scraping. {CAUTION}"),
        },
        chart: Some("charts/days.svg".to_owned()),
    }
}

fn reasons(evidence: &Evidence, level: &Level) -> Vec<String> {
    let list: Vec<String> = level
        .days
        .iter()
        .map(|d| date(&evidence.expected.grid.dates[*d].to_string()))
        .collect();
    let allowance = mean_allowance(evidence.design);
    vec![
        format!(
            "{} clear, unheld hours on {}; days on which the bank was full say nothing and were left out.",
            about(level.clear_h),
            list.join(", ")
        ),
        format!(
            "1 is the design with its allowance of {:.0} % of label power. Healthy arrays give 80 to 102 % of their label, which is {:.0} to {:.0} % here.",
            100.0 * allowance,
            100.0 * level.range.0,
            100.0 * level.range.1
        ),
        format!(
            "The range holds the haze of those days, {:.0} % for the air of the place and {:.0} % for 3 degrees of lean that nobody notices.",
            100.0 * evidence.expected.usual_air.below,
            100.0 * level.lean
        ),
        "What is missing below the low end of the healthy range counts as lost.".to_owned(),
    ]
}

fn also_possible(evidence: &Evidence) -> Vec<String> {
    let array = &evidence.design.arrays[0];
    let mut list = vec![
        "a label power in the design that is too high, or a tilt or heading that is not the true one".to_owned(),
        "thin shade or high haze through all of those days".to_owned(),
        "a controller that works beside the best point".to_owned(),
    ];
    if array.strings_in_parallel * array.panels_in_series > 1 {
        list.push("a string or a panel that has been out since before the log began".to_owned());
    }
    list
}
