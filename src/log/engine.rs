//! One block into one batch: the quick way where rows are plain, the careful way where they are not.

use super::batch::{Batch, Want};
use super::block::Block;
use super::device::Maker;
use super::plain::Plain;
use super::rows::{Choice, Outcome, Rows};
use super::value;

/// Reads blocks.
pub(crate) struct Engine<'a> {
    pub(crate) rows: Rows<'a>,
    plain: Option<Plain<'a>>,
    want: Want<'a>,
    maker: Option<Maker>,
}

/// What a block adds to the counts of its file.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Added {
    /// Lines, counting those joined by a quote one by one.
    pub(crate) lines: u64,
    /// Data rows.
    pub(crate) rows: u64,
    /// Rows of other devices.
    pub(crate) others: u64,
    /// Stamps in an hour the clock skipped.
    pub(crate) skipped_hour: u64,
    /// Whether a line is not valid UTF-8.
    pub(crate) foreign: bool,
    /// The last instant read, before the shift; minus infinity where there is none.
    pub(crate) last: f64,
}

impl<'a> Engine<'a> {
    /// An engine for blocks after the line of that number.
    pub(crate) fn after(choice: Choice<'a>, want: Want<'a>, number: u64) -> Self {
        Self {
            rows: Rows::after(choice, number),
            plain: Plain::new(&choice, want),
            maker: want.shape.map(Maker::new),
            want,
        }
    }

    /// Reads a block that follows all before it into an empty batch.
    pub(crate) fn read(&mut self, block: Block, batch: &mut Batch) -> Block {
        self.through(block, batch, false);
        self.rows.lines.load(Block::default())
    }

    /// Reads a block by itself; `None` where its rows can only be read after those before. Lines
    /// are counted from that of [`Self::after`].
    pub(crate) fn read_alone(&mut self, block: Block, batch: &mut Batch) -> (Block, Option<Added>) {
        let start = self.rows.lines.reached();
        let before = (self.rows.count, self.rows.others);
        let skipped_hour = self.rows.clock.skipped_hour;
        self.rows.foreign = false;
        self.rows.clock.forget();
        let alone = self.through(block, batch, true);
        let added = Added {
            lines: self.rows.lines.reached() - start,
            rows: self.rows.count - before.0,
            others: self.rows.others - before.1,
            skipped_hour: self.rows.clock.skipped_hour - skipped_hour,
            foreign: self.rows.foreign,
            last: self.rows.clock.last(),
        };
        self.rows.lines.renumber(start);
        self.rows.stay();
        (
            self.rows.lines.load(Block::default()),
            alone.then_some(added),
        )
    }

    /// Goes on after a block read elsewhere.
    pub(crate) fn go_on(&mut self, added: &Added) {
        let rows = &mut self.rows;
        rows.lines.renumber(rows.lines.reached() + added.lines);
        rows.count += added.rows;
        rows.others += added.others;
        rows.foreign |= added.foreign;
        rows.clock.go_on(added.last, added.skipped_hour);
    }

    /// Whether the next block can be taken as it was read by itself.
    pub(crate) fn takes_alone(&self) -> bool {
        let rows = &self.rows;
        !rows.is_moved()
            && rows.lines.reached() + 1 >= rows.choice.layout.first_row
            && rows.choice.plan.form.stands_alone()
    }

    /// Whether the block could be read to its end.
    fn through(&mut self, block: Block, batch: &mut Batch, alone: bool) -> bool {
        batch.clear(self.rows.choice.layout.titles.len(), &self.want);
        self.rows.clock.by_order = false;
        let number = block.number;
        self.rows.lines.load(block);
        loop {
            self.run(batch);
            let Some(outcome) = self.rows.advance() else {
                break;
            };
            match outcome {
                Outcome::Refused(why) => batch.refused.push((self.rows.line_number(), why)),
                Outcome::At(at, repaired) => self.keep(at, repaired, batch),
            }
            if alone && (self.rows.clock.by_order || self.rows.is_moved()) {
                return false;
            }
        }
        batch.finish(&self.want, number);
        if let Some(maker) = &mut self.maker {
            maker.make(&batch.rows, batch.pace, &mut batch.made);
        }
        !(alone && (self.rows.clock.by_order || self.rows.is_moved()))
    }

    /// The quick way, as far as it goes.
    fn run(&mut self, batch: &mut Batch) {
        let rows = &mut self.rows;
        let line = rows.lines.reached();
        let Some(plain) = self.plain.as_mut() else {
            return;
        };
        if rows.is_moved() || line + 1 < rows.choice.layout.first_row {
            return;
        }
        let (block, at) = rows.lines.ahead();
        let run = plain.run(block, at, line, &mut rows.clock, batch);
        rows.count += run.rows;
        rows.lines.go_on(run.at, run.rows, run.last);
    }

