//! Days side by side at one scale: power as an area, a clear day as a line, held time as a strip below.

use super::axis::{Scale, nice_end, runs, thin};
use super::canvas::{Anchor, Canvas, Caption, Swatch, draw};
use super::clock::{self, ProfileDay};
use super::style::{Ink, SMALL, WIDTH};
use super::{Chart, PANELS};
use crate::report::format;
use crate::report::model::{DayState, Report};
use crate::report::words;

const COLUMNS: usize = 3;
/// Most days shown: eight rows of three.
const MOST: usize = 24;
const TOP: f64 = 26.0;
const CELL: f64 = 92.0;
const BUCKETS: usize = 72;

/// Days to show: those marked short first, the rest evenly spread, in the order of dates.
fn chosen(report: &Report, days: Vec<ProfileDay>) -> Vec<ProfileDay> {
    if days.len() <= MOST {
        return days;
    }
    let short = |d: &ProfileDay| {
        report
            .days
            .iter()
            .any(|day| day.date == d.date && day.state == DayState::Short)
    };
    let (marked, others): (Vec<_>, Vec<_>) = days.into_iter().partition(short);
    let mut shown: Vec<ProfileDay> = marked.into_iter().take(MOST).collect();
    let free = MOST - shown.len();
    let count = others.len();
    let wanted: Vec<usize> = (0..free).map(|i| i * count / free).collect();
    shown.extend(
        others
            .into_iter()
            .enumerate()
            .filter(|(i, _)| wanted.contains(i))
            .map(|(_, d)| d),
    );
    shown.sort_by_key(|d| d.points.start);
    shown
}

pub(super) fn chart(report: &Report) -> Option<Chart> {
    let profile = report.series.fine();
    if clock::largest(&profile.harvest_w) <= 0.0 {
        return None;
    }
    let all = clock::profile_days(profile);
    let fine = all.len();
    let total = report.days.len().max(fine);
    let days = chosen(report, all);
    let top = nice_end(clock::largest(&profile.harvest_w).max(clock::largest(&profile.clear_w)));
    let title = "Power through each day against a clear sky".to_string();
    let mut description = format!(
        "Every panel runs from 00:00 to 24:00 and up to {}.",
        format::with_unit(&format::whole(top), "W")
    );
    if days.len() < total {
        let last = if fine < total {
            format!(", taken from the last {fine}")
        } else {
            String::new()
        };
        description.push_str(&format!(" {} of {total} days are shown{last}.", days.len()));
    }
    let rows = days.len().div_ceil(COLUMNS);
    let height = TOP + CELL * rows as f64 + 2.0;
    let caption = Caption {
        name: "panels",
        title: &title,
        description: &description,
    };
    let svg = draw(&caption, height, |canvas| paint(canvas, report, &days, top))?;
    Some(Chart {
        name: "panels",
        file: PANELS,
        svg,
        title,
        description,
        table: None,
    })
}

fn paint(canvas: &mut Canvas<'_>, report: &Report, days: &[ProfileDay], top: f64) {
    canvas.legend(
        &[
            (Swatch::Block(Ink::Solar, Ink::SolarEdge), "harvest"),
            (Swatch::Line(Ink::Design, 1.6), "clear sky"),
            (Swatch::Block(Ink::SpareFill, Ink::Spare), "held"),
            (Swatch::Block(Ink::Gap, Ink::Muted), "gap"),
        ],
        10.0,
    );
    let width = WIDTH / COLUMNS as f64;
    for (i, day) in days.iter().enumerate() {
        let x = width * (i % COLUMNS) as f64;
        let y = TOP + CELL * (i / COLUMNS) as f64;
        panel(canvas, report, day, (x + 3.0, x + width - 5.0), y, top);
    }
}

fn panel(
    canvas: &mut Canvas<'_>,
    report: &Report,
    day: &ProfileDay,
    x: (f64, f64),
    y: f64,
    top: f64,
) {
    let profile = report.series.fine();
    let hours = Scale::new(0.0, 24.0, x.0, x.1);
    let up = Scale::new(0.0, top, y + CELL - 14.0, y + 20.0);
    canvas.path(&[(x.0, up.at(top)), (x.1, up.at(top))], Ink::Grid, 0.7);
    let series = |values: &[Option<f64>]| {
        let points: Vec<(f64, Option<f64>)> = day
            .points
            .clone()
            .filter_map(|i| {
                Some((
                    clock::local(profile, i)?.1,
                    values.get(i).copied().flatten(),
                ))
            })
            .collect();
        runs(points.into_iter())
    };
    for run in series(&profile.harvest_w) {
        let line = places(&run, &hours, &up);
        if let (Some(first), Some(last)) = (line.first().copied(), line.last().copied()) {
            let mut outline = line.clone();
            outline.push((last.0, up.at(0.0)));
            outline.push((first.0, up.at(0.0)));
            canvas.area(&outline, Ink::Solar);
            canvas.path(&line, Ink::SolarEdge, 0.8);
        }
    }
    for run in series(&profile.clear_w) {
        canvas.path(&places(&run, &hours, &up), Ink::Design, 1.3);
    }
    canvas.path(&[(x.0, up.at(0.0)), (x.1, up.at(0.0))], Ink::Muted, 0.8);
    strip(canvas, report, day, &hours, up.at(0.0) + 2.0);
    heading(canvas, report, day, x, y + 9.0);
}

fn places(run: &[(f64, f64)], hours: &Scale, up: &Scale) -> Vec<(f64, f64)> {
    thin(run, BUCKETS)
        .into_iter()
        .map(|(x, y)| (hours.at(x), up.within(y)))
        .collect()
}

/// Date and, where the day stands out, its state.
fn heading(canvas: &mut Canvas<'_>, report: &Report, day: &ProfileDay, x: (f64, f64), y: f64) {
    canvas.text(
        &format::day(&day.date),
        x.0,
        y,
        Anchor::Left,
        Ink::Text,
        SMALL,
    );
    let state = report
        .days
        .iter()
        .find(|d| d.date == day.date)
        .map(|d| (d.state, words::of_day(d)));
    match state {
        Some((DayState::Short, _)) => {
            canvas.mark(x.0 + 52.0, y, 3.6, Ink::Lost);
            canvas.bold("short", x.0 + 60.0, y, Anchor::Left, Ink::Text, SMALL);
        }
        // The state's own word is too long to stand beside the date.
        Some((DayState::Unmeasured, _)) => {
            canvas.text("gap", x.1, y, Anchor::Right, Ink::Muted, SMALL);
        }
        Some((_, word)) => canvas.text(&word, x.1, y, Anchor::Right, Ink::Muted, SMALL),
        None => {}
    }
}

/// Held and missing time under the curve.
fn strip(canvas: &mut Canvas<'_>, report: &Report, day: &ProfileDay, hours: &Scale, y: f64) {
    let profile = report.series.fine();
    let step_h = profile.step_s.max(1) as f64 / 3600.0;
    for (letter, fill, edge) in [
        ('h', Ink::SpareFill, Ink::Spare),
        ('g', Ink::Gap, Ink::Muted),
    ] {
        let held = |i: usize| (clock::regime(profile, i) == letter).then_some(step_h);
        let points = day
            .points
            .clone()
            .filter_map(|i| Some((clock::local(profile, i)?.1, held(i))));
        for run in runs(points) {
            if let (Some(first), Some(last)) = (run.first(), run.last()) {
                let end = (last.0 + step_h).min(24.0);
                canvas.block((hours.at(first.0), hours.at(end)), (y, y + 5.0), fill, edge);
            }
        }
    }
}
