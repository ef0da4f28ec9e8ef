//! Files of one device into one stream of rows by time, in bounded memory.

use std::cmp::Ordering;
use std::collections::BinaryHeap;
use std::io::{self, BufReader, BufWriter, Read, Seek, SeekFrom, Write};

use super::inspection::Refused;
use super::lost::Lost;
use super::rows::Outcome;
use super::survey::Survey;
use super::value;

/// Rows sorted in memory at once; more are sorted in runs on disk.
const RUN: usize = 1 << 19;
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
}

/// Receives rows in order: instant, index of the file in the device, values by role.
pub(crate) trait Sink {
    fn row(&mut self, at: f64, file: u32, values: &[f64]);
}

/// Streams the rows of a device's files, sorted by time, repeats across files merged.
///
/// # Errors
/// When a file or a run on disk cannot be read or written.
pub(crate) fn stream(files: &[&Survey], sink: &mut dyn Sink) -> io::Result<Vec<Tally>> {
    let mut order: Vec<usize> = (0..files.len()).collect();
    order.sort_by(|a, b| files[*a].first.total_cmp(&files[*b].first));
    let apart = order
        .windows(2)
        .all(|w| files[w[1]].first > files[w[0]].last + 60.0);
    let simple = apart && files.iter().all(|f| f.sorted);
    let mut tallies = vec![Tally::default(); files.len()];
    let width = files.first().map_or(0, |f| f.roles.uses.len() + 1);
    if simple {
        for k in order {
            let mut emit = |at: f64, _repaired: bool, values: &[f64]| -> io::Result<()> {
                sink.row(at, k as u32, values);
                Ok(())
            };
            pass(files[k], &mut tallies[k], &mut emit)?;
        }
        return Ok(tallies);
    }
    let mut sorter = Sorter::new(width, RUN);
    for (k, file) in files.iter().enumerate() {
        let mut emit = |at: f64, repaired: bool, values: &[f64]| {
            sorter.push(at, (k as u32) << 1 | u32::from(repaired), values)
        };
        pass(file, &mut tallies[k], &mut emit)?;
    }
    let mut repeats = Repeats::default();
    sorter.finish(&mut |at, tag, values| {
        let file = tag >> 1;
        if repeats.is_repeat(at, file, values) {
            let tally = &mut tallies[file as usize];
            tally.merged += 1;
            if tag & 1 == 1 {
                tally.repaired -= 1;
            } else {
                tally.used -= 1;
            }
            return;
        }
        sink.row(at, file, values);
    })?;
    Ok(tallies)
}

/// Takes a row: instant, whether it was repaired, values.
type Emit<'a> = &'a mut dyn FnMut(f64, bool, &[f64]) -> io::Result<()>;

/// One pass over a file: evaluates roles, counts, spreads rows that share a stamp.
fn pass(file: &Survey, tally: &mut Tally, emit: Emit) -> io::Result<()> {
    let mut rows = file.open()?;
    let width = file.roles.uses.len() + 1;
    let mut values = vec![f64::NAN; width];
    let mut held = Held::default();
    let lost = Lost::of(&file.roles);
    while let Some(outcome) = rows.advance() {
        let (at, repaired) = match outcome {
            Outcome::Refused(why) => {
                tally.refuse(rows.line_number(), why);
                continue;
            }
            Outcome::At(at, repaired) => (at, repaired),
        };
        let ordinal = rows.timed - 1;
        if file
            .clock_off
            .iter()
            .any(|r| ordinal >= r.0 && ordinal < r.1)
        {
            tally.refuse(rows.line_number(), "clock");
            continue;
        }
        if repaired {
            tally.repaired += 1;
        } else {
            tally.used += 1;
        }
        for (found, value) in file.roles.uses.iter().zip(&mut values) {
            *value = value::of(found, &rows, file.layout.decimal, &file.missing);
        }
        values[width - 1] = file.roles.load_volts.as_ref().map_or(f64::NAN, |v| {
            value::of(v, &rows, file.layout.decimal, &file.missing)
        });
        lost.clear(&mut values);
        match file.spread {
            None => emit(at, repaired, &values)?,
            Some(over) => {
                if held.at != Some(at) || held.flags.len() >= GROUP {
                    held.release(over, width, emit)?;
                    held.at = Some(at);
                }
                held.flags.push(repaired);
                held.values.extend_from_slice(&values);
            }
        }
    }
    match file.spread {
        Some(over) => held.release(over, width, emit),
        None => Ok(()),
    }
}

/// Rows with one stamp, waiting to learn how many they are.
#[derive(Debug, Default)]
struct Held {
    at: Option<f64>,
    flags: Vec<bool>,
    values: Vec<f64>,
}

impl Held {
    fn release(&mut self, over: f64, width: usize, emit: Emit) -> io::Result<()> {
        let step = over / self.flags.len().max(1) as f64;
        let at = self.at.unwrap_or(0.0);
        for (k, (flag, values)) in self
            .flags
            .iter()
            .zip(self.values.chunks_exact(width))
            .enumerate()
        {
            emit(at + step * k as f64, *flag, values)?;
        }
        self.flags.clear();
        self.values.clear();
        Ok(())
    }
}

/// Finds rows another file has already given.
#[derive(Debug, Default)]
struct Repeats {
    at: f64,
    seen: Vec<(u32, Vec<f64>)>,
}

