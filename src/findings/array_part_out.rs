//! One of several strings, panels or arrays that gives nothing.

use serde_json::json;

use crate::account::part::{self, PartOut};
use crate::expect::Regime;
use crate::findings::panel_care::CAUTION;
use crate::findings::{Cause, Evidence, Outcome, Rule};
use crate::quantity::Interval;
use crate::report::model::{Confidence, DayState, Finding, Limiting, NextCheck, Severity};
use crate::words::{about, date, days, percent, upper_first};

pub(super) const RULE: Rule = Rule {
    kind: "array-part-out",
    area: Limiting::Array,
    meaning: "One of several strings, panels or arrays gives nothing: a connector, a fuse, a cable or a panel has failed.",
    decided: "The level of the clear, unheld hours steps down, from one day to another, to what the array's make-up leaves without one of its parts (within 4 % or the level's own 90 % interval, whichever is wider, and no other part leaving the same), with the clear shape of the day intact: one level (or a straight rise or fall, as of panels askew) within 6 %, and hardly an hour that is not clear. It must show on two days, or over three clear hours of one. Where several controllers were logged apart, one that gives less than a twentieth of what the others' level would bring it, over two hours in which the bank took all, on two days (or four hours on one), is out, whatever the sky. Where the array's voltage was logged it must agree: as usual for a part in parallel, lower by the same share for one in series. In a log without one well day only a level below 67 % of label power, more than dirt takes, counts, and only where one part alone can leave it.",
    limits: "Needs the controller's output and clear hours with a bank that took all. A part smaller than about a tenth of the array does not show. In a log that never saw the array well, all-over dirt or a wrong label power can look the same.",
    cause: stands,
    follows_from: &[],
    look,
};

fn look(evidence: &Evidence) -> Outcome {
    if part::levels_left(evidence.design).is_empty() {
        return Outcome::NotApplicable;
    }
    if evidence.expected.signals.harvest.is_none() || !evidence.expected.clear.calibrated {
        return Outcome::CannotTell {
            text: "whether a part of the array is out: there are fewer than two clear hours in which the controller's output shows what the array could give".to_owned(),
            needs: "the controller's output on one clear day with the bank low; or each string's current with a clamp meter at a clear noon".to_owned(),
        };
    }
    let Some(out) = main(evidence) else {
        return without(evidence);
    };
    if evidence.unexplained_share() > evidence.design.judging.unexplained_most {
        return Outcome::CannotTell {
            text: format!(
                "{} may be out, but {:.0} % of the offer is unexplained, too much to say so",
                out.what,
                100.0 * evidence.unexplained_share()
            ),
            needs: "each string's current with a clamp meter at a clear noon".to_owned(),
        };
    }
    Outcome::Found(Box::new(finding(evidence, &out)))
}

fn without(evidence: &Evidence) -> Outcome {
    let levels: Vec<f64> = evidence
        .expected
        .clear
        .days
        .iter()
        .flatten()
        .map(|d| d.ratio)
        .collect();
    let low = levels.iter().copied().fold(f64::INFINITY, f64::min);
    let high = levels.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if evidence.accounts.reductions.is_empty() {
        return Outcome::Fine(format!(
            "on {} with clear, unheld hours the array gave {:.0} to {:.0} % of the design, without a step to what a missing part would leave",
            days(levels.len()),
            100.0 * low,
            100.0 * high
        ));
    }
    let missing: Vec<String> = part::levels_left(evidence.design)
        .iter()
        .map(|left| format!("{:.0}", 100.0 * left))
        .collect();
    Outcome::CannotTell {
        text: format!(
            "whether a part of the array is out: its clear hours gave {:.0} to {:.0} % of the design, and the loss of a part would leave {} % of what it gives when well",
            100.0 * low,
            100.0 * high,
            missing.join(" or ")
        ),
        needs: "each string's current, or each panel's, with a clamp meter at a clear noon"
            .to_owned(),
    }
}

