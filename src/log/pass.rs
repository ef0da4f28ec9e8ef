//! One pass over a file: blocks read in order, made into batches by as many threads as there are
//! processors, handed on in order. What is handed on does not depend on how many threads there are.

use std::collections::BTreeMap;
use std::io;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Mutex, PoisonError};

use super::batch::{Batch, Want};
use super::block::{Block, Blocks};
use super::digest::{Digest, Digested};
use super::engine::{Added, Engine};
use super::rows::{Choice, Rows};
use super::source::Source;
use super::watch::Hands;

/// Files smaller than this are not worth a second thread, bytes.
const SMALL: u64 = 1 << 21;
/// Blocks under way for each thread.
const AHEAD: usize = 3;

/// What is known at the end of a pass.
pub(crate) struct Passed<'a> {
    /// Digest with the file's bytes mixed in, where one was given.
    pub(crate) digest: Option<Digest>,
    /// The rows' counts, notes and clock.
    pub(crate) rows: Rows<'a>,
    /// The error that ended the file early, where one did.
    pub(crate) broken: Option<io::Error>,
}

/// A block on its way.
struct Parcel {
    number: u64,
    block: Block,
    batch: Batch,
    /// What it adds, where it could be read by itself.
    added: Option<Added>,
}

/// What threads share.
struct Feed {
    blocks: Blocks,
    number: u64,
    empty: Receiver<(Block, Batch)>,
    broken: Option<io::Error>,
}

/// Reads a file and hands its batches on in order, to be left in whatever state. A digest given has
/// the file mixed in.
///
/// # Errors
/// When the file cannot be opened, or whatever `take` fails with.
pub(crate) fn over<'a>(
    source: &Source,
    digest: Option<Digest>,
    choice: Choice<'a>,
    want: Want<'a>,
    hands: Hands,
    take: &mut dyn FnMut(&mut Batch) -> io::Result<()>,
) -> io::Result<Passed<'a>> {
    let file = Digested::open(&source.path, digest)?;
    let mut blocks = Blocks::of(file.clone(), choice.coding)?;
    let mut told = 0;
    let take = &mut |batch: &mut Batch| {
        let so_far = file.so_far();
        (hands.tell)(so_far - told);
        told = so_far;
        take(batch)
    };
    let mut engine = Engine::after(choice, want, 0);
    let mut batch = hands.spare.batch();
    let mut block = hands.spare.block();
    let large = source.bytes >= SMALL;
    let threads = hands.threads;
    let many = threads > 1 && large && choice.plan.form.stands_alone();
    let mut broken = None;
    loop {
        match blocks.next(&mut block) {
            Ok(true) => block = engine.read(block, &mut batch),
            Ok(false) => break,
            Err(error) => {
                broken = Some(error);
                break;
            }
        }
        take(&mut batch)?;
        if many && engine.takes_alone() {
            broken = together(blocks, &mut engine, want, threads, take)?;
            break;
        }
    }
    hands.spare.keep_batch(batch);
    hands.spare.keep_block(block);
    Ok(Passed {
        digest: file.finish()?,
        rows: engine.rows,
        broken,
    })
}

/// The rest of a file by several threads; the error that ended it early, where one did.
fn together<'a>(
    blocks: Blocks,
    engine: &mut Engine<'a>,
    want: Want<'a>,
    threads: usize,
    take: &mut dyn FnMut(&mut Batch) -> io::Result<()>,
) -> io::Result<Option<io::Error>> {
    let (empties, empty) = channel();
    for _ in 0..threads * AHEAD {
        // Nobody has gone yet: the other end is at hand.
        let _ = empties.send((Block::default(), Batch::default()));
    }
    let feed = Mutex::new(Feed {
        blocks,
        number: 0,
        empty,
        broken: None,
    });
    let choice = engine.rows.choice;
    std::thread::scope(|scope| {
        let (done, parcels) = channel();
        for _ in 0..threads {
            let (feed, done) = (&feed, done.clone());
            scope.spawn(move || {
                work(
                    feed,
                    Engine::after(choice, want, choice.layout.first_row),
                    &done,
                )
            });
        }
        drop(done);
        in_order(&parcels, empties, engine, take)
    })?;
    let feed = feed.into_inner().unwrap_or_else(PoisonError::into_inner);
    Ok(feed.broken)
}

/// Reads blocks as long as there are any.
fn work(feed: &Mutex<Feed>, mut engine: Engine, done: &Sender<Parcel>) {
    while let Some((number, block, mut batch)) = next(feed) {
        let start = engine.rows.lines.reached();
        let (block, added) = engine.read_alone(block, &mut batch);
        for line in batch
            .refused
            .iter_mut()
            .map(|r| &mut r.0)
            .chain(&mut batch.lines)
        {
            *line -= start;
        }
        let parcel = Parcel {
            number,
            block,
            batch,
            added,
        };
        if done.send(parcel).is_err() {
            return;
        }
    }
}

/// The next block with its number, as soon as there is room for one more.
fn next(feed: &Mutex<Feed>) -> Option<(u64, Block, Batch)> {
    let mut feed = feed.lock().unwrap_or_else(PoisonError::into_inner);
    if feed.broken.is_some() {
        return None;
    }
    let (mut block, batch) = feed.empty.recv().ok()?;
    match feed.blocks.next(&mut block) {
        Ok(true) => {
            feed.number += 1;
            Some((feed.number - 1, block, batch))
        }
        Ok(false) => None,
        Err(error) => {
            feed.broken = Some(error);
            None
        }
    }
}

