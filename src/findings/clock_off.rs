//! A logger's clock, or its zone, is wrong.

use serde_json::json;

use crate::account::sun_clock::{SunClock, by_the_sun};
use crate::account::two_clocks::{TwoClocks, compare};
use crate::findings::{Evidence, Outcome, Rule, cause};
use crate::mapping::Role;
use crate::quantity::Interval;
use crate::report::model::{Confidence, Finding, Limiting, NextCheck, Severity};
use crate::words::about;

pub(super) const RULE: Rule = Rule {
    kind: "clock-off",
    area: Limiting::Log,
    meaning: "The stamps of a log do not fit the sun, or two logs do not fit each other. Shade, clear hours and days are then sought at the wrong time, and two logs a few minutes apart show losses that are not there.",
    decided: "By the sun: an array gives next to nothing once the sun is below the horizon. Found where on at least three days more than 1 % of the label power comes a quarter of an hour beyond a clear sky's first or last light on the array as designed, at one end of the day, and either that is after sunset or before sunrise (three minutes and one step of the log allowed) or both ends together lie twenty minutes to one side; shade, clouds and a full bank can only shorten the light, and lean moves an end of it by less. The shift is the one at which first and last light are equally far from a clear sky's. By each other: the shift at which the steps of two logs of the bank's voltage or current fall together, on at least three days and in the same direction on nine of ten, more than three minutes and one and a half bins.",
    limits: "By the sun a shift shows from about half an hour; less, or behind a hidden horizon, it is not told from lean and shade. Needs the array's or the controller's power or current; logs of the bank alone show nothing. A place in the design 4 degrees too far east or west looks like a quarter of an hour. Two logs are compared only where both show steps.",
    cause: cause::none,
    follows_from: &[],
    look,
};

/// Bounds wider than this say nothing, minutes.
const WIDE_MIN: f64 = 90.0;
/// Light this long after sunset is no slip of the place or the table: three quarters of a degree of
/// longitude, minutes.
const SURELY_MIN: f64 = 3.0;
/// A shift of first and last light together that no lean makes: a slope nobody told of moves one end
/// by a quarter of an hour and the other by less, minutes.
const BOTH_ENDS_MIN: f64 = 20.0;
/// Share of the label power that comes with the sun low enough for that.
const FAINT_SHARE: f64 = 0.02;

/// A clock this far off turns the sun by some ten degrees: shade is sought in the wrong place, minutes.
const TURNS_THE_SUN_MIN: f64 = 30.0;

fn clocks(evidence: &Evidence) -> Vec<SunClock> {
    by_the_sun(
        evidence.design,
        evidence.calendar,
        evidence.timeline,
        evidence.expected,
    )
}

fn is_off(evidence: &Evidence, clock: &SunClock) -> bool {
    // In the middle of a wide range the sun may be anywhere: nights that are hardly dark bound nothing.
    let narrow = clock.shift_min.high - clock.shift_min.low <= WIDE_MIN;
    let both_ends =
        narrow && clock.lit_share <= FAINT_SHARE && clock.shift_min.value.abs() >= BOTH_ENDS_MIN;
    (clock.surely_min().abs() > SURELY_MIN || both_ends)
        && clock.beyond_clear_min().abs() > evidence.design.judging.clock_sun_s / 60.0
}

/// The clock that is furthest off beyond doubt.
fn furthest<'c>(evidence: &Evidence, clocks: &'c [SunClock]) -> Option<&'c SunClock> {
    clocks
        .iter()
        .filter(|clock| is_off(evidence, clock))
        .max_by(|a, b| a.surely_min().abs().total_cmp(&b.surely_min().abs()))
}

/// By how many minutes a log's clock is off, where that turns the sun and what hangs on it.
pub(super) fn turns_the_sun_min(evidence: &Evidence) -> Option<f64> {
    let clocks = clocks(evidence);
    let minutes = furthest(evidence, &clocks)?.shift_min.value.abs();
    (minutes >= TURNS_THE_SUN_MIN).then_some(minutes)
}

/// By how many minutes one log runs beside another that does not keep its time.
pub(super) fn runs_apart_min(evidence: &Evidence) -> Option<f64> {
    let clocks = clocks(evidence);
    let clock = furthest(evidence, &clocks)?;
    let bank = evidence.timeline.channel(Role::BatteryVoltage)?;
    let apart = bank.source != clock.source && keeps_the_same_time(evidence, clock).is_none();
    apart.then(|| clock.shift_min.value.abs())
}

fn look(evidence: &Evidence) -> Outcome {
    let by_sun = clocks(evidence);
    let off = furthest(evidence, &by_sun);
    if let Some(clock) = off {
        let others: Vec<&SunClock> = by_sun
            .iter()
            .filter(|c| c.source != clock.source && is_off(evidence, c))
            .collect();
        return Outcome::Found(Box::new(by_light(evidence, clock, &others)));
    }
    let apart = compare(evidence.timeline, evidence.expected);
    if let Some(two) = &apart
        && are_apart(evidence, two)
    {
        return Outcome::Found(Box::new(by_steps(evidence, two)));
    }
    remark(&by_sun, apart.as_ref())
}

