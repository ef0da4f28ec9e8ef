//! The bank was not full for too long, and what the log suggests stands in the way.

use serde_json::json;

use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::report::model::{Confidence, Day, DayState, Finding, Limiting, NextCheck, Severity};
use crate::words::{about, date, days};

pub(super) const RULE: Rule = Rule {
    kind: "never-full",
    area: Limiting::Battery,
    meaning: "The bank has not had a real full charge for longer than is good for it. Lead ages by it; a lithium bank's meter loses count and its cells are not balanced.",
    decided: "Full means: the bank's own voltage within 0.15 V (per 12 V) of absorption, compensated for temperature where that was logged, the bank's own current between 0 and the full current, held for 30 minutes (lead) or 5 minutes (lithium). Found when a log of at least 5 judged days holds no full charge, or the last one lies further back than the design allows (default: lead 14 days, lithium 30). A meter's 100 % and a controller's float stage are not taken as proof.",
    limits: "Needs the bank's own current and voltage. A full charge before the log began is not known.",
    cause: cause::none,
    follows_from: &[
        "drop-battery-cable",
        "absorption-short",
        "charge-voltage-low",
        "array-part-out",
        "array-dark",
        "array-weak",
        "shade-repeating",
        "harvest-short",
        "controller-limiting",
        "load-over-budget",
        "standby-high",
        "use-exceeds-harvest",
    ],
    look,
};

fn look(evidence: &Evidence) -> Outcome {
    let charge = &evidence.accounts.charge;
    if !charge.can_tell {
        return Outcome::CannotTell {
            text: "whether the bank was ever full: the bank's own current was not logged"
                .to_owned(),
            needs: "a shunt in the bank's negative lead, logged with the bank's voltage".to_owned(),
        };
    }
    let judged = evidence.readable().count();
    let span = Span::new(evidence);
    let too_long = span
        .days_since
        .is_some_and(|d| d > evidence.design.battery.max_days_between_full);
    let none =
        span.last_full.is_none() && (judged as f64) >= evidence.design.judging.never_full_days;
    if !too_long && !none {
        return if span.last_full.is_none() {
            Outcome::CannotTell {
                text: format!(
                    "whether the bank gets full in time: no full charge in {}, too few to call it never",
                    days(judged)
                ),
                needs: "a log of at least 5 days with readable daylight".to_owned(),
            }
        } else {
            Outcome::Fine(format!(
                "full on {} of {} days, last on {}",
                span.days_full,
                span.days_counted,
                span.last_full
                    .as_deref()
                    .map_or(String::new(), |s| date(&s[..10.min(s.len())]))
            ))
        };
    }
    if let Some(open) = left_open(evidence) {
        return open;
    }
    Outcome::Found(Box::new(finding(evidence, &span, judged)))
}

/// Where the design leaves the full current or the compensation to a default, and a usual value for the
/// chemistry would make recent days full, nothing is claimed.
fn left_open(evidence: &Evidence) -> Option<Outcome> {
    let charge = &evidence.accounts.charge;
    let last = charge.perhaps_full_days.iter().rposition(|f| *f)?;
    let age = charge.perhaps_full_days.len() - 1 - last;
    if charge.perhaps_full_days == charge.full_days
        || age as f64 > evidence.design.battery.max_days_between_full
    {
        return None;
    }
    let count = charge.perhaps_full_days.iter().filter(|f| **f).count();
    Some(Outcome::CannotTell {
        text: format!(
            "whether the bank gets full: with the full current or the temperature compensation taken generously it was full on {}, with the defaults taken it was not",
            days(count)
        ),
        needs: "full_current in [battery] and compensation in [controller], from the battery's data sheet and the controller's settings".to_owned(),
    })
}

struct Span {
    last_full: Option<String>,
    days_since: Option<f64>,
    days_full: usize,
    days_counted: usize,
}

impl Span {
    fn new(evidence: &Evidence) -> Self {
        let charge = &evidence.accounts.charge;
        let grid = &evidence.expected.grid;
        let end = last_covered(evidence).map_or(grid.start, |m| grid.time_of(m + 1));
        let last = charge.fulls.last().copied();
        // The last day on which a full was confirmed counts, not the first moment of a stay that went on.
        let last_day = charge.full_days.iter().rposition(|full| *full);
        let since = last.zip(last_day).map(|(instant, day)| {
            let day_start = evidence.calendar.start_of(grid.dates[day]);
            (end - instant.max(day_start)) as f64 / 86_400.0
        });
        Self {
            last_full: last.map(|at| evidence.calendar.rfc3339(at)),
            days_since: since.map(|d| (d * 10.0).round() / 10.0),
            days_full: charge.full_days.iter().filter(|f| **f).count(),
            days_counted: evidence
                .accounts
                .days
                .iter()
                .filter(|d| d.reached_full.is_some())
                .count(),
        }
    }
}

