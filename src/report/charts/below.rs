//! How long the bank stood below each state of charge: hours a day, as counted anew and as the meter says.

use super::axis::Scale;
use super::canvas::{Anchor, Canvas, Caption, Swatch, draw};
use super::style::{Ink, SMALL, WIDTH};
use super::{BELOW, Chart, Table};
use crate::report::format;
use crate::report::model::{Interval, LowCharge, Report};

const HEIGHT: f64 = 226.0;
const TOP: f64 = 44.0;
const BOTTOM: f64 = HEIGHT - 34.0;
const LEFT: f64 = 34.0;
const RIGHT: f64 = WIDTH - 14.0;

pub(super) fn chart(report: &Report) -> Option<Chart> {
    let low = report.series.low_charge.as_ref()?;
    let reserve = report.system.reserve_pct;
    let title = title(low, reserve)?;
    let description = description(low, reserve);
    let caption = Caption {
        name: "below",
        title: &title,
        description: &description,
    };
    let svg = draw(&caption, HEIGHT, |canvas| paint(canvas, low, reserve))?;
    Some(Chart {
        name: "below",
        file: BELOW,
        svg,
        title,
        description,
        table: Some(table(low)),
    })
}

/// The curve that counts: counted anew where there is a count, else the meter's. Hours below each level,
/// hours known, and what it rests on.
fn curve(low: &LowCharge) -> Option<(&[f64], f64, &'static str)> {
    let counted = low
        .counted_h
        .as_deref()
        .map(|h| (h, low.counted_covered_h, "as counted anew"));
    let meter = low
        .meter_h
        .as_deref()
        .map(|h| (h, low.meter_covered_h, "as the meter says"));
    counted.or(meter).filter(|c| c.1 > 0.0)
}

/// Hours below a level that may lie between two of the curve's.
fn at(levels: &[f64], hours: &[f64], level: f64) -> Option<f64> {
    let next = levels.partition_point(|l| *l < level);
    let (high, above) = (*levels.get(next)?, *hours.get(next)?);
    match next.checked_sub(1) {
        Some(i) => {
            let (low, below) = (levels[i], *hours.get(i)?);
            Some(below + (above - below) * (level - low) / (high - low))
        }
        None => Some(above),
    }
}

fn title(low: &LowCharge, reserve: f64) -> Option<String> {
    let (hours, known, how) = curve(low)?;
    let below = at(&low.levels_pct, hours, reserve)?;
    let range = match (&low.counted_low_h, &low.counted_high_h) {
        (Some(least), Some(most)) if low.counted_h.is_some() => Interval::new(
            below,
            at(&low.levels_pct, least, reserve)?.min(below),
            at(&low.levels_pct, most, reserve)?.max(below),
        ),
        _ => Interval::exact(below),
    };
    let reserve = format::with_unit(&format::decimals(reserve, 0), "%");
    Some(if range.high < 0.5 {
        format!("Never below the reserve of {reserve}, {how}")
    } else {
        format!(
            "Below the reserve of {reserve} for {} of {}, {how}",
            format::interval(&range, "h"),
            format::with_unit(&format::whole(known), "h")
        )
    })
}

fn description(low: &LowCharge, reserve: f64) -> String {
    let mut text =
        "Read up from a state of charge: so many hours a day the bank stood below it.".to_string();
    if let Some((hours, known, _)) = curve(low) {
        let of = |level: f64| {
            at(&low.levels_pct, hours, level)
                .map(|h| format::with_unit(&format::decimals(24.0 * h / known, 1), "h"))
        };
        if let (Some(half), Some(below)) = (of(50.0), of(reserve)) {
            text.push_str(&format!(
                " Below half: {half} a day; below the reserve: {below} a day."
            ));
        }
    }
    if low.counted_low_h.is_some() {
        text.push_str(" Shaded: the count's range.");
    }
    text
}