/// Whether nine of ten days show a shift of that size in one direction.
fn are_apart(evidence: &Evidence, two: &TwoClocks) -> bool {
    let least = (evidence.design.judging.clocks_apart_s / 60.0).max(1.5 * two.bin_min);
    two.shift_min.low > least || two.shift_min.high < -least
}

fn remark(by_sun: &[SunClock], apart: Option<&TwoClocks>) -> Outcome {
    let together = apart.map(|two| {
        format!(
            "\"{}\" and \"{}\" agree within {} min",
            two.reference,
            two.other,
            about(two.shift_min.value.abs().max(two.bin_min))
        )
    });
    let narrow: Vec<String> = by_sun
        .iter()
        .filter(|c| c.shift_min.high - c.shift_min.low <= WIDE_MIN)
        .map(|c| {
            format!(
                "first and last light put the clock of \"{}\" {:+.0} min off ({:+.0} to {:+.0} min are possible)",
                c.source, -c.shift_min.value, -c.shift_min.high, -c.shift_min.low
            )
        })
        .collect();
    if narrow.is_empty() {
        return Outcome::CannotTell {
            text: match together {
                Some(text) => format!("whether the clocks fit the sun ({text})"),
                None => "whether the log's clock fits the sun: first and last light on three days do not show".to_owned(),
            },
            needs: "the array's or the controller's power over three days from before sunrise to after sunset, or a photo of the logger's clock beside a phone's".to_owned(),
        };
    }
    Outcome::Fine(
        narrow
            .into_iter()
            .chain(together)
            .collect::<Vec<_>>()
            .join("; "),
    )
}

fn by_light(evidence: &Evidence, clock: &SunClock, others: &[&SunClock]) -> Finding {
    let wide = clock.shift_min.high - clock.shift_min.low > WIDE_MIN;
    let shift = match wide {
        // Of a wide range only the nearer end is known.
        true if clock.shift_min.low > 0.0 => at(clock.shift_min, clock.shift_min.low),
        true if clock.shift_min.high < 0.0 => at(clock.shift_min, clock.shift_min.high),
        _ => clock.shift_min,
    };
    let late = shift.value < 0.0;
    let dates = dates(evidence, &clock.days);
    let alike = keeps_the_same_time(evidence, clock);
    let summary = format!(
        "The stamps of \"{}\" are {} {:.0} minutes {}: the array gives power {:.0} minutes {} than a clear sky allows.{}",
        clock.source,
        if wide { "at least" } else { "about" },
        shift.value.abs(),
        if late { "late" } else { "early" },
        clock.beyond_clear_min().abs(),
        if late {
            "later in the evening"
        } else {
            "earlier in the morning"
        },
        zone_hint(shift.value)
    );
    let mut why = vec![
        format!(
            "On at least three of {} days the array gives more than 1 % of its label {:.0} minutes beyond a clear sky's light. Weather, shade and a full bank can only shorten the light; lean moves its ends by less than a quarter of an hour.",
            clock.days.len(),
            clock.beyond_clear_min().abs()
        ),
        format!(
            "First and last light bound what must be added to the stamps between {:+.0} and {:+.0} minutes; at {:+.0} both are equally far from a clear sky's.",
            shift.low, shift.high, shift.value
        ),
    ];
    for other in others {
        why.push(format!(
            "The log \"{}\" shows {:+.0} minutes in the same way.",
            other.source, other.shift_min.value
        ));
    }
    Finding {
        severity: Severity::Fix,
        confidence: Confidence::High,
        r#where: format!("the log \"{}\"", clock.source),
        from: dates.first().cloned(),
        to: dates.last().cloned(),
        days: dates,
        evidence: [
            ("shift_min".to_owned(), json!(shift.value)),
            ("shift_range_min".to_owned(), json!(shift)),
            ("told_by".to_owned(), json!("first and last light")),
        ]
        .into(),
        also_possible: vec![
            "a place in the design that is too far east or west (15 degrees are an hour), or a leg of the trip that is missing".to_owned(),
            "an engine, a generator or a lamp near the panels that the log takes for sun".to_owned(),
        ],
        ..base(
            summary,
            why,
            NextCheck {
                then: then_shift(evidence, &clock.source, alike.as_deref(), shift.value),
                ..next_check(&clock.source, alike.as_deref(), shift.value)
            },
        )
    }
}

