//! Figures of a report that can be compared, day by day.

use std::collections::BTreeMap;

use crate::report::model::{Day, DayState, Report};

/// A day is clear when its sky offered this share of a clear sky,
const CLEAR_SHARE: f64 = 0.75;
/// and measures the array when no more than this share of the offer was held back.
const HELD_SHARE: f64 = 0.1;
/// Points of a night that make its mean: two hours of quarter-hours.
const NIGHT_POINTS: u32 = 8;

/// Harvest over a clear sky's, on clear days on which the bank took what came.
pub(super) fn clear_ratios(report: &Report) -> Vec<f64> {
    report.days.iter().filter_map(ratio).collect()
}

fn ratio(day: &Day) -> Option<f64> {
    let (clear, offered) = (day.clear_wh?, day.offered_wh?);
    let held = day.held_back_wh.unwrap_or(0.0) + day.unmeasured_wh.unwrap_or(0.0);
    let usable = matches!(day.state, DayState::Ok | DayState::Short)
        && clear > 0.0
        && offered >= CLEAR_SHARE * clear
        && held <= HELD_SHARE * offered;
    usable.then(|| day.harvest_wh.map(|h| h / clear)).flatten()
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
        let at = profile.start_s + i as i64 * profile.step_s;
        let east = profile
            .offsets
            .iter()
            .take_while(|o| o.0 <= i)
            .last()
            .map_or(0, |o| i64::from(o.1));
        let night = (at + east - 43_200).div_euclid(86_400);
        let sum = nights.entry(night).or_default();
        *sum = (sum.0 + watts, sum.1 + 1);
    }
    nights
        .values()
        .filter(|(_, n)| *n >= NIGHT_POINTS)
        .map(|(sum, n)| sum / f64::from(*n))
        .collect()
}
