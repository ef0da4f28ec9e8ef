//! What is wrong with a design file, gathered by line so that one run shows it all.

use std::ops::Range;

use super::DesignError;
use super::system::Assumed;

/// More problems than this are only counted: they mostly follow from the first.
const SHOWN: usize = 20;

/// Problems and assumptions of one reading.
pub(super) struct Notes {
    file: String,
    /// Whether problems carry line numbers.
    lined: bool,
    /// Byte offset at which each line begins.
    starts: Vec<usize>,
    problems: Vec<(usize, String)>,
    /// Defaults that were filled in.
    pub(super) assumed: Vec<Assumed>,
}

impl Notes {
    pub(super) fn new(file: String, text: &str, lined: bool) -> Self {
        let breaks = text.match_indices('\n').map(|(at, _)| at + 1);
        Self {
            file,
            lined,
            starts: std::iter::once(0).chain(breaks).collect(),
            problems: Vec::new(),
            assumed: Vec::new(),
        }
    }

    /// Line, from 1, of a byte offset.
    pub(super) fn line(&self, offset: usize) -> usize {
        self.starts.partition_point(|start| *start <= offset)
    }

    /// Bytes between the beginning of its line and an offset.
    pub(super) fn within_line(&self, offset: usize) -> Range<usize> {
        let start = self.starts[self.line(offset).max(1) - 1];
        start..offset
    }

    /// Notes a problem at a place in the text.
    pub(super) fn problem(&mut self, span: Range<usize>, text: String) {
        let line = self.line(span.start);
        let text = match self.lined {
            true => format!("{}:{line}: {text}", self.file),
            false => format!("{}: {text}", self.file),
        };
        self.problems.push((line, text));
    }

    /// Notes a problem of the file as a whole.
    pub(super) fn problem_of_file(&mut self, text: String) {
        self.problems.push((0, format!("{}: {text}", self.file)));
    }

    /// Records a default.
    pub(super) fn assume(&mut self, key: String, value: String, why: &str) {
        let why = why.to_owned();
        self.assumed.push(Assumed { key, value, why });
    }

    /// Whether nothing is wrong so far.
    pub(super) fn clean(&self) -> bool {
        self.problems.is_empty()
    }

    /// All problems as one error, one a line in the order of the file.
    pub(super) fn into_error(mut self) -> DesignError {
        self.problems.sort_by_key(|p| p.0);
        self.problems.dedup();
        let count = self.problems.len();
        let mut lines: Vec<String> = self.problems.into_iter().map(|p| p.1).take(SHOWN).collect();
        if count > SHOWN {
            lines.push(format!("{}: and {} more", self.file, count - SHOWN));
        }
        DesignError(lines.join("\n"))
    }
}
