//! Much of the charge put into the bank never comes out again.

use serde_json::json;

use crate::account::balance::{Balance, Prior};
use crate::findings::{Evidence, Outcome, Rule, cause, zero};
use crate::physics::bank::{Usual, coulombic_efficiency};
use crate::quantity::Interval;
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::words::{about, percent, ranged};

pub(super) const RULE: Rule = Rule {
    kind: "charge-loss-high",
    area: Limiting::Battery,
    meaning: "Of the charge that goes into the bank less comes out again than is usual for its kind. The rest turns to gas and heat, as in old, sulphated or overcharged cells.",
    decided: "Ampere-hours out over ampere-hours in from one true full charge to the next, at least three full charges; for lead without what went in on top of a full charge. The meter's zero error is left free within 0.3 A, or solved as well where the days differ enough. Found when the upper end of the 90 % interval is below the chemistry's usual range (flooded 80 to 92 %, AGM and gel 90 to 97 %, lithium 99 %), on cycles of at least a fifth of the bank.",
    limits: "Without a proven zero of the meter only a large loss can be told: a meter 0.1 A beside the truth loses 2.4 Ah a day on paper. A load wired past the meter looks the same.",
    cause: cause::by_loss,
    follows_from: &[],
    look,
};

/// Mean draw between full charges, share of capacity, from which cycles speak for the bank.
const LEAST_CYCLE: f64 = 0.20;
/// A loss this near the usual range, where the zero error is the likeliest one, is a usual one.
const NEAR: f64 = 0.02;
/// Wider than this on the low side tells nothing.
const WIDE: f64 = 0.15;
/// The meter's two directions may differ by this in gain.
const GAIN: f64 = 0.01;

fn look(evidence: &Evidence) -> Outcome {
    let design = evidence.design;
    if evidence.expected.signals.bank_a.is_none() {
        return Outcome::NotApplicable;
    }
    let chemistry = design.battery.chemistry;
    let balance = Balance::new(
        design,
        evidence.expected,
        &evidence.accounts.charge,
        chemistry.is_lead(),
    );
    let possible = design.judging.zero_possible_a;
    let Some(loss) = balance.loss(Prior::between(-possible, possible)) else {
        return cannot_tell("fewer than three true full charges were logged without a gap");
    };
    let cycle = balance.out_ah / balance.spans.max(1) as f64 / design.battery.capacity_ah.max(0.1);
    if cycle < LEAST_CYCLE {
        return cannot_tell(&format!(
            "between full charges only {:.0} % of the bank were used, too little beside the errors",
            100.0 * cycle
        ));
    }
    let efficiency = Interval::new(
        (1.0 - loss.value).clamp(0.0, 1.0),
        (1.0 - loss.high - GAIN).clamp(0.0, 1.0),
        (1.0 - loss.low + GAIN).clamp(0.0, 1.0),
    );
    let usual = coulombic_efficiency(chemistry);
    if efficiency.high < usual.low {
        // A loss no bank of its kind shows is the meter's error, not the bank's.
        return match zero_error_explains(evidence) {
            Some(offset) => cannot_tell(&format!(
                "the meter's own zero error, {}, hides it",
                ranged(&offset, "A")
            )),
            None => Outcome::Found(Box::new(finding(evidence, &balance, &efficiency, usual))),
        };
    }
    if efficiency.value >= usual.low - NEAR && efficiency.value - efficiency.low < WIDE {
        return Outcome::Fine(format!(
            "{:.0} % of the charge put in came out again, if the meter rests at zero (at least {:.0} % if not); {:.0} to {:.0} % is usual",
            100.0 * efficiency.value,
            100.0 * efficiency.low,
            100.0 * usual.low,
            100.0 * usual.high
        ));
    }
    cannot_tell(&format!(
        "{} of the charge put in came out again, if the meter rests at zero within {} A; {:.0} to {:.0} % is usual",
        percent(&efficiency),
        about(possible),
        100.0 * usual.low,
        100.0 * usual.high
    ))
}

