//! A fuse that does not protect its cable, or does not carry its current.

use serde_json::json;

use crate::design::Design;
use crate::design::checks::carrying::{Carrying, backfeeds, carryings};
use crate::design::checks::run_words;
use crate::findings::paper::{self, Verdict};
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::physics::protection::next_standard_fuse_a;
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::words::{about, as_stated};

pub(super) const RULE: Rule = Rule {
    kind: "fuse-unsuitable",
    area: Limiting::Wiring,
    meaning: "A fuse protects the cable behind it: it must blow before the cable gets too hot, and it must carry the ordinary current for hours without tiring.",
    decided: "From the design. Stop: a fuse above its cable's stated ampacity. To mend: a fuse below the current that can flow for hours. To watch: a fuse below 1.25 x that current. Three or more strings side by side, whose others can push more through a faulty one than its panels' largest series fuse, each need a fuse: the report asks for a look, since the design has no place for those. Currents: panels 1.25 x short-circuit current (with the 1.25 for hours 1.56 x in all); to the bank the array as designed at the nominal voltage, at most the controller's rating; to the loads all direct loads of three hours a day or more at once.",
    limits: "Arithmetic only, never an approval: where the fuse sits, what it can interrupt and whether it is made for DC are not checked. No ampacity in the design, no verdict on it.",
    cause: cause::none,
    follows_from: &[],
    look,
};

fn look(evidence: &Evidence) -> Outcome {
    let design = evidence.design;
    let runs = carryings(design);
    let strings = backfeeds(design)
        .into_iter()
        .map(|feed| Verdict::lacking(feed.lack(design)));
    let verdicts = runs
        .iter()
        .filter_map(|carried| judge(design, carried))
        .chain(strings)
        .collect();
    paper::worst(verdicts)
}

/// `None` for a run without a fuse in the design: that the owner has none is not said.
fn judge(design: &Design, carried: &Carrying) -> Option<Verdict> {
    let fuse = carried.fuse_a?;
    let words = run_words(design, carried.run, carried.controller);
    if carried.fuse_above_cable() {
        let cable = carried.ampacity_a?;
        let summary = format!(
            "The {} A fuse of {words} lets through more than its cable may carry, {} A: the cable burns before the fuse blows.",
            as_stated(fuse),
            as_stated(cable)
        );
        return Some(Verdict::found(
            fuse / cable,
            of_run(
                design,
                carried,
                paper::severity(carried.fuse_standing()),
                summary,
            ),
        ));
    }
    if carried.fuse_too_small() {
        let (current, least) = (carried.current_a?, carried.least_a()?);
        let blows = carried.fuse_blows();
        let summary = format!(
            "The {} A fuse of {words} is small for the {} A that can flow there for hours: it {}.",
            as_stated(fuse),
            about(current),
            if blows {
                "will blow"
            } else {
                "may tire and blow"
            }
        );
        let severity = paper::severity(carried.fuse_standing());
        return Some(Verdict::found(
            least / fuse,
            of_run(design, carried, severity, summary),
        ));
    }
    Some(match (carried.ampacity_a, carried.least_a()) {
        (Some(cable), _) => Verdict::Fine(format!(
            "{words}: a {} A fuse on a cable for {} A",
            as_stated(fuse),
            as_stated(cable)
        )),
        (None, _) => Verdict::CannotTell {
            text: format!(
                "whether the {} A fuse of {words} protects its cable: the design does not state what the cable may carry",
                as_stated(fuse)
            ),
            needs: "the cable's ampacity, from its data sheet or local code, in the design"
                .to_owned(),
        },
    })
}

fn of_run(design: &Design, carried: &Carrying, severity: Severity, summary: String) -> Finding {
    let words = run_words(design, carried.run, carried.controller);
    let margin = carried.margin_words();
    let least = carried.least_a();
    let why = vec![format!(
        "Fuse {} A; current {} A, with its margin {} A ({margin}); ampacity as stated {} A.",
        shown(carried.fuse_a),
        shown(carried.current_a),
        shown(least),
        shown(carried.ampacity_a)
    )];
    let then = match (severity, least.and_then(next_standard_fuse_a)) {
        (Severity::Stop, _) => {
            "switch the run off until a fuse no larger than the cable's ampacity is in, or a thicker cable".to_owned()
        }
        (_, Some(next)) if carried.ampacity_a.is_none_or(|cable| next <= cable) => format!(
            "the next usual rating is {} A, if the cable may carry that much",
            as_stated(next)
        ),
        _ => "the fuse that the current needs is more than this cable may carry: a thicker cable first".to_owned(),
    };
    Finding {
        r#where: words.clone(),
        evidence: figures(
            carried.run.name(),
            carried.current_a,
            carried.fuse_a,
            carried.ampacity_a,
        ),
        ..blank(severity, summary, why, next_check(&words, then))
    }
}

fn blank(severity: Severity, summary: String, why: Vec<String>, next_check: NextCheck) -> Finding {
    Finding {
        kind: RULE.kind.to_owned(),
        severity,
        confidence: if severity == Severity::Stop {
            Confidence::High
        } else {
            Confidence::Medium
        },
        r#where: String::new(),
        from: None,
        to: None,
        days: Vec::new(),
        lost_wh_per_day: None,
        part_of: None,
        summary,
        evidence: serde_json::Map::new().into_iter().collect(),
        why,
        also_possible: vec![
            "a fuse, a cable or an ampacity copied wrongly into the design".to_owned(),
        ],
        next_check,
        chart: None,
    }
}

fn figures(
    run: &str,
    current_a: Option<f64>,
    fuse_a: Option<f64>,
    ampacity_a: Option<f64>,
) -> std::collections::BTreeMap<String, serde_json::Value> {
    [
        ("run".to_owned(), json!(run)),
        ("current_a".to_owned(), json!(current_a)),
        ("fuse_a".to_owned(), json!(fuse_a)),
        ("ampacity_a".to_owned(), json!(ampacity_a)),
    ]
    .into()
}

fn next_check(words: &str, then: String) -> NextCheck {
    NextCheck {
        tool: "the print on the fuse and on the cable, and the cable's data sheet".to_owned(),
        r#where: format!("the fuse of {words}: as near the source as it will go, for the bank within a hand's breadth or two"),
        healthy: "a fuse made for DC, above 1.25 x the current and no larger than what the cable may carry where it lies".to_owned(),
        faulty: "a larger fuse than the cable bears, or one browned by heat".to_owned(),
        then,
        caution: format!(
            "Never put in a larger fuse because the old one blew. Switch array and loads off before pulling a fuse: DC draws an arc. {}",
            paper::ARITHMETIC_ONLY
        ),
    }
}

fn shown(amps: Option<f64>) -> String {
    amps.map_or_else(|| "not known,".to_owned(), |a| format!("{a:.1}"))
}
