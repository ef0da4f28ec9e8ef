//! Which columns hold the time, and how they are written.

use std::io;

use super::clock::{self, ClockPlan, Form, date_in_name};
use super::clock_parts;
use super::date_order::{self, Seen, Settled};
use super::inspection::Question;
use super::layout::Layout;
use super::lines::Lines;
use super::source::Source;
use super::stamp::{self, Order};
use super::words::{Kind, Meaning};
use super::{Request, columns, no_time, number, zone};
use crate::mapping::{LogEntry, Role, StampZone};

/// What a column's cells look like as times.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Look {
    DateTime,
    Date,
    OfDay,
    Number {
        low: f64,
        middle: f64,
        high: f64,
        rising: bool,
    },
    Other,
}

/// The clock of a file, and a question where it cannot be told.
pub(crate) struct Found {
    pub(crate) plan: ClockPlan,
    /// The zone the stamps themselves carry, for `inspect`.
    pub(crate) written_zone: Option<String>,
    /// The zone a design would name for stamps that carry none.
    pub(crate) stamp_zone: Option<StampZone>,
    pub(crate) notes: Vec<String>,
    pub(crate) question: Option<Question>,
    /// What the dates show, where no cell alone tells the day from the month.
    pub(crate) dates: Option<Seen>,
}

/// Finds the clock. `order` is that of files beside this one, where this one's dates leave it open.
///
/// # Errors
/// No column with a time; a start that is needed and not known; a column named in the design that
/// is not there.
pub(crate) fn find(
    source: &Source,
    layout: &Layout,
    meanings: &[Meaning],
    entry: Option<&LogEntry>,
    request: &Request,
    order: Option<Order>,
    lines: impl Fn() -> io::Result<Lines>,
) -> Result<Found, String> {
    let mut notes = Vec::new();
    let stated = entry.and_then(|e| e.columns.get(&Role::Time));
    let looks = match stated {
        None => looks(layout, meanings),
        Some(_) => looks_of_all(layout),
    };
    let mut by_name = None;
    let columns = match stated {
        Some(map) => columns::resolve(&map.columns, layout, Role::Time)?,
        None => choose(&looks, meanings, layout)
            .or_else(|| {
                let year = entry.and_then(|e| e.year);
                by_name = match entry.and_then(|e| e.time_format.as_ref()) {
                    None => no_time::dated(layout, &source.name, year),
                    Some(_) => None,
                };
                by_name.map(|found| vec![found.0])
            })
            .or_else(|| {
                entry
                    .and_then(|e| e.time_format.as_ref())
                    .and_then(|_| titled(meanings))
            })
            .ok_or_else(|| no_time::message(layout, meanings))?,
    };
    let unit = stated.and_then(|m| m.unit.as_deref());
    let (mut form, open) = match entry.and_then(|e| e.time_format.as_deref()) {
        Some(text) => {
            let first = columns.first().map(|c| looks[*c]);
            let native = columns.len() > 1 || matches!(first, Some(Look::DateTime | Look::Date));
            let order = order_in(text).filter(|order| {
                native
                    && columns
                        .first()
                        .and_then(|_| date_order::shown(layout, &columns))
                        .is_none_or(|o| o == *order)
            });
            (
                order.map_or_else(|| stated_form(text, entry, source), Form::Calendar),
                false,
            )
        }
        None => match by_name {
            Some((_, pattern, year)) => {
                if entry.is_none_or(|e| e.year.is_none()) {
                    notes.push(format!(
                        "the stamps show no year: {year}, as in the file's name, is that of the first row"
                    ));
                }
                (Form::Yearless(pattern.to_owned(), year), false)
            }
            None => form_of(&looks, &columns, meanings, layout, unit)?,
        },
    };
    if let [column] = columns[..]
        && looks[column] == Look::Date
        && repeats(layout, column)
    {
        return Err(format!(
            "line {}, column '{}': rows share their dates and show no time of day that can be read; name the column that has it, for instance time = [\"{}\", \"Time\"] in [log.columns]",
            layout.first_row, layout.titles[column], layout.titles[column]
        ));
    }
    let mut question = None;
    let mut dates = None;
    if open {
        let seen = date_order::see(layout, &columns, lines).map_err(|e| e.to_string())?;
        let settled = match (seen.settled(), order) {
            (Settled::Open(_), Some(order)) => Settled::Order(order, "the files beside it show it"),
            (settled, _) => settled,
        };
        match settled {
            Settled::Order(order, why) => {
                notes.push(date_order::note(order, why));
                form = Form::Calendar(order);
            }
            Settled::Open(asked) => question = Some(asked),
            Settled::Harmless => form = order.map_or(form, Form::Calendar),
        }
        dates = Some(seen);
    }
    let zone = zone::find(&columns, layout, &form, entry, request, &mut notes);
    let start = start_of(source, entry, (&form, &columns), layout, &mut notes)?;
    Ok(Found {
        plan: ClockPlan {
            columns,
            form,
            zone: zone.zone,
            shift_s: entry.map_or(0.0, |e| e.clock_shift_s),
            start,
        },
        written_zone: zone.written,
        stamp_zone: zone.to_say,
        notes,
        question,
        dates,
    })
}

