//! Sorting by time in bounded memory: rows are dealt out to parts of the period, parts that do not
//! fit into memory lie in a temporary file, and each part is sorted by itself.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::sync::{Mutex, PoisonError};

use super::in_order;
use super::readings::Columns;

/// Rows a part should have: few enough to be sorted in a processor's own memory.
const PART: u64 = 1 << 14;
/// Most parts.
const PARTS: u64 = 512;
/// Bytes held in memory before they are written out.
const HELD: usize = 24 << 20;
/// A part of more bytes is dealt out again.
const LARGE: u64 = 32 << 20;

/// Sorted rows, and the tag of each.
pub(crate) struct Sorted {
    pub(crate) tags: Vec<u32>,
    pub(crate) rows: Columns,
}

/// Receives sorted rows.
pub(crate) type Emit<'a> = &'a mut dyn FnMut(&Sorted);

/// The rows of one part of the period, in order of arrival.
#[derive(Debug, Clone)]
struct Part {
    /// Rows not written out.
    held: Vec<u8>,
    /// Places and lengths in the temporary file.
    written: Vec<(u64, usize)>,
    low: f64,
    high: f64,
}

impl Part {
    fn new() -> Self {
        Self {
            held: Vec::new(),
            written: Vec::new(),
            low: f64::INFINITY,
            high: f64::NEG_INFINITY,
        }
    }

    fn bytes(&self) -> u64 {
        self.written.iter().map(|w| w.1 as u64).sum::<u64>() + self.held.len() as u64
    }
}

/// Sorts rows by time, stably.
pub(crate) struct Sorter {
    width: usize,
    first: f64,
    /// Seconds in a part.
    span: f64,
    parts: Vec<Part>,
    held: usize,
    most_held: usize,
    file: Mutex<Option<File>>,
    end: u64,
    /// A row as it is kept.
    row: Vec<u8>,
}

impl Sorter {
    /// A sorter of about so many rows of so many values, most of them between two instants.
    pub(crate) fn new(width: usize, first: f64, last: f64, rows: u64) -> Self {
        Self::with(width, (first, last), rows.div_ceil(PART), HELD)
    }

    fn with(width: usize, (first, last): (f64, f64), parts: u64, most_held: usize) -> Self {
        let parts = parts.clamp(1, PARTS);
        Self {
            width,
            first,
            span: ((last - first) / parts as f64).max(f64::MIN_POSITIVE),
            parts: vec![Part::new(); parts as usize],
            held: 0,
            most_held,
            file: Mutex::new(None),
            end: 0,
            row: Vec::new(),
        }
    }

    /// Bytes of a row: instant, tag, values.
    fn row_bytes(&self) -> usize {
        12 + 8 * self.width
    }

    /// Takes rows of a file. Their tag is twice the file's number, and one more where a row was
    /// repaired.
    ///
    /// # Errors
    /// When rows cannot be written out.
    pub(crate) fn take(&mut self, file: u32, rows: &Columns) -> io::Result<()> {
        let mut repaired = rows.repaired.iter().peekable();
        for (row, at) in rows.at.iter().enumerate() {
            let is_repaired = repaired.next_if_eq(&&(row as u32)).is_some();
            self.push(*at, file << 1 | u32::from(is_repaired), rows.row(row))?;
        }
        Ok(())
    }

    fn push(&mut self, at: f64, tag: u32, values: impl Iterator<Item = f64>) -> io::Result<()> {
        // A place before the first part or beyond the last becomes that part's.
        let place = ((at - self.first) / self.span) as usize;
        let last = self.parts.len() - 1;
        let part = &mut self.parts[place.min(last)];
        part.low = part.low.min(at);
        part.high = part.high.max(at);
        self.row.clear();
        self.row.extend_from_slice(&at.to_le_bytes());
        self.row.extend_from_slice(&tag.to_le_bytes());
        for value in values {
            self.row.extend_from_slice(&value.to_le_bytes());
        }
        part.held.extend_from_slice(&self.row);
        self.held += self.row_bytes();
        if self.held > self.most_held {
            self.write_out()?;
        }
        Ok(())
    }

    fn write_out(&mut self) -> io::Result<()> {
        let kept = self.file.get_mut().unwrap_or_else(PoisonError::into_inner);
        let mut file = match kept.take() {
            Some(file) => file,
            None => tempfile::tempfile()?,
        };
        for part in self.parts.iter_mut().filter(|p| !p.held.is_empty()) {
            file.write_all(&part.held)?;
            part.written.push((self.end, part.held.len()));
            self.end += part.held.len() as u64;
            // Not emptied but given back: rows may come part after part.
            part.held = Vec::new();
        }
        self.held = 0;
        *kept = Some(file);
        Ok(())
    }

