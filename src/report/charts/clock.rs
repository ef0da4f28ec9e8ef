//! Which local day and hour each point of the profile belongs to.

use std::ops::Range;

use chrono::{DateTime, NaiveDate, Timelike};

use crate::report::model::Profile;

/// A local day of the profile.
#[derive(Debug, Clone)]
pub(crate) struct ProfileDay {
    /// Local date as the report writes it.
    pub(crate) date: String,
    /// Points of the profile that belong to it.
    pub(crate) points: Range<usize>,
}

/// Seconds east of Greenwich at a point.
fn offset(profile: &Profile, index: usize) -> i64 {
    let next = profile.offsets.partition_point(|o| o.0 <= index);
    let entry = profile.offsets.get(next.saturating_sub(1));
    entry.map_or(0, |o| i64::from(o.1))
}

/// Date and hour (0 to 24) on the local clock at a point.
pub(crate) fn local(profile: &Profile, index: usize) -> Option<(NaiveDate, f64)> {
    let seconds = (index as i64)
        .saturating_mul(profile.step_s)
        .saturating_add(profile.start_s)
        .saturating_add(offset(profile, index));
    let wall = DateTime::from_timestamp(seconds, 0)?.naive_utc();
    let hour = f64::from(wall.time().num_seconds_from_midnight()) / 3600.0;
    Some((wall.date(), hour))
}

/// How many points the profile has, as far as all its signals reach.
pub(crate) fn length(profile: &Profile) -> usize {
    profile
        .regime
        .len()
        .min(profile.harvest_w.len())
        .min(profile.clear_w.len())
}

/// The days of the profile in order.
pub(crate) fn profile_days(profile: &Profile) -> Vec<ProfileDay> {
    let mut days: Vec<ProfileDay> = Vec::new();
    for index in 0..length(profile) {
        let Some((date, _)) = local(profile, index) else {
            continue;
        };
        let date = date.to_string();
        match days.last_mut() {
            Some(last) if last.date == date => last.points.end = index + 1,
            _ => days.push(ProfileDay {
                date,
                points: index..index + 1,
            }),
        }
    }
    days
}

/// The letter of what ruled the array at a point.
pub(crate) fn regime(profile: &Profile, index: usize) -> char {
    profile
        .regime
        .as_bytes()
        .get(index)
        .map_or('u', |b| *b as char)
}

/// The largest figure of a series; 0 where there is none.
pub(crate) fn largest(series: &[Option<f64>]) -> f64 {
    series
        .iter()
        .flatten()
        .copied()
        .filter(|v| v.is_finite())
        .fold(0.0, f64::max)
}
