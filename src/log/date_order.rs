//! Day before month or month before day: shown by a cell, by the whole file, or by the owner.

use std::io;

use super::inspection::Question;
use super::layout::{self, Layout};
use super::lines::Lines;
use super::stamp::{self, Order};
use super::table::Row;

/// The order of the date's numbers where the cells themselves show it.
pub(crate) fn shown(layout: &Layout, columns: &[usize]) -> Option<Order> {
    let joined = |row: Row| {
        let cells = columns.iter().filter_map(|k| row.get(*k));
        cells.collect::<Vec<_>>().join(" ")
    };
    layout
        .sample
        .iter()
        .find_map(|row| stamp::parse(joined(row).as_bytes())?.order)
}

/// What the dates of a whole file show.
pub(crate) enum Settled {
    Order(Order, &'static str),
    /// Cannot be told; the question.
    Open(Question),
    /// Day and month are the same number throughout.
    Harmless,
}

/// What the files of a device show together, where some of them alone leave it open; `None` where
/// they show nothing, or not the same.
pub(crate) fn across<'s>(files: impl Iterator<Item = &'s Seen> + Clone) -> Option<Order> {
    let mut orders = files.clone().filter_map(|f| match f.settled() {
        Settled::Order(order, _) => Some(order),
        _ => None,
    });
    if let Some(first) = orders.next() {
        return orders.all(|order| order == first).then_some(first);
    }
    let all = files.fold(Seen::default(), |all, file| all.and(file));
    match all.settled() {
        Settled::Order(order, _) => Some(order),
        Settled::Open(_) | Settled::Harmless => None,
    }
}

/// What was seen of the three numbers of the dates.
#[derive(Debug, Clone, Default)]
pub(crate) struct Seen {
    first: Option<[i32; 3]>,
    last: Option<[i32; 3]>,
    /// How often each number alone went one up.
    turns: [u64; 3],
    /// The highest each came to.
    high: [i32; 3],
    example: Option<String>,
}

/// Reads the dates of the whole file until one can be read one way only.
pub(crate) fn see(
    layout: &Layout,
    columns: &[usize],
    lines: impl Fn() -> io::Result<Lines>,
) -> io::Result<Seen> {
    let mut lines = lines()?;
    let column = columns.first().copied().unwrap_or(0);
    let mut ranges = Vec::new();
    let mut seen = Seen::default();
    while lines.advance().unwrap_or(false) {
        if lines.number() < layout.first_row {
            continue;
        }
        layout::cut(lines.line(), layout.delimiter, &mut ranges);
        let Some(range) = ranges.get(column) else {
            continue;
        };
        let cell = &lines.line()[range.0 as usize..range.1 as usize];
        let Some(date) = stamp::parse(cell).and_then(|s| s.date) else {
            continue;
        };
        seen.take(date, cell);
        // A year of four digits stands last: one number above 12 settles it.
        if date[2] > 99 && seen.by_size().is_some() {
            break;
        }
    }
    Ok(seen)
}

impl Seen {
    fn take(&mut self, date: [i32; 3], cell: &[u8]) {
        if date[0] != date[1] && self.example.is_none() {
            self.example = Some(super::decode::text(cell).into_owned());
        }
        self.turn(date);
        for (high, number) in self.high.iter_mut().zip(date) {
            *high = number.max(*high);
        }
        self.first = self.first.or(Some(date));
        self.last = Some(date);
    }

    /// Whether one number alone has gone one up since the date before.
    fn turn(&mut self, date: [i32; 3]) {
        let Some(before) = self.last.filter(|b| *b != date) else {
            return;
        };
        for k in 0..3 {
            let alone = (0..3).all(|j| date[j] - before[j] == i32::from(j == k));
            self.turns[k] += u64::from(alone);
        }
    }

    /// The same with what the file after it shows.
    fn and(mut self, next: &Self) -> Self {
        if let Some(date) = next.first {
            self.turn(date);
        }
        for k in 0..3 {
            self.turns[k] += next.turns[k];
            self.high[k] = self.high[k].max(next.high[k]);
        }
        self.first = self.first.or(next.first);
        self.last = next.last.or(self.last);
        self.example = self.example.or_else(|| next.example.clone());
        self
    }

    fn by_size(&self) -> Option<(Order, &'static str)> {
        match (self.high[0] > 12, self.high[1] > 12) {
            (true, false) => Some((Order::Dmy, "a number above 12 stands first")),
            (false, true) => Some((Order::Mdy, "a number above 12 stands second")),
            _ => None,
        }
    }

    /// The order by all dates. With years of two digits the first number may be the year, which only
    /// dashes suggest: `26-05-14`.
    pub(crate) fn settled(&self) -> Settled {
        // A year of four digits stands last: one number above 12 settles it.
        if self.high[2] > 99
            && let Some((order, why)) = self.by_size()
        {
            return Settled::Order(order, why);
        }
        let Some(example) = &self.example else {
            return Settled::Harmless;
        };
        let year_first = self.high[2] <= 31 && self.high[1] <= 12 && example.contains('-');
        match self.turns {
            [_, 0, 0] if self.turns[0] > 0 => {
                Settled::Order(Order::Dmy, "the first number counts the days on")
            }
            [0, _, 0] if self.turns[1] > 0 => {
                Settled::Order(Order::Mdy, "the second number counts the days on")
            }
            // Counting days settles it whatever parts the numbers.
            [0, 0, _] if self.turns[2] > 0 && self.high[2] <= 31 && self.high[1] <= 12 => {
                Settled::Order(Order::Ymd, "the third number counts the days on")
            }
            _ => match self.by_size() {
                Some((Order::Dmy, _)) if year_first => Settled::Open(ask_year(example)),
                Some((order, why)) => Settled::Order(order, why),
                None => Settled::Open(ask(example)),
            },
        }
    }
}

/// A note for an order only the whole file shows.
pub(crate) fn note(order: Order, why: &str) -> String {
    let order = match order {
        Order::Dmy => "day before month",
        Order::Mdy => "month before day",
        Order::Ymd => "year, month, day",
    };
    format!("dates are {order}: {why}")
}

/// The question where no date shows whether the day or the month comes first.
fn ask(example: &str) -> Question {
    Question {
        text: format!("in '{example}' the day and the month cannot be told apart"),
        settle: "time_format = \"%d/%m/%Y %H:%M\"   # or \"%m/%d/%Y %H:%M\"".to_owned(),
        blocking: true,
    }
}

/// The question where no date shows whether the day or the year comes first.
fn ask_year(example: &str) -> Question {
    Question {
        text: format!("in '{example}' the day and the year cannot be told apart"),
        settle: "time_format = \"%y-%m-%d %H:%M\"   # or \"%d-%m-%y %H:%M\"".to_owned(),
        blocking: true,
    }
}
