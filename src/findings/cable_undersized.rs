//! A cable that is thinner than its current asks.

use serde_json::json;

use crate::design::Design;
use crate::design::checks::carrying::{Carrying, carryings};
use crate::design::checks::run_words;
use crate::findings::paper::{self, Verdict};
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::words::{about, as_stated};

pub(super) const RULE: Rule = Rule {
    kind: "cable-undersized",
    area: Limiting::Wiring,
    meaning: "A cable is thinner than its current asks: it gets too warm, or it loses more voltage than it should.",
    decided: "From the design. To mend: 1.25 x the current that can flow for hours is above the cable's stated ampacity. To watch: the bare conductors, at the cable table's value and 30 C, lose more than the drop limit the design states, or twice the usual one, at that current (the panels' run is judged by drop-array-cable); joints are left out, a thicker cable does not mend them. Currents: panels 1.25 x short-circuit current; to the bank the array as designed at the nominal voltage, at most the controller's rating; to the loads all direct loads of three hours a day or more at once.",
    limits: "Arithmetic only, never an approval: heat around the cable and bundling lower what it may carry. No ampacity in the design, no verdict on it. Several load cables share the loads in a way the design does not say, so they are not judged.",
    cause: cause::without_cost,
    follows_from: &[],
    look,
};

fn look(evidence: &Evidence) -> Outcome {
    let design = evidence.design;
    let verdicts = carryings(design)
        .iter()
        .filter_map(|carried| judge(evidence, carried))
        .collect();
    paper::worst(verdicts)
}

/// `None` where nothing of this run can be judged by the cable.
fn judge(evidence: &Evidence, carried: &Carrying) -> Option<Verdict> {
    let design = evidence.design;
    let words = run_words(design, carried.run, carried.controller);
    if carried.cable_too_small() {
        let past = carried.least_a()? / carried.ampacity_a?;
        return Some(Verdict::found(
            past,
            finding(design, carried, Severity::Fix),
        ));
    }
    let allowed_v = carried.allowed_drop_v(design.judging.cable_drop_slack);
    if carried.drop_too_large(design.judging.cable_drop_slack) {
        let past = carried.drop_v? / allowed_v;
        return Some(Verdict::found(
            past,
            finding(design, carried, Severity::Watch),
        ));
    }
    let ampacity = match (carried.least_a(), carried.ampacity_a) {
        (Some(least), Some(cable)) => Some(format!(
            "must bear {} A, is made for {} A",
            about(least),
            as_stated(cable)
        )),
        _ => None,
    };
    let drop = carried
        .drop_v
        .map(|v| format!("its conductors lose {v:.2} V, {allowed_v:.2} V are let pass"));
    let seen: Vec<String> = ampacity.into_iter().chain(drop).collect();
    (!seen.is_empty()).then(|| Verdict::Fine(format!("{words}: {}", seen.join(", "))))
}

fn finding(design: &Design, carried: &Carrying, severity: Severity) -> Finding {
    let words = run_words(design, carried.run, carried.controller);
    let least = carried.least_a().unwrap_or(0.0);
    Finding {
        kind: RULE.kind.to_owned(),
        severity,
        confidence: Confidence::Medium,
        r#where: words.clone(),
        from: None,
        to: None,
        days: Vec::new(),
        lost_wh_per_day: None,
        part_of: None,
        summary: if severity == Severity::Fix {
            format!(
                "The cable of {words} must bear {} A and may carry {} A: it can get too warm.",
                about(least),
                as_stated(carried.ampacity_a.unwrap_or(0.0))
            )
        } else {
            format!(
                "By design the bare cable of {words} loses {:.2} V where {:.2} V are its limit.",
                carried.drop_v.unwrap_or(0.0),
                carried.drop_limit_v
            )
        },
        evidence: [
            ("run".to_owned(), json!(carried.run.name())),
            ("current_a".to_owned(), json!(carried.current_a)),
            ("fuse_a".to_owned(), json!(carried.fuse_a)),
            ("ampacity_a".to_owned(), json!(carried.ampacity_a)),
            ("drop_v".to_owned(), json!(carried.drop_v)),
            ("drop_limit_v".to_owned(), json!(carried.drop_limit_v)),
        ]
        .into(),
        why: reasons(carried),
        also_possible: vec![
            "a length, a size or an ampacity copied wrongly into the design (length is one way)"
                .to_owned(),
            "two cables side by side, entered as one".to_owned(),
        ],
        next_check: NextCheck {
            tool: "the print on the cable's jacket, a tape measure and the cable's data sheet"
                .to_owned(),
            r#where: format!(
                "all along {words}, where it is hottest and where cables lie in a bundle"
            ),
            healthy: format!(
                "a cable for at least {} A there, and no part of it warm under full current",
                about(least)
            ),
            faulty: "a thinner cable, or insulation that is soft, brown or warm".to_owned(),
            then: "lay a thicker cable, or a shorter one, with a fuse that suits it".to_owned(),
            caution: format!(
                "Open the fuse at the bank and switch the array off before touching conductors; a bank's short circuit welds and burns. {}",
                paper::ARITHMETIC_ONLY
            ),
        },
        chart: None,
    }
}

fn reasons(carried: &Carrying) -> Vec<String> {
    let mut why = Vec::new();
    if let Some(current) = carried.current_arithmetic() {
        why.push(format!(
            "{current} The design states {}.",
            carried.ampacity_a.map_or_else(
                || "no ampacity, so nothing is said of the heat".to_owned(),
                |a| format!("an ampacity of {a} A")
            )
        ));
    }
    why.extend(carried.drop_arithmetic());
    why
}
