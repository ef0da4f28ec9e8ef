//! The even grid of moments on which everything is judged: whole local days in five-minute steps.

use chrono::{Days, NaiveDate};

use crate::calendar::Calendar;
use crate::timeline::{Series, Timeline};

/// Width of a moment, seconds: short enough for clouds and controller limits to show, long enough
/// that two loggers a few seconds apart agree.
pub const STEP_S: i64 = 300;

/// Whole local days cut into moments.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    /// Start of the first moment, Unix seconds.
    pub start: i64,
    /// Number of moments.
    pub moments: usize,
    /// The local dates, ascending.
    pub dates: Vec<NaiveDate>,
    /// First moment of each date, and one past the last moment at the end.
    pub day_starts: Vec<usize>,
}

impl Grid {
    /// The grid of all dates from `first` to `last`, inclusive.
    pub fn new(calendar: &Calendar, first: NaiveDate, last: NaiveDate) -> Self {
        let start = calendar.start_of(first).div_euclid(STEP_S) * STEP_S;
        let mut dates = Vec::new();
        let mut day_starts = Vec::new();
        let mut date = first;
        while date <= last {
            dates.push(date);
            day_starts.push(to_moment(start, calendar.start_of(date)));
            match date.checked_add_days(Days::new(1)) {
                Some(next) => date = next,
                None => break,
            }
        }
        let moments = to_moment(start, calendar.bounds(last).1);
        day_starts.push(moments);
        Self {
            start,
            moments,
            dates,
            day_starts,
        }
    }

    /// Start of a moment, Unix seconds.
    pub fn time_of(&self, moment: usize) -> i64 {
        self.start + moment as i64 * STEP_S
    }

    /// Middle of a moment, Unix seconds.
    pub fn middle_of(&self, moment: usize) -> f64 {
        self.time_of(moment) as f64 + STEP_S as f64 / 2.0
    }

    /// Index of the date a moment belongs to.
    pub fn day_of(&self, moment: usize) -> usize {
        self.day_starts
            .partition_point(|start| *start <= moment)
            .saturating_sub(1)
            .min(self.dates.len().saturating_sub(1))
    }

    /// The moments of a date.
    pub fn day(&self, day: usize) -> std::ops::Range<usize> {
        self.day_starts[day]..self.day_starts[day + 1]
    }

    /// Hours in a moment.
    pub fn step_h(&self) -> f64 {
        STEP_S as f64 / 3600.0
    }

    /// A series added up onto this grid; energies are kept exactly, time outside the grid is left out.
    pub fn fold(&self, timeline: &Timeline, series: &Series) -> Folded {
        let mut folded = Folded::empty(self.moments);
        for bin in 0..timeline.bins {
            let offset = (timeline.time_of(bin) - self.start).div_euclid(STEP_S);
            let Ok(moment) = usize::try_from(offset) else {
                continue;
            };
            if moment >= self.moments {
                break;
            }
            folded.in_h[moment] += series.in_h[bin];
            folded.out_h[moment] += series.out_h[bin];
            folded.covered_s[moment] += series.covered_s[bin];
            folded.min[moment] = folded.min[moment].min(series.min[bin]);
            folded.max[moment] = folded.max[moment].max(series.max[bin]);
        }
        folded
    }
}

fn to_moment(start: i64, instant: i64) -> usize {
    usize::try_from((instant - start).div_euclid(STEP_S)).unwrap_or(0)
}

/// A signal on the grid. All vectors have the grid's number of moments.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Folded {
    /// Integral of the positive part, unit x hours.
    pub in_h: Vec<f64>,
    /// Integral of the negative part, a positive number, unit x hours.
    pub out_h: Vec<f64>,
    /// Seconds covered.
    pub covered_s: Vec<f32>,
    /// Lowest reading; infinity where none.
    pub min: Vec<f32>,
    /// Highest reading; minus infinity where none.
    pub max: Vec<f32>,
}

impl Folded {
    /// Nothing measured.
    pub fn empty(moments: usize) -> Self {
        Self {
            in_h: vec![0.0; moments],
            out_h: vec![0.0; moments],
            covered_s: vec![0.0; moments],
            min: vec![f32::INFINITY; moments],
            max: vec![f32::NEG_INFINITY; moments],
        }
    }

    /// Time-weighted mean of the covered part, where at least a fifth of the moment is covered.
    pub fn mean(&self, moment: usize) -> Option<f64> {
        let covered = f64::from(*self.covered_s.get(moment)?);
        (covered >= STEP_S as f64 / 5.0)
            .then(|| (self.in_h[moment] - self.out_h[moment]) * 3600.0 / covered)
    }

    /// Seconds of a moment that readings cover.
    pub fn covered(&self, moment: usize) -> f64 {
        f64::from(self.covered_s[moment])
    }

    /// Lowest reading of a moment; infinity where there is none.
    pub fn low(&self, moment: usize) -> f64 {
        f64::from(self.min[moment])
    }

    /// Highest reading of a moment; minus infinity where there is none.
    pub fn high(&self, moment: usize) -> f64 {
        f64::from(self.max[moment])
    }

    /// Share of the moment that readings cover.
    pub fn coverage(&self, moment: usize) -> f64 {
        (f64::from(self.covered_s[moment]) / STEP_S as f64).clamp(0.0, 1.0)
    }

    /// Net integral over a moment, unit x hours.
    pub fn net(&self, moment: usize) -> f64 {
        self.in_h[moment] - self.out_h[moment]
    }

    /// Adds another signal of the same kind (a second controller's). The sum is known where both are: one of them
    /// alone is no whole.
    pub fn add(&mut self, other: &Folded) {
        for i in 0..self.in_h.len() {
            self.in_h[i] += other.in_h[i];
            self.out_h[i] += other.out_h[i];
            let covered_s = self.covered_s[i].min(other.covered_s[i]);
            self.covered_s[i] = covered_s;
            if covered_s <= 0.0 {
                (self.in_h[i], self.out_h[i]) = (0.0, 0.0);
            }
            self.min[i] = self.min[i].min(other.min[i]);
            self.max[i] = self.max[i].max(other.max[i]);
        }
    }
}
