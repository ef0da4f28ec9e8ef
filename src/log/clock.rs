//! From the cells of the time columns to instants: formats, zones, clock changes, elapsed clocks.

use chrono::{DateTime, NaiveDate, NaiveDateTime, NaiveTime, Offset, TimeZone};
use chrono_tz::Tz;

use super::stamp::{self, Order};
use super::{decode, number};
use crate::calendar::Calendar;

/// Wall days whose offset is kept: more than a year's, so that rows in any order find theirs.
const DAYS: usize = 512;

/// How the time columns are written.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Form {
    /// Date with or without time, numbers in this order.
    Calendar(Order),
    /// Time of day; the date comes from elsewhere.
    TimeOfDay,
    /// Seconds since 1970 = cell x factor.
    Epoch(f64),
    /// Days since 1899-12-30, as spreadsheets count.
    Serial,
    /// Seconds since the start = cell x factor.
    Elapsed(f64),
    /// Hours, minutes and seconds since the start.
    ElapsedHms,
    /// strftime.
    Pattern(String),
    /// strftime without a year, and the year of the first row: each row is of the year that brings it
    /// nearest to the one before.
    Yearless(String, i32),
}

impl Form {
    /// The name for `inspect` and for `time_format`.
    pub(crate) fn name(&self) -> String {
        match self {
            Form::Calendar(Order::Ymd) => "%Y-%m-%d %H:%M:%S".to_owned(),
            Form::Calendar(Order::Dmy) => "%d/%m/%Y %H:%M:%S".to_owned(),
            Form::Calendar(Order::Mdy) => "%m/%d/%Y %H:%M:%S".to_owned(),
            Form::TimeOfDay => "%H:%M:%S".to_owned(),
            Form::Epoch(f) if *f >= 1.0 => "epoch-s".to_owned(),
            Form::Epoch(f) if *f >= 1e-4 => "epoch-ms".to_owned(),
            Form::Epoch(_) => "epoch-us".to_owned(),
            Form::Serial => "spreadsheet days".to_owned(),
            Form::Elapsed(_) => "elapsed-s".to_owned(),
            Form::ElapsedHms => "elapsed-hms".to_owned(),
            Form::Pattern(text) | Form::Yearless(text, _) => text.clone(),
        }
    }

    /// Whether a start must be known.
    pub(crate) fn needs_start(&self) -> bool {
        matches!(self, Form::TimeOfDay | Form::Elapsed(_) | Form::ElapsedHms)
    }

    /// Whether each stamp says by itself when it was (but for hours the clock shows twice).
    pub(crate) fn stands_alone(&self) -> bool {
        !self.needs_start() && !matches!(self, Form::Yearless(..))
    }

    /// Whether the clock shows a wall clock, so that a zone must be known.
    fn is_wall(&self) -> bool {
        !matches!(self, Form::Epoch(_))
    }
}

/// The zone of stamps without one.
#[derive(Debug, Clone)]
pub(crate) enum Zone {
    Named(Tz),
    Local(Calendar),
}

impl Zone {
    pub(crate) fn name(&self) -> String {
        match self {
            Zone::Named(zone) => zone.name().to_owned(),
            Zone::Local(_) => "local".to_owned(),
        }
    }

    fn at(&self, near: i64) -> Tz {
        match self {
            Zone::Named(zone) => *zone,
            Zone::Local(calendar) => calendar.zone_at(near),
        }
    }
}

/// What is known of a file's clock.
#[derive(Debug, Clone)]
pub(crate) struct ClockPlan {
    pub(crate) columns: Vec<usize>,
    pub(crate) form: Form,
    pub(crate) zone: Zone,
    pub(crate) shift_s: f64,
    /// Wall clock (seconds since 1970) at which an elapsed clock begins.
    pub(crate) start: Option<f64>,
}

