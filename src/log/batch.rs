//! The rows of a block: instants, values by role, and what the block adds to the facts of its columns.

use super::device::{Made, Shape};
use super::digits::Numbers;
use super::lost::Lost;
use super::readings::Columns;
use super::sign::{self, Evidence};
use super::stats::{ColumnStats, SMALLEST_SENTINEL, ends};
use super::uses::{Use, plausible};
use super::value::MISSING;

/// What is wanted of each row.
#[derive(Clone, Copy)]
pub(crate) struct Want<'a> {
    /// Roles to be evaluated.
    pub(crate) uses: &'a [Use],
    /// Columns whose facts are gathered.
    pub(crate) facts: &'a [usize],
    /// Cell texts that mean "no value".
    pub(crate) missing: &'a [String],
    /// Whether the line of each row is wanted.
    pub(crate) lines: bool,
    /// The device rows are to be made ready for.
    pub(crate) shape: Option<&'a Shape>,
    /// What is to be learned of the current's sign, and from which uses.
    pub(crate) evidence: Option<(&'a Evidence, [Option<usize>; 3])>,
    /// Which rows hold no readings at all.
    pub(crate) lost: &'a Lost,
}

/// How the instants of a batch go on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Pace {
    /// Whether none is earlier than the one before.
    pub(crate) sorted: bool,
    /// The step, where all are the same.
    pub(crate) steady: Option<f64>,
    /// The longest step.
    pub(crate) longest: f64,
}

impl Default for Pace {
    fn default() -> Self {
        Self {
            sorted: true,
            steady: None,
            longest: 0.0,
        }
    }
}

impl Pace {
    pub(crate) fn of(at: &[f64]) -> Self {
        let steps = at.windows(2).map(|w| w[1] - w[0]);
        let Some(first) = steps.clone().next() else {
            return Self::default();
        };
        let (mut least, mut most) = (first, first);
        for step in steps {
            least = least.min(step);
            most = most.max(step);
        }
        Self {
            sorted: least >= 0.0,
            steady: (least == most).then_some(first),
            longest: most,
        }
    }
}

/// The rows of a block that have an instant, column by column, and those refused.
#[derive(Debug, Default)]
pub(crate) struct Batch {
    /// Instants and values by use, base units.
    pub(crate) rows: Columns,
    /// Lines of the rows, where they are wanted.
    pub(crate) lines: Vec<u64>,
    /// Lines refused, and why.
    pub(crate) refused: Vec<(u64, &'static str)>,
    /// Facts by wanted column.
    pub(crate) facts: Vec<ColumnStats>,
    /// How the instants go on.
    pub(crate) pace: Pace,
    /// What the rows show of the current's sign.
    pub(crate) evidence: Evidence,
    /// Rows made ready for folding, where that is wanted.
    pub(crate) made: Made,
    /// The line of the last row with an instant; empty where there was none.
    pub(crate) last: Vec<u8>,
    /// Plain numbers by column as the cells show them; NaN for all other cells.
    pub(super) numbers: Vec<Numbers>,
    /// Values of cells that are no plain numbers: use, row, value.
    pub(super) odd: Vec<(u32, u32, f64)>,
}

impl Batch {
    /// Empties the batch for the next block.
    pub(super) fn clear(&mut self, columns: usize, want: &Want) {
        self.rows.clear();
        self.lines.clear();
        self.refused.clear();
        self.last.clear();
        self.odd.clear();
        self.facts.clear();
        self.facts
            .resize_with(want.facts.len(), ColumnStats::default);
        self.numbers.resize_with(columns, Numbers::default);
        self.numbers.iter_mut().for_each(Numbers::clear);
        self.rows.values.resize_with(want.uses.len(), Vec::new);
    }

    /// The row last put in.
    pub(super) fn place(&self) -> u32 {
        self.rows.at.len() as u32 - 1
    }

    /// Turns plain numbers into values and facts, column by column, and looks at all rows together:
    /// those of the block of that number.
    pub(super) fn finish(&mut self, want: &Want, block: u64) {
        for numbers in &mut self.numbers {
            numbers.settle();
        }
        for (column, facts) in want.facts.iter().zip(&mut self.facts) {
            facts.take_all(self.numbers[*column].settled());
        }
        let rows = self.rows.at.len();
        for (found, values) in want.uses.iter().zip(&mut self.rows.values) {
            evaluate(found, &self.numbers, rows, values);
        }
        for (found, row, value) in &self.odd {
            self.rows.values[*found as usize][*row as usize] = *value;
        }
        self.pace = Pace::of(&self.rows.at);
        if let Some((evidence, looked_at)) = want.evidence {
            self.evidence = evidence.fresh();
            let values = looked_at.map(|place| place.map(|k| &self.rows.values[k]));
            if sign::looks_at(block) {
                self.evidence.take(&self.rows.at, values);
            } else {
                self.evidence.pass_over();
            }
        }
        want.lost.clear(&mut self.rows);
    }
}

/// The values of a role from plain numbers: as [`super::value::of`] reckons them.
fn evaluate(found: &Use, numbers: &[Numbers], rows: usize, values: &mut Vec<f64>) {
    values.clear();
    let (low, high) = plausible(found.role);
    let is_reading = |number: f64| {
        number.abs() < SMALLEST_SENTINEL
            || (number != MISSING && !found.sentinels.contains(&number))
    };
    let known = |number: f64| {
        if is_reading(number) { number } else { f64::NAN }
    };
    let real = |value: f64| {
        if value >= low && value <= high {
            value
        } else {
            f64::NAN
        }
    };
    match found.parts[..] {
        _ if found.is_worded() => values.resize(rows, f64::NAN),
        [(column, factor)] => {
            let numbers = numbers[column].settled();
            let value = |number: f64| found.offset + number * factor;
            let (least, most) = ends(numbers);
            // Where the ends are readings and plausible, all between them are.
            let plain = -SMALLEST_SENTINEL < least
                && most < SMALLEST_SENTINEL
                && [least, most].into_iter().all(|n| !real(value(n)).is_nan());
            if plain {
                values.extend(numbers.iter().map(|n| value(*n)));
            } else {
                values.extend(numbers.iter().map(|n| real(value(known(*n)))));
            }
        }
        _ => values.extend((0..rows).map(|row| {
            let part = |p: &(usize, f64)| known(numbers[p.0].settled()[row]) * p.1;
            real(
                found
                    .parts
                    .iter()
                    .map(part)
                    .fold(found.offset, |a, b| a + b),
            )
        })),
    }
}