fn table(low: &LowCharge) -> Table {
    let cell = |list: &Option<Vec<f64>>, i: usize| {
        format::cell(list.as_ref().and_then(|l| l.get(i)).copied(), 1)
    };
    Table {
        caption: format!(
            "Hours below each state of charge; counted anew in {}, read from the meter in {}",
            format::with_unit(&format::whole(low.counted_covered_h), "h"),
            format::with_unit(&format::whole(low.meter_covered_h), "h")
        ),
        head: [
            "below, %",
            "counted anew, h",
            "low, h",
            "high, h",
            "meter, h",
        ]
        .map(String::from)
        .to_vec(),
        rows: low
            .levels_pct
            .iter()
            .enumerate()
            .skip(1)
            .map(|(i, level)| {
                vec![
                    format::decimals(*level, 0),
                    cell(&low.counted_h, i),
                    cell(&low.counted_low_h, i),
                    cell(&low.counted_high_h, i),
                    cell(&low.meter_h, i),
                ]
            })
            .collect(),
    }
}

fn paint(canvas: &mut Canvas<'_>, low: &LowCharge, reserve: f64) {
    legend(canvas, low);
    let across = Scale::new(0.0, 100.0, LEFT, RIGHT);
    let up = Scale::new(0.0, 24.0, BOTTOM, TOP);
    axes(canvas, &across, &up);
    let places = |hours: &[f64], known: f64| -> Vec<(f64, f64)> {
        low.levels_pct
            .iter()
            .zip(hours)
            .filter(|(l, h)| l.is_finite() && h.is_finite())
            .map(|(level, h)| (across.within(*level), up.within(24.0 * h / known.max(1e-9))))
            .collect()
    };
    if let (Some(least), Some(most)) = (&low.counted_low_h, &low.counted_high_h) {
        let mut outline = places(most, low.counted_covered_h);
        outline.extend(places(least, low.counted_covered_h).into_iter().rev());
        canvas.area(&outline, Ink::Band);
    }
    let x = across.within(reserve);
    canvas.dashes((x, BOTTOM), (x, TOP), Ink::Lost, 1.4);
    // The thin line over the broad one, so that both show where they agree.
    if let Some(hours) = &low.counted_h {
        canvas.path(&places(hours, low.counted_covered_h), Ink::Bank, 3.2);
    }
    if let Some(hours) = &low.meter_h {
        canvas.path(&places(hours, low.meter_covered_h), Ink::Text, 1.2);
    }
}

fn legend(canvas: &mut Canvas<'_>, low: &LowCharge) {
    let mut items = Vec::new();
    if low.meter_h.is_some() {
        items.push((Swatch::Line(Ink::Text, 1.2), "meter"));
    }
    if low.counted_h.is_some() {
        items.push((Swatch::Line(Ink::Bank, 3.2), "counted anew"));
    }
    items.push((Swatch::Dashes(Ink::Lost), "reserve"));
    canvas.legend(&items, 10.0);
}

fn axes(canvas: &mut Canvas<'_>, across: &Scale, up: &Scale) {
    for tick in [0.0, 6.0, 12.0, 18.0, 24.0] {
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
    canvas.text(
        "h a day below",
        2.0,
        TOP - 15.0,
        Anchor::Left,
        Ink::Muted,
        SMALL,
    );
    for tick in [0.0, 25.0, 50.0, 75.0, 100.0] {
        let x = across.at(tick);
        canvas.path(&[(x, BOTTOM), (x, BOTTOM + 4.0)], Ink::Muted, 0.8);
        let label = format::with_unit(&format::whole(tick), "%");
        let anchor = if tick == 100.0 {
            Anchor::Right
        } else {
            Anchor::Middle
        };
        canvas.text(
            &label,
            if tick == 100.0 { WIDTH - 1.0 } else { x },
            BOTTOM + 13.0,
            anchor,
            Ink::Muted,
            SMALL,
        );
    }
    canvas.text(
        "state of charge",
        (LEFT + RIGHT) / 2.0,
        BOTTOM + 28.0,
        Anchor::Middle,
        Ink::Muted,
        SMALL,
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_between_two_levels_lie_between() {
        let (levels, hours) = ([0.0, 10.0, 20.0], [0.0, 2.0, 10.0]);
        assert_eq!(at(&levels, &hours, 15.0), Some(6.0));
        assert_eq!(at(&levels, &hours, 20.0), Some(10.0));
        assert_eq!(at(&levels, &hours, 0.0), Some(0.0));
        assert_eq!(at(&levels, &hours, 25.0), None);
    }
}
