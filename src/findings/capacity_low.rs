//! The bank holds much less than its label.

use serde_json::json;

use crate::account::swings::{Known, Swings};
use crate::expect::offer;
use crate::findings::battery_resistance_high::measured_mohm;
use crate::findings::{Evidence, Outcome, Rule, cause, zero};
use crate::physics::bank::{capacity_at_current_ah, peukert_exponent};
use crate::quantity::Interval;
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::words::{about, ranged};

pub(super) const RULE: Rule = Rule {
    kind: "capacity-low",
    area: Limiting::Battery,
    meaning: "The bank gives much less charge between full and empty than its label says: it is worn, or part of it is disconnected.",
    decided: "Charge counted out of the bank between a true full charge and a low point whose voltage tells what is left: for iron phosphate below the knee (3.20 V a cell, the load's own drop added back), for lead after its rest (flooded 6 h, sealed 2 h, while its small load pulls it down by an amount known to 0.025 V). Capacity is that charge over the share of the bank in between, at least half. Its 90 % interval joins both ends, the meter's zero error, its gain, and the loss of what was put back meanwhile. Found when the upper end is below 80 % of the label, cold and heavy currents allowed for.",
    limits: "A bank that is never full, or never low, shows only what it gave: a lower bound. Lead is good to about a fifth from one night. What a voltage table gets wrong it gets wrong every night, so more nights hardly narrow it. Peukert's law is not summed up: charge not given at a high current comes at a lower one.",
    cause: cause::by_loss,
    follows_from: &[],
    look,
};

/// Capacity that cold takes, share a degree below 25 C, at the most (trade reference 6.5): lead 0.6 to 1 %,
/// iron phosphate 10 % at 0 C.
const LEAD_COLD: f64 = 0.010;
const LITHIUM_COLD: f64 = 0.004;
/// A bank this near its found capacity was empty, share.
const EMPTY: f64 = 0.85;

/// A bank that seems to hold more than this multiple of its label is another bank than the design's.
const UNFIT: f64 = 1.4;

fn look(evidence: &Evidence) -> Outcome {
    let design = evidence.design;
    let rated = design.battery.capacity_ah;
    if evidence.expected.signals.bank_a.is_none() || evidence.expected.signals.bank_v.is_none() {
        return cannot_tell("the bank's current and voltage were not logged together");
    }
    if evidence.accounts.charge.fulls.is_empty() {
        return cannot_tell("the bank was never truly full in this log");
    }
    let swings = Swings::new(
        design,
        evidence.expected,
        &evidence.accounts.charge,
        Known {
            zero: zero::of(evidence),
            resistance_mohm: measured_mohm(evidence),
        },
        design.judging.capacity_swing_share,
    );
    let low = design.judging.capacity_low_share;
    let Some(capacity) = swings.capacity_ah() else {
        let most = swings.most_ah.unwrap_or(Interval::exact(0.0));
        if most.low >= low * rated {
            return Outcome::Fine(format!(
                "after a full charge the bank gave at least {} Ah of its {} Ah, and was not empty",
                about(most.low),
                about(rated)
            ));
        }
        return cannot_tell(&format!(
            "it was never seen both full and low with at least half of it in between; it gave at least {} Ah",
            about(most.low.max(0.0))
        ));
    };
    let fair = fair_ah(evidence, &swings);
    if capacity.high < low * fair {
        return Outcome::Found(Box::new(finding(evidence, &swings, &capacity, fair)));
    }
    let text = format!(
        "the bank holds {} of its {} Ah",
        ranged(&capacity, "Ah"),
        about(rated)
    );
    if capacity.low > UNFIT * rated {
        return Outcome::CannotTell {
            text: format!("{text}, which no bank does: capacity or meter is wrong in the design"),
            needs: "the label of the bank, and the shunt's rating in the monitor's settings"
                .to_owned(),
        };
    }
    if capacity.value < low * fair {
        return cannot_tell(&format!("{text}, which may be low or not"));
    }
    Outcome::Fine(text)
}

/// What the bank holds, Ah, where that is found to be less than its label.
pub(super) fn held_ah(evidence: &Evidence) -> Option<f64> {
    match look(evidence) {
        Outcome::Found(found) => found.evidence.get("capacity_ah")?.get("value")?.as_f64(),
        _ => None,
    }
}

fn cannot_tell(why: &str) -> Outcome {
    Outcome::CannotTell {
        text: format!("how much the bank still holds: {why}"),
        needs: "one measured discharge: charge until truly full, let it rest, draw a steady known load down to the maker's end voltage and count the Ah, with charging at hand".to_owned(),
    }
}

/// What a bank as good as its label would give at the temperature and the current of the swings, Ah.
fn fair_ah(evidence: &Evidence, swings: &Swings) -> f64 {
    let battery = &evidence.design.battery;
    let per_degree = if battery.chemistry.is_lead() {
        LEAD_COLD
    } else {
        LITHIUM_COLD
    };
    let coldest = swings
        .swings
        .iter()
        .map(|s| low_c(evidence, s.low))
        .fold(25.0, f64::min);
    let warm = 1.0 - per_degree * (25.0 - coldest.clamp(-20.0, 25.0));
    let fastest = swings
        .swings
        .iter()
        .map(|s| s.given_ah.value / ((s.low - s.full) as f64 / 3600.0).max(0.5))
        .fold(0.0, f64::max);
    let exponent = peukert_exponent(battery.chemistry).high;
    let rate = capacity_at_current_ah(battery.capacity_ah, 20.0, exponent, fastest)
        .min(battery.capacity_ah);
    warm * rate
}

