//! Cables and fuses: drop, ampacity and fuse of every run, and the runs a design leaves out.

use super::protection::no_nominal;
use super::sheet::{Figure, Sheet, Subject};
use crate::design::Run;
use crate::design::checks::array_run::array_runs;
use crate::design::checks::carrying::{Carrying, carryings};
use crate::design::checks::{Lack, Standing, run_words};

pub(super) fn check(sheet: &mut Sheet<'_>) {
    array_drop(sheet);
    for carried in carryings(sheet.design) {
        run(sheet, &carried);
    }
    missing_runs(sheet);
}

fn array_drop(sheet: &mut Sheet<'_>) {
    let design = sheet.design;
    for checked in array_runs(design) {
        let subject = |of: String| Subject {
            kind: "drop-array-cable",
            of,
            unit: "%",
        };
        match checked {
            Err(lack) => sheet.open(
                subject("drop from the panels to the controller".to_owned()),
                None,
                None,
                &lack,
            ),
            Ok(run) => {
                let words = run_words(design, Run::ArrayController, run.controller);
                let figure = Figure {
                    value: 100.0 * run.drop_share(),
                    limit: 100.0 * run.limit_share,
                    standing: run.standing(design.judging.array_drop_fix),
                    arithmetic: run.arithmetic(),
                };
                sheet.figure(subject(format!("drop over {words}")), figure, &[]);
            }
        }
    }
}

/// Drop, ampacity and fuse of one run.
fn run(sheet: &mut Sheet<'_>, carried: &Carrying) {
    let design = sheet.design;
    let words = run_words(design, carried.run, carried.controller);
    let at_bank = carried.run != Run::ArrayController;
    if at_bank && design.system.nominal_v.is_none() {
        let lack = no_nominal(&format!("what flows through {words}"));
        sheet.open(cable(format!("cable of {words}")), None, None, &lack);
        return;
    }
    ampacity(sheet, carried, &words);
    drop(sheet, carried, &words);
    fuse(sheet, carried, &words);
}

fn cable(of: String) -> Subject {
    Subject {
        kind: "cable-undersized",
        of,
        unit: "A",
    }
}

/// What the cable must bear against what it may carry.
fn ampacity(sheet: &mut Sheet<'_>, carried: &Carrying, words: &str) {
    let of = format!("cable of {words}");
    match (carried.least_a(), carried.ampacity_a) {
        (Some(value), Some(limit)) => {
            let standing = if carried.cable_too_small() {
                Standing::Mend
            } else {
                Standing::Fine
            };
            let figure = Figure {
                value,
                limit,
                standing,
                arithmetic: current_words(carried),
            };
            sheet.figure(cable(of), figure, hangs_on(carried.run));
        }
        (value, limit) => {
            let lack = if value.is_none() {
                no_current(carried.run, words)
            } else {
                Lack {
                    text: format!(
                        "whether the cable of {words} stays cool: the design does not state what it may carry"
                    ),
                    needs: format!(
                        "cable.ampacity of {words}, from the cable's data sheet or local code"
                    ),
                }
            };
            sheet.open(cable(of), value, limit, &lack);
        }
    }
}

fn drop(sheet: &mut Sheet<'_>, carried: &Carrying, words: &str) {
    let Some((value, arithmetic)) = carried.drop_v.zip(carried.drop_arithmetic()) else {
        return;
    };
    let slack = sheet.design.judging.cable_drop_slack;
    let standing = if carried.drop_too_large(slack) {
        Standing::Watch
    } else {
        Standing::Fine
    };
    let subject = Subject {
        kind: "cable-undersized",
        of: format!("drop over the conductors of {words}"),
        unit: "V",
    };
    let figure = Figure {
        value,
        limit: carried.allowed_drop_v(slack),
        standing,
        arithmetic: if carried.drop_limit_given {
            arithmetic
        } else {
            format!("{arithmetic} {slack} times that usual limit is let pass.")
        },
    };
    sheet.figure(subject, figure, &[]);
}

