//! What the loads take by hour of the day, beside what the design means them to take.

use chrono::Timelike;

use crate::account::Loads;
use crate::calendar::Calendar;
use crate::design::Design;
use crate::design::budget::{Budget, budget};
use crate::expect::Expectation;
use crate::report::model::LoadHours;
use crate::stats::quantile::{mean, quantile};

const HOURS: usize = 24;
/// An hour counts for a day from half of it known on.
const LEAST_SHARE: f64 = 0.5;
/// An hour is shown from this many days on, and the whole from half the hours on.
const LEAST_DAYS: usize = 3;

/// Loads by hour of the local clock; `None` where they are not known through most of the day. Where the
/// harvest is estimated from the bank's side, the load by day is an assumption and is not shown.
pub fn load_hours(
    design: &Design,
    calendar: &Calendar,
    expected: &Expectation,
    loads: &Loads,
) -> Option<LoadHours> {
    if loads.harvest_estimate.is_some() {
        return None;
    }
    let load = loads.load.as_ref()?;
    let grid = &expected.grid;
    let mut days: Vec<Vec<f64>> = vec![Vec::new(); HOURS];
    let mut light = [(0.0, 0.0); HOURS];
    for day in 0..grid.dates.len() {
        let mut sums = [(0.0, 0usize, 0usize); HOURS];
        for moment in grid.day(day) {
            let hour = calendar.local(grid.time_of(moment)).hour() as usize;
            sums[hour].2 += 1;
            light[hour].1 += 1.0;
            if expected.offers[moment].elevation_deg > 0.0 {
                light[hour].0 += 1.0;
            }
            if loads.known(expected, moment) {
                sums[hour].0 += load[moment] / grid.step_h();
                sums[hour].1 += 1;
            }
        }
        for (hour, (watts, known, all)) in sums.into_iter().enumerate() {
            if known > 0 && known as f64 >= LEAST_SHARE * all as f64 {
                days[hour].push(watts / known as f64);
            }
        }
    }
    let shown = |of: &dyn Fn(&[f64]) -> Option<f64>| -> Vec<Option<f64>> {
        days.iter()
            .map(|d| (d.len() >= LEAST_DAYS).then(|| of(d)).flatten())
            .collect()
    };
    let mean_w = shown(&mean);
    (2 * mean_w.iter().flatten().count() >= HOURS).then(|| LoadHours {
        low_w: shown(&|d| quantile(d, 0.1)),
        high_w: shown(&|d| quantile(d, 0.9)),
        days: days.iter().map(Vec::len).collect(),
        budget_w: budget_w(&budget(design), &light),
        how: loads.load_how,
        mean_w,
    })
}

/// The budget by hour: what runs always evenly, loads of the day over the light hours, loads of the night
/// over the dark ones. `light` is for each hour the number of moments with the sun up, and of all.
fn budget_w(budget: &Budget, light: &[(f64, f64); HOURS]) -> Option<Vec<f64>> {
    if budget.total_wh <= 0.0 {
        return None;
    }
    let share = light.map(|(up, all)| if all > 0.0 { up / all } else { 0.5 });
    let spread = |wh: f64, shares: [f64; HOURS]| {
        let all: f64 = shares.iter().sum();
        // Neither day nor night all through: nothing to hold on to but the clock.
        shares.map(|s| {
            wh * if all > 0.0 {
                s / all
            } else {
                1.0 / HOURS as f64
            }
        })
    };
    let by_day = spread(budget.day_wh - budget.always_wh / 2.0, share);
    let by_night = spread(
        budget.night_wh - budget.always_wh / 2.0,
        share.map(|s| 1.0 - s),
    );
    let always = budget.always_wh / HOURS as f64;
    Some(
        by_day
            .iter()
            .zip(by_night)
            .map(|(day, night)| always + day + night)
            .collect(),
    )
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn the_budget_by_hour_adds_up_to_the_days_budget() {
        let planned = Budget {
            day_wh: 500.0,
            night_wh: 300.0,
            always_wh: 240.0,
            total_wh: 800.0,
            standby_a: 0.0,
        };
        let mut light = [(0.0, 12.0); HOURS];
        for hour in &mut light[6..18] {
            hour.0 = 12.0;
        }
        light[18].0 = 6.0;
        for light in [light, [(12.0, 12.0); HOURS], [(0.0, 12.0); HOURS]] {
            let hours = budget_w(&planned, &light).unwrap();
            assert!((hours.iter().sum::<f64>() - 800.0).abs() < 1e-9);
        }
        let hours = budget_w(&planned, &light).unwrap();
        assert!((hours[0] - (10.0 + 180.0 / 11.5)).abs() < 1e-9);
        assert!((hours[12] - (10.0 + 380.0 / 12.5)).abs() < 1e-9);
        assert_eq!(budget_w(&Budget::default(), &light), None);
    }
}
