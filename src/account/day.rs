//! The figures and the state of every local day, as the contract defines them.

use std::collections::BTreeMap;
use std::ops::Range;

use crate::account::harvest::Attribution;
use crate::account::range;
use crate::account::stretches::Stretches;
use crate::account::table::{DaySums, Moments};
use crate::account::{Charge, Loads, Totals};
use crate::calendar::Calendar;
use crate::design::Design;
use crate::expect::{Expectation, Folded, Haze, Regime, offer};
use crate::quantity::Interval;
use crate::report::model::{Day, DayState, Yardsticks};
use crate::words::about;

/// What days are made from.
pub struct Inputs<'a> {
    /// The design.
    pub design: &'a Design,
    /// Local days.
    pub calendar: &'a Calendar,
    /// What was expected.
    pub expected: &'a Expectation,
    /// Loads and other charging.
    pub loads: &'a Loads,
    /// Where the offer went.
    pub attribution: &'a Attribution,
    /// Full charges.
    pub charge: &'a Charge,
    /// What is worth a job.
    pub yardsticks: &'a Yardsticks,
    /// Totals of days without rows.
    pub totals: &'a Totals,
}

/// Days added up at once: a table of all moments of years would be the largest thing in memory.
const AT_ONCE: usize = 60;

/// Every day of the grid.
pub fn days(inputs: &Inputs) -> Vec<Day> {
    let days = inputs.expected.grid.dates.len();
    let mut sums = DaySums::default();
    for first in (0..days).step_by(AT_ONCE) {
        // The table is made from equally long columns of different names, so it can't fail; an empty
        // one would show as days without energy.
        let some = table(inputs, first..days.min(first + AT_ONCE)).and_then(|t| t.by_day());
        let Ok(some) = some else {
            return Vec::new();
        };
        sums.append(some);
    }
    let dates = &inputs.expected.grid.dates;
    offer::planned_days(inputs.design, inputs.calendar, dates)
        .into_iter()
        .enumerate()
        .map(|(day, planned_wh)| one_day(inputs, &sums, day, planned_wh))
        .collect()
}

fn table(inputs: &Inputs, days: Range<usize>) -> polars::prelude::PolarsResult<Moments> {
    let (expected, attribution) = (inputs.expected, inputs.attribution);
    let signals = &expected.signals;
    let starts = &expected.grid.day_starts;
    let n = || starts[days.start]..starts[days.end];
    let step_h = expected.grid.step_h();
    let each = |figure: &dyn Fn(usize) -> f64| -> Vec<f64> { n().map(figure).collect() };
    let parts = |of: &Stretches<Interval>, pick: fn(&Interval) -> f64| each(&|m| pick(&of[m]));
    let taken = |pick: fn(&Interval) -> f64| {
        each(&|m| {
            pick(&attribution.array[m])
                + pick(&attribution.shade[m])
                + attribution.conversion[m]
                + pick(&attribution.limit[m])
        })
    };
    let of = |figures: Option<&[f64]>| each(&|m| figures.map_or(0.0, |f| f[m]));
    let inflow = |f: &Option<Folded>| of(f.as_ref().map(|f| &f.in_h[..]));
    let outflow = |f: &Option<Folded>| of(f.as_ref().map(|f| &f.out_h[..]));
    let sun_up = |m: usize| expected.offers[m].elevation_deg > -0.83;
    let columns: Vec<(&str, Vec<f64>)> = vec![
        ("clear", each(&|m| expected.offers[m].output_w * step_h)),
        ("offered", parts(&attribution.offered, |i| i.value)),
        ("lost", taken(|i| i.value)),
        ("lost_low", taken(|i| i.low)),
        ("lost_high", taken(|i| i.high)),
        ("limit", parts(&attribution.limit, |i| i.value)),
        ("held", parts(&attribution.held, |i| i.value)),
        ("gap", parts(&attribution.unmeasured, |i| i.value)),
        ("gap_low", parts(&attribution.unmeasured, |i| i.low)),
        ("gap_high", parts(&attribution.unmeasured, |i| i.high)),
        ("harvest", each(&|m| attribution.harvest[m])),
        (
            "array",
            each(&|m| signals.array.as_ref().map_or(0.0, |a| a.net(m))),
        ),
        ("load", of(inputs.loads.load.as_deref())),
        ("other", of(Some(&inputs.loads.other))),
        ("bank_in_wh", inflow(&signals.bank_w)),
        ("bank_out_wh", outflow(&signals.bank_w)),
        ("bank_in_ah", inflow(&signals.bank_a)),
        ("bank_out_ah", outflow(&signals.bank_a)),
        ("covered", each(&|m| signals.coverage(m))),
        (
            "sun_covered",
            each(&|m| {
                if sun_up(m) {
                    signals.harvest_coverage(m)
                } else {
                    0.0
                }
            }),
        ),
        ("sun", each(&|m| f64::from(u8::from(sun_up(m))))),
        (
            "held_offer",
            each(&|m| match expected.regimes[m] {
                Regime::Held | Regime::Refused => {
                    expected.held_share(m) * attribution.offered[m].value
                }
                _ => 0.0,
            }),
        ),
        (
            "refused",
            each(&|m| match expected.regimes[m] {
                Regime::Refused => attribution.held[m].value,
                _ => 0.0,
            }),
        ),
    ];
    Moments::new(&expected.grid, days.clone(), columns)
}

