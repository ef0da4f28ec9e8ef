//! What to tell an owner whose log shows no time that can be read.

use super::clock;
use super::columns;
use super::layout::Layout;
use super::words::Meaning;

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
        let example = layout
            .sample
            .iter()
            .find_map(|r| r.get(column))
            .map_or("", String::as_str);
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
        let example = layout
            .sample
            .iter()
            .find_map(|r| r.get(column))
            .map_or("", String::as_str);
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

/// A column whose cells are stamps without a year, and the patterns that fit them all.
fn yearless(layout: &Layout) -> Option<(usize, Vec<&'static str>)> {
    (0..layout.titles.len()).find_map(|column| {
        let cells: Vec<&String> = layout
            .sample
            .iter()
            .filter_map(|r| r.get(column))
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
