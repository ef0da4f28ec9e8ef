//! A controller made for less than its array can bring.

use serde_json::json;

use crate::design::Design;
use crate::design::checks::controller_words;
use crate::design::checks::rating::{Rating, ratings};
use crate::findings::paper::{self, Verdict};
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::report::model::{Confidence, Finding, Limiting, NextCheck};
use crate::words::about;

pub(super) const RULE: Rule = Rule {
    kind: "controller-undersized",
    area: Limiting::Settings,
    meaning: "The array can bring more current than the controller is made for. A controller that only connects, or one whose input current is limited, can overheat; one that converts cuts the harvest to what it can give.",
    decided: "From the design. PWM: 1.25 x short-circuit current of all strings against its rating: stop above it. MPPT with a stated input current: short-circuit current of all strings against it: stop above it. MPPT: label power divided by the nominal voltage against the highest charging current: watch where even the design's allowance and conversion taken off leave more.",
    limits: "Arithmetic only, never an approval. A larger array than the controller is common and often meant with MPPT: whether it is allowed stands in the data sheet. Needs array.panel.isc and controller.max_output.",
    cause: cause::without_cost,
    follows_from: &[],
    look,
};

fn look(evidence: &Evidence) -> Outcome {
    let design = evidence.design;
    let verdicts = ratings(design)
        .into_iter()
        .map(|checked| match checked {
            Err(lack) => Verdict::lacking(lack),
            Ok(rating) if rating.is_passed() => {
                Verdict::found(rating.array_a / rating.limit_a, finding(design, &rating))
            }
            Ok(rating) => Verdict::Fine(format!(
                "{}: the array brings {} A by design, {} A are allowed",
                controller_words(design, rating.controller),
                about(rating.designed_a),
                about(rating.limit_a)
            )),
        })
        .collect();
    paper::worst(verdicts)
}

fn finding(design: &Design, rating: &Rating) -> Finding {
    let whose = controller_words(design, rating.controller);
    let hard = rating.is_hard();
    Finding {
        kind: RULE.kind.to_owned(),
        severity: paper::severity(rating.standing()),
        confidence: Confidence::High,
        r#where: whose.clone(),
        from: None,
        to: None,
        days: Vec::new(),
        lost_wh_per_day: None,
        part_of: None,
        summary: if hard {
            format!(
                "The array can bring {} A and {whose} is made for {} A: it can overheat in bright sun.",
                about(rating.array_a),
                about(rating.limit_a)
            )
        } else {
            format!(
                "The array could bring {} A to a low bank and {whose} gives {} A at most: the rest is not harvested, and nothing breaks where its data sheet allows such an array.",
                about(rating.array_a),
                about(rating.limit_a)
            )
        },
        evidence: [
            ("array_a".to_owned(), json!(rating.array_a)),
            ("limit_a".to_owned(), json!(rating.limit_a)),
        ]
        .into(),
        why: vec![rating.arithmetic(design)],
        also_possible: vec![
            "a rating, a panel's current or a number of strings copied wrongly into the design"
                .to_owned(),
        ],
        next_check: next_check(rating),
        chart: None,
    }
}

fn next_check(rating: &Rating) -> NextCheck {
    NextCheck {
        tool: "the controller's data sheet and the panels' labels".to_owned(),
        r#where: "its rated current, its highest input and short-circuit current, and what it says of larger arrays".to_owned(),
        healthy: format!("room for {} A, or larger arrays allowed in so many words", about(rating.array_a)),
        faulty: format!("{} A and nothing said of larger arrays", about(rating.limit_a)),
        then: if rating.is_hard() {
            "take strings off, or fit a larger controller, before bright days".to_owned()
        } else {
            "nothing, if the data sheet allows it; count the energy lost at its limit before spending".to_owned()
        },
        caution: format!(
            "Panels stay live in light: array switch off, or cover them, before any connector is opened; never take the bank off while the array is on. {}",
            paper::ARITHMETIC_ONLY
        ),
    }
}
