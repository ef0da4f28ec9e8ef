//! The four number lines of page one: a figure on its scale, with the band that fits.

use super::axis::{Scale, nice_end};
use super::canvas::{Anchor, Canvas, Caption, draw};
use super::drop;
use super::style::{Ink, SMALL, WIDTH};
use crate::report::format;
use crate::report::model::{Day, Finding, Interval, Report, Severity};
use crate::report::words;

const HEIGHT: f64 = 46.0;
/// Share of a day that must be read for its loads to be those of a day.
const WHOLE: f64 = 0.8;

/// A number line.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct NumberLine {
    /// Which part of the system.
    pub(crate) part: &'static str,
    /// The figure with unit and yardstick.
    pub(crate) words: String,
    /// How the figure is reckoned.
    pub(crate) rule: &'static str,
    /// From which days.
    pub(crate) days: String,
    /// The drawing; `None` where the figure is not known.
    pub(crate) svg: Option<String>,
}

/// What a line shows: a value, perhaps with a range, the fitting band, and the scale's end.
struct Figure {
    value: Interval,
    band: (f64, f64),
    end: f64,
    unit: &'static str,
    band_word: &'static str,
}

/// Harvest, use, bank, wiring.
pub(crate) fn all(report: &Report) -> Vec<NumberLine> {
    let days = |of: fn(&Day) -> bool| {
        let dates: Vec<String> = report
            .days
            .iter()
            .filter(|d| of(d))
            .map(|d| d.date.clone())
            .collect();
        if dates.is_empty() {
            "none".to_string()
        } else {
            format::days(&dates)
        }
    };
    let lines = [
        (
            harvest(report),
            "harvest and what was held back, over what the sky offered, summed over judged days; the account closes within 10 % where all is well",
            days(|d| d.judged && d.harvest_wh.is_some() && d.offered_wh.is_some()),
        ),
        (
            using(report),
            "mean of the loads of days logged whole; the budget is the design's loads times their hours, through the inverter's efficiency",
            days(|d| d.load_wh.is_some() && is_whole(d)),
        ),
        (
            bank(report),
            "the lowest the meter showed; the reserve is the design's",
            days(|d| d.soc_low_pct.is_some()),
        ),
        (
            wiring(report),
            "slope of controller volts minus bank volts against current; the design's is 2 x length x the cable table, and its joints",
            days(|d| d.harvest_wh.is_some()),
        ),
    ];
    lines
        .into_iter()
        .map(|(line, rule, days)| NumberLine { rule, days, ..line })
        .collect()
}

/// A line without its rule and days, which [`all`] adds.
fn bare(part: &'static str, words: String, svg: Option<String>) -> NumberLine {
    NumberLine {
        part,
        words,
        rule: "",
        days: String::new(),
        svg,
    }
}

fn unknown(part: &'static str, why: &str) -> NumberLine {
    bare(part, format!("not known: {why}"), None)
}

fn line(part: &'static str, name: &str, words: String, figure: &Figure) -> NumberLine {
    let caption = Caption {
        name,
        title: part,
        description: &words,
    };
    let svg = draw(&caption, HEIGHT, |canvas| paint(canvas, figure));
    bare(part, words, svg)
}

fn harvest(report: &Report) -> NumberLine {
    let (mut taken, mut offered, mut days) = (0.0, 0.0, 0);
    for day in report.days.iter().filter(|d| d.judged) {
        if let (Some(h), Some(o)) = (day.harvest_wh, day.offered_wh) {
            taken += h + day.held_back_wh.unwrap_or(0.0);
            offered += o;
            days += 1;
        }
    }
    if offered <= 0.0 {
        return unknown("Harvest", "no day could be judged");
    }
    let share = 100.0 * taken / offered;
    let words = format!(
        "{} of what the sky offered was harvested or held back, over {}; 90 to 110{}% fits",
        format::with_unit(&format::decimals(share, 0), "%"),
        format::count(days, "judged day"),
        format::NBSP,
    );
    let figure = Figure {
        value: Interval::exact(share),
        band: (90.0, 110.0),
        end: nice_end(share.max(120.0)),
        unit: "%",
        band_word: "fits",
    };
    line("Harvest", "line-harvest", words, &figure)
}

fn using(report: &Report) -> NumberLine {
    if report.days.iter().all(|d| d.load_wh.is_none()) {
        return unknown("Use", "loads were not logged");
    }
    let loads: Vec<f64> = report
        .days
        .iter()
        .filter(|d| is_whole(d))
        .filter_map(|d| d.load_wh)
        .collect();
    if loads.is_empty() {
        return unknown("Use", "no whole day was logged");
    }
    let mean = loads.iter().sum::<f64>() / loads.len() as f64;
    let Some(budget) = report.system.budget_wh.filter(|b| *b > 0.0) else {
        let words = format!(
            "{} a day; the design gives no budget",
            format::energy_about(mean)
        );
        return bare("Use", words, None);
    };
    let words = format!(
        "{} a day, over {}; the budget is {} a day",
        format::energy(mean),
        format::count(loads.len(), "day"),
        format::energy(budget)
    );
    let figure = Figure {
        value: Interval::exact(mean),
        band: (0.0, budget),
        end: nice_end(mean.max(budget) * 1.15),
        unit: "Wh",
        band_word: "budget",
    };
    line("Use", "line-use", words, &figure)
}