/// Spells that are explained by a part gone.
pub(super) fn all(evidence: &Evidence) -> Vec<PartOut> {
    part::find(
        evidence.design,
        evidence.expected,
        &evidence.accounts.reductions,
    )
}

/// The one with most clear hours.
fn main(evidence: &Evidence) -> Option<PartOut> {
    all(evidence)
        .into_iter()
        .max_by(|a, b| a.clear_h.total_cmp(&b.clear_h))
}

/// Days of a spell, from the earliest on which it may have begun.
fn span(evidence: &Evidence, out: &PartOut) -> std::ops::RangeInclusive<usize> {
    let spell = &evidence.accounts.reductions[out.spell];
    spell.earliest.min(spell.first)..=spell.last
}

/// What the array step of the account holds on some days, without the hours in which no array at all
/// gave anything, Wh a judged day.
pub(super) fn array_loss(evidence: &Evidence, counts: impl Fn(usize) -> bool) -> Interval {
    let expected = evidence.expected;
    evidence.mean_over_judged(|m| {
        let part = expected.regimes[m] != Regime::Disconnected && counts(expected.grid.day_of(m));
        part.then(|| evidence.accounts.attribution.array[m])
    })
}

fn confidence(out: &PartOut) -> Confidence {
    match (out.from_start, out.shown_on.len(), out.clear_h) {
        (false, 2.., h) if h >= 5.0 => Confidence::High,
        (true, ..2, _) => Confidence::Low,
        _ => Confidence::Medium,
    }
}

fn finding(evidence: &Evidence, out: &PartOut) -> Finding {
    let spell = &evidence.accounts.reductions[out.spell];
    let dates = &evidence.expected.grid.dates;
    let iso = |day: usize| dates[day].to_string();
    let days_out = span(evidence, out);
    let lost = array_loss(evidence, |d| days_out.contains(&d));
    let since = iso(if out.from_start {
        first_readable(evidence)
    } else {
        spell.first
    });
    let open_start = !out.from_start && spell.earliest < spell.first;
    let to = iso(spell.last);
    let listed: Vec<String> = days_out.clone().map(iso).collect();
    Finding {
        kind: RULE.kind.to_owned(),
        severity: evidence.severity_of_loss(lost, &listed),
        confidence: confidence(out),
        r#where: format!("{}, with its connectors, fuse and cable", out.what),
        from: Some(since.clone()),
        to: Some(to.clone()),
        days: listed.clone(),
        lost_wh_per_day: Some(lost),
        part_of: None,
        summary: format!(
            "{} {}.",
            upper_first(&claim(evidence, out)),
            evidence.lost_told(&lost, &listed)
        ),
        evidence: [
            ("fraction_out".to_owned(), json!(out.fraction_out)),
            ("since".to_owned(), json!(since)),
            (
                "since_earliest".to_owned(),
                json!(open_start.then(|| iso(spell.earliest))),
            ),
            ("until".to_owned(), json!(to)),
            ("level_left".to_owned(), json!(out.level)),
            ("array_voltage_share".to_owned(), json!(out.volts)),
        ]
        .into(),
        why: reasons(evidence, out),
        also_possible: also_possible(out),
        next_check: next_check(evidence, out),
        chart: Some("charts/days.svg".to_owned()),
    }
}

/// The first day with enough readings.
fn first_readable(evidence: &Evidence) -> usize {
    let days = &evidence.accounts.days;
    days.iter()
        .position(|d| d.state != DayState::Unmeasured)
        .unwrap_or(0)
}

