//! Options side by side: a dot with its 90 % range each, and a stroke where the system stands today.

use super::axis::{Scale, nice_end};
use super::canvas::{Anchor, Canvas, Caption, Swatch, draw};
use super::style::{Ink, SMALL, TYPE, WIDTH};
use super::{Chart, OPTIONS, Table};
use crate::report::format;
use crate::report::model::{Interval, OptionRow, Report};

const TOP: f64 = 46.0;
const PITCH: f64 = 37.0;
/// Between the lines of a name that takes several.
const LEADING: f64 = 15.0;
/// Most lines of a name.
const MOST_LINES: usize = 2;
const LEFT: f64 = 8.0;
const RIGHT: f64 = WIDTH - 12.0;
/// Unserved energy that shows on a chart, Wh a day: below it days with a full charge are drawn instead.
const SHOWS_WH: f64 = 10.0;
/// Most letters of a name in a title.
const NAME: usize = 30;
/// Width of a letter on average, generously: of ordinary type in bold.
const LETTER: f64 = 6.9;

/// What the dots stand for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Measure {
    /// Load that would have to be given up, Wh a day.
    Unserved,
    /// Days with a full charge, share.
    Full,
}

impl Measure {
    /// Unserved load where any row has some, else full charges.
    fn of(options: &[OptionRow]) -> Self {
        let some = options
            .iter()
            .filter_map(|o| o.unserved_wh_per_day.as_ref())
            .any(|i| i.high >= SHOWS_WH);
        if some { Self::Unserved } else { Self::Full }
    }

    fn figure(self, option: &OptionRow) -> Option<Interval> {
        let found = match self {
            Self::Unserved => option.unserved_wh_per_day,
            Self::Full => {
                let share = option.full_share?;
                let range = option.intervals.get("full_share").copied();
                Some(range.unwrap_or(Interval::exact(share)).scale(100.0))
            }
        };
        found.filter(|i| i.value.is_finite() && i.low.is_finite() && i.high.is_finite())
    }

    fn words(self) -> &'static str {
        match self {
            Self::Unserved => "load to give up, Wh a day",
            Self::Full => "days with a full charge, %",
        }
    }

    fn label(self, figure: &Interval) -> String {
        let unit = match self {
            Self::Unserved => "Wh",
            Self::Full => "%",
        };
        let whole = |v: f64| format::decimals(v, 0);
        if figure.high - figure.low < 1.0 {
            return format::with_unit(&whole(figure.value), unit);
        }
        format::with_unit(
            &format!(
                "{} ({} to {})",
                whole(figure.value),
                whole(figure.low),
                whole(figure.high)
            ),
            unit,
        )
    }
}

pub(super) fn chart(report: &Report) -> Option<Chart> {
    let options = &report.options;
    let measure = Measure::of(options);
    let largest = options
        .iter()
        .filter_map(|o| measure.figure(o))
        .map(|i| i.high)
        .fold(None, |most: Option<f64>, high| {
            Some(most.map_or(high, |m| m.max(high)))
        })?;
    let title = match &report.recommended {
        Some(name) => format!("What each change would do; first: {}", short(name, NAME)),
        None => "What each change would do".to_string(),
    };
    let description = format!(
        "{} rows lived through your own days: {}. The upright stroke is the system as it is; bars hold 90\u{a0}% of the draws.",
        options.len(),
        measure.words()
    );
    let rows = laid_out(options, measure);
    let height = rows.last().map_or(TOP, Row::end) + 34.0;
    let end = match measure {
        Measure::Unserved => nice_end(largest.max(1.0)),
        Measure::Full => 100.0,
    };
    let caption = Caption {
        name: "options",
        title: &title,
        description: &description,
    };
    let svg = draw(&caption, height, |canvas| {
        paint(canvas, report, &rows, measure, end);
    })?;
    Some(Chart {
        name: "options",
        file: OPTIONS,
        svg,
        title,
        description,
        table: Some(table(options, measure)),
    })
}

/// A name of at most so many letters; the whole of it stands in the table.
fn short(name: &str, most: usize) -> String {
    if name.chars().count() <= most {
        return name.to_string();
    }
    let kept: String = name.chars().take(most.saturating_sub(1)).collect();
    format!("{}\u{2026}", kept.trim_end())
}

fn table(options: &[OptionRow], measure: Measure) -> Table {
    Table {
        caption: format!("Options: {}", measure.words()),
        head: ["option", "figure"].map(String::from).to_vec(),
        rows: options
            .iter()
            .map(|o| {
                let figure = measure.figure(o);
                vec![
                    o.name.clone(),
                    figure.map_or("not weighed".to_string(), |i| measure.label(&i)),
                ]
            })
            .collect(),
    }
}

/// One option as it is drawn.
struct Row<'a> {
    option: &'a OptionRow,
    figure: Option<Interval>,
    /// The figure in words.
    label: String,
    /// The name, wrapped.
    name: Vec<String>,
    /// Middle of the name's first line.
    y: f64,
}

