//! Sorting by time in bounded memory: rows are dealt out to parts of the period, parts that do not
//! fit into memory lie in a temporary file, and each part is sorted by itself.

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom, Write};

use super::readings::Columns;

/// Rows a part should have.
const PART: u64 = 1 << 17;
/// Most parts.
const PARTS: u64 = 512;
/// Bytes held in memory before they are written out.
const HELD: usize = 24 << 20;
/// A part of more bytes is dealt out again.
const LARGE: u64 = 32 << 20;

/// Receives sorted rows: instant, tag, values.
pub(crate) type Emit<'a> = &'a mut dyn FnMut(f64, u32, &[f64]);

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
    file: Option<File>,
    end: u64,
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
            file: None,
            end: 0,
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
        part.held.extend_from_slice(&at.to_le_bytes());
        part.held.extend_from_slice(&tag.to_le_bytes());
        for value in values {
            part.held.extend_from_slice(&value.to_le_bytes());
        }
        self.held += self.row_bytes();
        if self.held > self.most_held {
            self.write_out()?;
        }
        Ok(())
    }

    fn write_out(&mut self) -> io::Result<()> {
        let mut file = match self.file.take() {
            Some(file) => file,
            None => tempfile::tempfile()?,
        };
        for part in self.parts.iter_mut().filter(|p| !p.held.is_empty()) {
            file.write_all(&part.held)?;
            part.written.push((self.end, part.held.len()));
            self.end += part.held.len() as u64;
            part.held.clear();
        }
        self.held = 0;
        self.file = Some(file);
        Ok(())
    }

    /// Emits all rows in order.
    ///
    /// # Errors
    /// When rows cannot be written out or read back.
    pub(crate) fn finish(mut self, emit: Emit) -> io::Result<()> {
        for part in std::mem::take(&mut self.parts) {
            if part.low == part.high {
                // One stamp: in order of arrival.
                self.pieces(&part, &mut |sorter, bytes| {
                    sorter.rows(bytes, emit);
                    Ok(())
                })?;
            } else if part.bytes() > LARGE.max(self.most_held as u64) {
                self.deal_again(&part, emit)?;
            } else {
                self.sort(&part, emit)?;
            }
        }
        Ok(())
    }

    /// Goes through the bytes of a part, piece by piece.
    fn pieces(
        &mut self,
        part: &Part,
        take: &mut dyn FnMut(&Self, &[u8]) -> io::Result<()>,
    ) -> io::Result<()> {
        let mut piece = Vec::new();
        for (at, length) in &part.written {
            piece.resize(*length, 0);
            if let Some(file) = &mut self.file {
                file.seek(SeekFrom::Start(*at))?;
                file.read_exact(&mut piece)?;
            }
            take(self, &piece)?;
        }
        take(self, &part.held)
    }

    fn sort(&mut self, part: &Part, emit: Emit) -> io::Result<()> {
        let mut bytes = Vec::with_capacity(part.bytes() as usize);
        self.pieces(part, &mut |_, piece| {
            bytes.extend_from_slice(piece);
            Ok(())
        })?;
        let rows: Vec<&[u8]> = bytes.chunks_exact(self.row_bytes()).collect();
        let mut order: Vec<(f64, u32)> = rows.iter().map(|r| number(r)).zip(0..).collect();
        // The place of arrival makes the order of equals that of arrival.
        order.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let mut values = Vec::with_capacity(self.width);
        for (_, row) in order {
            emit_row(rows[row as usize], &mut values, emit);
        }
        Ok(())
    }

    /// Deals a part out that has far more rows than others.
    fn deal_again(&mut self, part: &Part, emit: Emit) -> io::Result<()> {
        let parts = part.bytes() / (LARGE.min(self.most_held as u64) / 2).max(1) + 2;
        let range = (part.low, part.high);
        let mut finer = Self::with(self.width, range, parts, self.most_held);
        self.pieces(part, &mut |sorter, bytes| {
            for row in bytes.chunks_exact(sorter.row_bytes()) {
                finer.push(number(row), tag(row), row[12..].chunks_exact(8).map(number))?;
            }
            Ok(())
        })?;
        finer.finish(emit)
    }

    fn rows(&self, bytes: &[u8], emit: Emit) {
        let mut values = Vec::with_capacity(self.width);
        for row in bytes.chunks_exact(self.row_bytes()) {
            emit_row(row, &mut values, emit);
        }
    }
}

fn emit_row(row: &[u8], values: &mut Vec<f64>, emit: Emit) {
    values.clear();
    values.extend(row[12..].chunks_exact(8).map(number));
    emit(number(row), tag(row), values);
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
            .finish(&mut |instant, tag, values| {
                assert_eq!((instant, values), (at(tag), &[f64::from(tag)][..]));
                out.push(tag);
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