    /// Puts a row read the careful way into the batch.
    fn keep(&self, at: f64, repaired: bool, batch: &mut Batch) {
        let rows = &self.rows;
        let decimal = rows.choice.layout.decimal;
        batch.rows.at.push(at);
        let place = batch.place();
        if repaired {
            batch.rows.repaired.push(place);
        }
        if self.want.lines {
            batch.lines.push(rows.line_number());
        }
        for numbers in &mut batch.numbers {
            numbers.skip();
        }
        for (column, facts) in self.want.facts.iter().zip(&mut batch.facts) {
            facts.take(rows.cell(*column), decimal, self.want.missing);
        }
        for (k, found) in self.want.uses.iter().enumerate() {
            let value = value::of(found, |c| rows.cell(c), decimal, self.want.missing);
            batch.odd.push((k as u32, place, value));
        }
        batch.last.clear();
        batch.last.extend_from_slice(rows.line());
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use proptest::prelude::*;

    use super::*;
    use crate::calendar::Calendar;
    use crate::log::block::Blocks;
    use crate::log::early::Earlies;
    use crate::log::lost::Lost;
    use crate::log::spare::Spare;
    use crate::log::survey::{self, Survey};
    use crate::log::watch::Hands;
    use crate::log::{Request, readings, source};

    /// A log with nothing odd in it, so that its layout is known.
    fn plain_log() -> Survey {
        let mut text = "Time,Battery voltage (V),Battery current (A),Note\n".to_owned();
        for k in 0..50 {
            let (minute, volts, amps) = (k % 60, 12.5 + f64::from(k % 9) / 100.0, k % 7 - 3);
            text += &format!("2026-05-14 10:{minute:02}:00,{volts:.2},{amps},ok\n");
        }
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("log.csv");
        std::fs::write(&path, text).unwrap();
        let calendar = Calendar::fixed(chrono_tz::Europe::Copenhagen);
        let request = Request {
            paths: vec![path],
            entries: &[],
            folder: None,
            calendar: &calendar,
            zone: None,
            nominal_v: None,
            from: None,
            to: None,
        };
        let file = source::expand(&request).unwrap().remove(0);
        let hands = Hands {
            threads: 1,
            tell: &|_| (),
            spare: &Spare::default(),
        };
        survey::survey(file, &request, None, hands, &mut Earlies::new(&calendar)).unwrap()
    }

    /// Rows in runs of one kind: what follows the stamp, and how many of them.
    fn runs() -> impl Strategy<Value = Vec<(String, usize)>> {
        let number = "[-+ ]?[0-9]{0,4}(\\.[0-9]{0,3})?";
        let like = |text: &str| {
            let pattern = text.replace('#', number);
            prop::string::string_regex(&pattern).unwrap()
        };
        let kind = prop_oneof![
            6 => like(",#,#,ok"),
            2 => like(",#,#,"),
            1 => like(",#,#"),
            1 => like(",#"),
            1 => like(",#,#,ok,#"),
            1 => like(",,#,x"),
            1 => like(",# V,---,x"),
            1 => like(",\"#\",nan,x"),
            1 => like("[0-9.,:;\" -]{0,20}"),
        ];
        prop::collection::vec((kind, 1..4_usize), 1..25)
    }

    /// The row with other digits in the same places.
    fn turned(row: &str, by: usize) -> String {
        let digit = |c: char| {
            c.to_digit(10)
                .and_then(|d| char::from_digit((d + by as u32) % 10, 10))
        };
        row.chars().map(|c| digit(c).unwrap_or(c)).collect()
    }

    proptest! {
        /// The quick way takes a row only where the careful one would read the same.
        #[test]
        fn the_quick_way_reads_what_the_careful_one_does(
            runs in runs(), crlf: bool, whole: bool, step in 1_u32..90,
        ) {
            let survey = plain_log();
            let uses = readings::uses(&survey);
            let facts: Vec<usize> = (1..survey.layout.titles.len()).collect();
            let want = Want {
                uses: &uses,
                facts: &facts,
                missing: &[],
                lines: true,
                shape: None,
                evidence: None,
                lost: &Lost::of(&survey.roles),
            };
            let end = if crlf { "\r\n" } else { "\n" };
            let mut text = String::new();
            let rows = runs.iter().flat_map(|(row, times)| (0..*times).map(|k| turned(row, k)));
            for (row, at) in rows.zip((0..).step_by(step as usize)) {
                let (hour, minute, second) = (at / 3_600, at / 60 % 60, at % 60);
                text += &format!("2026-05-15 {hour:02}:{minute:02}:{second:02}{row}{end}");
            }
            let text = text.strip_suffix(end).filter(|_| !whole).unwrap_or(&text);
            let read = |quick: bool| {
                let bytes = std::io::Cursor::new(text.to_owned().into_bytes());
                let mut blocks = Blocks::of(bytes, survey.coding).unwrap();
                let mut engine = Engine::after(survey.choice(), want, survey.layout.first_row);
                engine.plain = engine.plain.filter(|_| quick);
                prop_assert_eq!(engine.plain.is_some(), quick);
                let mut block = Block::default();
                let mut batches = Vec::new();
                while blocks.next(&mut block).unwrap() {
                    let mut batch = Batch::default();
                    block = engine.read(block, &mut batch);
                    let values = batch.rows.values.iter().flatten().map(|v| v.to_bits());
                    batches.push((
                        batch.rows.at, values.collect::<Vec<_>>(), batch.lines, batch.refused, batch.facts,
                    ));
                }
                Ok((batches, engine.rows.count))
            };
            prop_assert_eq!(read(true)?, read(false)?);
        }
    }
}
