//! How far the reading has come, for whoever watches.

use std::cell::Cell;

use super::spare::Spare;

/// How far the reading has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Progress {
    /// Bytes of the files read, compressed ones as they lie there.
    pub done: u64,
    /// Bytes of all files.
    pub total: u64,
    /// Whether this is a second pass over some of them.
    pub again: bool,
}

/// Is told now and then how far the reading has come, on the thread that asked for it.
pub type Watch<'w> = &'w dyn Fn(Progress);

/// What a reading works with: threads, memory used before, and somebody who may watch.
#[derive(Clone, Copy)]
pub(crate) struct Hands<'w> {
    /// Threads to read with.
    pub(crate) threads: usize,
    /// Takes bytes read since it was last told.
    pub(crate) tell: &'w dyn Fn(u64),
    /// Blocks and batches nobody needs at the moment.
    pub(crate) spare: &'w Spare,
}

/// Adds up what is read and tells it on.
pub(crate) struct Teller<'w> {
    watch: Watch<'w>,
    done: Cell<u64>,
    total: Cell<u64>,
    again: Cell<bool>,
}

impl<'w> Teller<'w> {
    /// Tells this watch.
    pub(crate) fn new(watch: Watch<'w>) -> Self {
        Self {
            watch,
            done: Cell::new(0),
            total: Cell::new(0),
            again: Cell::new(false),
        }
    }

    /// Begins a pass over files of so many bytes.
    pub(crate) fn begin(&self, total: u64, again: bool) {
        self.done.set(0);
        self.total.set(total);
        self.again.set(again);
    }

    /// So many bytes more have been read.
    pub(crate) fn tell(&self, bytes: u64) {
        // Files whose dates had to be settled by others are read again.
        self.done
            .set((self.done.get() + bytes).min(self.total.get()));
        (self.watch)(Progress {
            done: self.done.get(),
            total: self.total.get(),
            again: self.again.get(),
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::RefCell;

    #[test]
    fn a_pass_begins_at_nothing() {
        let told = RefCell::new(Vec::new());
        let watch = |p: Progress| told.borrow_mut().push((p.done, p.total, p.again));
        let teller = Teller::new(&watch);
        teller.begin(10, false);
        teller.tell(4);
        teller.tell(6);
        teller.begin(7, true);
        teller.tell(7);
        let expected = [(4, 10, false), (10, 10, false), (7, 7, true)];
        assert_eq!(*told.borrow(), expected);
    }
}
