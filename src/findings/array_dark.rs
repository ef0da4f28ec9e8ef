//! Nothing from the array in daylight.

use serde_json::json;

use crate::expect::{Regime, STEP_S};
use crate::findings::panel_care::CAUTION;
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::quantity::Interval;
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::stats::quantile::median;
use crate::words::{about, date, days, ranged};

pub(super) const RULE: Rule = Rule {
    kind: "array-dark",
    area: Limiting::Array,
    meaning: "The sun was up and nothing at all came from the array: a fuse, a breaker, a connector or a switch was open.",
    decided: "Less than 0.2 % of label power for at least an hour on end, at a sun that under a clear sky would bring more than 20 % of it and under the dullest sky of this log still 1 %; with rows, and not while the bank stood at float or above, or a cold lithium bank refused. Where the array's voltage was logged and stood below a fifth of its best, the array is dead whatever the bank is at. Where neither that nor any voltage of the bank was logged, a full bank looks the same and nothing is said. The hours are a lower bound: the low sun of morning and evening is not counted, and darkness that only begins a day or ends it, as a wrong clock makes it, must last three hours.",
    limits: "Needs the controller's output. Without the bank's temperature a lithium bank that refuses charge in the cold looks the same.",
    cause: cause::by_loss,
    follows_from: &[],
    look,
};

/// Least share of label power that the dullest sky must still bring for darkness to count: five times
/// what counts as nothing.
const DULLEST: f64 = 0.01;
/// More than this share of label power is clearly something: above a small meter's last digit.
const GIVES: f64 = 0.03;
/// Below this planned or logged air temperature a lithium bank's own protection may refuse, C (owners' reference Q14).
const COLD_AIR_C: f64 = 5.0;

/// A dark run at the beginning or the end of a day must last this long, s: no clock kept for summer
/// time, or forgotten by a zone, is so far off without giving at night.
const EDGE_OF_DAY_S: f64 = 3.0 * 3600.0;
/// Below this the sun gives no array anything, degrees.
const NIGHT_DEG: f64 = -6.0;

/// The dark moments.
struct Dark {
    moments: Vec<usize>,
    days: Vec<usize>,
    hours: f64,
    lost: Interval,
    /// Array voltage meanwhile over its best one, share.
    volts: Option<f64>,
}

fn look(evidence: &Evidence) -> Outcome {
    if evidence.expected.signals.harvest.is_none() {
        return Outcome::CannotTell {
            text:
                "whether the array was ever dead in daylight: the controller's side was not logged"
                    .to_owned(),
            needs: "the controller's output or the array's volts and amperes in the log".to_owned(),
        };
    }
    let dark = dark(evidence);
    if dark.moments.is_empty() {
        return Outcome::Fine(format!(
            "something came from the array at every good sun, over {:.0} hours",
            bright_hours(evidence)
        ));
    }
    if let Some((text, needs)) = doubt(evidence, &dark) {
        return Outcome::CannotTell { text, needs };
    }
    Outcome::Found(Box::new(finding(evidence, &dark)))
}

/// Hours with readings in which a clear sky would bring a fifth of label power.
fn bright_hours(evidence: &Evidence) -> f64 {
    let expected = evidence.expected;
    let least = 0.2 * evidence.design.array_w();
    (0..expected.grid.moments)
        .filter(|m| expected.offers[*m].output_w > least)
        .map(|m| expected.signals.harvest_coverage(m) * expected.grid.step_h())
        .sum()
}

fn dark(evidence: &Evidence) -> Dark {
    let expected = evidence.expected;
    let grid = &expected.grid;
    let least = DULLEST * evidence.design.array_w();
    let attribution = &evidence.accounts.attribution;
    // Counted only where even the low end of what the sky offered is clearly more than nothing.
    let counts = |m: usize| {
        expected.regimes[m] == Regime::Disconnected
            && attribution.array[m].low / grid.step_h() > least
    };
    let mut moments: Vec<usize> = Vec::new();
    let mut at = 0;
    while at < grid.moments {
        let from = at;
        while at < grid.moments && counts(at) {
            at += 1;
        }
        if at > from && at - from >= least_run(evidence, from..at) {
            moments.extend(from..at);
        }
        at = at.max(from + 1);
    }
    let mut days: Vec<usize> = moments.iter().map(|m| grid.day_of(*m)).collect();
    days.dedup();
    let sum =
        |pick: fn(&Interval) -> f64| moments.iter().map(|m| pick(&attribution.array[*m])).sum();
    Dark {
        hours: moments
            .iter()
            .map(|m| expected.signals.harvest_coverage(*m) * grid.step_h())
            .sum(),
        lost: Interval::new(sum(|i| i.value), sum(|i| i.low), sum(|i| i.high)),
        volts: volts(evidence, &moments),
        days,
        moments,
    }
}

