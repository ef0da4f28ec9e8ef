//! One row a day: what came in, what was held back, what was lost, against plan, sky and clear sky.

use super::axis::{Scale, nice_end};
use super::canvas::{Anchor, Canvas, Caption, Swatch, draw};
use super::style::{Ink, SMALL, WIDTH};
use super::{Chart, DAYS, Table};
use crate::report::format;
use crate::report::model::{Day, DayState, Report};
use crate::report::spans::{self, Span, Spans, mean};
use crate::report::words;

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

fn row(label: &str, days: &[Day]) -> Row {
    let short = days.iter().filter(|d| d.state == DayState::Short).count();
    let word = match days {
        [one] => words::of_day(one),
        _ if short > 0 => format!("{short} short"),
        _ => String::new(),
    };
    Row {
        label: label.to_string(),
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
    let spans = spans::of_days(&report.days);
    let rows: Vec<Row> = spans
        .rows
        .iter()
        .map(|s| row(&s.label, &report.days[s.days.clone()]))
        .collect();
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
    let description = description(report, &spans);
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
        table: Some(table(report, &spans)),
    })
}

fn description(report: &Report, spans: &Spans) -> String {
    let short: Vec<String> = report
        .days
        .iter()
        .filter(|d| d.state == DayState::Short)
        .map(|d| d.date.clone())
        .collect();
    let mut text =
        "A bar is what came in, was held back and was lost; the diamond is what the sky offered."
            .to_string();
    if !short.is_empty() {
        text.push_str(&format!(" Marked short: {}.", format::days(&short)));
    }
    text.push_str(&spans.remark);
    if !spans.are_days() {
        text.push_str(" Bars and marks are means a day.");
    }
    text
}

fn table(report: &Report, spans: &Spans) -> Table {
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
    let caption = if spans.are_days() {
        "Days, all energies at the controller's output".to_string()
    } else {
        format!(
            "Means a day, all energies at the controller's output.{} Every day stands in days.csv.",
            spans.remark
        )
    };
    Table {
        caption,
        head: head.map(String::from).to_vec(),
        rows: spans
            .rows
            .iter()
            .map(|s| table_row(s, &report.days[s.days.clone()]))
            .collect(),
    }
}

fn table_row(span: &Span, days: &[Day]) -> Vec<String> {
    let name = match days {
        [one] => one.date.clone(),
        _ => span.label.clone(),
    };
    let mut row = vec![name, spans::states(days)];
    let figures: [fn(&Day) -> Option<f64>; 9] = [
        |d| d.planned_wh,
        |d| d.clear_wh,
        |d| d.offered_wh,
        |d| d.harvest_wh,
        |d| d.held_back_wh,
        |d| d.lost_wh,
        |d| d.unmeasured_wh,
        |d| d.unexplained_wh,
        |d| d.load_wh,
    ];
    row.extend(figures.map(|of| format::cell(mean(days, of), 0)));
    row.push(fulls(days));
    row
}

/// Whether a day had a full charge; of several days, on how many.
pub(super) fn fulls(days: &[Day]) -> String {
    match days {
        [one] => match one.reached_full {
            Some(true) => "yes".to_string(),
            Some(false) => "no".to_string(),
            None => "\u{2013}".to_string(),
        },
        _ if days.iter().all(|d| d.reached_full.is_none()) => "\u{2013}".to_string(),
        _ => {
            let full = days.iter().filter(|d| d.reached_full == Some(true));
            format!("{} of {}", full.count(), days.len())
        }
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
    fn a_long_log_is_drawn_in_months_and_its_table_too() {
        let report = demo::long(400);
        let chart = chart(&report).unwrap();
        assert!(chart.svg.len() <= 150_000);
        assert!(chart.description.contains("Each row is a month"));
        let table = chart.table.unwrap();
        assert_eq!(table.rows.len(), 14);
        assert!(table.caption.contains("days.csv"));
    }
}