fn one_day(inputs: &Inputs, sums: &DaySums, day: usize, planned_wh: f64) -> Day {
    let expected = inputs.expected;
    let grid = &expected.grid;
    let signals = &expected.signals;
    let date = grid.dates[day];
    let get = |name: &str| sums.get(name, day);
    let span = |name: &str| {
        Interval::new(
            get(name),
            get(&format!("{name}_low")),
            get(&format!("{name}_high")),
        )
    };
    let moments = grid.day(day).len().max(1) as f64;
    let sun_coverage = (get("sun") > 0.0).then(|| (get("sun_covered") / get("sun")).min(1.0));
    let covered = get("covered") > 0.0;
    let total = inputs.totals.of(day);
    let harvest_known = signals.harvest.is_some()
        || inputs.loads.harvest_estimate.is_some()
        || total.is_some_and(|t| t.harvest_wh.is_some());
    let range_of = |of: fn(&Attribution, Range<usize>, f64) -> Interval| {
        of(inputs.attribution, grid.day(day), grid.step_h())
    };
    let (offered, held) = (range_of(range::offered), range_of(range::held));
    let (lost, gap) = (span("lost"), span("gap"));
    let rest = get("harvest") - (offered.value - lost.value - held.value - gap.value);
    // A sum over no rows of its own is none, whatever else was read that day.
    let read = |f: &Option<Folded>| {
        let own = f.as_ref();
        own.is_some_and(|f| grid.day(day).any(|m| f.coverage(m) > 0.0))
    };
    let measured = |there: bool, name: &str| there.then(|| get(name));
    let (bank, bank_ah) = (read(&signals.bank_w), read(&signals.bank_a));
    let known_load = |m: usize| inputs.loads.known(inputs.expected, m);
    let load = get("load") != 0.0 || grid.day(day).any(known_load);
    let (low_v, high_v) = extremes(signals.bank_v.as_ref(), grid.day(day));
    let (soc_low, soc_high) = extremes(signals.soc.as_ref(), grid.day(day));
    let known = harvest_known.then_some(());
    let mut made = Day {
        date: date.to_string(),
        coverage: get("covered") / moments,
        sun_coverage,
        planned_wh: Some(planned_wh),
        clear_wh: Some(get("clear")),
        offered_wh: known.map(|()| offered.value),
        array_wh: measured(read(&signals.array), "array"),
        harvest_wh: measured(harvest_known && covered, "harvest"),
        held_back_wh: known.map(|()| held.value),
        lost_wh: known.map(|()| lost.value),
        unmeasured_wh: known.map(|()| gap.value),
        unexplained_wh: known.map(|()| rest),
        load_wh: total
            .and_then(|t| t.load_wh)
            .or_else(|| measured(load, "load")),
        other_charge_wh: measured(bank || read(&signals.other_a), "other"),
        bank_in_wh: measured(bank, "bank_in_wh"),
        bank_out_wh: measured(bank, "bank_out_wh"),
        bank_in_ah: measured(bank_ah, "bank_in_ah"),
        bank_out_ah: measured(bank_ah, "bank_out_ah"),
        soc_low_pct: soc_low.or_else(|| total?.soc_low_pct),
        soc_high_pct: soc_high,
        low_v,
        high_v: high_v.or_else(|| total?.volts_high_v),
        reached_full: (inputs.charge.can_tell && covered).then(|| inputs.charge.full_days[day]),
        judged: false,
        state: DayState::Unmeasured,
        why: String::new(),
        intervals: BTreeMap::new(),
    };
    // On a day without rows the harvest is its total, or 0, which closes the books.
    if known.is_some() && !covered {
        made.harvest_wh = Some(get("harvest"));
    }
    if known.is_some() {
        for (key, interval) in [
            ("offered_wh", offered),
            ("held_back_wh", held),
            ("lost_wh", lost),
            ("unmeasured_wh", gap),
        ] {
            made.intervals.insert(key.to_owned(), interval);
        }
    }
    let unheld = if offered.value > 0.0 {
        1.0 - get("held_offer") / offered.value
    } else {
        0.0
    };
    let hidden = Hidden {
        unheld,
        refused: get("refused") > 1.0,
        limit_wh: get("limit"),
        haze: inputs.expected.haze[day],
    };
    let verdict = judge(inputs, &made, &offered, &lost, &hidden);
    made.state = verdict.0;
    made.why = match total {
        Some(_) => "only totals of the day were logged".to_owned(),
        None => verdict.1,
    };
    made.judged = !matches!(made.state, DayState::Unmeasured | DayState::Unclear);
    made
}

/// All but the thickest clouds leave this much of a clear day, share: an optical depth beyond 25 seldom stays from
/// dawn to dusk.
const DARKEST: f64 = 0.08;

