//! Lead that takes more and more current at a held voltage while it warms.

use std::ops::Range;

use serde_json::json;

use crate::account::flat;
use crate::expect::{Folded, STEP_S};
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::stats::quantile::mean;
use crate::timeline::stage;
use crate::words::{about, date};

pub(super) const RULE: Rule = Rule {
    kind: "runaway-signs",
    area: Limiting::Battery,
    meaning: "At a held voltage the current into a healthy lead bank falls. Here it rose for hours while the bank grew warmer: warmth takes current, current makes warmth. In the end such a battery boils, swells or bursts.",
    decided: "The bank's voltage stood within 0.1 V per 12 V, at float or above, while its own current rose from its lowest half hour to the highest one after it by more than half the full current, to more than half as much again and to above the full current, over at least 2 hours, hardly ever falling from one half hour to the next, the voltage no more than 0.03 V per 12 V higher then, and the bank's own temperature 5 C or more higher.",
    limits: "Lead only. Needs the bank's own current, voltage and temperature. Where the temperature was not logged, a current that rises like that is named as unknown. A rise shorter than 2 hours is not seen.",
    cause: cause::without_cost,
    follows_from: &[],
    look,
};

/// The voltage stays within this, V per 12 V (trade reference 3.4).
const BAND_V: f64 = 0.1;
/// At the highest current it may stand this much higher than at the lowest current, V per 12 V: more is no held voltage.
const HIGHER_V: f64 = 0.03;
/// Below this a lead bank is not held, V a cell: the lower end of float (trade reference 6.1).
const LEAST_CELL_V: f64 = 2.2;
/// Moments of the half hours that are compared.
const BLOCK: usize = 6;
/// A block lower than the one before by more than this share of the rise is a fall.
const FALL: f64 = 0.1;
/// The current must come to at least this many times its lowest.
const GROWS: f64 = 1.5;

fn look(evidence: &Evidence) -> Outcome {
    if !evidence.design.battery.chemistry.is_lead() {
        return Outcome::NotApplicable;
    }
    let signals = &evidence.expected.signals;
    let (Some(volts), Some(amps)) = (&signals.bank_v, &signals.bank_a) else {
        return Outcome::CannotTell {
            text: "whether the bank takes ever more current at a held voltage: its own current and voltage were not both logged".to_owned(),
            needs: "a shunt in the bank's negative lead, and the bank's voltage and temperature, in the log".to_owned(),
        };
    };
    let stays = stays(evidence, volts);
    let rises: Vec<Rise> = stays
        .iter()
        .filter_map(|stay| Rise::of(evidence, stay, volts, amps))
        .collect();
    let Some(worst) = rises
        .iter()
        .max_by(|a, b| a.danger().total_cmp(&b.danger()))
    else {
        return if stays.is_empty() {
            Outcome::CannotTell {
                text: "whether the bank takes ever more current at a held voltage: its voltage was never held for two hours".to_owned(),
                needs: "a log of sunny days with the bank nearly full".to_owned(),
            }
        } else {
            Outcome::Fine(format!(
                "in {} stays of two hours or more at a held voltage the current never kept rising",
                stays.len()
            ))
        };
    };
    match worst.warmer_c {
        None => Outcome::CannotTell {
            text: format!(
                "whether the bank is running away: on {} its current rose by {} A in {} hours at a held {:.2} V, and its temperature was not logged",
                date(&worst.date),
                about(worst.rise_a),
                about(worst.hours),
                worst.held_v
            ),
            needs: "the bank's temperature; today: measure its case while it charges, and stop charging if it is hot".to_owned(),
        },
        Some(c) if c >= evidence.design.judging.runaway_warmer_c => {
            Outcome::Found(Box::new(finding(worst, &rises, evidence)))
        }
        Some(c) => Outcome::Fine(format!(
            "on {} the current rose by {} A at a held voltage, but the bank's temperature changed by {} C only",
            date(&worst.date),
            about(worst.rise_a),
            about(c)
        )),
    }
}

/// Stretches of at least two hours with the voltage held at float or above and current into the bank.
fn stays(evidence: &Evidence, volts: &Folded) -> Vec<Range<usize>> {
    let signals = &evidence.expected.signals;
    let least_v = LEAST_CELL_V * evidence.design.cells();
    let least = (evidence.design.judging.runaway_s / STEP_S as f64).ceil() as usize;
    let charging = |m: usize| {
        let amps = signals.bank_a.as_ref().and_then(|a| a.mean(m));
        amps.is_some_and(|a| a > 0.0)
    };
    let bulk = |m: usize| {
        let code = signals.stage.as_ref().and_then(|s| s.mean(m));
        code.is_some_and(|c| (c - stage::BULK).abs() < 0.01)
    };
    let value = |m: usize| {
        let v = volts.mean(m)?;
        (v >= least_v && charging(m) && !bulk(m)).then_some((v, ()))
    };
    let grid = &evidence.expected.grid;
    let band = BAND_V * evidence.volts_per_12();
    (0..grid.dates.len())
        .flat_map(|day| flat::runs(grid.day(day), least, band, value))
        .collect()
}

