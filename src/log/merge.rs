//! Files of one device into one stream of rows by time, in bounded memory.

use std::io;

use super::device::{Made, Shape};
use super::readings::{self, Columns, Tally};
use super::sorter::{Sorted, Sorter};
use super::survey::Survey;
use super::watch::Hands;

/// How far behind rows may be that are sorted in memory as they come, seconds: a day.
const LATE: f64 = 86_400.0;
/// Rows handed on together after sorting.
const TOGETHER: usize = 4096;

/// Receives rows in order of time: the index of their file in the device, and the rows.
pub(crate) trait Sink {
    fn take(&mut self, file: u32, rows: &Columns);

    /// What rows are to be made ready for; `None` where it takes them as they are.
    fn shape(&self) -> Option<Shape> {
        None
    }

    /// Takes rows made ready for its shape.
    fn take_made(&mut self, file: u32, rows: &Columns, _: &Made) {
        self.take(file, rows);
    }
}

/// Streams the rows of a device's files, sorted by time, repeats across files merged.
///
/// # Errors
/// When a file or a run on disk cannot be read or written.
pub(crate) fn stream(
    files: &[&Survey],
    hands: Hands,
    sink: &mut dyn Sink,
) -> io::Result<Vec<Tally>> {
    let mut order: Vec<usize> = (0..files.len()).collect();
    order.sort_by(|a, b| files[*a].first.total_cmp(&files[*b].first));
    let apart = order
        .windows(2)
        .all(|w| files[w[1]].first > files[w[0]].last);
    let mut tallies = vec![Tally::default(); files.len()];
    if apart && files.iter().all(|f| f.sorted) {
        for k in order {
            readings::of(files[k], hands, &mut tallies[k], &mut |rows| {
                sink.take(k as u32, rows);
                Ok(())
            })?;
        }
        return Ok(tallies);
    }
    sorted(files, hands, &mut tallies, sink)?;
    Ok(tallies)
}

/// All rows through the sorter; where they are not far out of order, they leave it soon.
fn sorted(
    files: &[&Survey],
    hands: Hands,
    tallies: &mut [Tally],
    sink: &mut dyn Sink,
) -> io::Result<()> {
    let width = files.first().map_or(0, |f| readings::uses(f).len());
    let late = lateness(files);
    let mut sorter = Sorter::new(width);
    let mut desk = Desk::new(width, files.len(), sink);
    let shape = desk.shape();
    for (k, file) in files.iter().enumerate() {
        readings::of(file, hands, &mut tallies[k], &mut |rows| {
            sorter.take(k as u32, rows)?;
            match late <= LATE {
                true => sorter.emit_before(late, shape.as_ref(), &mut |rows| desk.take(rows)),
                false => Ok(()),
            }
        })?;
    }
    sorter.finish(hands.threads, shape.as_ref(), &mut |rows| desk.take(rows))?;
    desk.end(tallies);
    Ok(())
}

/// How far any row of files read one after the other is behind one before it, seconds.
fn lateness(files: &[&Survey]) -> f64 {
    let (mut late, mut newest) = (0.0_f64, f64::NEG_INFINITY);
    for file in files {
        // Rows that share a stamp are spread over the time after it.
        let own = file.late + file.spread.unwrap_or(0.0);
        late = late.max(own).max(newest - file.first);
        newest = newest.max(file.last);
    }
    late
}

/// Hands sorted rows of so many files on; the tallies are those of the files.
///
/// # Errors
/// When rows cannot be written out or read back.
pub(crate) fn hand_on(
    sorter: Sorter,
    width: usize,
    hands: Hands,
    tallies: &mut [Tally],
    sink: &mut dyn Sink,
) -> io::Result<()> {
    let mut desk = Desk::new(width, tallies.len(), sink);
    let shape = desk.shape();
    sorter.finish(hands.threads, shape.as_ref(), &mut |rows| desk.take(rows))?;
    desk.end(tallies);
    Ok(())
}

/// Hands sorted rows on, repeats across files merged.
struct Desk<'s> {
    sink: &'s mut dyn Sink,
    /// Repeats by file: of rows used as they stood, and of repaired ones. Empty for a single file,
    /// which has no other to repeat.
    merged: Vec<[u64; 2]>,
    /// Rows that another file contradicts, by file.
    apart: Vec<u64>,
    repeats: Repeats,
    together: Together,
}

impl<'s> Desk<'s> {
    fn new(width: usize, files: usize, sink: &'s mut dyn Sink) -> Self {
        Self {
            sink,
            merged: vec![[0; 2]; if files > 1 { files } else { 0 }],
            apart: vec![0; files],
            repeats: Repeats::default(),
            together: Together {
                file: 0,
                rows: Columns::of(width),
            },
        }
    }

    /// What rows are to be made ready for.
    fn shape(&self) -> Option<Shape> {
        self.sink.shape().filter(|_| self.merged.is_empty())
    }

    fn take(&mut self, sorted: &Sorted) {
        if self.merged.is_empty() {
            self.sink.take_made(0, &sorted.rows, &sorted.made);
            return;
        }
        for (row, tag) in sorted.tags.iter().enumerate() {
            let (file, at) = (tag >> 1, sorted.rows.at[row]);
            let values: Vec<f64> = sorted.rows.row(row).collect();
            let found = self.repeats.look(at, file, &values);
            if found == Found::Repeat {
                self.merged[file as usize][(tag & 1) as usize] += 1;
                continue;
            }
            self.apart[file as usize] += u64::from(found == Found::Apart);
            self.together.push(at, file, &values, self.sink);
        }
    }

    /// Hands on what is left, and says what was merged.
    fn end(mut self, tallies: &mut [Tally]) {
        self.together.hand_on(self.sink);
        for (tally, apart) in tallies.iter_mut().zip(&self.apart) {
            tally.apart = *apart;
        }
        for (tally, [used, repaired]) in tallies.iter_mut().zip(self.merged) {
            tally.merge(used, repaired);
        }
    }
}

/// Rows of one file waiting to be handed on together.
struct Together {
    file: u32,
    rows: Columns,
}

impl Together {
    fn push(&mut self, at: f64, file: u32, values: &[f64], sink: &mut dyn Sink) {
        if file != self.file || self.rows.at.len() >= TOGETHER {
            self.hand_on(sink);
            self.file = file;
        }
        self.rows.push(at, false, values.iter().copied());
    }

    fn hand_on(&mut self, sink: &mut dyn Sink) {
        if !self.rows.at.is_empty() {
            sink.take(self.file, &self.rows);
            self.rows.clear();
        }
    }
}

/// Finds rows another file has already given.
#[derive(Debug, Default)]
struct Repeats {
    at: f64,
    seen: Vec<(u32, Vec<f64>)>,
}

/// What a row is beside those of other files at its instant.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Found {
    /// One of them.
    Repeat,
    /// None of them, although there are some.
    Apart,
    /// Alone.
    New,
}

impl Repeats {
    fn look(&mut self, at: f64, file: u32, values: &[f64]) -> Found {
        if at != self.at {
            self.at = at;
            self.seen.clear();
        }
        let same = |a: &f64, b: &f64| a.to_bits() == b.to_bits() || (a.is_nan() && b.is_nan());
        let mut others = self.seen.iter().filter(|(f, _)| *f != file).peekable();
        let alone = others.peek().is_none();
        if others.any(|(_, v)| v.iter().zip(values).all(|(a, b)| same(a, b))) {
            return Found::Repeat;
        }
        if self.seen.len() < 64 {
            self.seen.push((file, values.to_vec()));
        }
        if alone { Found::New } else { Found::Apart }
    }
}
