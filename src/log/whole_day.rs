//! Days of stamps read before: on a day without a change of the clock a stamp needs no calendar, in
//! whatever order the rows are.

use super::clock::Clock;
use super::stamp::two;

/// Bytes of a stamp, `2026-05-14 10:00:00`, and of those before its time of day.
const STAMP: usize = 19;
const DATE: usize = 11;

/// Days kept: those of four years, by their numbers.
const KEPT: usize = 4 * 13 * 32;

/// A day all of whose stamps are as far from its first.
#[derive(Debug, Clone, Copy)]
struct Day {
    date: [u8; DATE],
    /// The instant of its midnight, and the same before the shift the design states.
    start: f64,
    raw: f64,
}

/// Days of stamps read before.
#[derive(Debug, Default)]
pub(super) struct WholeDays {
    /// Empty until the first is learned.
    days: Vec<Option<Day>>,
}

impl WholeDays {
    /// The instant of a stamp, the same unshifted, and where the stamp ends: at a byte like `stop`.
    #[inline]
    pub(super) fn read(&self, block: &[u8], from: usize, stop: u8) -> Option<(f64, f64, usize)> {
        let end = from + STAMP;
        if block.get(end) != Some(&stop) {
            return None;
        }
        let stamp = block.get(from..)?.first_chunk::<STAMP>()?;
        let day = self.days.get(place(stamp)?)?.as_ref()?;
        if day.date[..] != stamp[..DATE] {
            return None;
        }
        let of_day = f64::from(of_day(stamp)?);
        Some((day.start + of_day, day.raw + of_day, end))
    }

    /// Learns the day of a stamp just read, where its first and its last second agree with it.
    pub(super) fn learn(&mut self, stamp: &[u8], instant: f64, clock: &mut Clock, decimal: u8) {
        let Ok(mut other) = <[u8; STAMP]>::try_from(stamp) else {
            return;
        };
        let (Some(place), Some(of_day)) = (place(&other), of_day(&other)) else {
            return;
        };
        let last = clock.last();
        let (start, raw) = (instant - f64::from(of_day), last - f64::from(of_day));
        let (skipped, by_order) = (clock.skipped_hour, clock.by_order);
        let mut agrees = !by_order && start.fract() == 0.0 && raw.fract() == 0.0;
        for (time, seconds) in [(b"00:00:00", 0.0), (b"23:59:59", 86_399.0)] {
            other[DATE..].copy_from_slice(time);
            agrees &= clock.read(&other, decimal) == Some((start + seconds, false));
        }
        agrees &= !clock.by_order;
        clock.go_on(last, 0);
        (clock.skipped_hour, clock.by_order) = (skipped, by_order);
        if !agrees {
            return;
        }
        if self.days.is_empty() {
            self.days = vec![None; KEPT];
        }
        let mut date = [0; DATE];
        date.copy_from_slice(&stamp[..DATE]);
        self.days[place] = Some(Day { date, start, raw });
    }
}

/// Where a day is kept.
#[inline]
fn place(stamp: &[u8; STAMP]) -> Option<usize> {
    let year = usize::from(stamp[3] & 3);
    let (month, day) = (two(stamp, 5)?, two(stamp, 8)?);
    (month <= 12 && day < 32).then_some((year * 13 + month as usize) * 32 + day as usize)
}

/// Seconds since midnight.
#[inline]
fn of_day(stamp: &[u8; STAMP]) -> Option<i32> {
    let (hour, minute, second) = (two(stamp, 11)?, two(stamp, 14)?, two(stamp, 17)?);
    let usual = stamp[13] == b':' && stamp[16] == b':' && hour < 24 && minute < 60 && second < 60;
    usual.then_some(hour * 3_600 + minute * 60 + second)
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::log::clock::{ClockPlan, Form, Zone};
    use crate::log::stamp::Order;

    fn clock(order: Order) -> Clock {
        Clock::new(ClockPlan {
            columns: vec![0],
            form: Form::Calendar(order),
            zone: Zone::Named(chrono_tz::Europe::Paris),
            shift_s: 30.0,
            start: None,
        })
    }

    #[test]
    fn stamps_of_a_known_day_are_read_as_the_clock_reads_them() {
        let mut days = WholeDays::default();
        let mut clock = clock(Order::Ymd);
        let mut known = 0;
        let days_and_between = [' ', 'T'].into_iter().flat_map(|between| {
            [
                "2026-01-15",
                "2026/07/01",
                "2026-03-29",
                "2026-10-25",
                "2026-02-30",
            ]
            .map(|day| format!("{day}{between}"))
        });
        for day in days_and_between {
            for time in [
                "10:00:00", "00:00:00", "02:30:00", "23:59:59", "24:00:00", "12:60:00",
            ] {
                let text = format!("{day}{time},1");
                let stamp = &text.as_bytes()[..STAMP];
                clock.by_order = false;
                let Some((instant, repaired)) = clock.read(stamp, b'.') else {
                    assert_eq!(days.read(text.as_bytes(), 0, b','), None, "{text}");
                    continue;
                };
                if let Some(found) = days.read(text.as_bytes(), 0, b',') {
                    assert_eq!(found, (instant, clock.last(), STAMP), "{text}");
                    assert!(!repaired, "{text}");
                    known += 1;
                }
                days.learn(stamp, instant, &mut clock, b'.');
            }
        }
        // Three more times of two days, written two ways; days on which the clock is changed are
        // never known.
        assert_eq!(known, 2 * 2 * 3);
    }

    #[test]
    fn what_follows_the_stamp_must_be_the_end_of_its_cell() {
        let mut days = WholeDays::default();
        let mut clock = clock(Order::Ymd);
        let stamp = b"2026-01-15 10:00:00";
        let instant = clock.read(stamp, b'.').unwrap().0;
        days.learn(stamp, instant, &mut clock, b'.');
        assert!(days.read(b"2026-01-15 11:00:00,1", 0, b',').is_some());
        for text in [
            "2026-01-15 11:00:00.5,",
            "2026-01-15 11:00:00",
            "2026-01-15 11:00:00Z,",
            "2022-01-15 11:00:00,",
        ] {
            assert_eq!(days.read(text.as_bytes(), 0, b','), None, "{text}");
        }
    }
}