fn claim(evidence: &Evidence, out: &PartOut) -> String {
    let spell = &evidence.accounts.reductions[out.spell];
    let dates = &evidence.expected.grid.dates;
    let last = dates.len().saturating_sub(1);
    // Between the last day seen well and the first seen reduced there may be days that showed neither.
    let latest = if spell.earliest < spell.first {
        " at the latest"
    } else {
        ""
    };
    let when = match (out.from_start, spell.last < last) {
        (true, false) => "through the whole log".to_owned(),
        (true, true) => format!("until {}", date(&dates[spell.last].to_string())),
        (false, false) => {
            format!("from {}{latest}", date(&dates[spell.first].to_string()))
        }
        (false, true) => format!(
            "from {}{latest} to {}",
            date(&dates[spell.first].to_string()),
            date(&dates[spell.last].to_string())
        ),
    };
    let of = if out.from_start {
        "of the design"
    } else {
        "of the array"
    };
    format!(
        "{when} {} gave nothing: {} {of} was left,",
        out.what,
        percent(&out.level)
    )
}

/// Why, where a controller's arrays gave nothing beside another's.
fn branch_reasons(out: &PartOut, days: &str) -> Vec<String> {
    vec![
        format!(
            "In {} hours on {days} in which the bank took all there was, {} gave less than a twentieth of what it would have given at the others' level: all stand under one sky, so it is no cloud.",
            about(out.clear_h),
            out.what,
        ),
        format!(
            "By where its panels look and what they are rated, it has {:.0} % of those days' offer.",
            100.0 * out.fraction_out
        ),
    ]
}

/// Why, where the part looks elsewhere than the rest.
fn plane_reasons(out: &PartOut, days: &str, own: f64, whole: f64) -> Vec<String> {
    vec![
        format!(
            "In {} clear, unheld hours on {days} the output ran as that of the rest of the panels does: against what those would give it kept one level within {:.0} %, against all panels together it was {:.0} % out.",
            about(out.clear_h),
            100.0 * own.max(0.01),
            100.0 * whole
        ),
        format!(
            "{} looks elsewhere than the rest, so the hours in which the output is missing are its own. It is {:.0} % of the label power; of those days' offer {} was left.",
            upper_first(&out.what),
            100.0 * out.fraction_out,
            percent(&out.level)
        ),
    ]
}

fn reasons(evidence: &Evidence, out: &PartOut) -> Vec<String> {
    let list: Vec<String> = out
        .shown_on
        .iter()
        .map(|d| date(&evidence.expected.grid.dates[*d].to_string()))
        .collect();
    if out.branch {
        return branch_reasons(out, &list.join(", "));
    }
    if let Some((own, whole)) = out.shape {
        return plane_reasons(out, &list.join(", "), own, whole);
    }
    let left = 100.0 * (1.0 - out.fraction_out);
    let mut why = vec![format!(
        "In {} clear, unheld hours on {} the output kept the shape of a clear day at {} of {}; without {} the make-up of the array leaves {left:.0} %.",
        about(out.clear_h),
        list.join(", "),
        percent(&out.level),
        if out.from_start {
            "the design"
        } else {
            "its own level on well days"
        },
        out.what
    )];
    let spell = &evidence.accounts.reductions[out.spell];
    if !out.from_start && spell.earliest < spell.first {
        why.push(format!(
            "The days from {} on had no clear, unheld hours, so it may have begun on any of them.",
            date(&evidence.expected.grid.dates[spell.earliest].to_string())
        ));
    }
    if out.from_start {
        why.push("No day of this log saw the array well. An array inside its allowance gives 80 to 102 % of its label, and dirt takes a quarter at most; this is less.".to_owned());
    }
    why.push(match out.volts {
        Some(volts) if volts > 0.9 => format!(
            "The array's voltage was {:.0} % of its usual one: the current is missing, so the part is one in parallel.",
            100.0 * volts
        ),
        Some(volts) => format!(
            "The array's voltage was {:.0} % of its usual one, lower by the same share as the output: the part is one in series.",
            100.0 * volts
        ),
        None => "The array's voltage was not logged, or tells nothing here; with it a part in parallel could be told from one in series.".to_owned(),
    });
    why
}

