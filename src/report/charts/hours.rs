//! What ruled the array in each hour: one row a day, 24 hours left to right.

use std::collections::BTreeMap;

use super::canvas::{Canvas, Caption, Swatch, draw};
use super::clock::{self, ProfileDay};
use super::grid::{self, PITCH};
use super::style::Ink;
use super::{Chart, HOURS, Table};
use crate::report::format;
use crate::report::model::{Profile, Report};
use crate::report::words;

const TOP: f64 = 68.0;
const LETTERS: [char; 8] = ['d', 'f', 'h', 'r', 'l', 'x', 'u', 'g'];

/// Fill and outline of a regime.
fn inks(letter: char) -> (Ink, Ink) {
    match letter {
        'd' => (Ink::Night, Ink::Night),
        'f' => (Ink::Solar, Ink::SolarEdge),
        'h' => (Ink::SpareFill, Ink::Spare),
        'r' => (Ink::Refused, Ink::Spare),
        'l' => (Ink::Limited, Ink::LostEdge),
        'x' => (Ink::Lost, Ink::LostEdge),
        'g' => (Ink::Gap, Ink::Paper),
        _ => (Ink::Unexplained, Ink::Muted),
    }
}

/// Stretches of one regime in a day: letter, from and to in hours.
fn stretches(profile: &Profile, day: &ProfileDay) -> Vec<(char, f64, f64)> {
    let step_h = profile.step_s.max(1) as f64 / 3600.0;
    let mut out: Vec<(char, f64, f64)> = Vec::new();
    for index in day.points.clone() {
        let Some((_, hour)) = clock::local(profile, index) else {
            continue;
        };
        let letter = match clock::regime(profile, index) {
            known if LETTERS.contains(&known) => known,
            _ => 'u',
        };
        let end = (hour + step_h).min(24.0);
        match out.last_mut() {
            Some(last) if last.0 == letter && (last.2 - hour).abs() < step_h / 2.0 => last.2 = end,
            _ => out.push((letter, hour, end)),
        }
    }
    out
}

type Stretches = Vec<(char, f64, f64)>;

/// A row for each day: names, stretches, hours by regime, and a remark where some days are not shown.
fn days(report: &Report) -> (Vec<String>, Vec<Stretches>, BTreeMap<char, f64>, String) {
    let (days, remark) = grid::days(report);
    let profile = report.series.fine();
    let rows: Vec<Stretches> = days.iter().map(|d| stretches(profile, d)).collect();
    let mut totals: BTreeMap<char, f64> = BTreeMap::new();
    for (letter, from, to) in rows.iter().flatten() {
        *totals.entry(*letter).or_default() += to - from;
    }
    let labels = days.iter().map(|d| format::day(&d.date)).collect();
    (labels, rows, totals, remark)
}

/// Stretches of one regime among the hours of a week or month.
fn long_stretches(regime: &str) -> Stretches {
    let mut out: Stretches = Vec::new();
    for (hour, letter) in regime.chars().take(24).enumerate() {
        let letter = if LETTERS.contains(&letter) {
            letter
        } else {
            'u'
        };
        let end = hour as f64 + 1.0;
        match out.last_mut() {
            Some(last) if last.0 == letter => last.2 = end,
            _ => out.push((letter, hour as f64, end)),
        }
    }
    out
}

pub(super) fn chart(report: &Report) -> Option<Chart> {
    let (labels, rows, totals, remark) = match &report.series.long_hours {
        Some(long) => {
            let (labels, remark) = grid::long_rows(report, long);
            let rows = long.rows.iter().map(|r| long_stretches(&r.regime));
            (labels, rows.collect(), long.hours.clone(), remark)
        }
        None => days(report),
    };
    if labels.is_empty() {
        return None;
    }
    let light: f64 = totals.iter().filter(|t| *t.0 != 'd').map(|t| t.1).sum();
    let held = totals.get(&'h').copied().unwrap_or(0.0);
    let title = if light > 0.0 && held > 0.0 {
        format!(
            "The array was held back in {} of the light hours",
            format::percent(held / light)
        )
    } else {
        "What ruled the array, hour by hour".to_string()
    };
    let present: Vec<char> = LETTERS
        .into_iter()
        .filter(|l| totals.contains_key(l))
        .collect();
    let description = description(&present, &totals, &remark);
    let caption = Caption {
        name: "hours",
        title: &title,
        description: &description,
    };
    let height = TOP + PITCH * labels.len() as f64 + 6.0;
    let svg = draw(&caption, height, |canvas| {
        paint(canvas, &labels, &rows, &present)
    })?;
    let table = table(&present, &totals);
    Some(Chart {
        name: "hours",
        file: HOURS,
        svg,
        title,
        description,
        table: Some(table),
    })
}

fn description(present: &[char], totals: &BTreeMap<char, f64>, remark: &str) -> String {
    let parts: Vec<String> = present
        .iter()
        .map(|l| {
            let hours = totals.get(l).copied().unwrap_or(0.0);
            let (word, gloss) = words::regime(*l);
            format!(
                "{word} {} ({gloss})",
                format::with_unit(&format::decimals(hours, 0), "h")
            )
        })
        .collect();
    format!("In all: {}.{remark}", parts.join(", "))
}

fn table(present: &[char], totals: &BTreeMap<char, f64>) -> Table {
    Table {
        caption: "Hours by what ruled the array".to_string(),
        head: ["state", "hours", "meaning"].map(String::from).to_vec(),
        rows: present
            .iter()
            .map(|l| {
                let (word, gloss) = words::regime(*l);
                let hours = format::cell(totals.get(l).copied(), 1);
                vec![word.to_string(), hours, gloss.to_string()]
            })
            .collect(),
    }
}

fn paint(canvas: &mut Canvas<'_>, labels: &[String], rows: &[Stretches], present: &[char]) {
    let legend: Vec<(Swatch, &str)> = present
        .iter()
        .map(|l| {
            let (fill, edge) = inks(*l);
            (Swatch::Block(fill, edge), words::regime(*l).0)
        })
        .collect();
    canvas.legend(&legend, 10.0);
    grid::frame(canvas, labels, TOP);
    let hours = grid::hours();
    for (i, row) in rows.iter().take(labels.len()).enumerate() {
        let y = TOP + PITCH * (i as f64 + 0.5);
        for (letter, from, to) in row {
            let (fill, edge) = inks(*letter);
            let half = if *letter == 'd' { 1.5 } else { 5.2 };
            let (x, height) = ((hours.at(*from), hours.at(*to)), (y - half, y + half));
            if edge == fill || edge == Ink::Paper {
                canvas.bar(x, height, fill);
            } else {
                canvas.block(x, height, fill, edge);
            }
        }
    }
    grid::quarters(canvas, labels.len(), TOP);
}
