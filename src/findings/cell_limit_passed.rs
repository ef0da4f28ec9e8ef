//! Lithium cells emptied below what they bear.

use serde_json::json;

use crate::account::rolling;
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::mapping::Role;
use crate::physics::bank;
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::words::{days, lasting};

pub(super) const RULE: Rule = Rule {
    kind: "cell-limit-passed",
    area: Limiting::Battery,
    meaning: "The lithium bank was emptied below the lowest voltage its cells bear. Copper dissolves inside such a cell; charged again it can short and burn.",
    decided: "The bank's voltage, averaged over 5 minutes, below the cells' limit (iron phosphate 2.5 V, NMC 3.0 V a cell) by more than the meter's error (0.1 V per 12 V), and still above 1.5 V a cell: below that a pack's protection has opened and the meter outside it shows nothing of the cells.",
    limits: "Needs the bank's voltage. One weak cell can be far below the others without the bank's voltage showing it. Dips shorter than 5 minutes, or than three rows of the log, are not seen: a sag under a heavy load does no harm.",
    cause: cause::none,
    follows_from: &[],
    look,
};

/// How long a voltage must last, s.
const HELD_S: f64 = 300.0;
/// Below this a pack has cut itself off, V a cell.
const CUT_OFF_CELL_V: f64 = 1.5;

fn look(evidence: &Evidence) -> Outcome {
    let battery = &evidence.design.battery;
    if battery.chemistry.is_lead() {
        return Outcome::NotApplicable;
    }
    let limit_v = bank::min_cell_v(battery.chemistry) * evidence.design.cells();
    let channel = evidence
        .timeline
        .channel(Role::BatteryVoltage)
        .or_else(|| evidence.timeline.channel(Role::ChargeVoltage));
    let Some(channel) = channel else {
        return Outcome::CannotTell {
            text: format!(
                "whether the cells were emptied below {limit_v:.1} V: no voltage of the bank was logged"
            ),
            needs: "the bank's voltage in the log".to_owned(),
        };
    };
    let cut_off_v = CUT_OFF_CELL_V * evidence.design.cells();
    let channel = &rolling::only(channel, |v| v > cut_off_v);
    let slack = evidence.design.judging.limit_slack_v * evidence.volts_per_12();
    let inside = |bin: usize| evidence.day_of_bin(bin).is_some();
    let lowest = rolling::means(evidence.timeline, channel, HELD_S)
        .into_iter()
        .enumerate()
        .filter(|(bin, _)| inside(*bin))
        .filter_map(|(_, mean)| mean)
        .min_by(f64::total_cmp);
    let Some(lowest_v) = lowest else {
        return Outcome::CannotTell {
            text: format!(
                "whether the cells were emptied below {limit_v:.1} V: the bank's voltage was never read for five minutes"
            ),
            needs: "the bank's voltage in the log, a row a minute or so".to_owned(),
        };
    };
    if lowest_v >= limit_v - slack {
        return Outcome::Fine(format!(
            "the lowest voltage held for five minutes was {lowest_v:.2} V; the cells' limit is {limit_v:.1} V"
        ));
    }
    let passed = rolling::bins_where(evidence.timeline, channel, HELD_S, |bin, v| {
        inside(bin) && v < limit_v - slack
    });
    Outcome::Found(Box::new(finding(evidence, limit_v, lowest_v, &passed)))
}

/// Whether the bank was charged after its cells were that low.
fn charged_since(evidence: &Evidence, passed: &[bool]) -> bool {
    let least_a = evidence.design.judging.charging_c * evidence.design.battery.capacity_ah;
    let amps = evidence.timeline.series(Role::BatteryCurrent);
    let amps = amps.or_else(|| evidence.timeline.series(Role::ChargeCurrent));
    let first = passed.iter().position(|p| *p).unwrap_or(passed.len());
    amps.is_some_and(|amps| {
        (first..passed.len()).any(|bin| amps.mean(bin).is_some_and(|a| a > least_a))
    })
}

fn finding(evidence: &Evidence, limit_v: f64, lowest_v: f64, passed: &[bool]) -> Finding {
    let (minutes, indices) = evidence.time_in(passed);
    let dates = evidence.dates_of(&indices);
    let charged = charged_since(evidence, passed);
    Finding {
        kind: RULE.kind.to_owned(),
        severity: Severity::Stop,
        confidence: if minutes >= 30.0 { Confidence::High } else { Confidence::Medium },
        r#where: "the bank's cells".to_owned(),
        from: dates.first().cloned(),
        to: dates.last().cloned(),
        lost_wh_per_day: None,
        part_of: None,
        summary: format!(
            "The lithium bank was emptied to {lowest_v:.2} V, below the {limit_v:.1} V its cells bear, for about {} on {}{}. Do not charge it before it has been looked at.",
            lasting(minutes),
            days(dates.len()),
            if charged { ", and charged again afterwards" } else { "" }
        ),
        days: dates,
        evidence: [
            ("lowest_v".to_owned(), json!(lowest_v)),
            ("limit_v".to_owned(), json!(limit_v)),
            ("minutes".to_owned(), json!(minutes)),
            ("charged_since".to_owned(), json!(charged)),
        ]
        .into(),
        why: vec![format!(
            "Averaged over five minutes, the bank's voltage fell below {limit_v:.2} V less {:.2} V for the meter's error.",
            evidence.design.judging.limit_slack_v * evidence.volts_per_12()
        )],
        also_possible: vec![
            "a voltmeter that reads too low, or one that sits behind a long, loaded cable".to_owned(),
            "a pack that had cut itself off, with a voltage outside it that belongs to no cell".to_owned(),
        ],
        next_check: NextCheck {
            tool: "a voltmeter with fine probes, or the pack's own display of its cells".to_owned(),
            r#where: "each cell, or the pack's posts where the cells cannot be reached, with everything switched off".to_owned(),
            healthy: format!(
                "all cells alike and well above {:.1} V",
                bank::min_cell_v(evidence.design.battery.chemistry)
            ),
            faulty: "one cell far below the others, or sinking while nothing is drawn; a cell that has swollen".to_owned(),
            then: "have it judged by someone qualified before it is charged again; set the load cut-off higher, so that it cannot happen twice".to_owned(),
            caution: "A lithium cell that was too low can short inside when charged, hours later. Do not bypass its protection to wake it. Keep it where a fire would be noticed and do no harm; leave a swollen, warm or smelling pack alone and get away from it.".to_owned(),
        },
        chart: None,
    }
}
