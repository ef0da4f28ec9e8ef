//! The quick way through rows that are as plain as most: one stamp and numbers, no quotes.
//!
//! Takes a row only where the careful way ([`super::rows::Rows`]) would read just the same; at the
//! first line that is otherwise it stops, and the careful way takes that line.

use std::ops::Range;

use super::batch::{Batch, Want};
use super::clock::Clock;
use super::digits::{Digits, Numbers};
use super::minute::Minute;
use super::rows::Choice;
use super::shape::Shape;
use super::stats::ColumnStats;
use super::uses::Use;
use super::{number, value};

/// First rows looked at for examples of their columns, and one in how many of those after them:
/// columns that stand still show the same over and over.
const ALL: u64 = 16;
const ONE_IN: u64 = 16;

/// Where the quick way stopped.
pub(crate) struct Run {
    /// Where the first line not taken begins.
    pub(crate) at: usize,
    /// Rows (and lines) taken.
    pub(crate) rows: u64,
    /// The line of the last of them.
    pub(crate) last: Range<usize>,
}

/// What to do with a column.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Job {
    Time,
    Number,
    Skip,
}

/// A column, and its cell in the row at hand.
#[derive(Debug, Clone, Copy)]
struct Slot {
    job: Job,
    /// Its place among the wanted facts.
    fact: Option<usize>,
    /// The byte its cells have had behind them.
    stop: u8,
    last: bool,
    /// How its last number looked, and how those before that looked otherwise: many columns go to and
    /// fro between two lengths.
    shape: Shape,
    other: Shape,
    cell: (u32, u32),
}

impl Slot {
    fn of<'b>(&self, block: &'b [u8]) -> &'b [u8] {
        &block[self.cell.0 as usize..self.cell.1 as usize]
    }

    /// The number that begins at `from`, whatever it looks like, and where its cell ends; none where
    /// the cell holds no plain number, or might be one listed as missing. `None` where the cell
    /// needs the careful way.
    fn number(
        &mut self,
        block: &[u8],
        from: usize,
        decimal: u8,
        cut: Cut,
        listed: bool,
    ) -> Option<(Digits, usize)> {
        if let Some(whole) = self.other.read(block, from) {
            std::mem::swap(&mut self.shape, &mut self.other);
            let (behind, end) = (self.shape.behind, from + self.shape.length);
            return Some((Digits { whole, behind }, end));
        }
        let (number, end) = number::read(block, from, decimal);
        if listed || !cut.ends(block, end) {
            return Some((Digits::NONE, cut.odd_cell(block, from)?));
        }
        // A byte behind that does not belong there ends this run of rows: it must not be looked for again.
        if let Some(stop) = block.get(end).filter(|stop| self.may_stop(**stop))
            && !number.whole.is_nan()
        {
            self.other = self.shape;
            self.shape = Shape::of(&block[from..end], *stop, number);
        }
        Some((number, end))
    }

    /// Whether its cells may end at such a byte.
    fn may_stop(&self, byte: u8) -> bool {
        if self.last {
            matches!(byte, b'\n' | b'\r')
        } else {
            byte == self.stop
        }
    }

    /// Where the next cell begins after one that ends here; `None` where the row has more cells than
    /// columns, or fewer.
    fn after(&mut self, block: &[u8], end: usize) -> Option<usize> {
        let Some(stop) = block.get(end) else {
            return self.last.then_some(end);
        };
        if !self.may_stop(*stop) {
            return None;
        }
        self.stop = *stop;
        Some(end + 1)
    }
}

/// A row that has been cut and read.
struct Row {
    instant: f64,
    /// Where its text ends, and where the next row begins.
    end: usize,
    next: usize,
    /// Whether some role is no plain number.
    odd: bool,
}

/// Rows of nothing but plain numbers that the facts of their columns have still to hear of.
#[derive(Debug, Default)]
struct Counted {
    rows: u64,
    /// Whether all columns have been looked at for examples.
    ended: bool,
}

impl Counted {
    fn hand_on(&mut self, slots: &[Slot], facts: &mut [ColumnStats]) {
        let numbered = slots.iter().filter(|s| s.job == Job::Number);
        for place in numbered.filter_map(|s| s.fact) {
            facts[place].numbers += self.rows;
        }
        self.rows = 0;
    }
}