/// What to write, and which other controllers' logs are to be looked at before: nothing says what time they keep.
fn then_shift(evidence: &Evidence, source: &str, alike: Option<&str>, minutes: f64) -> String {
    let named = |s: &str| s == source || alike == Some(s);
    let outputs = evidence.timeline.channels.iter();
    let outputs = outputs.filter(|c| matches!(c.role, Role::ChargePower | Role::ArrayPower));
    let mut others: Vec<String> = outputs
        .filter(|c| !named(&c.source))
        .map(|c| format!("\"{}\"", c.source))
        .collect();
    others.dedup();
    let then = next_check(source, alike, minutes).then;
    if others.is_empty() {
        return then;
    }
    format!(
        "{then}. See first whether {} keeps the same time: then its entry needs the same line",
        others.join(" and ")
    )
}

/// The log beside it whose steps fall together with its own as they stand: it is off by as much.
fn keeps_the_same_time(evidence: &Evidence, clock: &SunClock) -> Option<String> {
    let two = compare(evidence.timeline, evidence.expected)?;
    let other = if two.other == clock.source {
        &two.reference
    } else {
        &two.other
    };
    (!are_apart(evidence, &two)).then(|| other.clone())
}

/// The same range with another value in it.
fn at(range: Interval, value: f64) -> Interval {
    Interval::new(value, range.low, range.high)
}

/// Whole hours and half hours are zones and summer time, not drift.
fn zone_hint(minutes: f64) -> &'static str {
    let half_hours = (minutes / 30.0).round();
    let near = (minutes - 30.0 * half_hours).abs() <= 10.0 && half_hours != 0.0;
    if near && half_hours % 2.0 == 0.0 {
        " Whole hours are a time zone or summer time."
    } else if near {
        " Half hours can be a time zone."
    } else {
        ""
    }
}

fn by_steps(evidence: &Evidence, two: &TwoClocks) -> Finding {
    let shift = two.shift_min;
    let dates = dates(evidence, &two.days);
    let summary = format!(
        "The clocks of \"{}\" and \"{}\" are {} minutes apart: the same steps show {} in \"{}\".",
        two.reference,
        two.other,
        about(shift.value.abs()),
        if shift.value < 0.0 {
            "later"
        } else {
            "earlier"
        },
        two.other
    );
    let why = vec![format!(
        "On {} days the steps of both logs fall together at a shift of {:+.1} minutes ({:+.1} to {:+.1}), and at no other.",
        two.days.len(),
        shift.value,
        shift.low,
        shift.high
    )];
    Finding {
        severity: Severity::Watch,
        confidence: Confidence::Medium,
        r#where: format!("the log \"{}\" against \"{}\"", two.other, two.reference),
        from: dates.first().cloned(),
        to: dates.last().cloned(),
        days: dates,
        evidence: [
            ("shift_min".to_owned(), json!(shift.value)),
            ("shift_range_min".to_owned(), json!(shift)),
            ("told_by".to_owned(), json!("steps that both logs show")),
        ]
        .into(),
        also_possible: vec![
            format!(
                "that \"{}\" is the one that is off, by the same in the other direction: the sun does not say which",
                two.reference
            ),
            "a logger that stamps the end of an averaging time where the other stamps its beginning".to_owned(),
        ],
        ..base(summary, why, next_check(&two.other, None, shift.value))
    }
}

fn base(summary: String, why: Vec<String>, next_check: NextCheck) -> Finding {
    Finding {
        kind: RULE.kind.to_owned(),
        severity: Severity::Watch,
        confidence: Confidence::Medium,
        r#where: String::new(),
        from: None,
        to: None,
        days: Vec::new(),
        lost_wh_per_day: None,
        part_of: None,
        summary,
        evidence: std::collections::BTreeMap::new(),
        why,
        also_possible: Vec::new(),
        next_check,
        chart: Some("charts/hours.svg".to_owned()),
    }
}

fn dates(evidence: &Evidence, days: &[usize]) -> Vec<String> {
    days.iter()
        .filter_map(|d| evidence.expected.grid.dates.get(*d))
        .map(ToString::to_string)
        .collect()
}

fn next_check(source: &str, alike: Option<&str>, minutes: f64) -> NextCheck {
    let entry = match alike {
        Some(other) => format!(
            "the [[log]] entries of \"{source}\" and of \"{other}\", which keeps the same time: shifted alone, the two would run apart"
        ),
        None => format!("the [[log]] entry of \"{source}\""),
    };
    let whole = if (minutes / 60.0 - (minutes / 60.0).round()).abs() * 60.0 <= 5.0 {
        "the right timezone (best for whole hours: a shift is wrong across summer time), else clock_shift"
    } else {
        "clock_shift"
    };
    NextCheck {
        tool: "a phone with the right time".to_owned(),
        r#where: "a photo of the logger's clock beside it, and its zone and summer-time settings; switch a heavy load on at a known minute and look for it in each log".to_owned(),
        healthy: "the same time within a minute, in the zone the design states".to_owned(),
        faulty: format!("about {:.0} minutes apart", minutes.abs()),
        then: format!(
            "write {whole} = \"{minutes:.0} min\" in {entry}, and run again; set the clock for the next trip"
        ),
        caution: "Nothing has to be opened for this.".to_owned(),
    }
}