/// A day whose loads can be taken for a day's: most of it was read, or it comes from a row of totals.
fn is_whole(day: &Day) -> bool {
    day.coverage >= WHOLE || day.coverage == 0.0
}

fn bank(report: &Report) -> NumberLine {
    let low = report
        .days
        .iter()
        .filter_map(|d| d.soc_low_pct.map(|p| (p, &d.date)))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    let Some((low, date)) = low else {
        return unknown("Bank", "no state of charge was logged");
    };
    if let Some(doubt) = report.findings.iter().find(|f| makes_doubtful(f)) {
        let words = format!(
            "the meter showed {} at its lowest, on {}; it can't be believed here ({})",
            format::with_unit(&format::decimals(low, 0), "%"),
            format::day_within(date, &report.period.from, &report.period.to),
            words::finding(&doubt.kind)
        );
        return bare("Bank", words, None);
    }
    let reserve = report.system.reserve_pct;
    let words = format!(
        "down to {} on {} as the meter says; your reserve is {}",
        format::with_unit(&format::decimals(low, 0), "%"),
        format::day_within(date, &report.period.from, &report.period.to),
        format::with_unit(&format::decimals(reserve, 0), "%")
    );
    let figure = Figure {
        value: Interval::exact(low),
        band: (reserve, 100.0),
        end: 100.0,
        unit: "%",
        band_word: "above reserve",
    };
    line("Bank", "line-bank", words, &figure)
}

/// Whether a finding takes the ground from under the meter's percentage: a mark on a line would be read
/// as a charge.
fn makes_doubtful(finding: &Finding) -> bool {
    let kinds = ["soc-unreliable", "capacity-low"];
    kinds.contains(&finding.kind.as_str()) && finding.severity <= Severity::Fix
}

fn wiring(report: &Report) -> NumberLine {
    let measured = report.series.drop.as_ref();
    let Some((run, fitted)) = measured.and_then(|d| Some((d, d.resistance_mohm?))) else {
        return unknown(
            "Wiring",
            "the drop from controller to bank could not be measured",
        );
    };
    let words = format!(
        "controller to bank {}; {}",
        format::interval(&fitted, "m\u{3a9}"),
        drop::designed(run.design_mohm)
    );
    let figure = Figure {
        value: fitted,
        band: (0.0, run.design_mohm),
        end: nice_end(fitted.high.max(run.design_mohm) * 1.15),
        unit: "m\u{3a9}",
        band_word: "design",
    };
    line("Wiring", "line-wiring", words, &figure)
}

fn paint(canvas: &mut Canvas<'_>, figure: &Figure) {
    let scale = Scale::new(0.0, figure.end, 12.0, WIDTH - 46.0);
    let (y, base) = (19.0, 27.0);
    let (from, to) = (scale.within(figure.band.0), scale.within(figure.band.1));
    canvas.bar((from, to), (y - 8.0, base), Ink::Band);
    canvas.frame((from, to), (y - 8.0, base), Ink::Bank, 0.7);
    canvas.path(&[(scale.start, base), (scale.end, base)], Ink::Muted, 1.0);
    for tick in scale.ticks(4) {
        let x = scale.at(tick);
        canvas.path(&[(x, base), (x, base + 4.0)], Ink::Muted, 0.8);
        canvas.text(
            &format::whole(tick),
            x,
            base + 12.0,
            Anchor::Middle,
            Ink::Muted,
            SMALL,
        );
    }
    canvas.text(
        figure.unit,
        WIDTH - 2.0,
        base + 12.0,
        Anchor::Right,
        Ink::Muted,
        SMALL,
    );
    let marker = scale.within(figure.value.value);
    let words = figure.band_word.len() as f64 * 6.8;
    // The band's word where the marker leaves it room, else none: the sentence below says it too.
    for middle in [
        (from + to) / 2.0,
        to - words / 2.0 - 6.0,
        from + words / 2.0 + 6.0,
    ] {
        let inside = middle - words / 2.0 > from && middle + words / 2.0 < to;
        if inside && (marker - middle).abs() > words / 2.0 + 8.0 {
            canvas.text(
                figure.band_word,
                middle,
                y,
                Anchor::Middle,
                Ink::Text,
                SMALL,
            );
            break;
        }
    }
    let (low, high) = (
        scale.within(figure.value.low),
        scale.within(figure.value.high),
    );
    if high - low > 1.0 {
        canvas.path(&[(low, y), (high, y)], Ink::Text, 2.4);
        for x in [low, high] {
            canvas.path(&[(x, y - 4.0), (x, y + 4.0)], Ink::Text, 1.4);
        }
    }
    canvas.path(&[(marker, y - 8.0), (marker, base)], Ink::Text, 1.6);
    canvas.mark(marker, y - 10.0, 6.0, Ink::Text);
}
