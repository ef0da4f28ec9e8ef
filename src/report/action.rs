//! What to do next: the finding that comes first, its job in a sentence, and what there is to do without one.

use super::format;
use super::model::{Finding, Limiting, NextCheck, Report};
use super::words;

/// The finding whose check comes first.
pub(super) fn first_action(report: &Report) -> Option<&Finding> {
    let kind = report.verdict.first_action.as_ref()?;
    report.findings.iter().find(|f| &f.kind == kind)
}

/// The findings to act on after the first, with their place in the report's list.
pub(super) fn next_actions(report: &Report) -> Vec<(usize, &Finding)> {
    report
        .verdict
        .actions
        .iter()
        .skip(1)
        .filter_map(|kind| {
            let at = report.findings.iter().position(|f| &f.kind == kind)?;
            Some((at, &report.findings[at]))
        })
        .collect()
}

/// What there is to do where no finding asks for anything: nothing, or to log more.
pub(super) fn without_check(report: &Report) -> Option<(&'static str, &'static str)> {
    if first_action(report).is_some() {
        return None;
    }
    match report.verdict.limiting {
        Limiting::Nothing => Some((
            "nothing to do",
            "Nothing needs mending. Keep the log running, and look again in another season or after a change.",
        )),
        Limiting::Log => Some((
            "log more",
            "This log does not say what is wrong, or whether anything is: mend nothing and buy nothing on this report.",
        )),
        Limiting::Sun => Some((
            "nothing to mend",
            "No fault was found. More charge takes less use, another source or more panels.",
        )),
        Limiting::Use => Some((
            "nothing to mend",
            "No fault was found. Less use, other hours for it, more panels or another source: weighing the options of the design says what each would change.",
        )),
        _ => None,
    }
}

/// What to do, and with what: the sentence a check begins with.
pub(super) fn job(finding: &Finding) -> String {
    let tool = finding.next_check.tool.trim().trim_end_matches('.');
    let job = words::job(&finding.kind);
    if tool.is_empty() {
        format!("{job}.")
    } else {
        format!("{job}, with {tool}.")
    }
}

/// The lines of a check after its first sentence, those that say nothing left out.
pub(super) fn check_lines(check: &NextCheck) -> Vec<(&'static str, &str)> {
    [
        ("where", check.r#where.as_str()),
        ("healthy", &check.healthy),
        ("faulty", &check.faulty),
        ("then", &check.then),
        ("caution", &check.caution),
    ]
    .into_iter()
    .filter(|(_, text)| !text.trim().is_empty())
    .collect()
}

/// Of which days a finding's loss a day is the mean.
pub(super) fn mean_over(report: &Report) -> String {
    let judged = report.days.iter().filter(|d| d.judged).count();
    format!("the mean of all {}", format::count(judged, "judged day"))
}