fn start_of(
    source: &Source,
    entry: Option<&LogEntry>,
    plan: (&Form, &[usize]),
    layout: &Layout,
    notes: &mut Vec<String>,
) -> Result<Option<f64>, String> {
    let (form, columns) = plan;
    if !form.needs_start() {
        return Ok(None);
    }
    if let Some(start) = entry.and_then(|e| e.start) {
        return Ok(Some(start.and_utc().timestamp() as f64));
    }
    if let Some(start) = date_in_name(&source.name) {
        notes.push("the date is taken from the file's name".to_owned());
        return Ok(Some(start));
    }
    let title = columns.first().and_then(|k| layout.titles.get(*k));
    let what = match form {
        Form::TimeOfDay => "shows the time of day and no date",
        _ => "counts from a start the file does not tell",
    };
    Err(format!(
        "line {}: the time column '{}' {what}; say in its [[log]] entry when it begins, for instance start = 2026-05-14T08:00:00",
        layout.first_row,
        title.map_or("", String::as_str)
    ))
}

/// What the columns look like. Where one that is titled as a time shows a running date and time, the
/// others are not looked at: none is a better clock.
fn looks(layout: &Layout, meanings: &[Meaning]) -> Vec<Look> {
    let titled = (0..layout.titles.len()).filter(|k| meanings.get(*k).is_some_and(|m| m.time));
    for column in titled {
        if look(layout, column) == Look::DateTime && varies(layout, column) {
            let mut looks = vec![Look::Other; layout.titles.len()];
            looks[column] = Look::DateTime;
            return looks;
        }
    }
    looks_of_all(layout)
}

fn looks_of_all(layout: &Layout) -> Vec<Look> {
    (0..layout.titles.len()).map(|k| look(layout, k)).collect()
}

fn look(layout: &Layout, column: usize) -> Look {
    let cells: Vec<&str> = layout
        .sample
        .column(column)
        .filter(|c| !c.is_empty())
        .collect();
    let stamps: Vec<stamp::Stamp> = cells
        .iter()
        .filter_map(|c| stamp::parse(c.as_bytes()))
        .collect();
    if cells.is_empty() {
        return Look::Other;
    }
    if stamps.len() * 10 >= cells.len() * 6 {
        let dated = stamps.iter().filter(|s| s.date.is_some()).count();
        let timed = stamps.iter().filter(|s| s.of_day.is_some()).count();
        return match (dated * 2 >= stamps.len(), timed * 2 >= stamps.len()) {
            (true, true) => Look::DateTime,
            (true, false) => Look::Date,
            (false, _) => Look::OfDay,
        };
    }
    let numbers: Vec<f64> = cells
        .iter()
        .filter_map(|c| number::parse(c.as_bytes(), layout.decimal))
        .map(|n| n.0)
        .collect();
    if numbers.len() * 10 < cells.len() * 6 {
        return Look::Other;
    }
    let low = numbers.iter().copied().fold(f64::INFINITY, f64::min);
    let high = numbers.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let falls = numbers.windows(2).filter(|w| w[1] < w[0]).count();
    let mut sorted = numbers.clone();
    sorted.sort_by(f64::total_cmp);
    Look::Number {
        low,
        middle: sorted[sorted.len() / 2],
        high,
        rising: falls * 20 <= numbers.len() && (high > low || numbers.len() == 1),
    }
}

