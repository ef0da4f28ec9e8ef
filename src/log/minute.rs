//! The minute of the stamp last read: stamps that differ in their seconds alone need no calendar.

use super::clock::Clock;
use super::whole_day::WholeDays;

/// Bytes of a stamp before its seconds: `2026-05-14 10:00:`.
const BEFORE: usize = 17;

/// The minute of the stamp last read: stamps that differ in their seconds alone need no calendar.
#[derive(Debug, Default)]
pub(super) struct Minute {
    known: bool,
    before: [u8; BEFORE],
    after: Vec<u8>,
    /// The bytes before the seconds of the stamp last read the long way.
    seen: [u8; BEFORE],
    /// The instant of its second 0, and the same before the shift the design states.
    start: f64,
    raw: f64,
    days: WholeDays,
}

impl Minute {
    /// The instant of a stamp of this minute, the same unshifted, and where the stamp ends: at a byte
    /// like `stop`.
    #[inline]
    pub(super) fn read(
        &mut self,
        block: &[u8],
        from: usize,
        stop: u8,
    ) -> Option<(f64, f64, usize)> {
        self.same_minute(block, from, stop)
            .or_else(|| self.known_day(block, from, stop))
    }

    /// The same by the day of the stamp, and what it says of its minute.
    fn known_day(&mut self, block: &[u8], from: usize, stop: u8) -> Option<(f64, f64, usize)> {
        let (instant, raw, end) = self.days.read(block, from, stop)?;
        let stamp = &block[from..end];
        if self.is_again(stamp) {
            let second = seconds(stamp)?;
            self.keep(stamp, instant - second, raw - second);
        }
        Some((instant, raw, end))
    }

    #[inline]
    fn same_minute(&self, block: &[u8], from: usize, stop: u8) -> Option<(f64, f64, usize)> {
        let stamp = block.get(from..from + BEFORE + 2)?;
        if !self.known || !same(stamp, &self.before) {
            return None;
        }
        let second = seconds(stamp)?;
        let end = from + BEFORE + 2;
        let after = self.after.len();
        if after > 0 && block.get(end..end + after)? != self.after {
            return None;
        }
        if block.get(end + after) != Some(&stop) {
            return None;
        }
        Some((self.start + second, self.raw + second, end + after))
    }

    /// The instant of a stamp of another minute than the last; `None` where it is none, or had to
    /// be repaired.
    pub(super) fn stamp(&mut self, cell: &[u8], clock: &mut Clock, decimal: u8) -> Option<f64> {
        let skipped = clock.skipped_hour;
        let (instant, repaired) = clock.read(cell, decimal)?;
        if repaired {
            // The careful way reads it again, and counts it.
            clock.skipped_hour = skipped;
            return None;
        }
        self.days.learn(cell, instant, clock, decimal);
        if self.is_again(cell) {
            self.learn(cell, instant, clock, decimal);
        }
        Some(instant)
    }

    /// Whether a stamp is of the minute of the one read before it: rows in no order are not worth
    /// learning from.
    fn is_again(&mut self, stamp: &[u8]) -> bool {
        let Some(before) = stamp.get(..BEFORE) else {
            return false;
        };
        let again = self.seen == before;
        self.seen.copy_from_slice(before);
        again
    }

    /// Learns the minute of a stamp, where its seconds stand where they usually do.
    fn learn(&mut self, stamp: &[u8], instant: f64, clock: &mut Clock, decimal: u8) {
        self.known = false;
        let usual = stamp.len() >= BEFORE + 2
            && stamp.len() <= BEFORE + 16
            && stamp[13] == b':'
            && stamp[16] == b':';
        if !usual || clock.by_order {
            return;
        }
        let last = clock.last();
        let Some(second) = seconds(stamp) else { return };
        let (start, raw) = (instant - second, last - second);
        let mut other = stamp.to_vec();
        let mut agrees = start.fract() == 0.0 && raw.fract() == 0.0;
        for (digits, second) in [(b"00", 0.0), (b"59", 59.0)] {
            other[BEFORE..BEFORE + 2].copy_from_slice(digits);
            agrees &= clock.read(&other, decimal) == Some((start + second, false));
        }
        clock.go_on(last, 0);
        if agrees {
            self.keep(stamp, start, raw);
        }
    }

    fn keep(&mut self, stamp: &[u8], start: f64, raw: f64) {
        self.known = true;
        self.before.copy_from_slice(&stamp[..BEFORE]);
        self.after.clear();
        self.after.extend_from_slice(&stamp[BEFORE + 2..]);
        (self.start, self.raw) = (start, raw);
    }
}

/// Whether the bytes before the seconds are the same: compared as two large numbers and a byte.
#[inline]
fn same(stamp: &[u8], before: &[u8; BEFORE]) -> bool {
    let number = |bytes: &[u8]| <[u8; 16]>::try_from(bytes).map(u128::from_le_bytes).ok();
    number(&stamp[..16]) == number(&before[..16]) && stamp[16] == before[16]
}

/// The seconds of a stamp, 0 to 59.
#[inline]
fn seconds(stamp: &[u8]) -> Option<f64> {
    let tens = stamp[BEFORE].wrapping_sub(b'0');
    let ones = stamp[BEFORE + 1].wrapping_sub(b'0');
    (tens < 6 && ones < 10).then(|| f64::from(tens * 10 + ones))
}
