//! Dates and times of day as loggers write them, cell by cell, without deciding which number of
//! `05/06/2026` is the month.

use super::months::{half_named, is_weekday, month_named};

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

/// Reads a cell; `None` where it is neither a date nor a time of day.
pub(crate) fn parse(cell: &[u8]) -> Option<Stamp> {
    let cell = cell.trim_ascii();
    if let Some(stamp) = usual(cell) {
        return Some(stamp);
    }
    if cell.len() < 4 || cell.len() > 48 || !cell.iter().any(u8::is_ascii_digit) {
        return None;
    }
    let mut scan = Scan { text: cell, at: 0 };
    let mut stamp = Stamp::default();
    let start = scan.at;
    if !scan.date(&mut stamp) {
        stamp.date = None;
        stamp.order = None;
        scan.at = start;
    }
    if scan.at < cell.len() {
        if stamp.date.is_some() && !scan.gap() {
            return None;
        }
        scan.time(&mut stamp)?;
    }
    (scan.at == cell.len() && (stamp.date.is_some() || stamp.of_day.is_some())).then_some(stamp)
}

fn two(cell: &[u8], at: usize) -> Option<i32> {
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

struct Scan<'a> {
    text: &'a [u8],
    at: usize,
}

impl Scan<'_> {
    fn peek(&self) -> Option<u8> {
        self.text.get(self.at).copied()
    }

    fn digits(&mut self) -> Option<(i64, usize)> {
        let from = self.at;
        let mut value = 0_i64;
        while let Some(d) = self.peek().filter(u8::is_ascii_digit) {
            value = value.checked_mul(10)?.checked_add(i64::from(d - b'0'))?;
            self.at += 1;
        }
        (self.at > from).then_some((value, self.at - from))
    }

    fn word(&mut self) -> Option<String> {
        let from = self.at;
        while self
            .peek()
            .is_some_and(|b| b.is_ascii_alphabetic() || b >= 0x80)
        {
            self.at += 1;
        }
        (self.at > from).then(|| super::decode::text(&self.text[from..self.at]).into_owned())
    }

    fn skip(&mut self, of: &[u8]) -> bool {
        let from = self.at;
        while self.peek().is_some_and(|b| of.contains(&b)) {
            self.at += 1;
        }
        self.at > from
    }

    /// What parts date and time.
    fn gap(&mut self) -> bool {
        let from = self.at;
        while self
            .peek()
            .is_some_and(|b| matches!(b, b' ' | b'T' | b't' | b',' | b'_' | b';' | b'-'))
        {
            self.at += 1;
        }
        self.at > from
    }

    /// A number or a month's name.
    fn part(&mut self) -> Option<(i32, usize, bool)> {
        if self.peek()?.is_ascii_digit() {
            let (value, len) = self.digits()?;
            return Some((i32::try_from(value).ok()?, len, false));
        }
        let word = self.word()?;
        Some((month_named(&word)?, 0, true))
    }

    fn date(&mut self, stamp: &mut Stamp) -> bool {
        let start = self.at;
        // A weekday in front says nothing the date does not; some begin like months.
        if self.peek().is_some_and(|b| b.is_ascii_alphabetic())
            && self.word().is_some_and(|word| is_weekday(&word))
        {
            if self.text[self.at..].starts_with(b"-feira") {
                self.at += b"-feira".len();
            }
            self.skip(b"., ");
            if self.numbers(stamp) {
                return true;
            }
        }
        self.at = start;
        self.numbers(stamp)
    }

    /// The date's three parts.
    fn numbers(&mut self, stamp: &mut Stamp) -> bool {
        let run = self.text[self.at..]
            .iter()
            .take_while(|b| b.is_ascii_digit())
            .count();
        if run == 8 || run == 14 {
            return self.compact(run, stamp);
        }
        let Some((a, a_len, a_name)) = self.part() else {
            return false;
        };
        if !self.skip(b"-/. ") {
            return false;
        }
        let mark = self.text[self.at - 1];
        let Some((b, _, b_name)) = self.part() else {
            return false;
        };
        if !self.skip(b"-/., ") {
            return false;
        }
        let Some((c, c_len, c_name)) = self.part() else {
            return false;
        };
        stamp.date = Some([a, b, c]);
        stamp.order = match (a_len, a_name, b_name) {
            (4, ..) => Some(Order::Ymd),
            (_, true, _) => Some(Order::Mdy),
            (_, _, true) => Some(Order::Dmy),
            _ if mark == b'.' => Some(Order::Dmy),
            _ => None,
        };
        !c_name && (a_len == 4 || c_len == 4 || c_len == 2)
    }

    /// `20260514` or `20260514100000`.
    fn compact(&mut self, len: usize, stamp: &mut Stamp) -> bool {
        let text = &self.text[self.at..self.at + len];
        let pair = |at: usize| two(text, at).unwrap_or(-1);
        let date = [pair(0) * 100 + pair(2), pair(4), pair(6)];
        if !(1990..=2100).contains(&date[0])
            || !(1..=12).contains(&date[1])
            || !(1..=31).contains(&date[2])
        {
            return false;
        }
        stamp.date = Some(date);
        stamp.order = Some(Order::Ymd);
        if len == 14 {
            stamp.of_day = Some(f64::from(pair(8) * 3600 + pair(10) * 60 + pair(12)));
            stamp.seconds = true;
        }
        self.at += len;
        true
    }

    fn time(&mut self, stamp: &mut Stamp) -> Option<()> {
        if stamp.of_day.is_none() {
            self.clock(stamp)?;
        }
        self.skip(b" ");
        self.half(stamp)?;
        self.skip(b" ");
        self.zone(stamp)
    }

    fn clock(&mut self, stamp: &mut Stamp) -> Option<()> {
        let (hour, len) = self.digits()?;
        let dated = stamp.date.is_some();
        if dated && (len == 6 || len == 4) && !matches!(self.peek(), Some(b':')) {
            let (h, m, s) = if len == 6 {
                (hour / 10_000, hour / 100 % 100, hour % 100)
            } else {
                (hour / 100, hour % 100, 0)
            };
            stamp.of_day = (h < 24 && m < 60 && s < 61).then(|| (h * 3600 + m * 60 + s) as f64);
            stamp.seconds = len == 6;
            return stamp.of_day.map(|_| ());
        }
        let mark = self
            .peek()
            .filter(|b| *b == b':' || (dated && matches!(b, b'.' | b'h')))?;
        self.at += 1;
        let (minute, _) = self.digits()?;
        let mut seconds = 0.0;
        if self.peek() == Some(mark) && mark != b'h' {
            self.at += 1;
            let (whole, _) = self.digits()?;
            seconds = whole as f64 + self.fraction();
            stamp.seconds = true;
        }
        stamp.long = hour > 24;
        if minute > 59 || seconds >= 61.0 || (dated && hour > 24) || hour > 100_000 {
            return None;
        }
        stamp.of_day = Some((hour * 3600 + minute * 60) as f64 + seconds);
        Some(())
    }

    fn fraction(&mut self) -> f64 {
        if !matches!(self.peek(), Some(b'.' | b',')) {
            return 0.0;
        }
        let at = self.at;
        self.at += 1;
        match self.digits() {
            Some((value, len)) if len <= 12 => value as f64 / 10_f64.powi(len as i32),
            _ => {
                self.at = at;
                0.0
            }
        }
    }

    /// AM or PM, in any of the languages, with or without points and (also unbroken) spaces.
    fn half(&mut self, stamp: &mut Stamp) -> Option<()> {
        if self.at == self.text.len() {
            return Some(());
        }
        let text = super::decode::text(&self.text[self.at..]).into_owned();
        let between = |c: char| c == '.' || c.is_whitespace();
        let letters: String = text.chars().filter(|c| !between(*c)).collect();
        let Some((late, mut left)) = half_named(&letters) else {
            return Some(());
        };
        let rest = text.trim_start_matches(|c| {
            let passed = between(c) || left > 0;
            left -= usize::from(left > 0 && !between(c));
            passed
        });
        self.at = self.text.len().saturating_sub(rest.len());
        let of_day = stamp.of_day?;
        let noon = 12.0 * 3600.0;
        if of_day >= noon + 3600.0 {
            // "14:05 PM": a clock of 24 hours that names the half as well.
            return late.then_some(());
        }
        let since = of_day % noon;
        stamp.of_day = Some(if late { since + noon } else { since });
        Some(())
    }

    /// Z, UTC, GMT, +02:00, +0200, +02.
    fn zone(&mut self, stamp: &mut Stamp) -> Option<()> {
        match self.peek() {
            None => return Some(()),
            Some(b'+' | b'-') => {}
            Some(_) => {
                let word = self.word()?.to_ascii_uppercase();
                if !matches!(word.as_str(), "Z" | "UTC" | "GMT") {
                    return None;
                }
                stamp.offset = Some(0);
                if self.peek().is_none() {
                    return Some(());
                }
            }
        }
        let sign = if self.peek()? == b'-' { -1 } else { 1 };
        self.at += 1;
        let (value, len) = self.digits()?;
        let (hours, minutes) = if len == 4 {
            (value / 100, value % 100)
        } else if self.peek() == Some(b':') {
            self.at += 1;
            (value, self.digits()?.0)
        } else {
            (value, 0)
        };
        if hours > 15 || minutes > 59 {
            return None;
        }
        stamp.offset = Some(sign * (hours * 3600 + minutes * 60) as i32);
        Some(())
    }
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
            "20260514T100000",
            "2026-05-14 10:00:00.000",
            "Thu 14 May 2026 10:00",
            "14-May-2026 10:00:00",
            "14.05.2026 10.00",
            "2026-05-14 10:00:00,000",
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
