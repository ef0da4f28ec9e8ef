//! The bank's ammeter shows a current where there is none.

use serde_json::json;

use crate::account::night::{Night, Nights};
use crate::design::budget::budget;
use crate::findings::{Evidence, Outcome, Rule, cause, zero};
use crate::quantity::Interval;
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::stats::quantile::{median, quantile};
use crate::words::{about, ranged};

pub(super) const RULE: Rule = Rule {
    kind: "current-offset",
    area: Limiting::Settings,
    meaning: "The bank's ammeter reads beside the truth by the same amount at every current. The error adds up hour by hour, and with it the percentage drifts away.",
    decided: "From one true full charge to the next the same charge is in the bank, so charge in minus charge out must be the bank's own loss plus the meter's zero error times the hours. The zero error is solved from at least three full charges, with the loss left free between what any bank of the chemistry shows; where the difference clearly grows with the charge put in rather than with the hours, it is no zero error. Or: on every logged night, with nothing charging and the bank below its float voltage, the meter shows a current into the bank. Found when the whole 90 % interval is beyond 0.1 A and 0.05 % of capacity an hour.",
    limits: "Lithium: about 0.1 A over a week of full charges. Lead loses an unknown share of its charge, so only a large error shows. A load or charger wired past the meter looks the same.",
    cause: cause::none,
    follows_from: &[],
    look,
};

/// Fewest hours between the first full charge and the last.
const LEAST_H: f64 = 48.0;
/// The sources of charge that may run at night unseen.
const NIGHT_CHARGERS: [&str; 3] = ["shore", "wind", "generator"];
/// Below float by this, V per 12 V, no charger holds the bank.
const BELOW_FLOAT_V: f64 = 0.1;

/// A zero error and how it was found.
struct Solved {
    offset_a: Interval,
    /// Whether a loss of the bank fits the counts clearly better.
    is_loss: bool,
    how: String,
    from: Option<String>,
    to: Option<String>,
}

/// Whether this rule finds something, for rules that would count with the bank's current.
pub(super) fn is_found(evidence: &Evidence) -> bool {
    matches!(look(evidence), Outcome::Found(_))
}

fn look(evidence: &Evidence) -> Outcome {
    if evidence.expected.signals.bank_a.is_none() {
        return Outcome::NotApplicable;
    }
    let least = least_a(evidence);
    let beyond = |s: &Solved| !s.is_loss && (s.offset_a.low > least || s.offset_a.high < -least);
    let balanced = from_fulls(evidence);
    if let Some(found) = balanced.iter().find(|s| beyond(s)) {
        return Outcome::Found(Box::new(finding(evidence, found, least)));
    }
    if let Some(found) = from_nights(evidence).filter(beyond) {
        return Outcome::Found(Box::new(finding(evidence, &found, least)));
    }
    match balanced {
        Some(s) if s.is_loss => cannot_tell(
            "between full charges charge goes missing, but with the charge put in rather than with the hours",
        ),
        Some(s) if s.offset_a.low >= -3.0 * least && s.offset_a.high <= 3.0 * least => {
            Outcome::Fine(format!(
                "the bank's ammeter rests at zero within {} to {} A",
                about(s.offset_a.low),
                about(s.offset_a.high)
            ))
        }
        Some(s) => cannot_tell(&format!(
            "charge in and out between full charges leave anything from {} to {} A open, because the bank's own loss is not known",
            about(s.offset_a.low),
            about(s.offset_a.high)
        )),
        None => cannot_tell("fewer than three true full charges were logged without a gap"),
    }
}

fn cannot_tell(why: &str) -> Outcome {
    Outcome::CannotTell {
        text: format!("whether the bank's ammeter rests at zero: {why}"),
        needs: "all loads and chargers off for a minute: the meter must then show 0.0 A".to_owned(),
    }
}

fn least_a(evidence: &Evidence) -> f64 {
    let judging = &evidence.design.judging;
    judging
        .zero_error_a
        .max(judging.zero_error_c * evidence.design.battery.capacity_ah)
}

fn from_fulls(evidence: &Evidence) -> Option<Solved> {
    let (offset_a, balance) = zero::solved(evidence)?;
    if balance.hours < LEAST_H {
        return None;
    }
    let (from, to) = balance.period?;
    let date = |at: i64| Some(evidence.calendar.date(at - 1).to_string());
    Some(Solved {
        offset_a,
        is_loss: zero::is_loss(evidence, &balance),
        how: format!(
            "Between true full charges, over {} h and {} spans, the meter counted {} Ah in and {} Ah out. The difference, less what a bank of this kind can lose, divided by the hours, is the zero error.",
            about(balance.hours),
            balance.spans,
            about(balance.in_ah),
            about(balance.out_ah)
        ),
        from: date(from),
        to: date(to),
    })
}

