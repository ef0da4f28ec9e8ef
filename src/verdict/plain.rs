//! Verdicts without a cause: nothing limits, or too little was logged to say.

use super::told::{clause, danger_first, story};
use crate::findings::Evidence;
use crate::findings::catalogue::{Found, rule};
use crate::report::model::{Confidence, Day, Finding, Limiting, Severity, Verdict};
use crate::words::{about, date, days, lower_first};

/// Days named of an account that does not close.
const MOST_DAYS: usize = 4;

/// A day of whose offer this share has no cause is not understood,
const TORN: f64 = 0.25;
/// and so many of them leave room for a fault.
const TORN_DAYS: usize = 2;

/// A row at least so often, s: clouds and a controller's limit show in it.
const LONGEST_STEP_S: f64 = 300.0;

pub(super) fn nothing(evidence: &Evidence, found: &Found) -> Verdict {
    let n = evidence.readable().count();
    let full = evidence
        .accounts
        .charge
        .full_days
        .iter()
        .filter(|f| **f)
        .count();
    let faults: Vec<&Finding> = found
        .findings
        .iter()
        .filter(|f| rule(&f.kind).is_some_and(|r| r.area != Limiting::Log))
        .collect();
    // A log that misleads is mended before its figures are believed, whatever they say.
    let misleads = |f: &&Finding| f.severity <= Severity::Fix && !faults.contains(f);
    let of_log: Vec<&Finding> = found.findings.iter().filter(misleads).collect();
    let mut faults: Vec<&Finding> = faults.iter().copied().chain(of_log).collect();
    faults.sort_by_key(|f| f.severity);
    // An account that does not close acquits no more than it condemns.
    if is_open(evidence) {
        return left_open(
            evidence,
            evidence.unexplained_share(),
            faults.first().copied(),
        );
    }
    let all = evidence.accounts.days.len();
    // Days without readings are not spoken for.
    let span = if n == all {
        days(n)
    } else {
        format!("the {n} of {} with enough readings", days(all))
    };
    let text = match faults.first() {
        Some(finding) => with_remark(finding),
        None if evidence.accounts.attribution.estimated => format!(
            "Nothing that the bank's own figures show over {} needs mending; whether the panels give what they should takes the controller's log.",
            span
        ),
        None if !evidence.accounts.charge.can_tell => format!(
            "Nothing that this log can show needs mending, over {}.",
            span
        ),
        None if !evidence.expected.clear.calibrated => format!(
            "Nothing needs mending as far as this log shows: over {} the bank was full on {}. Whether the panels give all they should nobody saw: there were fewer than two clear hours in which the bank took it.",
            span,
            days(full)
        ),
        None => format!(
            "Nothing needs mending: over {} the panels gave what the sky offered as far as the bank took it, and the bank was full on {}.",
            span,
            days(full)
        ),
    };
    let calibrated = evidence.expected.clear.calibrated && !evidence.accounts.attribution.estimated;
    let misled = faults
        .first()
        .is_some_and(|f| rule(&f.kind).is_some_and(|r| r.area == Limiting::Log));
    // What was not logged may hide what it likes.
    let gaps = found.findings.iter().any(|f| f.kind == "log-gaps");
    let confidence = match n {
        5.. if calibrated && !misled && !gaps && torn_days(evidence) < TORN_DAYS => {
            Confidence::High
        }
        // A bank full day after day needs no clear hours to be believed.
        5.. if calibrated || 2 * full >= n => Confidence::Medium,
        _ => Confidence::Low,
    };
    Verdict {
        limiting: Limiting::Nothing,
        severity: faults.first().map_or(Severity::Fine, |f| f.severity),
        text,
        confidence,
        first_action: faults.first().map(|f| f.kind.clone()),
        actions: faults.first().map(|f| f.kind.clone()).into_iter().collect(),
        // A healthy log's report is calm: nothing has to be set aside where nothing is held against anything.
        story: if faults.is_empty() {
            Vec::new()
        } else {
            story(evidence, found, &[])
        },
    }
}

/// Days of which a good part of the offer has no cause.
fn torn_days(evidence: &Evidence) -> usize {
    let is_torn = |day: &&Day| {
        let (open, offered) = (day.unexplained_wh, day.offered_wh);
        open.unwrap_or(0.0).abs() > TORN * offered.unwrap_or(0.0).max(1.0)
    };
    evidence.readable().filter(is_torn).count()
}

/// Whether more of the offer has no cause than a fault may be named on.
pub(super) fn is_open(evidence: &Evidence) -> bool {
    !evidence.accounts.attribution.estimated
        && evidence.unexplained_share() > evidence.design.judging.unexplained_most
}

