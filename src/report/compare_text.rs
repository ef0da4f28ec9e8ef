//! A comparison as plain text, at most 80 columns.

use super::comparison::{ComparedRow, Comparison};
use super::format::{self, plain};
use super::model::Interval;
use super::page::{Page, one_line};
use super::words;
use crate::words::{lower_first, upper_first};

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
    if let Some(told) = differ(comparison) {
        page.paragraph(&told, "");
    }
    rows(&mut page, comparison);
    page.text
}

/// Whether the two reports may be of two systems.
fn differ(comparison: &Comparison) -> Option<String> {
    (!comparison.differ.is_empty()).then(|| {
        format!(
            "Not the same system: {}. What follows shows that change too, and not a mend alone; of two different systems it means nothing.",
            comparison.differ.join("; ")
        )
    })
}

/// Which findings went, came, stayed or are unclear, a sentence for each of these that has any.
pub(super) fn findings(comparison: &Comparison) -> Vec<String> {
    ["went", "came", "stayed", "unclear"]
        .into_iter()
        .filter_map(|change| {
            let titles: Vec<String> = comparison
                .findings
                .iter()
                .filter(|f| f.change == change)
                .map(|f| {
                    let title = lower_first(&words::finding(&f.kind));
                    if f.note.is_empty() {
                        title
                    } else {
                        format!("{title} ({})", f.note)
                    }
                })
                .collect();
            (!titles.is_empty()).then(|| format!("{}: {}", upper_first(change), titles.join("; ")))
        })
        .collect()
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
    let findings = findings(comparison);
    if !findings.is_empty() {
        page.heading("FINDINGS");
    }
    for told in findings {
        page.paragraph(&format!("{told}."), "  ");
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
