//! Rows into cells of a minute: straight lines between neighbouring rows, split at zero and at cells.

use super::period::{CELL, OUTSIDE, Period};
use super::stats::{ends, sum};
use crate::mapping::Role;

fn time_of(cell: u32) -> f64 {
    (i64::from(cell) * CELL) as f64
}

/// What the rows of a file bring to a cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Cell {
    pub(crate) cell: u32,
    pub(crate) file: u32,
    /// In, out (unit x hours) and covered seconds.
    pub(crate) sums: [f64; 3],
    pub(crate) min: f32,
    pub(crate) max: f32,
}

impl Cell {
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
pub(crate) type Point = (f64, f64, u32);

/// The rows a folder takes: instants, their cells, values.
#[derive(Clone, Copy)]
pub(crate) struct Strip<'a> {
    /// The step from each instant to the next, where all are known to be the same.
    pub(crate) steady: Option<f64>,
    pub(crate) at: &'a [f64],
    pub(crate) cells: &'a [u32],
    pub(crate) values: &'a [f64],
}

impl Strip<'_> {
    fn part(&self, from: usize, to: usize) -> Self {
        Self {
            steady: self.steady,
            at: &self.at[from..to],
            cells: &self.cells[from..to],
            values: &self.values[from..to],
        }
    }

    fn point(&self, row: usize) -> Option<Point> {
        let value = self.values[row];
        value
            .is_finite()
            .then(|| (self.at[row], value, self.cells[row]))
    }
}

/// Cells between two others, and whether these alone count or all but these.
#[derive(Debug, Clone, Copy)]
struct Filter {
    above: u32,
    below: u32,
    inside: bool,
}

impl Filter {
    const NONE: Self = Self {
        above: 0,
        below: 0,
        inside: false,
    };

    fn counts(self, cell: u32) -> bool {
        (cell > self.above && cell < self.below) == self.inside
    }
}

/// The cells that lie wholly within a stretch of rows, of one role, made ahead of the rows before it.
#[derive(Debug, Clone, Default)]
pub(crate) struct Ahead {
    pub(crate) cells: Vec<Cell>,
    /// The last row with a value before the stretch's last cell.
    last: Option<Point>,
}

/// One role of one device while rows are folded in.
#[derive(Debug)]
pub(crate) struct Folder {
    pub(crate) role: Role,
    limit: f64,
    period: Period,
    /// Whether values are a running counter's: what it rose by is spread over the time between rows.
    counts: bool,
    last: Option<Point>,
    open: Cell,
    filter: Filter,
    /// Cells that are done.
    pub(crate) closed: Vec<Cell>,
}

impl Folder {
    /// A folder that bridges no more than `limit` seconds between rows.
    pub(crate) fn new(role: Role, limit: f64, period: Period) -> Self {
        Self {
            role,
            limit,
            period,
            counts: false,
            last: None,
            open: Cell::new(OUTSIDE, 0),
            filter: Filter::NONE,
            closed: Vec::new(),
        }
    }

    /// The same for the readings of a running counter: cells hold the power of its rise. A counter that
    /// falls begins anew, and what it counted meanwhile is not known.
    pub(crate) fn counting(self) -> Self {
        Self {
            counts: true,
            ..self
        }
    }

    /// Takes in rows of a file.
    pub(crate) fn take(&mut self, rows: Strip, file: u32) {
        let mut row = 0;
        while row < rows.at.len() {
            if let Some(point) = rows.point(row) {
                self.point(point, file);
            }
            row = self.run(rows, row + 1, file);
        }
    }

