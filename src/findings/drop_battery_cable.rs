//! More resistance between controller and bank than the design's cable and joints explain.

use serde_json::json;

use crate::account::RunFit;
use crate::account::wire;
use crate::design::{Cable, Run};
use crate::findings::clock_off;
use crate::findings::{Cause, Evidence, Outcome, Rule};
use crate::quantity::Interval;
use crate::report::model::{Confidence, DayState, Finding, Limiting, NextCheck, Severity};
use crate::words::{about, ranged};

pub(super) const RULE: Rule = Rule {
    kind: "drop-battery-cable",
    area: Limiting::Wiring,
    meaning: "Somewhere between the controller's terminals and the bank's there is more resistance than the cable and its joints should have: usually one lug, fuse or switch. It turns charge into heat, and the controller stops charging hard before the bank is there.",
    decided: "A straight line with an intercept through controller voltage minus bank voltage against the controller's current, readings of the same minute only. The slope is the resistance, its 90 % interval respects that neighbouring readings and hours of one day are alike; the intercept is the two meters' disagreement and is no loss. It is compared with the run's own resistance: twice the length at the cable table's value, at 30 C, plus its fuses, switches and lugs. Found where the lower bound is at least half as much again as the design and the drop at the highest current held for ten minutes passes the run's limit or the heat passes 5 W; stop where the lower bound of the heat passes 5 W; to mend where it costs more than the smallest loss worth a job or the controller held its voltage for an hour or more while the bank still wanted charge; else to watch.",
    limits: "A run that the design does not describe is judged by 3 % of the nominal voltage and by its heat alone. A log sees the whole run, never one joint. Refused where the current hardly varied, where both voltages come from one meter, or where the interval is wider than 30 %.",
    cause: stands,
    follows_from: &[],
    look,
};

/// A drop that no such run should have, whatever it is made of, share of the nominal voltage: three times what
/// a good one is laid out for, and the most that is laid out for on runs where it matters less.
const USUAL_DROP: f64 = 0.03;

fn look(evidence: &Evidence) -> Outcome {
    let fit = match &evidence.accounts.run {
        Ok(fit) => fit,
        Err(wire::NotMeasurable { text, needs }) => {
            return Outcome::CannotTell {
                text: format!("how good the cable from controller to bank is: {text}"),
                needs: needs.clone(),
            };
        }
    };
    let cable = evidence
        .design
        .cable(Run::ControllerBattery, fit.controller);
    if let Some(minutes) = clock_off::runs_apart_min(evidence) {
        return Outcome::CannotTell {
            text: format!(
                "how good the cable from controller to bank is: the two logs are about {} minutes apart, so their voltages are not of the same moment",
                about(minutes)
            ),
            needs:
                "the clocks put right, as the finding about them says, and this report made anew"
                    .to_owned(),
        };
    }
    let figures = Figures::new(evidence, fit, cable);
    let Some(own) = fit.design_mohm else {
        return without_design(evidence, fit, &figures);
    };
    if !figures.is_too_much(fit, own) {
        return unless_unseen(evidence).unwrap_or_else(|| {
            Outcome::Fine(format!(
                "{} to bank: {} against {} mohm by design, {} V at {} A",
                start_of(fit),
                ranged(&fit.resistance_mohm, "mohm"),
                about(own),
                about(figures.drop_v),
                about(fit.at_a)
            ))
        });
    }
    Outcome::Found(Box::new(finding(evidence, fit, Some(own), &figures)))
}

/// Of several runs one that could not be measured is not called good for the others' sake.
fn unless_unseen(evidence: &Evidence) -> Option<Outcome> {
    let sides = wire::sides(evidence.design, evidence.timeline);
    let (side, unseen) = sides
        .iter()
        .zip(&evidence.accounts.runs)
        .find_map(|(side, run)| Some((side, run.as_ref().err()?)))?;
    Some(Outcome::CannotTell {
        text: format!(
            "how good the cable from \"{}\" to bank is: {}",
            side.name.unwrap_or("controller"),
            unseen.text
        ),
        needs: unseen.needs.clone(),
    })
}

/// Where the run begins: the controller, by its name where there are several.
fn start_of(fit: &RunFit) -> String {
    match &fit.name {
        Some(name) => format!("\"{name}\""),
        None => "controller".to_owned(),
    }
}

/// A run that the design does not describe: more than any such run should lose is too much, whatever it is
/// made of; less than that can't be told from a thin cable.
fn without_design(evidence: &Evidence, fit: &RunFit, figures: &Figures) -> Outcome {
    if figures.drop_v > figures.limit_v && figures.heat_w.low > figures.heat_stop_w {
        return Outcome::Found(Box::new(finding(evidence, fit, None, figures)));
    }
    Outcome::CannotTell {
        text: format!(
            "whether {} between controller and bank is much: the design has no such cable",
            ranged(&fit.resistance_mohm, "mohm")
        ),
        needs: "a [[cable]] with run = \"controller-battery\", its length and size, in the design"
            .to_owned(),
    }
}

