//! How the table lies in the file: delimiter, decimal mark, header line, units row, first data row.

use std::path::Path;

use super::decode::Coding;
use super::head::{self, Front, Line};
use super::table::{Row, Table};
use super::{decimal, decode, no_table, number, stamp, words};
use crate::mapping::{HeaderRef, LogEntry};

/// Lines looked at to find the layout of a file with a long preamble.
const SAMPLE: usize = 500;
/// Lines that show the layout of most files.
const FEW: usize = 96;

/// Most columns a log may have: any more are a text cut wrongly.
const MOST_COLUMNS: usize = 4096;

/// Delimiters, in the order of trust: a comma may also be a decimal mark.
const DELIMITERS: [u8; 4] = [b'\t', b';', b'|', b','];

/// The table's layout.
#[derive(Debug)]
pub(crate) struct Layout {
    pub(crate) delimiter: u8,
    pub(crate) decimal: u8,
    /// Line number of the header; `None` where there is none.
    pub(crate) header_line: Option<u64>,
    /// Line number of the first data row.
    pub(crate) first_row: u64,
    /// Titles, or numbers where there is no header; behind them those of later headers.
    pub(crate) titles: Vec<String>,
    /// How many of the titles are the first header's.
    pub(crate) own: usize,
    /// The header line as it stands, to know it again.
    pub(crate) header_text: Vec<u8>,
    /// Cells of a units row under the header.
    pub(crate) units: Vec<String>,
    /// Cells of the sampled data rows.
    pub(crate) sample: Table,
    /// Whether rows of this file often end early (trailing empty cells left out).
    pub(crate) ragged: bool,
}

impl Layout {
    /// The same without the sampled rows.
    pub(crate) fn without_sample(&self) -> Self {
        Self {
            delimiter: self.delimiter,
            decimal: self.decimal,
            header_line: self.header_line,
            first_row: self.first_row,
            titles: self.titles.clone(),
            own: self.own,
            header_text: self.header_text.clone(),
            units: self.units.clone(),
            sample: Table::default(),
            ragged: self.ragged,
        }
    }
}

/// Cuts a line into cells (byte ranges without quotes around them).
///
/// Quotes count only within the line: a torn quote spoils its own row and no other. Single ones count
/// where the line begins with one, and hold no delimiter.
pub(crate) fn cut(line: &[u8], delimiter: u8, into: &mut Vec<(u32, u32)>) {
    into.clear();
    if memchr::memchr(b'"', line).is_none() {
        let single = line.first() == Some(&b'\'');
        let mut from = 0_usize;
        let ends = memchr::memchr_iter(delimiter, line).chain(std::iter::once(line.len()));
        for at in ends {
            into.push(match single {
                true => unquoted(line, from, at, b'\''),
                false => (from as u32, at as u32),
            });
            from = at + 1;
        }
        return;
    }
    let (mut from, mut quoted) = (0_usize, false);
    for (at, byte) in line.iter().enumerate() {
        if *byte == b'"' {
            quoted = !quoted;
        } else if *byte == delimiter && !quoted {
            into.push(unquoted(line, from, at, b'"'));
            from = at + 1;
        }
    }
    into.push(unquoted(line, from, line.len(), b'"'));
}

fn unquoted(line: &[u8], mut from: usize, mut to: usize, quote: u8) -> (u32, u32) {
    while from < to && line[from].is_ascii_whitespace() {
        from += 1;
    }
    while from < to && line[to - 1].is_ascii_whitespace() {
        to -= 1;
    }
    if to - from >= 2 && line[from] == quote && line[to - 1] == quote {
        return (from as u32 + 1, to as u32 - 1);
    }
    (from as u32, to as u32)
}

/// The cells of a line as text.
pub(crate) fn cells(line: &[u8], delimiter: u8) -> Vec<String> {
    let mut ranges = Vec::new();
    cut(line, delimiter, &mut ranges);
    ranges
        .iter()
        .map(|r| {
            decode::text(&line[r.0 as usize..r.1 as usize])
                .trim()
                .to_owned()
        })
        .collect()
}

