//! One row a day: what came in, what was held back, what was lost, against plan, sky and clear sky.

use super::axis::{Scale, nice_end};
use super::canvas::{Anchor, Canvas, Caption, Swatch, draw};
use super::style::{Ink, SMALL, WIDTH};
use super::{Chart, DAYS, Table};
use crate::report::format;
use crate::report::model::{Day, DayState, Report};

/// More rows than this and days are drawn several to a row, as their mean.
const MOST_ROWS: usize = 62;
const LEFT: f64 = 58.0;
const RIGHT: f64 = WIDTH - 92.0;
const TOP: f64 = 66.0;

/// One row: a day, or the mean of several.
#[derive(Debug, Clone, Default)]
struct Row {
    label: String,
    word: String,
    short: bool,
    unmeasured: bool,
    harvest: Option<f64>,
    held_back: Option<f64>,
    lost: Option<f64>,
    gap: Option<f64>,
    planned: Option<f64>,
    offered: Option<f64>,
    clear: Option<f64>,
}

fn mean(days: &[Day], of: impl Fn(&Day) -> Option<f64>) -> Option<f64> {
    let known: Vec<f64> = days
        .iter()
        .filter_map(of)
        .filter(|v| v.is_finite())
        .collect();
    (!known.is_empty()).then(|| known.iter().sum::<f64>() / known.len() as f64)
}

fn row(days: &[Day]) -> Row {
    let short = days.iter().filter(|d| d.state == DayState::Short).count();
    let word = match days {
        [one] => one.state.word().to_string(),
        _ if short > 0 => format!("{short} short"),
        _ => String::new(),
    };
    Row {
        label: days
            .first()
            .map(|d| format::day(&d.date))
            .unwrap_or_default(),
        word,
        short: short > 0,
        unmeasured: days.iter().all(|d| d.state == DayState::Unmeasured),
        harvest: mean(days, |d| d.harvest_wh),
        held_back: mean(days, |d| d.held_back_wh),
        lost: mean(days, |d| d.lost_wh),
        gap: mean(days, |d| d.unmeasured_wh),
        planned: mean(days, |d| d.planned_wh),
        offered: mean(days, |d| d.offered_wh),
        clear: mean(days, |d| d.clear_wh),
    }
}

pub(super) fn chart(report: &Report) -> Option<Chart> {
    let per_row = report.days.len().div_ceil(MOST_ROWS).max(1);
    let rows: Vec<Row> = report.days.chunks(per_row).map(row).collect();
    let known = rows
        .iter()
        .any(|r| r.harvest.is_some() || r.offered.is_some());
    if !known {
        return None;
    }
    let short = report
        .days
        .iter()
        .filter(|d| d.state == DayState::Short)
        .count();
    let count = report.days.len();
    let title = match short {
        0 if report.days.iter().all(|d| !d.judged) => "No day could be judged".to_string(),
        0 => format!("No day of {count} fell short of its sky"),
        _ => format!("{short} of {count} days fell short of their sky"),
    };
    let description = description(report, per_row);
    let caption = Caption {
        name: "days",
        title: &title,
        description: &description,
    };
    let pitch = if rows.len() > 31 { 16.0 } else { 18.0 };
    let height = TOP + pitch * rows.len() as f64 + 6.0;
    let svg = draw(&caption, height, |canvas| paint(canvas, &rows, pitch))?;
    Some(Chart {
        name: "days",
        file: DAYS,
        svg,
        title,
        description,
        table: Some(table(report)),
    })
}

fn description(report: &Report, per_row: usize) -> String {
    let short: Vec<String> = report
        .days
        .iter()
        .filter(|d| d.state == DayState::Short)
        .map(|d| d.date.clone())
        .collect();
    let mut text = if short.is_empty() {
        "No day is marked short.".to_string()
    } else {
        format!("Marked short: {}.", format::days(&short))
    };
    if per_row > 1 {
        text.push_str(&format!(
            " Each row is the mean of {per_row} days, named by the first."
        ));
    }
    text
}

fn table(report: &Report) -> Table {
    let head = [
        "day",
        "state",
        "planned, Wh",
        "clear, Wh",
        "offered, Wh",
        "harvest, Wh",
        "held back, Wh",
        "lost, Wh",
        "not measured, Wh",
        "unexplained, Wh",
        "loads, Wh",
        "full charge",
    ];
    let full = |day: &Day| match day.reached_full {
        Some(true) => "yes",
        Some(false) => "no",
        None => "\u{2013}",
    };
    Table {
        caption: "Days, all energies at the controller's output".to_string(),
        head: head.map(String::from).to_vec(),
        rows: report
            .days
            .iter()
            .map(|d| {
                let mut row = vec![d.date.clone(), d.state.word().to_string()];
                row.extend(
                    [
                        d.planned_wh,
                        d.clear_wh,
                        d.offered_wh,
                        d.harvest_wh,
                        d.held_back_wh,
                        d.lost_wh,
                        d.unmeasured_wh,
                        d.unexplained_wh,
                        d.load_wh,
                    ]
                    .map(|v| format::cell(v, 0)),
                );
                row.push(full(d).to_string());
                row
            })
            .collect(),
    }
}