/// The fuse against its cable, and the current against the fuse.
fn fuse(sheet: &mut Sheet<'_>, carried: &Carrying, words: &str) {
    let subject = |of: &str| Subject {
        kind: "fuse-unsuitable",
        of: format!("{of} of {words}"),
        unit: "A",
    };
    let Some(fuse) = carried.fuse_a else {
        if carried.run != Run::ArrayController {
            let lack = Lack {
                text: format!("what protects {words}: the design states no fuse"),
                needs: format!("cable.fuse of {words}, as printed on the fuse by the bank"),
            };
            sheet.open(
                subject("fuse against the cable"),
                None,
                carried.ampacity_a,
                &lack,
            );
        }
        return;
    };
    match carried.ampacity_a {
        Some(limit) => {
            let figure = Figure {
                value: fuse,
                limit,
                standing: if carried.fuse_above_cable() {
                    Standing::Danger
                } else {
                    Standing::Fine
                },
                arithmetic: format!(
                    "A {fuse} A fuse on a cable that may carry {limit} A as stated: the fuse must blow before the cable gets too hot."
                ),
            };
            sheet.figure(subject("fuse against the cable"), figure, &[]);
        }
        None => {
            let lack = Lack {
                text: format!(
                    "whether the {fuse} A fuse of {words} protects its cable: the design does not state what the cable may carry"
                ),
                needs: format!(
                    "cable.ampacity of {words}, from the cable's data sheet or local code"
                ),
            };
            sheet.open(subject("fuse against the cable"), Some(fuse), None, &lack);
        }
    }
    if let Some(value) = carried.least_a() {
        let figure = Figure {
            value,
            limit: fuse,
            standing: if carried.fuse_blows() {
                Standing::Mend
            } else if carried.fuse_too_small() {
                Standing::Watch
            } else {
                Standing::Fine
            },
            arithmetic: current_words(carried),
        };
        sheet.figure(
            subject("current against the fuse"),
            figure,
            hangs_on(carried.run),
        );
    }
}

fn current_words(carried: &Carrying) -> String {
    format!(
        "{} The current: {}.",
        carried.current_arithmetic().unwrap_or_default(),
        carried.margin_words()
    )
}

/// Keys that the current of a run hangs on.
fn hangs_on(run: Run) -> &'static [&'static str] {
    match run {
        Run::ArrayController => &["array.strings_in_parallel"],
        Run::ControllerBattery => &[
            "array.panels_in_series",
            "array.strings_in_parallel",
            "controller.method",
        ],
        Run::BatteryLoads => &[],
    }
}

fn no_current(run: Run, words: &str) -> Lack {
    let (why, needs) = match run {
        Run::ArrayController => (
            "the panel's short-circuit current is not in the design",
            "array.panel.isc from the panel's label",
        ),
        Run::ControllerBattery => (
            "neither the panels' short-circuit current nor the controller's rating is in the design",
            "array.panel.isc and controller.max_output",
        ),
        Run::BatteryLoads => (
            "the design names no direct load of three hours a day or more, or has several load cables",
            "the largest current of each load cable, added up from the labels of what may run at once",
        ),
    };
    Lack {
        text: format!("what flows through {words}: {why}"),
        needs: needs.to_owned(),
    }
}

/// Runs that every system of this kind has and the design leaves out.
fn missing_runs(sheet: &mut Sheet<'_>) {
    let design = sheet.design;
    for controller in 0..design.controllers.len() {
        for run in [Run::ArrayController, Run::ControllerBattery] {
            if design.cable(run, controller).is_none() {
                ask_for_run(sheet, run, controller);
            }
        }
    }
    let has_loads = design.cables.iter().any(|c| c.run == Run::BatteryLoads);
    if !design.loads.is_empty() && !has_loads {
        ask_for_run(sheet, Run::BatteryLoads, 0);
    }
}

fn ask_for_run(sheet: &mut Sheet<'_>, run: Run, controller: usize) {
    let words = run_words(sheet.design, run, controller);
    sheet.ask(
        &format!("whether cable and fuse of {words} suit: the design has no such cable"),
        &format!(
            "a [[cable]] with run = \"{}\", its length, size, fuse and ampacity",
            run.name()
        ),
    );
}