/// Whether a line is a remark.
pub(crate) fn is_comment(line: &[u8]) -> bool {
    let start = line.trim_ascii_start();
    start.starts_with(b"#") || start.starts_with(b"//") || start.starts_with(b"%")
}

/// Finds the layout of a file by its front, and by more of it where that is needed.
///
/// # Errors
/// A message without the file's name: empty, only a header, no table.
pub(crate) fn find(
    path: &Path,
    front: &mut Front,
    coding: Coding,
    entry: Option<&LogEntry>,
) -> Result<Layout, String> {
    let mut lines = |most| {
        head::read(path, front, coding, most).map_err(|e| {
            let message = super::source::cannot("", &e).0;
            message.trim_start_matches(": ").to_owned()
        })
    };
    let few = lines(FEW)?;
    let over = few.len() < FEW;
    let found = within(&few.lines(), entry);
    let is_enough = |layout: &Layout| layout.sample.len() * 2 >= FEW;
    if over || found.as_ref().is_ok_and(is_enough) {
        return found;
    }
    within(&lines(SAMPLE)?.lines(), entry)
}

/// The layout by the first lines of a file.
fn within(lines: &[Line], entry: Option<&LogEntry>) -> Result<Layout, String> {
    if lines.iter().all(|l| l.1.trim_ascii().is_empty()) {
        return Err("is empty: there is nothing to read".to_owned());
    }
    let delimiter = entry
        .and_then(|e| e.delimiter)
        .unwrap_or_else(|| delimiter_of(lines));
    let mut table = Table::default();
    let mut ranges = Vec::new();
    for (number, line) in lines.iter().filter(|l| !l.1.trim_ascii().is_empty()) {
        cut(line, delimiter, &mut ranges);
        if ranges.len() > MOST_COLUMNS {
            return Err(format!(
                "line {number}: cut into {} cells, and a log has {MOST_COLUMNS} columns at most; check `delimiter` in its [[log]] entry",
                ranges.len()
            ));
        }
        table.push(*number, line, &ranges);
    }
    let said = entry.and_then(|e| e.header);
    if let Some(HeaderRef::Line(line)) = said
        && table
            .iter()
            .any(|r| r.line == line as u64 && Look::of(r).data)
    {
        return Err(format!(
            "line {line}: given as the header in its [[log]] entry, but it holds readings, not titles; check `header`"
        ));
    }
    let looks: Vec<Look> = table.iter().map(Look::of).collect();
    let width = usual_width(&table, &looks, lines);
    let first =
        first_data(&table, &looks, width, said).ok_or_else(|| no_table::message(&table, said))?;
    let header = header_index(&table, first, width, said);
    build(lines, table, delimiter, entry, first, header)
}

/// Into how many cells each delimiter cuts a line.
fn widths(line: &[u8]) -> [usize; DELIMITERS.len()] {
    let mut widths = [1; DELIMITERS.len()];
    if memchr::memchr(b'"', line).is_none() {
        for byte in line {
            for (delimiter, width) in DELIMITERS.iter().zip(&mut widths) {
                *width += usize::from(byte == delimiter);
            }
        }
        return widths;
    }
    let mut ranges = Vec::new();
    for (delimiter, width) in DELIMITERS.iter().zip(&mut widths) {
        cut(line, *delimiter, &mut ranges);
        *width = ranges.len();
    }
    widths
}

