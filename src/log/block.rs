//! The bytes of a file in blocks that end where a line ends, each small enough to be held.
//!
//! Where blocks end depends on the bytes alone: whoever reads them, in whatever number, sees the
//! same blocks.

use std::fs::File;
use std::io::{self, Read};
use std::ops::Deref;
use std::path::Path;

use super::decode::{self, Coding};

/// Usual size of a block.
const BLOCK: usize = 1 << 18;
/// Size of the first block: the head of most files, and all of small ones.
const FIRST: usize = 1 << 14;
/// Longest line taken; a longer one is cut, which makes its row too wide to be used.
const LONGEST: usize = 1 << 20;

/// Bytes of whole lines, in memory that is used again and again.
#[derive(Debug, Default)]
pub(crate) struct Block {
    /// As long as it ever was: beyond `len` stands what is left of earlier blocks.
    bytes: Vec<u8>,
    len: usize,
    /// Its place among the blocks of its file, from 0.
    pub(crate) number: u64,
}

impl Block {
    /// Reads the first bytes of a stream, and no more than so many.
    ///
    /// # Errors
    /// When the stream cannot be read.
    pub(crate) fn begin(&mut self, from: &mut dyn Read, most: usize) -> io::Result<()> {
        self.len = 0;
        self.number = 0;
        self.fill(from, most).map(|_| ())
    }

    /// Reads on until the block has this size; true where the stream ends before.
    fn fill(&mut self, from: &mut dyn Read, size: usize) -> io::Result<bool> {
        self.reach(size);
        while self.len < size {
            match from.read(&mut self.bytes[self.len..size]) {
                Ok(0) => return Ok(true),
                Ok(got) => self.len += got,
                Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
                Err(error) => return Err(error),
            }
        }
        Ok(false)
    }

    /// Leaves only the first bytes.
    pub(crate) fn truncate(&mut self, len: usize) {
        self.len = self.len.min(len);
    }

    fn extend(&mut self, more: &[u8]) {
        self.reach(self.len + more.len());
        self.bytes[self.len..self.len + more.len()].copy_from_slice(more);
        self.len += more.len();
    }

    /// Makes room for so many bytes in all.
    fn reach(&mut self, size: usize) {
        if self.bytes.len() < size {
            self.bytes.resize(size, 0);
        }
    }
}

impl Deref for Block {
    type Target = [u8];

    fn deref(&self) -> &[u8] {
        &self.bytes[..self.len]
    }
}

/// Reads a file block by block.
pub(crate) struct Blocks {
    reader: Box<dyn Read + Send>,
    /// The byte a line ends with.
    end: u8,
    /// What was read beyond the end of the last block.
    rest: Vec<u8>,
    size: usize,
    /// Blocks given out.
    count: u64,
    over: bool,
    /// The error that ended the file early, until it is told.
    broken: Option<io::Error>,
}

impl Blocks {
    /// Opens a file.
    ///
    /// # Errors
    /// When the file cannot be opened.
    pub(crate) fn open(path: &Path, coding: Coding) -> io::Result<Self> {
        Self::of(File::open(path)?, coding)
    }

    /// Reads an open file.
    ///
    /// # Errors
    /// When it cannot be read.
    pub(crate) fn of(file: impl Read + Send + 'static, coding: Coding) -> io::Result<Self> {
        Ok(Self {
            reader: decode::stream(file, coding)?,
            end: coding.end(),
            rest: Vec::new(),
            size: FIRST,
            count: 0,
            over: false,
            broken: None,
        })
    }

    /// The next block, whole lines only; false at the end of the file.
    ///
    /// # Errors
    /// When the file cannot be read on, after all lines before the break.
    pub(crate) fn next(&mut self, into: &mut Block) -> io::Result<bool> {
        into.truncate(0);
        into.number = self.count;
        self.count += 1;
        into.extend(&self.rest);
        self.rest.clear();
        loop {
            self.fill(into);
            if self.over {
                return self.last(into);
            }
            if let Some(at) = self.cut(into) {
                self.rest.extend_from_slice(&into[at..]);
                into.truncate(at);
                self.size = BLOCK;
                return Ok(true);
            }
            if into.len >= LONGEST && memchr::memchr(self.end, into).is_none() {
                self.skip_line(into);
            } else {
                self.size = into.len + BLOCK;
            }
        }
    }

