//! Rows into bins: straight lines between neighbouring rows, split at zero, at bins and at midnights.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use crate::calendar::Calendar;
use crate::mapping::Role;
use crate::timeline::Series;

/// The grid all channels share, and the local day of each bin.
#[derive(Debug, Clone)]
pub(crate) struct Grid {
    pub(crate) start: i64,
    pub(crate) bin_s: i64,
    pub(crate) bins: usize,
    /// Instants outside are not folded.
    pub(crate) low: f64,
    pub(crate) high: f64,
    /// Day of each bin, as an index into `dates`.
    day_of: Vec<u32>,
    pub(crate) dates: Vec<NaiveDate>,
}

impl Grid {
    /// A grid over `low..=high` (Unix seconds), or up to and without `high` where it is cut there.
    pub(crate) fn over(low: f64, high: f64, cut: bool, calendar: &Calendar) -> Self {
        let bin_s = if high - low <= 62.0 * 86_400.0 {
            60
        } else {
            300
        };
        let start = (low / bin_s as f64).floor() as i64 * bin_s;
        let width = ((high - start as f64) / bin_s as f64).max(0.0);
        let bins = if cut {
            width.ceil().max(1.0)
        } else {
            width.floor() + 1.0
        } as usize;
        let (mut day_of, mut dates) = (Vec::with_capacity(bins), Vec::new());
        let mut ends = i64::MIN;
        for bin in 0..bins {
            let at = start + bin as i64 * bin_s;
            if at >= ends {
                let date = calendar.date(at);
                if dates.last() != Some(&date) {
                    dates.push(date);
                }
                // A change of zone within the day moves its end: never ask further than an hour on.
                ends = calendar
                    .bounds(date)
                    .1
                    .min(at - at.rem_euclid(3600) + 3600)
                    .max(at + bin_s);
            }
            day_of.push(dates.len() as u32 - 1);
        }
        Self {
            start,
            bin_s,
            bins,
            low,
            high,
            day_of,
            dates,
        }
    }

    fn time_of(&self, bin: usize) -> f64 {
        (self.start + bin as i64 * self.bin_s) as f64
    }

    /// The bin of an instant inside the grid and its period.
    pub(crate) fn bin(&self, at: f64) -> Option<usize> {
        if at < self.low || at > self.high {
            return None;
        }
        // Not before the grid's start, so cutting off the fraction rounds down.
        let bin = (at - self.start as f64) as i64 / self.bin_s;
        usize::try_from(bin).ok().filter(|b| *b < self.bins)
    }
}

/// In, out and covered seconds.
type Sums = [f64; 3];

/// One role of one device while rows are folded in.
#[derive(Debug)]
pub(crate) struct Folder {
    pub(crate) role: Role,
    pub(crate) series: Series,
    /// Sums by file and day.
    pub(crate) sums: BTreeMap<(u32, u32), Sums>,
    limit: f64,
    last: Option<(f64, f64)>,
    now: ((u32, u32), Sums),
}

impl Folder {
    pub(crate) fn new(role: Role, bins: usize, limit: f64) -> Self {
        Self {
            role,
            series: Series::empty(bins),
            sums: BTreeMap::new(),
            limit,
            last: None,
            now: ((u32::MAX, u32::MAX), [0.0; 3]),
        }
    }

    /// Takes in a row's value; `bin` is that of its instant.
    pub(crate) fn take(&mut self, at: f64, bin: Option<usize>, value: f64, file: u32, grid: &Grid) {
        if !value.is_finite() {
            return;
        }
        if let Some(bin) = bin {
            let single = value as f32;
            self.series.min[bin] = self.series.min[bin].min(single);
            self.series.max[bin] = self.series.max[bin].max(single);
        }
        if let Some((before, old)) = self.last
            && at > before
            && at - before <= self.limit
        {
            // A stage holds until it changes.
            let end = if self.role == Role::Stage { old } else { value };
            match bin {
                // Most rows of a fine log stay in the bin of the row before.
                Some(bin) if before >= grid.time_of(bin).max(grid.low) => {
                    self.piece(bin, old, end, at - before, file, grid);
                }
                _ => self.line(before, old, at, end, file, grid),
            }
        }
        self.last = Some((at, value));
    }

