//! Blocks of text into lines, counted from 1, without their ends.

use std::io;
use std::ops::Range;
use std::path::Path;

use super::block::{Block, Blocks};
use super::decode::{Coding, odd_quotes};

/// The lines of a file, or of one block of it.
pub(crate) struct Lines {
    /// Where the next block comes from; `None` where blocks are given one by one.
    blocks: Option<Blocks>,
    block: Block,
    /// Where the next line begins.
    at: usize,
    end: u8,
    /// The line last read: a part of the block, or put together in `made`.
    line: Option<Range<usize>>,
    made: Vec<u8>,
    number: u64,
    joined: u64,
    /// Whether NUL bytes were dropped from the line last read.
    pub(crate) had_nul: bool,
}

impl Lines {
    /// Opens a file for reading by lines.
    ///
    /// # Errors
    /// When the file cannot be opened.
    pub(crate) fn open(path: &Path, coding: Coding) -> io::Result<Self> {
        let mut lines = Self::after(coding, 0);
        lines.blocks = Some(Blocks::open(path, coding)?);
        Ok(lines)
    }

    /// Lines of blocks yet to be given, after the line of that number.
    pub(crate) fn after(coding: Coding, number: u64) -> Self {
        Self {
            blocks: None,
            block: Block::default(),
            at: 0,
            end: coding.end(),
            line: None,
            made: Vec::new(),
            number,
            joined: 0,
            had_nul: false,
        }
    }

    /// Takes the next block, and gives back the one before.
    pub(crate) fn load(&mut self, block: Block) -> Block {
        self.at = 0;
        self.line = None;
        std::mem::replace(&mut self.block, block)
    }

    /// Number of the line last read.
    pub(crate) fn number(&self) -> u64 {
        self.number
    }

    /// Counts on from another line.
    pub(crate) fn renumber(&mut self, number: u64) {
        self.number = number;
        self.joined = 0;
    }

    /// The number lines go on from: a line put together counts as all of its own.
    pub(crate) fn reached(&self) -> u64 {
        self.number + self.joined
    }

    /// What of the block is not yet read.
    pub(crate) fn ahead(&self) -> (&[u8], usize) {
        (&self.block, self.at)
    }

    /// Goes on at another place of the block, some lines on; the last of them is the line last read.
    pub(crate) fn go_on(&mut self, at: usize, lines: u64, last: Range<usize>) {
        if lines > 0 {
            self.number += self.joined + lines;
            self.joined = 0;
            self.line = Some(last);
            self.at = at;
            self.had_nul = false;
        }
    }

    /// The line last read.
    pub(crate) fn line(&self) -> &[u8] {
        match &self.line {
            Some(range) => &self.block[range.clone()],
            None => &self.made,
        }
    }

    /// Reads the next line; false at the end of the file or of the block. A cell broken over two
    /// lines inside its quotes makes one line of them, under the first one's number.
    ///
    /// # Errors
    /// When the file cannot be read on (for instance a gzip stream that breaks off).
    pub(crate) fn advance(&mut self) -> io::Result<bool> {
        if self.at >= self.block.len() && !self.next_block()? {
            return Ok(false);
        }
        let (mut line, next) = self.raw(self.at);
        self.number += self.joined + 1;
        self.joined = 0;
        self.at = next;
        // Files put together have the mark of each at its beginning.
        if self.block[line.clone()].starts_with(&[0xef, 0xbb, 0xbf]) {
            line.start += 3;
        }
        self.line = Some(line.clone());
        if odd_quotes(&self.block[line.clone()]) {
            self.close_quote(line);
        }
        self.had_nul = memchr::memchr(0, self.line()).is_some();
        if self.had_nul {
            let kept: Vec<u8> = self.line().iter().copied().filter(|b| *b != 0).collect();
            self.made = kept;
            self.line = None;
        }
        Ok(true)
    }

    fn next_block(&mut self) -> io::Result<bool> {
        let Some(blocks) = &mut self.blocks else {
            return Ok(false);
        };
        self.at = 0;
        self.line = None;
        self.made.clear();
        blocks.next(&mut self.block)
    }

    /// Joins the next line where it closes the quote this one leaves open.
    fn close_quote(&mut self, line: Range<usize>) {
        if self.at >= self.block.len() {
            return;
        }
        let (following, next) = self.raw(self.at);
        if odd_quotes(&self.block[following.clone()]) {
            self.made.clear();
            self.made.extend_from_slice(&self.block[line]);
            self.made.push(b' ');
            self.made.extend_from_slice(&self.block[following]);
            self.line = None;
            self.joined = 1;
            self.at = next;
        }
    }

    /// The line at a place of the block without its end, and where the next one begins.
    fn raw(&self, from: usize) -> (Range<usize>, usize) {
        let rest = &self.block[from..];
        let found = memchr::memchr(self.end, rest);
        let mut to = from + found.unwrap_or(rest.len());
        let next = found.map_or(self.block.len(), |at| from + at + 1);
        while to > from && matches!(self.block[to - 1], b'\r' | b'\n') {
            to -= 1;
        }
        (from..to, next)
    }
}
