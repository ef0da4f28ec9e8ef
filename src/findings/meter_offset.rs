//! The two voltmeters disagree when no current flows: no cable does that.

use serde_json::json;

use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::words::about;

pub(super) const RULE: Rule = Rule {
    kind: "meter-offset",
    area: Limiting::Settings,
    meaning: "The controller's voltmeter and the bank's read differently with no current between them. The controller charges by its own: if that one reads high, the bank is charged too low.",
    decided: "The intercept of the line through the voltage drop. Found above 0.1 V per 12 V; 20 to 60 mV between two meters is usual.",
    limits: "Which of the two is wrong needs a third meter.",
    cause: cause::none,
    follows_from: &[],
    look,
};

fn look(evidence: &Evidence) -> Outcome {
    let Ok(fit) = &evidence.accounts.run else {
        return Outcome::CannotTell {
            text: "whether the two voltmeters agree: they could not be compared over a range of currents".to_owned(),
            needs: "both voltages read at the same minute with the sun down".to_owned(),
        };
    };
    let limit = evidence.design.judging.meter_offset_v * evidence.volts_per_12();
    if fit.offset_v.abs() <= limit {
        return Outcome::Fine(format!(
            "the two voltmeters agree within {:.0} mV at no current",
            1000.0 * fit.offset_v.abs()
        ));
    }
    Outcome::Found(Box::new(Finding {
        kind: RULE.kind.to_owned(),
        severity: Severity::Watch,
        confidence: Confidence::Medium,
        r#where: "the controller's and the bank's voltmeters".to_owned(),
        from: None,
        to: None,
        days: Vec::new(),
        lost_wh_per_day: None,
        part_of: None,
        summary: format!(
            "With no current flowing the controller reads {} V {} than the bank's meter.",
            about(fit.offset_v.abs()),
            if fit.offset_v > 0.0 { "more" } else { "less" }
        ),
        evidence: [("offset_v".to_owned(), json!(fit.offset_v))].into(),
        why: vec![format!(
            "Intercept of the line through {} readings of both meters.",
            fit.readings
        )],
        also_possible: vec!["a diode or a battery isolator between the two".to_owned()],
        next_check: NextCheck {
            tool: "a third voltmeter you trust".to_owned(),
            r#where: "at the battery posts and at the controller's terminals, after dark, loads off".to_owned(),
            healthy: "all three within 0.05 V".to_owned(),
            faulty: "one of the two differs from the third meter".to_owned(),
            then: "set or correct the one that is off; where the controller's can't be set, shift its charge voltages by the difference".to_owned(),
            caution: "Probe tips short easily between posts: touch one post at a time, and keep to the battery maker's voltages.".to_owned(),
        },
        chart: Some("charts/drop.svg".to_owned()),
    }))
}