    /// The line from one row to the next, bin by bin, cut to the grid's period.
    fn line(&mut self, from: f64, a: f64, to: f64, b: f64, file: u32, grid: &Grid) {
        let slope = (b - a) / (to - from);
        let begin = from.max(grid.low);
        let end = to.min(grid.high);
        let mut at = begin;
        while at < end {
            let Some(bin) = grid.bin(at) else { return };
            let edge = grid.time_of(bin + 1);
            let next = edge.min(end);
            let left = if at == from {
                a
            } else {
                a + slope * (at - from)
            };
            let right = if next == to {
                b
            } else {
                a + slope * (next - from)
            };
            self.piece(bin, left, right, next - at, file, grid);
            at = next;
        }
    }

    /// A straight piece inside one bin.
    fn piece(&mut self, bin: usize, a: f64, b: f64, seconds: f64, file: u32, grid: &Grid) {
        let (plus, minus) = areas(a, b, seconds / 3600.0);
        self.series.in_h[bin] += plus;
        self.series.out_h[bin] += minus;
        self.series.covered_s[bin] += seconds as f32;
        let key = (file, grid.day_of[bin]);
        if self.now.0 != key {
            self.flush();
            self.now.0 = key;
        }
        self.now.1[0] += plus;
        self.now.1[1] += minus;
        self.now.1[2] += seconds;
    }

    /// Writes the running sums down.
    pub(crate) fn flush(&mut self) {
        if self.now.0.0 != u32::MAX {
            let sums = self.sums.entry(self.now.0).or_insert([0.0; 3]);
            for (sum, new) in sums.iter_mut().zip(self.now.1) {
                *sum += new;
            }
        }
        self.now.1 = [0.0; 3];
    }
}

/// Areas above and below zero of a straight line from `a` to `b` over `hours`.
fn areas(a: f64, b: f64, hours: f64) -> (f64, f64) {
    if a >= 0.0 && b >= 0.0 {
        ((a + b) / 2.0 * hours, 0.0)
    } else if a <= 0.0 && b <= 0.0 {
        (0.0, -(a + b) / 2.0 * hours)
    } else {
        let first = a / (a - b);
        let one = a * first / 2.0 * hours;
        let other = b * (1.0 - first) / 2.0 * hours;
        if a > 0.0 {
            (one, -other)
        } else {
            (other, -one)
        }
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn a_line_through_zero_has_two_areas() {
        let (plus, minus) = areas(3.0, -1.0, 1.0);
        assert!((plus - 1.125).abs() < 1e-12 && (minus - 0.125).abs() < 1e-12);
    }

    #[test]
    fn bins_add_up_to_the_trapezoid_and_gaps_are_not_covered() {
        let grid = Grid::over(0.0, 7_200.0, false, &Calendar::fixed(chrono_tz::UTC));
        let mut folder = Folder::new(Role::BatteryPower, grid.bins, 1_000.0);
        for (at, value) in [(0.0, 10.0), (600.0, 20.0), (700.0, -20.0), (7_200.0, 5.0)] {
            folder.take(at, grid.bin(at), value, 0, &grid);
        }
        let plus: f64 = folder.series.in_h.iter().sum();
        let minus: f64 = folder.series.out_h.iter().sum();
        assert!((plus - (15.0 * 600.0 + 10.0 * 50.0) / 3600.0).abs() < 1e-9);
        assert!((minus - 10.0 * 50.0 / 3600.0).abs() < 1e-9);
        assert!((folder.series.covered_h() - 700.0 / 3600.0).abs() < 1e-6);
    }
}
