//! Work done by several threads, handed on in order.

use std::collections::BTreeMap;
use std::io;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, channel};
use std::sync::{Mutex, PoisonError};

/// Results under way for each thread.
const AHEAD: usize = 2;

/// Does `count` pieces of work and hands their results on in order; no more than a few results wait.
///
/// # Errors
/// The first error of `take`.
pub(crate) fn map<T: Send>(
    threads: usize,
    count: usize,
    work: impl Fn(usize) -> T + Sync,
    mut take: impl FnMut(T) -> io::Result<()>,
) -> io::Result<()> {
    if threads < 2 || count < 2 {
        return (0..count).map(work).try_for_each(take);
    }
    let next = AtomicUsize::new(0);
    let (leave, leaves) = channel();
    for _ in 0..threads * AHEAD {
        // The other end is at hand.
        let _ = leave.send(());
    }
    let leaves = Mutex::new(leaves);
    std::thread::scope(|scope| {
        let (done, results) = channel();
        for _ in 0..threads.min(count) {
            let (next, leaves, work, done) = (&next, &leaves, &work, done.clone());
            scope.spawn(move || {
                while let Some(k) = turn(next, leaves, count) {
                    if done.send((k, work(k))).is_err() {
                        return;
                    }
                }
            });
        }
        drop(done);
        let mut waiting = BTreeMap::new();
        let mut wanted = 0;
        for (k, result) in results {
            waiting.insert(k, result);
            while let Some(result) = waiting.remove(&wanted) {
                wanted += 1;
                if let Err(error) = take(result) {
                    // Without leave no thread begins another piece.
                    drop(leave);
                    return Err(error);
                }
                let _ = leave.send(());
            }
        }
        Ok(())
    })
}

/// The next piece of work, as soon as it may begin.
fn turn(next: &AtomicUsize, leaves: &Mutex<Receiver<()>>, count: usize) -> Option<usize> {
    let leaves = leaves.lock().unwrap_or_else(PoisonError::into_inner);
    if next.load(Ordering::SeqCst) >= count {
        return None;
    }
    leaves.recv().ok()?;
    Some(next.fetch_add(1, Ordering::SeqCst)).filter(|k| *k < count)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    #[test]
    fn results_come_in_order_whoever_made_them() {
        for threads in [1, 2, 5] {
            let mut seen = Vec::new();
            map(
                threads,
                100,
                |k| k * k,
                |square| {
                    seen.push(square);
                    Ok(())
                },
            )
            .unwrap();
            assert!(seen.iter().enumerate().all(|(k, square)| *square == k * k));
            assert_eq!(seen.len(), 100);
        }
    }

    #[test]
    fn an_error_ends_it() {
        let mut taken = 0;
        let failed = map(
            3,
            1000,
            |k| k,
            |k| {
                taken += 1;
                if k == 4 {
                    Err(io::Error::other("full"))
                } else {
                    Ok(())
                }
            },
        );
        assert!(failed.is_err());
        assert_eq!(taken, 5);
    }
}
