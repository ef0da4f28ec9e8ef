//! Headers further down a file: a log that goes on with other columns.

use std::path::Path;

use super::decode::Coding;
use super::layout::{Layout, cells};
use super::lines::Lines;

/// Most later headers looked at for new titles.
const LATER: usize = 100;

/// Titles that stand only in later headers, whose lines are given.
pub(crate) fn titles(path: &Path, coding: Coding, layout: &Layout, headers: &[u64]) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    if headers.is_empty() {
        return found;
    }
    let mut headers = headers.iter().take(LATER).copied().peekable();
    let Ok(mut lines) = Lines::open(path, coding) else {
        return found;
    };
    while let Some(next) = headers.peek().copied()
        && lines.advance().unwrap_or(false)
    {
        if lines.number() < next {
            continue;
        }
        headers.next();
        for title in cells(lines.line(), layout.delimiter) {
            let known = layout.titles.contains(&title) || found.contains(&title);
            if !title.is_empty() && !known {
                found.push(title);
            }
        }
    }
    found
}

/// Adds the titles of a later header, if there is one, that has these.
pub(crate) fn add_titles(path: &Path, coding: Coding, layout: &mut Layout, wanted: &[String]) {
    if wanted.is_empty() || layout.header_line.is_none() {
        return;
    }
    let Ok(mut lines) = Lines::open(path, coding) else {
        return;
    };
    while lines.advance().unwrap_or(false) {
        let found = cells(lines.line(), layout.delimiter);
        if found.iter().any(|title| wanted.contains(title)) {
            let new = found
                .into_iter()
                .filter(|t| !t.is_empty() && !layout.titles.contains(t));
            let new: Vec<String> = new.collect();
            layout.titles.extend(new);
            return;
        }
    }
}
