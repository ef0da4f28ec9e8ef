//! The one report model put together from what was read, expected, accounted and found.

mod assumed;
mod stops;

use std::collections::BTreeMap;
use std::ops::Range;

use crate::account::Accounts;
use crate::account::load_hours::load_hours;
use crate::account::long_hours::long_hours;
use crate::account::low_charge::low_charge;
use crate::account::night::Nights;
use crate::account::night_course::night_course;
use crate::calendar::Calendar;
use crate::design::{Design, Event, Spot, budget};
use crate::expect::turn::Turn;
use crate::expect::{Expectation, Folded, STEP_S};
use crate::findings::catalogue::Found;
use crate::log::Reading;
use crate::report::model::{
    ChartData, DropChart, Input, NightCurrent, Noted, Period, Profile, Report, RoleUse, Rows,
    SCHEMA, SystemSummary, Unknown, Verdict,
};
use crate::report::{charts, spans};

/// Everything a report is made of.
pub struct Parts<'a> {
    /// The design.
    pub design: &'a Design,
    /// The design file's text, for the digest.
    pub design_text: &'a str,
    /// Local days.
    pub calendar: &'a Calendar,
    /// What was read.
    pub reading: &'a Reading,
    /// What was expected.
    pub expected: &'a Expectation,
    /// The accounts.
    pub accounts: &'a Accounts,
    /// What was found.
    pub found: Found,
    /// What limits.
    pub verdict: Verdict,
}

/// Most points in the profile: a screen shows fewer.
const MOST_POINTS: usize = 3_000;

/// The report.
pub fn report(parts: Parts) -> Report {
    let accounts = parts.accounts;
    let mut unknown = parts.found.unknown.clone();
    unknown.extend(steps_not_told_apart(&parts));
    let mut report = Report {
        schema: SCHEMA.to_owned(),
        version: env!("CARGO_PKG_VERSION").to_owned(),
        run: digest(&parts),
        system: system(&parts),
        inputs: inputs(parts.reading),
        measured: parts.reading.inspection.measured.clone(),
        period: period(&parts),
        verdict: parts.verdict.clone(),
        days: accounts.days.clone(),
        noted: noted(&parts),
        account: accounts.account.clone(),
        performance: accounts.performance.clone(),
        findings: parts.found.findings.clone(),
        options: Vec::new(),
        recommended: None,
        recommended_why: None,
        comparison: None,
        checked: parts.found.checked.clone(),
        unknown,
        assumed: assumed::list(&parts),
        yardsticks: accounts.yardsticks,
        series: ChartData {
            profile: profile(&parts, 0..parts.expected.grid.moments),
            detail: detail(&parts),
            long_hours: long_hours(parts.expected, &accounts.attribution, parts.calendar),
            drop: accounts.run.as_ref().ok().map(|fit| DropChart {
                points: fit.points.clone(),
                resistance_mohm: Some(fit.resistance_mohm),
                offset_v: Some(fit.offset_v),
                design_mohm: fit.design_mohm.unwrap_or(0.0),
            }),
            fulls: accounts
                .charge
                .fulls
                .iter()
                .map(|at| parts.calendar.rfc3339(*at))
                .collect(),
            low_charge: low_charge(parts.expected, &accounts.charge),
            load_hours: load_hours(
                parts.design,
                parts.calendar,
                parts.expected,
                &accounts.loads,
            ),
            night_current: night_current(&parts),
        },
    };
    forget_charts_not_drawn(&mut report);
    report
}

/// A finding names its kind's chart; where this log has nothing for it there is none to name.
fn forget_charts_not_drawn(report: &mut Report) {
    let drawn = charts::all(report);
    for finding in &mut report.findings {
        finding
            .chart
            .take_if(|named| drawn.iter().all(|chart| chart.file != *named));
    }
}

/// The owner's own notes of the days reported, in the order of the days.
fn noted(parts: &Parts) -> Vec<Noted> {
    let dates = &parts.expected.grid.dates;
    let mut events: Vec<_> = parts.design.events.iter().collect();
    events.sort_by_key(|event| event.on);
    let within =
        |event: &&Event| dates.first() <= Some(&event.on) && dates.last() >= Some(&event.on);
    let noted = |event: &Event| Noted {
        date: event.on.to_string(),
        note: event.note.clone(),
    };
    events.into_iter().filter(within).map(noted).collect()
}

fn night_current(parts: &Parts) -> Option<NightCurrent> {
    let (calendar, expected, loads) = (parts.calendar, parts.expected, &parts.accounts.loads);
    let nights = Nights::new(calendar, &parts.reading.timeline, expected, loads);
    night_course(parts.design, calendar, expected, loads, nights.as_ref())
}

/// FNV-1a over the design's text and the logs' digest: equal inputs, equal run.
fn digest(parts: &Parts) -> String {
    let bytes = parts
        .design_text
        .bytes()
        .chain(parts.reading.digest.bytes())
        .chain(
            format!(
                "{}{}",
                parts.expected.grid.start, parts.expected.grid.moments
            )
            .into_bytes(),
        );
    let hash = bytes.fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3)
    });
    format!("{hash:016x}")
}

