//! Before and after, one figure a row: two dots with their 90 % ranges on a scale of the row's own.

use super::axis::{Scale, nice_end};
use super::canvas::{Anchor, Canvas, Caption, Swatch, draw};
use super::style::{Ink, SMALL, TYPE, WIDTH};
use super::{COMPARISON, Chart, Table};
use crate::report::compare_text::figure;
use crate::report::comparison::{ComparedRow, Comparison};
use crate::report::format;
use crate::report::model::{Interval, Report};
use crate::words::upper_first;

const TOP: f64 = 46.0;
const PITCH: f64 = 74.0;
const LEFT: f64 = 8.0;
const RIGHT: f64 = WIDTH - 12.0;

/// The chart of a report that was asked to tell before from after a mend.
pub(super) fn chart(report: &Report) -> Option<Chart> {
    let comparison = report.comparison.as_ref()?;
    Some(Chart {
        name: "comparison",
        file: COMPARISON,
        svg: svg(comparison)?,
        title: title(comparison),
        description: description(comparison),
        table: Some(table(comparison)),
    })
}

fn title(comparison: &Comparison) -> String {
    format!("{}: before and after", comparison.system)
}

fn description(comparison: &Comparison) -> String {
    comparison
        .rows
        .iter()
        .map(|r| format!("{}: {}.", upper_first(&r.title), r.change))
        .collect::<Vec<_>>()
        .join(" ")
}

fn table(comparison: &Comparison) -> Table {
    let head = [
        "figure",
        "before",
        "after",
        "difference",
        "change",
        "rests on",
    ];
    Table {
        caption: "Figures before and after".to_string(),
        head: head.map(String::from).to_vec(),
        rows: comparison
            .rows
            .iter()
            .map(|row| {
                vec![
                    row.title.clone(),
                    figure(row.before.as_ref(), row),
                    figure(row.after.as_ref(), row),
                    figure(row.difference.as_ref(), row),
                    row.change.clone(),
                    row.note.clone(),
                ]
            })
            .collect(),
    }
}

/// The drawing; `None` where nothing can be compared.
pub fn svg(comparison: &Comparison) -> Option<String> {
    let rows = &comparison.rows;
    if rows.iter().all(|r| r.before.is_none() && r.after.is_none()) {
        return None;
    }
    let (title, description) = (title(comparison), description(comparison));
    let caption = Caption {
        name: "comparison",
        title: &title,
        description: &description,
    };
    let height = TOP + PITCH * rows.len() as f64;
    draw(&caption, height, |canvas| {
        canvas.legend(
            &[
                (Swatch::Diamond(Ink::Muted), "before"),
                (Swatch::Dot(Ink::Design), "after"),
                (Swatch::Line(Ink::Design, 1.6), "90\u{a0}% range"),
            ],
            10.0,
        );
        for (i, row) in rows.iter().enumerate() {
            paint(canvas, row, TOP + PITCH * i as f64);
        }
    })
}

fn paint(canvas: &mut Canvas<'_>, row: &ComparedRow, y: f64) {
    canvas.text(&row.title, LEFT, y, Anchor::Left, Ink::Text, TYPE);
    canvas.bold(&row.change, RIGHT, y, Anchor::Right, Ink::Text, TYPE);
    let sides = [(row.before.as_ref(), true), (row.after.as_ref(), false)];
    let largest = sides
        .iter()
        .filter_map(|s| s.0)
        .map(|i| i.high)
        .fold(0.0, f64::max);
    let across = Scale::new(0.0, nice_end(largest.max(1e-6)), LEFT, RIGHT);
    for (i, (interval, before)) in sides.into_iter().enumerate() {
        let middle = y + 17.0 + 15.0 * i as f64;
        if let Some(interval) = interval {
            mark(canvas, interval, &across, middle, before);
        }
    }
    let words = format!(
        "{} \u{2192} {}",
        bare(row.before.as_ref(), row),
        bare(row.after.as_ref(), row)
    );
    let unit = match row.unit.as_str() {
        "" => "%",
        "mohm" => "m\u{3a9}",
        unit => unit,
    };
    let words = format::with_unit(&words, unit);
    canvas.text(&words, LEFT, y + 48.0, Anchor::Left, Ink::Muted, SMALL);
}

/// Value and range without their unit, which stands once at the end: a row has no room for four.
fn bare(interval: Option<&Interval>, row: &ComparedRow) -> String {
    let factor = if row.unit.is_empty() { 100.0 } else { 1.0 };
    interval.map_or(format::NOT_KNOWN.to_string(), |i| {
        format::interval(&i.scale(factor), "")
    })
}

fn mark(canvas: &mut Canvas<'_>, interval: &Interval, across: &Scale, y: f64, before: bool) {
    let ink = if before { Ink::Muted } else { Ink::Design };
    let (low, high) = (across.within(interval.low), across.within(interval.high));
    canvas.path(&[(low, y), (high, y)], ink, 1.6);
    let x = across.within(interval.value);
    if before {
        canvas.diamond(x, y, ink);
    } else {
        canvas.dot(x, y, 3.6, ink);
    }
}