/// The delimiter that cuts most lines into the same number of cells.
fn delimiter_of(lines: &[Line]) -> u8 {
    let body: Vec<[usize; DELIMITERS.len()]> = lines
        .iter()
        .map(|l| l.1)
        .filter(|l| !l.trim_ascii().is_empty() && !is_comment(l))
        .map(widths)
        .collect();
    let mut best = (0.0_f64, b',');
    for (k, delimiter) in DELIMITERS.into_iter().enumerate() {
        let mut counts = std::collections::BTreeMap::new();
        for widths in &body {
            *counts.entry(widths[k]).or_insert(0_usize) += 1;
        }
        let usual = counts
            .iter()
            .filter(|c| *c.0 > 1)
            .max_by_key(|c| (*c.1, *c.0));
        let Some((_, &share)) = usual else { continue };
        let score = share as f64 / body.len().max(1) as f64;
        // A later candidate must be clearly more even to be preferred.
        if score > best.0 * 1.25 {
            best = (score, delimiter);
        }
    }
    best.1
}

/// The usual number of cells of data rows.
fn usual_width(table: &Table, looks: &[Look], lines: &[Line]) -> usize {
    let comments: Vec<u64> = lines
        .iter()
        .filter(|l| is_comment(l.1))
        .map(|l| l.0)
        .collect();
    let mut counts = std::collections::BTreeMap::new();
    let rows = table.iter().zip(looks);
    for (row, look) in rows.filter(|r| !comments.contains(&r.0.line)) {
        // Rows that look like readings count for more than a preamble's lines.
        *counts.entry(row.len()).or_insert(0_usize) += if look.data { 4 } else { 1 };
    }
    counts
        .iter()
        .max_by_key(|c| (*c.1, *c.0))
        .map_or(1, |c| *c.0)
}

/// What a line looks like.
#[derive(Debug, Clone, Copy)]
struct Look {
    /// Readings.
    data: bool,
    /// A time among its cells.
    timed: bool,
}

impl Look {
    /// Readings are a time, or mostly numbers.
    fn of(row: Row) -> Self {
        let (mut full, mut times, mut values) = (0, 0, 0);
        for cell in row.full() {
            full += 1;
            if is_plain_number(cell) {
                values += 1;
                continue;
            }
            let time = stamp::looks_like_time(cell);
            times += usize::from(time);
            values += usize::from(time || is_number(cell));
        }
        let with_time = times > 0
            && row.len() > 1
            && (values > times || full <= times + 1 || values * 3 >= full);
        Self {
            data: with_time || (values >= 2 && values * 2 >= full),
            timed: times > 0,
        }
    }
}

/// Digits a number may have that is read whatever they are.
const SHORT: usize = 15;

/// Whether a cell is a number beyond doubt, as most are; others are looked at closely.
fn is_plain_number(cell: &str) -> bool {
    cell.len() <= SHORT && stamp::is_reading(cell)
}

fn is_number(cell: &str) -> bool {
    let reads = |decimal| number::parse(cell.as_bytes(), decimal).is_some();
    reads(b'.') || reads(b',')
}

fn is_value(cell: &str) -> bool {
    stamp::looks_like_time(cell) || is_number(cell)
}

/// Index of the first data row.
fn first_data(
    table: &Table,
    looks: &[Look],
    width: usize,
    said: Option<HeaderRef>,
) -> Option<usize> {
    let from = match said {
        Some(HeaderRef::Line(line)) => table.iter().position(|r| r.line > line as u64)?,
        _ => 0,
    };
    // Where rows show times, a row of numbers without one is a table of the preamble.
    let wide = |k: usize| table.row(k).len().abs_diff(width) <= 1 && looks[k].data;
    let rows = (0..table.len()).filter(|k| wide(*k)).count();
    let with_time = (0..table.len())
        .filter(|k| wide(*k) && looks[*k].timed)
        .count();
    let timed = with_time * 10 >= rows * 6;
    let fits = |k: usize| wide(k) && (!timed || looks[k].timed);
    (from..table.len()).find(|&k| {
        // The next row fits too, and most of the next five; a lone decoy does not do.
        let following = k + 1..(k + 6).min(table.len());
        let fitting = following.clone().filter(|k| fits(*k)).count();
        fits(k) && following.clone().next().is_none_or(fits) && fitting * 2 >= following.len()
    })
}

