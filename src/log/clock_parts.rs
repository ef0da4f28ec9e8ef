//! Stamps spread over several columns: date and time of day, or year, month, day, hour, minute.

use super::layout::Layout;
use super::table::Row;
use super::vocabulary::LANGUAGES;
use super::{stamp, words};

/// A date with a time of day: `14.05.2026` and `10.30.00`, `20260514` and `103000`. Either may look
/// like something else by itself.
pub(crate) fn pair(layout: &Layout, dates: &[usize], others: &[usize]) -> Option<Vec<usize>> {
    let times = dates.iter().chain(others);
    let pairs = dates
        .iter()
        .flat_map(|d| times.clone().map(move |t| vec![*d, *t]));
    pairs
        .filter(|p| p[0] != p[1])
        .find(|p| reads_joined(layout, p))
}

/// Parts by their titles: year, month and day or one date, then hour, minute and, where there is
/// one, second.
pub(crate) fn apart(layout: &Layout, dates: &[usize], numbers: &[usize]) -> Option<Vec<usize>> {
    let part = |which: usize| {
        numbers
            .iter()
            .copied()
            .find(|k| is_part(&layout.titles[*k], which))
    };
    let mut found = match (part(0), part(1), part(2)) {
        (Some(year), Some(month), Some(day)) => vec![year, month, day],
        _ => vec![*dates.first()?],
    };
    found.extend([part(3)?, part(4)?]);
    found.extend(part(5));
    reads_joined(layout, &found).then_some(found)
}

/// Whether a title is nothing but the name of this part of the clock.
fn is_part(title: &str, which: usize) -> bool {
    let folded = words::fold(title);
    let word = folded.trim();
    let singular = word.strip_suffix('s').unwrap_or(word);
    LANGUAGES.iter().any(|l| {
        l.clock_parts[which]
            .iter()
            .any(|p| *p == word || *p == singular)
    })
}

/// Whether the cells of these columns, put together, make a date with a time.
fn reads_joined(layout: &Layout, columns: &[usize]) -> bool {
    let reads = |row: &Row| {
        let cells = row.joined(columns);
        let stamp = cells.and_then(|c| stamp::parse(c.as_bytes()));
        stamp.is_some_and(|s| s.date.is_some() && s.of_day.is_some())
    };
    layout.sample.iter().filter(reads).count() * 10 >= layout.sample.len() * 6
}