/// Whether this rule finds something, for rules whose own sign it would explain.
pub(super) fn is_found(evidence: &Evidence) -> bool {
    matches!(look(evidence), Outcome::Found(_))
}

struct Figures {
    /// Drop over the run at the highest current held, V.
    drop_v: f64,
    /// Largest drop the design accepts, V.
    limit_v: f64,
    /// Heat beyond the design's own at that current, W.
    heat_w: Interval,
    /// Energy beyond the design's own, Wh a judged day.
    lost: Interval,
    /// Share of the design's own resistance that an excess must reach.
    excess_share: f64,
    /// Heat that makes the run a danger, W.
    heat_stop_w: f64,
}

impl Figures {
    fn new(evidence: &Evidence, fit: &RunFit, cable: Option<&Cable>) -> Self {
        let excess = fit.beyond_mohm();
        let squared = fit.at_a * fit.at_a / 1000.0;
        let grid = &evidence.expected.grid;
        let current_hours: f64 = (grid.day_starts[fit.from_day]..grid.moments)
            .filter_map(|m| {
                let a = fit.amps.mean(m)?.max(0.0);
                Some(a * a * fit.amps.covered(m) / 3600.0)
            })
            .sum();
        Self {
            drop_v: fit.at_a * fit.resistance_mohm.value / 1000.0,
            limit_v: cable.map_or(USUAL_DROP, |c| c.drop_limit) * evidence.design.nominal_v(),
            heat_w: excess.scale(squared),
            lost: evidence.per_judged_day(excess.scale(current_hours / 1000.0)),
            excess_share: evidence.design.judging.excess_share,
            heat_stop_w: evidence.design.judging.heat_stop_w,
        }
    }

    fn is_too_much(&self, fit: &RunFit, own: f64) -> bool {
        let more = fit.resistance_mohm.low > own * (1.0 + self.excess_share);
        more && (self.drop_v > self.limit_v || self.is_danger())
    }

    /// A drop above the run's limit is worth a job where it costs energy or cuts charging short, and worth
    /// watching otherwise.
    fn severity(&self, evidence: &Evidence) -> Severity {
        let held = evidence.held_short();
        let cost = self.lost.value + evidence.per_judged_day(Interval::exact(held.wh)).value;
        if self.is_danger() {
            Severity::Stop
        } else if cost > evidence.accounts.yardsticks.worth_a_job_wh || held.hours >= 1.0 {
            Severity::Fix
        } else {
            Severity::Watch
        }
    }

    fn is_danger(&self) -> bool {
        self.heat_w.low > self.heat_stop_w
    }
}

fn finding(evidence: &Evidence, fit: &RunFit, own: Option<f64>, figures: &Figures) -> Finding {
    let excess = fit.beyond_mohm();
    let held = evidence.held_short();
    let should = match own {
        Some(own) => format!(
            "where its cable and joints should have about {} mohm",
            about(own)
        ),
        None => format!(
            "and loses more than the {} V such a run may, whatever its cable is",
            about(figures.limit_v)
        ),
    };
    let summary = format!(
        "The run from {} to bank has {} {should}: at {} A the bank sees {} V less than the controller.{}",
        start_of(fit),
        ranged(&fit.resistance_mohm, "mohm"),
        about(fit.at_a),
        about(figures.drop_v),
        if figures.is_danger() {
            format!(
                " At least {} W of heat goes into this run at that current, perhaps into one joint.",
                about(figures.heat_w.low)
            )
        } else {
            String::new()
        }
    );
    Finding {
        kind: RULE.kind.to_owned(),
        severity: figures.severity(evidence),
        confidence: if fit.effective_n > 100.0 && fit.resistance_mohm.half_width() < 0.15 * fit.resistance_mohm.value {
            Confidence::High
        } else {
            Confidence::Medium
        },
        r#where: match &fit.name {
            Some(name) => format!("between the battery terminals of \"{name}\" and the bank's posts"),
            None => "between the controller's battery terminals and the bank's posts".to_owned(),
        },
        from: evidence.accounts.days.get(fit.from_day).map(|d| d.date.clone()),
        to: evidence.accounts.days.last().map(|d| d.date.clone()),
        days: evidence
            .accounts
            .days
            .iter()
            .skip(fit.from_day)
            .filter(|d| d.state != DayState::Unmeasured)
            .map(|d| d.date.clone())
            .collect(),
        lost_wh_per_day: Some(figures.lost),
        part_of: None,
        summary,
        evidence: [
            ("resistance_mohm".to_owned(), json!(fit.resistance_mohm)),
            ("design_mohm".to_owned(), json!(own)),
            ("excess_mohm".to_owned(), json!(excess)),
            ("drop_v".to_owned(), json!(figures.drop_v)),
            ("at_a".to_owned(), json!(fit.at_a)),
            ("lost_wh".to_owned(), json!(figures.lost)),
            ("heat_w".to_owned(), json!(figures.heat_w)),
            ("offset_v".to_owned(), json!(fit.offset_v)),
            ("readings".to_owned(), json!(fit.readings)),
            ("held_short_h".to_owned(), json!(held.hours)),
        ]
        .into(),
        why: reasons(evidence, fit, figures),
        also_possible: vec![
            "one meter that reads wrong in proportion to its voltage (a gain error of 1 % would explain only a few millivolts of slope)".to_owned(),
            "a load or a second charger connected at the controller's terminals, past the logged current".to_owned(),
            "a cable longer or thinner than the design says, or not copper".to_owned(),
        ],
        next_check: next_check(fit, own, figures.severity(evidence) == Severity::Stop),
        chart: Some("charts/drop.svg".to_owned()),
    }
}

