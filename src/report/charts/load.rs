//! Loads by hour of the day as bars with the spread of the days, the design's budget as a line.

use super::axis::{Scale, nice_end};
use super::canvas::{Anchor, Canvas, Caption, Swatch, draw};
use super::style::{Ink, SMALL, WIDTH};
use super::{Chart, LOAD, Table};
use crate::report::format;
use crate::report::model::{LoadHours, Report};
use crate::words::about;

const HEIGHT: f64 = 226.0;
/// Use this far above the budget is more than planned, share of it.
const CLEARLY_OVER: f64 = 1.05;
const TOP: f64 = 44.0;
const BOTTOM: f64 = HEIGHT - 22.0;
const LEFT: f64 = 44.0;
const RIGHT: f64 = WIDTH - 12.0;

pub(super) fn chart(report: &Report) -> Option<Chart> {
    let load = report.series.load_hours.as_ref()?;
    let known: Vec<f64> = load.mean_w.iter().flatten().copied().collect();
    if known.is_empty() {
        return None;
    }
    let title = title(load, &known);
    let description = description(load);
    let caption = Caption {
        name: "load",
        title: &title,
        description: &description,
    };
    let svg = draw(&caption, HEIGHT, |canvas| paint(canvas, load))?;
    Some(Chart {
        name: "load",
        file: LOAD,
        svg,
        title,
        description,
        table: Some(table(load)),
    })
}

fn title(load: &LoadHours, known: &[f64]) -> String {
    let watts = |w: f64| format::with_unit(&format::significant(w, 2), "W");
    let mean = known.iter().sum::<f64>() / known.len().max(1) as f64;
    match &load.budget_w {
        Some(budget) if !budget.is_empty() => format!(
            "The loads take {} on average; {} are planned",
            watts(mean),
            watts(budget.iter().sum::<f64>() / budget.len() as f64)
        ),
        _ => format!("The loads take {} on average", watts(mean)),
    }
}

fn budget_at(load: &LoadHours, hour: usize) -> Option<f64> {
    load.budget_w.as_ref()?.get(hour).copied()
}

fn description(load: &LoadHours) -> String {
    let watts = |w: f64| format::with_unit(&format::significant(w, 2), "W");
    let most = load
        .mean_w
        .iter()
        .enumerate()
        .filter_map(|(h, w)| Some((h, (*w)?)))
        .max_by(|a, b| a.1.total_cmp(&b.1));
    let mut text = most.map_or_else(String::new, |(hour, w)| {
        format!(
            "Most from {hour:02}:00 to {:02}:00: {}.",
            hour + 1,
            watts(w)
        )
    });
    // On nine days of ten above what is planned for that hour.
    let over: Vec<usize> = (0..load.low_w.len())
        .filter(|h| match (load.low_w[*h], budget_at(load, *h)) {
            (Some(low), Some(planned)) => low > planned,
            _ => false,
        })
        .collect();
    // A budget says how much and seldom when: its hours speak only where its day is passed.
    let daily = |list: &[Option<f64>]| -> Option<f64> { list.iter().copied().sum() };
    let planned = load.budget_w.as_ref().map(|b| b.iter().sum::<f64>());
    if let (Some(used), Some(planned)) = (daily(&load.mean_w), planned) {
        text.push_str(&format!(
            " In all about {} a day, of {} planned.",
            format::with_unit(&about(used), "Wh"),
            format::with_unit(&about(planned), "Wh")
        ));
        if used > CLEARLY_OVER * planned && !over.is_empty() {
            text.push_str(&format!(
                " Above the budget on nine days of ten: {}.",
                hours_in_words(&over)
            ));
        }
    }
    text.push_str(&spread(load.days.iter().copied().max().unwrap_or_default()));
    text
}

/// What the thin lines span, of so many days: from the tenth to the ninetieth percentile.
fn spread(days: usize) -> String {
    let days_told = format::count(days, "day");
    match (0.1 * days as f64).round() as usize {
        0 => format!(" Thin lines: nearly from the lowest to the highest of {days_told}."),
        left_out => format!(
            " Thin lines: from the lowest to the highest of {days_told}, about {left_out} at either end left out."
        ),
    }
}