/// Reads plain rows.
pub(crate) struct Plain<'a> {
    want: Want<'a>,
    decimal: u8,
    cut: Cut,
    slots: Vec<Slot>,
    minute: Minute,
    first_line: u64,
    /// Whether some role is never read as a plain number.
    worded: bool,
}

impl<'a> Plain<'a> {
    /// The quick way for a file; `None` where its rows are never plain.
    pub(crate) fn new(choice: &Choice<'a>, want: Want<'a>) -> Option<Self> {
        let layout = choice.layout;
        let [time] = choice.plan.columns[..] else {
            return None;
        };
        let plain = choice.plan.form.stands_alone()
            && choice.only.is_none()
            && matches!(layout.delimiter, b',' | b';' | b'\t' | b'|')
            && layout.delimiter != layout.decimal
            && choice.coding.end() == b'\n'
            // A header that begins like a row would be taken for one where it is repeated.
            && !layout.header_text.first().is_some_and(u8::is_ascii_digit);
        if !plain {
            return None;
        }
        let columns = layout.titles.len();
        let mut jobs = vec![Job::Skip; columns];
        let parts = want.uses.iter().flat_map(|u| u.parts.iter().map(|p| p.0));
        for column in parts.chain(want.facts.iter().copied()) {
            *jobs.get_mut(column)? = Job::Number;
        }
        *jobs.get_mut(time)? = Job::Time;
        let slot = |(column, job): (usize, Job)| Slot {
            job,
            fact: want.facts.iter().position(|f| *f == column),
            stop: if column + 1 == columns {
                b'\n'
            } else {
                layout.delimiter
            },
            last: column + 1 == columns,
            shape: Shape::default(),
            other: Shape::default(),
            cell: (0, 0),
        };
        Some(Self {
            want,
            decimal: layout.decimal,
            cut: Cut {
                delimiter: layout.delimiter,
                check_text: choice.check_text,
            },
            slots: jobs.into_iter().enumerate().map(slot).collect(),
            minute: Minute::default(),
            first_line: 0,
            worded: want.uses.iter().any(Use::is_worded) || !want.missing.is_empty(),
        })
    }

    /// Takes plain rows from `from` on into the batch; `line` is the number of the line before.
    pub(crate) fn run(
        &mut self,
        block: &[u8],
        from: usize,
        line: u64,
        clock: &mut Clock,
        batch: &mut Batch,
    ) -> Run {
        self.first_line = line + 1;
        let (mut at, mut rows, mut last) = (from, 0, from..from);
        let mut hit = None;
        let mut counted = Counted::default();
        for (slot, numbers) in self.slots.iter().zip(&mut batch.numbers) {
            numbers.go_on(slot.shape.behind);
        }
        while at < block.len() {
            let Some(row) = self.row(block, at, clock, &mut hit, &mut batch.numbers) else {
                let whole = batch.rows.at.len();
                batch.numbers.iter_mut().for_each(|n| n.truncate(whole));
                break;
            };
            self.keep(block, &row, rows, batch, &mut counted);
            last = at..row.end;
            rows += 1;
            at = row.next;
        }
        if let Some(raw) = hit {
            clock.go_on(raw, 0);
        }
        counted.hand_on(&self.slots, &mut batch.facts);
        if rows > 0 {
            batch.last.clear();
            batch.last.extend_from_slice(&block[last.clone()]);
        }
        Run { at, rows, last }
    }

    /// Cuts and reads a row, and its numbers into those of their columns; `None` where it is not
    /// plain, with some of its numbers read.
    #[inline]
    fn row(
        &mut self,
        block: &[u8],
        from: usize,
        clock: &mut Clock,
        hit: &mut Option<f64>,
        numbers: &mut [Numbers],
    ) -> Option<Row> {
        if !block[from].is_ascii_digit() {
            return None;
        }
        let mut row = Row {
            instant: f64::NAN,
            end: from,
            next: from,
            odd: self.worded,
        };
        for (slot, numbers) in self.slots.iter_mut().zip(numbers) {
            let at = row.next;
            let known = match slot.job {
                Job::Number => slot.shape.read(block, at).map(|whole| {
                    numbers.push_like(whole);
                    at + slot.shape.length
                }),
                Job::Time => self.minute.read(block, at, slot.stop).map(|found| {
                    (row.instant, *hit) = (found.0, Some(found.1));
                    found.2
                }),
                Job::Skip => None,
            };
            if let Some(end) = known {
                (row.end, row.next) = (end, end + 1);
            } else {
                row.end = match slot.job {
                    Job::Number => {
                        let listed = !self.want.missing.is_empty();
                        let (number, end) =
                            slot.number(block, at, self.decimal, self.cut, listed)?;
                        row.odd |= number.whole.is_nan();
                        numbers.push(number);
                        end
                    }
                    Job::Time => {
                        let end = self.cut.odd_cell(block, at)?;
                        row.instant = self.minute.stamp(&block[at..end], clock, self.decimal)?;
                        *hit = None;
                        end
                    }
                    Job::Skip => self.cut.odd_cell(block, at)?,
                };
                row.next = slot.after(block, row.end)?;
            }
            slot.cell = (at as u32, row.end as u32);
        }
        if block.get(row.end) == Some(&b'\r') {
            row.next = line_end(block, row.end)?;
        }
        Some(row)
    }