    /// Reads until the block has its size or the file ends.
    fn fill(&mut self, into: &mut Block) {
        if self.over {
            return;
        }
        match into.fill(&mut *self.reader, self.size) {
            Ok(over) => self.over = over,
            Err(error) => {
                self.broken = Some(error);
                self.over = true;
            }
        }
    }

    /// The last block; of a file that breaks off, without the line it breaks off in.
    fn last(&mut self, into: &mut Block) -> io::Result<bool> {
        if self.broken.is_some() {
            let whole = memchr::memrchr(self.end, into).map_or(0, |at| at + 1);
            into.truncate(whole);
        }
        if !into.is_empty() {
            return Ok(true);
        }
        match self.broken.take() {
            Some(error) => Err(error),
            None => Ok(false),
        }
    }

    /// Where to end the block: after a line that leaves no quote open, so that no cell broken over
    /// two lines is parted. `None`: read on.
    fn cut(&self, block: &[u8]) -> Option<usize> {
        let mut at = memchr::memrchr(self.end, block)? + 1;
        loop {
            let from = memchr::memrchr(self.end, &block[..at - 1]).map_or(0, |b| b + 1);
            if !decode::odd_quotes(&block[from..at]) {
                return Some(at);
            }
            if from == 0 {
                break;
            }
            at = from;
        }
        // All lines have an odd number of quotes: they belong together two by two.
        let mut ends = memchr::memchr_iter(self.end, block);
        let (mut even, mut pair) = (None, false);
        for end in &mut ends {
            if pair {
                even = Some(end + 1);
            }
            pair = !pair;
        }
        even
    }

    /// Keeps the beginning of a line too long to be held, and reads on to its end.
    fn skip_line(&mut self, into: &mut Block) {
        into.truncate(LONGEST);
        let mut more = Block::default();
        while !self.over {
            more.truncate(0);
            self.size = BLOCK;
            self.fill(&mut more);
            if let Some(at) = memchr::memchr(self.end, &more) {
                into.extend(&more[at..]);
                break;
            }
        }
        self.size = into.len;
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn blocks(bytes: &[u8]) -> Vec<Vec<u8>> {
        let mut file = tempfile::NamedTempFile::new().unwrap();
        io::Write::write_all(&mut file, bytes).unwrap();
        let coding = decode::sniff(bytes, None).unwrap();
        let mut blocks = Blocks::open(file.path(), coding).unwrap();
        let (mut all, mut block) = (Vec::new(), Block::default());
        while blocks.next(&mut block).unwrap() {
            all.push(block.to_vec());
        }
        all
    }

    #[test]
    fn blocks_end_with_lines_and_together_are_the_file() {
        let text: String = (0..60_000).map(|k| format!("{k},12.5\n")).collect();
        let found = blocks(text.as_bytes());
        assert!(found.len() > 2);
        assert!(found.iter().all(|b| b.ends_with(b"\n")));
        assert_eq!(found.concat(), text.as_bytes());
    }

    #[test]
    fn a_cell_over_two_lines_stays_in_one_block() {
        let text = "1,\"a\nb\"\n".repeat(60_000);
        let found = blocks(text.as_bytes());
        assert!(found.len() > 1);
        assert!(found.iter().all(|b| b.ends_with(b"b\"\n")));
        assert_eq!(found.concat(), text.as_bytes());
    }

    #[test]
    fn a_line_without_end_is_cut_and_the_next_one_is_whole() {
        let mut text = vec![b'x'; 5 * LONGEST];
        text.extend_from_slice(b"\nnext,1\n");
        let found = blocks(&text).concat();
        let lines: Vec<&[u8]> = found.split(|b| *b == b'\n').collect();
        assert_eq!(lines[0].len(), LONGEST);
        assert_eq!(lines[1], b"next,1");
        let endless = blocks(&vec![b'"'; 3 * LONGEST]).concat();
        assert_eq!(endless.len(), LONGEST);
    }
}
