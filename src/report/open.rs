//! What stays open and what is fine, as a reader is told: the most important first, and each subject in one
//! place only.
//!
//! The model keeps both lists whole. A step of the account that could not be told apart is the same subject
//! as the finding that would show it, so only one of the two is told.

use crate::design::checks::cold::NEVER_THERE;

use super::model::{Checked, Limiting, Report, Unknown};
use super::words;

/// A step of the account and the finding that speaks of the same thing.
const SAME_SUBJECT: [(&str, &str); 4] = [
    ("shade", "shade-repeating"),
    ("array", "array-weak"),
    ("array", "harvest-short"),
    ("array_cable", "drop-array-cable"),
];

/// Harm that comes unseen: a log that cannot rule these out says so first.
const HARM: [&str; 2] = ["cold-charge", "hot-charge"];

/// Dangers that the design alone decides.
const DANGERS: [&str; 4] = [
    "cold-voltage-over-limit",
    "fuse-unsuitable",
    "cable-undersized",
    "cell-limit-passed",
];

/// The open questions by what they matter to the verdict: unseen harm, then what the verdict's own area
/// leaves open, dangers of the design, other findings, and last what only blurs a step of the account.
///
/// What is left out is told in another place: see [`SAME_SUBJECT`].
pub(super) fn questions(report: &Report) -> Vec<&Unknown> {
    let mut list: Vec<&Unknown> = report
        .unknown
        .iter()
        .filter(|u| !told_elsewhere(report, &u.kind))
        .collect();
    list.sort_by_key(|u| rank(report.verdict.limiting, u));
    list
}

/// What was looked for and is fine, without what the questions name as open.
pub(super) fn fine(report: &Report) -> Vec<&Checked> {
    let open = |kind: &str| report.unknown.iter().any(|u| u.kind == kind);
    report
        .checked
        .iter()
        .filter(|c| {
            // A run that no log can measure is not fine because its design is.
            let by_design_alone = c.kind == "drop-array-cable" && open("array_cable");
            !open(&c.kind) && !by_design_alone
        })
        .collect()
}

/// Whether a step's question is answered, or asked, under the finding's own name.
fn told_elsewhere(report: &Report, step: &str) -> bool {
    SAME_SUBJECT
        .iter()
        .filter(|(s, _)| *s == step)
        .any(|(_, kind)| {
            let open = report.unknown.iter().any(|u| u.kind == *kind);
            let seen = report.checked.iter().any(|c| c.kind == *kind) && step != "array_cable";
            open || seen
        })
}

fn rank(limiting: Limiting, question: &Unknown) -> usize {
    let kind = question.kind.as_str();
    if question.text.contains(NEVER_THERE) {
        // Open in name only.
        5
    } else if HARM.contains(&kind) {
        0
    } else if areas(limiting).contains(&part(kind)) {
        1
    } else if DANGERS.contains(&kind) {
        2
    } else if kind.contains('-') {
        3
    } else {
        4
    }
}

/// The parts of a system in which an open question could overturn the verdict.
fn areas(limiting: Limiting) -> &'static [&'static str] {
    match limiting {
        // That nothing, or only the sun, limits is as sure as the array has been seen.
        Limiting::Nothing | Limiting::Sun | Limiting::Array | Limiting::Log => &["panels"],
        Limiting::Wiring => &["wiring"],
        Limiting::Settings => &["controller", "bank"],
        Limiting::Battery => &["bank"],
        Limiting::Use => &["use"],
    }
}

/// The part of the system that a finding or a step belongs to.
fn part(kind: &str) -> &'static str {
    match kind {
        "array" | "shade" => "panels",
        "array_cable" => "wiring",
        "conversion" => "controller",
        "heat" | "options" => "",
        finding => words::group(finding),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::demo;

    fn unknown(kind: &str) -> Unknown {
        Unknown {
            kind: kind.into(),
            text: format!("whether {kind}"),
            needs: "a look".into(),
        }
    }

    #[test]
    fn what_could_overturn_the_verdict_comes_first() {
        let mut report = demo::faulty();
        report.verdict.limiting = Limiting::Wiring;
        report.checked.clear();
        report.unknown = [
            "heat",
            "capacity-low",
            "fuse-unsuitable",
            "drop-rising",
            "cold-charge",
        ]
        .map(unknown)
        .to_vec();
        let told: Vec<&str> = questions(&report).iter().map(|u| u.kind.as_str()).collect();
        assert_eq!(
            told,
            [
                "cold-charge",
                // A fuse belongs to the wiring, which is what the verdict is about.
                "fuse-unsuitable",
                "drop-rising",
                "capacity-low",
                "heat"
            ]
        );
    }

    #[test]
    fn a_subject_stands_in_one_place_only() {
        let mut report = demo::faulty();
        let fine_of = |kind: &str| Checked {
            kind: kind.into(),
            text: "seen".into(),
        };
        report.checked = ["shade-repeating", "drop-array-cable", "capacity-low"]
            .map(fine_of)
            .to_vec();
        report.verdict.limiting = Limiting::Array;
        report.unknown = ["shade", "array_cable", "array", "array-weak"]
            .map(unknown)
            .to_vec();
        let open: Vec<&str> = questions(&report).iter().map(|u| u.kind.as_str()).collect();
        assert_eq!(open, ["array-weak", "array_cable"]);
        let told: Vec<&str> = fine(&report).iter().map(|c| c.kind.as_str()).collect();
        assert_eq!(told, ["shade-repeating", "capacity-low"]);
    }
}