fn also_possible(out: &PartOut) -> Vec<String> {
    if out.branch {
        return [
            "the controller itself, switched off or broken",
            "its fuse or breaker, towards the array or towards the bank",
            "a set voltage so low that it never begins while the other one charges",
            "snow, leaves or a cover on all of its panels",
        ]
        .map(str::to_owned)
        .to_vec();
    }
    let mut list = vec![
        "shade through the whole day on just that share of the panels".to_owned(),
        "leaves, snow or a cover on just that part".to_owned(),
    ];
    if out.from_start {
        list.push("a label power in the design that is too high".to_owned());
        list.push("heavy dirt, or old panels".to_owned());
    } else {
        list.push("another tilt, heading or place from that day on".to_owned());
    }
    list
}

/// How many strings should show no current, of an array that has a share of the label power.
fn strings_dead(out: &PartOut, strings: u32, share: f64) -> String {
    let dead = (out.fraction_out / share * f64::from(strings))
        .round()
        .max(1.0);
    let which = if dead < 1.5 {
        "one string".to_owned()
    } else {
        format!("{dead:.0} strings")
    };
    format!("{which} at or near 0 A while the others work")
}

/// Where a controller's arrays are dead: at its own terminals, both sides.
fn branch_check() -> NextCheck {
    NextCheck {
        tool: "a voltmeter".to_owned(),
        r#where: "that controller's array terminals, then its bank terminals, by day with the sun on its panels".to_owned(),
        healthy: "at the array's side more than at the bank's, and at the bank's side the bank's own voltage".to_owned(),
        faulty: "nothing at the array's side: its disconnect, fuse, connectors or cable; nothing at the bank's: the fuse there; both right and no current: the controller or its settings".to_owned(),
        then: "mend what the voltage is lost across, with both sides switched off first as the controller's maker orders; then compare the next clear day".to_owned(),
        caution: CAUTION.to_owned(),
    }
}

fn next_check(evidence: &Evidence, out: &PartOut) -> NextCheck {
    if out.branch {
        return branch_check();
    }
    let array = &evidence.design.arrays[out.array.unwrap_or(0)];
    let parallel = array.strings_in_parallel > 1 && out.volts.is_none_or(|v| v > 0.9);
    let (tool, place, healthy, faulty) = if parallel {
        let amps = array.panel.imp_a.map_or_else(
            || "the same current in each string".to_owned(),
            |imp| {
                format!(
                    "about {} A at a high, clear noon, and the same in each string",
                    about(0.8 * imp)
                )
            },
        );
        (
            "a clamp meter for direct current",
            "round one conductor of each string, where the strings join, on a clear noon with the bank low",
            amps,
            strings_dead(
                out,
                array.strings_in_parallel,
                array.power_w() / evidence.design.array_w(),
            ),
        )
    } else {
        (
            "a voltmeter",
            "each panel's own leads, unplugged after the array has been switched off, on a clear noon",
            "each panel's open voltage within 5 % of its neighbour's and of the label, a little less when hot".to_owned(),
            "one panel a third or two thirds low, or nothing at all".to_owned(),
        )
    };
    NextCheck {
        tool: tool.to_owned(),
        r#where: place.to_owned(),
        healthy,
        faulty,
        then: "follow the dead part from connector to connector and its fuse; a connector that is warm, brown or loose is the first suspect; mend, then compare the next clear day".to_owned(),
        caution: CAUTION.to_owned(),
    }
}

/// How it stands in the verdict: when, what, and what it costs.
fn stands(evidence: &Evidence, finding: &Finding) -> Option<Cause> {
    let out = main(evidence)?;
    let lost = finding.lost_wh_per_day?;
    (finding.severity <= Severity::Fix).then(|| Cause {
        wh_per_day: lost.value,
        clause: format!(
            "{} {}",
            claim(evidence, &out),
            evidence.lost_told(&lost, &finding.days)
        ),
    })
}
