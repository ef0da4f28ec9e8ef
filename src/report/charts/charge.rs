//! State of charge as the meter says and as counted anew, with the reserve and the true full charges.

use super::axis::{Scale, runs, thin};
use super::canvas::{Anchor, Canvas, Caption, Swatch, draw};
use super::clock;
use super::style::{Ink, SMALL, WIDTH};
use super::{CHARGE, Chart, Table};
use crate::report::format;
use crate::report::model::{Day, Report};
use crate::report::spans;

const HEIGHT: f64 = 236.0;
const TOP: f64 = 52.0;
const BOTTOM: f64 = HEIGHT - 24.0;
const LEFT: f64 = 46.0;
const RIGHT: f64 = WIDTH - 8.0;
/// Stretches of days drawn in a long log at most.
const RANGES: usize = 80;
/// Marks of full charges nearer than this are drawn as one.
const MARKS_APART: f64 = 5.0;
/// Full charges named at most; all of them are marked.
const FULLS_TOLD: usize = 14;
/// Points a line may have: two for each step the eye can part.
const BUCKETS: usize = 320;

pub(super) fn chart(report: &Report) -> Option<Chart> {
    let profile = &report.series.profile;
    let known = |series: &[Option<f64>]| series.iter().flatten().any(|v| v.is_finite());
    if !known(&profile.soc_pct) && !known(&profile.counted_soc_pct) {
        return None;
    }
    let fulls = report.series.fulls.len();
    let title = match fulls {
        0 => "No full charge in this log".to_string(),
        1 => "One full charge in this log".to_string(),
        n => format!("{n} full charges in this log"),
    };
    let lowest = report
        .days
        .iter()
        .filter_map(|d| d.soc_low_pct)
        .reduce(f64::min);
    let mut description = match lowest {
        Some(low) => format!(
            "The meter's lowest figure is {}",
            format::with_unit(&format::decimals(low, 0), "%")
        ),
        None => "The meter gives no state of charge".to_string(),
    };
    description.push_str(&format!(
        ", the reserve is {}.",
        format::with_unit(&format::decimals(report.system.reserve_pct, 0), "%")
    ));
    if report.days.len() > spans::MOST_ROWS {
        description.push_str(" Shaded: from each day's lowest to its highest as the meter says.");
    }
    if fulls > 0 {
        let list: Vec<String> = report
            .series
            .fulls
            .iter()
            .rev()
            .take(FULLS_TOLD)
            .rev()
            .map(|f| format::instant(f))
            .collect();
        let which = if fulls > FULLS_TOLD {
            "The last of them"
        } else {
            "Full"
        };
        description.push_str(&format!(" {which}: {}.", list.join(", ")));
    }
    let caption = Caption {
        name: "charge",
        title: &title,
        description: &description,
    };
    let svg = draw(&caption, HEIGHT, |canvas| paint(canvas, report))?;
    Some(Chart {
        name: "charge",
        file: CHARGE,
        svg,
        title,
        description,
        table: Some(table(report)),
    })
}

fn table(report: &Report) -> Table {
    let spans = spans::of_days(&report.days);
    let each = if spans.are_days() { ", a day" } else { "." };
    Table {
        caption: format!(
            "State of charge as the meter says, and what went into and out of the bank{each}{}",
            spans.remark
        ),
        head: [
            "day",
            "lowest, %",
            "highest, %",
            "lowest, V",
            "highest, V",
            "in, Ah",
            "out, Ah",
            "in, Wh",
            "out, Wh",
            "full charge",
        ]
        .map(String::from)
        .to_vec(),
        rows: spans
            .rows
            .iter()
            .map(|s| table_row(&s.label, &report.days[s.days.clone()]))
            .collect(),
    }
}

/// A day, or the extremes and sums of several.
fn table_row(label: &str, days: &[Day]) -> Vec<String> {
    let known = |of: fn(&Day) -> Option<f64>| {
        days.iter()
            .filter_map(of)
            .filter(|v| v.is_finite())
            .collect::<Vec<f64>>()
    };
    let low = |of| known(of).into_iter().reduce(f64::min);
    let high = |of| known(of).into_iter().reduce(f64::max);
    let sum = |of| known(of).into_iter().reduce(|a, b| a + b);
    let name = match days {
        [one] => one.date.clone(),
        _ => label.to_string(),
    };
    vec![
        name,
        format::cell(low(|d| d.soc_low_pct), 0),
        format::cell(high(|d| d.soc_high_pct), 0),
        format::cell(low(|d| d.low_v), 2),
        format::cell(high(|d| d.high_v), 2),
        format::cell(sum(|d| d.bank_in_ah), 1),
        format::cell(sum(|d| d.bank_out_ah), 1),
        format::cell(sum(|d| d.bank_in_wh), 0),
        format::cell(sum(|d| d.bank_out_wh), 0),
        super::days::fulls(days),
    ]
}

