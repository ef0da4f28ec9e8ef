//! Days that brought clearly less than the sky offered although the bank would have taken more.

use serde_json::json;

use crate::expect::clear::WELL;
use crate::findings::array_part_out;
use crate::findings::clock_off;
use crate::findings::panel_care::CAUTION;
use crate::findings::{Cause, Evidence, Outcome, Rule};
use crate::quantity::Interval;
use crate::report::model::{Confidence, Day, DayState, Finding, Limiting, NextCheck, Severity};
use crate::words::{about, date, days, percent, ranged};

pub(super) const RULE: Rule = Rule {
    kind: "harvest-short",
    area: Limiting::Array,
    meaning: "On these days the array gave clearly less than the same sky should have brought, at a time when the bank would have taken it.",
    decided: "The sky is read from clear, unheld moments: over 35 minutes the output keeps its ratio to the clear-sky curve within 2 %. A day is short when the lower bound of its loss is above 10 % of the offer and above the smallest loss worth a job, and at least 40 % of its productive energy was not held back. A full bank, a dull sky or a gap never makes a day short, nor does a controller at its limit, which has a finding of its own, and no haze does: what is missing of clear hours has to keep its share from a low sun to a high one, where haze takes the more the lower the sun stands. Nothing is called short where more than 10 % of the offer stays unexplained.",
    limits: "Without clear, unheld hours nothing can be said. Cloud that is as smooth as a clear sky for hours on several days can pass for a loss. What it is (a string, a panel, dirt, shade all day, a connector) needs a meter.",
    cause: stands,
    follows_from: &[
        "array-part-out",
        "array-dark",
        "array-weak",
        "shade-repeating",
    ],
    look,
};

fn look(evidence: &Evidence) -> Outcome {
    let short = evidence.short_beside_the_limit();
    let clear = &evidence.expected.clear;
    if evidence.expected.signals.harvest.is_none() {
        return Outcome::CannotTell {
            text: "whether the panels gave what they should: the controller's side was not logged"
                .to_owned(),
            needs:
                "a log of the controller's output, volts and amperes, every 5 minutes or oftener"
                    .to_owned(),
        };
    }
    if evidence.accounts.reductions.is_empty()
        && let Some(minutes) = clock_off::turns_the_sun_min(evidence)
    {
        return Outcome::CannotTell {
            text: format!(
                "whether the panels gave what they should: by first and last light the clock is about {} minutes off",
                about(minutes)
            ),
            needs: "the clock put right, as the finding about it says, and this report made anew"
                .to_owned(),
        };
    }
    if short.is_empty() {
        return under_a_full_bank(evidence).unwrap_or_else(|| without_short_days(evidence));
    }
    if evidence.unexplained_share() > evidence.design.judging.unexplained_most {
        return Outcome::CannotTell {
            text: format!(
                "{} look short, but {:.0} % of the offer is unexplained, too much to blame the array",
                days(short.len()),
                100.0 * evidence.unexplained_share()
            ),
            needs: "a longer log with clear days, both sides logged".to_owned(),
        };
    }
    let clear_hours: f64 = evidence.accounts.reductions.iter().map(|r| r.clear_h).sum();
    let confidence = match (clear_hours, short.len()) {
        (h, n) if h >= 5.0 && n >= 2 && clear.calibrated => Confidence::High,
        (h, n) if h >= 2.0 || n >= 2 => Confidence::Medium,
        _ => Confidence::Low,
    };
    Outcome::Found(Box::new(finding(evidence, &short, clear_hours, confidence)))
}

/// Clear hours that gave clearly less on days on which the bank got full all the same: nothing is missed as
/// yet, and the account does not call the panels well. `None` where a part out explains it, or it is small.
fn under_a_full_bank(evidence: &Evidence) -> Option<Outcome> {
    let spell = evidence
        .accounts
        .reductions
        .iter()
        .max_by(|a, b| a.clear_h.total_cmp(&b.clear_h))?;
    let dates = &evidence.expected.grid.dates;
    let is_shown = |day: &&Day| {
        let mut shown = spell.shown_on.iter();
        shown.any(|place| dates[*place].to_string() == day.date)
    };
    let days: Vec<&Day> = evidence.accounts.days.iter().filter(is_shown).collect();
    let lost = sum_lost(&days);
    let worth = evidence.accounts.yardsticks.worth_a_job_wh * days.len() as f64;
    if lost.low <= worth || !array_part_out::all(evidence).is_empty() {
        return None;
    }
    let made = finding(evidence, &days, spell.clear_h, Confidence::Medium);
    let list = crate::words::days(days.len());
    Some(Outcome::Found(Box::new(Finding {
        severity: Severity::Watch,
        summary: format!(
            "On {} the panels gave only {} of what they give when well, {} in all; the bank took no more on those days, so nothing was missed by it.",
            list,
            percent(&spell.left),
            ranged(&lost, "Wh")
        ),
        ..made
    })))
}