/// Moments a dark run must last: longer where it begins the day or ends it, because a clock that is wrong
/// or a mountain makes such mornings and evenings; a day that is dark throughout is neither.
fn least_run(evidence: &Evidence, run: std::ops::Range<usize>) -> usize {
    let grid = &evidence.expected.grid;
    let day = grid.day(grid.day_of(run.start));
    let gave = |mut part: std::ops::Range<usize>| part.any(|m| gives(evidence, m));
    let (before, after) = (
        gave(day.start..run.start),
        gave(run.end.min(day.end)..day.end),
    );
    let moments = |s: f64| (s / STEP_S as f64).ceil().max(1.0) as usize;
    let least = moments(evidence.design.judging.dark_run_s);
    if before == after {
        least
    } else {
        least.max(moments(EDGE_OF_DAY_S))
    }
}

/// Whether something clearly came from the array.
fn gives(evidence: &Evidence, m: usize) -> bool {
    let harvest = evidence.expected.signals.harvest.as_ref();
    harvest
        .and_then(|h| h.mean(m))
        .is_some_and(|w| w > GIVES * evidence.design.array_w())
}

/// Whether the array gave something, for half an hour in all, with the sun well below the horizon.
fn gives_at_night(evidence: &Evidence) -> bool {
    let expected = evidence.expected;
    let night = (0..expected.grid.moments)
        .filter(|m| expected.offers[*m].elevation_deg < NIGHT_DEG && gives(evidence, *m))
        .count();
    night >= 6
}

fn volts(evidence: &Evidence, moments: &[usize]) -> Option<f64> {
    let array = evidence.design.arrays.first()?;
    let best = array.panel.vmp_v? * f64::from(array.panels_in_series);
    let volts = evidence.expected.signals.array_v.as_ref()?;
    let seen: Vec<f64> = moments.iter().filter_map(|m| volts.mean(*m)).collect();
    median(&seen).map(|v| v / best)
}

/// What else reads as nothing: a column that shows something else, or a bank that may have refused.
fn doubt(evidence: &Evidence, dark: &Dark) -> Option<(String, String)> {
    let battery = &evidence.design.battery;
    let signals = &evidence.expected.signals;
    let enough = evidence.design.judging.charging_c * battery.capacity_ah;
    let charged = dark
        .moments
        .iter()
        .filter(|m| {
            signals
                .bank_a
                .as_ref()
                .and_then(|a| a.mean(**m))
                .is_some_and(|a| a > enough)
        })
        .count();
    if 2 * charged > dark.moments.len() {
        return Some((
            format!(
                "whether the array was dead for {} hours: its column reads nothing while the bank was being charged",
                about(dark.hours)
            ),
            "which column holds the controller's output, or what else charged the bank then"
                .to_owned(),
        ));
    }
    if gives_at_night(evidence) {
        return Some((
            format!(
                "whether the array was dead for {} hours in daylight: by this clock and place it also gave something at night",
                about(dark.hours)
            ),
            "the logger's clock and zone, and the place in the design, checked".to_owned(),
        ));
    }
    if battery.chemistry.is_lead()
        || signals.bank_c.is_some()
        || dark.volts.is_some_and(|v| v < 0.5)
    {
        return None;
    }
    let cold = dark
        .moments
        .iter()
        .any(|m| air_c(evidence, *m) <= COLD_AIR_C);
    cold.then(|| {
        (
            format!(
                "whether the array was dead for {} hours in daylight: a lithium bank refuses charge in the cold, and its temperature was not logged",
                about(dark.hours)
            ),
            "the bank's temperature, at the cells, in the log; or the array's voltage: near nothing is a dead array".to_owned(),
        )
    })
}

fn air_c(evidence: &Evidence, moment: usize) -> f64 {
    let expected = evidence.expected;
    let logged = expected.signals.air_c.as_ref().and_then(|c| c.mean(moment));
    logged.unwrap_or_else(|| {
        let date = evidence.calendar.date(expected.grid.time_of(moment));
        crate::expect::offer::air_at(evidence.design, date)
    })
}