    /// Puts a row into the batch.
    #[inline]
    fn keep(&self, block: &[u8], row: &Row, rows: u64, batch: &mut Batch, counted: &mut Counted) {
        batch.rows.at.push(row.instant);
        if self.want.lines {
            batch.lines.push(self.first_line + rows);
        }
        let is_looked_at = rows < ALL || rows.is_multiple_of(ONE_IN);
        if row.odd || (is_looked_at && !counted.ended) {
            self.keep_facts(block, batch, counted);
        } else {
            counted.rows += 1;
        }
        if row.odd {
            self.keep_odd(block, batch);
        }
    }

    /// Takes the row's cells into the facts of their columns one by one.
    fn keep_facts(&self, block: &[u8], batch: &mut Batch, counted: &mut Counted) {
        counted.hand_on(&self.slots, &mut batch.facts);
        counted.ended = true;
        for (slot, numbers) in self.slots.iter().zip(&batch.numbers) {
            let Some(place) = slot.fact.filter(|_| slot.job == Job::Number) else {
                continue;
            };
            let facts = &mut batch.facts[place];
            if numbers.ends_without() {
                facts.take(slot.of(block), self.decimal, self.want.missing);
            } else {
                facts.count(|| slot.of(block));
            }
            counted.ended &= !facts.looks_for_examples();
        }
    }

    /// Evaluates the roles of a row with cells that are no plain numbers.
    fn keep_odd(&self, block: &[u8], batch: &mut Batch) {
        let row = batch.place();
        let listed = !self.want.missing.is_empty();
        for (k, found) in self.want.uses.iter().enumerate() {
            let unknown = |p: &(usize, f64)| batch.numbers[p.0].ends_without();
            if !listed && !found.is_worded() && !found.parts.iter().any(unknown) {
                continue;
            }
            let cell_of = |column: usize| self.slots[column].of(block);
            let found = value::of(found, cell_of, self.decimal, self.want.missing);
            batch.odd.push((k as u32, row, found));
        }
    }
}

/// How cells are cut.
#[derive(Clone, Copy)]
struct Cut {
    delimiter: u8,
    check_text: bool,
}

impl Cut {
    /// Whether a cell ends here.
    fn ends(self, block: &[u8], end: usize) -> bool {
        block
            .get(end)
            .is_none_or(|b| *b == self.delimiter || *b == b'\n' || *b == b'\r')
    }

    /// The end of a cell that is no plain number; `None` where it needs the careful way.
    fn odd_cell(self, block: &[u8], from: usize) -> Option<usize> {
        let rest = &block[from..];
        let mut end = memchr::memchr2(self.delimiter, b'\n', rest).unwrap_or(rest.len());
        while end > 0 && rest[end - 1] == b'\r' {
            end -= 1;
        }
        let cell = &rest[..end];
        let careful = memchr::memchr2(b'"', 0, cell).is_some()
            || (self.check_text && !cell.is_ascii())
            || memchr::memchr(b'\r', cell).is_some();
        (!careful).then_some(from + end)
    }
}

/// The byte after a line end of any number of CR and one LF.
fn line_end(block: &[u8], from: usize) -> Option<usize> {
    let mut at = from;
    while block.get(at) == Some(&b'\r') {
        at += 1;
    }
    match block.get(at) {
        Some(b'\n') => Some(at + 1),
        None => Some(at),
        Some(_) => None,
    }
}