/// An account too much of which has no cause for a verdict either way, with the gravest of what was found
/// that takes nothing.
fn left_open(evidence: &Evidence, share: f64, beside: Option<&Finding>) -> Verdict {
    let accounts = &evidence.accounts.days;
    let unexplained = |day: &Day| day.unexplained_wh.unwrap_or(0.0);
    let sum: f64 = accounts.iter().map(unexplained).sum();
    let what = if sum < 0.0 {
        "of what the sky offered is missing, and nothing in this log says why"
    } else {
        "more came than the design and the sky account for, and nothing in this log says why"
    };
    let mut most: Vec<&Day> = accounts
        .iter()
        .filter(|d| unexplained(d) * sum > 0.0)
        .collect();
    most.sort_by(|a, b| unexplained(b).abs().total_cmp(&unexplained(a).abs()));
    most.truncate(MOST_DAYS);
    most.sort_by(|a, b| a.date.cmp(&b.date));
    let listed: Vec<String> = most.iter().map(|d| date(&d.date)).collect();
    let open = format!(
        "The account does not close: over {} {:.0} % {what}.",
        days(accounts.len()),
        100.0 * share
    );
    let text = match beside {
        Some(danger) if danger.severity == Severity::Stop => {
            format!(
                "{} Besides that: {}",
                danger_first(danger),
                lower_first(&open)
            )
        }
        Some(other) => format!("{open} Seen beside it: {}.", clause(&other.summary)),
        None => format!("{open} No fault was found, and none is ruled out."),
    };
    let action = beside.map(|f| f.kind.clone());
    Verdict {
        limiting: Limiting::Log,
        severity: beside.map_or(Severity::Watch, |f| f.severity.min(Severity::Watch)),
        text,
        confidence: Confidence::Low,
        first_action: action.clone(),
        actions: action.into_iter().collect(),
        story: vec![
            format!("Most of it falls on {}.", listed.join(", ")),
            "To settle it: see that the clock and the design (panels, tilt, facing, place) are right; then, at a clear noon with the bank low, hold each panel's or string's current and voltage against its label.".to_owned(),
        ],
    }
}

/// Nothing limits, but something is to be said first.
fn with_remark(finding: &Finding) -> String {
    match finding.severity {
        Severity::Stop => format!(
            "{} Besides that, nothing holds the charging back.",
            danger_first(finding)
        ),
        Severity::Fix => format!(
            "Nothing holds the charging back, but one thing is to be mended: {}.",
            clause(&finding.summary)
        ),
        _ => format!(
            "Nothing holds the charging back; one thing to watch: {}.",
            clause(&finding.summary)
        ),
    }
}

/// A log that can be read but not judged.
/// Too few days could be judged; what was found all the same is not kept back.
pub(super) fn too_little(evidence: &Evidence, found: &Found, judged: usize) -> Verdict {
    let n = evidence.accounts.days.len();
    let measured: f64 = evidence.accounts.attribution.harvest.iter().sum();
    let seen = if measured > 0.5 {
        let (amount, unit) = if measured < 10_000.0 {
            (measured, "Wh")
        } else {
            (measured / 1000.0, "kWh")
        };
        format!(" About {} {unit} were harvested in it.", about(amount))
    } else {
        String::new()
    };
    let to_mend = found
        .findings
        .iter()
        .find(|f| f.severity <= Severity::Fix && f.part_of.is_none());
    let all_the_same = to_mend.map_or_else(String::new, |f| {
        format!(" Found all the same: {}.", clause(&f.summary))
    });
    Verdict {
        limiting: Limiting::Log,
        severity: to_mend.map_or(Severity::Watch, |f| f.severity),
        text: format!(
            "This log is too little to judge the system by: {} of {} can be judged, and it takes at least {}.{seen}{all_the_same}",
            judged,
            days(n),
            evidence.design.judging.verdict_days
        ),
        confidence: Confidence::Low,
        first_action: to_mend.map(|f| f.kind.clone()),
        actions: to_mend.map(|f| f.kind.clone()).into_iter().collect(),
        story: vec![better_log(evidence)],
    }
}

/// How to log so that the next report can tell: what this log lacks, by its own columns and step.
fn better_log(evidence: &Evidence) -> String {
    let signals = &evidence.expected.signals;
    let mut wanted: Vec<String> = Vec::new();
    let mut columns = Vec::new();
    if signals.bank_v.is_none() || signals.bank_a.is_none() {
        columns.push("the bank's volts and amperes");
    }
    if signals.harvest.is_none() {
        columns.push("the controller's output in volts and amperes, or in watts");
    }
    if !columns.is_empty() {
        wanted.push(format!("add {}", columns.join(" and ")));
    }
    let steps = evidence.timeline.channels.iter().map(|c| c.step_s);
    if steps.reduce(f64::max).is_none_or(|s| s > LONGEST_STEP_S) {
        wanted.push("write a row every minute to five minutes".to_owned());
    }
    wanted.push(
        "begin with a full charge and let it run day and night through at least a week with some sun".to_owned(),
    );
    format!("To log better next time: {}.", wanted.join("; "))
}
