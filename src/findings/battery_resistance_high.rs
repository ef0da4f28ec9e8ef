//! The bank's voltage falls more for an ampere than a healthy bank's does.

use serde_json::json;

use crate::account::steps::{self, Limits, NoSteps, OHMIC_STEP_S, StepFit};
use crate::expect::offer;
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::physics::bank::internal_resistance_mohm;
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::words::{about, days, ranged};

pub(super) const RULE: Rule = Rule {
    kind: "battery-resistance-high",
    area: Limiting::Battery,
    meaning: "When a load starts, the bank's voltage dips more than it should: an aged bank, one weak cell, or a poor joint between the cells and the place where the monitor measures.",
    decided: "Change of voltage over change of current between neighbouring rows, at steps of at least 5 A (5 % of capacity where that is less), while the bank discharges and no controller holds its voltage. Mean of the steps by their size, wild ones left out, 90 % interval by drawing whole days. Found when its lower end is above twice the most that is usual for the chemistry and size, at least 8 steps on 3 days, or 96 steps of two fifths that size. Cold is allowed for (half as much again at 0 C). Rows 1 to 5 minutes apart show the slow part of the voltage too: then four times the usual is the yardstick.",
    limits: "Needs voltage and current of the bank from one meter, in rows at most 5 minutes apart. It includes the wiring up to the monitor's own leads, and says nothing about where in it.",
    cause: cause::without_cost,
    follows_from: &[],
    look,
};

/// Steps of this share of the smallest one serve as well ...
const SMALL: f64 = 0.4;
/// ... where there are so many times more of them: a meter's noise falls with the root of their number.
const MANY: usize = 12;
/// Days on which steps must be seen.
const LEAST_DAYS: usize = 3;
/// What averages over minutes show of the resistance seconds after a step (trade reference 6.8: two to four
/// times).
const SLOW: f64 = 4.0;
/// Resistance grows by this share for a degree below 25 C (trade reference 6.8: half as much again at 0 C).
const COLD: f64 = 0.02;

/// Less than this share of what is usual no bank has.
const LEAST_SHARE: f64 = 0.05;

fn look(evidence: &Evidence) -> Outcome {
    let design = evidence.design;
    let judging = &design.judging;
    let fit = match measured(evidence) {
        Ok(fit) => fit,
        Err(why) => return unmeasured(&why, least_a(evidence)),
    };
    let typical = typical_mohm(evidence, &fit);
    let resistance = &fit.resistance_mohm;
    if resistance.low > judging.resistance_times * typical {
        return Outcome::Found(Box::new(finding(evidence, &fit, typical)));
    }
    if resistance.high > 2.0 * judging.resistance_times * typical {
        return Outcome::CannotTell {
            text: format!(
                "the bank's resistance: its load steps leave anything from {} to {} mohm open",
                about(resistance.low),
                about(resistance.high)
            ),
            needs: "a heavy load switched on and off ten times, on a bank that is not being charged, in rows a few seconds apart".to_owned(),
        };
    }
    // No bank has none: a meter whose last digit is coarser than the step shows nothing of it.
    if resistance.high < LEAST_SHARE * typical {
        return Outcome::CannotTell {
            text: "the bank's resistance: its voltage hardly moves in this log when a load comes or goes".to_owned(),
            needs: "the bank's voltage to a hundredth of a volt, in rows a few seconds apart".to_owned(),
        };
    }
    Outcome::Fine(format!(
        "the bank shows {} at load steps, wiring up to the monitor included; up to {} mohm is usual; makes differ, so {} times as much, {} mohm, is let pass",
        ranged(resistance, "mohm"),
        about(typical),
        about(judging.resistance_times),
        about(judging.resistance_times * typical)
    ))
}

/// Smallest step taken alone, A.
fn least_a(evidence: &Evidence) -> f64 {
    let design = evidence.design;
    let share = 0.05 * design.battery.capacity_ah;
    design.judging.load_step_a.min(share)
}

/// The resistance from large load steps, or else from many small ones.
fn measured(evidence: &Evidence) -> Result<StepFit, NoSteps> {
    let limits = Limits {
        least_a: least_a(evidence),
        steps: evidence.design.judging.load_steps as usize,
        days: LEAST_DAYS,
    };
    let many = Limits {
        least_a: limits.least_a * SMALL,
        steps: limits.steps * MANY,
        days: LEAST_DAYS,
    };
    let measure = |limits| {
        steps::measure(
            evidence.design,
            evidence.timeline,
            evidence.expected,
            limits,
        )
    };
    measure(limits).or_else(|why| measure(many).map_err(|_| why))
}

/// The upper end of the measured resistance, mohm, where there is one.
pub(super) fn measured_mohm(evidence: &Evidence) -> Option<f64> {
    measured(evidence).ok().map(|fit| fit.resistance_mohm.high)
}