    /// Takes in rows as long as they stay in the cell at hand, as [`Self::point`] would; gives the
    /// first row beyond.
    fn run(&mut self, rows: Strip, from: usize, file: u32) -> usize {
        let Some((mut before, mut old, cell)) = self.last else {
            return from;
        };
        if self.counts || self.open.cell != cell || self.open.file != file || cell == OUTSIDE {
            return from;
        }
        let Cell {
            mut sums,
            mut min,
            mut max,
            ..
        } = self.open;
        if let Some(taken) = self.steady_run(rows, from, (before, old, cell)) {
            return taken;
        }
        let holds = self.role == Role::Stage;
        // Most rows follow each other in the same step: its hours are reckoned once.
        let (mut step, mut hours) = (f64::NAN, f64::NAN);
        let all = rows.at[from..]
            .iter()
            .zip(&rows.cells[from..])
            .zip(&rows.values[from..]);
        let mut taken = 0;
        for ((&at, &here), &value) in all {
            if here != cell {
                break;
            }
            taken += 1;
            if !value.is_finite() {
                continue;
            }
            let seconds = at - before;
            if seconds > 0.0 && seconds <= self.limit {
                let end = if holds { old } else { value };
                if seconds != step {
                    (step, hours) = (seconds, seconds / 3600.0);
                }
                let (plus, minus) = areas(old, end, hours);
                sums[0] += plus;
                sums[1] += minus;
                sums[2] += seconds;
            }
            let single = value as f32;
            min = min.min(single);
            max = max.max(single);
            (before, old) = (at, value);
        }
        self.open = Cell {
            sums,
            min,
            max,
            ..self.open
        };
        self.last = Some((before, old, cell));
        from + taken
    }

    /// [`Self::run`] for rows in steady steps whose values are all known and of one sign, as those
    /// of most signals are; `None` for others.
    fn steady_run(&mut self, rows: Strip, from: usize, last: Point) -> Option<usize> {
        let (before, old, cell) = last;
        let step = rows.steady.filter(|s| *s > 0.0 && *s <= self.limit)?;
        if self.role == Role::Stage || rows.at.get(from)? - before != step {
            return None;
        }
        let count = rows.cells[from..].iter().position(|c| *c != cell);
        let to = count.map_or(rows.at.len(), |count| from + count);
        let values = &rows.values[from..to];
        let (least, most) = ends(values);
        let last = *values.last()?;
        // A run of zeros counts as above; one that mixes zeros and negative values is of one sign
        // too, and rare enough to be left to the other way.
        let (side, sign) = if least >= 0.0 && old >= 0.0 {
            (0, 1.0)
        } else if most < 0.0 && old < 0.0 {
            (1, -1.0)
        } else {
            return None;
        };
        // Trapezoids side by side: each value counts whole, the two at the ends half. Not finite
        // where one of them is unknown.
        let area = (sum(values) + (old - last) / 2.0) * (step / 3600.0);
        if !area.is_finite() {
            return None;
        }
        self.open.sums[side] += sign * area;
        self.open.sums[2] += step * values.len() as f64;
        self.open.min = self.open.min.min(least as f32);
        self.open.max = self.open.max.max(most as f32);
        self.last = Some((rows.at[to - 1], last, cell));
        Some(to)
    }

    /// Makes the cells strictly between the first and the last row's, of rows in order of time.
    pub(crate) fn ahead(&mut self, rows: Strip, into: &mut Ahead) {
        let (Some(first), Some(last)) = (rows.cells.first(), rows.cells.last()) else {
            return;
        };
        self.filter = Filter {
            above: *first,
            below: *last,
            inside: true,
        };
        self.last = None;
        self.open = Cell::new(OUTSIDE, 0);
        let tail = rows.cells.partition_point(|cell| cell < last);
        std::mem::swap(&mut self.closed, &mut into.cells);
        self.closed.clear();
        self.take(rows.part(0, tail), 0);
        into.last = self.last;
        // The line into the last cell has parts in the cells before it.
        if let Some(point) = (tail..rows.at.len()).find_map(|row| rows.point(row)) {
            self.point(point, 0);
        }
        self.close();
        std::mem::swap(&mut self.closed, &mut into.cells);
    }

    /// Takes in rows of a file in order of time whose inner cells were made ahead.
    pub(crate) fn take_with(&mut self, rows: Strip, ahead: &Ahead, file: u32) {
        let valued = |from: usize| (from..rows.at.len()).find_map(|k| Some((k, rows.point(k)?)));
        let Some((_, first)) = valued(0) else { return };
        let last = (0..rows.at.len()).rev().find_map(|row| rows.point(row));
        let last_cell = last.map_or(first.2, |last| last.2);
        if rows.cells.first() != Some(&first.2) || rows.cells.last() != Some(&last_cell) {
            // A line from rows before these or to rows after them runs through cells made ahead.
            self.take(rows, file);
            return;
        }
        self.filter = Filter {
            above: first.2,
            below: last_cell,
            inside: false,
        };
        let beyond = rows.cells.partition_point(|cell| *cell <= first.2);
        self.take(rows.part(0, beyond), file);
        if let Some((head, point)) = valued(beyond) {
            self.point(point, file);
            let inner = point.2 < last_cell;
            if inner {
                self.close();
            }
            let made = ahead.cells.iter().map(|cell| Cell { file, ..*cell });
            self.closed.extend(made);
            let rest = if inner {
                self.last = ahead.last.or(self.last);
                rows.cells.partition_point(|cell| *cell < last_cell)
            } else {
                head + 1
            };
            self.take(rows.part(rest, rows.at.len()), file);
        }
        self.filter = Filter::NONE;
    }

