//! What to tell an owner whose file holds no table that can be read.

use super::table::{Row, Table};
use crate::mapping::HeaderRef;

/// The message for a file without a row to read.
pub(crate) fn message(table: &Table, said: Option<HeaderRef>) -> String {
    if let Some(HeaderRef::Line(line)) = said {
        return format!(
            "no data row follows the header line {line} given in the design; check `header`"
        );
    }
    if let Some(row) = table.iter().find(|r| names_itself(*r).is_some()) {
        return format!("line {}: {}", row.line, named_cells(row));
    }
    match table.iter().find(|row| row.full().count() > 1) {
        Some(row) => format!(
            "line {}: a header, but no data row follows; check that the log was written out whole",
            row.line
        ),
        None => format!(
            "no table found: expected rows with a time and readings, parted by comma, semicolon, tab or |; {}",
            hint(table)
        ),
    }
}

/// The first cell that names itself, in a row where at least two do: `volts=12.8`.
fn names_itself(row: Row<'_>) -> Option<&str> {
    let mut named = row.iter().filter(|c| c.contains('='));
    named.next().filter(|_| named.next().is_some())
}

/// The message for rows whose cells name themselves; empty where they do not.
pub(crate) fn named_cells(row: Row) -> String {
    names_itself(row).map_or_else(String::new, |cell| {
        format!("cells name themselves ('{cell}'); a log is needed with the titles in one line and bare values below: write it out so")
    })
}

/// What the lines look like, and what to do about it.
fn hint(table: &Table) -> String {
    if let Some(mark) = odd_delimiter(table) {
        return format!(
            "if it is another, which may be \"{mark}\" here, set `delimiter` in its [[log]] entry"
        );
    }
    let lines = || table.column(0);
    let fields = |line: &&str| line.split_whitespace().count() >= 3;
    if lines().filter(fields).count() * 10 >= table.len() * 8 && table.len() > 2 {
        return "here only spaces part them, which may also stand inside a stamp: write the log out with commas or tabs".to_owned();
    }
    "if it is another, set `delimiter` in its [[log]] entry".to_owned()
}

/// A mark that parts the uncut lines evenly, where it is none of the usual ones.
fn odd_delimiter(table: &Table) -> Option<char> {
    const ODD: [char; 8] = ['~', '^', '!', '&', '#', '\u{a7}', '\u{a6}', '*'];
    let lines: Vec<&str> = table.column(0).collect();
    ODD.into_iter().find(|mark| {
        let counts: Vec<usize> = lines.iter().map(|l| l.matches(*mark).count()).collect();
        let most = counts.iter().copied().max().unwrap_or(0);
        most > 0 && counts.iter().filter(|c| **c == most).count() * 10 >= counts.len() * 8
    })
}