fn system(parts: &Parts) -> SystemSummary {
    let (design, grid) = (parts.design, &parts.expected.grid);
    let stops = stops::stops(
        &design.place,
        parts.calendar,
        grid.start,
        grid.time_of(grid.moments),
    );
    let budgeted = budget::budget(design).total_wh;
    SystemSummary {
        name: design.system.name.clone(),
        nominal_v: design.nominal_v(),
        array_w: design.array_w(),
        capacity_ah: design.battery.capacity_ah,
        chemistry: design.battery.chemistry.name().to_owned(),
        names: names(design),
        place: stops
            .first()
            .map_or_else(|| stops::in_words(spot_of(parts)), |s| s.place.clone()),
        stops,
        reserve_pct: design.battery.reserve_pct,
        budget_wh: (budgeted > 0.0).then_some(budgeted),
    }
}

/// The design's place at the beginning of the period.
fn spot_of<'a>(parts: &Parts<'a>) -> &'a Spot {
    parts.design.place.at(parts.expected.grid.start)
}

/// What the owner calls arrays and controllers.
fn names(design: &Design) -> Vec<String> {
    let arrays = design.arrays.iter().map(|a| &a.name);
    let controllers = design.controllers.iter().map(|c| &c.name);
    arrays.chain(controllers).flatten().cloned().collect()
}

fn inputs(reading: &Reading) -> Vec<Input> {
    reading
        .inspection
        .files
        .iter()
        .map(|file| Input {
            file: file.file.clone(),
            rows: file.rows,
            first: file.first.clone(),
            last: file.last.clone(),
            step_s: file.step_s,
            roles: file
                .columns
                .iter()
                .filter_map(|c| {
                    Some((
                        c.role.clone()?,
                        RoleUse {
                            column: c.name.clone(),
                            unit: c.unit.clone(),
                            how: c.how.clone(),
                        },
                    ))
                })
                .collect(),
            notes: file.notes.clone(),
        })
        .chain(reading.inspection.skipped.iter().map(|skipped| Input {
            file: skipped.file.clone(),
            rows: Rows::default(),
            first: None,
            last: None,
            step_s: None,
            roles: BTreeMap::new(),
            notes: vec![format!("skipped: {}", skipped.why)],
        }))
        .collect()
}

fn period(parts: &Parts) -> Period {
    let grid = &parts.expected.grid;
    let covered_h: f64 = (0..grid.moments)
        .map(|m| parts.expected.signals.coverage(m) * grid.step_h())
        .sum();
    Period {
        from: grid
            .dates
            .first()
            .map_or(String::new(), ToString::to_string),
        to: grid.dates.last().map_or(String::new(), ToString::to_string),
        days: grid.dates.len(),
        covered_h,
        coverage: covered_h / (grid.moments.max(1) as f64 * grid.step_h()),
    }
}

/// A bearing further off than one taken by hand is, degrees.
const WORTH_A_LOOK_DEG: f64 = 10.0;

/// What the accounts could not separate, with the measurement that would.
fn steps_not_told_apart(parts: &Parts) -> Vec<Unknown> {
    let unknown = |kind: &str, text: &str, needs: &str| Unknown {
        kind: kind.to_owned(),
        text: text.to_owned(),
        needs: needs.to_owned(),
    };
    let mut list = Vec::new();
    if parts.expected.shade.shadows.is_empty() {
        list.push(unknown(
            "shade",
            "no dip came back at the same bearing of the sun on two clear days, so shade is not separated from cloud: it is in the weather step, or in a short day where it lasted",
            "two clear days at one place with the bank low, or a photograph of the array at the hour of a dip, on two days",
        ));
    }
    if parts
        .accounts
        .days
        .iter()
        .any(|day| day.offered_wh.is_none())
    {
        list.push(unknown(
            "unmeasured",
            "what became of the clear sky on days without a harvest in the log: neither weather nor what was not measured can be told, and all of it stays in the unexplained step",
            "the controller's output in watts or in volts and amperes, or its energy counter",
        ));
    }
    list.push(unknown(
        "array_cable",
        "the run from panels to controller can't be measured in a log: nothing reads the voltage at the panels",
        "a voltmeter at both ends of that run under full sun, cautiously: the panels are live",
    ));
    if parts.expected.signals.array.is_none() {
        list.push(unknown(
            "conversion",
            "how well the controller converts: the array's side was not logged",
            "the array's volts and amperes in the log",
        ));
    }
    if parts.expected.signals.air_c.is_none() {
        list.push(unknown(
            "heat",
            "how warm the air was: the plan's air temperature was taken, so heat is modelled",
            "air temperature in the shade near the panels",
        ));
    }
    if !parts.expected.clear.calibrated {
        list.push(unknown(
            "array",
            "how strong the array really is: fewer than two clear, unheld hours, so the design's allowance was taken",
            "one clear day with the bank low enough to take all",
        ));
    }
    let controllers = &parts.design.controllers;
    for missing in &parts.expected.signals.unwatched {
        let name = controllers[*missing].name.as_deref().unwrap_or("one");
        list.push(unknown(
            "array",
            &format!("what the panels of \"{name}\" gave: no log shows that controller's side"),
            "that controller's own log, with its `controller` in the [[log]] entry",
        ));
    }
    for askew in &parts.expected.askew {
        if askew.turn == Turn::Bearing && askew.east_deg.abs() >= WORTH_A_LOOK_DEG {
            list.push(unknown(
                "array",
                &format!(
                    "whether the panels look where the design says: clear days bend as if they looked {}, and the offer is reckoned so; a clock that is off bends them too",
                    assumed::further(askew)
                ),
                "a compass held to the panels, away from steel and from their cables, reckoned to true north",
            ));
        }
    }
    list
}

