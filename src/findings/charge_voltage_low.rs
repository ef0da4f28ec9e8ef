//! The controller holds the bank at too low a voltage: a setting, not the sun.

use std::ops::Range;

use serde_json::json;

use crate::account::holds::Hold;
use crate::account::set_point::{self, Right};
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::quantity::Interval;
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::stats::quantile::{median, quantile};
use crate::timeline::stage;
use crate::words::{about, days, ranged};

pub(super) const RULE: Rule = Rule {
    kind: "charge-voltage-low",
    area: Limiting::Settings,
    meaning: "The controller stops raising the voltage before the bank has what it needs. The current falls as if the bank were full, and it never is: lead sulphates, a lithium bank's meter loses count.",
    decided: "The level at which the voltage was held while the array charged (the controller's own stage says absorption; without a stage: for half an hour or longer, with the current falling away under a sun that did not), the highest of its day, against the design's absorption voltage at the bank's temperature, or the chemistry's usual range where the design states none. Found when it was lower by more than 0.2 V per 12 V on both meters, where there are two, on at least three days and at least half of those with such a level. Days on which the sun never brought the bank there do not count; nor does a level near the float voltage without a logged stage.",
    limits: "Two meters of an ordinary system differ by 20 to 60 mV, so less than 0.2 V cannot be told. Where the controller's own voltage was not logged and the current did not fall while the bank's stood still, a bad joint may have taken it. Where the bank's temperature was not logged, the season's whole range is allowed for. Needs three days on which the controller held its voltage.",
    cause: cause::by_loss,
    follows_from: &["drop-battery-cable"],
    look,
};

fn look(evidence: &Evidence) -> Outcome {
    let levels = levels(evidence);
    let needed = evidence.design.judging.held_days;
    let low: Vec<&Level> = levels.iter().filter(|l| l.is_low(evidence)).collect();
    if levels.is_empty() || (!low.is_empty() && (levels.len() as f64) < needed) {
        return Outcome::CannotTell {
            text: format!(
                "whether the charging voltage is high enough: the log shows the controller at its absorption voltage on {}, {} are needed",
                days(levels.len()),
                about(needed)
            ),
            needs: "sunny days with the bank nearly full, and the controller's stage in the log"
                .to_owned(),
        };
    }
    if (low.len() as f64) < needed || 2 * low.len() < levels.len() {
        return excused_by_heat(evidence, &levels).unwrap_or_else(|| fine(evidence, &levels));
    }
    if at_the_bank_alone(evidence) && !current_falls(evidence, &low) {
        return Outcome::CannotTell {
            text: format!(
                "whether the controller's voltage is set too low: the bank stood at {:.2} V on {} while the controller held its own voltage, which was not logged, but the current did not fall there as it does at a voltage held at the bank. A bad joint or too thin a cable between the two looks like this",
                middle(&low, |l| l.hold.level_v()),
                days(low.len())
            ),
            needs: "a voltmeter at the controller's battery terminals and then at the bank's posts while it charges: more than a few tenths of a volt between them is the run, and a joint that gets warm is a danger".to_owned(),
        };
    }
    Outcome::Found(Box::new(finding(evidence, &low, levels.len())))
}

/// The current falls over a stay at a voltage held at the bank to this share of what it was at least.
const FALLS_TO: f64 = 0.7;

/// Whether the charging current fell over most of the stays, from their first third to their last; so too where
/// no current was logged.
fn current_falls(evidence: &Evidence, low: &[&Level]) -> bool {
    let signals = &evidence.expected.signals;
    let Some(amps) = signals.charge_a.as_ref().or(signals.bank_a.as_ref()) else {
        return true;
    };
    let falls = |level: &&&Level| {
        let stay = &level.hold.moments;
        let third = (stay.len() / 3).max(1);
        let middle = |part: Range<usize>| {
            median(&part.filter_map(|m| amps.mean(m)).collect::<Vec<_>>()).unwrap_or(0.0)
        };
        let (first, last) = (
            middle(stay.start..stay.start + third),
            middle(stay.end - third..stay.end),
        );
        last <= FALLS_TO * first
    };
    2 * low.iter().filter(falls).count() >= low.len()
}

/// The highest level held on one day and what would be right for it.
struct Level {
    hold: Hold,
    right: Right,
}

impl Level {
    fn is_low(&self, evidence: &Evidence) -> bool {
        self.hold.highest_v() < self.right.low_v - slack_v(evidence)
    }
}

fn slack_v(evidence: &Evidence) -> f64 {
    evidence.design.judging.set_point_v * evidence.volts_per_12()
}

/// One level a day: the longest stay at the day's highest level that is absorption, or not float.
fn levels(evidence: &Evidence) -> Vec<Level> {
    let mut found: Vec<Level> = Vec::new();
    for hold in evidence.holds().into_iter().filter(|h| h.top) {
        let right = set_point::right(evidence.design, evidence.expected, hold.day, hold.bank_c);
        let absorbs = match hold.stage {
            Some(code) => code == stage::ABSORPTION,
            None => !set_point::is_float(evidence.design, &right, hold.level_v()),
        };
        if !absorbs {
            continue;
        }
        match found.last_mut() {
            Some(last) if last.hold.day == hold.day => {
                if hold.moments.len() > last.hold.moments.len() {
                    *last = Level { hold, right };
                }
            }
            _ => found.push(Level { hold, right }),
        }
    }
    found
}

