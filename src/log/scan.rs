//! Dates and times of day in any hand, part by part: the slow way behind [`super::stamp`].

use super::abbreviation;
use super::months::{half_named, is_weekday, month_named};
use super::stamp::{Order, Stamp, two};

/// Words between the parts of a date: `14 de mayo de 2026`.
const BETWEEN: [&str; 5] = ["de", "del", "di", "of", "den"];

/// Words between date and time: `14/05/2026 um 10:00`.
const BEFORE_TIME: [&str; 10] = [
    "\u{e0}", "at", "um", "kl", "om", "alle", "las", "ore", "a", "klokka",
];

/// A cell, and how far it has been read.
pub(crate) struct Scan<'a> {
    text: &'a [u8],
    at: usize,
}

impl<'a> Scan<'a> {
    /// Reads a date, a time of day, or both; `None` where anything else stands in the cell.
    pub(crate) fn whole(text: &'a [u8]) -> Option<Stamp> {
        let scan = |at| Scan { text, at };
        scan(0).date_first().or_else(|| scan(0).year_last())
    }

    /// The date, then the time; or either alone.
    fn date_first(mut self) -> Option<Stamp> {
        let mut stamp = Stamp::default();
        if !self.date(&mut stamp) {
            self.at = 0;
            (stamp.date, stamp.order) = (None, None);
        }
        if self.at < self.text.len() {
            // A colon parts date and time only behind a full year: `14/05 10:00:00` has none.
            let full = stamp.date.is_none_or(|d| d[0] > 99 || d[2] > 99);
            if (!full && self.peek() == Some(b':')) || (stamp.date.is_some() && !self.gap()) {
                return None;
            }
            self.time(&mut stamp)?;
        }
        let whole = self.at == self.text.len();
        (whole && (stamp.date.is_some() || stamp.of_day.is_some())).then_some(stamp)
    }

    /// `Thu May 14 10:00:00 2026`: the year stands behind the time.
    fn year_last(mut self) -> Option<Stamp> {
        let mut stamp = Stamp::default();
        self.weekday();
        let (month, _, true) = self.part()? else {
            return None;
        };
        self.skip(b" ");
        let (day, _, false) = self.part()? else {
            return None;
        };
        self.skip(b" ");
        self.clock(&mut stamp)?;
        self.skip(b" ");
        if matches!(self.peek(), Some(b'U' | b'G' | b'Z')) {
            self.word();
            stamp.offset = Some(0);
            self.skip(b" ");
        }
        let (year, 4) = self.digits()? else {
            return None;
        };
        stamp.date = Some([i32::try_from(year).ok()?, month, day]);
        stamp.order = Some(Order::Ymd);
        (self.at == self.text.len()).then_some(stamp)
    }

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

    /// What parts date and time: marks, or a word that leads to the time.
    fn gap(&mut self) -> bool {
        let marks = b" Tt,_;-:";
        let from = self.at;
        self.skip(marks);
        if self
            .peek()
            .is_some_and(|b| b.is_ascii_lowercase() || b >= 0x80)
        {
            let word = self.at;
            if self
                .word()
                .is_none_or(|w| !BEFORE_TIME.contains(&w.as_str()))
            {
                self.at = word;
            }
            self.skip(b". ");
        }
        self.at > from
    }

    /// A weekday in front, which says nothing the date does not; whether there was one.
    fn weekday(&mut self) -> bool {
        let from = self.at;
        if self.word().is_none_or(|word| !is_weekday(&word)) {
            self.at = from;
            return false;
        }
        if self.text[self.at..].starts_with(b"-feira") {
            self.at += b"-feira".len();
        }
        self.skip(b"., ");
        true
    }

    /// A number or a month's name.
    fn part(&mut self) -> Option<(i32, usize, bool)> {
        if self.peek()?.is_ascii_digit() {
            let (value, len) = self.digits()?;
            return Some((i32::try_from(value).ok()?, len, false));
        }
        let mut word = self.word()?;
        if BETWEEN.contains(&word.as_str()) {
            self.skip(b" ");
            if self.peek()?.is_ascii_digit() {
                return self.part();
            }
            word = self.word()?;
        }
        Some((month_named(&word)?, 0, true))
    }

    fn date(&mut self, stamp: &mut Stamp) -> bool {
        let start = self.at;
        // Some weekdays begin like months.
        if self.weekday() && self.numbers(stamp) {
            return true;
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
        if matches!(run, 8 | 12 | 14) {
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
        let second = self.peek();
        if !self.skip(b"-/., ") {
            return false;
        }
        let Some((c, c_len, c_name)) = self.part() else {
            return false;
        };
        // Two digits behind another mark than the first are an hour: `14/05 10:00`.
        if c_len == 2 && !b_name && second != Some(mark) && mark != b' ' {
            return false;
        }
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

    /// `20260514`, `202605141000` or `20260514100000`.
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
        if len > 8 {
            let seconds = if len == 14 { pair(12) } else { 0 };
            let (hour, minute) = (pair(8), pair(10));
            if hour > 23 || minute > 59 || seconds > 60 {
                return false;
            }
            stamp.of_day = Some(f64::from(hour * 3600 + minute * 60 + seconds));
            stamp.seconds = len == 14;
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
        let mark = self.peek().filter(|b| {
            let short = len <= 2;
            *b == b':' || (short && *b == b'h') || (short && dated && b".- ".contains(b))
        })?;
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
        // Nothing more, or an offset: what most loggers write.
        if self.peek().is_none_or(|b| b"+-ZUG".contains(&b)) {
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
                if matches!(word.as_str(), "UHR" | "H") && self.peek().is_none() {
                    return Some(());
                }
                if let Some(zone) = abbreviation::known(&word) {
                    stamp.offset = Some(zone.hours * 3600);
                    return self.peek().is_none().then_some(());
                }
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