fn paint(canvas: &mut Canvas<'_>, report: &Report) {
    canvas.legend(
        &[
            (Swatch::Line(Ink::Text, 1.2), "meter"),
            (Swatch::Line(Ink::Bank, 3.2), "counted anew"),
            (Swatch::Dashes(Ink::Lost), "reserve"),
            (Swatch::Mark(Ink::Bank), "full"),
        ],
        10.0,
    );
    let profile = &report.series.profile;
    let points = profile.soc_pct.len().max(profile.counted_soc_pct.len());
    let across = Scale::new(0.0, points.saturating_sub(1) as f64, LEFT, RIGHT);
    let up = Scale::new(0.0, 100.0, BOTTOM, TOP);
    for tick in [0.0, 25.0, 50.0, 75.0, 100.0] {
        canvas.path(&[(LEFT, up.at(tick)), (RIGHT, up.at(tick))], Ink::Grid, 0.8);
        let label = format::with_unit(&format::decimals(tick, 0), "%");
        canvas.text(
            &label,
            LEFT - 5.0,
            up.at(tick),
            Anchor::Right,
            Ink::Muted,
            SMALL,
        );
    }
    let reserve = up.within(report.system.reserve_pct);
    canvas.dashes((LEFT, reserve), (RIGHT, reserve), Ink::Lost, 1.4);
    if report.days.len() > spans::MOST_ROWS {
        daily_range(canvas, report, &up);
    }
    // The thin line over the broad one, so that both show where they agree.
    for (series, ink, width) in [
        (&profile.counted_soc_pct, Ink::Bank, 3.2),
        (&profile.soc_pct, Ink::Text, 1.2),
    ] {
        for run in runs(series.iter().enumerate().map(|(i, v)| (i as f64, *v))) {
            let buckets = (BUCKETS * run.len()).div_ceil(points.max(1));
            let line: Vec<_> = thin(&run, buckets)
                .into_iter()
                .map(|(x, y)| (across.at(x), up.within(y)))
                .collect();
            canvas.path(&line, ink, width);
        }
    }
    paint_dates(canvas, report, &across);
    paint_fulls(canvas, report, &across);
}

/// The two edges of an area under way, in places on the sheet.
#[derive(Default)]
struct Edges {
    low: Vec<(f64, f64)>,
    high: Vec<(f64, f64)>,
}

/// From each day's lowest to its highest charge as the meter says: in a long log the line between is a mean
/// of days and hides the nights.
fn daily_range(canvas: &mut Canvas<'_>, report: &Report, up: &Scale) {
    let across = Scale::new(0.0, report.days.len() as f64, LEFT, RIGHT);
    let size = report.days.len().div_ceil(RANGES).max(1);
    let of = |days: &[Day]| {
        let low = days.iter().filter_map(|d| d.soc_low_pct).reduce(f64::min)?;
        let high = days
            .iter()
            .filter_map(|d| d.soc_high_pct)
            .reduce(f64::max)?;
        Some((up.within(low), up.within(high)))
    };
    let mut outline = Edges::default();
    for (i, days) in report.days.chunks(size).enumerate() {
        let Some((low, high)) = of(days) else {
            area(canvas, &mut outline);
            continue;
        };
        for x in [i * size, i * size + days.len()] {
            outline.low.push((across.at(x as f64), low));
            outline.high.push((across.at(x as f64), high));
        }
    }
    area(canvas, &mut outline);
}

/// The area between two edges, which are then begun anew.
fn area(canvas: &mut Canvas<'_>, outline: &mut Edges) {
    let Edges { mut low, high } = std::mem::take(outline);
    low.extend(high.into_iter().rev());
    canvas.area(&low, Ink::Band);
}

fn paint_dates(canvas: &mut Canvas<'_>, report: &Report, across: &Scale) {
    let days = clock::profile_days(&report.series.profile);
    // Over more than a year a day's name is not enough.
    let years = report.days.len() > 366;
    let label = |date: &str| match date.get(..7) {
        Some(month) if years => month.to_string(),
        _ => format::day(date),
    };
    let labels = if years { 4 } else { 6 };
    let every = days.len().div_ceil(labels).max(1);
    for day in days.iter().step_by(every) {
        let x = across.at(day.points.start as f64);
        canvas.path(&[(x, BOTTOM), (x, BOTTOM + 4.0)], Ink::Muted, 0.8);
        if x < RIGHT - if years { 50.0 } else { 34.0 } {
            canvas.text(
                &label(&day.date),
                x,
                BOTTOM + 13.0,
                Anchor::Left,
                Ink::Muted,
                SMALL,
            );
        }
    }
}

/// A mark for each full charge; its date too, where there is room.
fn paint_fulls(canvas: &mut Canvas<'_>, report: &Report, across: &Scale) {
    let profile = &report.series.profile;
    let mut free_from = LEFT - 20.0;
    let mut last = f64::NEG_INFINITY;
    let long = report.days.len() > spans::MOST_ROWS;
    for full in &report.series.fulls {
        let Ok(instant) = chrono::DateTime::parse_from_rfc3339(full) else {
            continue;
        };
        let index =
            (instant.timestamp() as f64 - profile.start_s as f64) / profile.step_s.max(1) as f64;
        let x = across.within(index);
        // Marks nearer than the eye parts them are one.
        if long && x - last < MARKS_APART {
            continue;
        }
        last = x;
        canvas.mark(x, TOP - 6.0, 4.0, Ink::Bank);
        canvas.path(&[(x, TOP - 2.0), (x, TOP + 6.0)], Ink::Bank, 1.2);
        let label_x = x.clamp(LEFT + 18.0, RIGHT - 20.0);
        if label_x - 20.0 >= free_from {
            if !long {
                let label = full.get(0..10).map(format::day).unwrap_or_default();
                canvas.text(
                    &label,
                    label_x,
                    TOP - 18.0,
                    Anchor::Middle,
                    Ink::Text,
                    SMALL,
                );
            }
            free_from = label_x + 24.0;
        }
    }
}
