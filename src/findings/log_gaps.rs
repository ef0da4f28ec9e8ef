//! Daylight without readings.

use serde_json::json;

use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::words::about;

pub(super) const RULE: Rule = Rule {
    kind: "log-gaps",
    area: Limiting::Log,
    meaning: "The log has holes by daylight. What was harvested then is not known and is not made up.",
    decided: "Two rows further apart than five times the usual step are a gap. Found when gaps cover more than 5 % of the daylight between the first and the last reading.",
    limits: "A logger that repeats its last value instead of falling silent hides its gaps.",
    cause: cause::none,
    follows_from: &[],
    look,
};

fn look(evidence: &Evidence) -> Outcome {
    let grid = &evidence.expected.grid;
    let signals = &evidence.expected.signals;
    // Rows too far apart to count are readings all the same: what lies between them is the gap.
    let log = signals.harvest.as_ref().or(signals.bank_w.as_ref());
    let read = |m: &usize| {
        signals.harvest_coverage(*m) > 0.0 || log.is_some_and(|log| log.min[*m] <= log.max[*m])
    };
    let (Some(first), Some(last)) = (
        (0..grid.moments).find(read),
        (0..grid.moments).rev().find(read),
    ) else {
        return Outcome::CannotTell {
            text: "how the log is covered: it holds no harvest and no bank current".to_owned(),
            needs: "a log with the bank's or the controller's volts and amperes".to_owned(),
        };
    };
    let (mut gap_h, mut daylight_h, mut longest, mut run) = (0.0, 0.0, 0.0f64, 0.0);
    for m in first..=last {
        if evidence.expected.offers[m].elevation_deg <= 0.0 {
            continue;
        }
        let missing = (1.0 - signals.harvest_coverage(m)) * grid.step_h();
        daylight_h += grid.step_h();
        gap_h += missing;
        run = if missing > 0.5 * grid.step_h() {
            run + missing
        } else {
            0.0
        };
        longest = longest.max(run);
    }
    if daylight_h < 1.0 {
        return Outcome::CannotTell {
            text: "how the daylight is covered: the log holds hardly any".to_owned(),
            needs: "a log that runs through whole days".to_owned(),
        };
    }
    if gap_h <= evidence.design.judging.gap_share * daylight_h {
        return Outcome::Fine(format!(
            "readings cover {:.0} % of the daylight",
            100.0 * (1.0 - gap_h / daylight_h)
        ));
    }
    Outcome::Found(Box::new(Finding {
        kind: RULE.kind.to_owned(),
        severity: Severity::Watch,
        confidence: Confidence::High,
        r#where: "the log".to_owned(),
        from: None,
        to: None,
        days: Vec::new(),
        lost_wh_per_day: None,
        part_of: None,
        summary: format!(
            "{} hours of daylight have no readings, the longest stretch {} hours; their energy is not counted.",
            about(gap_h),
            about(longest)
        ),
        evidence: [
            ("gap_h".to_owned(), json!(gap_h)),
            ("longest_h".to_owned(), json!(longest)),
        ]
        .into(),
        why: vec![format!(
            "{:.0} % of {:.0} hours of daylight between the first and the last reading.",
            100.0 * gap_h / daylight_h,
            daylight_h
        )],
        also_possible: vec![
            "a logger that writes only when something changes: say so with hold in the design"
                .to_owned(),
        ],
        next_check: NextCheck {
            tool: "the logger itself".to_owned(),
            r#where:
                "its memory, its power supply and its link, at the hours the report shows as gaps"
                    .to_owned(),
            healthy: "a row at every step, day and night".to_owned(),
            faulty: "no rows while the bank is low, or while the phone or computer sleeps"
                .to_owned(),
            then: "supply it from the bank ahead of the load cut-off and let it store by itself"
                .to_owned(),
            caution: "Fuse the logger's supply at the bank.".to_owned(),
        },
        chart: Some("charts/hours.svg".to_owned()),
    }))
}
