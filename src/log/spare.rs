//! Memory of blocks and batches, used again from file to file.

use std::sync::{Mutex, PoisonError};

use super::batch::Batch;
use super::block::Block;

/// What nobody needs at the moment. Whoever takes something finds it filled with anything.
#[derive(Default)]
pub(crate) struct Spare {
    blocks: Mutex<Vec<Block>>,
    batches: Mutex<Vec<Batch>>,
}

impl Spare {
    /// A block, new where none is left.
    pub(crate) fn block(&self) -> Block {
        take(&self.blocks)
    }

    /// A batch, new where none is left.
    pub(crate) fn batch(&self) -> Batch {
        take(&self.batches)
    }

    /// Takes a block back.
    pub(crate) fn keep_block(&self, block: Block) {
        keep(&self.blocks, block);
    }

    /// Takes a batch back.
    pub(crate) fn keep_batch(&self, batch: Batch) {
        keep(&self.batches, batch);
    }
}

fn take<T: Default>(pile: &Mutex<Vec<T>>) -> T {
    let mut pile = pile.lock().unwrap_or_else(PoisonError::into_inner);
    pile.pop().unwrap_or_default()
}

fn keep<T>(pile: &Mutex<Vec<T>>, one: T) {
    let mut pile = pile.lock().unwrap_or_else(PoisonError::into_inner);
    pile.push(one);
}
