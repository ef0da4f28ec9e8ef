//! Row by row through a file: cells and instant of each, or why a row cannot be used.

use super::clock::{Clock, ClockPlan};
use super::decode::{self, Coding};
use super::layout::{self, Layout};
use super::lines::Lines;
use crate::mapping::LogEntry;

/// What became of a row's time.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Outcome {
    /// The instant; whether the row had to be repaired.
    At(f64, bool),
    /// Why the row cannot be used.
    Refused(&'static str),
}

/// Which rows of a file count, and what they must have.
#[derive(Clone, Copy)]
pub(crate) struct Choice<'a> {
    pub(crate) coding: Coding,
    pub(crate) layout: &'a Layout,
    pub(crate) plan: &'a ClockPlan,
    /// Only rows with this text in this column.
    pub(crate) only: Option<&'a (usize, String)>,
    /// Cells a row must have.
    pub(crate) least: usize,
    /// Whether to look for lines that are not valid UTF-8.
    pub(crate) check_text: bool,
}

/// Reads the data rows of a file in order, block by block.
pub(crate) struct Rows<'a> {
    pub(crate) lines: Lines,
    pub(crate) choice: Choice<'a>,
    pub(crate) clock: Clock,
    cells: Vec<(u32, u32)>,
    joined: Vec<u8>,
    /// Rows read so far.
    pub(crate) count: u64,
    /// Rows of another device, by `only`.
    pub(crate) others: u64,
    /// Whether any line is not valid UTF-8.
    pub(crate) foreign: bool,
    /// Where each column stands since the header last changed; empty while it has not.
    moved: Vec<Option<usize>>,
    /// Lines at which another header took over.
    pub(crate) changes: Vec<u64>,
}

impl<'a> Rows<'a> {
    /// Rows of blocks yet to be loaded, after the line of that number.
    pub(crate) fn after(choice: Choice<'a>, number: u64) -> Self {
        Self {
            lines: Lines::after(choice.coding, number),
            choice,
            clock: Clock::new(choice.plan.clone()),
            cells: Vec::with_capacity(32),
            joined: Vec::with_capacity(64),
            count: 0,
            others: 0,
            foreign: false,
            moved: Vec::new(),
            changes: Vec::new(),
        }
    }

    /// Whether columns stand elsewhere than under the first header.
    pub(crate) fn is_moved(&self) -> bool {
        !self.moved.is_empty()
    }

    /// Forgets headers that took over.
    pub(crate) fn stay(&mut self) {
        self.moved.clear();
        self.changes.clear();
    }

    /// Line number of the row last read.
    pub(crate) fn line_number(&self) -> u64 {
        self.lines.number()
    }

    /// The line of the row last read.
    pub(crate) fn line(&self) -> &[u8] {
        self.lines.line()
    }

    /// A cell of the row last read; empty where the row is short.
    pub(crate) fn cell(&self, column: usize) -> &[u8] {
        self.cells
            .get(column)
            .map_or(&[][..], |r| &self.lines.line()[r.0 as usize..r.1 as usize])
    }

    /// The next data row's outcome; `None` at the end of the block.
    pub(crate) fn advance(&mut self) -> Option<Outcome> {
        let layout = self.choice.layout;
        // Blocks are held in memory: reading a line of one cannot fail.
        while self.lines.advance().unwrap_or(false) {
            let line = self.lines.line();
            if self.choice.check_text && !self.foreign {
                self.foreign = std::str::from_utf8(line).is_err();
            }
            if self.lines.number() < layout.first_row || self.is_no_row() {
                continue;
            }
            layout::cut(self.lines.line(), layout.delimiter, &mut self.cells);
            if let Some((column, wanted)) = self.choice.only
                && decode::text(self.cell(*column)).trim() != wanted
            {
                self.others += 1;
                continue;
            }
            if self.is_other_header() {
                continue;
            }
            if !self.moved.is_empty() {
                self.rearrange();
            }
            self.count += 1;
            return Some(self.judge());
        }
        None
    }

    /// Blank lines, remarks and repeated headers.
    fn is_no_row(&self) -> bool {
        let line = self.lines.line();
        let trimmed = line.trim_ascii();
        trimmed.is_empty()
            || (layout::is_comment(line))
            || (self.moved.is_empty()
                && !self.choice.layout.header_text.is_empty()
                && trimmed == self.choice.layout.header_text)
            || (self.lines.had_nul && trimmed.iter().all(|b| *b == self.choice.layout.delimiter))
    }

    /// Puts the cells of a row under another header where the first header has them. A row too
    /// short for a cell it should have stays short.
    fn rearrange(&mut self) {
        let placed: Vec<(u32, u32)> = self
            .moved
            .iter()
            .map_while(|at| match at {
                None => Some((0, 0)),
                Some(at) => self.cells.get(*at).copied(),
            })
            .collect();
        self.cells = placed;
    }

    /// A line of titles that names columns anew: a log goes on under another header.
    fn is_other_header(&mut self) -> bool {
        if self.choice.layout.header_text.is_empty()
            || self.cell(0).first().is_none_or(|b| b.is_ascii_digit())
        {
            return false;
        }
        let titles = layout::cells(self.lines.line(), self.choice.layout.delimiter);
        let place = |title: &String| titles.iter().position(|t| t == title && !t.is_empty());
        let moved: Vec<Option<usize>> = self.choice.layout.titles.iter().map(place).collect();
        if moved.iter().flatten().count() < 2 {
            return false;
        }
        self.changes.push(self.lines.number());
        self.moved = moved;
        true
    }

    fn judge(&mut self) -> Outcome {
        let titles = self.choice.layout.titles.len();
        if self.cells.len() < self.choice.least && !self.choice.layout.ragged {
            return Outcome::Refused("torn: too few cells");
        }
        if self.cells.len() > titles
            && (titles..self.cells.len()).any(|k| !self.cell(k).trim_ascii().is_empty())
        {
            return Outcome::Refused("too many cells");
        }
        match self.instant() {
            Some((at, repaired)) => Outcome::At(at, repaired || self.lines.had_nul),
            None => Outcome::Refused("no time"),
        }
    }

    fn instant(&mut self) -> Option<(f64, bool)> {
        let decimal = self.choice.layout.decimal;
        let columns = &self.choice.plan.columns;
        if let [column] = columns[..] {
            let range = self.cells.get(column)?;
            return self.clock.read(
                &self.lines.line()[range.0 as usize..range.1 as usize],
                decimal,
            );
        }
        self.joined.clear();
        for column in columns {
            let range = self.cells.get(*column)?;
            if !self.joined.is_empty() {
                self.joined.push(b' ');
            }
            self.joined.extend_from_slice(
                self.lines.line()[range.0 as usize..range.1 as usize].trim_ascii(),
            );
        }
        self.clock.read(&self.joined, decimal)
    }
}

/// The column and text of the entry's `only`.
///
/// # Errors
/// A column that is not there.
pub(crate) fn only(
    entry: Option<&LogEntry>,
    layout: &Layout,
) -> Result<Option<(usize, String)>, String> {
    let Some((column, equals)) = entry.and_then(|e| e.only.as_ref()) else {
        return Ok(None);
    };
    let found = super::columns::position(column, layout)
        .ok_or_else(|| super::columns::missing("only", column, layout))?;
    Ok(Some((found, equals.clone())))
}