fn without_short_days(evidence: &Evidence) -> Outcome {
    let clear = &evidence.expected.clear;
    if !clear.calibrated {
        return Outcome::CannotTell {
            text: "whether the panels gave what they should: the log holds fewer than two clear hours in which the bank took all there was".to_owned(),
            needs: "one clear day logged at 5 minutes or oftener with the bank low, or a heavy load switched on at noon: the array's current should rise by about the load's".to_owned(),
        };
    }
    if clear.reference.low > clear.healthy {
        return Outcome::CannotTell {
            text: format!(
                "whether the panels gave what they should: in clear hours they gave {} of what the design says, more than any array gives of its label",
                percent(&clear.reference)
            ),
            needs: "the panels' label power, tilt, heading and place in the design, checked"
                .to_owned(),
        };
    }
    let hours: f64 = clear.days.iter().flatten().map(|d| d.clear_h).sum();
    Outcome::Fine(format!(
        "over {hours:.0} clear, unheld hours the array gave {} of what the design says",
        percent(&clear.reference)
    ))
}

fn finding(
    evidence: &Evidence,
    short: &[&Day],
    clear_hours: f64,
    confidence: Confidence,
) -> Finding {
    let lost = sum_lost(short);
    let per_day = evidence.per_judged_day(lost);
    let worst = short.iter().max_by(|a, b| {
        a.lost_wh
            .unwrap_or(0.0)
            .total_cmp(&b.lost_wh.unwrap_or(0.0))
    });
    let left = evidence
        .accounts
        .reductions
        .iter()
        .max_by_key(|r| r.shown_on.len())
        .map(|r| r.left);
    let first = short.first().map(|d| d.date.clone());
    let last = short.last().map(|d| d.date.clone());
    let level = left.map_or(String::new(), |l| {
        format!(
            " On its clear hours the array gave only {} of what it gives when well.",
            percent(&l)
        )
    });
    let span = match (&first, &last) {
        (Some(a), Some(b)) if a != b => format!("between {} and {}", date(a), date(b)),
        (Some(a), _) => format!("on {}", date(a)),
        _ => String::new(),
    };
    Finding {
        kind: RULE.kind.to_owned(),
        severity: Severity::Fix,
        confidence,
        r#where: match evidence.design.controllers.len() {
            0..=1 => "the panels and their wiring to the controller",
            _ => "the panels and their wiring to the controllers",
        }
        .to_owned(),
        from: first,
        to: last,
        days: short.iter().map(|d| d.date.clone()).collect(),
        lost_wh_per_day: Some(per_day),
        part_of: None,
        summary: format!(
            "On {} {span} the panels brought less than the sky offered, and the bank would have taken it: {} lost in all.{level}",
            days(short.len()),
            ranged(&lost, "Wh")
        ),
        evidence: [
            ("lost_wh".to_owned(), json!(lost)),
            ("worst_day".to_owned(), json!(worst.map(|d| d.date.clone()))),
            ("level_left".to_owned(), json!(left)),
            ("clear_hours".to_owned(), json!(clear_hours)),
        ]
        .into(),
        why: reasons(evidence, short, clear_hours),
        also_possible: also_possible(evidence),
        next_check: next_check(evidence),
        chart: Some("charts/days.svg".to_owned()),
    }
}

fn sum_lost(short: &[&Day]) -> Interval {
    let part = |pick: fn(&Interval) -> f64| -> f64 {
        short
            .iter()
            .filter_map(|d| d.intervals.get("lost_wh"))
            .map(pick)
            .sum()
    };
    Interval::new(part(|i| i.value), part(|i| i.low), part(|i| i.high))
}

fn reasons(evidence: &Evidence, short: &[&Day], clear_hours: f64) -> Vec<String> {
    let y = &evidence.accounts.yardsticks;
    let clear = &evidence.expected.clear;
    let well = clear
        .days
        .iter()
        .flatten()
        .filter(|d| d.ratio / clear.healthy > WELL)
        .count();
    let mut why = vec![
        if clear_hours > 0.0 {
            format!(
                "It rests on {clear_hours:.1} clear hours of the short spell and on {} of clear weather on which the array was well.",
                days(well)
            )
        } else {
            "What is missing lies in the hours in which the array was shaded or gave nothing at all; the sky in them is drawn from the hours beside them.".to_owned()
        },
        format!(
            "A day counts as short when the lower bound of its loss is above 10 % of what was on offer and above {} Wh, the smallest loss worth a job here.",
            about(y.worth_a_job_wh)
        ),
    ];
    if let Some(visible) = y.smallest_visible_wh {
        why.push(format!(
            "The smallest loss this log can show is about {} Wh a day.",
            about(visible)
        ));
    }
    let full = evidence.in_state(DayState::Full).len();
    let dull = evidence.in_state(DayState::Dull).len();
    why.push(format!(
        "{} with a bank that took no more and {} under a dull sky were left out of the charge; {} of {} days are short.",
        days(full),
        days(dull),
        short.len(),
        evidence.accounts.days.len()
    ));
    if let Some(text) = voltage_reason(evidence, short) {
        why.push(text);
    }
    why
}