fn paint(canvas: &mut Canvas<'_>, rows: &[Row], pitch: f64) {
    canvas.legend(
        &[
            (Swatch::Block(Ink::Solar, Ink::SolarEdge), "harvest"),
            (Swatch::Block(Ink::SpareFill, Ink::Spare), "held back"),
            (Swatch::Block(Ink::Lost, Ink::LostEdge), "lost"),
            (Swatch::Block(Ink::Gap, Ink::Muted), "gap"),
            (Swatch::Tick(Ink::Design), "planned"),
            (Swatch::Diamond(Ink::Text), "offered"),
            (Swatch::Dot(Ink::Muted), "clear sky"),
        ],
        10.0,
    );
    let largest = rows
        .iter()
        .flat_map(|r| [r.planned, r.offered, r.clear, r.harvest])
        .flatten()
        .fold(0.0, f64::max);
    let scale = Scale::new(0.0, nice_end(largest), LEFT, RIGHT);
    let bottom = TOP + pitch * rows.len() as f64;
    for tick in scale.ticks(4) {
        let x = scale.at(tick);
        canvas.path(&[(x, TOP - 4.0), (x, bottom)], Ink::Grid, 0.8);
        canvas.text(
            &format::whole(tick),
            x,
            TOP - 12.0,
            Anchor::Middle,
            Ink::Muted,
            SMALL,
        );
    }
    canvas.text(
        "Wh",
        LEFT - 12.0,
        TOP - 12.0,
        Anchor::Right,
        Ink::Muted,
        SMALL,
    );
    for (i, row) in rows.iter().enumerate() {
        paint_row(canvas, row, &scale, TOP + pitch * (i as f64 + 0.5), pitch);
    }
}

fn paint_row(canvas: &mut Canvas<'_>, row: &Row, scale: &Scale, y: f64, pitch: f64) {
    let half = pitch * 0.31;
    let mut level = 0.0;
    for (part, fill, edge) in [
        (row.harvest, Ink::Solar, Ink::SolarEdge),
        (row.held_back, Ink::SpareFill, Ink::Spare),
        (row.lost, Ink::Lost, Ink::LostEdge),
        (row.gap, Ink::Gap, Ink::Muted),
    ] {
        let size = part.unwrap_or(0.0).max(0.0);
        let (from, to) = (scale.within(level), scale.within(level + size));
        canvas.block((from, to), (y - half, y + half), fill, edge);
        level += size;
    }
    if let Some(clear) = row.clear {
        canvas.dot(scale.within(clear), y, 1.7, Ink::Muted);
    }
    if let Some(planned) = row.planned {
        let x = scale.within(planned);
        canvas.path(
            &[(x, y - pitch * 0.45), (x, y + pitch * 0.45)],
            Ink::Design,
            1.8,
        );
    }
    if let Some(offered) = row.offered {
        canvas.diamond(scale.within(offered), y, Ink::Text);
    }
    canvas.text(&row.label, LEFT - 8.0, y, Anchor::Right, Ink::Text, SMALL);
    let x = RIGHT + 10.0;
    if row.short {
        canvas.mark(x + 4.0, y, 4.0, Ink::Lost);
        canvas.bold(&row.word, x + 13.0, y, Anchor::Left, Ink::Text, SMALL);
    } else {
        let word = if row.unmeasured {
            "unmeasured"
        } else {
            &row.word
        };
        canvas.text(word, x, y, Anchor::Left, Ink::Muted, SMALL);
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::report::demo;

    #[test]
    fn every_flagged_day_carries_the_word() {
        let report = demo::faulty();
        let chart = chart(&report).unwrap();
        let short = report
            .days
            .iter()
            .filter(|d| d.state == DayState::Short)
            .count();
        assert!(short > 0);
        assert_eq!(chart.svg.matches(">short<").count(), short);
        assert_eq!(chart.table.unwrap().rows.len(), report.days.len());
    }

    #[test]
    fn a_long_log_is_drawn_several_days_to_a_row() {
        let mut report = demo::healthy();
        let day = report.days[0].clone();
        report.days = vec![day; 400];
        let chart = chart(&report).unwrap();
        assert!(chart.svg.len() <= 150_000);
        assert!(chart.description.contains("mean of 7 days"));
    }
}