impl Row<'_> {
    /// Middle of the name's last line; the bar lies below it.
    fn last_line(&self) -> f64 {
        self.y + LEADING * self.name.len().saturating_sub(1) as f64
    }

    /// Where the next row begins.
    fn end(&self) -> f64 {
        self.last_line() + PITCH
    }
}

/// The rows from top to bottom, each as high as its name needs.
fn laid_out(options: &[OptionRow], measure: Measure) -> Vec<Row<'_>> {
    let mut y = TOP;
    let mut rows = Vec::new();
    for option in options {
        let figure = measure.figure(option);
        let label = figure
            .as_ref()
            .map_or("refused".to_string(), |figure| measure.label(figure));
        let room = (RIGHT - LEFT) / LETTER - label.chars().count() as f64 - 1.0;
        let name = wrapped(&option.name, room.max(8.0) as usize);
        let row = Row {
            option,
            figure,
            label,
            name,
            y,
        };
        y = row.end();
        rows.push(row);
    }
    rows
}

/// A name in lines of so many letters, broken between words; what has no room on the last line is cut.
fn wrapped(name: &str, room: usize) -> Vec<String> {
    let mut lines: Vec<String> = vec![String::new()];
    for word in name.split_whitespace() {
        let full = lines.len() == MOST_LINES;
        match lines.last_mut() {
            Some(line) if line.is_empty() => line.push_str(word),
            Some(line) if full || line.chars().count() + 1 + word.chars().count() <= room => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_string()),
        }
    }
    lines.iter().map(|line| short(line, room)).collect()
}

fn paint(canvas: &mut Canvas<'_>, report: &Report, rows: &[Row<'_>], measure: Measure, end: f64) {
    canvas.legend(
        &[
            (Swatch::Dot(Ink::Design), "replayed"),
            (Swatch::Line(Ink::Design, 1.6), "90\u{a0}% range"),
            (Swatch::Tick(Ink::Text), "as it is"),
        ],
        10.0,
    );
    let across = Scale::new(0.0, end, LEFT, RIGHT);
    let bottom = rows.last().map_or(TOP, Row::end);
    for tick in across.ticks(4) {
        let x = across.at(tick);
        canvas.path(&[(x, TOP - 8.0), (x, bottom)], Ink::Grid, 0.8);
        let anchor = if tick <= 0.0 {
            Anchor::Left
        } else if tick >= end {
            Anchor::Right
        } else {
            Anchor::Middle
        };
        let figure = format::decimals(tick, 0);
        canvas.text(&figure, x, bottom + 10.0, anchor, Ink::Muted, SMALL);
    }
    canvas.text(
        measure.words(),
        (LEFT + RIGHT) / 2.0,
        bottom + 26.0,
        Anchor::Middle,
        Ink::Muted,
        SMALL,
    );
    let today = rows.first().and_then(|row| row.figure);
    let today_x = today.map(|figure| across.within(figure.value));
    for row in rows {
        let first = report.recommended.as_deref() == Some(row.option.name.as_str());
        paint_row(canvas, row, first, &across);
        // Beside each bar and not across the names.
        if let Some(x) = today_x.filter(|_| row.option.refused.is_none()) {
            let y = row.last_line();
            canvas.path(&[(x, y + 8.0), (x, y + 22.0)], Ink::Text, 2.0);
        }
    }
}

fn paint_row(canvas: &mut Canvas<'_>, row: &Row<'_>, first: bool, across: &Scale) {
    let write = if first { Canvas::bold } else { Canvas::text };
    for (i, line) in row.name.iter().enumerate() {
        let y = row.y + LEADING * i as f64;
        write(canvas, line, LEFT, y, Anchor::Left, Ink::Text, TYPE);
    }
    let ink = if row.figure.is_some() {
        Ink::Text
    } else {
        Ink::Muted
    };
    canvas.text(&row.label, RIGHT, row.y, Anchor::Right, ink, SMALL);
    let Some(figure) = row.figure else {
        return;
    };
    let middle = row.last_line() + 15.0;
    let (low, high) = (across.within(figure.low), across.within(figure.high));
    canvas.path(&[(low, middle), (high, middle)], Ink::Design, 1.6);
    for x in [low, high] {
        canvas.path(&[(x, middle - 3.5), (x, middle + 3.5)], Ink::Design, 1.6);
    }
    let radius = if first { 5.0 } else { 3.6 };
    canvas.dot(across.within(figure.value), middle, radius, Ink::Design);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_name_takes_two_lines_and_is_cut_only_beyond_them() {
        let room = 24;
        assert_eq!(wrapped("as it is", room), ["as it is"]);
        assert_eq!(
            wrapped("laptop and bench tools a third less", room),
            ["laptop and bench tools a", "third less"]
        );
        let long = wrapped(&"word ".repeat(30), room);
        assert_eq!(long.len(), MOST_LINES);
        assert!(long.iter().all(|line| line.chars().count() <= room));
        assert!(long[1].ends_with('\u{2026}'));
        assert_eq!(wrapped("", room), [""]);
    }
}