fn last_covered(evidence: &Evidence) -> Option<usize> {
    let signals = &evidence.expected.signals;
    (0..evidence.expected.grid.moments)
        .rev()
        .find(|m| signals.coverage(*m) > 0.0)
}

fn finding(evidence: &Evidence, span: &Span, judged: usize) -> Finding {
    let battery = &evidence.design.battery;
    let obstacles = obstacles(evidence);
    let claim = match (&span.last_full, span.days_since) {
        (Some(last), Some(since)) => format!(
            "The bank was last really full on {}, {} days before the log ends. {} days are the most it should go without.",
            date(&last[..10.min(last.len())]),
            about(since.floor()),
            about(battery.max_days_between_full)
        ),
        _ => format!(
            "In {} with readings the bank was never really full.",
            days(span.days_counted)
        ),
    };
    let summary = match obstacles.first() {
        Some(first) => format!("{claim} What stands in the way: {first}."),
        None => claim,
    };
    Finding {
        kind: RULE.kind.to_owned(),
        severity: if battery.chemistry.is_lead() {
            Severity::Fix
        } else {
            Severity::Watch
        },
        confidence: if judged >= 10 {
            Confidence::High
        } else {
            Confidence::Medium
        },
        r#where: "the bank".to_owned(),
        from: span
            .last_full
            .as_ref()
            .map(|s| s[..10.min(s.len())].to_owned())
            .or_else(|| evidence.accounts.days.first().map(|d| d.date.clone())),
        to: evidence.accounts.days.last().map(|d| d.date.clone()),
        days: not_full_days(evidence, span),
        lost_wh_per_day: None,
        part_of: None,
        summary,
        evidence: [
            ("last_full".to_owned(), json!(span.last_full)),
            ("days_since_full".to_owned(), json!(span.days_since)),
            ("days_full".to_owned(), json!(span.days_full)),
            ("days_counted".to_owned(), json!(span.days_counted)),
            ("in_the_way".to_owned(), json!(obstacles)),
        ]
        .into(),
        why: reasons(evidence, &obstacles),
        also_possible: vec![
            "a full charge between logs, for instance from shore power while the logger slept"
                .to_owned(),
            "a bank meter that reads low by more than 0.1 V, so that a true full stays unseen"
                .to_owned(),
            "an absorption voltage in the design that differs from the one set in the controller"
                .to_owned(),
        ],
        next_check: next_check(evidence),
        chart: Some("charts/charge.svg".to_owned()),
    }
}

fn not_full_days(evidence: &Evidence, span: &Span) -> Vec<String> {
    let after = span
        .last_full
        .as_ref()
        .map(|s| s[..10.min(s.len())].to_owned());
    evidence
        .accounts
        .days
        .iter()
        .filter(|d| d.reached_full == Some(false))
        .filter(|d| after.as_ref().is_none_or(|last| d.date > *last))
        .map(|d| d.date.clone())
        .collect()
}

