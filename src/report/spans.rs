//! Rows for a log of any length: days while they fit, then weeks, months, or several months to a row.

use std::ops::Range;

use super::model::{Day, DayState};
use super::{format, words};

/// Days that still have a row each: two months.
pub const MOST_ROWS: usize = 62;
/// Rows of weeks or months at most: ten years in quarters fit, and take no more room than a month of days.
const MOST_LONG_ROWS: usize = 42;
/// Days of a week.
const WEEK: usize = 7;

/// One row: a day, or several.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Span {
    /// How the row is named: a day, or the first of several, or a month as `2026-05`.
    pub label: String,
    /// Places of its days in the list of days.
    pub days: Range<usize>,
}

/// The rows of a log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Spans {
    /// The rows in order; at most [`MOST_ROWS`] days, or fewer of weeks and months.
    pub rows: Vec<Span>,
    /// What a row is, as a sentence with a space before it; empty where rows are days.
    pub remark: String,
}

impl Spans {
    /// Whether each row is a day.
    pub fn are_days(&self) -> bool {
        self.remark.is_empty()
    }
}

/// Parts dates (ISO, ascending) into rows.
pub fn of(dates: &[&str]) -> Spans {
    if dates.len() <= MOST_ROWS {
        return chunks(dates, 1, String::new());
    }
    if dates.len() <= MOST_LONG_ROWS * WEEK {
        return chunks(
            dates,
            WEEK,
            " Each row is a week, named by its first day.".to_string(),
        );
    }
    let mut months: Vec<Span> = Vec::new();
    for (i, date) in dates.iter().enumerate() {
        let month = date.get(..7).unwrap_or(date);
        match months.last_mut() {
            Some(last) if last.label == month => last.days.end = i + 1,
            _ => months.push(Span {
                label: month.to_string(),
                days: i..i + 1,
            }),
        }
    }
    let together = months.len().div_ceil(MOST_LONG_ROWS);
    let remark = match together {
        1 => " Each row is a month.".to_string(),
        n => format!(" Each row is {n} months, named by the first."),
    };
    let rows = months
        .chunks(together)
        .filter_map(|m| {
            let (first, last) = (m.first()?, m.last()?);
            Some(Span {
                label: first.label.clone(),
                days: first.days.start..last.days.end,
            })
        })
        .collect();
    Spans { rows, remark }
}

fn chunks(dates: &[&str], size: usize, remark: String) -> Spans {
    let rows = (0..dates.len())
        .step_by(size)
        .map(|start| Span {
            label: format::day(dates[start]),
            days: start..(start + size).min(dates.len()),
        })
        .collect();
    Spans { rows, remark }
}

/// The rows of a report's days.
pub fn of_days(days: &[Day]) -> Spans {
    let dates: Vec<&str> = days.iter().map(|d| d.date.as_str()).collect();
    of(&dates)
}

/// The state of one day, or how many days of a row had which: `12 full, 3 short`.
pub fn states(days: &[Day]) -> String {
    if let [one] = days {
        return words::of_day(one);
    }
    let counted: Vec<String> = [
        DayState::Short,
        DayState::Full,
        DayState::Dull,
        DayState::Ok,
        DayState::Unclear,
        DayState::Unmeasured,
    ]
    .into_iter()
    .filter_map(|state| {
        let n = days.iter().filter(|d| d.state == state).count();
        (n > 0).then(|| format!("{n} {}", state.word()))
    })
    .collect();
    counted.join(", ")
}

/// Mean over the days in which a figure is known.
pub fn mean(days: &[Day], of: impl Fn(&Day) -> Option<f64>) -> Option<f64> {
    let known: Vec<f64> = days
        .iter()
        .filter_map(of)
        .filter(|v| v.is_finite())
        .collect();
    (!known.is_empty()).then(|| known.iter().sum::<f64>() / known.len() as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dates(count: u64) -> Vec<String> {
        let start = chrono::NaiveDate::from_ymd_opt(2024, 1, 15).unwrap_or_default();
        (0..count)
            .map(|i| (start + chrono::Days::new(i)).to_string())
            .collect()
    }

    #[test]
    fn rows_hold_every_day_once_and_never_get_too_many() {
        for (count, rows, label) in [
            (0, 0, ""),
            (62, 62, "15 Jan"),
            (63, 9, "15 Jan"),
            (294, 42, "15 Jan"),
            (295, 11, "2024-01"),
            (3653, 41, "2024-01"),
        ] {
            let dates = dates(count);
            let dates: Vec<&str> = dates.iter().map(String::as_str).collect();
            let spans = of(&dates);
            assert_eq!(spans.rows.len(), rows, "{count} days");
            let mut next = 0;
            for row in &spans.rows {
                assert_eq!(row.days.start, next);
                next = row.days.end;
            }
            assert_eq!(next as u64, count);
            if let Some(first) = spans.rows.first() {
                assert_eq!(first.label.replace('\u{a0}', " "), label);
            }
        }
    }
}
