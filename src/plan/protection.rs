//! Voltage in the cold and the controller's currents against its limits, and fuses of single strings.

use super::sheet::{Figure, Sheet, Subject, is_assumed};
use crate::design::checks::carrying::backfeeds;
use crate::design::checks::cold::{ColdString, NEEDS_RECORD_LOW, cold_strings};
use crate::design::checks::rating::{Limit, ratings};
use crate::design::checks::{Lack, array_words, controller_words};

/// Keys that the voltage of a string and the current of an array hang on.
const SERIES: &str = "array.panels_in_series";
const PARALLEL: &str = "array.strings_in_parallel";
const PER_DEGREE: &str = "array.panel.voc_per_degree";

pub(super) fn check(sheet: &mut Sheet<'_>) {
    cold(sheet);
    currents(sheet);
    unstated(sheet);
    for feed in backfeeds(sheet.design) {
        let lack = feed.lack(sheet.design);
        sheet.ask(&lack.text, &lack.needs);
    }
}

fn cold_subject(of: String) -> Subject {
    Subject {
        kind: "cold-voltage-over-limit",
        of,
        unit: "V",
    }
}

fn cold(sheet: &mut Sheet<'_>) {
    for (index, checked) in cold_strings(sheet.design).into_iter().enumerate() {
        let of = format!("{} on a cold morning", array_words(sheet.design, index));
        match checked {
            Err(lack) => sheet.open(cold_subject(of), None, None, &lack),
            Ok(string) => cold_string(sheet, &string, of),
        }
    }
}

fn cold_string(sheet: &mut Sheet<'_>, string: &ColdString, of: String) {
    let design = sheet.design;
    let margin = design.judging.cold_voltage_margin;
    let Some(coldest) = string.coldest else {
        if string.label_v > string.limit_v {
            let figure = Figure {
                value: string.label_v,
                limit: string.limit_v,
                standing: string.standing(string.label_v, margin),
                arithmetic: format!("At 25 C already: {}", string.arithmetic(design, 25.0)),
            };
            sheet.figure(cold_subject(of), figure, &[]);
            return;
        }
        let lack = string.without_record_low(design);
        sheet.open(cold_subject(of), None, Some(string.limit_v), &lack);
        return;
    };
    // Codes take the tabulated factors where a panel's own coefficient is not known.
    let guessed = is_assumed(design, PER_DEGREE);
    let value = if guessed {
        coldest.by_table_v
    } else {
        coldest.string_voc_v
    };
    if guessed {
        sheet.ask(
            "how much the panel's voltage rises for each degree: the cautious factors of electrical codes were taken",
            "array.panel.voc_per_degree from the panel's data sheet",
        );
    }
    let figure = Figure {
        value,
        limit: string.limit_v,
        standing: string.standing(value, margin),
        arithmetic: format!(
            "{} {}",
            string.arithmetic(design, coldest.at_c),
            coldest.by_table_words()
        ),
    };
    sheet.figure(cold_subject(of), figure, &[SERIES]);
}

fn currents(sheet: &mut Sheet<'_>) {
    let design = sheet.design;
    for checked in ratings(design) {
        let subject = |of: String| Subject {
            kind: "controller-undersized",
            of,
            unit: "A",
        };
        let rating = match checked {
            Ok(rating) => rating,
            Err(lack) => {
                sheet.open(
                    subject("the charge controller's current".to_owned()),
                    None,
                    None,
                    &lack,
                );
                continue;
            }
        };
        let whose = controller_words(design, rating.controller);
        let of = match rating.limit {
            Limit::Connected => format!("current through {whose}"),
            Limit::Input => format!("current into {whose}"),
            Limit::Output => format!("current out of {whose}"),
        };
        if rating.limit == Limit::Output && design.system.nominal_v.is_none() {
            let lack = no_nominal("how much current the controller would have to give");
            sheet.open(subject(of), None, Some(rating.limit_a), &lack);
            continue;
        }
        let figure = Figure {
            value: rating.designed_a,
            limit: rating.limit_a,
            standing: rating.standing(),
            arithmetic: rating.arithmetic(design),
        };
        let hangs_on: &[&str] = if rating.limit == Limit::Output {
            &[SERIES, PARALLEL, "controller.method"]
        } else {
            &[PARALLEL, "controller.method"]
        };
        sheet.figure(subject(of), figure, hangs_on);
    }
}

/// Every label figure that safety hangs on, so that one look at the labels settles them all.
fn unstated(sheet: &mut Sheet<'_>) {
    let design = sheet.design;
    if design.system.nominal_v.is_none() {
        let lack = no_nominal("the currents at the bank, and how long it lasts");
        sheet.ask(&lack.text, &lack.needs);
    }
    if design.arrays.iter().any(|a| a.panel.isc_a.is_none()) {
        sheet.ask(
            "what the panels' cables and fuses must bear: the panel's short-circuit current is not in the design",
            "array.panel.isc from the panel's label",
        );
    }
    if design.controllers.iter().any(|c| c.max_input_v.is_none()) {
        sheet.ask(
            "whether the controller bears the array's voltage in the cold: its highest input voltage is not in the design",
            "controller.max_input from its data sheet",
        );
    }
    if design.plan.record_low_c.is_none() {
        sheet.ask(
            "how high the array's voltage goes: the design states no record low",
            NEEDS_RECORD_LOW,
        );
    }
}

/// A current at the bank cannot be reckoned without its voltage.
pub(super) fn no_nominal(what: &str) -> Lack {
    Lack {
        text: format!("{what}: the design does not state the system's voltage"),
        needs: "system.nominal, the bank's nominal voltage".to_owned(),
    }
}