/// What hid the array from sight on a day.
struct Hidden {
    /// Share of the offer while nothing was held back.
    unheld: f64,
    /// Whether the bank refused charge.
    refused: bool,
    /// Beyond the controller's limit, Wh.
    limit_wh: f64,
    /// What haze has to do with clear hours that gave too little.
    haze: Option<Haze>,
}

/// What is added to the reason of a day that was clear and gave too little.
fn of_the_air(haze: Option<Haze>) -> &'static str {
    match haze {
        Some(haze) if haze.is_plain() => {
            ": the air was hazy, which took more the lower the sun stood"
        }
        _ => "",
    }
}

/// State and reason, the contract's rules in the contract's order.
fn judge(
    inputs: &Inputs,
    day: &Day,
    offered: &Interval,
    lost: &Interval,
    hidden: &Hidden,
) -> (DayState, String) {
    let clear = day.clear_wh.unwrap_or(0.0);
    let held = day.held_back_wh.unwrap_or(0.0);
    let harvest = day.harvest_wh.unwrap_or(0.0);
    let Some(coverage) = day.sun_coverage.filter(|_| clear > 0.0) else {
        return (
            DayState::Unmeasured,
            "the sun did not rise high enough to judge an array".to_owned(),
        );
    };
    if coverage < 0.8 {
        return (
            DayState::Unmeasured,
            format!("only {:.0} % of the daylight was logged", 100.0 * coverage),
        );
    }
    let floor = (0.10 * offered.value).max(inputs.yardsticks.worth_a_job_wh);
    if lost.low > floor && hidden.unheld >= 0.40 {
        let why = if hidden.limit_wh > 0.5 * lost.value {
            ": the controller stood at its limit"
        } else {
            " although the bank would have taken it"
        };
        return (
            DayState::Short,
            format!(
                "about {} Wh of the {} Wh on offer did not arrive{why}",
                about(lost.value),
                about(offered.value)
            ),
        );
    }
    if held > 0.10 * offered.value {
        let reason = if hidden.refused && day.reached_full != Some(true) {
            "the bank refused charge (cold or protected)"
        } else {
            held_reason(day.reached_full)
        };
        return (
            DayState::Full,
            format!("{reason}: about {} Wh more was on offer", about(held)),
        );
    }
    if inputs.attribution.estimated {
        return (
            DayState::Unclear,
            "the harvest is an estimate from the bank's side alone, which can't tell sky from array"
                .to_owned(),
        );
    }
    if offered.value < 0.6 * clear && is_blind(inputs.expected) {
        return (
            DayState::Unclear,
            "neither the bank's voltage nor a stage of the controller was logged: a full bank and a dull sky \
             look the same"
                .to_owned(),
        );
    }
    if offered.high < 0.6 * clear {
        let share = offered.value / clear;
        let darker = if share < DARKEST {
            ", less than most clouds leave: snow or a cover on the panels looks the same"
        } else {
            ""
        };
        return (
            DayState::Dull,
            format!("a dull sky: {:.0} % of a clear day{darker}", 100.0 * share),
        );
    }
    if (harvest + held - offered.value).abs() <= 0.10 * offered.value {
        let air = of_the_air(hidden.haze);
        return (
            DayState::Ok,
            format!("what was on offer was harvested{air}"),
        );
    }
    let rest = offered.value - harvest - held;
    if hidden.limit_wh > 0.5 * rest {
        return (
            DayState::Unclear,
            "the controller stood at its limit, and the log does not settle how much more the sky offered"
                .to_owned(),
        );
    }
    if rest > 0.0 && lost.value > 0.5 * rest {
        return (
            DayState::Unclear,
            format!(
                "about {} Wh of the {} Wh on offer seem lost, and not beyond doubt so many that the day fell short",
                about(lost.value),
                about(offered.value)
            ),
        );
    }
    (
        DayState::Unclear,
        match hidden.haze {
            Some(haze) if !haze.is_loss() => {
                "its clear hours gave too little, and too few of them tell haze from a loss of the array's"
            }
            _ => "the log does not settle where the rest of the offer went",
        }
        .to_owned(),
    )
}

/// Whether nothing in the log shows a bank that takes no more.
fn is_blind(expected: &Expectation) -> bool {
    let signals = &expected.signals;
    signals.regulated_v().is_none() && signals.stage.is_none() && signals.array_v.is_none()
}

fn held_reason(reached_full: Option<bool>) -> &'static str {
    match reached_full {
        Some(true) => "the bank was full",
        Some(false) => "the controller held its voltage though the bank was not full",
        None => "the controller held its voltage",
    }
}

fn extremes(
    series: Option<&Folded>,
    moments: std::ops::Range<usize>,
) -> (Option<f64>, Option<f64>) {
    let Some(series) = series else {
        return (None, None);
    };
    let low = moments
        .clone()
        .map(|m| series.low(m))
        .fold(f64::INFINITY, f64::min);
    let high = moments
        .map(|m| series.high(m))
        .fold(f64::NEG_INFINITY, f64::max);
    (
        low.is_finite().then_some(low),
        high.is_finite().then_some(high),
    )
}