/// Whether most rows show the same as the row before.
fn repeats(layout: &Layout, column: usize) -> bool {
    let cells: Vec<&str> = layout.sample.column(column).collect();
    let same = cells.windows(2).filter(|w| w[0] == w[1]).count();
    same * 2 > cells.len()
}

/// Whether a column's cells differ at all.
fn varies(layout: &Layout, column: usize) -> bool {
    let mut cells = layout.sample.column(column);
    let first = cells.next();
    cells.any(|c| Some(c) != first)
}

fn epoch_factor(look: Look) -> Option<f64> {
    // By the middle: a clock not set yet begins at 0.
    let Look::Number {
        low, middle, high, ..
    } = look
    else {
        return None;
    };
    let inside = |from: f64, to: f64| middle > from && high < to && low >= 0.0;
    [
        (6e8, 4.2e9, 1.0),
        (6e11, 4.2e12, 1e-3),
        (6e14, 4.2e15, 1e-6),
    ]
    .into_iter()
    .find(|e| inside(e.0, e.1))
    .map(|e| e.2)
}

/// The columns that hold the time, best first.
fn choose(looks: &[Look], meanings: &[Meaning], layout: &Layout) -> Option<Vec<usize>> {
    let titled = |k: &usize| meanings.get(*k).is_some_and(|m| m.time);
    let all = |want: Look| -> Vec<usize> {
        let mut found: Vec<usize> = (0..looks.len()).filter(|k| looks[*k] == want).collect();
        found.sort_by_key(|k| !titled(k));
        found
    };
    // A date that stands still (of a setting, of a program) is no clock while another runs.
    let stamps = all(Look::DateTime);
    if let Some(k) = stamps
        .iter()
        .find(|k| varies(layout, **k))
        .or(stamps.first())
    {
        return Some(vec![*k]);
    }
    let epochs: Vec<usize> = (0..looks.len())
        .filter(|k| epoch_factor(looks[*k]).is_some())
        .collect();
    let (dates, times) = (all(Look::Date), all(Look::OfDay));
    if let (Some(date), Some(time)) = (dates.first(), times.first()) {
        return Some(vec![*date, *time]);
    }
    let numbers = |k: &usize| matches!(looks[*k], Look::Number { .. });
    let numbers: Vec<usize> = (0..looks.len()).filter(numbers).collect();
    let timed: Vec<usize> = numbers.iter().copied().filter(titled).collect();
    if let Some(found) = clock_parts::pair(layout, &dates, &timed)
        .or_else(|| clock_parts::apart(layout, &dates, &numbers))
    {
        return Some(found);
    }
    let bare = layout.header_line.is_none();
    if let Some(k) = epochs
        .iter()
        .find(|k| titled(k))
        .or(epochs.iter().find(|k| bare || **k == 0))
    {
        return Some(vec![*k]);
    }
    if let Some(k) = dates.first() {
        return Some(vec![*k]);
    }
    let numeric = |k: &usize| matches!(looks[*k], Look::Number { rising: true, .. });
    let serial = (0..looks.len()).find(|k| {
        titled(k) && matches!(looks[*k], Look::Number { low, high, .. } if low > 36_000.0 && high < 74_000.0) && !meanings[*k].elapsed && meanings[*k].unit.is_none()
    });
    let elapsed = (0..looks.len()).filter(numeric).find(|k| {
        titled(k)
            && (meanings[*k].elapsed || meanings[*k].unit.is_some_and(|u| u.kind == Kind::Duration))
    });
    serial
        .or(times.first().copied())
        .or(elapsed)
        .or((0..looks.len()).filter(numeric).find(titled))
        .map(|k| vec![k])
}

/// The first column titled as a time.
fn titled(meanings: &[Meaning]) -> Option<Vec<usize>> {
    meanings.iter().position(|m| m.time).map(|k| vec![k])
}

