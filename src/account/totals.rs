//! Days known by their totals alone: taken as they stand, never integrated, never judged.

use crate::account::Attribution;
use crate::expect::Expectation;
use crate::log::DayTotal;
use crate::quantity::Interval;

/// The totals of the days on which no power was read, by day of the grid.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Totals {
    days: Vec<Option<DayTotal>>,
}

impl Totals {
    /// Sets totals beside the days of the grid. A day with powers of its own keeps to those.
    pub fn new(expected: &Expectation, given: &[DayTotal]) -> Self {
        let grid = &expected.grid;
        let days = (0..grid.dates.len())
            .map(|day| {
                let read = grid
                    .day(day)
                    .any(|m| expected.signals.harvest_coverage(m) > 0.0);
                given
                    .iter()
                    .find(|total| !read && total.date == grid.dates[day])
                    .cloned()
            })
            .collect();
        Self { days }
    }

    /// What was totalled of a day of the grid.
    pub fn of(&self, day: usize) -> Option<&DayTotal> {
        self.days.get(day)?.as_ref()
    }

    /// Enters the totalled harvest into the attribution: what the sky offered beyond it stays unmeasured.
    ///
    /// Only sums over the day mean anything; within it the harvest lies as the offer does.
    pub fn carry(&self, expected: &Expectation, attribution: &mut Attribution) {
        for day in 0..self.days.len() {
            let Some(harvest_wh) = self.of(day).and_then(|total| total.harvest_wh) else {
                continue;
            };
            let moments = expected.grid.day(day);
            let offered: f64 = moments.clone().map(|m| attribution.offered[m].value).sum();
            for m in moments.clone() {
                let share = if offered > 0.0 {
                    attribution.offered[m].value / offered
                } else {
                    1.0 / moments.len() as f64
                };
                let harvest = harvest_wh * share;
                attribution.harvest.set(m, harvest);
                let left = |wh: f64| (wh - harvest).max(0.0);
                let gap = attribution.unmeasured[m];
                let gap = Interval::new(left(gap.value), left(gap.low), left(gap.high));
                attribution.unmeasured.set(m, gap);
            }
        }
    }
}
