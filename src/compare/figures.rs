//! Figures of a report that can be compared, day by day.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use crate::report::model::{Day, DayState, Report};
use crate::report::series::Profile;
use crate::stats::quantile::median;

/// A day is clear when its sky offered this share of a clear sky.
const CLEAR_SHARE: f64 = 0.75;
/// The array is measured where a clear sky gives this share of the day's best: a low sun shows haze and lean.
const HIGH_SUN: f64 = 0.5;
/// and where its share of the clear sky changed by no more than this since the point before: no cloud passed.
const STEADY: f64 = 0.05;
/// Such points together must last this long, s.
const LEAST_S: i64 = 3600;
/// Points of a night that make its mean: two hours of quarter-hours.
const NIGHT_POINTS: u32 = 8;

/// Harvest over a clear sky's in the clear hours of clear days in which the bank took what came: a mended
/// system is full by noon, and shows its array in the morning.
pub(super) fn clear_ratios(report: &Report) -> Vec<f64> {
    let profile = &report.series.profile;
    let mut points: BTreeMap<i64, Vec<usize>> = BTreeMap::new();
    for i in 0..profile.clear_w.len() {
        points
            .entry(local_s(report, i).div_euclid(86_400))
            .or_default()
            .push(i);
    }
    report
        .days
        .iter()
        .filter(|day| is_clear(day))
        .filter_map(|day| {
            let date: NaiveDate = day.date.parse().ok()?;
            let number = (date - NaiveDate::default()).num_days();
            ratio(profile, points.get(&number)?)
        })
        .collect()
}

fn is_clear(day: &Day) -> bool {
    let (Some(clear), Some(offered)) = (day.clear_wh, day.offered_wh) else {
        return false;
    };
    let judged = matches!(day.state, DayState::Ok | DayState::Short | DayState::Full);
    judged && clear > 0.0 && offered >= CLEAR_SHARE * clear
}

/// The middle share of the clear sky over a day's steady points that followed the sun.
fn ratio(profile: &Profile, points: &[usize]) -> Option<f64> {
    let clear = |i: usize| profile.clear_w.get(i).copied().flatten().unwrap_or(0.0);
    let best = points.iter().map(|i| clear(*i)).fold(0.0, f64::max);
    let share = |i: usize| {
        let follows = profile.regime.as_bytes().get(i) == Some(&b'f');
        let high = best > 0.0 && clear(i) >= HIGH_SUN * best;
        let watts = profile.harvest_w.get(i).copied().flatten()?;
        (follows && high).then(|| watts / clear(i))
    };
    let steady: Vec<f64> = points
        .windows(2)
        .filter_map(|pair| {
            let (before, now) = (share(pair[0])?, share(pair[1])?);
            ((now - before).abs() <= STEADY * now).then_some(now)
        })
        .collect();
    let long_enough = steady.len() as i64 * profile.step_s >= LEAST_S;
    median(&steady).filter(|_| long_enough)
}

/// Seconds of the wall clock at a point.
fn local_s(report: &Report, point: usize) -> i64 {
    let profile = &report.series.profile;
    let east = profile
        .offsets
        .iter()
        .take_while(|o| o.0 <= point)
        .last()
        .map_or(0, |o| i64::from(o.1));
    profile.start_s + point as i64 * profile.step_s + east
}

/// Days with a full charge and days on which one could have been seen.
pub(super) fn full_days(report: &Report) -> (usize, usize) {
    let told = report.days.iter().filter_map(|d| d.reached_full);
    told.fold((0, 0), |(full, all), one| {
        (full + usize::from(one), all + 1)
    })
}

/// Mean draw of each night, W: the hours that the report calls dark, from noon to noon.
pub(super) fn night_draws(report: &Report) -> Vec<f64> {
    let profile = &report.series.profile;
    let mut nights: BTreeMap<i64, (f64, u32)> = BTreeMap::new();
    for (i, (letter, load)) in profile.regime.chars().zip(&profile.load_w).enumerate() {
        let Some(watts) = load.filter(|w| letter == 'd' && w.is_finite()) else {
            continue;
        };
        let night = (local_s(report, i) - 43_200).div_euclid(86_400);
        let sum = nights.entry(night).or_default();
        *sum = (sum.0 + watts, sum.1 + 1);
    }
    nights
        .values()
        .filter(|(_, n)| *n >= NIGHT_POINTS)
        .map(|(sum, n)| sum / f64::from(*n))
        .collect()
}
