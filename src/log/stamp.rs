//! Dates and times of day as loggers write them, cell by cell, without deciding which number of
//! `05/06/2026` is the month.

use super::scan::Scan;

/// Which of the numbers of a date is what.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Order {
    Ymd,
    Dmy,
    Mdy,
}

/// What stands in a cell.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Stamp {
    /// The three numbers of the date as they stand.
    pub(crate) date: Option<[i32; 3]>,
    /// The order, where the cell itself shows it: four-digit year first, a month's name, or points.
    pub(crate) order: Option<Order>,
    /// Seconds since midnight.
    pub(crate) of_day: Option<f64>,
    /// Hours before the first colon exceed a day: only an elapsed clock counts so far.
    pub(crate) long: bool,
    /// Whether seconds are written.
    pub(crate) seconds: bool,
    /// Seconds east of Greenwich, where written.
    pub(crate) offset: Option<i32>,
}

impl Stamp {
    /// Seconds since 1970 on the wall clock (or at Greenwich, where an offset is written).
    pub(crate) fn wall(&self, order: Order) -> Option<f64> {
        let [a, b, c] = self.date?;
        let (year, month, day) = match self.order.unwrap_or(order) {
            Order::Ymd => (a, b, c),
            Order::Dmy => (c, b, a),
            Order::Mdy => (c, a, b),
        };
        let year = if year < 100 { year + 2000 } else { year };
        if !(1900..=2200).contains(&year)
            || !(1..=12).contains(&month)
            || day < 1
            || day > month_days(year, month)
        {
            return None;
        }
        let seconds = days(year, month, day) as f64 * 86_400.0 + self.of_day.unwrap_or(0.0);
        Some(seconds - f64::from(self.offset.unwrap_or(0)))
    }
}

fn month_days(year: i32, month: i32) -> i32 {
    match month {
        4 | 6 | 9 | 11 => 30,
        2 if year % 4 == 0 && (year % 100 != 0 || year % 400 == 0) => 29,
        2 => 28,
        _ => 31,
    }
}

/// Days from 1970-01-01 in the proleptic Gregorian calendar (years reckoned from March, eras of 400 years).
fn days(year: i32, month: i32, day: i32) -> i64 {
    let y = i64::from(year) - i64::from(month <= 2);
    let era = y.div_euclid(400);
    let of_era = y.rem_euclid(400);
    let m = i64::from((month + 9) % 12);
    let of_year = (153 * m + 2) / 5 + i64::from(day) - 1;
    era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468
}

/// Whether a cell holds a date or a time of day.
pub(crate) fn looks_like_time(cell: &str) -> bool {
    cell.len() >= 4 && parse(cell.as_bytes()).is_some()
}

/// Whether a cell is digits with at most one mark among them, as most readings are and no stamp is:
/// those begin with 8 digits, 12 or 14, or have more marks.
fn is_figure(cell: &[u8]) -> bool {
    let digits = cell.strip_prefix(b"-").unwrap_or(cell);
    let mark = digits.iter().position(|b| !b.is_ascii_digit());
    let (before, behind) = match mark {
        Some(at) if matches!(digits[at], b'.' | b',') => (at, &digits[at + 1..]),
        Some(_) => return false,
        None => (digits.len(), &[][..]),
    };
    !matches!(before, 8 | 12 | 14) && behind.iter().all(u8::is_ascii_digit)
}

/// Whether a cell is digits with at most one mark among them, the last of them a digit.
pub(crate) fn is_reading(cell: &str) -> bool {
    let bytes = cell.as_bytes();
    bytes.last().is_some_and(u8::is_ascii_digit) && is_figure(bytes)
}

/// Reads a cell; `None` where it is neither a date nor a time of day.
pub(crate) fn parse(cell: &[u8]) -> Option<Stamp> {
    let cell = cell.trim_ascii();
    if let Some(stamp) = usual(cell) {
        return Some(stamp);
    }
    if is_figure(cell) {
        return None;
    }
    if cell.len() < 4 || cell.len() > 48 || !cell.iter().any(u8::is_ascii_digit) {
        return None;
    }
    let marks = |b: &u8| b"[](){}'\"".contains(b);
    let from = cell.iter().position(|b| !marks(b))?;
    let to = cell.iter().rposition(|b| !marks(b))?;
    Scan::whole(&cell[from..=to])
}

