//! Columns as a design names them: by title or by number.

use super::layout::Layout;
use super::words;
use crate::mapping::{ColumnRef, LogEntry, Role};

/// Titles for messages.
pub(crate) fn listed(layout: &Layout) -> String {
    let titles: Vec<String> = layout
        .titles
        .iter()
        .filter(|t| !t.is_empty())
        .map(|t| format!("'{t}'"))
        .collect();
    if layout.header_line.is_none() {
        return format!(
            "{} columns without titles, called by their number (for instance battery_voltage = 4 in a [[log]] entry's columns, beside files and header = false)",
            layout.titles.len()
        );
    }
    titles.join(", ")
}

/// Position of a column the design names.
pub(crate) fn position(column: &ColumnRef, layout: &Layout) -> Option<usize> {
    match column {
        ColumnRef::Number(number) => number.checked_sub(1).filter(|k| *k < layout.titles.len()),
        ColumnRef::Name(name) => {
            let same = |t: &String| t.trim() == name.trim();
            let folded = words::fold(name);
            layout
                .titles
                .iter()
                .position(same)
                .or_else(|| layout.titles.iter().position(|t| words::fold(t) == folded))
        }
    }
}

/// Titles the design names that the header does not have.
pub(crate) fn not_titled(entry: &LogEntry, layout: &Layout) -> Vec<String> {
    let named = entry.columns.values().flat_map(|map| &map.columns);
    let missing = named.filter(|column| position(column, layout).is_none());
    missing
        .filter_map(|column| match column {
            ColumnRef::Name(name) => Some(name.trim().to_owned()),
            ColumnRef::Number(_) => None,
        })
        .collect()
}

/// Positions of all columns with just the title the design names.
fn alike(column: &ColumnRef, layout: &Layout) -> Vec<usize> {
    let ColumnRef::Name(name) = column else {
        return Vec::new();
    };
    let titles = layout.titles.iter().enumerate();
    titles
        .filter(|t| t.1.trim() == name.trim())
        .map(|t| t.0)
        .collect()
}

/// Words for a column that is not there: the columns there are, the nearest spelling first.
pub(crate) fn missing(what: &str, column: &ColumnRef, layout: &Layout) -> String {
    match column {
        ColumnRef::Number(number) => format!(
            "{what} = {number} in its [[log]] entry: the file has {} columns, counted from 1",
            layout.titles.len()
        ),
        ColumnRef::Name(name) => {
            let mut titles: Vec<&String> = layout.titles.iter().filter(|t| !t.is_empty()).collect();
            let wanted = name.to_lowercase();
            titles.sort_by_key(|t| strsim::damerau_levenshtein(&t.to_lowercase(), &wanted));
            let names: Vec<String> = titles.iter().map(|t| format!("'{t}'")).collect();
            format!(
                "{what} = \"{name}\" in its [[log]] entry: no such column; there are {}",
                names.join(", ")
            )
        }
    }
}

/// Positions of the columns the design names for a role.
///
/// # Errors
/// A column that is not there.
pub(crate) fn resolve(
    columns: &[ColumnRef],
    layout: &Layout,
    role: Role,
) -> Result<Vec<usize>, String> {
    columns
        .iter()
        .map(|column| {
            let alike = alike(column, layout);
            if alike.len() > 1 {
                let numbers: Vec<String> = alike.iter().map(|k| (k + 1).to_string()).collect();
                return Err(format!(
                    "{} in its [[log]] entry names a title that columns {} share; name it by its number",
                    role.name(),
                    numbers.join(" and ")
                ));
            }
            position(column, layout).ok_or_else(|| missing(role.name(), column, layout))
        })
        .collect()
}