fn finding(evidence: &Evidence, dark: &Dark) -> Finding {
    let iso = evidence.dates_of(&dark.days);
    let per_day = evidence.mean_over_judged(|m| {
        let counted = dark.moments.binary_search(&m).is_ok();
        counted.then(|| evidence.accounts.attribution.array[m])
    });
    let span = match (iso.first(), iso.last()) {
        (Some(a), Some(b)) if a != b => format!("between {} and {}", date(a), date(b)),
        (Some(a), _) => format!("on {}", date(a)),
        _ => String::new(),
    };
    Finding {
        kind: RULE.kind.to_owned(),
        severity: if still_dark(evidence, dark) {
            Severity::Fix
        } else {
            evidence.severity_of_loss(per_day, &iso)
        },
        confidence: match (dark.volts, dark.hours) {
            (Some(_), h) if h >= 3.0 => Confidence::High,
            (None, h) if h < 3.0 => Confidence::Low,
            _ => Confidence::Medium,
        },
        r#where: place(dark).to_owned(),
        from: iso.first().cloned(),
        to: iso.last().cloned(),
        days: iso.clone(),
        lost_wh_per_day: Some(per_day),
        part_of: None,
        summary: format!(
            "For at least {} hours of good sun on {} {span} nothing came from the array{}: {} lost in all.",
            about(dark.hours),
            days(dark.days.len()),
            match back(evidence, dark) {
                Some(day) => format!(", which gives again since {}", date(&day)),
                None => String::new(),
            },
            ranged(&dark.lost, "Wh")
        ),
        evidence: [
            ("dark_h".to_owned(), json!(dark.hours)),
            ("lost_wh".to_owned(), json!(dark.lost)),
            ("array_voltage_share".to_owned(), json!(dark.volts)),
        ]
        .into(),
        why: reasons(evidence, dark),
        also_possible: vec![
            "the array was switched off or covered on purpose, or lay under snow".to_owned(),
            "the bank's own protection had opened: its voltage then jumps".to_owned(),
            "another charger held the bank's voltage up".to_owned(),
            "the logger lost touch with the controller and wrote 0".to_owned(),
        ],
        next_check: next_check(evidence, dark),
        chart: Some("charts/days.svg".to_owned()),
    }
}

/// Whether nothing clearly came any more after the last dark hour.
fn still_dark(evidence: &Evidence, dark: &Dark) -> bool {
    back(evidence, dark).is_none()
}

/// The day on which something clearly came again after the last dark hour.
fn back(evidence: &Evidence, dark: &Dark) -> Option<String> {
    let grid = &evidence.expected.grid;
    let from = dark.moments.last().map_or(0, |m| m + 1);
    let first = (from..grid.moments).find(|m| gives(evidence, *m))?;
    Some(grid.dates[grid.day_of(first)].to_string())
}

fn place(dark: &Dark) -> &'static str {
    match dark.volts {
        Some(v) if v < 0.5 => "between the panels and the controller's array terminals",
        Some(_) => "the controller, its fuse to the bank, or a switch",
        None => "the array, its cable, the controller, or a fuse or switch between",
    }
}

fn reasons(evidence: &Evidence, dark: &Dark) -> Vec<String> {
    let array_w = evidence.design.array_w();
    let clear: f64 = dark
        .moments
        .iter()
        .map(|m| evidence.expected.offers[*m].output_w)
        .sum::<f64>()
        / dark.moments.len().max(1) as f64;
    let mut why = vec![format!(
        "Less than {} W came while a clear sky would have brought about {} W and the dullest sky of this log more than {} W; rows were there.",
        about(0.002 * array_w),
        about(clear),
        about(DULLEST * array_w)
    )];
    if dark.volts.is_none_or(|v| v >= 0.2) {
        why.push("The bank stood below float meanwhile, and was not too cold to take charge as far as the log shows.".to_owned());
    }
    why.push(match dark.volts {
        Some(v) if v < 0.5 => format!(
            "The array's terminals stood at {:.0} % of their best voltage: nothing reached the controller.",
            100.0 * v
        ),
        Some(v) => format!(
            "The array's terminals stood at {:.0} % of their best voltage: the panels were there and nothing took their current.",
            100.0 * v
        ),
        None => "The array's voltage was not logged; it would tell a dead array from a controller that takes nothing.".to_owned(),
    });
    why.push(
        "The loss is reckoned from the sky before and after, so its range is wide.".to_owned(),
    );
    why
}

fn next_check(evidence: &Evidence, dark: &Dark) -> NextCheck {
    let array = &evidence.design.arrays[0];
    let open = array.panel.voc_v.map_or_else(
        || "the panels' open voltage".to_owned(),
        |v| {
            format!(
                "about {} V",
                about(0.95 * v * f64::from(array.panels_in_series))
            )
        },
    );
    NextCheck {
        tool: "a voltmeter".to_owned(),
        r#where: match dark.volts {
            Some(v) if v >= 0.5 => "the controller's bank terminals and the fuse beside them, in daylight".to_owned(),
            _ => "the controller's array terminals, in daylight".to_owned(),
        },
        healthy: match dark.volts {
            Some(v) if v >= 0.5 => "the bank's voltage on both sides of the fuse, and a current above 0 when a heavy load is switched on".to_owned(),
            _ => format!("{open}, or the bank's voltage and more while it charges"),
        },
        faulty: "0 V, or a voltage that falls to nothing: a breaker, fuse, switch or connector is open".to_owned(),
        then: match back(evidence, dark) {
            Some(day) => format!(
                "since {} it gives again, so a right reading now acquits nothing: ask who threw a switch or a breaker that day; else look for a breaker, fuse or connector that is warm, brown or loose, with the array's disconnect open",
                date(&day)
            ),
            None => "look first at what can be switched: breaker, isolator, fuse; then at the connectors on the roof".to_owned(),
        },
        caution: format!("Never take the bank off the controller while the panels are on it. {CAUTION}"),
    }
}