/// Bank temperature at an instant, C; the air's of the plan where it was not logged.
fn low_c(evidence: &Evidence, at: i64) -> f64 {
    let grid = &evidence.expected.grid;
    let moment = usize::try_from((at - grid.start).div_euclid(crate::expect::STEP_S)).ok();
    moment
        .zip(evidence.expected.signals.bank_c.as_ref())
        .and_then(|(m, c)| c.mean(m))
        .unwrap_or_else(|| offer::air_at(evidence.design, evidence.calendar.date(at)))
}

/// Energy a bank as good as its label would have taken beside, Wh a judged day: on days after which this
/// one was empty by the next full charge, what was held back at the top, up to the capacity that is
/// missing. On other days a larger bank would have been less empty in the morning by as much.
fn lost_wh(evidence: &Evidence, swings: &Swings, capacity: &Interval, fair: f64) -> Interval {
    let grid = &evidence.expected.grid;
    let held = |at: i64| -> f64 {
        grid.dates
            .binary_search(&evidence.calendar.date(at - 1))
            .ok()
            .and_then(|day| evidence.accounts.days.get(day)?.held_back_wh)
            .unwrap_or(0.0)
    };
    let volts = evidence.design.nominal_v();
    let sum = |missing_ah: f64| -> f64 {
        swings
            .swings
            .iter()
            .filter(|s| s.given_ah.value > EMPTY * capacity.value)
            .map(|s| held(s.full).min(missing_ah.max(0.0) * volts))
            .sum()
    };
    evidence.per_judged_day(Interval::new(
        sum(fair - capacity.value),
        sum(fair - capacity.high),
        sum(fair - capacity.low),
    ))
}

fn finding(evidence: &Evidence, swings: &Swings, capacity: &Interval, fair: f64) -> Finding {
    let rated = evidence.design.battery.capacity_ah;
    let date = |at: i64| evidence.calendar.date(at - 1).to_string();
    let mut days: Vec<String> = swings.swings.iter().map(|s| date(s.low)).collect();
    days.dedup();
    let lost = lost_wh(evidence, swings, capacity, fair);
    let mut why: Vec<String> = swings
        .swings
        .iter()
        .take(3)
        .map(|s| {
            format!(
                "From the full charge of {} until {} it gave {}; at {:.2} V there {:.0} % were left ({:.0} to {:.0} %): {} Ah in all.",
                evidence.calendar.local(s.full).format("%-d %B %H:%M"),
                evidence.calendar.local(s.low).format("%-d %B %H:%M"),
                ranged(&s.given_ah, "Ah"),
                s.low_v,
                100.0 * s.left.soc,
                100.0 * s.left.low,
                100.0 * s.left.high,
                about(s.capacity_ah.value)
            )
        })
        .collect();
    why.push(format!(
        "The upper end is below {:.0} % of {} Ah, which is what a bank as good as its label would give at the trip's temperature and current.",
        100.0 * evidence.design.judging.capacity_low_share,
        about(fair)
    ));
    Finding {
        kind: RULE.kind.to_owned(),
        severity: Severity::Fix,
        confidence: if swings.swings.len() >= 2 { Confidence::High } else { Confidence::Medium },
        r#where: "the bank".to_owned(),
        from: days.first().cloned(),
        to: days.last().cloned(),
        days,
        lost_wh_per_day: (lost.high > 0.0).then_some(lost),
        part_of: None,
        summary: format!(
            "The bank holds {} of the {} Ah on its label.",
            ranged(capacity, "Ah"),
            about(rated)
        ),
        evidence: [
            ("capacity_ah".to_owned(), json!(capacity)),
            ("rated_ah".to_owned(), json!(rated)),
            ("swings".to_owned(), json!(swings.swings.len())),
        ]
        .into(),
        why,
        also_possible: vec![
            "a label or a design that says more than was ever there, or one of several batteries off line".to_owned(),
            "a load wired past the bank's meter: it takes charge that is never counted".to_owned(),
            "one weak cell that ends the discharge for all".to_owned(),
        ],
        next_check: NextCheck {
            tool: "a steady known load, the bank's meter and a voltmeter".to_owned(),
            r#where: "at the bank's posts: charge until truly full, let it rest, draw the load down to the maker's end voltage and count the Ah".to_owned(),
            healthy: format!("at least {} Ah", about(0.8 * rated)),
            faulty: format!("about {} Ah", about(capacity.value)),
            then: "find the weak battery or cell by its voltage at the end; replace it, or the bank, or plan with what it holds".to_owned(),
            caution: format!(
                "{} Do the test with charging at hand. A bulged, hot or smelling battery: stop, isolate, ventilate.",
                if evidence.design.battery.chemistry.is_lead() {
                    "Never take lead below the maker's end voltage: it does not come back whole."
                } else {
                    "Stop at the maker's end voltage: below it the pack cuts off without warning, with everything on it."
                }
            ),
        },
        chart: Some("charts/charge.svg".to_owned()),
    }
}
