//! Volts lost between controller and bank against the current: a straight line through a joint or cable.

use super::axis::{Scale, nice_end};
use super::canvas::{Anchor, Canvas, Caption, Swatch, draw};
use super::style::{Ink, SMALL, TYPE, WIDTH};
use super::{Chart, DROP, Table};
use crate::report::format;
use crate::report::model::{DropChart, Report};

const HEIGHT: f64 = 268.0;
const TOP: f64 = 52.0;
const BOTTOM: f64 = HEIGHT - 36.0;
const LEFT: f64 = 46.0;
const RIGHT: f64 = WIDTH - 12.0;

fn known(drop: &DropChart) -> Vec<(f64, f64)> {
    drop.points
        .iter()
        .copied()
        .filter(|p| p.0.is_finite() && p.1.is_finite())
        .take(600)
        .collect()
}

/// What the design makes of the run, in words; nothing where it names no cable there.
pub(super) fn designed(mohm: f64) -> String {
    if mohm <= 0.0 {
        return "the design names no cable there".to_owned();
    }
    let figure = format::with_unit(&format::significant(mohm, 2), "m\u{3a9}");
    format!("the design has {figure}")
}

pub(super) fn chart(report: &Report) -> Option<Chart> {
    let drop = report.series.drop.as_ref()?;
    let points = known(drop);
    if points.is_empty() {
        return None;
    }
    let design = designed(drop.design_mohm);
    let title = match &drop.resistance_mohm {
        Some(r) => format!(
            "Controller to bank: {}; {design}",
            format::interval(r, "m\u{3a9}")
        ),
        None => format!("Controller to bank: no slope can be told; {design}"),
    };
    let description = description(drop, &points);
    let caption = Caption {
        name: "drop",
        title: &title,
        description: &description,
    };
    let svg = draw(&caption, HEIGHT, |canvas| paint(canvas, drop, &points))?;
    let table = table(drop, points.len());
    Some(Chart {
        name: "drop",
        file: DROP,
        svg,
        title,
        description,
        table: Some(table),
    })
}

fn description(drop: &DropChart, points: &[(f64, f64)]) -> String {
    let largest = points.iter().map(|p| p.0).fold(0.0, f64::max);
    let mut text = format!(
        "{} points up to {}.",
        points.len(),
        format::with_unit(&format::significant(largest, 2), "A")
    );
    if let Some(r) = &drop.resistance_mohm {
        let volts = r.value * largest / 1000.0;
        text.push_str(&format!(
            " At that current the line stands for {}; the design's for {}.",
            format::with_unit(&format::decimals(volts, 2), "V"),
            format::with_unit(
                &format::decimals(drop.design_mohm * largest / 1000.0, 2),
                "V"
            ),
        ));
    }
    if let Some(offset) = drop.offset_v {
        text.push_str(&format!(
            " Meter offset, the two meters' disagreement at no current: {}.",
            format::with_unit(&format::decimals(offset, 3), "V")
        ));
    }
    text
}

fn table(drop: &DropChart, points: usize) -> Table {
    let mut rows = Vec::new();
    if let Some(r) = &drop.resistance_mohm {
        rows.push(vec![
            "resistance, fitted".to_string(),
            format::interval(r, "m\u{3a9}"),
        ]);
    }
    let design = format::with_unit(&format::significant(drop.design_mohm, 2), "m\u{3a9}");
    rows.push(vec!["resistance, design".to_string(), design]);
    if let Some(offset) = drop.offset_v {
        let volts = format::with_unit(&format::decimals(offset, 3), "V");
        rows.push(vec!["meter offset".to_string(), volts]);
    }
    rows.push(vec!["points shown".to_string(), points.to_string()]);
    Table {
        caption: "Drop between controller and bank".to_string(),
        head: ["figure", "value"].map(String::from).to_vec(),
        rows,
    }
}

