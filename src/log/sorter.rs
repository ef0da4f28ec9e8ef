//! Sorting by time in bounded memory.

use std::cmp::Ordering;
use std::collections::BinaryHeap;
use std::io::{self, BufReader, BufWriter, Read, Seek, SeekFrom, Write};

use super::readings::Columns;

/// Rows sorted in memory at once; more are sorted in runs on disk.
const RUN: usize = 1 << 19;

/// A row on its way through the sorter: instant, tag, place in the order of arrival, values.
#[derive(Debug, Clone)]
struct Entry {
    at: f64,
    order: u64,
    tag: u32,
    values: Vec<f64>,
}

/// Sorts rows by time, stably, spilling sorted runs to temporary files.
pub(crate) struct Sorter {
    width: usize,
    run: usize,
    keys: Vec<(f64, u32, u32)>,
    values: Vec<f64>,
    runs: Vec<(std::fs::File, u64)>,
}

impl Sorter {
    /// A sorter of rows with so many values.
    pub(crate) fn new(width: usize) -> Self {
        Self::with_runs(width, RUN)
    }

    fn with_runs(width: usize, run: usize) -> Self {
        Self {
            width,
            run,
            keys: Vec::new(),
            values: Vec::new(),
            runs: Vec::new(),
        }
    }

    /// Takes rows of a file. Their tag is twice the file's number, and one more where a row was repaired.
    ///
    /// # Errors
    /// When a run cannot be written.
    pub(crate) fn take(&mut self, file: u32, rows: &Columns) -> io::Result<()> {
        let mut repaired = rows.repaired.iter().peekable();
        let mut values = Vec::with_capacity(self.width);
        for (row, at) in rows.at.iter().enumerate() {
            let is_repaired = repaired.next_if_eq(&&(row as u32)).is_some();
            values.clear();
            values.extend(rows.row(row));
            self.push(*at, file << 1 | u32::from(is_repaired), &values)?;
        }
        Ok(())
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

    /// Emits all rows in order: instant, tag, values.
    ///
    /// # Errors
    /// When a run cannot be written or read.
    pub(crate) fn finish(mut self, emit: &mut dyn FnMut(f64, u32, &[f64])) -> io::Result<()> {
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
            let mut sorter = Sorter::with_runs(1, run);
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
