//! Rows column by column, and the second pass that makes them from a file.

use std::io;

use super::batch::{Batch, Want};
use super::inspection::Refused;
use super::lost::Lost;
use super::pass;
use super::survey::Survey;
use super::uses::Use;
use super::watch::Hands;

/// Refused rows kept with line and reason.
const KEPT: usize = 100;
/// Rows sharing a stamp held back at most.
const GROUP: usize = 100_000;

/// What the second pass counts in a file.
#[derive(Debug, Default, Clone)]
pub(crate) struct Tally {
    pub(crate) used: u64,
    pub(crate) repaired: u64,
    pub(crate) merged: u64,
    /// Rows at instants for which another file has other values.
    pub(crate) apart: u64,
    pub(crate) refused: u64,
    pub(crate) kept: Vec<Refused>,
    pub(crate) by_why: std::collections::BTreeMap<String, u64>,
}

impl Tally {
    fn refuse(&mut self, line: u64, why: &str) {
        self.refused += 1;
        if self.kept.len() < KEPT {
            self.kept.push(Refused {
                line,
                why: why.to_owned(),
            });
        }
        match self.by_why.get_mut(why) {
            Some(count) => *count += 1,
            None => {
                self.by_why.insert(why.to_owned(), 1);
            }
        }
    }

    /// Counts the rows of a batch, all of them used.
    pub(crate) fn take(&mut self, batch: &Batch) {
        for (line, why) in &batch.refused {
            self.refuse(*line, why);
        }
        let rows = &batch.rows;
        self.count(rows.at.len() as u64, rows.repaired.len() as u64);
    }

    fn count(&mut self, rows: u64, repaired: u64) {
        self.used += rows - repaired;
        self.repaired += repaired;
    }

    /// So many rows counted before repeat some of another file: as they stood, and repaired.
    pub(crate) fn merge(&mut self, used: u64, repaired: u64) {
        self.merged += used + repaired;
        self.used -= used;
        self.repaired -= repaired;
    }
}

/// Rows of one file, column by column.
#[derive(Debug, Default, Clone)]
pub(crate) struct Columns {
    /// Instants.
    pub(crate) at: Vec<f64>,
    /// Values by use: roles, then the load terminals' voltage where there is one; NaN for none.
    pub(crate) values: Vec<Vec<f64>>,
    /// Places of rows that were repaired.
    pub(crate) repaired: Vec<u32>,
}

impl Columns {
    /// No rows of so many values.
    pub(crate) fn of(width: usize) -> Self {
        Self {
            values: vec![Vec::new(); width],
            ..Self::default()
        }
    }

    pub(crate) fn clear(&mut self) {
        self.at.clear();
        self.repaired.clear();
        self.values.iter_mut().for_each(Vec::clear);
    }

    pub(crate) fn push(&mut self, at: f64, repaired: bool, values: impl Iterator<Item = f64>) {
        if repaired {
            self.repaired.push(self.at.len() as u32);
        }
        self.at.push(at);
        for (column, value) in self.values.iter_mut().zip(values) {
            column.push(value);
        }
    }

    pub(crate) fn row(&self, row: usize) -> impl Iterator<Item = f64> {
        self.values.iter().map(move |column| column[row])
    }
}

/// Takes rows of a file, in the file's order.
pub(crate) type Take<'a> = &'a mut dyn FnMut(&Columns) -> io::Result<()>;

/// The values of a file's rows: its roles, then the load terminals' voltage where there is one.
pub(crate) fn uses(file: &Survey) -> Vec<Use> {
    let roles = &file.roles;
    roles
        .uses
        .iter()
        .chain(&roles.load_volts)
        .cloned()
        .collect()
}

/// One pass over a file: evaluates roles, counts, spreads rows that share a stamp.
///
/// # Errors
/// When the file cannot be opened, or whatever `take` fails with.
pub(crate) fn of(file: &Survey, hands: Hands, tally: &mut Tally, take: Take) -> io::Result<()> {
    let uses = uses(file);
    let want = Want {
        uses: &uses,
        facts: &[],
        shape: None,
        evidence: None,
        lost: &Lost::of(&file.roles),
        missing: &file.missing,
        lines: !file.clock_off.is_empty(),
    };
    let mut timed = 0;
    let mut held = file.spread.map(|over| Held::new(over, uses.len()));
    pass::over(
        &file.source,
        None,
        file.choice(),
        want,
        hands,
        &mut |batch| {
            let rows = kept(file, batch, timed, tally);
            timed += batch.rows.at.len() as u64;
            let rows = rows.as_ref().unwrap_or(&batch.rows);
            match &mut held {
                None => take(rows),
                Some(held) => held.take(rows, take),
            }
        },
    )?;
    held.map_or(Ok(()), |mut held| held.end(take))
}

/// Counts the rows of a batch; gives those left where some had a clock that was far off.
fn kept(file: &Survey, batch: &Batch, timed: u64, tally: &mut Tally) -> Option<Columns> {
    let rows = &batch.rows;
    if file.clock_off.is_empty() {
        tally.take(batch);
        return None;
    }
    let mut left = Columns::of(rows.values.len());
    let mut refused = batch.refused.clone();
    for row in 0..rows.at.len() {
        let ordinal = timed + row as u64;
        let is_off = |r: &(u64, u64)| ordinal >= r.0 && ordinal < r.1;
        if file.clock_off.iter().any(is_off) {
            refused.push((batch.lines[row], "clock"));
        } else {
            let repaired = rows.repaired.binary_search(&(row as u32)).is_ok();
            left.push(rows.at[row], repaired, rows.row(row));
        }
    }
    refused.sort_by_key(|r| r.0);
    for (line, why) in refused {
        tally.refuse(line, why);
    }
    tally.count(left.at.len() as u64, left.repaired.len() as u64);
    Some(left)
}

/// Rows with one stamp, waiting to learn how many they are.
struct Held {
    /// Seconds over which they are spread.
    over: f64,
    group: Columns,
    spread: Columns,
}

impl Held {
    fn new(over: f64, width: usize) -> Self {
        Self {
            over,
            group: Columns::of(width),
            spread: Columns::of(width),
        }
    }

    fn take(&mut self, rows: &Columns, take: Take) -> io::Result<()> {
        self.spread.clear();
        for row in 0..rows.at.len() {
            let at = rows.at[row];
            if self.group.at.first() != Some(&at) || self.group.at.len() >= GROUP {
                self.release();
            }
            let repaired = rows.repaired.binary_search(&(row as u32)).is_ok();
            self.group.push(at, repaired, rows.row(row));
        }
        take(&self.spread)
    }

    fn end(&mut self, take: Take) -> io::Result<()> {
        self.spread.clear();
        self.release();
        take(&self.spread)
    }

    fn release(&mut self) {
        let group = &self.group;
        let step = self.over / group.at.len().max(1) as f64;
        for (row, at) in group.at.iter().enumerate() {
            let repaired = group.repaired.binary_search(&(row as u32)).is_ok();
            self.spread
                .push(at + step * row as f64, repaired, group.row(row));
        }
        self.group.clear();
    }
}