/// A current that rose at a held voltage.
struct Rise {
    date: String,
    held_v: f64,
    rise_a: f64,
    hours: f64,
    warmer_c: Option<f64>,
}

impl Rise {
    fn of(evidence: &Evidence, stay: &Range<usize>, volts: &Folded, amps: &Folded) -> Option<Self> {
        let block = |f: &Folded, from: usize| {
            mean(
                &(from..from + BLOCK)
                    .filter_map(|m| f.mean(m))
                    .collect::<Vec<_>>(),
            )
        };
        let starts: Vec<usize> = (stay.start..stay.end)
            .step_by(BLOCK)
            .filter(|from| from + BLOCK <= stay.end)
            .collect();
        let currents: Vec<f64> = starts.iter().filter_map(|s| block(amps, *s)).collect();
        if currents.len() != starts.len() {
            return None;
        }
        let lowest = (0..currents.len()).min_by(|a, b| currents[*a].total_cmp(&currents[*b]))?;
        let last = (lowest..currents.len()).max_by(|a, b| currents[*a].total_cmp(&currents[*b]))?;
        let rise_a = currents[last] - currents[lowest];
        let hours = ((last - lowest) * BLOCK) as f64 * evidence.expected.grid.step_h();
        let judging = &evidence.design.judging;
        let steady = currents[lowest..=last]
            .windows(2)
            .all(|pair| pair[1] >= pair[0] - FALL * rise_a);
        let higher_v = block(volts, starts[last])? - block(volts, starts[lowest])?;
        let grows = rise_a > judging.runaway_rise * evidence.design.battery.full_current_a
            && currents[last] > GROWS * currents[lowest]
            && currents[last] > evidence.design.battery.full_current_a
            && hours * 3600.0 >= judging.runaway_s - 1.0
            && steady
            && higher_v <= HIGHER_V * evidence.volts_per_12();
        grows.then(|| Self {
            date: evidence.expected.grid.dates[evidence.expected.grid.day_of(stay.start)]
                .to_string(),
            held_v: block(volts, starts[last]).unwrap_or_default(),
            rise_a,
            hours,
            warmer_c: evidence
                .expected
                .signals
                .bank_c
                .as_ref()
                .and_then(|c| Some(block(c, starts[last])? - block(c, starts[lowest])?)),
        })
    }

    /// Warmest first, then by current.
    fn danger(&self) -> f64 {
        self.warmer_c.unwrap_or(0.0) + self.rise_a / 1e6
    }
}

fn finding(worst: &Rise, rises: &[Rise], evidence: &Evidence) -> Finding {
    let warmer = worst.warmer_c.unwrap_or_default();
    let mut dates: Vec<String> = rises
        .iter()
        .filter(|r| {
            r.warmer_c
                .is_some_and(|c| c >= evidence.design.judging.runaway_warmer_c)
        })
        .map(|r| r.date.clone())
        .collect();
    dates.dedup();
    Finding {
        kind: RULE.kind.to_owned(),
        severity: Severity::Stop,
        confidence: if dates.len() >= 2 { Confidence::High } else { Confidence::Medium },
        r#where: "the bank".to_owned(),
        from: dates.first().cloned(),
        to: dates.last().cloned(),
        days: dates,
        lost_wh_per_day: None,
        part_of: None,
        summary: format!(
            "On {} the bank took ever more current at a held {:.2} V: {} A more in {} hours, while it grew {} C warmer. Stop charging it until it has been looked at.",
            date(&worst.date),
            worst.held_v,
            about(worst.rise_a),
            about(worst.hours),
            about(warmer)
        ),
        evidence: [
            ("held_v".to_owned(), json!(worst.held_v)),
            ("current_rise_a".to_owned(), json!(worst.rise_a)),
            ("temperature_rise_c".to_owned(), json!(warmer)),
            ("hours".to_owned(), json!(worst.hours)),
        ]
        .into(),
        why: vec![format!(
            "From its lowest half hour to the highest one after it the current rose by more than {} A at a voltage that did not rise, and the bank warmed by more than {} C.",
            about(evidence.design.judging.runaway_rise * evidence.design.battery.full_current_a),
            about(evidence.design.judging.runaway_warmer_c)
        )],
        also_possible: vec![
            "a load between the shunt and the bank, so that its current is taken for the bank's".to_owned(),
            "one cell or one battery of several that has shorted, and draws from the others".to_owned(),
            "a bank recovering from long undercharge: its current may rise for a while, but it hardly warms".to_owned(),
        ],
        next_check: NextCheck {
            tool: "an infrared thermometer, and a voltmeter on each battery".to_owned(),
            r#where: "the case of each battery, from a distance first; then each battery's voltage with charging off".to_owned(),
            healthy: "all cool and alike, and the current falls at a held voltage".to_owned(),
            faulty: "one battery hot, swollen or smelling, or clearly lower in voltage than the others".to_owned(),
            then: "switch off all charging, let it cool, take the bad battery out of use, and check charging voltage and temperature compensation before the next charge".to_owned(),
            caution: "Do not go near a battery that is hot, swollen, hissing or smells of rotten eggs: switch the array and chargers off elsewhere, air the place from outside, no sparks or flames. Local code and a licensed practitioner come first.".to_owned(),
        },
        chart: None,
    }
}
