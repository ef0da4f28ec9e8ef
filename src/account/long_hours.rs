//! The hours of the day by weeks or months, for periods with more days than a page shows a row each.

use std::collections::BTreeMap;

use chrono::Timelike;

use crate::account::harvest::Attribution;
use crate::calendar::Calendar;
use crate::expect::Expectation;
use crate::report::model::{HoursRow, LongHours};
use crate::report::spans;

const HOURS: usize = 24;
/// Below this share of the period's best clear power an hour is too dark for a ratio.
const DARK_BELOW: f64 = 0.05;
/// Share of a moment that must be read.
const LEAST_COVER: f64 = 0.5;

/// What an hour of the day adds up to over a row's days.
#[derive(Debug, Clone, Default)]
struct Hour {
    harvest_w: f64,
    clear_w: f64,
    shown: usize,
    light: usize,
    regimes: BTreeMap<char, usize>,
}

/// The rows; `None` where each day has one of its own.
pub fn long_hours(
    expected: &Expectation,
    attribution: &Attribution,
    calendar: &Calendar,
) -> Option<LongHours> {
    let grid = &expected.grid;
    let dates: Vec<String> = grid.dates.iter().map(ToString::to_string).collect();
    let rows = spans::of(&dates.iter().map(String::as_str).collect::<Vec<_>>());
    if rows.are_days() {
        return None;
    }
    let best = expected
        .offers
        .iter()
        .map(|o| o.output_w)
        .fold(0.0, f64::max);
    let mut long = LongHours::default();
    for row in &rows.rows {
        let mut hours = vec![Hour::default(); HOURS];
        for moment in row.days.clone().flat_map(|d| grid.day(d)) {
            let letter = expected.regimes[moment].letter();
            *long.hours.entry(letter).or_default() += grid.step_h();
            let hour = &mut hours[calendar.local(grid.time_of(moment)).hour() as usize];
            *hour.regimes.entry(letter).or_default() += 1;
            let clear = expected.offers[moment].output_w;
            if clear < best * DARK_BELOW {
                continue;
            }
            hour.light += 1;
            let read = expected.signals.harvest_coverage(moment) > LEAST_COVER;
            if read && matches!(letter, 'f' | 'l' | 'x' | 'd') {
                hour.harvest_w += attribution.harvest[moment] / grid.step_h();
                hour.clear_w += clear;
                hour.shown += 1;
            }
        }
        long.rows.push(HoursRow {
            from: dates.get(row.days.start).cloned().unwrap_or_default(),
            share: hours.iter().map(share).collect(),
            regime: hours.iter().map(most).collect(),
        });
    }
    Some(long)
}

fn share(hour: &Hour) -> Option<f64> {
    let enough = hour.light > 0 && 2 * hour.shown >= hour.light && hour.clear_w > 0.0;
    enough.then(|| (1000.0 * hour.harvest_w / hour.clear_w).round() / 1000.0)
}

fn most(hour: &Hour) -> char {
    hour.regimes
        .iter()
        .max_by_key(|(_, n)| **n)
        .map_or('g', |(letter, _)| *letter)
}
