//! Much of the charge put into the bank never comes out again.

use serde_json::json;

use crate::account::balance::{Balance, Prior};
use crate::findings::{Evidence, Outcome, Rule, cause, zero};
use crate::physics::bank::{Usual, coulombic_efficiency};
use crate::quantity::Interval;
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::words::{about, percent};

pub(super) const RULE: Rule = Rule {
    kind: "charge-loss-high",
    area: Limiting::Battery,
    meaning: "Of the charge that goes into the bank less comes out again than is usual for its kind. The rest turns to gas and heat, as in old, sulphated or overcharged cells.",
    decided: "Ampere-hours out over ampere-hours in from one true full charge to the next, at least three full charges; for lead without what went in on top of a full charge. The meter's zero error is left free within 0.08 A. Found when what goes missing clearly grows with the charge put in rather than with the hours (for lead also where even 0.3 A of zero error would not explain it), and the upper end of the 90 % interval is below the chemistry's usual range (flooded 80 to 92 %, AGM and gel 90 to 97 %, lithium 99 %). On cycles of at least 15 % of a lead bank or 10 % of a lithium one.",
    limits: "Without a proven zero of the meter only a large loss can be told: a meter 0.1 A beside the truth loses 2.4 Ah a day on paper. A load wired past the meter looks the same.",
    cause: cause::by_loss,
    follows_from: &["runaway-signs", "charge-voltage-high"],
    look,
};

/// Mean draw between full charges, share of capacity, from which cycles speak for the bank.
const LEAD_CYCLE: f64 = 0.15;
/// Lithium's loss does not depend on the depth.
const LITHIUM_CYCLE: f64 = 0.10;
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
    let (Some(likely), Some(wide)) = (
        balance.loss(zero::usual_offset()),
        balance.loss(Prior::between(-possible, possible)),
    ) else {
        return cannot_tell("fewer than three true full charges were logged without a gap");
    };
    let cycle = balance.out_ah / balance.spans.max(1) as f64 / design.battery.capacity_ah.max(0.1);
    let least = if chemistry.is_lead() {
        LEAD_CYCLE
    } else {
        LITHIUM_CYCLE
    };
    if cycle < least {
        return cannot_tell(&format!(
            "between full charges only {:.0} % of the bank were used, too little beside the errors",
            100.0 * cycle
        ));
    }
    let (likely, wide) = (efficiency(&likely), efficiency(&wide));
    let usual = coulombic_efficiency(chemistry);
    if likely.high < gave_at_least(evidence) {
        return cannot_tell(
            "the charges called full do not fit what was put in and drawn, as where a pack had opened or its meter is off",
        );
    }
    // Lithium hardly loses charge: only counts that speak for a loss themselves make it one.
    let proven = zero::is_loss(evidence, &balance)
        || (chemistry.is_lead() && wide.high < usual.low && zero::beyond_doubt(evidence).is_none());
    if likely.high < usual.low && proven {
        return Outcome::Found(Box::new(finding(evidence, &balance, &likely, usual)));
    }
    let range = format!(
        "{:.0} to {:.0} % is usual",
        100.0 * usual.low,
        100.0 * usual.high
    );
    let least = with_top(evidence, &balance).unwrap_or(likely.value);
    if least >= usual.low - NEAR && likely.value - likely.low < WIDE {
        return Outcome::Fine(format!(
            "{:.0} % of the charge put in came out again; {range}",
            100.0 * least
        ));
    }
    if least < likely.value && likely.value >= usual.low - NEAR {
        return cannot_tell(&format!(
            "{:.0} % of the charge put in came out again, {:.0} % without what went in on top of full charges; {range}",
            100.0 * least,
            100.0 * likely.value
        ));
    }
    cannot_tell(&format!(
        "{} of the charge put in came out again, if the meter rests at zero within {} A; {range}. A zero error of the meter would look the same",
        percent(&likely),
        about(zero::usual_offset().half)
    ))
}

/// The least share of what was put in that came out again: what was drawn over the whole log, had all that
/// the bank holds come out of it besides.
fn gave_at_least(evidence: &Evidence) -> f64 {
    let Some(amps) = &evidence.expected.signals.bank_a else {
        return 0.0;
    };
    let (put_in, drawn): (f64, f64) = (amps.in_h.iter().sum(), amps.out_h.iter().sum());
    (drawn - evidence.design.battery.capacity_ah) / put_in.max(1e-9)
}

/// Share that came out again with what went in on top of full charges counted in, for lead: the least that
/// the bank gives back. Without it is the most, since a bank just called full still takes a little.
fn with_top(evidence: &Evidence, without: &Balance) -> Option<f64> {
    let design = evidence.design;
    if !design.battery.chemistry.is_lead() {
        return None;
    }
    let charge = &evidence.accounts.charge;
    let all = Balance::new(design, evidence.expected, charge, false);
    Some((without.out_ah / all.in_ah.max(1e-9)).min(1.0))
}

/// What comes out again, from what is lost; the meter's two directions may differ in gain.
fn efficiency(loss: &Interval) -> Interval {
    Interval::new(
        (1.0 - loss.value).clamp(0.0, 1.0),
        (1.0 - loss.high - GAIN).clamp(0.0, 1.0),
        (1.0 - loss.low + GAIN).clamp(0.0, 1.0),
    )
}

fn cannot_tell(why: &str) -> Outcome {
    Outcome::CannotTell {
        text: format!("how much of its charge the bank gives back: {why}"),
        needs: "a meter that shows 0.0 A with everything off, then three full charges a few days apart with deep use in between".to_owned(),
    }
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
                about(zero::usual_offset().half),
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
