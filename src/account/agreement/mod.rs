//! Figures of one quantity from two meters: whether they agree, as a ratio with its range.

mod pairs;
mod swings;
mod totals;

use crate::design::Design;
use crate::expect::{Expectation, Grid};
use crate::quantity::Interval;
use crate::stats::regression::line_with_intercept;
use crate::timeline::Timeline;

/// Fewest readings a ratio rests on.
const LEAST_READINGS: usize = 30;
/// Most readings a slope is drawn through: more of them make it no surer than the days do.
const MOST_READINGS: usize = 4000;
/// A ratio less sure than this is none: half its range, share.
const WIDEST: f64 = 0.10;
/// Fewest days a ratio rests on.
const LEAST_DAYS: usize = 3;

/// Two figures of one quantity.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// What is compared, as "first over second".
    pub what: String,
    /// First over second.
    pub ratio: Interval,
    /// Ratios at which nothing disagrees: what differs by nature, before the meters' gains.
    pub expected: (f64, f64),
    /// What could make the ratio so, other than a meter.
    pub also_possible: Vec<String>,
    /// Days it rests on (index into the grid's dates).
    pub days: Vec<usize>,
    /// How it was reckoned.
    pub how: String,
}

impl Comparison {
    /// How far the whole range lies beyond what two gains of `gains` (share) allow: above 1 it disagrees.
    pub fn past(&self, gains: f64) -> f64 {
        let above = self.ratio.low / (self.expected.1 * (1.0 + gains));
        let below = self.expected.0 * (1.0 - gains) / self.ratio.high.max(1e-9);
        above.max(below)
    }
}

/// Every pair of figures that these logs allow to compare.
pub fn compare_all(
    design: &Design,
    timeline: &Timeline,
    expected: &Expectation,
) -> Vec<Comparison> {
    let mut found = pairs::twice_logged(design, timeline, expected);
    found.extend(pairs::bank_over_net(timeline, expected));
    found.extend(pairs::output_over_input(design, expected));
    found.extend(swings::bank_over_output(timeline, expected));
    found.extend(totals::bank_over_loads(design, timeline, expected));
    found.extend(totals::counter_over_power(timeline, expected));
    found
}

/// Readings of two meters at the same moments.
#[derive(Debug, Clone, Default)]
struct Readings {
    first: Vec<f64>,
    second: Vec<f64>,
    /// Index of each reading's day in the grid's dates.
    days: Vec<u32>,
}

impl Readings {
    fn push(&mut self, grid: &Grid, moment: usize, first: f64, second: f64) {
        self.first.push(first);
        self.second.push(second);
        self.days.push(grid.day_of(moment) as u32);
    }

    fn days(&self) -> Vec<usize> {
        let mut days: Vec<usize> = self.days.iter().map(|d| *d as usize).collect();
        days.dedup();
        days
    }

    /// Slope of the first on the second. `None` with too few readings or days, or where the
    /// slope is anybody's guess.
    fn slope(&self) -> Option<Interval> {
        self.steepness()
            .filter(|slope| slope.value > 0.0 && slope.half_width() <= WIDEST * slope.value)
    }

    /// The same however unsure.
    fn steepness(&self) -> Option<Interval> {
        if self.days().len() < LEAST_DAYS || self.first.len() < LEAST_READINGS {
            return None;
        }
        let fit = line_with_intercept(&self.second, &self.first, &self.days)?;
        Some(Interval::new(fit.slope, fit.slope_low, fit.slope_high))
    }

    /// The second beside the first.
    fn swapped(&self) -> Readings {
        Readings {
            first: self.second.clone(),
            second: self.first.clone(),
            days: self.days.clone(),
        }
    }

    /// Evenly thinned to what a slope needs.
    fn thinned(&self) -> Readings {
        let keep = self.first.len().div_ceil(MOST_READINGS).max(1);
        let thin = |values: &[f64]| values.iter().copied().step_by(keep).collect();
        Readings {
            first: thin(&self.first),
            second: thin(&self.second),
            days: self.days.iter().copied().step_by(keep).collect(),
        }
    }

    /// What the first shows where the second shows nothing.
    fn rest_at_nothing(&self) -> Option<f64> {
        line_with_intercept(&self.second, &self.first, &self.days).map(|fit| fit.intercept)
    }

    /// The ratio where both meters scatter: the true one lies between the slope of the first on the
    /// second and the inverse of the slope of the second on the first.
    fn ratio(&self) -> Option<Interval> {
        let (one, other) = (self.slope()?, self.swapped().slope()?);
        if other.low <= 0.0 {
            return None;
        }
        Some(Interval::new(
            (one.value / other.value).sqrt(),
            one.low.min(1.0 / other.high),
            one.high.max(1.0 / other.low),
        ))
    }
}
