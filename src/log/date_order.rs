//! Day before month or month before day: shown by a cell, by the whole file, or by the owner.

use std::io;

use super::decode::Lines;
use super::inspection::Question;
use super::layout::{self, Layout};
use super::stamp::{self, Order};

/// The order of the date's numbers where the cells themselves show it.
pub(crate) fn shown(layout: &Layout, column: usize) -> Option<Order> {
    layout
        .sample
        .iter()
        .filter_map(|r| r.get(column))
        .find_map(|c| stamp::parse(c.as_bytes())?.order)
}

/// What the dates of a whole file show.
pub(crate) enum Settled {
    Order(Order, &'static str),
    /// Cannot be told; an example.
    Open(String),
    /// Day and month are the same number throughout.
    Harmless,
}

/// Reads the dates of the whole file until one can be read one way only.
pub(crate) fn settle(
    layout: &Layout,
    columns: &[usize],
    lines: impl Fn() -> io::Result<Lines>,
) -> io::Result<Settled> {
    let mut lines = lines()?;
    let column = columns.first().copied().unwrap_or(0);
    let mut ranges = Vec::new();
    let mut last: Option<[i32; 3]> = None;
    let (mut first_turns, mut second_turns) = (0_u64, 0_u64);
    let mut example = None;
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
        if date[0] > 12 && date[1] <= 12 {
            return Ok(Settled::Order(Order::Dmy, "a number above 12 stands first"));
        }
        if date[1] > 12 && date[0] <= 12 {
            return Ok(Settled::Order(
                Order::Mdy,
                "a number above 12 stands second",
            ));
        }
        if date[0] != date[1] && example.is_none() {
            example = Some(super::decode::text(cell).into_owned());
        }
        if let Some(before) = last.filter(|b| *b != date) {
            first_turns += u64::from(date[0] == before[0] + 1 && date[1] == before[1]);
            second_turns += u64::from(date[1] == before[1] + 1 && date[0] == before[0]);
        }
        last = Some(date);
    }
    Ok(match (first_turns, second_turns, example) {
        (_, _, None) => Settled::Harmless,
        (a, 0, _) if a > 0 => Settled::Order(Order::Dmy, "the first number counts the days on"),
        (0, b, _) if b > 0 => Settled::Order(Order::Mdy, "the second number counts the days on"),
        (_, _, Some(example)) => Settled::Open(example),
    })
}

/// A note for an order only the whole file shows.
pub(crate) fn note(order: Order, why: &str) -> String {
    let order = if order == Order::Dmy {
        "day before month"
    } else {
        "month before day"
    };
    format!("dates are {order}: {why}")
}

/// The question where no date shows it.
pub(crate) fn ask(example: &str) -> Question {
    Question {
        text: format!("in '{example}' the day and the month cannot be told apart"),
        settle: "time_format = \"%d/%m/%Y %H:%M\"   # or \"%m/%d/%Y %H:%M\"".to_owned(),
        blocking: true,
    }
}
