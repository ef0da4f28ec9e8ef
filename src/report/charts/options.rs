//! Options side by side: a dot with its 90 % range each, and a stroke where the system stands today.

use super::axis::{Scale, nice_end};
use super::canvas::{Anchor, Canvas, Caption, Swatch, draw};
use super::style::{Ink, SMALL, TYPE, WIDTH};
use super::{Chart, OPTIONS, Table};
use crate::report::format;
use crate::report::model::{Interval, OptionRow, Report};

const TOP: f64 = 46.0;
const PITCH: f64 = 37.0;
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
    let height = TOP + PITCH * options.len() as f64 + 34.0;
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
        paint(canvas, report, measure, end);
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

fn paint(canvas: &mut Canvas<'_>, report: &Report, measure: Measure, end: f64) {
    canvas.legend(
        &[
            (Swatch::Dot(Ink::Design), "replayed"),
            (Swatch::Line(Ink::Design, 1.6), "90\u{a0}% range"),
            (Swatch::Tick(Ink::Text), "as it is"),
        ],
        10.0,
    );
    let across = Scale::new(0.0, end, LEFT, RIGHT);
    let bottom = TOP + PITCH * report.options.len() as f64;
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
    let today = report.options.first().and_then(|o| measure.figure(o));
    let today_x = today.map(|figure| across.within(figure.value));
    for (i, option) in report.options.iter().enumerate() {
        let y = TOP + PITCH * i as f64;
        row(canvas, report, option, measure, &across, y);
        // Beside each bar and not across the names.
        if let Some(x) = today_x.filter(|_| option.refused.is_none()) {
            canvas.path(&[(x, y + 8.0), (x, y + 22.0)], Ink::Text, 2.0);
        }
    }
}

fn row(
    canvas: &mut Canvas<'_>,
    report: &Report,
    option: &OptionRow,
    measure: Measure,
    across: &Scale,
    y: f64,
) {
    let figure = measure.figure(option);
    let label = figure
        .as_ref()
        .map_or("refused".to_string(), |figure| measure.label(figure));
    let room = (RIGHT - LEFT) / LETTER - label.chars().count() as f64 - 1.0;
    let name = short(&option.name, room.max(8.0) as usize);
    let first = report.recommended.as_deref() == Some(option.name.as_str());
    if first {
        canvas.bold(&name, LEFT, y, Anchor::Left, Ink::Text, TYPE);
    } else {
        canvas.text(&name, LEFT, y, Anchor::Left, Ink::Text, TYPE);
    }
    let Some(figure) = figure else {
        canvas.text(&label, RIGHT, y, Anchor::Right, Ink::Muted, SMALL);
        return;
    };
    canvas.text(&label, RIGHT, y, Anchor::Right, Ink::Text, SMALL);
    let middle = y + 15.0;
    let (low, high) = (across.within(figure.low), across.within(figure.high));
    canvas.path(&[(low, middle), (high, middle)], Ink::Design, 1.6);
    for x in [low, high] {
        canvas.path(&[(x, middle - 3.5), (x, middle + 3.5)], Ink::Design, 1.6);
    }
    let radius = if first { 5.0 } else { 3.6 };
    canvas.dot(across.within(figure.value), middle, radius, Ink::Design);
}