fn reasons(evidence: &Evidence, fit: &RunFit, figures: &Figures) -> Vec<String> {
    let mut why = vec![
        format!(
            "{} readings taken by both meters in the same minute make a straight line with a scatter of {} mV.{}",
            fit.readings,
            about(1000.0 * fit.scatter_v),
            if fit.effective_n < 0.9 * fit.readings as f64 {
                format!(
                    " Many resemble their neighbours, and they count as {:.0}.",
                    fit.effective_n
                )
            } else {
                String::new()
            }
        ),
        format!(
            "The line meets no current at {:+.0} mV: that is the two meters' disagreement, not a loss.",
            1000.0 * fit.offset_v
        ),
        format!(
            "The run's limit is {} V; it loses {} V at the highest current held for ten minutes ({} A).",
            about(figures.limit_v),
            about(figures.drop_v),
            about(fit.at_a)
        ),
    ];
    if fit.from_day > 0 {
        why.push(
            "The run got worse on the way: the line stands for the later half of the log."
                .to_owned(),
        );
    }
    let held = evidence.held_short();
    if held.hours >= 0.5 {
        why.push(format!(
            "For {:.1} hours on {} days the controller already held its voltage while the bank stood {} V lower and still took more than its full current: charging was cut short by this run.",
            held.hours,
            held.days,
            about(held.drop_v)
        ));
    }
    if let Some(cable) = evidence
        .design
        .cable(Run::ControllerBattery, fit.controller)
        && !cable.joints_given
    {
        why.push(format!(
            "The design does not state the run's fuses, switches and lugs; {} mohm were assumed for them.",
            about(cable.joints_mohm)
        ));
    }
    why
}

fn next_check(fit: &RunFit, own: Option<f64>, stop: bool) -> NextCheck {
    let amps = fit.at_a.max(1.0);
    let until_then = if stop {
        "Keep the array off but to measure it; stop if anything smells. "
    } else {
        ""
    };
    NextCheck {
        tool: "a voltmeter on its millivolt range, and an infrared thermometer if there is one".to_owned(),
        r#where: "while charging hard in sun: first from the controller's plus terminal to the bank's plus post, then across each lug, fuse and switch in between; then the same on the minus side".to_owned(),
        healthy: match own {
            Some(own) => format!(
                "at {} A about {} mV in all, and less than 50 mV across any one joint",
                about(amps),
                about(own * amps)
            ),
            None => "less than 50 mV across any one joint".to_owned(),
        },
        faulty: format!(
            "about {} mV in all; most of it across one joint, which may be warm",
            about(fit.resistance_mohm.value * amps)
        ),
        then: "undo, clean, re-crimp or replace that joint, tighten it to its torque, and log one sunny day more".to_owned(),
        caution: format!(
            "{until_then}A bad joint is a heater: do not touch it. Before undoing anything switch the array off, then the loads, and open the fuse at the bank. A spanner across the posts of a bank welds and burns: insulated tools, no rings, no watch; ventilate lead-acid. Local code and a licensed practitioner come first."
        ),
    }
}

/// How it stands in the verdict. A drop that costs next to nothing limits nothing.
fn stands(evidence: &Evidence, finding: &Finding) -> Option<Cause> {
    if finding.severity > Severity::Fix {
        return None;
    }
    let held = evidence.held_short().wh / evidence.judged().count().max(1) as f64;
    let wh_per_day = finding.lost_wh_per_day.map_or(0.0, |i| i.value) + held;
    Some(Cause {
        wh_per_day,
        clause: clause(evidence, wh_per_day),
    })
}

fn clause(evidence: &Evidence, wh_per_day: f64) -> String {
    let Ok(fit) = &evidence.accounts.run else {
        return "the run from controller to bank has too much resistance".to_owned();
    };
    let right = fit.design_mohm.map_or_else(String::new, |own| {
        format!(" where {} mohm are right", about(own))
    });
    format!(
        "the run from {} to bank has {}{right}, so at {} A the bank gets {} V less than the controller shows; about {} Wh a day burn in it or are held back",
        start_of(fit),
        ranged(&fit.resistance_mohm, "mohm"),
        about(fit.at_a),
        about(fit.at_a * fit.resistance_mohm.value / 1000.0),
        about(wh_per_day)
    )
}