/// Index of the header among the lines above the data.
fn header_index(
    table: &Table,
    first: usize,
    width: usize,
    said: Option<HeaderRef>,
) -> Option<usize> {
    match said {
        Some(HeaderRef::None) => return None,
        Some(HeaderRef::Line(line)) => return table.iter().position(|r| r.line == line as u64),
        None => {}
    }
    let worded = |row: Row| {
        let full = row.full().count();
        let texts = row.full().filter(|c| !is_value(c)).count();
        row.len() + 1 >= width && full >= 2.min(width) && texts * 2 > full
    };
    let above = (first.saturating_sub(5)..first).filter(|&k| worded(table.row(k)));
    // The line with most titles the vocabulary knows; among equals the nearest that is not units.
    above.max_by_key(|&k| (known_titles(table.row(k)), !is_units_row(table.row(k)), k))
}

/// How many cells the vocabulary knows as titles.
fn known_titles(row: Row) -> usize {
    let known = |title: &&str| {
        let meaning = words::meaning(title);
        words::unit(title).is_none() && (meaning.time || meaning.quantity.is_some())
    };
    row.iter().filter(known).count()
}

fn is_units_row(row: Row) -> bool {
    let full = row.full().count();
    let units = row.full().filter(|c| words::unit(c).is_some()).count();
    full > 0 && units * 2 >= full
}

fn build(
    lines: &[Line],
    mut table: Table,
    delimiter: u8,
    entry: Option<&LogEntry>,
    first: usize,
    header: Option<usize>,
) -> Result<Layout, String> {
    let wordless = |row: Row| !row.iter().any(|c| c.contains(|c: char| c.is_ascii_digit()));
    let under = header.map_or(first, |k| k + 1);
    // Lines without a digit under the header (units, rulers) are part of the head; from there on
    // every line is a row, usable or not.
    let first = (under..first)
        .find(|k| !wordless(table.row(*k)))
        .unwrap_or(first);
    let units = (under..first)
        .map(|k| table.row(k))
        .find(|r| is_units_row(*r))
        .map(Row::to_vec)
        .unwrap_or_default();
    let first_row = table.row(first).line;
    let header = header.map(|k| (table.row(k).line, table.row(k).to_vec()));
    // Rows under a later, different header say nothing about these columns.
    let titled: &[String] = header.as_ref().map_or(&[], |h| &h.1);
    let names_columns = |row: Row| {
        let titles = row.full().filter(|c| titled.iter().any(|t| t == c));
        titles.count() >= 2
    };
    let kept: Vec<usize> = (first..table.len())
        .take_while(|k| table.row(*k).is(titled) || !names_columns(table.row(*k)))
        .filter(|k| !table.row(*k).is(titled))
        .collect();
    table.keep(&kept);
    let sample = table;
    let mut widths: Vec<usize> = sample.iter().map(|row| row.len()).collect();
    widths.sort_unstable();
    let usual = widths.get(widths.len() / 2).copied().unwrap_or(1);
    let mut titles: Vec<String> = titled.iter().map(|t| t.trim().to_owned()).collect();
    if let Some(title) = titles.first_mut() {
        // The mark of a remark stands before the first title alone.
        *title = title.trim_start_matches(['#', '%', '/']).trim().to_owned();
    }
    for k in titles.len()..usual {
        titles.push((k + 1).to_string());
    }
    let decimal = entry
        .and_then(|e| e.decimal)
        .unwrap_or_else(|| decimal::of_cells(&sample, delimiter, &titles));
    let short = sample
        .iter()
        .filter(|r| r.len() < usual.min(titles.len()))
        .count();
    let header_text = header
        .as_ref()
        .and_then(|h| lines.iter().find(|l| l.0 == h.0))
        .map(|l| l.1.trim_ascii().to_vec())
        .unwrap_or_default();
    Ok(Layout {
        delimiter,
        decimal,
        header_line: header.map(|h| h.0),
        first_row,
        own: titles.len(),
        titles,
        header_text,
        units,
        ragged: short * 10 > sample.len(),
        sample,
    })
}