/// A running clock: knows what came before, which doubled hours and restarts need.
#[derive(Debug, Clone)]
pub(crate) struct Clock {
    plan: ClockPlan,
    /// Wall quarter-hour last looked up, and seconds to take off; `None` where the hour is doubled.
    cached: Option<(i64, f64)>,
    /// Wall days looked up, and seconds to take off throughout; NaN where these change.
    days: Vec<(i64, f64)>,
    last: f64,
    last_raw: f64,
    base: f64,
    step: f64,
    /// Years gone by since the first row, of stamps that show none.
    years: i32,
    /// Whether a stamp could only be read by those before it.
    pub(crate) by_order: bool,
    /// Stamps in an hour the clock skipped.
    pub(crate) skipped_hour: u64,
    /// Restarts of an elapsed clock.
    pub(crate) restarts: u64,
}

/// An instant and whether it had to be repaired.
pub(crate) type Instant = (f64, bool);

impl Clock {
    pub(crate) fn new(plan: ClockPlan) -> Self {
        let base = plan.start.unwrap_or(0.0);
        Self {
            plan,
            cached: None,
            days: vec![(i64::MIN, f64::NAN); DAYS],
            last: f64::NEG_INFINITY,
            last_raw: f64::NEG_INFINITY,
            base,
            step: 0.0,
            years: 0,
            by_order: false,
            skipped_hour: 0,
            restarts: 0,
        }
    }

    /// The instant last read, before the shift; minus infinity where there was none.
    pub(crate) fn last(&self) -> f64 {
        self.last
    }

    /// Forgets the instant last read.
    pub(crate) fn forget(&mut self) {
        self.last = f64::NEG_INFINITY;
        self.last_raw = f64::NEG_INFINITY;
    }

    /// Goes on after rows read elsewhere: their last instant, and how many stamps fell in a skipped hour.
    pub(crate) fn go_on(&mut self, last: f64, skipped_hour: u64) {
        // What the wall clock showed there is not told.
        self.last_raw = f64::NEG_INFINITY;
        if last.is_finite() {
            self.last = last;
        }
        self.skipped_hour += skipped_hour;
    }

    /// The instant (Unix seconds) a cell stands for.
    pub(crate) fn read(&mut self, cell: &[u8], decimal: u8) -> Option<Instant> {
        let (wall, utc) = self.wall(cell, decimal)?;
        let (instant, repaired) = if utc {
            (wall, false)
        } else {
            self.instant_of(wall)
        };
        self.last = instant;
        Some((instant + self.plan.shift_s, repaired))
    }

    /// Wall clock seconds, and whether they are already those of Greenwich.
    fn wall(&mut self, cell: &[u8], decimal: u8) -> Option<(f64, bool)> {
        let number = |cell: &[u8]| {
            number::parse(cell, decimal)
                .filter(|v| v.1.is_none_or(|u| u.kind == super::words::Kind::Duration))
                .map(|v| v.0)
        };
        match &self.plan.form {
            Form::Calendar(order) => {
                let stamp = stamp::parse(cell)?;
                let wall = match stamp.wall(*order) {
                    Some(wall) => wall,
                    None => self.on_last_date(&stamp)?,
                };
                self.last_raw = wall;
                Some((wall, stamp.offset.is_some()))
            }
            Form::Epoch(factor) => {
                let seconds = number(cell)? * factor;
                (seconds.abs() < 1e11).then_some((seconds, true))
            }
            Form::Serial => Some((
                ((number(cell)? - 25_569.0) * 86_400.0 * 1e3).round() / 1e3,
                false,
            )),
            Form::TimeOfDay => {
                let of_day = stamp::parse(cell)?.of_day?;
                self.over_midnight(of_day);
                Some((self.base + of_day, false))
            }
            Form::Elapsed(factor) => {
                let raw = number(cell)? * factor;
                Some((self.elapsed(raw), false))
            }
            Form::ElapsedHms => {
                let raw = stamp::parse(cell)?.of_day?;
                Some((self.elapsed(raw), false))
            }
            Form::Pattern(pattern) => by_pattern(cell, pattern, None),
            Form::Yearless(pattern, first) => {
                let (years, found) = yearless(cell, pattern, first + self.years, self.last_raw)?;
                self.years += years;
                self.last_raw = found.0;
                Some(found)
            }
        }
    }

