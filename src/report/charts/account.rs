//! Where the harvest went: a waterfall from planned to harvested, each step with its range.

use super::axis::Scale;
use super::canvas::{Anchor, Canvas, Caption, draw};
use super::style::{Ink, TYPE, WIDTH};
use super::{ACCOUNT, Chart, Table};
use crate::report::cancelled;
use crate::report::format;
use crate::report::model::{Entry, How, Report};
use crate::report::words;

const ROW: f64 = 27.0;
const TOP: f64 = 8.0;
const LEFT: f64 = 104.0;
const RIGHT: f64 = WIDTH - 84.0;
/// A step with where its bar starts and ends, Wh.
struct Step<'a> {
    entry: &'a Entry,
    from: f64,
    to: f64,
}

/// The steps worth a row: those that move something or might.
fn steps(entries: &[Entry]) -> Vec<Step<'_>> {
    let mut level = 0.0;
    let mut out = Vec::new();
    for entry in entries {
        let total = is_total(&entry.name);
        let (from, to) = if total {
            (0.0, entry.wh)
        } else {
            (level, level + entry.wh)
        };
        level = to;
        let seen = [entry.wh, entry.low, entry.high]
            .iter()
            .any(|v| v.abs() >= 0.5);
        if (total || seen) && from.is_finite() && to.is_finite() {
            out.push(Step { entry, from, to });
        }
    }
    out
}

fn is_total(name: &str) -> bool {
    matches!(name, "planned" | "harvested")
}

/// Fill and outline of a step.
fn inks(name: &str, gain: bool) -> (Ink, Ink) {
    match name {
        "planned" => (Ink::Paper, Ink::Design),
        "harvested" => (Ink::Solar, Ink::SolarEdge),
        "held_back" => (Ink::SpareFill, Ink::Spare),
        "unexplained" => (Ink::Unexplained, Ink::Muted),
        "unmeasured" => (Ink::Gap, Ink::Muted),
        "season" | "weather" | "heat" => (Ink::Night, Ink::Muted),
        _ if gain => (Ink::Solar, Ink::SolarEdge),
        _ => (Ink::Lost, Ink::LostEdge),
    }
}

/// How a figure came about, in words.
fn how(how: How) -> &'static str {
    match how {
        How::Measured => "measured",
        How::Modelled => "modelled",
        How::Inferred => "inferred",
        How::Assumed => "assumed",
    }
}

pub(super) fn chart(report: &Report) -> Option<Chart> {
    let steps = steps(&report.account.harvest);
    let moved = steps.iter().any(|s| s.entry.wh != 0.0);
    if !moved || nothing_known(report) {
        return None;
    }
    let title = title(&report.account.harvest);
    let description = [Some(description(&steps)), cancelled::told(report)]
        .into_iter()
        .flatten()
        .collect::<Vec<_>>()
        .join(" ");
    let height = TOP + ROW * steps.len() as f64 + 6.0;
    let caption = Caption {
        name: "account",
        title: &title,
        description: &description,
    };
    let svg = draw(&caption, height, |canvas| paint(canvas, &steps))?;
    Some(Chart {
        name: "account",
        file: ACCOUNT,
        svg,
        title,
        description,
        table: Some(table(
            "Harvest account, whole period",
            &report.account.harvest,
        )),
    })
}

/// No day could be judged and nothing was harvested that the log knows of: a bar of no harvest would claim
/// what nobody saw.
fn nothing_known(report: &Report) -> bool {
    report.days.iter().all(|d| !d.judged)
        && report
            .account
            .harvest
            .iter()
            .all(|e| e.name != "harvested" || e.wh == 0.0)
}

fn title(entries: &[Entry]) -> String {
    let of = |name: &str| {
        entries
            .iter()
            .find(|e| e.name == name)
            .map_or(0.0, |e| e.wh)
    };
    format!(
        "Of {} planned, {} were harvested",
        format::energy(of("planned")),
        format::energy(of("harvested"))
    )
}

fn description(steps: &[Step<'_>]) -> String {
    let parts: Vec<String> = steps
        .iter()
        .map(|s| {
            let figure = if is_total(&s.entry.name) {
                format::energy(s.entry.wh)
            } else {
                format::energy_signed(s.entry.wh)
            };
            format!("{} {figure}", words::step(&s.entry.name).0)
        })
        .collect();
    let mut text = format!("From top to bottom: {}.", parts.join(", "));
    if steps.iter().any(|s| words::is_beyond(&s.entry.name)) {
        text.push_str(&format!(" {}", words::BEYOND));
    }
    text
}

/// An account as a table; the page uses it for the bank's account too.
pub(crate) fn table(caption: &str, entries: &[Entry]) -> Table {
    Table {
        caption: caption.to_string(),
        head: ["step", "Wh", "low", "high", "how", "what it is"]
            .map(String::from)
            .to_vec(),
        rows: entries
            .iter()
            .map(|e| {
                let (word, gloss) = words::step(&e.name);
                vec![
                    word.to_string(),
                    format::whole(e.wh),
                    format::whole(e.low),
                    format::whole(e.high),
                    how(e.how).to_string(),
                    gloss.to_string(),
                ]
            })
            .collect(),
    }
}

fn paint(canvas: &mut Canvas<'_>, steps: &[Step<'_>]) {
    let ends = steps.iter().flat_map(|s| {
        let base = s.from;
        let total = is_total(&s.entry.name);
        let whisker = |v: f64| if total { v } else { base + v };
        [s.from, s.to, whisker(s.entry.low), whisker(s.entry.high)]
    });
    let (mut low, mut high) = (0.0f64, 0.0f64);
    for end in ends.filter(|v| v.is_finite()) {
        low = low.min(end);
        high = high.max(end);
    }
    let scale = Scale::new(low, high, LEFT, RIGHT);
    let bottom = TOP + ROW * steps.len() as f64;
    let largest = steps.iter().map(|s| s.entry.wh.abs()).fold(0.0, f64::max);
    let places = places(largest);
    canvas.path(
        &[(scale.at(0.0), TOP - 3.0), (scale.at(0.0), bottom)],
        Ink::Muted,
        0.8,
    );
    for (i, step) in steps.iter().enumerate() {
        let y = TOP + ROW * (i as f64 + 0.5);
        if i + 1 < steps.len() {
            let x = scale.at(step.to);
            canvas.path(&[(x, y), (x, y + ROW)], Ink::Muted, 0.6);
        }
        paint_step(canvas, step, &scale, y, places);
    }
}

