//! Sorting by time in bounded memory: rows are dealt out to parts of the time, parts that do not fit
//! into memory lie in a temporary file, and each part is sorted by itself.

use std::collections::VecDeque;
use std::fs::File;
use std::io::{self, BufWriter, Read, Seek, SeekFrom, Write};
use std::sync::{Mutex, MutexGuard, PoisonError};

use super::batch::Pace;
use super::device::{Made, Maker, Shape};
use super::in_order;
use super::readings::Columns;

/// Seconds in a part at first: at a row a second few enough rows to be sorted in a processor's own
/// memory.
const SPAN: f64 = 4.0 * 3_600.0;
/// Most parts; where the rows spread further, parts become longer.
const PARTS: i64 = 256;
/// Times longer they then become.
const WIDER: i64 = 4;
/// Bytes held in memory before they are written out.
const HELD: usize = 24 << 20;
/// A part of more bytes is dealt out again.
const LARGE: u64 = 32 << 20;
/// Pieces smaller than this are written out together, bytes.
const TOGETHER: usize = 1 << 16;

/// Sorted rows, and the tag of each.
#[derive(Default)]
pub(crate) struct Sorted {
    pub(crate) tags: Vec<u32>,
    pub(crate) rows: Columns,
    /// The rows made ready for folding, where that was asked for.
    pub(crate) made: Made,
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

    /// Takes in the rows of a part of other instants.
    fn join(&mut self, other: Self) {
        self.low = self.low.min(other.low);
        self.high = self.high.max(other.high);
        self.written.extend(other.written);
        self.held.extend(other.held);
    }

    fn bytes(&self) -> u64 {
        self.written.iter().map(|w| w.1 as u64).sum::<u64>() + self.held.len() as u64
    }
}

/// Sorts rows by time, stably.
pub(crate) struct Sorter {
    width: usize,
    /// Seconds in a part.
    span: f64,
    /// The place in time of the first part, in parts.
    low: i64,
    parts: VecDeque<Part>,
    held: usize,
    most_held: usize,
    /// The latest instant so far.
    newest: f64,
    file: Mutex<Option<File>>,
    end: u64,
    /// A row as it is kept.
    row: Vec<u8>,
    /// Memory of parts sorted before.
    spare: Mutex<Vec<Desk>>,
}

/// Where a part is sorted.
#[derive(Default)]
struct Desk {
    bytes: Vec<u8>,
    order: Vec<(u64, u32)>,
    sorted: Sorted,
}

impl Sorter {
    /// A sorter of rows of so many values.
    pub(crate) fn new(width: usize) -> Self {
        Self::with(width, SPAN, HELD)
    }

