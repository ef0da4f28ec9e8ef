//! The current drawn from evening to morning, night by night.

use chrono::{Days, Timelike};

use crate::account::Loads;
use crate::account::night::Nights;
use crate::calendar::Calendar;
use crate::design::Design;
use crate::design::budget::budget;
use crate::expect::Expectation;
use crate::report::model::NightCurrent;
use crate::stats::quantile::{median, quantile};

/// First half hour of a night, counted from midnight: 20:00.
const FROM: usize = 40;
/// Half hours of a night: until 08:00.
const HALVES: usize = 24;
/// Moments of a half hour that must be known, of six.
const LEAST_MOMENTS: usize = 4;
/// Half hours that make a night worth a line.
const LEAST_HALVES: usize = 6;
/// A half hour is shown from this many nights on.
const LEAST_NIGHTS: usize = 3;
/// Nights drawn at most, evenly chosen: more lines run into one.
const MOST_LINES: usize = 14;

/// The nights' current; `None` with fewer than three nights known.
pub fn night_course(
    design: &Design,
    calendar: &Calendar,
    expected: &Expectation,
    loads: &Loads,
    nights: Option<&Nights>,
) -> Option<NightCurrent> {
    let all = courses(calendar, expected, loads, design.nominal_v())?;
    if all.len() < LEAST_NIGHTS {
        return None;
    }
    let over = |of: &dyn Fn(&[f64]) -> Option<f64>| -> Vec<Option<f64>> {
        (0..HALVES)
            .map(|half| {
                let seen: Vec<f64> = all.iter().filter_map(|(_, n)| n[half]).collect();
                (seen.len() >= LEAST_NIGHTS).then(|| of(&seen)).flatten()
            })
            .collect()
    };
    let floors: Vec<f64> = nights.map_or_else(Vec::new, |n| {
        n.nights
            .iter()
            .map(|night| night.floor_a.max(0.0))
            .collect()
    });
    let lines = all.len().min(MOST_LINES);
    let chosen = (0..lines).map(|i| &all[i * all.len() / lines]);
    Some(NightCurrent {
        median_a: over(&median),
        low_a: over(&|n| quantile(n, 0.1)),
        high_a: over(&|n| quantile(n, 0.9)),
        nights: all.len(),
        floor_a: (floors.len() >= LEAST_NIGHTS)
            .then(|| median(&floors))
            .flatten(),
        budget_a: (!design.loads.is_empty() || design.inverter.is_some())
            .then(|| budget(design).standby_a),
        lines: chosen
            .map(|(evening, course)| (evening.clone(), course.to_vec()))
            .collect(),
    })
}

/// Mean current by half hour of every night that has enough, with the date of its evening.
fn courses(
    calendar: &Calendar,
    expected: &Expectation,
    loads: &Loads,
    nominal_v: f64,
) -> Option<Vec<(String, [Option<f64>; HALVES])>> {
    let load = loads.load.as_ref()?;
    let grid = &expected.grid;
    let volts = expected.signals.bank_v.as_ref();
    let mut nights = vec![[(0.0, 0usize); HALVES]; grid.dates.len() + 1];
    for (moment, wh) in load.iter().enumerate() {
        if !loads.known(expected, moment) || loads.other[moment] > 0.0 {
            continue;
        }
        // A day's load is assumed where the harvest is: its night alone was measured.
        if loads.harvest_estimate.is_some() && expected.offers[moment].elevation_deg > 0.0 {
            continue;
        }
        let local = calendar.local(grid.time_of(moment));
        let half = (local.hour() * 2 + local.minute() / 30) as usize;
        let day = grid.day_of(moment);
        // The night is named by its evening; the first entry holds the night before the log.
        let (night, slot) = match half {
            FROM.. => (day + 1, half - FROM),
            h if h + 48 < FROM + HALVES => (day, h + 48 - FROM),
            _ => continue,
        };
        let v = volts.and_then(|v| v.mean(moment)).unwrap_or(nominal_v);
        if v > 0.0 {
            nights[night][slot].0 += wh / grid.step_h() / v;
            nights[night][slot].1 += 1;
        }
    }
    let first = *grid.dates.first()?;
    Some(
        nights
            .iter()
            .enumerate()
            .map(|(i, slots)| {
                let evening = first
                    .checked_sub_days(Days::new(1))
                    .and_then(|d| d.checked_add_days(Days::new(i as u64)))
                    .map_or_else(String::new, |d| d.to_string());
                let course = slots.map(|(amps, n)| (n >= LEAST_MOMENTS).then(|| amps / n as f64));
                (evening, course)
            })
            .filter(|(_, course)| course.iter().flatten().count() >= LEAST_HALVES)
            .collect(),
    )
}
