//! The same system in another month: sun from the clear-sky model and the owner's plan, use as logged.

use chrono::{Datelike, Days, NaiveDate};

use super::change::{Ground, World};
use super::course::{Course, Day, Step};
use crate::account::Accounts;
use crate::expect::offer::{clear_day, clear_offers, planned_day};
use crate::expect::{Expectation, Grid, Regime};
use crate::quantity::Interval;
use crate::words::about;

/// What a dull day gives of a clear one (trade reference 9: overcast 0.1 to 0.4).
const DULL: f64 = 0.3;
/// Dull and clear days come in runs of about so many.
const RUN: usize = 3;
/// A month's sun differs from its plan by this much either way, 90 %.
const MONTH_SPREAD: f64 = 0.25;

/// A month to live in.
pub(super) struct Season {
    /// In words, with how it came about.
    pub(super) label: String,
    /// The month's moments and clear skies.
    pub(super) expected: Expectation,
    /// The accounts, with what the month's skies are taken to offer.
    pub(super) accounts: Accounts,
    /// The plant as logged and the month's days.
    pub(super) world: World,
}

/// A month (1 to 12) at the place where the log ends, in its year.
pub(super) fn month(ground: &Ground, world: &World, month: u32) -> Season {
    let grid = &ground.expected.grid;
    let year = grid.dates.last().map_or(2000, Datelike::year);
    let dates = dates_of(year, month);
    let (first, last) = (dates.0, dates.1);
    let mut expected = ground.expected.clone();
    expected.grid = Grid::new(ground.calendar, first, last);
    expected.offers = clear_offers(ground.design, ground.calendar, &expected.grid);
    expected.regimes = vec![Regime::Gap; expected.grid.moments];
    let clearness = clearness(ground, first);
    let shares = day_shares(expected.grid.dates.len(), clearness);
    let course = course(ground, world, &expected, &shares);
    let mut accounts = ground.accounts.clone();
    accounts.attribution.offered = (0..expected.grid.moments)
        .map(|m| {
            let wh = expected.offers[m].output_w * expected.grid.step_h();
            Interval::exact(wh * expected.clear.healthy * shares[expected.grid.day_of(m)])
        })
        .collect();
    Season {
        label: format!(
            "{}, modelled: {} of a clear sky on the mean (give or take {:.0} %), use as logged, no other charging",
            first.format("%B"),
            about(clearness),
            100.0 * MONTH_SPREAD
        ),
        world: World {
            plant: world.plant.clone(),
            course,
        },
        expected,
        accounts,
    }
}

fn dates_of(year: i32, month: u32) -> (NaiveDate, NaiveDate) {
    let first = NaiveDate::from_ymd_opt(year, month, 1).unwrap_or_default();
    let next = if month == 12 {
        NaiveDate::from_ymd_opt(year + 1, 1, 1)
    } else {
        NaiveDate::from_ymd_opt(year, month + 1, 1)
    };
    let last = next
        .and_then(|d| d.checked_sub_days(Days::new(1)))
        .unwrap_or(first);
    (first, last)
}

/// The month's planned harvest over its clear one, share.
fn clearness(ground: &Ground, first: NaiveDate) -> f64 {
    let middle = first.checked_add_days(Days::new(14)).unwrap_or(first);
    let (clear_wh, _) = clear_day(ground.design, ground.calendar, middle);
    let planned_wh = planned_day(ground.design, ground.calendar, middle);
    if clear_wh > 0.0 {
        (planned_wh / clear_wh).clamp(0.05, 1.0)
    } else {
        0.0
    }
}

/// Clear and dull days in runs, with that mean.
fn day_shares(days: usize, mean: f64) -> Vec<f64> {
    if mean <= DULL {
        return vec![mean; days];
    }
    let clear = (mean - DULL) / (1.0 - DULL);
    let (mut due, mut shares) = (0.0, Vec::with_capacity(days + RUN));
    while shares.len() < days {
        due += clear * RUN as f64;
        let bright = (due.round() as usize).min(RUN);
        due -= bright as f64;
        for i in 0..RUN {
            shares.push(if i < bright { 1.0 } else { DULL });
        }
    }
    shares.truncate(days);
    shares
}

/// The month's days with the use of the days logged, one after the other.
fn course(ground: &Ground, world: &World, expected: &Expectation, shares: &[f64]) -> Course {
    let logged = &world.course.days;
    let run_ohm = logged.last().map_or(0.0, |d| d.run_ohm);
    let moments = super::course::MOMENTS;
    let days = (0..expected.grid.dates.len())
        .map(|day| {
            let like = &logged[day % logged.len().max(1)];
            let steps = expected
                .grid
                .day(day)
                .collect::<Vec<_>>()
                .chunks(moments)
                .enumerate()
                .map(|(i, chunk)| {
                    let clear_w = chunk
                        .iter()
                        .map(|m| expected.offers[*m].output_w)
                        .sum::<f64>()
                        / chunk.len() as f64;
                    let sun_w = clear_w * ground.expected.clear.healthy * shares[day];
                    let used = like.steps[i.min(like.steps.len() - 1)];
                    Step {
                        sun_w,
                        less_w: MONTH_SPREAD * sun_w,
                        more_w: MONTH_SPREAD * sun_w,
                        load_w: used.load_w,
                        ..Step::default()
                    }
                })
                .collect();
            Day { steps, run_ohm }
        })
        .collect();
    Course {
        step_h: world.course.step_h,
        days,
    }
}
