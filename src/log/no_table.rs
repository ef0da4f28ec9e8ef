//! What to tell an owner whose file holds no table that can be read.

use crate::mapping::HeaderRef;

/// The message for a file without a row to read.
pub(crate) fn message(table: &[(u64, Vec<String>)], said: Option<HeaderRef>) -> String {
    if let Some(HeaderRef::Line(line)) = said {
        return format!(
            "no data row follows the header line {line} given in the design; check `header`"
        );
    }
    match table
        .iter()
        .find(|row| row.1.iter().filter(|c| !c.is_empty()).count() > 1)
    {
        Some(row) => format!(
            "line {}: a header, but no data row follows; check that the log was written out whole",
            row.0
        ),
        None => {
            let likely = odd_delimiter(table)
                .map(|d| format!(", which may be \"{d}\" here"))
                .unwrap_or_default();
            format!(
                "no table found: expected rows with a time and readings, parted by comma, semicolon, tab or |; if it is another{likely}, set `delimiter` in its [[log]] entry"
            )
        }
    }
}

/// A mark that parts the uncut lines evenly, where it is none of the usual ones.
fn odd_delimiter(table: &[(u64, Vec<String>)]) -> Option<char> {
    const ODD: [char; 8] = ['~', '^', '!', '&', '#', '\u{a7}', '\u{a6}', '*'];
    let lines: Vec<&String> = table.iter().filter_map(|r| r.1.first()).collect();
    ODD.into_iter().find(|mark| {
        let counts: Vec<usize> = lines.iter().map(|l| l.matches(*mark).count()).collect();
        let most = counts.iter().copied().max().unwrap_or(0);
        most > 0 && counts.iter().filter(|c| **c == most).count() * 10 >= counts.len() * 8
    })
}