/// What the log suggests stands in the way, the weightiest first, as clauses. Only days after the last
/// full charge count.
fn obstacles(evidence: &Evidence) -> Vec<String> {
    let charge = &evidence.accounts.charge;
    let from = charge
        .full_days
        .iter()
        .rposition(|f| *f)
        .map_or(0, |d| d + 1);
    let after: Vec<&Day> = evidence.accounts.days.iter().skip(from).collect();
    let n = after.len().max(1) as f64;
    let total =
        |pick: fn(&Day) -> Option<f64>| after.iter().filter_map(|d| pick(d)).sum::<f64>() / n;
    let mut found: Vec<(f64, String)> = Vec::new();
    let lost = total(|d| d.lost_wh);
    let short = after.iter().filter(|d| d.state == DayState::Short).count();
    if short > 0 {
        found.push((
            lost,
            format!(
                "on {} the panels brought less than the sky offered, about {} Wh a day",
                days(short),
                about(lost)
            ),
        ));
    }
    let held = evidence.held_short();
    if held.hours >= 1.0 && evidence.accounts.run.is_ok() {
        found.push((held.wh / n, format!(
            "for {} hours in all the controller already held its voltage while the bank stood {} V lower and still wanted charge",
            about(held.hours),
            about(held.drop_v)
        )));
    }
    if let Some(early) = left_early(evidence) {
        found.push(early);
    }
    let unfilled: Vec<&&Day> = after
        .iter()
        .filter(|d| d.state == DayState::Full && d.reached_full == Some(false))
        .collect();
    if held.hours < 1.0 && !unfilled.is_empty() {
        let wh: f64 = unfilled.iter().filter_map(|d| d.held_back_wh).sum();
        found.push((
            wh / n,
            format!(
                "on {} {}",
                days(unfilled.len()),
                if evidence.refused_wh() > 0.5 * wh {
                    "the pack refused charge, cold or protected"
                } else {
                    "the controller held its voltage though the bank was not full"
                }
            ),
        ));
    }
    let deficit = total(|d| d.load_wh) - total(|d| d.harvest_wh) - total(|d| d.other_charge_wh);
    if deficit > 0.0 {
        found.push((
            deficit,
            format!(
                "the loads took about {} Wh a day more than came in",
                about(deficit)
            ),
        ));
    }
    let dull = after.iter().filter(|d| d.state == DayState::Dull).count();
    if dull > 0 {
        let missing = after
            .iter()
            .filter(|d| d.state == DayState::Dull)
            .filter_map(|d| Some(d.clear_wh? - d.offered_wh?))
            .sum::<f64>()
            / n;
        // Weather counts for half beside what can be mended, so that a mendable cause leads.
        found.push((0.5 * missing, format!("{} under a dull sky", days(dull))));
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    found.into_iter().map(|f| f.1).collect()
}

/// The controller went from absorption to float while the bank still took more than its full current.
fn left_early(evidence: &Evidence) -> Option<(f64, String)> {
    let endings = evidence.absorption_endings()?;
    let early: Vec<_> = endings.iter().filter(|e| e.early).collect();
    if early.len() < 2 || early.len() * 2 < endings.len() {
        return None;
    }
    let mean = early.iter().map(|e| e.held_min).sum::<f64>() / early.len() as f64;
    let held = evidence.per_judged_day(evidence.held_in_float()).value;
    Some((
        held,
        format!(
            "{} times the controller left absorption after only {} minutes, before the bank was full",
            early.len(),
            about(mean)
        ),
    ))
}

fn reasons(evidence: &Evidence, obstacles: &[String]) -> Vec<String> {
    let battery = &evidence.design.battery;
    let absorption_v = evidence.expected.absorption_v;
    let mut why = vec![format!(
        "A full charge is the bank's own voltage above {:.2} V with its own current between 0 and {} A, held {}.",
        absorption_v - crate::account::charge::NEAR_ABSORPTION_V * evidence.volts_per_12(),
        about(battery.full_current_a),
        if battery.chemistry.is_lead() {
            "30 minutes"
        } else {
            "5 minutes"
        }
    )];
    why.extend(obstacles.iter().map(|o| {
        let mut chars = o.chars();
        let head: String = chars
            .next()
            .map(|c| c.to_uppercase().collect())
            .unwrap_or_default();
        format!("{head}{}.", chars.as_str())
    }));
    why
}

fn next_check(evidence: &Evidence) -> NextCheck {
    let absorption_v = evidence.expected.absorption_v;
    let full = evidence.design.battery.full_current_a;
    NextCheck {
        tool: "a voltmeter at the battery posts and the bank monitor's current".to_owned(),
        r#where: "one sunny day with loads off, from noon until the controller leaves absorption".to_owned(),
        healthy: format!(
            "{} V at the posts, and the bank's current falling below {} A before the controller goes to float",
            about_volts(absorption_v),
            about(full)
        ),
        faulty: format!(
            "posts well under {} V while the controller shows it, or a switch to float with more than {} A still flowing",
            about_volts(absorption_v),
            about(full)
        ),
        then: "mend what stands in the way first; then one full charge, from shore power if the sun won't do, and set the meter to 100 % only there".to_owned(),
        caution: "Keep to the battery maker's voltages: a higher setting can gas lead-acid (ventilate, no sparks) or trip a lithium pack. Never charge lithium below freezing, and never leave a forced charge alone.".to_owned(),
    }
}

fn about_volts(volts: f64) -> String {
    format!("{volts:.1}")
}