    /// A time of day whose date stands in a column of its own, left empty where it is that of the row
    /// before.
    fn on_last_date(&mut self, stamp: &stamp::Stamp) -> Option<f64> {
        let left_out = self.plan.columns.len() > 1 && stamp.date.is_none();
        // Only the rows before tell the date.
        self.by_order |= left_out;
        let day = (self.last_raw / 86_400.0).floor() * 86_400.0;
        stamp
            .of_day
            .filter(|_| left_out && day.is_finite())
            .map(|of_day| day + of_day)
    }

    fn over_midnight(&mut self, of_day: f64) {
        if self.last_raw == f64::NEG_INFINITY {
            self.base = (self.base / 86_400.0).floor() * 86_400.0;
        } else if of_day < self.last_raw - 43_200.0 {
            self.base += 86_400.0;
        }
        self.last_raw = of_day;
    }

    /// Elapsed seconds since the start, over restarts: a restarted clock goes on one step after the last row.
    fn elapsed(&mut self, raw: f64) -> f64 {
        if self.last_raw.is_finite() {
            if raw < self.last_raw {
                self.base += self.last_raw + self.step - raw;
                self.restarts += 1;
            } else {
                self.step = raw - self.last_raw;
            }
        }
        self.last_raw = raw;
        self.base + raw
    }

    /// Seconds to take off throughout a wall day; NaN where these change.
    fn offset_on(&mut self, day: i64) -> f64 {
        let place = day.rem_euclid(DAYS as i64) as usize;
        if self.days[place].0 != day {
            let mut quarters = (day * 96..day * 96 + 96).map(|quarter| self.offset_in(quarter));
            let first = quarters.next().flatten();
            let even = first.filter(|_| quarters.all(|offset| offset == first));
            self.days[place] = (day, even.unwrap_or(f64::NAN));
        }
        self.days[place].1
    }

    /// Seconds to take off in a wall quarter-hour; `None` where it is doubled or skipped.
    fn offset_in(&self, quarter: i64) -> Option<f64> {
        let time = DateTime::from_timestamp(quarter.checked_mul(900)?, 0)?;
        let zone = self.plan.zone.at(quarter * 900);
        let found = zone.offset_from_local_datetime(&time.naive_utc()).single();
        found.map(|offset| f64::from(offset.fix().local_minus_utc()))
    }

    /// Wall clock to instant. In a doubled hour the file's order decides; in a skipped one the
    /// stamp is read as if the clock had not been changed.
    fn instant_of(&mut self, wall: f64) -> Instant {
        let day = (wall as i64).div_euclid(86_400);
        let offset = self.offset_on(day);
        if !offset.is_nan() {
            return (wall - offset, false);
        }
        let quarter = (wall as i64).div_euclid(900);
        if let Some((key, offset)) = self.cached
            && key == quarter
        {
            return (wall - offset, false);
        }
        let Some(time) = DateTime::from_timestamp(quarter * 900, 0) else {
            return (wall, false);
        };
        let zone = self.plan.zone.at(quarter * 900);
        match zone.offset_from_local_datetime(&time.naive_utc()) {
            chrono::LocalResult::Single(offset) => {
                let seconds = f64::from(offset.fix().local_minus_utc());
                self.cached = Some((quarter, seconds));
                (wall - seconds, false)
            }
            chrono::LocalResult::Ambiguous(one, other) => {
                let mut both = [
                    wall - f64::from(one.fix().local_minus_utc()),
                    wall - f64::from(other.fix().local_minus_utc()),
                ];
                both.sort_by(f64::total_cmp);
                self.by_order = true;
                let again = both[0] < self.last - 0.5;
                (if again { both[1] } else { both[0] }, false)
            }
            chrono::LocalResult::None => {
                let before = time.naive_utc() - chrono::Duration::hours(3);
                let offset = zone
                    .offset_from_local_datetime(&before)
                    .earliest()
                    .map_or(0, |o| o.fix().local_minus_utc());
                self.skipped_hour += 1;
                (wall - f64::from(offset), true)
            }
        }
    }

