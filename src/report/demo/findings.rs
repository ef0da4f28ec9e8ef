//! What was found in the made-up cabin.

use std::collections::BTreeMap;

use serde_json::json;

use super::super::comparison::{self, ComparedRow, Side};
use super::super::model::*;
use super::{DAYS, date, interval, sky};

pub(super) fn all() -> Vec<Finding> {
    let short: Vec<String> = (0..DAYS).filter(|i| sky(*i) > 0.5).map(date).collect();
    let base = |kind: &str, severity, confidence, summary: &str, chart: Option<&str>| Finding {
        kind: kind.into(),
        severity,
        confidence,
        r#where: "controller to bank".into(),
        from: short.first().cloned(),
        to: short.last().cloned(),
        days: short.clone(),
        lost_wh_per_day: Some(interval(180.0, 55.0)),
        part_of: None,
        summary: summary.into(),
        evidence: BTreeMap::new(),
        why: vec!["Days count when at least 40 % of their productive energy was unheld.".into()],
        also_possible: vec!["A meter that reads low by the same share.".into()],
        next_check: NextCheck::default(),
        chart: chart.map(String::from),
    };
    let mut drop = base(
        "drop-battery-cable",
        Severity::Fix,
        Confidence::High,
        "Between controller and bank there are 27 mohm (25 to 29) where the design has 11: about 0.5 V at 31 A.",
        Some("charts/drop.svg"),
    );
    drop.evidence = BTreeMap::from([
        (
            "resistance_mohm".into(),
            json!({"value": 27.3, "low": 25.1, "high": 29.2}),
        ),
        ("design_mohm".into(), json!(11.0)),
        ("excess_mohm".into(), json!(16.3)),
        ("drop_v".into(), json!(0.85)),
        ("at_a".into(), json!(31.0)),
        ("heat_w".into(), json!(26.0)),
        ("lost_wh".into(), json!(null)),
    ]);
    drop.next_check = NextCheck {
        tool: "Multimeter, 200 mV range".into(),
        r#where: "At noon under full current, over each joint in turn from the controller's plus terminal to the battery post".into(),
        healthy: "under 20 mV over any joint".into(),
        faulty: "over 100 mV: that joint".into(),
        then: "Switch off, undo it, clean it, crimp or tighten it, and measure again".into(),
        caution: "Cover the panels and pull the fuse at the bank before you undo anything; a spanner across the posts welds.".into(),
    };
    let mut harvest = base(
        "harvest-short",
        Severity::Fix,
        Confidence::Medium,
        "On 15 of 23 judged days 14 % (9 to 18 %) of what the sky offered is missing.",
        Some("charts/days.svg"),
    );
    harvest.evidence = BTreeMap::from([
        (
            "lost_wh".into(),
            json!({"value": 3600.0, "low": 2300.0, "high": 4600.0}),
        ),
        ("worst_day".into(), json!("2026-06-11")),
    ]);
    harvest.next_check = drop.next_check.clone();
    let mut never = base(
        "never-full",
        Severity::Watch,
        Confidence::High,
        "Two full charges in 24 days; the last was 14 days before the end.",
        Some("charts/charge.svg"),
    );
    never.lost_wh_per_day = None;
    never.evidence = BTreeMap::from([
        ("last_full".into(), json!("2026-06-16T14:20:00+02:00")),
        ("days_since_full".into(), json!(14)),
    ]);
    vec![drop, harvest, never]
}

/// The same cabin before and after the joint was cleaned.
pub(super) fn comparison() -> Comparison {
    let side = |run: &str, from: &str, to: &str| Side {
        run: run.into(),
        from: from.into(),
        to: to.into(),
    };
    let row = |name: &str, unit: &str, before: f64, after: f64, change: &str| ComparedRow {
        name: name.into(),
        title: format!("figure of {}", name.replace('_', " ")),
        unit: unit.into(),
        before: Some(Interval::new(before, 0.9 * before, 1.1 * before)),
        after: Some(Interval::new(after, 0.9 * after, 1.1 * after)),
        difference: Some(Interval::new(
            after - before,
            after - 1.1 * before,
            after - 0.9 * before,
        )),
        change: change.into(),
        note: "10 days before, 14 after".into(),
    };
    Comparison {
        schema: comparison::SCHEMA.into(),
        system: "Heron cabin".into(),
        before: side("0011223344556677", "2026-06-07", "2026-06-16"),
        after: side("8899aabbccddeeff", "2026-06-17", "2026-06-30"),
        differ: Vec::new(),
        rows: vec![
            row("array", "", 0.84, 0.97, "better"),
            row("wiring", "mohm", 27.0, 11.0, "better"),
            row("full_charges", "", 0.1, 0.2, "unclear"),
            row("night_draw", "W", 22.0, 22.0, "same"),
        ],
        findings: vec![comparison::ComparedFinding {
            kind: "drop-battery-cable".into(),
            change: "went".into(),
            note: String::new(),
        }],
    }
}
