//! A string that stands above its controller's limit on the coldest morning.

use serde_json::json;

use crate::design::Design;
use crate::design::checks::array_words;
use crate::design::checks::cold::{ColdString, Coldest, cold_strings};
use crate::findings::paper::{self, Verdict};
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::words::about;

pub(super) const RULE: Rule = Rule {
    kind: "cold-voltage-over-limit",
    area: Limiting::Array,
    meaning: "Panels give more voltage the colder they are. On the coldest morning, before any current flows, the strings stand at their open voltage: above the controller's highest input it breaks, and it may not break safely.",
    decided: "From the design: panels in series x Voc x (1 + change per degree x (record low - 25 C)), cells as cold as the air, against the controller's highest input voltage. Stop above the limit; watch within 5 % of it.",
    limits: "Arithmetic only, never an approval. Needs plan.record_low, the lowest the place has ever seen; without it the report says at what cold the limit would be passed. Needs array.panel.voc and controller.max_input.",
    cause: cause::none,
    follows_from: &[],
    look,
};

/// At 25 C cells stand on any clear cool day: a limit passed there needs no record low.
const LABEL_C: f64 = 25.0;

fn look(evidence: &Evidence) -> Outcome {
    let design = evidence.design;
    let verdicts = cold_strings(design)
        .into_iter()
        .map(|checked| match checked {
            Err(lack) => Verdict::lacking(lack),
            Ok(string) => judge(evidence, &string),
        })
        .collect();
    paper::worst(verdicts)
}

fn judge(evidence: &Evidence, string: &ColdString) -> Verdict {
    let design = evidence.design;
    let Some(coldest) = string.coldest else {
        return without_record_low(design, string);
    };
    let margin = design.judging.cold_voltage_margin;
    let severity = paper::severity(string.standing(coldest.string_voc_v, margin));
    if severity == Severity::Fine {
        return Verdict::Fine(format!(
            "{}: {} V open at {} C, the controller bears {} V",
            array_words(design, string.array),
            about(coldest.string_voc_v),
            about(coldest.at_c),
            about(string.limit_v)
        ));
    }
    Verdict::found(
        coldest.string_voc_v / string.limit_v,
        finding(design, string, &coldest, severity),
    )
}

fn without_record_low(design: &Design, string: &ColdString) -> Verdict {
    if string.label_v > string.limit_v {
        let warm = Coldest {
            at_c: LABEL_C,
            string_voc_v: string.label_v,
            by_table_v: string.label_v,
        };
        let over = finding(design, string, &warm, Severity::Stop);
        return Verdict::found(string.label_v / string.limit_v, over);
    }
    Verdict::lacking(string.without_record_low(design))
}

fn finding(design: &Design, string: &ColdString, at: &Coldest, severity: Severity) -> Finding {
    let over = severity == Severity::Stop;
    let whose = array_words(design, string.array);
    Finding {
        kind: RULE.kind.to_owned(),
        severity,
        confidence: if over {
            Confidence::High
        } else {
            Confidence::Medium
        },
        r#where: whose.clone(),
        from: None,
        to: None,
        days: Vec::new(),
        lost_wh_per_day: None,
        part_of: None,
        summary: format!(
            "At {} C {whose} stands at {:.1} V before current flows; the controller bears {} V.{}",
            about(at.at_c),
            at.string_voc_v,
            about(string.limit_v),
            if over {
                " It can break on a cold bright morning."
            } else {
                " That leaves less than the usual margin."
            }
        ),
        evidence: [
            ("string_voc_v".to_owned(), json!(at.string_voc_v)),
            ("limit_v".to_owned(), json!(string.limit_v)),
            ("at_c".to_owned(), json!(at.at_c)),
            ("passed_below_c".to_owned(), json!(string.passed_below_c)),
            ("by_code_table_v".to_owned(), json!(at.by_table_v)),
        ]
        .into(),
        why: vec![string.arithmetic(design, at.at_c), at.by_table_words()],
        also_possible: vec![
            "a label or a data sheet copied wrongly into the design".to_owned(),
            "a controller that bears more voltage while it stands still: its data sheet says so"
                .to_owned(),
        ],
        next_check: next_check(string, at),
        chart: None,
    }
}

fn next_check(string: &ColdString, at: &Coldest) -> NextCheck {
    NextCheck {
        tool: "the panel's label and the controller's data sheet".to_owned(),
        r#where: "Voc and its change per degree, the number of panels in series, the controller's highest input voltage".to_owned(),
        healthy: format!(
            "an open string voltage at {} C of no more than {:.0} V",
            about(at.at_c),
            0.95 * string.limit_v
        ),
        faulty: format!("{:.0} V or so, as reckoned here", at.string_voc_v),
        then: "put fewer panels in series, or take a controller for more voltage, before the next cold morning".to_owned(),
        caution: format!(
            "Panels can't be switched off in light: above 60 V DC touching both ends is dangerous, and an arc drawn by pulling a connector does not go out. Cover the panels or work in the dark, array switch off first. {}",
            paper::ARITHMETIC_ONLY
        ),
    }
}