    /// Whether the plan needs a zone at all, for `inspect`.
    pub(crate) fn zone_name(&self) -> String {
        if self.plan.form.is_wall() {
            self.plan.zone.name()
        } else {
            "UTC".to_owned()
        }
    }
}

/// A stamp without a year as one of this year, or of the next or the last where that brings it nearer to
/// the wall clock before it; and how many years that is from this one.
fn yearless(cell: &[u8], pattern: &str, year: i32, last: f64) -> Option<(i32, (f64, bool))> {
    let this = by_pattern(cell, pattern, Some(year)).map(|found| (0, found));
    let off = |found: &(i32, (f64, bool))| (found.1.0 - last).abs();
    if this.is_some_and(|this| !last.is_finite() || off(&this) <= HALF_YEAR) {
        return this;
    }
    // On 29 February this year may have none.
    let others = [1, -1].map(|k| Some((k, by_pattern(cell, pattern, Some(year + k))?)));
    let all = this.into_iter().chain(others.into_iter().flatten());
    all.min_by(|a, b| off(a).total_cmp(&off(b)))
}

/// Half a year, seconds.
const HALF_YEAR: f64 = 183.0 * 86_400.0;

/// Whether stamps of a pattern show their year.
pub(crate) fn shows_year(pattern: &str) -> bool {
    let years = ["%Y", "%y", "%F", "%D", "%c", "%s"];
    years.iter().any(|y| pattern.contains(y))
}

/// strftime as the design says; dates alone are midnight, a missing year comes from the design.
pub(crate) fn by_pattern(cell: &[u8], pattern: &str, year: Option<i32>) -> Option<(f64, bool)> {
    let mut text = decode::text(cell).trim().to_owned();
    let mut pattern = pattern.to_owned();
    if let Some(year) = year.filter(|_| !shows_year(&pattern)) {
        text = format!("{year} {text}");
        pattern = format!("%Y {pattern}");
    }
    let seconds = |t: NaiveDateTime| {
        t.and_utc().timestamp() as f64 + f64::from(t.and_utc().timestamp_subsec_micros()) / 1e6
    };
    if let Ok(zoned) = DateTime::parse_from_str(&text, &pattern) {
        return Some((seconds(zoned.naive_utc()), true));
    }
    if let Ok(naive) = NaiveDateTime::parse_from_str(&text, &pattern) {
        return Some((seconds(naive), false));
    }
    let date = NaiveDate::parse_from_str(&text, &pattern).ok()?;
    Some((seconds(date.and_time(NaiveTime::MIN)), false))
}

/// The year of wall clock seconds.
pub(crate) fn year_of(wall: f64) -> Option<i32> {
    use chrono::Datelike as _;
    DateTime::from_timestamp(wall as i64, 0).map(|at| at.year())
}

/// A date written in a file's name (`log-2026-05-14.csv`, `20260514.csv`), as wall clock seconds.
pub(crate) fn date_in_name(name: &str) -> Option<f64> {
    let bytes = name.as_bytes();
    for width in [10, 8] {
        for window in bytes.windows(width) {
            let dashed =
                width == 8 || (window[4] == window[7] && matches!(window[4], b'-' | b'_' | b'.'));
            let digits = window.iter().filter(|b| b.is_ascii_digit()).count() == 8;
            if dashed && digits {
                let tidy: Vec<u8> = window
                    .iter()
                    .map(|b| if *b == b'_' || *b == b'.' { b'-' } else { *b })
                    .collect();
                if let Some(found) = stamp::parse(&tidy).and_then(|s| s.wall(Order::Ymd)) {
                    return Some(found);
                }
            }
        }
    }
    None
}
