//! A comparison as plain text, at most 80 columns.

use super::comparison::{ComparedRow, Comparison};
use super::format::{self, plain};
use super::model::Interval;
use super::page::{Page, one_line};

/// The comparison.
pub fn render(comparison: &Comparison) -> String {
    let mut page = Page::default();
    page.line(&one_line(&comparison.system));
    for (word, side) in [("before", &comparison.before), ("after", &comparison.after)] {
        page.line(&format!(
            "  {word:<7} {} to {}, run {}",
            side.from, side.to, side.run
        ));
    }
    rows(&mut page, comparison);
    page.text
}

/// The figures, and when one counts as better or worse.
pub(super) fn rows(page: &mut Page, comparison: &Comparison) {
    for row in &comparison.rows {
        page.heading(&format!("{}: {}", row.change.to_uppercase(), row.title));
        page.line(&format!(
            "  {} before, {} after{}",
            figure(row.before.as_ref(), row),
            figure(row.after.as_ref(), row),
            row.difference
                .as_ref()
                .map_or(String::new(), |_| String::from(";"))
        ));
        if let Some(difference) = &row.difference {
            page.line(&format!("  difference {}", figure(Some(difference), row)));
        }
        page.paragraph(&row.note, "  ");
    }
    page.blank();
    page.paragraph(
        "Ranges hold 90 %. Better or worse only where the whole range of the difference lies on one side and it is worth a job.",
        "",
    );
}

/// Value and range; shares in percent.
pub(super) fn figure(interval: Option<&Interval>, row: &ComparedRow) -> String {
    let (factor, unit) = match row.unit.as_str() {
        "" => (100.0, "%"),
        unit => (1.0, unit),
    };
    interval.map_or(format::NOT_KNOWN.to_string(), |i| {
        plain(&format::interval(&i.scale(factor), unit))
    })
}
