//! The drop from panels to controller, as the design has it.

use serde_json::json;

use crate::design::Design;
use crate::design::Run;
use crate::design::checks::array_run::{ArrayRun, array_runs};
use crate::design::checks::run_words;
use crate::expect::Expectation;
use crate::findings::paper::{self, Verdict};
use crate::findings::{Cause, Evidence, Outcome, Rule, cause};
use crate::quantity::Interval;
use crate::report::model::{Confidence, Finding, Limiting, NextCheck};
use crate::words::{about, ranged};

pub(super) const RULE: Rule = Rule {
    kind: "drop-array-cable",
    area: Limiting::Wiring,
    meaning: "The cable from the panels to the controller is long or thin for its current: part of the harvest warms the cable.",
    decided: "From the design: 2 x length x the cable table's resistance at 30 C, plus its fuses, switches and lugs, at the strings' current at maximum power, against the run's drop limit (3 % of the string's voltage unless the design says otherwise). To watch above the limit, to mend from twice the limit. The energy that a cable at the limit would give back is reckoned from the array's logged current.",
    limits: "Ordinary logs hold no voltage at the panels, so this run is reckoned and never measured: a bad joint in it does not show here. With a PWM controller the drop costs next to nothing until the panels' voltage gets near the bank's, so it is only watched. Needs array.panel.vmp or imp and the cable's length and size.",
    cause: stands,
    follows_from: &[],
    look,
};

/// What the table, the cable's temperature and assumed joints leave open, share of the resistance: real
/// cable is 2 to 5 % under its table; 0 to 70 C is -12 to +15 % from 30 C (trade reference 5.1).
const UNSURE: (f64, f64) = (0.85, 1.15);

fn look(evidence: &Evidence) -> Outcome {
    let design = evidence.design;
    let runs = array_runs(design);
    if runs.is_empty() {
        return Outcome::CannotTell {
            text: "how much the cable from the panels loses: the design has no such cable, and no ordinary log shows it".to_owned(),
            needs: "a [[cable]] with run = \"array-controller\", its length and size, in the design".to_owned(),
        };
    }
    let verdicts = runs
        .into_iter()
        .map(|checked| match checked {
            Err(lack) => Verdict::lacking(lack),
            Ok(run) if run.drop_share() > run.limit_share => {
                Verdict::found(run.drop_share() / run.limit_share, finding(evidence, &run))
            }
            Ok(run) => Verdict::Fine(format!(
                "{}: {:.1} % at {} A by design, limit {:.1} % (reckoned, not measured)",
                run_words(design, Run::ArrayController, run.controller),
                100.0 * run.drop_share(),
                about(run.amps),
                100.0 * run.limit_share
            )),
        })
        .collect();
    paper::worst(verdicts)
}

/// What a cable that just keeps the limit would give back, Wh a judged day. `None` where the array's
/// current was not logged and does not follow, or where several arrays share what was logged.
fn lost(evidence: &Evidence, run: &ArrayRun) -> Option<Interval> {
    if evidence.design.controllers.len() > 1 || !run.converts {
        return None;
    }
    let square_ah = squared_current_h(evidence.expected, run)?;
    let wh = (run.design_mohm - run.limit_mohm()).max(0.0) / 1000.0 * square_ah;
    let whole = run.design_mohm / 1000.0 * square_ah;
    Some(evidence.per_judged_day(Interval::new(
        wh,
        (wh - (1.0 - UNSURE.0) * whole).max(0.0),
        wh + (UNSURE.1 - 1.0) * whole,
    )))
}