    #[inline]
    fn point(&mut self, now: Point, file: u32) {
        if self.counts {
            self.rise(now, file);
            return;
        }
        let (at, value, cell) = now;
        if let Some(last) = self.last
            && at > last.0
            && at - last.0 <= self.limit
        {
            // A stage holds until it changes.
            let end = if self.role == Role::Stage {
                last.1
            } else {
                value
            };
            // Most rows of a fine log stay in the cell of the row before.
            if cell == last.2 && cell != OUTSIDE {
                self.piece(cell, last.1, end, at - last.0, file);
            } else {
                self.line(last, (at, end, cell), file);
            }
        }
        if cell != OUTSIDE
            && let Some(open) = self.opened(cell, file)
        {
            let single = value as f32;
            open.min = open.min.min(single);
            open.max = open.max.max(single);
        }
        self.last = Some(now);
    }

    /// What a counter rose by since the row before.
    fn rise(&mut self, now: Point, file: u32) {
        let (at, value, cell) = now;
        if let Some((before, old, cell_before)) = self.last
            && at > before
            && at - before <= self.limit
            && value >= old
        {
            let power = (value - old) * 3600.0 / (at - before);
            self.line((before, power, cell_before), (at, power, cell), file);
            if cell != OUTSIDE
                && let Some(open) = self.opened(cell, file)
            {
                open.min = open.min.min(power as f32);
                open.max = open.max.max(power as f32);
            }
        }
        self.last = Some(now);
    }

    /// The line from one row to the next, cell by cell, cut to the period.
    fn line(&mut self, (from, a, _): Point, (to, b, _): Point, file: u32) {
        let slope = (b - a) / (to - from);
        let end = to.min(self.period.high);
        let mut at = from.max(self.period.low).max(0.0);
        while at < end {
            let cell = self.period.cell(at);
            if cell == OUTSIDE {
                return;
            }
            let next = time_of(cell + 1).min(end);
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
            self.piece(cell, left, right, next - at, file);
            at = next;
        }
    }

    /// A straight piece inside one cell.
    #[inline]
    fn piece(&mut self, cell: u32, a: f64, b: f64, seconds: f64, file: u32) {
        let (plus, minus) = areas(a, b, seconds / 3600.0);
        if let Some(open) = self.opened(cell, file) {
            open.sums[0] += plus;
            open.sums[1] += minus;
            open.sums[2] += seconds;
        }
    }

    /// The cell at hand, after the one before is closed; `None` for cells that do not count.
    #[inline]
    fn opened(&mut self, cell: u32, file: u32) -> Option<&mut Cell> {
        if cell != self.open.cell || file != self.open.file {
            if !self.filter.counts(cell) {
                return None;
            }
            self.close();
            self.open = Cell::new(cell, file);
        }
        Some(&mut self.open)
    }

    /// Ends the cell at hand.
    pub(crate) fn close(&mut self) {
        if self.open.cell != OUTSIDE {
            self.closed.push(self.open);
            self.open = Cell::new(OUTSIDE, 0);
        }
    }
}

