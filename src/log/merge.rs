//! Files of one device into one stream of rows by time, in bounded memory.

use std::io;

use super::device::{Made, Shape};
use super::readings::{self, Columns, Tally};
use super::sorter::Sorter;
use super::survey::Survey;
use super::watch::Hands;

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

/// All rows through the sorter.
fn sorted(
    files: &[&Survey],
    hands: Hands,
    tallies: &mut [Tally],
    sink: &mut dyn Sink,
) -> io::Result<()> {
    let width = files.first().map_or(0, |f| readings::uses(f).len());
    let mut sorter = Sorter::new(width);
    for (k, file) in files.iter().enumerate() {
        readings::of(file, hands, &mut tallies[k], &mut |rows| {
            sorter.take(k as u32, rows)
        })?;
    }
    hand_on(sorter, width, hands, tallies, sink)
}

/// Hands sorted rows on, repeats across files merged; the tallies are those of the files.
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
    // A single file has no other to repeat.
    if tallies.len() == 1 {
        let shape = sink.shape();
        return sorter.finish(hands.threads, shape.as_ref(), &mut |sorted| {
            sink.take_made(0, &sorted.rows, &sorted.made);
        });
    }
    let mut repeats = Repeats::default();
    let mut together = Together {
        file: 0,
        rows: Columns::of(width),
    };
    sorter.finish(hands.threads, None, &mut |sorted| {
        for (row, tag) in sorted.tags.iter().enumerate() {
            let (file, at) = (tag >> 1, sorted.rows.at[row]);
            let values: Vec<f64> = sorted.rows.row(row).collect();
            if repeats.is_repeat(at, file, &values) {
                tallies[file as usize].merge(tag & 1 == 1);
            } else {
                together.push(at, file, &values, sink);
            }
        }
    })?;
    together.hand_on(sink);
    Ok(())
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