/// Hands batches on in order of their blocks, and reads those again that could not be read alone.
fn in_order(
    parcels: &Receiver<Parcel>,
    empties: Sender<(Block, Batch)>,
    engine: &mut Engine,
    take: &mut dyn FnMut(&mut Batch) -> io::Result<()>,
) -> io::Result<()> {
    let mut waiting = BTreeMap::new();
    let mut wanted = 0;
    for parcel in parcels {
        waiting.insert(parcel.number, parcel);
        while let Some(mut parcel) = waiting.remove(&wanted) {
            wanted += 1;
            match parcel.added.filter(|_| engine.takes_alone()) {
                Some(added) => {
                    let before = engine.rows.lines.reached();
                    let batch = &mut parcel.batch;
                    for line in batch
                        .refused
                        .iter_mut()
                        .map(|r| &mut r.0)
                        .chain(&mut batch.lines)
                    {
                        *line += before;
                    }
                    engine.go_on(&added);
                }
                None => parcel.block = engine.read(parcel.block, &mut parcel.batch),
            }
            take(&mut parcel.batch)?;
            // Threads that have ended need no more room.
            let _ = empties.send((parcel.block, parcel.batch));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use std::fmt::Write as _;
    use std::path::Path;

    use super::*;
    use crate::calendar::Calendar;
    use crate::log::early::Earlies;
    use crate::log::readings::{self, Columns, Tally};
    use crate::log::spare::Spare;
    use crate::log::survey::{self, Survey};
    use crate::log::{Request, source};

    /// Three megabytes of rows of a second over the end of summer time, with odd ones among them,
    /// some every few blocks and some in each; at the end two columns change places.
    fn log() -> String {
        let mut text = "Time,Battery voltage (V),Battery current (A),Note\n".to_owned();
        let zone = chrono_tz::Europe::Copenhagen;
        for k in 0..70_000_i64 {
            let at = chrono::DateTime::from_timestamp(1_792_879_200 + k, 0).unwrap();
            let stamp = at.with_timezone(&zone).format("%Y-%m-%d %H:%M:%S");
            let (volts, amps) = (12.5 + (k % 97) as f64 / 100.0, (k % 61) as f64 - 30.5);
            let _ = match k {
                _ if k % 9_973 == 5 => writeln!(text, "{stamp},{volts}"),
                _ if k % 7_001 == 9 => writeln!(text, "{stamp},\"{volts}\",{amps},\"a, b\""),
                _ if k % 11_003 == 3 => writeln!(text, "{stamp},{volts},{amps},\"two\nlines\""),
                _ if k % 997 == 7 => writeln!(text, "{stamp},---,{amps},caf\u{e9}\0"),
                _ if k % 1_499 == 2 => writeln!(text, "# {stamp}"),
                30_000 => writeln!(text, "Time,Battery voltage (V),Battery current (A),Note"),
                60_000 => writeln!(text, "Time,Battery current (A),Battery voltage (V),Note"),
                60_001.. => writeln!(text, "{stamp},{amps},{volts},ok"),
                _ => writeln!(text, "{stamp},{volts:.2},{amps},ok"),
            };
        }
        text
    }

    fn read(path: &Path, threads: usize) -> (Survey, Columns, Tally) {
        let calendar = Calendar::fixed(chrono_tz::Europe::Copenhagen);
        let request = Request {
            paths: vec![path.to_path_buf()],
            entries: &[],
            folder: None,
            calendar: &calendar,
            zone: None,
            nominal_v: None,
            from: None,
            to: None,
        };
        let file = source::expand(&request).unwrap().remove(0);
        let hands = Hands {
            threads,
            tell: &|_| (),
            spare: &Spare::default(),
        };
        let survey =
            survey::survey(file, &request, None, hands, &mut Earlies::new(&calendar)).unwrap();
        let mut tally = Tally::default();
        let mut all = Columns::of(readings::uses(&survey).len());
        readings::of(&survey, hands, &mut tally, &mut |rows| {
            for row in 0..rows.at.len() {
                let repaired = rows.repaired.contains(&(row as u32));
                all.push(rows.at[row], repaired, rows.row(row));
            }
            Ok(())
        })
        .unwrap();
        (survey, all, tally)
    }

    #[test]
    fn any_number_of_threads_reads_the_same() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("log.csv");
        let text = log();
        assert!(text.len() as u64 > SMALL);
        std::fs::write(&path, text).unwrap();
        let (one, rows, tally) = read(&path, 1);
        assert!(rows.at.windows(2).all(|w| w[1] - w[0] >= 1.0));
        for threads in [2, 5] {
            let (many, same_rows, same_tally) = read(&path, threads);
            assert_eq!(many.stats, one.stats);
            assert_eq!(many.notes, one.notes);
            assert_eq!((many.first, many.last), (one.first, one.last));
            assert_eq!((many.rows, many.step), (one.rows, one.step));
            assert_eq!(many.digest, one.digest);
            assert_eq!(same_rows.at, rows.at);
            assert_eq!(same_rows.repaired, rows.repaired);
            let bits = |c: &Columns| -> Vec<u64> {
                c.values.iter().flatten().map(|v| v.to_bits()).collect()
            };
            assert_eq!(bits(&same_rows), bits(&rows));
            assert_eq!(same_tally.kept, tally.kept);
            assert_eq!(
                (same_tally.used, same_tally.refused),
                (tally.used, tally.refused)
            );
        }
    }
}
