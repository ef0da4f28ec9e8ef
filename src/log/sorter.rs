//! Sorting by time in bounded memory: rows are dealt out to parts of the time, parts that do not fit
//! into memory lie in a temporary file, and each part is sorted by itself.

use std::collections::VecDeque;
use std::fs::File;
use std::io::{self, BufWriter, Read, Seek, SeekFrom, Write};
use std::sync::{Mutex, MutexGuard, PoisonError};

use super::batch::Pace;
use super::device::{Made, Maker, Shape};
use super::in_order;
use super::packed::{self, Packing};
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
/// Rows dealt out, or taken out of a piece, in one go.
const AT_ONCE: usize = 256;
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
    /// How rows are kept now: values whole as soon as some need it.
    packing: Packing,
    /// Where in the temporary file rows with whole values begin.
    whole_from: u64,
    /// Memory of rows and tags taken before.
    packed: Vec<u8>,
    tags: Vec<u32>,
    /// Memory of parts sorted before.
    spare: Mutex<Vec<Desk>>,
}

/// Where a part is sorted.
#[derive(Default)]
struct Desk {
    bytes: Vec<u8>,
    order: Vec<u64>,
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
            packing: Packing::Thousandths,
            whole_from: u64::MAX,
            packed: Vec::new(),
            tags: Vec::new(),
            spare: Mutex::new(Vec::new()),
        }
    }

    /// Takes rows of a file. Their tag is twice the file's number, and one more where a row was
    /// repaired.
    ///
    /// # Errors
    /// When rows cannot be written out.
    pub(crate) fn take(&mut self, file: u32, rows: &Columns) -> io::Result<()> {
        let mut tags = std::mem::take(&mut self.tags);
        tags.clear();
        tags.resize(rows.at.len(), file << 1);
        for row in &rows.repaired {
            tags[*row as usize] |= 1;
        }
        let taken = self.take_tagged(rows, &tags);
        self.tags = tags;
        taken
    }

    /// Takes rows, each with its tag.
    fn take_tagged(&mut self, rows: &Columns, tags: &[u32]) -> io::Result<()> {
        let mut packed = std::mem::take(&mut self.packed);
        for from in (0..rows.at.len()).step_by(AT_ONCE) {
            let stretch = from..rows.at.len().min(from + AT_ONCE);
            let at = &rows.at[stretch.clone()];
            if !self.packing.pack(rows, stretch.clone(), tags, &mut packed) {
                self.unpack_held();
                self.packing.pack(rows, stretch, tags, &mut packed);
            }
            self.deal(at, &packed);
            if self.held > self.most_held {
                self.write_out()?;
            }
        }
        self.packed = packed;
        Ok(())
    }

    /// Deals rows out to their parts.
    fn deal(&mut self, at: &[f64], packed: &[u8]) {
        let size = self.packing.row_bytes(self.width);
        for (at, row) in at.iter().zip(packed.chunks_exact(size)) {
            let place = self.place(*at);
            let part = &mut self.parts[place];
            part.low = part.low.min(*at);
            part.high = part.high.max(*at);
            part.held.extend_from_slice(row);
        }
        self.newest = at.iter().copied().fold(self.newest, f64::max);
        self.held += packed.len();
    }

    /// Keeps values whole from now on, those in memory too.
    fn unpack_held(&mut self) {
        self.packing = Packing::Whole;
        self.whole_from = self.end;
        self.held = 0;
        for part in &mut self.parts {
            let short = std::mem::take(&mut part.held);
            packed::unpack(&short, self.width, &mut part.held);
            self.held += part.held.len();
        }
    }

    /// How rows at that place in the temporary file are kept.
    fn packing_at(&self, place: u64) -> Packing {
        match place < self.whole_from {
            true => Packing::Thousandths,
            false => Packing::Whole,
        }
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
            Err(part) if part.low == part.high => self.pieces(part, &mut |rows| {
                emit(rows);
                Ok(())
            }),
            Err(part) => self.deal_again(part, shape, emit),
        })
    }

    /// Bytes up to which a part is sorted in memory.
    fn most(&self) -> u64 {
        LARGE.max(self.most_held as u64)
    }

    /// Goes through the rows of a part in order of arrival, piece by piece.
    fn pieces(
        &self,
        part: &Part,
        take: &mut dyn FnMut(&Sorted) -> io::Result<()>,
    ) -> io::Result<()> {
        let (mut bytes, mut rows) = (Vec::new(), Sorted::default());
        let mut hand_on = |bytes: &[u8], packing: Packing| {
            let size = packing.row_bytes(self.width);
            bytes.chunks(size * AT_ONCE).try_for_each(|piece| {
                self.columns(piece, packing, 0..piece.len() / size, &mut rows);
                take(&rows)
            })
        };
        for (place, length) in &part.written {
            bytes.clear();
            self.read_back(*place, *length, &mut bytes)?;
            hand_on(&bytes, self.packing_at(*place))?;
        }
        hand_on(&part.held, self.packing)
    }

    /// All bytes of a part, as rows are kept now.
    fn gather(&self, part: &Part, into: &mut Vec<u8>) -> io::Result<()> {
        into.clear();
        into.reserve(part.bytes() as usize);
        for (place, length) in &part.written {
            let from = into.len();
            self.read_back(*place, *length, into)?;
            if self.packing_at(*place) != self.packing {
                let short = into.split_off(from);
                packed::unpack(&short, self.width, into);
            }
        }
        into.extend_from_slice(&part.held);
        Ok(())
    }

    /// Bytes of the temporary file, behind those in `into`.
    fn read_back(&self, place: u64, length: usize, into: &mut Vec<u8>) -> io::Result<()> {
        let mut file = self.file.lock().unwrap_or_else(PoisonError::into_inner);
        let Some(file) = file.as_mut() else {
            return Ok(());
        };
        file.seek(SeekFrom::Start(place))?;
        match file.take(length as u64).read_to_end(into)? == length {
            true => Ok(()),
            false => Err(io::ErrorKind::UnexpectedEof.into()),
        }
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
        let rows = bytes.chunks_exact(self.packing.row_bytes(self.width));
        put_in_order(rows.map(|row| rank(packed::instant(row))), order);
        let rows = order.iter().map(|row| *row as usize);
        self.columns(bytes, self.packing, rows, sorted);
        if let Some(shape) = shape {
            let pace = Pace::of(&sorted.rows.at);
            Maker::new(shape).make(&sorted.rows, pace, &mut sorted.made);
        }
        Ok(desk)
    }

    /// Takes rows out of bytes, in that order.
    fn columns(
        &self,
        bytes: &[u8],
        packing: Packing,
        order: impl Iterator<Item = usize> + Clone,
        into: &mut Sorted,
    ) {
        let size = packing.row_bytes(self.width);
        let rows = || {
            order
                .clone()
                .map(|row| &bytes[row * size..(row + 1) * size])
        };
        into.rows.clear();
        into.tags.clear();
        into.tags.extend(rows().map(packed::tag));
        into.rows.at.extend(rows().map(packed::instant));
        into.rows.values.resize_with(self.width, Vec::new);
        for (k, values) in into.rows.values.iter_mut().enumerate() {
            packing.values(rows(), k, values);
        }
    }

    /// Deals a part out that has far more rows than others.
    fn deal_again(&self, part: &Part, shape: Option<&Shape>, emit: Emit) -> io::Result<()> {
        let parts = part.bytes() / (self.most() / 4).max(1) + 2;
        let span = ((part.high - part.low) / parts as f64).max(f64::MIN_POSITIVE);
        let mut finer = Self::with(self.width, span, self.most_held);
        self.pieces(part, &mut |piece| {
            finer.take_tagged(&piece.rows, &piece.tags)
        })?;
        finer.finish(1, shape, emit)
    }
}