fn cannot_tell(why: &str) -> Outcome {
    Outcome::CannotTell {
        text: format!("how much of its charge the bank gives back: {why}"),
        needs: "a meter that shows 0.0 A with everything off, then three full charges a few days apart with deep use in between".to_owned(),
    }
}

/// The meter's zero error, where it is beyond doubt whatever the bank loses.
fn zero_error_explains(evidence: &Evidence) -> Option<Interval> {
    let offset = zero::solved(evidence)?.0;
    (offset.low > 0.0 || offset.high < 0.0)
        .then_some(offset)
        .filter(|o| o.value.abs() > evidence.design.judging.zero_error_a)
}

fn finding(evidence: &Evidence, balance: &Balance, efficiency: &Interval, usual: Usual) -> Finding {
    let design = evidence.design;
    let daily_ah = balance.in_ah / balance.hours.max(1.0) * 24.0;
    let lost = |share: f64| (usual.low - share).max(0.0) * daily_ah * design.nominal_v();
    let lost = Interval::new(
        lost(efficiency.value),
        lost(efficiency.high),
        lost(efficiency.low),
    );
    let date = |at: i64| evidence.calendar.date(at - 1).to_string();
    let worth = lost.value > evidence.accounts.yardsticks.worth_a_job_wh;
    Finding {
        kind: RULE.kind.to_owned(),
        severity: if worth { Severity::Fix } else { Severity::Watch },
        confidence: Confidence::Medium,
        r#where: "the bank".to_owned(),
        from: balance.period.map(|p| date(p.0)),
        to: balance.period.map(|p| date(p.1)),
        days: Vec::new(),
        lost_wh_per_day: Some(lost),
        part_of: None,
        summary: format!(
            "Only {} of the charge put into the bank came out again. A healthy bank of its kind gives back at least {:.0} %.",
            percent(efficiency),
            100.0 * usual.low
        ),
        evidence: [
            ("charge_efficiency".to_owned(), json!(efficiency)),
            ("in_ah".to_owned(), json!(balance.in_ah)),
            ("out_ah".to_owned(), json!(balance.out_ah)),
        ]
        .into(),
        why: vec![
            format!(
                "Over {} spans from one true full charge to the next, {} h in all, {} Ah went in and {} Ah came out.",
                balance.spans,
                about(balance.hours),
                about(balance.in_ah),
                about(balance.out_ah)
            ),
            format!(
                "The range leaves the meter a zero error of up to {} A either way; even its upper end is below {:.0} %.",
                about(design.judging.zero_possible_a),
                100.0 * usual.low
            ),
        ],
        also_possible: vec![
            "a load wired past the bank's meter".to_owned(),
            "a meter that does not rest at zero, or reads charging too high".to_owned(),
            "charging at too high a voltage, day after day: the charge boils off".to_owned(),
        ],
        next_check: NextCheck {
            tool: if design.battery.chemistry.is_lead() {
                "a hand near the case; for flooded cells a hydrometer".to_owned()
            } else {
                "the bank meter, then a clamp meter that reads 10 mA".to_owned()
            },
            r#where: "at each battery in turn, an hour into absorption, after the meter has been seen to show 0.0 A with everything off".to_owned(),
            healthy: "all equally cool; specific gravity even from cell to cell".to_owned(),
            faulty: "one warmer than the others, or a cell well below its neighbours; water used up".to_owned(),
            then: "take the odd battery out of the bank and have it load-tested; check the absorption voltage against its data sheet".to_owned(),
            caution: "A bulged, hot or smelling battery: stop charging, isolate, ventilate. Acid and hydrogen: goggles, no sparks. Local code and a licensed practitioner come first.".to_owned(),
        },
        chart: Some("charts/charge.svg".to_owned()),
    }
}
