//! Which findings went between two reports, which came and which stayed.

use crate::report::comparison::ComparedFinding;
use crate::report::model::Report;

/// The findings of both, those that went first; each kind once.
pub(super) fn compared(before: &Report, after: &Report) -> Vec<ComparedFinding> {
    let went = kinds(before)
        .into_iter()
        .filter(|kind| !has(after, kind))
        .map(|kind| one(kind, "went", untold(after, kind).then_some("after")));
    let came = kinds(after)
        .into_iter()
        .filter(|kind| !has(before, kind))
        .map(|kind| one(kind, "came", untold(before, kind).then_some("before")));
    let stayed = kinds(after)
        .into_iter()
        .filter(|kind| has(before, kind))
        .map(|kind| one(kind, "stayed", None));
    went.chain(came).chain(stayed).collect()
}

fn one(kind: &str, change: &str, untold: Option<&str>) -> ComparedFinding {
    // What a log cannot tell has neither gone nor come.
    let change = if untold.is_some() { "unclear" } else { change };
    let note = untold.map(|side| format!("the log {side} cannot tell"));
    ComparedFinding {
        kind: kind.to_owned(),
        change: change.to_owned(),
        note: note.unwrap_or_default(),
    }
}

/// Kinds of a report's findings, each once, in its order.
fn kinds(report: &Report) -> Vec<&str> {
    let mut kinds: Vec<&str> = Vec::new();
    for finding in &report.findings {
        if !kinds.contains(&finding.kind.as_str()) {
            kinds.push(&finding.kind);
        }
    }
    kinds
}

fn has(report: &Report, kind: &str) -> bool {
    report.findings.iter().any(|f| f.kind == kind)
}

/// Whether a report leaves a kind open.
fn untold(report: &Report, kind: &str) -> bool {
    report.unknown.iter().any(|u| u.kind == kind)
}
