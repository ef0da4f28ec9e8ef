//! Local days: which date an instant belongs to at the place of the log, and when days begin.
//!
//! A moving system changes its zone with its legs. Days are 23 to 25 hours long where clocks change.

use chrono::{DateTime, Days, NaiveDate, NaiveDateTime, Offset, TimeZone, Utc};
use chrono_tz::Tz;

/// The zones a trip goes through: each holds from its instant until the next.
#[derive(Debug, Clone, PartialEq)]
pub struct Calendar {
    /// Instants (Unix seconds, ascending) from which a zone holds; the first holds from ever.
    spans: Vec<(i64, Tz)>,
}

impl Calendar {
    /// A calendar with one zone throughout.
    pub fn fixed(zone: Tz) -> Self {
        Self {
            spans: vec![(i64::MIN, zone)],
        }
    }

    /// A calendar that starts in `base` and changes zone at each given instant (Unix seconds).
    pub fn with_changes(base: Tz, mut changes: Vec<(i64, Tz)>) -> Self {
        changes.sort_by_key(|c| c.0);
        let mut spans = vec![(i64::MIN, base)];
        spans.extend(changes);
        Self { spans }
    }

    /// The zone that holds at `instant` (Unix seconds).
    pub fn zone_at(&self, instant: i64) -> Tz {
        let i = self.spans.partition_point(|s| s.0 <= instant);
        self.spans[i.saturating_sub(1)].1
    }

    /// The local wall clock at `instant` (Unix seconds).
    pub fn local(&self, instant: i64) -> NaiveDateTime {
        let utc = DateTime::<Utc>::from_timestamp(instant, 0).unwrap_or_default();
        utc.with_timezone(&self.zone_at(instant)).naive_local()
    }

    /// The local date at `instant` (Unix seconds).
    pub fn date(&self, instant: i64) -> NaiveDate {
        self.local(instant).date()
    }

    /// The first instant (Unix seconds) of a local date.
    pub fn start_of(&self, date: NaiveDate) -> i64 {
        let midnight = date.and_hms_opt(0, 0, 0).unwrap_or_default();
        let guess = midnight.and_utc().timestamp();
        // The zone in force near that midnight; a change of zone on the very day takes effect there.
        let zone = self.zone_at(guess);
        earliest(zone, midnight)
    }

    /// Beginning and end (Unix seconds) of a local date.
    pub fn bounds(&self, date: NaiveDate) -> (i64, i64) {
        let next = date.checked_add_days(Days::new(1)).unwrap_or(date);
        let start = self.start_of(date);
        (start, self.start_of(next).max(start))
    }

    /// Hours in a local date: 24, or 23 or 25 where clocks change.
    ///
    /// ```
    /// use ampledger::calendar::{Calendar, zone};
    /// use chrono::NaiveDate;
    ///
    /// let calendar = Calendar::fixed(zone("Europe/Paris").unwrap());
    /// let in_spring = NaiveDate::from_ymd_opt(2026, 3, 29).unwrap();
    /// assert_eq!(calendar.hours_in(in_spring), 23.0);
    /// ```
    pub fn hours_in(&self, date: NaiveDate) -> f64 {
        let (start, end) = self.bounds(date);
        (end - start) as f64 / 3600.0
    }

    /// RFC 3339 with the local offset, as reports print instants.
    pub fn rfc3339(&self, instant: i64) -> String {
        let utc = DateTime::<Utc>::from_timestamp(instant, 0).unwrap_or_default();
        utc.with_timezone(&self.zone_at(instant))
            .to_rfc3339_opts(chrono::SecondsFormat::Secs, false)
    }

    /// Seconds east of Greenwich at `instant`.
    pub fn offset_s(&self, instant: i64) -> i32 {
        let utc = DateTime::<Utc>::from_timestamp(instant, 0).unwrap_or_default();
        utc.with_timezone(&self.zone_at(instant))
            .offset()
            .fix()
            .local_minus_utc()
    }
}

/// The earliest instant that shows `wall` on a clock of `zone`; where the hour is skipped, the first after it.
fn earliest(zone: Tz, wall: NaiveDateTime) -> i64 {
    for step in 0..=8 {
        let tried = wall + chrono::Duration::minutes(15 * step);
        if let Some(found) = zone.from_local_datetime(&tried).earliest() {
            return found.timestamp();
        }
    }
    wall.and_utc().timestamp()
}

/// The zone of an IANA name.
///
/// # Errors
/// What is wrong with the name, with the one most like it.
///
/// ```
/// use ampledger::calendar::zone;
///
/// assert!(zone("Europe/Zurich").is_ok());
/// assert!(zone("Zurich").unwrap_err().contains("Europe/Zurich"));
/// ```
pub fn zone(name: &str) -> Result<Tz, String> {
    name.parse::<Tz>().map_err(|_| {
        let near = chrono_tz::TZ_VARIANTS
            .iter()
            .map(|z| (strsim::jaro_winkler(z.name(), name), z.name()))
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .filter(|found| found.0 > 0.8)
            .map(|found| found.1);
        let near = of_city(name).or(near);
        let hint = near.map_or(
            "IANA names are needed, for instance \"Europe/Copenhagen\"".to_owned(),
            |z| format!("did you mean \"{z}\"?"),
        );
        format!("the time zone \"{name}\" is not known; {hint}")
    })
}

/// The zone named for a city, where one alone is: `Zurich`, `new york`.
pub fn of_city(name: &str) -> Option<&'static str> {
    let city = name.trim().replace(' ', "_").to_lowercase();
    let is_of = |zone: &&'static str| {
        let last = zone.rsplit_once('/').map(|parts| parts.1);
        last.is_some_and(|last| last.to_lowercase() == city)
    };
    // The names of old have the same cities again: `US/Pacific`, `Etc/Greenwich`.
    let mut found = chrono_tz::TZ_VARIANTS
        .iter()
        .map(|z| z.name())
        .filter(is_of);
    found.next().filter(|_| found.next().is_none())
}

#[cfg(test)]
#[allow(clippy::unwrap_used, clippy::expect_used)]
mod tests {
    use super::*;

    fn day(y: i32, m: u32, d: u32) -> NaiveDate {
        NaiveDate::from_ymd_opt(y, m, d).unwrap()
    }

    #[test]
    fn a_day_is_23_or_25_hours_long_when_clocks_change() {
        let calendar = Calendar::fixed(chrono_tz::Europe::Copenhagen);
        assert_eq!(calendar.hours_in(day(2026, 3, 29)), 23.0);
        assert_eq!(calendar.hours_in(day(2026, 10, 25)), 25.0);
        assert_eq!(calendar.hours_in(day(2026, 6, 1)), 24.0);
    }

    #[test]
    fn every_instant_of_a_day_has_its_date() {
        let calendar = Calendar::fixed(chrono_tz::America::St_Johns);
        let (start, end) = calendar.bounds(day(2026, 11, 1));
        assert_eq!(calendar.date(start), day(2026, 11, 1));
        assert_eq!(calendar.date(end - 1), day(2026, 11, 1));
        assert_eq!(calendar.date(end), day(2026, 11, 2));
    }

    #[test]
    fn a_leg_changes_the_zone() {
        let change = 1_780_000_000;
        let calendar =
            Calendar::with_changes(chrono_tz::UTC, vec![(change, chrono_tz::Asia::Kolkata)]);
        assert_eq!(calendar.offset_s(change - 1), 0);
        assert_eq!(calendar.offset_s(change), 19_800);
    }
}