/// A current into the bank all through every night, with nothing to charge it.
fn from_nights(evidence: &Evidence) -> Option<Solved> {
    evidence.expected.signals.charge_a.as_ref()?;
    let unseen = |c: &crate::design::system::Charger| NIGHT_CHARGERS.contains(&c.kind.as_str());
    if evidence.design.chargers.iter().any(unseen) {
        return None;
    }
    let read = Nights::new(
        evidence.calendar,
        evidence.timeline,
        evidence.expected,
        &evidence.accounts.loads,
    )?;
    let controller = &evidence.design.controllers[0];
    let float_v = controller.float_v.unwrap_or(controller.absorption_v)
        - BELOW_FLOAT_V * evidence.volts_per_12();
    let free: Vec<&Night> = read
        .nights
        .iter()
        .filter(|n| n.bank_v.is_some_and(|v| v < float_v))
        .collect();
    let enough = read.from_bank && free.len() as f64 >= evidence.design.judging.use_days;
    if !enough || free.iter().any(|n| n.top_a >= 0.0) {
        return None;
    }
    // Loads can only take: the meter is off by at least what it shows, and by the loads on top.
    let shown: Vec<f64> = free.iter().map(|n| -n.floor_a).collect();
    let (low, middle) = (quantile(&shown, 0.05)?, median(&shown)?);
    let standby = budget(evidence.design).standby_a;
    let dates = &evidence.expected.grid.dates;
    let date = |n: Option<&&Night>| n.map(|n| dates[n.day].to_string());
    Some(Solved {
        is_loss: false,
        offset_a: Interval::new(middle + standby, low, middle + 2.0 * standby + 0.1),
        how: format!(
            "On all {} nights read, with nothing charging and the bank below its float voltage, the meter showed about {} A into the bank; {} A of standing use come on top.",
            free.len(),
            about(middle),
            about(standby)
        ),
        from: date(free.first()),
        to: date(free.last()),
    })
}

fn finding(evidence: &Evidence, solved: &Solved, least: f64) -> Finding {
    let offset = &solved.offset_a;
    let capacity = evidence.design.battery.capacity_ah.max(0.1);
    let daily_pct = 100.0 * offset.value.abs() * 24.0 / capacity;
    let side = if offset.value > 0.0 {
        "too much into the bank"
    } else {
        "too much out of the bank"
    };
    let size = if offset.value < 0.0 {
        offset.scale(-1.0)
    } else {
        *offset
    };
    Finding {
        kind: RULE.kind.to_owned(),
        // A twentieth of the bank in a week is as good as a shunt gets.
        severity: if daily_pct >= 1.0 { Severity::Fix } else { Severity::Watch },
        confidence: Confidence::Medium,
        r#where: "the bank's ammeter".to_owned(),
        from: solved.from.clone(),
        to: solved.to.clone(),
        days: Vec::new(),
        lost_wh_per_day: None,
        part_of: None,
        summary: format!(
            "The bank's ammeter shows {} {side}, at any current. Its percentage goes wrong by about {} points a day for it.",
            ranged(&size, "A"),
            about(daily_pct)
        ),
        evidence: [
            ("offset_a".to_owned(), json!(offset.value)),
            ("offset_range_a".to_owned(), json!(offset)),
        ]
        .into(),
        why: vec![
            solved.how.clone(),
            format!(
                "The whole interval is further than {} A from zero; 24 h of it make {} Ah.",
                about(least),
                about(24.0 * offset.value.abs())
            ),
        ],
        also_possible: vec![
            if offset.value > 0.0 {
                "a load wired past the meter: it takes charge that is never counted".to_owned()
            } else {
                "a charger wired past the meter: it gives charge that is never counted".to_owned()
            },
            "a bank that loses much of its charge".to_owned(),
        ],
        next_check: NextCheck {
            tool: "the meter itself, and a clamp meter that reads 10 mA".to_owned(),
            r#where: "at the bank's negative lead, all loads and chargers switched off".to_owned(),
            healthy: "0.0 A on the meter, 0.0 A on the clamp".to_owned(),
            faulty: format!("about {} A on the meter, 0.0 A on the clamp", about(offset.value)),
            then: "zero the meter by its own menu with everything off; then one full charge, so that it starts from 100 % again. A clamp that shows the current too: look for what is wired past the shunt".to_owned(),
            caution: "Loosen nothing at the bank for it. Keep bilge pump and gas alarm powered unless someone watches.".to_owned(),
        },
        chart: Some("charts/charge.svg".to_owned()),
    }
}
