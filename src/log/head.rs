//! The front of a file, and its first lines.

use std::fs::File;
use std::io;
use std::path::Path;

use super::block::Block;
use super::decode::{self, Coding};
use super::lines::Lines;

/// Bytes of a file's front.
const FRONT: usize = 1 << 16;

/// The front of a file, read once for all that judge a file by how it begins.
#[derive(Debug)]
pub(crate) struct Front {
    /// Its bytes, unpacked where the file is packed.
    block: Block,
    /// Whether the file holds no more than these.
    whole: bool,
}

impl Front {
    /// Reads the front of a file into a block used before.
    ///
    /// # Errors
    /// When it cannot be read or unpacked.
    pub(crate) fn of(path: &Path, mut block: Block) -> io::Result<Self> {
        block.begin(&mut *decode::unpacked(File::open(path)?)?, FRONT)?;
        let whole = block.len() < FRONT;
        Ok(Self { block, whole })
    }

    /// Its bytes.
    pub(crate) fn bytes(&self) -> &[u8] {
        &self.block
    }

    /// The block it was read into.
    pub(crate) fn into_block(self) -> Block {
        self.block
    }

    /// Its first lines; `None` where they end too early, or have to be transcoded first.
    fn lines(&mut self, coding: Coding, most: usize) -> io::Result<Option<Head>> {
        if !coding.is_plain() {
            return Ok(None);
        }
        let mut lines = Lines::after(coding, 0);
        let mut block = std::mem::take(&mut self.block);
        if !self.whole {
            // A line cut off at the end would be taken for a whole one.
            block.truncate(memchr::memrchr(coding.end(), &block).map_or(0, |at| at + 1));
        }
        lines.load(block);
        let found = first(&mut lines, most)?;
        self.block = lines.load(Block::default());
        Ok((found.len() == most || self.whole).then_some(found))
    }
}

/// The first lines of a file, in one piece.
#[derive(Debug, Default)]
pub(crate) struct Head {
    bytes: Vec<u8>,
    /// Number, beginning and end of each line.
    lines: Vec<(u64, usize, usize)>,
}

/// A line by its number.
pub(crate) type Line<'h> = (u64, &'h [u8]);

impl Head {
    fn push(&mut self, number: u64, line: &[u8]) {
        let from = self.bytes.len();
        self.bytes.extend_from_slice(line);
        self.lines.push((number, from, self.bytes.len()));
    }

    /// How many there are.
    pub(crate) fn len(&self) -> usize {
        self.lines.len()
    }

    /// The lines, in order.
    pub(crate) fn lines(&self) -> Vec<Line<'_>> {
        let line = |l: &(u64, usize, usize)| (l.0, &self.bytes[l.1..l.2]);
        self.lines.iter().map(line).collect()
    }
}

/// Reads the first lines of a file: from its front, and from the file itself where that is too short.
///
/// # Errors
/// When the file cannot be read.
pub(crate) fn read(
    path: &Path,
    front: &mut Front,
    coding: Coding,
    most: usize,
) -> io::Result<Head> {
    match front.lines(coding, most)? {
        Some(found) => Ok(found),
        None => first(&mut Lines::open(path, coding)?, most),
    }
}

/// The first of these lines.
fn first(lines: &mut Lines, most: usize) -> io::Result<Head> {
    let mut head = Head::default();
    while head.lines.len() < most {
        match lines.advance() {
            Ok(true) => head.push(lines.number(), lines.line()),
            Ok(false) => break,
            // What came before a break is still good; the rows pass names the break.
            Err(error) if head.lines.is_empty() => return Err(error),
            Err(_) => break,
        }
    }
    Ok(head)
}