    fn with(width: usize, span: f64, most_held: usize) -> Self {
        Self {
            width,
            span,
            low: 0,
            parts: VecDeque::new(),
            held: 0,
            most_held,
            newest: f64::NEG_INFINITY,
            file: Mutex::new(None),
            end: 0,
            row: Vec::new(),
            spare: Mutex::new(Vec::new()),
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
        self.row.clear();
        self.row.extend_from_slice(&at.to_le_bytes());
        self.row.extend_from_slice(&tag.to_le_bytes());
        for value in values {
            self.row.extend_from_slice(&value.to_le_bytes());
        }
        let place = self.place(at);
        self.newest = self.newest.max(at);
        let part = &mut self.parts[place];
        part.low = part.low.min(at);
        part.high = part.high.max(at);
        part.held.extend_from_slice(&self.row);
        self.held += self.row.len();
        if self.held > self.most_held {
            self.write_out()?;
        }
        Ok(())
    }

    /// The part an instant belongs to; makes it, and those between, where there is none.
    #[inline]
    fn place(&mut self, at: f64) -> usize {
        let place = self.key(at).wrapping_sub(self.low);
        if place >= 0 && place < self.parts.len() as i64 {
            return place as usize;
        }
        self.make_place(at)
    }

    /// The place of an instant in time, in parts.
    #[inline]
    fn key(&self, at: f64) -> i64 {
        let parts = at / self.span;
        let whole = parts as i64;
        whole - i64::from(whole as f64 > parts)
    }

    fn make_place(&mut self, at: f64) -> usize {
        loop {
            let key = self.key(at);
            if self.parts.is_empty() {
                self.low = key;
            }
            let low = self.low.min(key);
            let high = (self.low + self.parts.len() as i64).max(key.saturating_add(1));
            if high.saturating_sub(low) > PARTS {
                self.widen();
                continue;
            }
            while self.low > low {
                self.parts.push_front(Part::new());
                self.low -= 1;
            }
            self.parts.resize((high - low) as usize, Part::new());
            return (key - low) as usize;
        }
    }

    /// Makes parts longer. Rows of one instant stay in their order: they lie in one part as before.
    fn widen(&mut self) {
        self.span *= WIDER as f64;
        let low = self.low.div_euclid(WIDER);
        let mut wider = VecDeque::new();
        for (part, key) in std::mem::take(&mut self.parts).into_iter().zip(self.low..) {
            let place = (key.div_euclid(WIDER) - low) as usize;
            wider.resize(place + 1, Part::new());
            wider[place].join(part);
        }
        (self.parts, self.low) = (wider, low);
    }

    fn write_out(&mut self) -> io::Result<()> {
        let kept = self.file.get_mut().unwrap_or_else(PoisonError::into_inner);
        let file = match kept.take() {
            Some(file) => file,
            None => tempfile::tempfile()?,
        };
        // Rows may come part after part: then what one had in hand the next will need.
        let filled = self.parts.iter().filter(|p| !p.held.is_empty()).count();
        let in_no_order = self.end > 0 && filled * 10 >= self.parts.len() * 9;
        let mut out = BufWriter::with_capacity(TOGETHER, file);
        for part in &mut self.parts {
            if !part.held.is_empty() {
                out.write_all(&part.held)?;
                part.written.push((self.end, part.held.len()));
                self.end += part.held.len() as u64;
            }
            match in_no_order {
                true => part.held.clear(),
                false => part.held = Vec::new(),
            }
        }
        self.held = 0;
        *kept = Some(out.into_inner().map_err(io::IntoInnerError::into_error)?);
        Ok(())
    }

    /// Emits rows that no later one can come before, where none is further behind those before it than
    /// `late`, seconds. After rows had to be written out nothing is emitted before the end.
    ///
    /// # Errors
    /// When rows cannot be read back.
    pub(crate) fn emit_before(
        &mut self,
        late: f64,
        shape: Option<&Shape>,
        emit: Emit,
    ) -> io::Result<()> {
        let due = self.key(self.newest - late);
        while self.end == 0
            && self.low < due
            && let Some(part) = self.parts.pop_front()
        {
            self.low += 1;
            self.held -= part.held.len();
            if !part.held.is_empty() {
                let desk = self.sort(&part, shape)?;
                emit(&desk.sorted);
                self.desks().push(desk);
            }
        }
        Ok(())
    }

    /// Emits all rows in order, part by part; made ready for folding by that shape.
    ///
    /// # Errors
    /// When rows cannot be written out or read back.
    pub(crate) fn finish(
        mut self,
        threads: usize,
        shape: Option<&Shape>,
        emit: Emit,
    ) -> io::Result<()> {
        let mut parts: Vec<Part> = std::mem::take(&mut self.parts).into();
        parts.retain(|part| part.bytes() > 0);
        let work = |k: usize| match &parts[k] {
            part if part.low == part.high || part.bytes() > self.most() => Ok(Err(part)),
            part => self.sort(part, shape).map(Ok),
        };
        in_order::map(threads, parts.len(), work, |sorted| match sorted? {
            Ok(desk) => {
                emit(&desk.sorted);
                self.desks().push(desk);
                Ok(())
            }
            // One stamp: in order of arrival.
            Err(part) if part.low == part.high => self.pieces(part, &mut |piece| {
                let rows = piece.len() / self.row_bytes();
                let mut sorted = Sorted::default();
                self.columns(piece, 0..rows, &mut sorted);
                emit(&sorted);
                Ok(())
            }),
            Err(part) => self.deal_again(part, shape, emit),
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

    /// All bytes of a part.
    fn gather(&self, part: &Part, into: &mut Vec<u8>) -> io::Result<()> {
        into.resize(part.bytes() as usize, 0);
        let mut rest = &mut into[..];
        let mut file = self.file.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(file) = file.as_mut() {
            for (at, length) in &part.written {
                let (piece, behind) = rest.split_at_mut(*length);
                file.seek(SeekFrom::Start(*at))?;
                file.read_exact(piece)?;
                rest = behind;
            }
        }
        rest.copy_from_slice(&part.held);
        Ok(())
    }

    fn desks(&self) -> MutexGuard<'_, Vec<Desk>> {
        self.spare.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn sort(&self, part: &Part, shape: Option<&Shape>) -> io::Result<Desk> {
        let mut desk = self.desks().pop().unwrap_or_default();
        let Desk {
            bytes,
            order,
            sorted,
        } = &mut desk;
        self.gather(part, bytes)?;
        order.clear();
        let rows = bytes.chunks_exact(self.row_bytes());
        order.extend(rows.map(|r| rank(number(r))).zip(0..));
        // The place of arrival makes the order of equals that of arrival.
        order.sort_unstable();
        let rows = order.iter().map(|(_, row)| *row as usize);
        self.columns(bytes, rows, sorted);
        if let Some(shape) = shape {
            let pace = Pace::of(&sorted.rows.at);
            Maker::new(shape).make(&sorted.rows, pace, &mut sorted.made);
        }
        Ok(desk)
    }

    /// Takes rows out of bytes, in that order.
    fn columns(&self, bytes: &[u8], order: impl Iterator<Item = usize> + Clone, into: &mut Sorted) {
        let rows = || order.clone().map(|row| &bytes[row * self.row_bytes()..]);
        into.rows.clear();
        into.tags.clear();
        into.tags.extend(rows().map(tag));
        into.rows.at.extend(rows().map(number));
        into.rows.values.resize_with(self.width, Vec::new);
        for (k, values) in into.rows.values.iter_mut().enumerate() {
            values.extend(rows().map(|row| number(&row[12 + 8 * k..])));
        }
    }

    /// Deals a part out that has far more rows than others.
    fn deal_again(&self, part: &Part, shape: Option<&Shape>, emit: Emit) -> io::Result<()> {
        let parts = part.bytes() / (self.most() / 4).max(1) + 2;
        let span = ((part.high - part.low) / parts as f64).max(f64::MIN_POSITIVE);
        let mut finer = Self::with(self.width, span, self.most_held);
        self.pieces(part, &mut |piece| {
            for row in piece.chunks_exact(self.row_bytes()) {
                finer.push(number(row), tag(row), row[12..].chunks_exact(8).map(number))?;
            }
            Ok(())
        })?;
        finer.finish(1, shape, emit)
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

    fn sorted(at: impl Fn(u32) -> f64, span: f64, held: usize) -> Vec<u32> {
        let mut sorter = Sorter::with(1, span, held);
        for k in 0..1000 {
            sorter
                .push(at(k), k, std::iter::once(f64::from(k)))
                .unwrap();
        }
        let mut out = Vec::new();
        sorter
            .finish(2, None, &mut |sorted| {
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
        for (span, held) in [
            (1_000.0, 1 << 20),
            (30.0, 500),
            (0.01, 1 << 20),
            (0.01, 500),
        ] {
            assert_eq!(sorted(at, span, held), expected, "{span} s, {held} bytes");
        }
        assert_eq!(sorted(|_| 5.0, 3.0, 500), (0..1000).collect::<Vec<_>>());
    }

    #[test]
    fn rows_of_other_ages_cost_no_memory() {
        let mut sorter = Sorter::new(0);
        for (tag, at) in [4e9, -2e9, 1.8e9, 1e11, 1.8e9].into_iter().enumerate() {
            sorter.push(at, tag as u32, std::iter::empty()).unwrap();
        }
        assert!(sorter.parts.len() <= PARTS as usize);
        let mut tags: Vec<u32> = Vec::new();
        sorter
            .finish(1, None, &mut |sorted| tags.extend(&sorted.tags))
            .unwrap();
        assert_eq!(tags, [1, 2, 4, 0, 3]);
    }

    #[test]
    fn rows_not_far_behind_leave_as_they_come() {
        let mut sorter = Sorter::with(1, 10.0, 1 << 20);
        let mut out: Vec<f64> = Vec::new();
        let mut most_held = 0;
        for k in 0..2000_u32 {
            let at = f64::from(k / 50 * 50 + k * 37 % 50);
            sorter.push(at, k, std::iter::once(at)).unwrap();
            let mut keep = |sorted: &Sorted| out.extend(&sorted.rows.at);
            sorter.emit_before(49.0, None, &mut keep).unwrap();
            most_held = most_held.max(sorter.held);
        }
        assert!(most_held < 100 * sorter.row_bytes(), "{most_held}");
        assert!(out.len() > 1900);
        let mut keep = |sorted: &Sorted| out.extend(&sorted.rows.at);
        sorter.finish(1, None, &mut keep).unwrap();
        assert_eq!(out, (0..2000).map(f64::from).collect::<Vec<_>>());
    }
}