impl Repeats {
    fn is_repeat(&mut self, at: f64, file: u32, values: &[f64]) -> bool {
        if at != self.at {
            self.at = at;
            self.seen.clear();
        }
        let same = |a: &f64, b: &f64| a.to_bits() == b.to_bits() || (a.is_nan() && b.is_nan());
        let repeat = self
            .seen
            .iter()
            .any(|(f, v)| *f != file && v.iter().zip(values).all(|(a, b)| same(a, b)));
        if !repeat && self.seen.len() < 64 {
            self.seen.push((file, values.to_vec()));
        }
        repeat
    }
}

/// A row on its way through the sorter: instant, tag, place in the order of arrival, values.
#[derive(Debug, Clone)]
struct Entry {
    at: f64,
    order: u64,
    tag: u32,
    values: Vec<f64>,
}

/// Sorts rows by time, stably, spilling sorted runs to a temporary file.
struct Sorter {
    width: usize,
    run: usize,
    keys: Vec<(f64, u32, u32)>,
    values: Vec<f64>,
    runs: Vec<(std::fs::File, u64)>,
}

impl Sorter {
    fn new(width: usize, run: usize) -> Self {
        Self {
            width,
            run,
            keys: Vec::new(),
            values: Vec::new(),
            runs: Vec::new(),
        }
    }

    fn push(&mut self, at: f64, tag: u32, values: &[f64]) -> io::Result<()> {
        self.keys.push((at, tag, self.keys.len() as u32));
        self.values.extend_from_slice(values);
        if self.keys.len() >= self.run {
            self.spill()
        } else {
            Ok(())
        }
    }

    fn sort(&mut self) {
        self.keys.sort_by(|a, b| a.0.total_cmp(&b.0));
    }

    fn row(&self, index: u32) -> &[f64] {
        &self.values[index as usize * self.width..(index as usize + 1) * self.width]
    }

    fn spill(&mut self) -> io::Result<()> {
        self.sort();
        let mut file = BufWriter::new(tempfile::tempfile()?);
        for &(at, tag, index) in &self.keys {
            file.write_all(&at.to_le_bytes())?;
            file.write_all(&tag.to_le_bytes())?;
            for value in self.row(index) {
                file.write_all(&value.to_le_bytes())?;
            }
        }
        let mut file = file.into_inner().map_err(io::IntoInnerError::into_error)?;
        file.seek(SeekFrom::Start(0))?;
        self.runs.push((file, self.keys.len() as u64));
        self.keys.clear();
        self.values.clear();
        Ok(())
    }

    fn finish(mut self, emit: &mut dyn FnMut(f64, u32, &[f64])) -> io::Result<()> {
        if self.runs.is_empty() {
            self.sort();
            for &(at, tag, index) in &self.keys {
                emit(at, tag, self.row(index));
            }
            return Ok(());
        }
        self.spill()?;
        let width = self.width;
        let mut readers: Vec<(BufReader<std::fs::File>, u64)> = self
            .runs
            .into_iter()
            .map(|r| (BufReader::new(r.0), r.1))
            .collect();
        let mut heap = BinaryHeap::new();
        for (run, reader) in readers.iter_mut().enumerate() {
            heap.extend(next(reader, width, run as u64)?);
        }
        while let Some(Ahead(entry)) = heap.pop() {
            emit(entry.at, entry.tag, &entry.values);
            heap.extend(next(
                &mut readers[entry.order as usize],
                width,
                entry.order,
            )?);
        }
        Ok(())
    }
}

fn next(
    reader: &mut (BufReader<std::fs::File>, u64),
    width: usize,
    run: u64,
) -> io::Result<Option<Ahead>> {
    if reader.1 == 0 {
        return Ok(None);
    }
    reader.1 -= 1;
    let mut eight = [0_u8; 8];
    let mut four = [0_u8; 4];
    reader.0.read_exact(&mut eight)?;
    let at = f64::from_le_bytes(eight);
    reader.0.read_exact(&mut four)?;
    let tag = u32::from_le_bytes(four);
    let mut values = Vec::with_capacity(width);
    for _ in 0..width {
        reader.0.read_exact(&mut eight)?;
        values.push(f64::from_le_bytes(eight));
    }
    Ok(Some(Ahead(Entry {
        at,
        order: run,
        tag,
        values,
    })))
}

/// The earliest row comes out of the heap first; among equals that of the earlier run.
struct Ahead(Entry);

impl PartialEq for Ahead {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Ahead {}

impl PartialOrd for Ahead {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Ahead {
    fn cmp(&self, other: &Self) -> Ordering {
        other
            .0
            .at
            .total_cmp(&self.0.at)
            .then(other.0.order.cmp(&self.0.order))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn runs_on_disk_sort_like_one_in_memory_and_keep_the_order_of_equals() {
        let sorted = |run: usize| {
            let mut sorter = Sorter::new(1, run);
            for k in 0..100_u32 {
                sorter
                    .push(f64::from(k * 37 % 20), k, &[f64::from(k)])
                    .unwrap();
            }
            let mut out = Vec::new();
            sorter
                .finish(&mut |at, tag, values| out.push((at as i64, tag, values[0] as i64)))
                .unwrap();
            out
        };
        let whole = sorted(1000);
        assert_eq!(sorted(7), whole);
        assert!(
            whole
                .windows(2)
                .all(|w| (w[0].0, w[0].1) < (w[1].0, w[1].1))
        );
    }
}
