//! The current drawn from evening to morning: nights overlaid, their median bold, the floor as a line.

use super::axis::{Scale, nice_end, runs};
use super::canvas::{Anchor, Canvas, Caption, Swatch, draw};
use super::style::{Ink, SMALL, WIDTH};
use super::{Chart, NIGHT, Table};
use crate::report::format;
use crate::report::model::{NightCurrent, Report};

const HEIGHT: f64 = 226.0;
const TOP: f64 = 44.0;
const BOTTOM: f64 = HEIGHT - 22.0;
const LEFT: f64 = 40.0;
const RIGHT: f64 = WIDTH - 14.0;
/// First hour of a night, and its length.
const FROM_HOUR: f64 = 20.0;
const HOURS: f64 = 12.0;
/// The hours in which the quietest moments are looked for, counted from the first: midnight to five.
const SMALL_HOURS: (f64, f64) = (4.0, 9.0);

pub(super) fn chart(report: &Report) -> Option<Chart> {
    let night = report.series.night_current.as_ref()?;
    night.median_a.iter().flatten().next()?;
    let title = title(night);
    let description = description(night);
    let caption = Caption {
        name: "night",
        title: &title,
        description: &description,
    };
    let svg = draw(&caption, HEIGHT, |canvas| paint(canvas, night))?;
    Some(Chart {
        name: "night",
        file: NIGHT,
        svg,
        title,
        description,
        table: Some(table(night)),
    })
}

fn amps(a: f64) -> String {
    format::with_unit(&format::significant(a, 2), "A")
}

/// Charge of the median night over the half hours that are known, Ah, and their hours.
fn charge(night: &NightCurrent) -> (f64, f64) {
    let known: Vec<f64> = night.median_a.iter().flatten().copied().collect();
    (0.5 * known.iter().sum::<f64>(), 0.5 * known.len() as f64)
}

fn title(night: &NightCurrent) -> String {
    match night.floor_a {
        Some(floor) => format!(
            "In its quietest moments a night draws {}, {} in twelve hours",
            amps(floor),
            format::with_unit(&format::significant(12.0 * floor, 2), "Ah")
        ),
        None => format!(
            "The current of {} from evening to morning",
            format::count(night.nights, "night")
        ),
    }
}

fn description(night: &NightCurrent) -> String {
    let (ah, hours) = charge(night);
    let mut text = format!(
        "Half-hour means of {}. The median night takes {} in the {} that are known.",
        format::count(night.nights, "night"),
        format::with_unit(&format::significant(ah, 2), "Ah"),
        format::with_unit(&format::decimals(hours, 1), "h")
    );
    if night.floor_a.is_some() {
        text.push_str(
            " The dashed line is no mean: single readings between midnight and five fall back to it while whatever switches on and off is off.",
        );
    }
    if let Some(budget) = night.budget_a {
        text.push_str(&format!(
            " The design runs {} round the clock.",
            amps(budget)
        ));
    }
    if night.lines.len() < night.nights {
        text.push_str(&format!(" {} of the nights are drawn.", night.lines.len()));
    }
    text
}

fn table(night: &NightCurrent) -> Table {
    let of = |list: &[Option<f64>], i: usize| format::cell(list.get(i).copied().flatten(), 2);
    Table {
        caption: format!(
            "Current drawn from evening to morning, over {}",
            format::count(night.nights, "night")
        ),
        head: [
            "from",
            "median, A",
            "a tenth of nights below, A",
            "a tenth of nights above, A",
        ]
        .map(String::from)
        .to_vec(),
        rows: (0..night.median_a.len())
            .map(|i| {
                let hour = (FROM_HOUR as usize + i / 2) % 24;
                vec![
                    format!("{hour:02}:{:02}", 30 * (i % 2)),
                    of(&night.median_a, i),
                    of(&night.low_a, i),
                    of(&night.high_a, i),
                ]
            })
            .collect(),
    }
}

fn paint(canvas: &mut Canvas<'_>, night: &NightCurrent) {
    let mut items = vec![
        (Swatch::Line(Ink::Muted, 0.9), "one night"),
        (Swatch::Line(Ink::Use, 3.0), "median"),
    ];
    if night.floor_a.is_some() {
        items.push((Swatch::Dashes(Ink::Text), "quietest moments"));
    }
    canvas.legend(&items, 10.0);
    let drawn = night.lines.iter().map(|(_, line)| line.as_slice());
    let largest = drawn
        .clone()
        .chain([night.median_a.as_slice()])
        .flatten()
        .flatten()
        .copied()
        .chain(night.floor_a)
        .filter(|a| a.is_finite())
        .fold(0.0, f64::max);
    let up = Scale::new(0.0, nice_end(largest), BOTTOM, TOP);
    let hours = Scale::new(0.0, HOURS, LEFT, RIGHT);
    axes(canvas, &hours, &up);
    for line in drawn {
        course(canvas, line, &hours, &up, Ink::Muted, 0.9);
    }
    if let Some(floor) = night.floor_a {
        let y = up.within(floor);
        let (from, to) = (hours.at(SMALL_HOURS.0), hours.at(SMALL_HOURS.1));
        canvas.dashes((from, y), (to, y), Ink::Text, 1.4);
    }
    course(canvas, &night.median_a, &hours, &up, Ink::Use, 3.0);
}

/// A night's line through the middles of its half hours, broken where nothing is known.
fn course(
    canvas: &mut Canvas<'_>,
    line: &[Option<f64>],
    hours: &Scale,
    up: &Scale,
    ink: Ink,
    width: f64,
) {
    let points = line
        .iter()
        .take(24)
        .enumerate()
        .map(|(i, a)| (i as f64 / 2.0 + 0.25, *a));
    for run in runs(points) {
        let places: Vec<_> = run
            .iter()
            .map(|(hour, a)| (hours.at(*hour), up.within(*a)))
            .collect();
        canvas.path(&places, ink, width);
    }
}

fn axes(canvas: &mut Canvas<'_>, hours: &Scale, up: &Scale) {
    for tick in up.ticks(4) {
        let y = up.at(tick);
        canvas.path(&[(LEFT, y), (RIGHT, y)], Ink::Grid, 0.8);
        canvas.text(
            &format::significant(tick, 2),
            LEFT - 6.0,
            y,
            Anchor::Right,
            Ink::Muted,
            SMALL,
        );
    }
    canvas.text("A", 2.0, TOP - 15.0, Anchor::Left, Ink::Muted, SMALL);
    let shifted = Scale::new(FROM_HOUR, FROM_HOUR + HOURS, hours.start, hours.end);
    super::grid::clock(canvas, &shifted, &[20, 23, 26, 29, 32], BOTTOM);
}