fn unmeasured(why: &NoSteps, least_a: f64) -> Outcome {
    let text = match why {
        NoSteps::NotTogether => {
            "voltage and current of the bank were not logged by one meter".to_owned()
        }
        NoSteps::TooCoarse { step_s } => {
            format!("rows {} s apart show no load step", about(*step_s))
        }
        NoSteps::TooFew { steps, days } => format!(
            "only {steps} load steps of {} A or more on {} while it was not charged",
            about(least_a),
            crate::words::days(*days)
        ),
    };
    Outcome::CannotTell {
        text: format!("the bank's resistance: {text}"),
        needs: "the bank monitor's voltage and current a minute apart or less, with a heavy load switched on and off in the evening".to_owned(),
    }
}

/// The most that is usual, mohm: for the size, the step of the rows and the coldest of the days.
fn typical_mohm(evidence: &Evidence, fit: &StepFit) -> f64 {
    let design = evidence.design;
    let battery = &design.battery;
    let most =
        internal_resistance_mohm(battery.chemistry, battery.capacity_ah, design.nominal_v()).1;
    let slow = if fit.step_s <= OHMIC_STEP_S {
        1.0
    } else {
        SLOW
    };
    let coldest = fit
        .days
        .iter()
        .map(|day| day_c(evidence, *day))
        .fold(25.0, f64::min);
    most * slow * (1.0 + COLD * (25.0 - coldest.clamp(-20.0, 25.0)))
}

/// Lowest bank temperature of a day, C; the air's of the plan where it was not logged.
fn day_c(evidence: &Evidence, day: usize) -> f64 {
    let grid = &evidence.expected.grid;
    let logged = evidence.expected.signals.bank_c.as_ref().and_then(|c| {
        grid.day(day)
            .filter_map(|m| c.mean(m))
            .min_by(f64::total_cmp)
    });
    logged.unwrap_or_else(|| offer::air_at(evidence.design, grid.dates[day]))
}

fn finding(evidence: &Evidence, fit: &StepFit, typical: f64) -> Finding {
    let resistance = &fit.resistance_mohm;
    let dates: Vec<String> = fit
        .days
        .iter()
        .map(|d| evidence.expected.grid.dates[*d].to_string())
        .collect();
    let drop_v = resistance.value * fit.largest_a / 1000.0;
    Finding {
        kind: RULE.kind.to_owned(),
        severity: Severity::Fix,
        confidence: if fit.days.len() >= 6 { Confidence::High } else { Confidence::Medium },
        r#where: "the bank, with its wiring up to the monitor".to_owned(),
        from: dates.first().cloned(),
        to: dates.last().cloned(),
        days: dates,
        lost_wh_per_day: None,
        part_of: None,
        summary: format!(
            "The bank shows {} where at most {} mohm is usual for its size. A step of {} A pulls its voltage down by {} V.",
            ranged(resistance, "mohm"),
            about(typical),
            about(fit.largest_a),
            about(drop_v)
        ),
        evidence: [
            ("resistance_mohm".to_owned(), json!(resistance)),
            ("typical_mohm".to_owned(), json!(typical)),
            ("steps".to_owned(), json!(fit.steps)),
            ("largest_step_a".to_owned(), json!(fit.largest_a)),
        ]
        .into(),
        why: vec![
            format!(
                "Change of voltage over change of current, the mean of {} load steps on {}, rows {} s apart.",
                fit.steps,
                days(fit.days.len()),
                about(fit.step_s)
            ),
            format!(
                "The lower end, {} mohm, is above {} times the most that is usual.",
                about(resistance.low),
                about(evidence.design.judging.resistance_times)
            ),
        ],
        also_possible: vec![
            "a poor joint between the cells and the monitor's own leads: a post, a link, a fuse".to_owned(),
            "a bank colder than its sensor, or smaller than the design says".to_owned(),
            "one weak cell or battery among good ones".to_owned(),
        ],
        next_check: NextCheck {
            tool: "a voltmeter".to_owned(),
            r#where: format!(
                "on the battery posts themselves, then across each link, lug and fuse, while {} A are drawn",
                about(fit.largest_a)
            ),
            healthy: format!(
                "the posts dip by less than {} V, no joint shows more than 0.05 V",
                about(typical * fit.largest_a / 1000.0)
            ),
            faulty: "the posts dip as far as the monitor says: the bank; or one joint shows the difference".to_owned(),
            then: "a joint: isolate, clean, tighten. The bank: have each battery load-tested, and replace the weak one".to_owned(),
            caution: "A poor joint at heavy current is a heater: do not touch it bare-handed. Isolate and fuse before undoing anything; a spanner across the posts can weld; no rings or watches; ventilate lead-acid. Local code and a licensed practitioner come first.".to_owned(),
        },
        chart: None,
    }
}
