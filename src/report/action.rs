//! What to do next: the finding that comes first, its job in a sentence, and what there is to do without one.

use super::format;
use super::model::{Finding, Limiting, NextCheck, Report, Severity};
use super::words;
use crate::words::lower_first;

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

/// The finding that explains this one, where one in the report does.
pub(super) fn root<'a>(report: &'a Report, finding: &Finding) -> Option<&'a Finding> {
    let kind = finding.part_of.as_ref()?;
    report.findings.iter().find(|f| &f.kind == kind)
}

/// What a finding comes from, in a sentence.
pub(super) fn comes_from(report: &Report, finding: &Finding) -> Option<String> {
    let root = root(report, finding)?;
    Some(format!(
        "Comes from: {}. Mend that first.",
        lower_first(&words::finding(&root.kind))
    ))
}

/// Whether a finding's own check is told: not where another finding in the same part of the system explains
/// it, whose check looks for the same loss and knows better where.
pub(super) fn has_own_check(report: &Report, finding: &Finding) -> bool {
    let explained = root(report, finding)
        .is_some_and(|root| words::group(&root.kind) == words::group(&finding.kind));
    !explained || finding.severity == Severity::Stop
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::demo;

    /// A report in which one finding explains another.
    fn explained(root: &str, kind: &str) -> Report {
        let mut report = demo::faulty();
        let mut first = report.findings[0].clone();
        first.kind = root.into();
        let mut second = first.clone();
        second.kind = kind.into();
        second.severity = Severity::Fix;
        second.part_of = Some(root.into());
        report.findings = vec![first, second];
        report
    }

    #[test]
    fn of_two_findings_on_one_part_of_the_system_the_root_alone_has_a_check() {
        let mut report = explained("shade-repeating", "harvest-short");
        assert_eq!(
            comes_from(&report, &report.findings[1]).as_deref(),
            Some("Comes from: shade at the same hour. Mend that first.")
        );
        assert_eq!(comes_from(&report, &report.findings[0]), None);
        assert!(has_own_check(&report, &report.findings[0]));
        assert!(!has_own_check(&report, &report.findings[1]));
        report.findings[1].severity = Severity::Stop;
        assert!(has_own_check(&report, &report.findings[1]));
        let elsewhere = explained("shade-repeating", "bank-drained");
        assert!(has_own_check(&elsewhere, &elsewhere.findings[1]));
    }

    #[test]
    fn a_root_that_is_not_in_the_report_explains_nothing() {
        let mut report = explained("shade-repeating", "harvest-short");
        report.findings.remove(0);
        assert_eq!(comes_from(&report, &report.findings[0]), None);
        assert!(has_own_check(&report, &report.findings[0]));
    }
}