fn paint_step(
    canvas: &mut Canvas<'_>,
    step: &Step<'_>,
    scale: &Scale,
    y: f64,
    places: Option<usize>,
) {
    let name = step.entry.name.as_str();
    let total = is_total(name);
    let (fill, edge) = inks(name, step.entry.wh > 0.0);
    let half = if total { 8.0 } else { 6.5 };
    let (x0, x1) = (
        scale.at(step.from.min(step.to)),
        scale.at(step.from.max(step.to)),
    );
    if fill.pattern().is_some() {
        canvas.bar((x0, x1), (y - half, y + half), Ink::Paper);
    }
    canvas.block((x0, x1.max(x0 + 1.0)), (y - half, y + half), fill, edge);
    whisker(canvas, step, scale, y);
    let write = if total { Canvas::bold } else { Canvas::text };
    write(
        canvas,
        words::step(name).0,
        LEFT - 8.0,
        y,
        Anchor::Right,
        Ink::Text,
        TYPE,
    );
    let figure = figure(step.entry.wh, total, places);
    write(
        canvas,
        &figure,
        WIDTH - 2.0,
        y,
        Anchor::Right,
        Ink::Text,
        TYPE,
    );
    if name == "harvested" {
        // Two rules under the sum, as a book-keeper draws them.
        for dy in [9.5, 12.0] {
            canvas.path(
                &[(WIDTH - 62.0, y + dy), (WIDTH - 2.0, y + dy)],
                Ink::Text,
                0.8,
            );
        }
    }
}

/// Decimals of a column in kWh, as many as there is room for beside the bars; `None` for one in Wh.
fn places(largest: f64) -> Option<usize> {
    match largest {
        wh if wh < 10_000.0 => None,
        wh if wh < 100_000.0 => Some(2),
        wh if wh < 1_000_000.0 => Some(1),
        _ => Some(0),
    }
}

/// The printed figure: one unit down the column, so that it can be added up.
fn figure(wh: f64, total: bool, places: Option<usize>) -> String {
    let (number, unit) = match places {
        Some(places) => (format::decimals(wh / 1000.0, places), "kWh"),
        None => (format::whole(wh), "Wh"),
    };
    // What rounds to nothing is nothing, whichever way it points.
    if !number.bytes().any(|b| matches!(b, b'1'..=b'9')) {
        return format::with_unit("0", unit);
    }
    let sign = if total || wh <= 0.0 { "" } else { "+" };
    format::with_unit(&format!("{sign}{number}"), unit)
}

/// The range of the step's end.
fn whisker(canvas: &mut Canvas<'_>, step: &Step<'_>, scale: &Scale, y: f64) {
    let base = if is_total(&step.entry.name) {
        0.0
    } else {
        step.from
    };
    let (low, high) = (base + step.entry.low, base + step.entry.high);
    if !(low.is_finite() && high.is_finite()) || high - low < 0.5 {
        return;
    }
    let (a, b) = (scale.at(low), scale.at(high));
    canvas.path(&[(a, y), (b, y)], Ink::Text, 1.2);
    for x in [a, b] {
        canvas.path(&[(x, y - 3.0), (x, y + 3.0)], Ink::Text, 1.2);
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use crate::report::demo;

    #[test]
    fn what_rounds_to_nothing_has_no_sign() {
        assert_eq!(figure(3.0, false, Some(2)), "0\u{a0}kWh");
        assert_eq!(figure(-3.0, false, Some(2)), "0\u{a0}kWh");
        assert_eq!(figure(8.0, false, Some(2)), "+0.01\u{a0}kWh");
        assert_eq!(figure(0.2, false, None), "0\u{a0}Wh");
        assert_eq!(figure(0.0, true, None), "0\u{a0}Wh");
    }

    #[test]
    fn bars_lead_from_planned_to_harvested() {
        let report = demo::faulty();
        let steps = steps(&report.account.harvest);
        for pair in steps.windows(2) {
            if pair[1].entry.name != "harvested" {
                assert!((pair[0].to - pair[1].from).abs() < 0.6);
            }
        }
        let last = steps.last().unwrap();
        assert_eq!(last.entry.name, "harvested");
        assert!(
            (steps[steps.len() - 2].to - last.to).abs() < 0.6,
            "the bars do not sum"
        );
    }

    #[test]
    fn a_column_of_many_years_keeps_clear_of_its_bars() {
        for wh in [9_999.0, 99_990.0, 999_900.0, 8_959_310.0] {
            let figure = figure(-wh, false, places(wh));
            assert!(figure.chars().count() <= 10, "{figure}");
        }
    }

    #[test]
    fn what_is_held_back_looks_unlike_a_loss() {
        let svg = chart(&demo::faulty()).unwrap().svg;
        assert!(svg.contains("url(#account-spare)"));
        assert!(svg.contains("held back"));
        assert!(svg.contains("url(#account-unexplained)"));
    }
}