fn paint(canvas: &mut Canvas<'_>, drop: &DropChart, points: &[(f64, f64)]) {
    canvas.legend(
        &[
            (Swatch::Dot(Ink::Muted), "reading"),
            (Swatch::Line(Ink::Lost, 2.2), "fitted"),
            (Swatch::Block(Ink::Heat(1), Ink::Heat(2)), "90\u{a0}% range"),
            (Swatch::Dashes(Ink::Design), "design"),
        ],
        10.0,
    );
    let offset = drop.offset_v.unwrap_or(0.0);
    let amps = nice_end(points.iter().map(|p| p.0).fold(1.0, f64::max));
    let top_of_line = drop
        .resistance_mohm
        .map_or(0.0, |r| offset + r.high * amps / 1000.0);
    let high = points
        .iter()
        .map(|p| p.1)
        .fold(top_of_line.max(0.02), f64::max);
    let low = points.iter().map(|p| p.1).fold(0.0, f64::min);
    let across = Scale::new(0.0, amps, LEFT, RIGHT);
    let up = Scale::new(low, nice_end(high), BOTTOM, TOP);
    axes(canvas, &across, &up);
    if let Some(r) = &drop.resistance_mohm {
        let at = |mohm: f64| up.within(offset + mohm * amps / 1000.0);
        let start = up.within(offset);
        canvas.area(
            &[(LEFT, start), (RIGHT, at(r.low)), (RIGHT, at(r.high))],
            Ink::Heat(1),
        );
        dots(canvas, points, &across, &up);
        canvas.path(&[(LEFT, start), (RIGHT, at(r.value))], Ink::Lost, 2.2);
        let label = format::interval(r, "m\u{3a9}");
        canvas.bold(&label, LEFT + 8.0, TOP + 4.0, Anchor::Left, Ink::Text, TYPE);
    } else {
        dots(canvas, points, &across, &up);
    }
    let end = up.within(offset + drop.design_mohm * amps / 1000.0);
    canvas.dashes((LEFT, up.within(offset)), (RIGHT, end), Ink::Design, 1.8);
    let label = format!(
        "design {}",
        format::with_unit(&format::significant(drop.design_mohm, 2), "m\u{3a9}")
    );
    canvas.text(
        &label,
        LEFT + 8.0,
        TOP + 21.0,
        Anchor::Left,
        Ink::Design,
        TYPE,
    );
}

fn dots(canvas: &mut Canvas<'_>, points: &[(f64, f64)], across: &Scale, up: &Scale) {
    for (amps, volts) in points {
        canvas.dot(across.within(*amps), up.within(*volts), 1.5, Ink::Muted);
    }
}

fn axes(canvas: &mut Canvas<'_>, across: &Scale, up: &Scale) {
    for tick in up.ticks(4) {
        let y = up.at(tick);
        canvas.path(&[(LEFT, y), (RIGHT, y)], Ink::Grid, 0.8);
        canvas.text(
            &format::decimals(tick, 2),
            LEFT - 6.0,
            y,
            Anchor::Right,
            Ink::Muted,
            SMALL,
        );
    }
    for tick in across.ticks(5) {
        let x = across.at(tick);
        canvas.path(&[(x, BOTTOM), (x, BOTTOM + 4.0)], Ink::Muted, 0.8);
        canvas.text(
            &format::decimals(tick, 0),
            x,
            BOTTOM + 12.0,
            Anchor::Middle,
            Ink::Muted,
            SMALL,
        );
    }
    let (middle, y) = ((LEFT + RIGHT) / 2.0, BOTTOM + 27.0);
    canvas.text(
        "charging current, A",
        middle,
        y,
        Anchor::Middle,
        Ink::Muted,
        SMALL,
    );
    canvas.text(
        "controller minus bank, V",
        2.0,
        TOP - 15.0,
        Anchor::Left,
        Ink::Muted,
        SMALL,
    );
}