/// Levels that only a hot bank would make right, where its temperature was not logged.
fn excused_by_heat(evidence: &Evidence, levels: &[Level]) -> Option<Outcome> {
    let needs_heat = |level: &Level| {
        let at_25_c_v = level.right.low_v - level.right.shift_v.0;
        level.hold.bank_c.is_none() && level.hold.highest_v() < at_25_c_v - slack_v(evidence)
    };
    let excused: Vec<&Level> = levels.iter().filter(|l| needs_heat(l)).collect();
    if 2 * excused.len() < levels.len() {
        return None;
    }
    Some(Outcome::CannotTell {
        text: format!(
            "whether the charging voltage is high enough: the controller held {:.2} V on {}, which is right for a hot bank only, {:.2} V at 25 C",
            middle(&excused, |l| l.hold.level_v()),
            days(excused.len()),
            middle(&excused, |l| l.right.low_v - l.right.shift_v.0)
        ),
        needs: "the bank's temperature in the log, and the absorption voltage and compensation as the controller shows them".to_owned(),
    })
}

/// The middle of some figure of the levels.
fn middle(levels: &[&Level], pick: impl Fn(&Level) -> f64) -> f64 {
    median(&levels.iter().map(|l| pick(l)).collect::<Vec<_>>()).unwrap_or(0.0)
}

/// What was seen, where it is not low; a level that the design itself states below what is usual is named.
fn fine(evidence: &Evidence, levels: &[Level]) -> Outcome {
    let all: Vec<&Level> = levels.iter().collect();
    let (usual_low, usual_high) = set_point::usual(evidence.design);
    let stated = evidence.expected.absorption_v;
    let gentle = all[0].right.stated && stated < usual_low - 0.005;
    Outcome::Fine(format!(
        "the controller held {:.2} V on {}, where {} is right and {:.2} V less is let pass{}",
        middle(&all, |l| l.hold.level_v()),
        days(levels.len()),
        range_text(
            middle(&all, |l| l.right.low_v),
            middle(&all, |l| l.right.high_v)
        ),
        slack_v(evidence),
        if gentle {
            below_usual(evidence, stated, usual_low, usual_high)
        } else {
            String::new()
        }
    ))
}

/// What a level means that the design itself states below what is usual.
fn below_usual(evidence: &Evidence, stated: f64, usual_low: f64, usual_high: f64) -> String {
    let usual = format!("{usual_low:.1} to {usual_high:.1} V is usual for this chemistry");
    if evidence.design.battery.chemistry.is_lead() {
        format!("; {usual}, so at the design's {stated:.2} V the bank fills slowly or never")
    } else {
        format!("; the design's {stated:.2} V is gentle, {usual}")
    }
}

fn range_text(low_v: f64, high_v: f64) -> String {
    if high_v - low_v < 0.01 {
        format!("{low_v:.2} V")
    } else {
        format!("{low_v:.2} to {high_v:.2} V")
    }
}

/// Energy that was on offer while the voltage was held and the bank still took more than its full current.
/// How much of it the bank would have taken at the right voltage is open, so the interval begins at nothing.
fn held_back(evidence: &Evidence, low: &[&Level]) -> Interval {
    let held = &evidence.accounts.attribution.held;
    let full_a = evidence.design.battery.full_current_a;
    let (mut value, mut high) = (0.0, 0.0);
    for m in low.iter().flat_map(|l| l.hold.moments.clone()) {
        let amps = evidence.expected.signals.bank_a.as_ref();
        if amps.is_none_or(|a| a.mean(m).is_some_and(|a| a > full_a)) {
            value += held[m].value;
        }
        high += held[m].high;
    }
    evidence.per_judged_day(Interval::new(value, 0.0, high))
}

/// Figures of the finding.
struct Figures {
    held_v: f64,
    spread: (f64, f64),
    right_low_v: f64,
    right_high_v: f64,
    stated: bool,
    end_a: Option<f64>,
    lost: Interval,
}

impl Figures {
    fn new(evidence: &Evidence, low: &[&Level]) -> Self {
        let held: Vec<f64> = low.iter().map(|l| l.hold.level_v()).collect();
        let ends: Vec<f64> = low.iter().filter_map(|l| l.hold.end_a).collect();
        Self {
            held_v: median(&held).unwrap_or(0.0),
            spread: (
                quantile(&held, 0.05).unwrap_or(0.0),
                quantile(&held, 0.95).unwrap_or(0.0),
            ),
            right_low_v: middle(low, |l| l.right.low_v),
            right_high_v: middle(low, |l| l.right.high_v),
            stated: low.iter().all(|l| l.right.stated),
            end_a: median(&ends),
            lost: held_back(evidence, low),
        }
    }

