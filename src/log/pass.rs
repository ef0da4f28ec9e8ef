//! One pass over a file: blocks read in order, made into batches by as many threads as there are
//! processors, handed on in order. What is handed on does not depend on how many threads there are.

use std::collections::BTreeMap;
use std::io;
use std::path::Path;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Mutex, PoisonError};

use super::batch::{Batch, Want};
use super::block::{Block, Blocks};
use super::digest::{Digest, Digested};
use super::engine::{Added, Engine};
use super::rows::{Choice, Rows};
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

/// Reads a file and hands its batches on in order. A digest given has the file mixed in.
///
/// # Errors
/// When the file cannot be opened, or whatever `take` fails with.
pub(crate) fn over<'a>(
    path: &Path,
    digest: Option<Digest>,
    choice: Choice<'a>,
    want: Want<'a>,
    hands: Hands,
    take: &mut dyn FnMut(&Batch) -> io::Result<()>,
) -> io::Result<Passed<'a>> {
    let file = Digested::open(path, digest)?;
    let mut blocks = Blocks::of(file.clone(), choice.coding)?;
    let mut told = 0;
    let take = &mut |batch: &Batch| {
        let so_far = file.so_far();
        (hands.tell)(so_far - told);
        told = so_far;
        take(batch)
    };
    let mut engine = Engine::after(choice, want, 0);
    let mut batch = Batch::default();
    let mut block = Block::default();
    let large = std::fs::metadata(path)?.len() >= SMALL;
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
        take(&batch)?;
        if many && engine.takes_alone() {
            broken = together(blocks, &mut engine, want, threads, take)?;
            break;
        }
    }
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
    take: &mut dyn FnMut(&Batch) -> io::Result<()>,
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
    take: &mut dyn FnMut(&Batch) -> io::Result<()>,
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
            take(&parcel.batch)?;
            // Threads that have ended need no more room.
            let _ = empties.send((parcel.block, parcel.batch));
        }
    }
    Ok(())
}
