//! What to tell an owner whose log shows no time that can be read.

use super::clock::{self, ClockPlan, Form};
use super::layout::Layout;
use super::words::Meaning;
use super::{columns, stamp};

/// Stamps without a year, as loggers write them.
const YEARLESS: [&str; 12] = [
    "%d/%m %H:%M",
    "%d/%m %H:%M:%S",
    "%m/%d %H:%M",
    "%m/%d %H:%M:%S",
    "%d.%m. %H:%M",
    "%d.%m. %H:%M:%S",
    "%d.%m %H:%M",
    "%d-%m %H:%M",
    "%m-%d %H:%M",
    "%m-%d %H:%M:%S",
    "%b %d %H:%M:%S",
    "%d %b %H:%M",
];

/// Any leap year: every date without a year exists in it.
const SOME_LEAP_YEAR: i32 = 2024;

/// The message for a file without a column that holds times.
pub(crate) fn message(layout: &Layout, meanings: &[Meaning]) -> String {
    if let Some((column, patterns)) = yearless(layout) {
        let example = layout.sample.column(column).next().unwrap_or_default();
        let others = match patterns.get(1) {
            Some(other) => format!(" (or \"{other}\")"),
            None => String::new(),
        };
        return format!(
            "line {}, column '{}': '{example}' shows no year; say in its [[log]] entry, for instance, year = 2026 and time_format = \"{}\"{others}",
            layout.first_row, layout.titles[column], patterns[0]
        );
    }
    if let Some(column) = meanings.iter().position(|m| m.time && m.quantity.is_none()) {
        let example = layout.sample.column(column).next().unwrap_or_default();
        return format!(
            "line {}, column '{}': '{example}' cannot be read as a time; say how it is written in its [[log]] entry, with `time` in [log.columns] and, for instance, time_format = \"%d/%m/%Y %H:%M\"",
            layout.first_row, layout.titles[column]
        );
    }
    format!(
        "no column with a time found among {}; name it with `time` in [log.columns] (and `time_format`)",
        columns::listed(layout)
    )
}

/// A column whose cells are stamps without a year, how they are written, and the year of the first of
/// them: as stated, or by a date in the file's name that is that of the first row or a day from it.
pub(crate) fn dated(
    layout: &Layout,
    name: &str,
    stated: Option<i32>,
) -> Option<(usize, &'static str, i32)> {
    let (column, patterns) = yearless(layout)?;
    if let (Some(year), [pattern]) = (stated, &patterns[..]) {
        return Some((column, pattern, year));
    }
    let named = clock::date_in_name(name)?;
    let year = stated.or_else(|| clock::year_of(named))?;
    let first = layout.sample.column(column).find(|c| !c.is_empty())?;
    let pattern = patterns.into_iter().find(|pattern| {
        let found = clock::by_pattern(first.as_bytes(), pattern, Some(year));
        found.is_some_and(|(at, _)| (-86_400.0..2.0 * 86_400.0).contains(&(at - named)))
    })?;
    Some((column, pattern, year))
}

/// A column whose cells are stamps without a year, and the patterns that fit them all.
fn yearless(layout: &Layout) -> Option<(usize, Vec<&'static str>)> {
    (0..layout.titles.len()).find_map(|column| {
        let cells: Vec<&str> = layout
            .sample
            .column(column)
            .filter(|c| !c.is_empty())
            .collect();
        let fits = |pattern: &&str| {
            cells
                .iter()
                .all(|c| clock::by_pattern(c.as_bytes(), pattern, Some(SOME_LEAP_YEAR)).is_some())
        };
        let patterns: Vec<&str> = YEARLESS
            .into_iter()
            .filter(|p| !cells.is_empty() && fits(p))
            .collect();
        (!patterns.is_empty()).then_some((column, patterns))
    })
}

/// The message for a file of which no row has a time that can be read.
pub(crate) fn unread(layout: &Layout, plan: &ClockPlan, read: u64) -> String {
    if read == 0 {
        return "no data row to take; check `only` and `header` in its [[log]] entry".to_owned();
    }
    let line = layout.first_row;
    let first = plan.columns.first();
    let column = first
        .and_then(|k| layout.titles.get(*k))
        .map_or("", String::as_str);
    let example = first.and_then(|k| layout.sample.column(*k).find(|c| !c.is_empty()));
    let example = example.unwrap_or_default();
    if let Form::Pattern(pattern) | Form::Yearless(pattern, _) = &plan.form {
        return format!(
            "line {line}, column '{column}': '{example}' is not written as time_format = \"{pattern}\" in its [[log]] entry says, nor is any of its {read} rows; check `time_format`, or leave it out where the date shows it"
        );
    }
    if stamp::parse(example.as_bytes()).is_some_and(|s| s.date.is_some()) {
        return format!(
            "line {line}, column '{column}': '{example}' and the {read} rows like it are no dates from 1900 to 2200, so the logger's clock was off; say in its [[log]] entry how stamps are written (`time_format`) or how far they are off (`clock_shift`)"
        );
    }
    format!(
        "line {line}, column '{column}': '{example}' cannot be read as a time, nor can any of its {read} rows; say how it is written with `time_format` in its [[log]] entry"
    )
}