/// The order of day, month and year in a strftime pattern that has all three. Where the cells can
/// be read anyway, that is all the pattern adds.
fn order_in(pattern: &str) -> Option<Order> {
    let at = |marks: [&str; 2]| marks.iter().find_map(|m| pattern.find(m));
    let (day, month, year) = (at(["%d", "%-d"])?, at(["%m", "%-m"])?, at(["%Y", "%y"])?);
    match () {
        () if year < month && month < day => Some(Order::Ymd),
        () if day < month && month < year => Some(Order::Dmy),
        () if month < day && day < year => Some(Order::Mdy),
        () => None,
    }
}

fn stated_form(text: &str, entry: Option<&LogEntry>, source: &Source) -> Form {
    let year = entry.and_then(|e| e.year);
    let year = year.or_else(|| clock::date_in_name(&source.name).and_then(clock::year_of));
    match text {
        "epoch-s" => Form::Epoch(1.0),
        "epoch-ms" => Form::Epoch(1e-3),
        "epoch-us" => Form::Epoch(1e-6),
        "elapsed-s" => Form::Elapsed(1.0),
        "elapsed-hms" => Form::ElapsedHms,
        pattern => match year.filter(|_| !clock::shows_year(pattern)) {
            Some(year) => Form::Yearless(pattern.to_owned(), year),
            None => Form::Pattern(pattern.to_owned()),
        },
    }
}

/// Seconds to one of what a running clock counts, by the words of its title.
fn worded_unit(folded: &str) -> f64 {
    const WORDS: [(f64, &[&str]); 4] = [
        (1e-3, &["milli"]),
        (60.0, &["minut"]),
        (
            3_600.0,
            &[
                " hour", "heure", "stunde", " hora", " ore ", " ora ", " uur ", " uren ",
                " timer ", " timmar ", " horas ",
            ],
        ),
        (
            86_400.0,
            &[
                " day ", " days ", " tag ", " tage ", " jour", " dia ", " dias ", " giorn",
                " dag ", " dagen ", " dage ", " dagar ", " dager ",
            ],
        ),
    ];
    let says = |stems: &[&str]| stems.iter().any(|stem| folded.contains(stem));
    WORDS.iter().find(|w| says(w.1)).map_or(1.0, |w| w.0)
}

/// The form, and whether the order of day and month is still open.
fn form_of(
    looks: &[Look],
    columns: &[usize],
    meanings: &[Meaning],
    layout: &Layout,
    unit: Option<&str>,
) -> Result<(Form, bool), String> {
    let first = columns.first().copied().unwrap_or(0);
    if columns.len() > 1 || matches!(looks[first], Look::DateTime | Look::Date) {
        let order = date_order::shown(layout, columns);
        return Ok((Form::Calendar(order.unwrap_or(Order::Dmy)), order.is_none()));
    }
    let of_title = meanings.get(first).and_then(|m| m.unit);
    let unit = unit.and_then(super::words::unit).or(of_title);
    match looks[first] {
        Look::OfDay => {
            let long = layout
                .sample
                .column(first)
                .filter_map(|c| stamp::parse(c.as_bytes()))
                .any(|s| s.long);
            let elapsed = meanings.get(first).is_some_and(|m| m.elapsed);
            Ok((
                if long || elapsed {
                    Form::ElapsedHms
                } else {
                    Form::TimeOfDay
                },
                false,
            ))
        }
        Look::Number { low, high, .. } => {
            if let Some(factor) = epoch_factor(looks[first]) {
                return Ok((Form::Epoch(factor), false));
            }
            if unit.is_none() && low > 36_000.0 && high < 74_000.0 && !meanings[first].elapsed {
                return Ok((Form::Serial, false));
            }
            let unnamed = meanings.get(first).map_or(1.0, |m| worded_unit(&m.folded));
            Ok((
                Form::Elapsed(
                    unit.filter(|u| u.kind == Kind::Duration)
                        .map_or(unnamed, |u| u.factor),
                ),
                false,
            ))
        }
        _ => Err(format!(
            "column '{}': its cells cannot be read as times; say how they are written with `time_format` in the [[log]] entry, for instance time_format = \"%d/%m/%Y %H:%M\"",
            layout.titles.get(first).map_or("", String::as_str)
        )),
    }
}