    /// Emits all rows in order, part by part.
    ///
    /// # Errors
    /// When rows cannot be written out or read back.
    pub(crate) fn finish(mut self, threads: usize, emit: Emit) -> io::Result<()> {
        let parts = std::mem::take(&mut self.parts);
        let work = |k: usize| match &parts[k] {
            part if part.low == part.high || part.bytes() > self.most() => Ok(Err(part)),
            part => self.sort(part).map(Ok),
        };
        in_order::map(threads, parts.len(), work, |sorted| match sorted? {
            Ok(sorted) => {
                emit(&sorted);
                Ok(())
            }
            // One stamp: in order of arrival.
            Err(part) if part.low == part.high => self.pieces(part, &mut |piece| {
                let rows = piece.chunks_exact(self.row_bytes()).collect::<Vec<_>>();
                emit(&self.columns(rows.into_iter()));
                Ok(())
            }),
            Err(part) => self.deal_again(part, emit),
        })
    }

    /// Bytes up to which a part is sorted in memory.
    fn most(&self) -> u64 {
        LARGE.max(self.most_held as u64)
    }

    /// Goes through the bytes of a part, piece by piece.
    fn pieces(&self, part: &Part, take: &mut dyn FnMut(&[u8]) -> io::Result<()>) -> io::Result<()> {
        let mut piece = Vec::new();
        for (at, length) in &part.written {
            piece.resize(*length, 0);
            let mut file = self.file.lock().unwrap_or_else(PoisonError::into_inner);
            if let Some(file) = file.as_mut() {
                file.seek(SeekFrom::Start(*at))?;
                file.read_exact(&mut piece)?;
            }
            drop(file);
            take(&piece)?;
        }
        take(&part.held)
    }

    fn sort(&self, part: &Part) -> io::Result<Sorted> {
        let mut bytes = Vec::with_capacity(part.bytes() as usize);
        self.pieces(part, &mut |piece| {
            bytes.extend_from_slice(piece);
            Ok(())
        })?;
        let rows: Vec<&[u8]> = bytes.chunks_exact(self.row_bytes()).collect();
        let mut order: Vec<(u64, u32)> = rows.iter().map(|r| rank(number(r))).zip(0..).collect();
        // The place of arrival makes the order of equals that of arrival.
        order.sort_unstable();
        Ok(self.columns(order.iter().map(|(_, row)| rows[*row as usize])))
    }

    fn columns<'r>(&self, rows: impl Iterator<Item = &'r [u8]>) -> Sorted {
        let mut sorted = Sorted {
            tags: Vec::new(),
            rows: Columns::of(self.width),
        };
        for row in rows {
            sorted.tags.push(tag(row));
            let values = row[12..].chunks_exact(8).map(number);
            sorted.rows.push(number(row), false, values);
        }
        sorted
    }

    /// Deals a part out that has far more rows than others.
    fn deal_again(&self, part: &Part, emit: Emit) -> io::Result<()> {
        let parts = part.bytes() / (self.most() / 4).max(1) + 2;
        let mut finer = Self::with(self.width, (part.low, part.high), parts, self.most_held);
        self.pieces(part, &mut |piece| {
            for row in piece.chunks_exact(self.row_bytes()) {
                finer.push(number(row), tag(row), row[12..].chunks_exact(8).map(number))?;
            }
            Ok(())
        })?;
        finer.finish(1, emit)
    }
}

/// A whole number that goes up as the number does.
fn rank(number: f64) -> u64 {
    let bits = number.to_bits();
    let sign = 1 << 63;
    if bits & sign == 0 { bits | sign } else { !bits }
}

/// The number in the first eight bytes.
fn number(bytes: &[u8]) -> f64 {
    let mut eight = [0; 8];
    eight.copy_from_slice(&bytes[..8]);
    f64::from_le_bytes(eight)
}

fn tag(row: &[u8]) -> u32 {
    let mut four = [0; 4];
    four.copy_from_slice(&row[8..12]);
    u32::from_le_bytes(four)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn sorted(at: impl Fn(u32) -> f64, range: (f64, f64), parts: u64, held: usize) -> Vec<u32> {
        let mut sorter = Sorter::with(1, range, parts, held);
        for k in 0..1000 {
            sorter
                .push(at(k), k, std::iter::once(f64::from(k)))
                .unwrap();
        }
        let mut out = Vec::new();
        sorter
            .finish(2, &mut |sorted| {
                for (row, tag) in sorted.tags.iter().enumerate() {
                    assert_eq!(sorted.rows.at[row], at(*tag));
                    assert_eq!(sorted.rows.values[0][row], f64::from(*tag));
                }
                out.extend(&sorted.tags);
            })
            .unwrap();
        out
    }

    #[test]
    fn rows_on_disk_are_sorted_like_rows_in_memory_and_equals_keep_their_order() {
        let at = |k: u32| f64::from(k * 37 % 200);
        let mut expected: Vec<u32> = (0..1000).collect();
        expected.sort_by(|a, b| at(*a).total_cmp(&at(*b)));
        assert_eq!(sorted(at, (0.0, 200.0), 1, 1 << 20), expected);
        assert_eq!(sorted(at, (0.0, 200.0), 7, 500), expected);
        // Hints that do not hold cost time, never order.
        assert_eq!(sorted(at, (150.0, 151.0), 7, 500), expected);
        assert_eq!(
            sorted(|_| 5.0, (0.0, 0.0), 3, 500),
            (0..1000).collect::<Vec<_>>()
        );
    }
}