/// Current low at normal voltage points to something in parallel, low voltage to something in series.
fn voltage_reason(evidence: &Evidence, short: &[&Day]) -> Option<String> {
    let volts = evidence.expected.signals.array_v.as_ref()?;
    let grid = &evidence.expected.grid;
    let clear = &evidence.expected.clear;
    let mean = |wanted: bool| -> Option<f64> {
        let seen: Vec<f64> = (0..grid.moments)
            .filter(|m| clear.clear[*m])
            .filter(|m| {
                let iso = grid.dates[grid.day_of(*m)].to_string();
                short.iter().any(|d| d.date == iso) == wanted
            })
            .filter_map(|m| volts.mean(m))
            .collect();
        crate::stats::quantile::median(&seen)
    };
    let (faulty, well) = (mean(true)?, mean(false)?);
    let share = faulty / well;
    let reading = if share > 0.9 {
        "the voltage is as on good days while the current is low, which points to something lost in parallel: a string, a panel of a parallel pair, a connector, a fuse, or dirt and shade over the whole"
    } else {
        "the voltage is low too, which points to something lost in series: a panel or part of one bridged by its bypass diodes, or hard shade"
    };
    Some(format!(
        "In clear hours the array stood at {} V on short days and {} V on good ones: {reading}.",
        about(faulty),
        about(well)
    ))
}

fn also_possible(evidence: &Evidence) -> Vec<String> {
    let mut other = vec![
        "shade through the whole day, from a tree, an awning or a neighbour, at that berth or pitch".to_owned(),
        "dirt, leaves or snow that came in one go".to_owned(),
        "a controller that works beside the best point, or was set differently on those days".to_owned(),
    ];
    if !evidence.design.place.legs.is_empty() {
        other.push("a place, tilt or heading other than the design's legs say".to_owned());
    }
    other
}

fn next_check(evidence: &Evidence) -> NextCheck {
    let array = &evidence.design.arrays[0];
    let per_string = match array.panel.imp_a {
        Some(imp) => format!(
            "about {} A at a high, clear noon, and the same in each string",
            about(imp * 0.8)
        ),
        None => "the same current in each string".to_owned(),
    };
    let (healthy, faulty) = if array.strings_in_parallel > 1 {
        (
            per_string,
            "one string at or near 0 A while the others work".to_owned(),
        )
    } else {
        (
            "each panel's open-circuit voltage within 5 % of its neighbour's and of the label, a little less when hot".to_owned(),
            "one panel a third or two thirds low, or nothing at all".to_owned(),
        )
    };
    NextCheck {
        tool: if array.strings_in_parallel > 1 {
            "a clamp meter for direct current".to_owned()
        } else {
            "a voltmeter".to_owned()
        },
        r#where: if array.strings_in_parallel > 1 {
            "round one conductor of each string, where the strings join, on a clear noon with the bank low".to_owned()
        } else {
            "each panel's own leads, unplugged after the array has been switched off, on a clear noon".to_owned()
        },
        healthy,
        faulty,
        then: "follow the weak string or panel from connector to connector and its fuse; look for dirt and for shade at that hour; mend, then compare the next clear day".to_owned(),
        caution: CAUTION.to_owned(),
    }
}

/// How it stands in the verdict.
fn stands(evidence: &Evidence, finding: &Finding) -> Option<Cause> {
    // A bank that took no more missed nothing.
    if evidence.short_beside_the_limit().is_empty() {
        return None;
    }
    Some(Cause {
        wh_per_day: finding.lost_wh_per_day.map_or(0.0, |i| i.value),
        clause: clause(evidence, finding),
    })
}

fn clause(evidence: &Evidence, finding: &Finding) -> String {
    let level = evidence
        .accounts
        .reductions
        .iter()
        .max_by_key(|r| r.shown_on.len())
        .map(|r| {
            format!(
                " the panels gave only {} of what that sky should bring",
                percent(&r.left)
            )
        })
        .unwrap_or_else(|| " the panels gave less than the sky offered".to_owned());
    let last = evidence.accounts.days.iter().rev().find(|d| d.judged);
    let since = match (&finding.from, &finding.to) {
        (Some(from), Some(to)) if from == to => format!("on {}", date(from)),
        (Some(from), Some(to)) if last.is_some_and(|day| day.date > *to) => {
            format!("between {} and {}", date(from), date(to))
        }
        (Some(from), _) => format!("from {}", date(from)),
        _ => String::new(),
    };
    let lost = finding.lost_wh_per_day.map_or(String::new(), |i| {
        format!(", {}", evidence.lost_told(&i, &finding.days))
    });
    format!("{since}{level}{lost}")
}