/// Integral of the array's current squared, A2 h: logged, or its power over its voltage.
fn squared_current_h(expected: &Expectation, run: &ArrayRun) -> Option<f64> {
    let signals = &expected.signals;
    let amps = |m: usize| -> Option<(f64, f64)> {
        if let Some(a) = &signals.array_a {
            return Some((a.mean(m)?, a.covered(m)));
        }
        let watts = signals.array.as_ref().or(signals.harvest.as_ref())?;
        Some((watts.mean(m)? / run.string_v, watts.covered(m)))
    };
    let known = signals.array_a.is_some() || signals.array.is_some() || signals.harvest.is_some();
    known.then(|| {
        (0..expected.grid.moments)
            .filter_map(amps)
            .map(|(a, s)| a.max(0.0).powi(2) * s / 3600.0)
            .sum()
    })
}

fn finding(evidence: &Evidence, run: &ArrayRun) -> Finding {
    let design = evidence.design;
    let lost = lost(evidence, run);
    let words = run_words(design, Run::ArrayController, run.controller);
    Finding {
        kind: RULE.kind.to_owned(),
        severity: paper::severity(run.standing(design.judging.array_drop_fix)),
        confidence: Confidence::Medium,
        r#where: words.clone(),
        from: None,
        to: None,
        days: Vec::new(),
        lost_wh_per_day: lost,
        part_of: None,
        summary: format!(
            "By design {words} loses {:.1} % of the panels' voltage in full sun, where {:.1} % are its limit{}.",
            100.0 * run.drop_share(),
            100.0 * run.limit_share,
            lost.map_or(String::new(), |wh| format!(
                "; a cable at the limit would give back {} a day",
                ranged(&wh, "Wh")
            ))
        ),
        evidence: [
            ("design_mohm".to_owned(), json!(run.design_mohm)),
            ("drop_pct".to_owned(), json!(100.0 * run.drop_share())),
            ("limit_pct".to_owned(), json!(100.0 * run.limit_share)),
            ("drop_v".to_owned(), json!(run.drop_v())),
            ("at_a".to_owned(), json!(run.amps)),
        ]
        .into(),
        why: reasons(design, run),
        also_possible: vec![
            "a length that was entered out and back: the design wants one way".to_owned(),
            "panels wired in series where the design says in parallel: that would halve the current".to_owned(),
        ],
        next_check: next_check(run),
        chart: None,
    }
}

fn reasons(design: &Design, run: &ArrayRun) -> Vec<String> {
    let mut why = vec![
        run.arithmetic(),
        "This run cannot be measured in ordinary logs, which hold no voltage at the panels: it is the design's arithmetic.".to_owned(),
    ];
    if !run.converts {
        why.push("A PWM controller pulls the panels below their best voltage anyway: the drop costs little as long as the panels stay above the bank with room.".to_owned());
    }
    if let Some(cable) = design.cable(Run::ArrayController, run.controller)
        && !cable.joints_given
    {
        why.push(format!(
            "{} mohm were assumed for its joints, which the design does not state.",
            about(cable.joints_mohm)
        ));
    }
    why
}

fn next_check(run: &ArrayRun) -> NextCheck {
    NextCheck {
        tool: "a voltmeter for the string's voltage, read twice within a minute of steady full sun".to_owned(),
        r#where: "where the panels' cables join on the roof, and at the controller's array terminals".to_owned(),
        healthy: format!(
            "less than {:.1} V between the two at {} A",
            run.limit_share * run.string_v,
            about(run.amps)
        ),
        faulty: format!("{:.1} V or more", run.drop_v()),
        then: "a thicker cable, or panels in series where the controller's highest input allows it in the cold".to_owned(),
        caution: format!(
            "Panels can't be switched off in light, and a connector pulled under current draws an arc that stays: probe only where nothing has to be opened, no roof work when wet or alone. {}",
            paper::ARITHMETIC_ONLY
        ),
    }
}

/// How it stands in the verdict: a drop that costs next to nothing limits nothing.
fn stands(evidence: &Evidence, finding: &Finding) -> Option<Cause> {
    let worth_a_job_wh = evidence.accounts.yardsticks.worth_a_job_wh;
    cause::by_loss(evidence, finding).filter(|c| c.wh_per_day > worth_a_job_wh)
}
