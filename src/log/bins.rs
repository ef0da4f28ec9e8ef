//! Cells into bins of one role, and into sums by file and day. Grows with the period, and makes bins
//! coarser where that gets long.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use super::fold::Cell;
use super::grid::{FINE, Grid, LONG};
use super::period::CELL;
use crate::calendar::Calendar;
use crate::timeline::Series;

/// Cells in a bin of a long log.
const COARSE: u32 = (LONG / CELL) as u32;
/// Cells to which bins are kept fine.
const FINE_CELLS: u32 = (FINE as i64 / CELL) as u32;

/// In, out (unit x hours) and covered seconds by file and local day.
pub(crate) type DaySums = BTreeMap<(u32, NaiveDate), [f64; 3]>;

/// The bins of one role.
#[derive(Debug, Default)]
pub(crate) struct Bins {
    /// First cell of the first bin.
    first: u32,
    /// Cells in a bin.
    width: u32,
    series: Series,
    /// Sums by file and day.
    pub(crate) days: DaySums,
    now: Option<((u32, NaiveDate), [f64; 3])>,
    day: Day,
}

impl Bins {
    /// Adds a cell.
    pub(crate) fn add(&mut self, new: &Cell, calendar: &Calendar) {
        let bin = self.bin_of(new.cell);
        let series = &mut self.series;
        // What is 0 stays unwritten: memory never touched costs nothing.
        for (all, new) in [
            (&mut series.in_h, new.sums[0]),
            (&mut series.out_h, new.sums[1]),
        ] {
            if new != 0.0 {
                all[bin] += new;
            }
        }
        series.covered_s[bin] += new.sums[2] as f32;
        series.min[bin] = series.min[bin].min(new.min);
        series.max[bin] = series.max[bin].max(new.max);
        if new.sums[2] > 0.0 {
            let key = (new.file, self.day.date_of(new.cell, calendar));
            if self.now.is_none_or(|now| now.0 != key) {
                self.end_day();
            }
            let (_, sums) = self.now.get_or_insert((key, [0.0; 3]));
            for (sum, new) in sums.iter_mut().zip(new.sums) {
                *sum += new;
            }
        }
    }

    /// The place of a cell, room made for it.
    fn bin_of(&mut self, cell: u32) -> usize {
        if self.series.min.is_empty() {
            self.width = 1;
            self.first = cell;
        }
        if cell < self.first {
            self.begin_at(cell / self.width * self.width);
        }
        if self.width < COARSE && cell - self.first > FINE_CELLS {
            self.coarsen();
        }
        let bin = ((cell - self.first) / self.width) as usize;
        if bin >= self.series.min.len() {
            resize(&mut self.series, bin + 1);
        }
        bin
    }

    /// Puts empty bins in front.
    fn begin_at(&mut self, first: u32) {
        let more = ((self.first - first) / self.width) as usize;
        let old = std::mem::take(&mut self.series);
        resize(&mut self.series, more + old.min.len());
        for bin in 0..old.min.len() {
            join(&mut self.series, more + bin, &old, bin);
        }
        self.first = first;
        if self.width < COARSE && self.series.min.len() > FINE_CELLS as usize + 1 {
            self.coarsen();
        }
    }

    /// Puts fine bins together.
    fn coarsen(&mut self) {
        let first = self.first / COARSE * COARSE;
        let old = std::mem::take(&mut self.series);
        for bin in 0..old.min.len() {
            let cell = self.first + bin as u32 * self.width;
            let at = ((cell - first) / COARSE) as usize;
            if at >= self.series.min.len() {
                resize(&mut self.series, at + 1);
            }
            join(&mut self.series, at, &old, bin);
        }
        self.first = first;
        self.width = COARSE;
    }

    fn end_day(&mut self) {
        if let Some((key, new)) = self.now.take() {
            let sums = self.days.entry(key).or_insert([0.0; 3]);
            for (sum, new) in sums.iter_mut().zip(new) {
                *sum += new;
            }
        }
    }

    /// The bins on a grid that holds them, and the sums by day.
    pub(crate) fn on(mut self, grid: &Grid) -> (Series, DaySums) {
        self.end_day();
        let width = (grid.bin_s / CELL) as u32;
        if self.width < width && !self.series.min.is_empty() {
            self.coarsen();
        }
        let start = i64::from(self.first) * CELL;
        let bins = self.series.min.len();
        if start == grid.start && bins <= grid.bins {
            resize(&mut self.series, grid.bins);
            shrink(&mut self.series);
            return (self.series, self.days);
        }
        let mut series = Series::empty(grid.bins);
        for bin in 0..bins {
            let at = start + bin as i64 * grid.bin_s - grid.start;
            let place = usize::try_from(at / grid.bin_s).unwrap_or(usize::MAX);
            if at >= 0 && place < grid.bins {
                join(&mut series, place, &self.series, bin);
            }
        }
        (series, self.days)
    }
}

fn resize(series: &mut Series, bins: usize) {
    series.in_h.resize(bins, 0.0);
    series.out_h.resize(bins, 0.0);
    series.covered_s.resize(bins, 0.0);
    series.min.resize(bins, f32::INFINITY);
    series.max.resize(bins, f32::NEG_INFINITY);
}

/// Gives back what was kept ready for more bins.
fn shrink(series: &mut Series) {
    for sums in [&mut series.in_h, &mut series.out_h] {
        sums.shrink_to_fit();
    }
    for small in [&mut series.covered_s, &mut series.min, &mut series.max] {
        small.shrink_to_fit();
    }
}

/// Adds a bin to one of another series.
fn join(series: &mut Series, at: usize, other: &Series, bin: usize) {
    series.in_h[at] += other.in_h[bin];
    series.out_h[at] += other.out_h[bin];
    series.covered_s[at] += other.covered_s[bin];
    series.min[at] = series.min[at].min(other.min[bin]);
    series.max[at] = series.max[at].max(other.max[bin]);
}

/// The local day last looked up.
#[derive(Debug, Default)]
struct Day {
    from: i64,
    to: i64,
    date: NaiveDate,
}

impl Day {
    fn date_of(&mut self, cell: u32, calendar: &Calendar) -> NaiveDate {
        let at = i64::from(cell) * CELL;
        if at < self.from || at >= self.to {
            self.date = calendar.date(at);
            self.from = at;
            // A change of zone within the day moves its end: never ask further than an hour on.
            self.to = calendar
                .bounds(self.date)
                .1
                .min(at - at.rem_euclid(3600) + 3600)
                .max(at + CELL);
        }
        self.date
    }
}