/// Areas above and below zero of a straight line from `a` to `b` over `hours`.
#[inline]
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
    use proptest::prelude::*;

    const EVER: Period = Period {
        low: f64::NEG_INFINITY,
        high: f64::INFINITY,
    };

    fn folded(at: &[f64], values: &[f64], limit: f64) -> Vec<Cell> {
        let mut folder = Folder::new(Role::BatteryPower, limit, EVER);
        let cells: Vec<u32> = at.iter().map(|at| EVER.cell(*at)).collect();
        let strip = Strip {
            steady: None,
            at,
            cells: &cells,
            values,
        };
        folder.take(strip, 0);
        folder.close();
        folder.closed
    }

    #[test]
    fn a_line_through_zero_has_two_areas() {
        let (plus, minus) = areas(3.0, -1.0, 1.0);
        assert!((plus - 1.125).abs() < 1e-12 && (minus - 0.125).abs() < 1e-12);
    }

    #[test]
    fn cells_add_up_to_the_trapezoid_and_gaps_are_not_covered() {
        let at = [0.0, 600.0, 700.0, 7_200.0];
        let cells = folded(&at, &[10.0, 20.0, -20.0, 5.0], 1_000.0);
        let sum = |k: usize| cells.iter().map(|c| c.sums[k]).sum::<f64>();
        assert!((sum(0) - (15.0 * 600.0 + 10.0 * 50.0) / 3600.0).abs() < 1e-9);
        assert!((sum(1) - 10.0 * 50.0 / 3600.0).abs() < 1e-9);
        assert!((sum(2) - 700.0).abs() < 1e-6);
    }

    proptest! {
        /// Rows a few seconds apart, some without a value, most of one sign.
        #[test]
        fn rows_in_steady_steps_make_the_same_cells(
            values in prop::collection::vec(
                prop_oneof![5 => 0.0_f64..9.0, 2 => -9.0_f64..0.0, 1 => Just(0.0), 1 => Just(f64::NAN)],
                1..300,
            ),
            step in 1_u32..40,
            mirrored: bool,
        ) {
            let sign = if mirrored { -1.0 } else { 1.0 };
            let values: Vec<f64> = values.into_iter().map(|v| v * sign).collect();
            let step = f64::from(step);
            let at: Vec<f64> = (0..values.len()).map(|k| 1e9 + k as f64 * step).collect();
            let cells: Vec<u32> = at.iter().map(|at| EVER.cell(*at)).collect();
            let steady = Some(step).filter(|_| at.len() > 1);
            let mut folder = Folder::new(Role::BatteryPower, 90.0, EVER);
            folder.take(Strip { steady, at: &at, cells: &cells, values: &values }, 0);
            folder.close();
            let one_by_one = folded(&at, &values, 90.0);
            prop_assert_eq!(folder.closed.len(), one_by_one.len());
            for (mine, other) in folder.closed.iter().zip(&one_by_one) {
                let ends = |c: &Cell| (c.cell, c.min, c.max);
                prop_assert_eq!(ends(mine), ends(other));
                for (mine, other) in mine.sums.iter().zip(other.sums) {
                    prop_assert!((mine - other).abs() <= 1e-12 * (1.0 + other.abs()));
                }
            }
        }

        /// Steps of 0 to 3 minutes, a third of the values missing, stretches cut anywhere.
        #[test]
        fn cells_made_ahead_are_those_made_row_by_row(
            rows in prop::collection::vec((0_u32..180, prop::option::weighted(0.67, -9.0_f64..9.0)), 1..80),
            cuts in prop::collection::vec(0_usize..80, 0..4),
            limit in 60.0_f64..400.0,
        ) {
            let mut now = 1e9;
            let at: Vec<f64> = rows.iter().map(|r| { now += f64::from(r.0); now }).collect();
            let values: Vec<f64> = rows.iter().map(|r| r.1.unwrap_or(f64::NAN)).collect();
            let cells: Vec<u32> = at.iter().map(|at| EVER.cell(*at)).collect();
            let all = Strip { steady: None, at: &at, cells: &cells, values: &values };
            let mut ends: Vec<usize> = cuts.iter().map(|c| c % at.len()).chain([at.len()]).collect();
            ends.sort_unstable();
            let mut whole = Folder::new(Role::BatteryPower, limit, EVER);
            let mut maker = Folder::new(Role::BatteryPower, limit, EVER);
            let mut from = 0;
            for to in ends {
                let part = all.part(from, to);
                let mut ahead = Ahead::default();
                maker.ahead(part, &mut ahead);
                whole.take_with(part, &ahead, 0);
                from = to;
            }
            whole.close();
            prop_assert_eq!(whole.closed, folded(&at, &values, limit));
        }
    }
}
