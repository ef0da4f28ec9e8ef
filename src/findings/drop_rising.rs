//! The run between controller and bank got worse during the log.

use serde_json::json;

use crate::account::wire::Side;
use crate::account::wire_change::{self, RunChange};
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::quantity::Interval;
use crate::report::model::{Confidence, DayState, Finding, Limiting, NextCheck, Severity};
use crate::words::{about, date, ranged};

pub(super) const RULE: Rule = Rule {
    kind: "drop-rising",
    area: Limiting::Wiring,
    meaning: "The resistance between controller and bank rose during the log. Copper does not change: a joint is working loose, corroding or burning, and it will not mend itself.",
    decided: "A straight line with an intercept through the voltage drop against the controller's current, once for the days before and once for the days since, parted where the two lines explain the readings best, at least two days on each side. Found where both 90 % intervals lie apart, the rise is at least half of what was there before (or of the design's own), and costs at least 50 mV per 12 V at the highest current held since. Stop where the rise alone makes more than 5 W of heat, by its lower bound, and the run is not already told as too high; else to mend.",
    limits: "Needs the voltage at the controller and at the bank from two meters, the controller's current, and at least two days with varied sun on either side. The log sees the whole run, never one joint.",
    cause: cause::without_cost,
    follows_from: &["drop-battery-cable"],
    look,
};

fn look(evidence: &Evidence) -> Outcome {
    // Of several controllers' runs the one that has most beyond its design now.
    let worst = evidence.accounts.run.as_ref().ok();
    let side = Side {
        controller: worst.map_or(0, |fit| fit.controller),
        name: worst.and_then(|fit| fit.name.as_deref()),
    };
    let change =
        match wire_change::find(evidence.design, evidence.timeline, evidence.expected, side) {
            Ok(change) => change,
            Err(refused) => {
                return Outcome::CannotTell {
                    text: format!(
                        "whether the run from controller to bank got worse: {}",
                        refused.text
                    ),
                    needs: refused.needs,
                };
            }
        };
    let before = change.before.resistance_mohm;
    let own = change.before.design_mohm.unwrap_or(0.0);
    let judging = &evidence.design.judging;
    let enough = change.rise_mohm() > judging.excess_share * before.value.max(own);
    let costs_v = change.rise_mohm() * change.after.at_a / 1000.0;
    if !(change.rose() && enough && costs_v > judging.rise_v * evidence.volts_per_12()) {
        return Outcome::Fine(format!(
            "the resistance from controller to bank did not grow: {} at first, {} later",
            ranged(&before, "mohm"),
            ranged(&change.after.resistance_mohm, "mohm")
        ));
    }
    Outcome::Found(Box::new(finding(evidence, &change, costs_v)))
}

fn finding(evidence: &Evidence, change: &RunChange, costs_v: f64) -> Finding {
    let (before, after) = (change.before.resistance_mohm, change.after.resistance_mohm);
    let since = evidence
        .accounts
        .days
        .get(change.after.from_day)
        .map(|d| d.date.clone());
    let rise = Interval::new(
        after.value - before.value,
        (after.low - before.high).max(0.0),
        after.high - before.low,
    );
    let heat_w = rise.scale(change.after.at_a * change.after.at_a / 1000.0);
    // Where the whole run is already told as a danger, its rise is told as part of that.
    let danger = heat_w.low > evidence.design.judging.heat_stop_w
        && !super::drop_battery_cable::is_found(evidence);
    Finding {
        kind: RULE.kind.to_owned(),
        severity: if danger { Severity::Stop } else { Severity::Fix },
        confidence: Confidence::High,
        r#where: "between the controller's battery terminals and the bank's posts".to_owned(),
        from: since.clone(),
        to: evidence.accounts.days.last().map(|d| d.date.clone()),
        days: evidence
            .accounts
            .days
            .iter()
            .skip(change.after.from_day)
            .filter(|d| d.state != DayState::Unmeasured)
            .map(|d| d.date.clone())
            .collect(),
        lost_wh_per_day: None,
        part_of: None,
        summary: format!(
            "The run from controller to bank rose from {} to {} about {}: a joint in it is getting worse.",
            ranged(&before, "mohm"),
            ranged(&after, "mohm"),
            since.as_deref().map_or_else(|| "midway".to_owned(), date)
        ),
        evidence: [
            ("before_mohm".to_owned(), json!(before.value)),
            ("after_mohm".to_owned(), json!(after.value)),
            ("rise_mohm".to_owned(), json!(rise)),
            ("since".to_owned(), json!(since)),
            ("at_a".to_owned(), json!(change.after.at_a)),
            ("drop_v".to_owned(), json!(costs_v)),
            ("heat_w".to_owned(), json!(heat_w)),
        ]
        .into(),
        why: vec![
            format!(
                "{} readings before and {} since make two lines whose slopes' 90 % intervals lie apart.",
                change.before.readings, change.after.readings
            ),
            format!(
                "At {} A, the highest current held since, the rise alone loses {} V and makes {} W of heat.",
                about(change.after.at_a),
                about(costs_v),
                about(heat_w.value)
            ),
            "The two meters' disagreement is the lines' intercept and does not enter the slopes.".to_owned(),
        ],
        also_possible: vec![
            "a fuse, a switch or a cable changed on that day".to_owned(),
            "a load or a charger connected at the controller's terminals since then".to_owned(),
            "a gradual rise: the day named is where two steps fit best".to_owned(),
        ],
        next_check: NextCheck {
            tool: "a voltmeter on its millivolt range, and an infrared thermometer if there is one".to_owned(),
            r#where: "while charging hard in sun, across each lug, fuse and switch between controller and bank, plus side and minus side".to_owned(),
            healthy: format!("at {} A less than 50 mV across any one joint", about(change.after.at_a)),
            faulty: format!("about {} mV across the one that changed", about(1000.0 * costs_v)),
            then: "undo, clean, re-crimp or replace that joint, tighten it to its torque, and log one sunny day more".to_owned(),
            caution: "A joint that gets worse gets hot: do not touch it, hold the back of a hand near or use the thermometer. Before undoing anything switch the array off, then the loads, and open the fuse at the bank. A spanner across the posts of a bank welds and burns. Local code and a licensed practitioner come first.".to_owned(),
        },
        chart: Some("charts/drop.svg".to_owned()),
    }
}
