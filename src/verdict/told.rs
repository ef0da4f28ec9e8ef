//! The verdict's sentences, and how the findings explain one another.

use super::Candidate;
use crate::findings::Evidence;
use crate::findings::catalogue::Found;
use crate::report::model::{DayState, Severity};
use crate::words::{about, days, first_sentence, upper_first};

pub(super) fn text(found: &Found, causes: &[Candidate]) -> String {
    let mut sentences: Vec<String> = found
        .findings
        .iter()
        .filter(|f| f.severity == Severity::Stop)
        .map(|f| match f.kind.as_str() {
            "drop-battery-cable" => format!(
                "Danger first: at least {} W of heat where there should be none, in the run from controller to bank.",
                f.evidence
                    .get("heat_w")
                    .and_then(|h| h.get("low"))
                    .and_then(serde_json::Value::as_f64)
                    .map_or_else(|| "5".to_owned(), about)
            ),
            _ => f.summary.clone(),
        })
        .collect();
    if let Some(full) = found.findings.iter().find(|f| f.kind == "never-full") {
        sentences.push(first_sentence(&full.summary).to_owned());
    }
    let clauses: Vec<String> = causes.iter().map(|c| c.clause.clone()).collect();
    match clauses.as_slice() {
        [] => {}
        [one] => sentences.push(format!("{}.", upper_first(one))),
        [first, rest @ ..] => {
            sentences.push(format!("The larger cause: {first}."));
            sentences.push(format!("Also: {}.", rest.join("; ")));
        }
    }
    sentences.join(" ")
}

/// How the findings explain one another, a sentence each.
pub(super) fn story(evidence: &Evidence, found: &Found) -> Vec<String> {
    let has = |kind: &str| found.findings.iter().any(|f| f.kind == kind);
    let mut story = Vec::new();
    let held = evidence.held_short();
    if has("drop-battery-cable") && held.hours >= 0.5 {
        story.push(format!(
            "The resistance makes the controller reach its voltage early: for {} hours on {} it held back although the bank stood {} V lower and still wanted charge.",
            about(held.hours),
            days(held.days),
            about(held.drop_v)
        ));
    }
    if has("harvest-short") && has("never-full") {
        story.push("What the panels did not bring could not go into the bank either.".to_owned());
    }
    let full = evidence.in_state(DayState::Full).len();
    let dull = evidence.in_state(DayState::Dull).len();
    let set_aside: Vec<String> = [
        (full, "on which the controller held back"),
        (dull, "under a dull sky"),
    ]
    .into_iter()
    .filter(|(n, _)| *n > 0)
    .map(|(n, what)| format!("{} {what}", days(n)))
    .collect();
    if !set_aside.is_empty() {
        story.push(format!(
            "Not held against the panels: {}.",
            set_aside.join(", ")
        ));
    }
    story
}