/// The places of so many numbers by size; equals in the order they come in.
fn put_in_order(ranks: impl ExactSizeIterator<Item = u64> + Clone, order: &mut Vec<u64>) {
    order.clear();
    let places = u64::BITS - (ranks.len() as u64).leading_zeros();
    let (low, high) = ranks
        .clone()
        .fold((u64::MAX, 0), |(low, high), r| (r.min(low), r.max(high)));
    // Rank and place in one number sort in half the time of the two side by side.
    if high.saturating_sub(low).leading_zeros() >= places {
        order.extend(ranks.zip(0..).map(|(r, place)| (r - low) << places | place));
        order.sort_unstable();
        order.iter_mut().for_each(|key| *key &= (1 << places) - 1);
    } else {
        let mut both: Vec<(u64, u64)> = ranks.zip(0..).collect();
        both.sort_unstable();
        order.extend(both.iter().map(|(_, place)| *place));
    }
}

/// A whole number that goes up as the number does.
fn rank(number: f64) -> u64 {
    let bits = number.to_bits();
    let sign = 1 << 63;
    if bits & sign == 0 { bits | sign } else { !bits }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn push(sorter: &mut Sorter, at: f64, tag: u32, value: Option<f64>) {
        let mut row = Columns::of(value.iter().len());
        row.push(at, false, value.into_iter());
        sorter.take_tagged(&row, &[tag]).unwrap();
    }

    /// Values of few decimals at first, of many later.
    fn value(k: u32) -> f64 {
        if k == 600 { 0.1 + 0.2 } else { f64::from(k) }
    }

    fn sorted(at: impl Fn(u32) -> f64, span: f64, held: usize) -> Vec<u32> {
        let mut sorter = Sorter::with(1, span, held);
        for k in 0..1000 {
            push(&mut sorter, at(k), k, Some(value(k)));
        }
        let mut out = Vec::new();
        sorter
            .finish(2, None, &mut |sorted| {
                for (row, tag) in sorted.tags.iter().enumerate() {
                    assert_eq!(sorted.rows.at[row], at(*tag));
                    assert_eq!(sorted.rows.values[0][row], value(*tag));
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
            push(&mut sorter, at, tag as u32, None);
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
            push(&mut sorter, at, k, Some(at));
            let mut keep = |sorted: &Sorted| out.extend(&sorted.rows.at);
            sorter.emit_before(49.0, None, &mut keep).unwrap();
            most_held = most_held.max(sorter.held);
        }
        assert!(most_held < 100 * sorter.packing.row_bytes(1), "{most_held}");
        assert!(out.len() > 1900);
        let mut keep = |sorted: &Sorted| out.extend(&sorted.rows.at);
        sorter.finish(1, None, &mut keep).unwrap();
        assert_eq!(out, (0..2000).map(f64::from).collect::<Vec<_>>());
    }
}
