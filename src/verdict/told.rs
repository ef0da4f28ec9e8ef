//! The verdict's sentences, and how the findings explain one another.
//!
//! The text is read in half a minute: a danger first, then the cause, or the cause and what came of it. All
//! else is told after it, in the story.

use super::Candidate;
use crate::findings::Evidence;
use crate::findings::catalogue::{Found, rule};
use crate::report::model::{DayState, Finding, Limiting, Severity};
use crate::words::{about, days, first_sentence, lower_first, upper_first};

/// A danger, and the cause that takes most; without a danger the cause, how far the bank was emptied, and the
/// full charges that were missed.
pub(super) fn text(found: &Found, causes: &[Candidate]) -> String {
    let mut sentences = Vec::new();
    if let Some(danger) = dangers(found).next() {
        let cause_too = causes.first().is_some_and(|c| c.kind == Some(&danger.kind));
        if cause_too && danger.kind != "drop-battery-cable" {
            return danger.summary.clone();
        }
        sentences.push(danger_first(danger));
    }
    sentences.extend(causes.first().map(sentence));
    if dangers(found).next().is_none() {
        sentences.extend(emptied(found));
        sentences.extend(never_full(found));
    }
    sentences.join(" ")
}

/// What the text has no room for, how the findings explain one another, and what is not held against the
/// panels, a sentence each.
pub(super) fn story(evidence: &Evidence, found: &Found, causes: &[Candidate]) -> Vec<String> {
    let mut story: Vec<String> = dangers(found)
        .skip(1)
        .map(|f| format!("A danger as well: {}.", clause(&f.summary)))
        .collect();
    if dangers(found).next().is_some() {
        story.extend(never_full(found));
    }
    story.extend(run_low(found, dangers(found).next().is_some()));
    let rest: Vec<&str> = causes.iter().skip(1).map(|c| c.clause.as_str()).collect();
    if !rest.is_empty() {
        story.push(format!("Also: {}.", rest.join("; ")));
    }
    story.extend(held_short(evidence, found));
    if causes.first().is_some_and(|c| c.area == Limiting::Sun) {
        // That a bank is never full is what came of it, and nothing to mend by itself.
        let to_mend = |f: &Finding| f.severity <= Severity::Fix && f.kind != "never-full";
        let no_mending = match found.findings.iter().any(to_mend) {
            true => "Mending what else was found does not bring the sun's part back",
            false => "No mending brings that back",
        };
        story.push(format!(
            "{no_mending}: use less on such days, charge from something else, or weigh more panels as an option of the design."
        ));
    }
    if about_the_array(found, causes) {
        story.extend(set_aside(evidence));
    }
    story
}

/// Whether anything said could be taken to be held against the panels.
fn about_the_array(found: &Found, causes: &[Candidate]) -> bool {
    let touches = |area| matches!(area, Limiting::Array | Limiting::Wiring | Limiting::Sun);
    causes.iter().any(|c| touches(c.area))
        || found
            .findings
            .iter()
            .any(|f| rule(&f.kind).is_some_and(|r| touches(r.area)))
}

fn dangers(found: &Found) -> impl Iterator<Item = &Finding> {
    found
        .findings
        .iter()
        .filter(|f| f.severity == Severity::Stop)
}

/// A danger in a sentence.
pub(super) fn danger_first(danger: &Finding) -> String {
    let heat = || {
        danger
            .evidence
            .get("heat_w")
            .and_then(|h| h.get("low"))
            .and_then(serde_json::Value::as_f64)
    };
    match danger.kind.as_str() {
        "drop-battery-cable" => format!(
            "Danger first: at least {} W of heat where there should be none, in the run from controller to bank.",
            heat().map_or_else(|| "5".to_owned(), about)
        ),
        _ => format!("Danger first: {}.", clause(&danger.summary)),
    }
}

/// The first sentence of a summary as a clause.
pub(super) fn clause(summary: &str) -> String {
    lower_first(first_sentence(summary).trim_end_matches('.'))
}

fn sentence(cause: &Candidate) -> String {
    format!("{}.", upper_first(&cause.clause))
}

/// How far the bank was emptied, where that harms it.
fn emptied(found: &Found) -> Option<String> {
    let drained = found.findings.iter().find(|f| f.kind == "bank-drained")?;
    (drained.severity == Severity::Fix).then(|| first_sentence(&drained.summary).to_owned())
}

/// On how many nights the bank ran low, where the text does not say so.
fn run_low(found: &Found, in_danger: bool) -> Option<String> {
    let drained = found.findings.iter().find(|f| f.kind == "bank-drained")?;
    let told = drained.severity == Severity::Fix && !in_danger;
    (!told).then(|| first_sentence(&drained.summary).to_owned())
}

/// How long the bank has gone without a full charge, where that is a finding.
fn never_full(found: &Found) -> Option<String> {
    let full = found.findings.iter().find(|f| f.kind == "never-full")?;
    Some(first_sentence(&full.summary).to_owned())
}

fn held_short(evidence: &Evidence, found: &Found) -> Option<String> {
    let held = evidence.held_short();
    let dropped = found
        .findings
        .iter()
        .any(|f| f.kind == "drop-battery-cable");
    (dropped && held.hours >= 0.5).then(|| {
        format!(
            "The resistance makes the controller reach its voltage early: for {} hours on {} it held back although the bank stood {} V lower and still wanted charge.",
            about(held.hours),
            days(held.days),
            about(held.drop_v)
        )
    })
}

fn set_aside(evidence: &Evidence) -> Option<String> {
    let held = evidence.in_state(DayState::Full);
    let full = held.iter().filter(|d| d.reached_full == Some(true)).count();
    let dull = evidence.in_state(DayState::Dull).len();
    let set_aside: Vec<String> = [
        (full, "on which the bank got full and took no more"),
        (
            held.len() - full,
            "on which the controller held back though no full charge was seen",
        ),
        (dull, "under a dull sky"),
    ]
    .into_iter()
    .filter(|(n, _)| *n > 0)
    .map(|(n, what)| format!("{} {what}", days(n)))
    .collect();
    (!set_aside.is_empty())
        .then(|| format!("Not held against the panels: {}.", set_aside.join(", ")))
}
