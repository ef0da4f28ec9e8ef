//! Rows into bins: straight lines between neighbouring rows, split at zero, at bins and at midnights.

use std::collections::BTreeMap;

use chrono::NaiveDate;

use crate::calendar::Calendar;
use crate::mapping::Role;
use crate::timeline::Series;

/// Seconds in a cell, in which sums are made before they go into bins, so that bins of any width hold
/// sums made in the same steps.
const CELL: i64 = 60;
/// The cell of instants outside the grid.
pub(crate) const OUTSIDE: u32 = u32::MAX;

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

    /// Cells in a bin.
    fn cells_in_bin(&self) -> u32 {
        (self.bin_s / CELL) as u32
    }

    /// Where a cell begins.
    fn time_of(&self, cell: u32) -> f64 {
        (self.start + i64::from(cell) * CELL) as f64
    }

    /// The cell of an instant inside the grid and its period; [`OUTSIDE`] for others.
    pub(crate) fn cell(&self, at: f64) -> u32 {
        if at < self.low || at > self.high {
            return OUTSIDE;
        }
        // Not before the grid's start, so cutting off the fraction rounds down.
        let cell = ((at - self.start as f64) / CELL as f64) as u32;
        if ((cell / self.cells_in_bin()) as usize) < self.bins {
            cell
        } else {
            OUTSIDE
        }
    }
}

/// In, out and covered seconds.
type Sums = [f64; 3];

/// What rows have brought to the cell at hand.
#[derive(Debug, Clone, Copy)]
struct Open {
    cell: u32,
    file: u32,
    sums: Sums,
    min: f32,
    max: f32,
}

impl Open {
    fn new(cell: u32, file: u32) -> Self {
        Self {
            cell,
            file,
            sums: [0.0; 3],
            min: f32::INFINITY,
            max: f32::NEG_INFINITY,
        }
    }
}

/// A row with a value: instant, value, cell.
type Point = (f64, f64, u32);

/// One role of one device while rows are folded in.
#[derive(Debug)]
pub(crate) struct Folder {
    pub(crate) role: Role,
    pub(crate) series: Series,
    /// Sums by file and day.
    pub(crate) sums: BTreeMap<(u32, u32), Sums>,
    limit: f64,
    last: Option<Point>,
    open: Open,
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
            open: Open::new(OUTSIDE, 0),
            now: ((u32::MAX, u32::MAX), [0.0; 3]),
        }
    }

    /// Takes in the values of a file's rows; `cells` are those of their instants.
    pub(crate) fn take(
        &mut self,
        at: &[f64],
        cells: &[u32],
        values: &[f64],
        file: u32,
        grid: &Grid,
    ) {
        for ((at, cell), value) in at.iter().zip(cells).zip(values) {
            if value.is_finite() {
                self.point((*at, *value, *cell), file, grid);
            }
        }
    }

    #[inline]
    fn point(&mut self, now: Point, file: u32, grid: &Grid) {
        let (at, value, cell) = now;
        if let Some(last) = self.last
            && at > last.0
            && at - last.0 <= self.limit
        {
            // A stage holds until it changes.
            let end = if self.role == Role::Stage { last.1 } else { value };
            // Most rows of a fine log stay in the cell of the row before.
            if cell == last.2 && cell != OUTSIDE {
                self.piece(cell, last.1, end, at - last.0, file, grid);
            } else {
                self.line(last, (at, end, cell), file, grid);
            }
        }
        if cell != OUTSIDE {
            let open = self.opened(cell, file, grid);
            let single = value as f32;
            open.min = open.min.min(single);
            open.max = open.max.max(single);
        }
        self.last = Some(now);
    }

    /// The line from one row to the next, cell by cell, cut to the grid's period.
    fn line(&mut self, (from, a, _): Point, (to, b, _): Point, file: u32, grid: &Grid) {
        let slope = (b - a) / (to - from);
        let begin = from.max(grid.low);
        let end = to.min(grid.high);
        let mut at = begin;
        while at < end {
            let cell = grid.cell(at);
            if cell == OUTSIDE {
                return;
            }
            let next = grid.time_of(cell + 1).min(end);
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
            self.piece(cell, left, right, next - at, file, grid);
            at = next;
        }
    }

    /// A straight piece inside one cell.
    #[inline]
    fn piece(&mut self, cell: u32, a: f64, b: f64, seconds: f64, file: u32, grid: &Grid) {
        let (plus, minus) = areas(a, b, seconds / 3600.0);
        let sums = &mut self.opened(cell, file, grid).sums;
        sums[0] += plus;
        sums[1] += minus;
        sums[2] += seconds;
    }

    /// The cell at hand, after the one before is closed.
    #[inline]
    fn opened(&mut self, cell: u32, file: u32, grid: &Grid) -> &mut Open {
        if cell != self.open.cell || file != self.open.file {
            self.close(grid);
            self.open = Open::new(cell, file);
        }
        &mut self.open
    }

    /// Adds the cell at hand to its bin and its day.
    fn close(&mut self, grid: &Grid) {
        let Open {
            cell,
            file,
            sums,
            min,
            max,
        } = self.open;
        if cell == OUTSIDE {
            return;
        }
        let bin = (cell / grid.cells_in_bin()) as usize;
        let series = &mut self.series;
        // What is 0 stays unwritten: memory never touched costs nothing.
        for (all, new) in [(&mut series.in_h, sums[0]), (&mut series.out_h, sums[1])] {
            if new != 0.0 {
                all[bin] += new;
            }
        }
        series.covered_s[bin] += sums[2] as f32;
        series.min[bin] = series.min[bin].min(min);
        series.max[bin] = series.max[bin].max(max);
        let key = (file, grid.day_of[bin]);
        if sums[2] > 0.0 && self.now.0 != key {
            self.end_day();
            self.now.0 = key;
        }
        for (sum, new) in self.now.1.iter_mut().zip(sums) {
            *sum += new;
        }
    }

    fn end_day(&mut self) {
        if self.now.0.0 != u32::MAX {
            let sums = self.sums.entry(self.now.0).or_insert([0.0; 3]);
            for (sum, new) in sums.iter_mut().zip(self.now.1) {
                *sum += new;
            }
        }
        self.now.1 = [0.0; 3];
    }

    /// Writes the running sums down.
    pub(crate) fn flush(&mut self, grid: &Grid) {
        self.close(grid);
        self.open = Open::new(OUTSIDE, 0);
        self.end_day();
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
        let at = [0.0, 600.0, 700.0, 7_200.0];
        let cells = at.map(|at| grid.cell(at));
        folder.take(&at, &cells, &[10.0, 20.0, -20.0, 5.0], 0, &grid);
        folder.flush(&grid);
        let plus: f64 = folder.series.in_h.iter().sum();
        let minus: f64 = folder.series.out_h.iter().sum();
        assert!((plus - (15.0 * 600.0 + 10.0 * 50.0) / 3600.0).abs() < 1e-9);
        assert!((minus - 10.0 * 50.0 / 3600.0).abs() < 1e-9);
        assert!((folder.series.covered_h() - 700.0 / 3600.0).abs() < 1e-6);
    }
}