/// The last days at a fine step, where the period has more than a page shows a row each.
fn detail(parts: &Parts) -> Option<Profile> {
    let grid = &parts.expected.grid;
    let first = grid.dates.len().checked_sub(spans::MOST_ROWS)?;
    (first > 0).then(|| profile(parts, grid.day(first).start..grid.moments))
}

/// Signals at quarter-hours, or coarser where the stretch is long.
fn profile(parts: &Parts, stretch: Range<usize>) -> Profile {
    let grid = &parts.expected.grid;
    let per_point = stretch.len().div_ceil(MOST_POINTS).max(3);
    let points = stretch.len().div_ceil(per_point);
    let start = stretch.start;
    let span = |p: usize| start + p * per_point..(start + (p + 1) * per_point).min(stretch.end);
    let signals = &parts.expected.signals;
    let of = |folded: Option<&Folded>| -> Vec<Option<f64>> {
        (0..points)
            .map(|p| mean_of(span(p).filter_map(|m| folded?.mean(m)), 3))
            .collect()
    };
    let attribution = &parts.accounts.attribution;
    let estimated: Vec<Option<f64>> = (0..points)
        .map(|p| {
            mean_of(
                span(p)
                    .filter(|m| signals.harvest_coverage(*m) > 0.2)
                    .map(|m| attribution.harvest[m] / grid.step_h()),
                1,
            )
        })
        .collect();
    let load = parts.accounts.loads.load.as_ref();
    Profile {
        start: parts.calendar.rfc3339(grid.time_of(start)),
        start_s: grid.time_of(start),
        step_s: per_point as i64 * STEP_S,
        offsets: offsets(parts, start, points, per_point),
        harvest_w: estimated,
        clear_w: (0..points)
            .map(|p| mean_of(span(p).map(|m| parts.expected.offers[m].output_w), 1))
            .collect(),
        load_w: (0..points)
            .map(|p| {
                let known = span(p)
                    .filter(|m| parts.accounts.loads.known(parts.expected, *m))
                    .filter_map(|m| load.map(|l| l[m] / grid.step_h()));
                mean_of(known, 1)
            })
            .collect(),
        soc_pct: of(signals.soc.as_ref()),
        counted_soc_pct: (0..points)
            .map(|p| {
                let known = span(p).filter_map(|m| parts.accounts.charge.counted_pct[m]);
                mean_of(known, 2)
            })
            .collect(),
        bank_v: of(signals.bank_v.as_ref()),
        regime: (0..points).map(|p| regime_of(parts, span(p))).collect(),
    }
}

/// Mean to a number of decimals that no chart outresolves; `None` of nothing.
fn mean_of(values: impl Iterator<Item = f64>, decimals: i32) -> Option<f64> {
    let (sum, n) = values.fold((0.0, 0u32), |(s, n), v| (s + v, n + 1));
    let scale = 10f64.powi(decimals);
    (n > 0).then(|| (sum / f64::from(n) * scale).round() / scale + 0.0)
}

/// The regime of most moments of a point.
fn regime_of(parts: &Parts, span: std::ops::Range<usize>) -> char {
    let mut count: BTreeMap<char, usize> = BTreeMap::new();
    for m in span {
        *count.entry(parts.expected.regimes[m].letter()).or_default() += 1;
    }
    count
        .into_iter()
        .max_by_key(|(_, n)| *n)
        .map_or('g', |(letter, _)| letter)
}

fn offsets(parts: &Parts, start: usize, points: usize, per_point: usize) -> Vec<(usize, i32)> {
    let grid = &parts.expected.grid;
    let mut list: Vec<(usize, i32)> = Vec::new();
    for p in 0..points {
        let offset = parts.calendar.offset_s(grid.time_of(start + p * per_point));
        if list.last().is_none_or(|(_, last)| *last != offset) {
            list.push((p, offset));
        }
    }
    list
}