/// Two digits at a place of a cell.
pub(crate) fn two(cell: &[u8], at: usize) -> Option<i32> {
    let (a, b) = (cell[at].wrapping_sub(b'0'), cell[at + 1].wrapping_sub(b'0'));
    (a < 10 && b < 10).then(|| i32::from(a) * 10 + i32::from(b))
}

/// The fixed layout most loggers write, `2026-05-14 10:00:00`, read without scanning.
fn usual(cell: &[u8]) -> Option<Stamp> {
    if cell.len() != 19
        || cell[13] != b':'
        || cell[16] != b':'
        || cell[4] != cell[7]
        || !matches!(cell[4], b'-' | b'/')
    {
        return None;
    }
    if !matches!(cell[10], b' ' | b'T') {
        return None;
    }
    let year = two(cell, 0)? * 100 + two(cell, 2)?;
    let (hour, minute, second) = (two(cell, 11)?, two(cell, 14)?, two(cell, 17)?);
    if hour > 23 || minute > 59 || second > 60 {
        return None;
    }
    Some(Stamp {
        date: Some([year, two(cell, 5)?, two(cell, 8)?]),
        order: Some(Order::Ymd),
        of_day: Some(f64::from(hour * 3600 + minute * 60 + second)),
        seconds: true,
        ..Stamp::default()
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;

    fn wall(cell: &str, order: Order) -> Option<f64> {
        parse(cell.as_bytes())?.wall(order)
    }

    #[test]
    fn one_moment_in_many_hands() {
        let moment = 1_778_752_800.0; // 2026-05-14 10:00:00
        for cell in [
            "2026-05-14 10:00:00",
            "2026-05-14T10:00:00Z",
            "2026-05-14T12:00:00+02:00",
            "2026/5/14 10:00",
            "14.05.2026 10:00:00",
            "14.5.26 10:00",
            "14/05/2026 10:00",
            "14 May 2026 10:00:00",
            "May 14, 2026 10:00 AM",
            "20260514100000",
            "202605141000",
            "20260514T100000",
            "2026-05-14 12:00:00 CEST",
            "14 mai 2026 \u{e0} 10h00",
            "2026-05-14 10:00:00.000",
            "Thu 14 May 2026 10:00",
            "14-May-2026 10:00:00",
            "14.05.2026 10.00",
            "2026-05-14 10:00:00,000",
            "Thu May 14 10:00:00 2026",
            "2026-05-14_10-00-00",
            "14/May/2026:10:00:00",
            "14/05/2026 um 10:00 Uhr",
            "[2026-05-14 10:00:00]",
            "14 de mayo de 2026 10:00",
            "quinta-feira, 14/05/2026 10:00",
            "mar. 14 mai 2026 10:00",
            "2026 05 14 10 00 00",
            "14/05/2026 10:00:00 a. m.",
            "14/05/2026 10:00:00 f.m.",
        ] {
            assert_eq!(wall(cell, Order::Dmy), Some(moment), "{cell}");
        }
        assert_eq!(wall("5/14/2026 10:00", Order::Mdy), Some(moment));
        assert_eq!(
            wall("5/14/2026 12:00 AM", Order::Mdy),
            Some(moment - 36_000.0)
        );
        assert_eq!(
            wall("5/14/2026 12:30 PM", Order::Mdy),
            Some(moment + 9_000.0)
        );
    }

    #[test]
    fn figures_are_known_without_a_second_look() {
        for cell in [
            "12.34",
            "-967.2000",
            "1594113901",
            "5.50",
            "13,05",
            "1778752800.25",
        ] {
            assert!(
                is_figure(cell.as_bytes()) && Scan::whole(cell.as_bytes()).is_none(),
                "{cell}"
            );
        }
        for cell in [
            "20260514",
            "20260514100000",
            "14.05.26",
            "10:00",
            "2026-05-14",
            "12 V",
        ] {
            assert!(!is_figure(cell.as_bytes()), "{cell}");
        }
    }

    #[test]
    fn what_is_no_time_is_none() {
        for cell in [
            "12.34",
            "1594113901",
            "abc",
            "",
            "12:",
            "2026-13-45",
            "-9999",
            "3.2.",
            "14/05",
            "14/05 10:00",
            "14/05 10:00:00",
            "May 14 10:00:00",
        ] {
            assert!(
                parse(cell.as_bytes())
                    .and_then(|s| s.date.map_or(Some(0.0), |_| s.wall(Order::Ymd)))
                    .is_none(),
                "{cell}"
            );
        }
    }
}