/// Hours of the day as spans: `18:00 to 21:00, 23:00 to 24:00`.
fn hours_in_words(hours: &[usize]) -> String {
    let mut spans: Vec<(usize, usize)> = Vec::new();
    for hour in hours {
        match spans.last_mut() {
            Some(last) if last.1 == *hour => last.1 = hour + 1,
            _ => spans.push((*hour, hour + 1)),
        }
    }
    let words: Vec<String> = spans
        .iter()
        .map(|(from, to)| format!("{from:02}:00 to {to:02}:00"))
        .collect();
    words.join(", ")
}

fn table(load: &LoadHours) -> Table {
    let of = |list: &[Option<f64>], hour: usize| format::cell(list.get(hour).copied().flatten(), 0);
    Table {
        caption: "Loads by hour of the day".to_string(),
        head: [
            "hour from",
            "mean, W",
            "a tenth of days below, W",
            "a tenth of days above, W",
            "budget, W",
            "days",
        ]
        .map(String::from)
        .to_vec(),
        rows: (0..load.mean_w.len())
            .map(|hour| {
                vec![
                    format!("{hour:02}:00"),
                    of(&load.mean_w, hour),
                    of(&load.low_w, hour),
                    of(&load.high_w, hour),
                    format::cell(budget_at(load, hour), 0),
                    load.days
                        .get(hour)
                        .map_or_else(String::new, usize::to_string),
                ]
            })
            .collect(),
    }
}

fn paint(canvas: &mut Canvas<'_>, load: &LoadHours) {
    let mut items = vec![(Swatch::Block(Ink::Use, Ink::Text), "loads")];
    if load.budget_w.is_some() {
        items.push((Swatch::Line(Ink::Design, 2.0), "budget"));
    }
    canvas.legend(&items, 10.0);
    let largest = load
        .high_w
        .iter()
        .chain(&load.mean_w)
        .flatten()
        .copied()
        .chain(load.budget_w.iter().flatten().copied())
        .filter(|w| w.is_finite())
        .fold(0.0, f64::max);
    let up = Scale::new(0.0, nice_end(largest), BOTTOM, TOP);
    let hours = Scale::new(0.0, 24.0, LEFT, RIGHT);
    axes(canvas, &hours, &up);
    for hour in 0..load.mean_w.len().min(24) {
        let of = |list: &[Option<f64>]| list.get(hour).copied().flatten().filter(|w| w.is_finite());
        let (x0, x1) = (
            hours.at(hour as f64) + 1.6,
            hours.at(hour as f64 + 1.0) - 1.6,
        );
        if let Some(mean) = of(&load.mean_w) {
            canvas.block((x0, x1), (up.at(0.0), up.within(mean)), Ink::Use, Ink::Text);
        }
        if let (Some(low), Some(high)) = (of(&load.low_w), of(&load.high_w)) {
            let (x, a, b) = ((x0 + x1) / 2.0, up.within(low), up.within(high));
            canvas.path(&[(x, a), (x, b)], Ink::Text, 1.0);
        }
    }
    if let Some(budget) = &load.budget_w {
        let mut line = Vec::new();
        for (hour, watts) in budget.iter().take(24).enumerate() {
            let y = up.within(*watts);
            line.push((hours.at(hour as f64), y));
            line.push((hours.at(hour as f64 + 1.0), y));
        }
        // Under the line in the page's own colour, so that it shows on the bars.
        canvas.path(&line, Ink::Paper, 4.0);
        canvas.path(&line, Ink::Design, 2.0);
    }
}

fn axes(canvas: &mut Canvas<'_>, hours: &Scale, up: &Scale) {
    for tick in up.ticks(4) {
        let y = up.at(tick);
        canvas.path(&[(LEFT, y), (RIGHT, y)], Ink::Grid, 0.8);
        canvas.text(
            &format::whole(tick),
            LEFT - 6.0,
            y,
            Anchor::Right,
            Ink::Muted,
            SMALL,
        );
    }
    canvas.text("W", 2.0, TOP - 15.0, Anchor::Left, Ink::Muted, SMALL);
    super::grid::clock(canvas, hours, &[0, 6, 12, 18, 24], BOTTOM);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_spread_is_told_by_the_days_there_are() {
        assert!(spread(4).contains("highest of 4") && !spread(4).contains("left out"));
        assert!(spread(14).ends_with("about 1 at either end left out."));
        assert!(spread(365).ends_with("about 37 at either end left out."));
    }

    #[test]
    fn hours_in_a_row_become_a_span() {
        assert_eq!(
            hours_in_words(&[0, 1, 18, 19, 20, 23]),
            "00:00 to 02:00, 18:00 to 21:00, 23:00 to 24:00"
        );
    }
}
