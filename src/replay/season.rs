//! The same system in another month: sun from the clear-sky model and the owner's plan, use as logged.

use chrono::{Datelike, NaiveDate};

use super::change::{Ground, World};
use super::course::{Course, Day, MOMENTS, Step};
use crate::account::episode::left_on;
use crate::account::stretches::Stretches;
use crate::account::{Accounts, Attribution};
use crate::expect::month::{DULL, MONTH_SPREAD, dates_of, middle_of};
use crate::expect::offer::{clear_day, clear_offers, planned_day};
use crate::expect::{Expectation, Grid, Regime};
use crate::quantity::Interval;
use crate::words::about;

/// Dull and clear days come in runs of about so many.
const RUN: usize = 3;

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
    expected.offers = clear_offers(ground.design, ground.calendar, &expected.grid, None);
    expected.regimes = vec![Regime::Gap; expected.grid.moments];
    let clearness = clearness(ground, first);
    let shares = day_shares(expected.grid.dates.len(), clearness);
    let accounts = Accounts {
        attribution: attribution(ground, &expected, &shares),
        ..ground.accounts.clone()
    };
    let course = course(world, &expected, &accounts.attribution);
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
            programme: world.programme,
        },
        expected,
        accounts,
    }
}

/// The month's planned harvest over its clear one, share. One figure of sun hours for the whole year is that
/// of the season it was planned for, the log's: its share of a clear sky is carried over, not its hours.
fn clearness(ground: &Ground, first: NaiveDate) -> f64 {
    let hours = ground.design.plan.sun_hours;
    let one_figure = hours.is_some_and(|of| of.iter().all(|h| (h - of[0]).abs() < 1e-9));
    let planned_for = ground.expected.grid.dates.first().filter(|_| one_figure);
    let middle = planned_for.copied().unwrap_or_else(|| middle_of(first));
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

/// What the month's skies offer, and what the faults of the log's last day would take of it.
fn attribution(ground: &Ground, expected: &Expectation, shares: &[f64]) -> Attribution {
    let of = &ground.accounts.attribution;
    let last = ground.expected.grid.dates.len().saturating_sub(1);
    let left = left_on(&ground.accounts.reductions, last);
    let moments = expected.grid.moments;
    let none = Stretches::nothing(moments);
    let offered: Stretches<Interval> = (0..moments)
        .map(|m| {
            let wh = expected.offers[m].output_w * expected.grid.step_h();
            Interval::exact(wh * expected.clear.healthy * shares[expected.grid.day_of(m)])
        })
        .collect();
    let array: Stretches<Interval> = offered
        .iter()
        .map(|o| {
            let lost = |kept: f64| o.value * (1.0 - kept).max(0.0);
            Interval::new(lost(left.value), lost(left.high), lost(left.low))
        })
        .collect();
    Attribution {
        conversion: offered
            .iter()
            .zip(array.iter())
            .map(|(o, a)| (o.value - a.value) * (1.0 - of.conversion_level))
            .collect(),
        offered,
        array,
        heat: Stretches::nothing(moments),
        shade: none.clone(),
        limit: none.clone(),
        held: none.clone(),
        unmeasured: none,
        harvest: Stretches::nothing(moments),
        estimated: of.estimated,
        hidden_w: of.hidden_w,
        conversion_level: of.conversion_level,
        metered: false,
    }
}

/// The month's days with the use of the days logged, one after the other.
fn course(world: &World, expected: &Expectation, of: &Attribution) -> Course {
    let logged = &world.course.days;
    let run_ohm = logged.last().map_or(0.0, |d| d.run_ohm);
    let days = (0..expected.grid.dates.len())
        .map(|day| Day {
            steps: steps(&logged[day % logged.len().max(1)], expected, of, day),
            run_ohm,
        })
        .collect();
    Course {
        step_h: world.course.step_h,
        days,
    }
}

fn steps(like: &Day, expected: &Expectation, of: &Attribution, day: usize) -> Vec<Step> {
    let moments: Vec<usize> = expected.grid.day(day).collect();
    moments
        .chunks(MOMENTS)
        .enumerate()
        .map(|(i, chunk)| {
            let wh: f64 = chunk
                .iter()
                .map(|m| of.offered[*m].value - of.array[*m].value - of.conversion[*m])
                .sum();
            let sun_w = wh / (chunk.len() as f64 * expected.grid.step_h());
            let used = like.steps.get(i).or(like.steps.last());
            Step {
                sun_w,
                less_w: MONTH_SPREAD * sun_w,
                more_w: MONTH_SPREAD * sun_w,
                load_w: used.map_or(0.0, |s| s.load_w),
                ..Step::default()
            }
        })
        .collect()
}
