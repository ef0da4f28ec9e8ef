//! Output as a share of a clear sky, by hour and day: shade and shut-offs that keep to the clock show as columns.

use super::canvas::{Anchor, Canvas, Caption, draw};
use super::clock::{self, ProfileDay};
use super::grid::{self, PITCH};
use super::style::{Ink, SMALL};
use super::{Chart, HEAT};
use crate::report::format;
use crate::report::model::{HoursRow, Profile, Report};

const TOP: f64 = 64.0;
/// Below this share of the period's best clear power an hour counts as dark: ratios there are noise.
const DARK_BELOW: f64 = 0.05;
/// Shares at which a deeper shade begins.
const LEVELS: [f64; 4] = [0.2, 0.4, 0.6, 0.8];

/// What an hour shows.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Cell {
    Dark,
    Grey,
    Share(f64),
}

/// The 24 hours of a day.
fn cells(profile: &Profile, day: &ProfileDay, best: f64) -> [Cell; 24] {
    let mut sums = [(0.0, 0.0, 0usize, 0usize); 24];
    for index in day.points.clone() {
        let Some((_, hour)) = clock::local(profile, index) else {
            continue;
        };
        let sum = &mut sums[(hour as usize).min(23)];
        let clear = profile.clear_w[index]
            .filter(|v| v.is_finite())
            .unwrap_or(0.0);
        if clear < best * DARK_BELOW {
            continue;
        }
        sum.3 += 1;
        let harvest = profile.harvest_w[index].filter(|v| v.is_finite());
        if let (Some(harvest), 'f' | 'l' | 'x' | 'd') = (harvest, clock::regime(profile, index)) {
            sum.0 += harvest;
            sum.1 += clear;
            sum.2 += 1;
        }
    }
    sums.map(|(harvest, clear, shown, light)| {
        if light == 0 {
            Cell::Dark
        } else if shown * 2 < light {
            Cell::Grey
        } else {
            Cell::Share(harvest / clear)
        }
    })
}

fn ink(cell: Cell) -> Option<Ink> {
    match cell {
        Cell::Dark => None,
        Cell::Grey => Some(Ink::Night),
        Cell::Share(share) => Some(Ink::Heat(
            LEVELS.iter().filter(|l| share >= **l).count() as u8
        )),
    }
}

/// A row for each day: names, hours, and a remark where some days are not shown.
fn days(report: &Report) -> (Vec<String>, Vec<[Cell; 24]>, String) {
    let profile = report.series.fine();
    let best = clock::largest(&profile.clear_w);
    let (days, remark) = grid::days(report);
    let rows = days.iter().map(|d| cells(profile, d, best)).collect();
    let labels = days.iter().map(|d| format::day(&d.date)).collect();
    (labels, rows, remark)
}

/// The hours of a week or month.
fn long_cells(row: &HoursRow) -> [Cell; 24] {
    let mut letters = row.regime.chars();
    std::array::from_fn(|hour| {
        let share = row.share.get(hour).copied().flatten();
        match (share.filter(|s| s.is_finite()), letters.next()) {
            (Some(share), _) => Cell::Share(share),
            (None, Some('d') | None) => Cell::Dark,
            (None, Some(_)) => Cell::Grey,
        }
    })
}

pub(super) fn chart(report: &Report) -> Option<Chart> {
    let (labels, rows, remark) = match &report.series.long_hours {
        Some(long) => {
            let (labels, remark) = grid::long_rows(report, long);
            (labels, long.rows.iter().map(long_cells).collect(), remark)
        }
        None => days(report),
    };
    // Nothing all the time is no picture of hours: nobody logged the array, or it gave nothing.
    let gives = |c: &Cell| matches!(c, Cell::Share(share) if *share > 0.01);
    let shown = rows.iter().flatten().any(gives);
    if !shown {
        return None;
    }
    let title = "Output as a share of a clear sky, by hour".to_string();
    let description = format!(
        "{} Grey: held back, or not measured. A column of weak hours on many days points to shade or to \
         something that keeps to the clock.{remark}",
        best_hour(&rows)
    );
    let caption = Caption {
        name: "heat",
        title: &title,
        description: &description,
    };
    let height = TOP + PITCH * labels.len() as f64 + 6.0;
    let svg = draw(&caption, height, |canvas| paint(canvas, &labels, &rows))?;
    Some(Chart {
        name: "heat",
        file: HEAT,
        svg,
        title,
        description,
        table: None,
    })
}

/// Hours at either end of the day that tell little: under a low sun haze, horizon and the light of the whole
/// sky rule.
const LOW_SUN_H: usize = 2;

/// The best hour of the day over the period, in words.
fn best_hour(rows: &[[Cell; 24]]) -> String {
    let seen = |hour: &usize| rows.iter().any(|r| matches!(r[*hour], Cell::Share(_)));
    let (first, last) = (
        (0..24).find(seen).unwrap_or(0),
        (0..24).rev().find(seen).unwrap_or(0),
    );
    let best = (first + LOW_SUN_H..(last + 1).saturating_sub(LOW_SUN_H))
        .filter_map(|hour| {
            let shares: Vec<f64> = rows
                .iter()
                .filter_map(|r| match r[hour] {
                    Cell::Share(share) => Some(share),
                    _ => None,
                })
                .collect();
            (!shares.is_empty()).then(|| (hour, shares.iter().sum::<f64>() / shares.len() as f64))
        })
        .max_by(|a, b| a.1.total_cmp(&b.1));
    match best {
        Some((hour, share)) => format!(
            "Strongest on average from {hour:02}:00 to {:02}:00, at {} of a clear sky.",
            hour + 1,
            format::percent(share)
        ),
        None => String::new(),
    }
}

fn paint(canvas: &mut Canvas<'_>, labels: &[String], rows: &[[Cell; 24]]) {
    legend(canvas);
    grid::frame(canvas, labels, TOP);
    let hours = grid::hours();
    for (i, row) in rows.iter().take(labels.len()).enumerate() {
        let y = TOP + PITCH * i as f64;
        let mut start = 0;
        while start < 24 {
            let ink_here = ink(row[start]);
            let mut end = start + 1;
            while end < 24 && ink(row[end]) == ink_here {
                end += 1;
            }
            if let Some(ink_here) = ink_here {
                let x = (hours.at(start as f64), hours.at(end as f64));
                canvas.bar(x, (y + 1.0, y + PITCH - 1.0), ink_here);
            }
            start = end;
        }
    }
    grid::quarters(canvas, labels.len(), TOP);
}

fn legend(canvas: &mut Canvas<'_>) {
    let labels = ["0", "20", "40", "60", "80\u{a0}%"];
    for (i, label) in labels.iter().enumerate() {
        let x = 2.0 + 34.0 * i as f64;
        canvas.block((x, x + 34.0), (5.0, 16.0), Ink::Heat(i as u8), Ink::Muted);
        canvas.text(label, x + 1.0, 26.0, Anchor::Left, Ink::Text, SMALL);
    }
    canvas.block((196.0, 212.0), (5.0, 16.0), Ink::Night, Ink::Muted);
    canvas.text(
        "held or not measured",
        218.0,
        11.0,
        Anchor::Left,
        Ink::Text,
        SMALL,
    );
}