    fn summary(&self, low: usize) -> String {
        let mut text = format!(
            "The controller holds the bank at only {:.2} V ({:.2} to {:.2} V on {}), where {} {}.",
            self.held_v,
            self.spread.0,
            self.spread.1,
            days(low),
            range_text(self.right_low_v, self.right_high_v),
            if self.stated {
                "is set by the design"
            } else {
                "is usual for this chemistry"
            },
        );
        if let Some(amps) = self.end_a {
            text.push_str(&format!(
                " There its current falls to {} A although the bank is not full.",
                about(amps.max(0.0))
            ));
        }
        if self.lost.value >= 1.0 {
            text.push_str(&format!(
                " Meanwhile {} a day was on offer that it might have taken.",
                ranged(&self.lost, "Wh")
            ));
        }
        text
    }
}

fn finding(evidence: &Evidence, low: &[&Level], seen: usize) -> Finding {
    let figures = Figures::new(evidence, low);
    let indices: Vec<usize> = low.iter().map(|l| l.hold.day).collect();
    let dates = evidence.dates_of(&indices);
    let staged = low.iter().all(|l| l.hold.stage.is_some());
    Finding {
        kind: RULE.kind.to_owned(),
        severity: Severity::Fix,
        confidence: if staged && low.len() >= 5 && !at_the_bank_alone(evidence) {
            Confidence::High
        } else {
            Confidence::Medium
        },
        r#where: "the controller's absorption voltage".to_owned(),
        from: dates.first().cloned(),
        to: dates.last().cloned(),
        days: dates,
        lost_wh_per_day: Some(figures.lost),
        part_of: None,
        summary: figures.summary(low.len()),
        evidence: [
            ("held_v".to_owned(), json!(figures.held_v)),
            ("expected_low_v".to_owned(), json!(figures.right_low_v)),
            ("expected_high_v".to_owned(), json!(figures.right_high_v)),
            ("ending_a".to_owned(), json!(figures.end_a)),
        ]
        .into(),
        why: reasons(evidence, low, seen, &figures),
        also_possible: [
            at_the_bank_alone(evidence).then(|| {
                "a joint or a cable that takes the voltage on its way to the bank: the controller's own voltage was not logged, so read it beside the bank's while current flows".to_owned()
            }),
        ]
        .into_iter()
        .flatten()
        .chain([
            "an absorption voltage in the design that is not the one meant for this battery"
                .to_owned(),
            "a controller that measures temperature in a warm place and lowers the voltage for it"
                .to_owned(),
            "a voltmeter, or both, that read low: check with a third one".to_owned(),
        ])
        .collect(),
        next_check: next_check(&figures),
        chart: Some("charts/charge.svg".to_owned()),
    }
}

/// Whether the held voltage was read at the bank alone, on the far side of whatever lies between.
fn at_the_bank_alone(evidence: &Evidence) -> bool {
    evidence.expected.signals.charge_v.is_none()
}

fn reasons(evidence: &Evidence, low: &[&Level], seen: usize, figures: &Figures) -> Vec<String> {
    let hours: f64 = low.iter().map(|l| l.hold.hours(evidence.expected)).sum();
    let mut why = vec![
        format!(
            "On {} of {} with a held voltage the level was more than {:.2} V below {:.2} V; {} hours in all.",
            low.len(),
            days(seen),
            slack_v(evidence),
            figures.right_low_v,
            about(hours)
        ),
        "A level counts where it was the highest of its day: on days when the sun never brought the bank there, nothing is said.".to_owned(),
    ];
    let temperatures: Vec<f64> = low.iter().filter_map(|l| l.hold.bank_c).collect();
    match median(&temperatures) {
        Some(c) if evidence.design.controllers[0].compensation_v_per_c != 0.0 => why.push(format!(
            "At {} C the compensation moves the set point by {:+.2} V from its value at 25 C.",
            about(c),
            evidence.design.controllers[0].compensation_v_per_c * (c - 25.0)
        )),
        None if evidence.design.controllers[0].compensation_v_per_c != 0.0 => why.push(
            "The bank's temperature was not logged: every temperature that the season allows was allowed for.".to_owned(),
        ),
        _ => {}
    }
    if figures.lost.high >= 1.0 {
        why.push(format!(
            "Held back at that voltage: {} a judged day; the low end is nothing, because how much the bank would have taken is open.",
            ranged(&figures.lost, "Wh")
        ));
    }
    why
}

fn next_check(figures: &Figures) -> NextCheck {
    NextCheck {
        tool: "the controller's settings and a voltmeter at the battery's posts".to_owned(),
        r#where: "the absorption voltage (and the battery type and temperature compensation that set it); then the posts on a sunny afternoon".to_owned(),
        healthy: format!(
            "{} at the posts once the current has fallen",
            range_text(figures.right_low_v, figures.right_high_v)
        ),
        faulty: format!("about {:.2} V and no higher", figures.held_v),
        then: "set what the battery's data sheet says, and log one sunny day more".to_owned(),
        caution: "The battery maker's voltage wins over any table. Too high a voltage gases lead-acid (ventilate, no sparks) and trips or harms lithium: raise it to the data sheet's figure, never beyond.".to_owned(),
    }
}
