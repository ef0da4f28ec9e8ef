//! Steps, jumps and order of the stamps of a file, in bounded memory.

use std::collections::HashMap;

use super::batch::Pace;

/// A jump that parts two stretches of a log, seconds (30 days).
pub(crate) const JUMP: f64 = 30.0 * 86_400.0;
/// 2000-01-01: clocks that were never set show years before.
const UNSET: f64 = 946_684_800.0;
/// How long a system lasts, seconds (25 years): no log of one is longer.
pub(crate) const LIFETIME: f64 = 25.0 * 365.25 * 86_400.0;
/// Rows are in no order where more than one step in this many goes against the others.
const MIXED: u64 = 5;
/// Most lengths of steps kept apart: rows in no order have as many as there are rows, and say nothing.
const LENGTHS: usize = 1 << 14;
/// Most stretches kept apart.
const STRETCHES: usize = 10_000;

/// A stretch of rows without a jump.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stretch {
    pub(crate) from: u64,
    pub(crate) count: u64,
    pub(crate) first: f64,
    pub(crate) last: f64,
    pub(crate) low: f64,
    pub(crate) high: f64,
    pub(crate) sorted: bool,
}

/// What all stamps together come to.
#[derive(Debug)]
pub(crate) struct Course {
    /// Median step, seconds.
    pub(crate) step: Option<f64>,
    pub(crate) first: f64,
    pub(crate) last: f64,
    pub(crate) sorted: bool,
    /// Rows earlier than one before them.
    pub(crate) backward: u64,
    /// How far any row is behind one before it, seconds.
    pub(crate) late: f64,
    /// Ordinals of rows whose clock was far off.
    pub(crate) clock_off: Vec<(u64, u64)>,
    /// Whether many rows share their stamps.
    pub(crate) shared: bool,
    /// Seconds over which rows with one stamp are spread.
    pub(crate) spread: Option<f64>,
}

/// What the first pass learns of time.
#[derive(Debug, Default)]
pub(crate) struct TimeStats {
    /// Steps forward and back by length, milliseconds; those of the first rows alone, where there are
    /// too many lengths.
    steps: HashMap<u64, u64>,
    back: HashMap<u64, u64>,
    /// How many there were of either.
    ways: (u64, u64),
    pub(crate) same: u64,
    pub(crate) backward: u64,
    late: f64,
    pub(crate) whole_minutes: bool,
    pub(crate) whole_seconds: bool,
    pub(crate) stretches: Vec<Stretch>,
    recent: (u64, u64),
    pub(crate) count: u64,
    /// Rows with the last stamp, in a row.
    pub(crate) run: u64,
}

impl TimeStats {
    pub(crate) fn new() -> Self {
        Self {
            whole_minutes: true,
            whole_seconds: true,
            ..Self::default()
        }
    }

    pub(crate) fn take(&mut self, at: f64) {
        let ordinal = self.count;
        self.count += 1;
        if self.whole_seconds {
            let whole = at as i64;
            self.whole_seconds = whole as f64 == at;
            self.whole_minutes &= self.whole_seconds && whole % 60 == 0;
        }
        let room = self.stretches.len() < STRETCHES;
        match self.stretches.last_mut() {
            Some(now) if (at - now.last).abs() <= JUMP || !room => {
                let delta = at - now.last;
                now.sorted &= delta >= 0.0;
                now.count += 1;
                now.last = at;
                self.backward += u64::from(at < now.high);
                self.late = self.late.max(now.high - at);
                now.low = now.low.min(at);
                now.high = now.high.max(at);
                self.step(delta);
            }
            _ => self.stretches.push(Stretch {
                from: ordinal,
                count: 1,
                first: at,
                last: at,
                low: at,
                high: at,
                sorted: true,
            }),
        }
    }

    /// Takes in the stamps of a batch of rows.
    pub(crate) fn take_all(&mut self, at: &[f64], pace: &Pace) {
        let Some((first, rest)) = at.split_first() else {
            return;
        };
        self.take(*first);
        match pace.steady.filter(|step| *step > 0.0 && *step <= JUMP) {
            Some(step) if self.can_run(step) => self.run(step, rest),
            _ => self.take_each(rest),
        }
    }

    fn take_each(&mut self, mut at: &[f64]) {
        while let Some((next, rest)) = at.split_first() {
            self.take(*next);
            at = &rest[self.go_on(rest)..];
        }
    }

    /// Takes in stamps that change nothing but counts and ends, as far as there are such; how many.
    /// Rows in no order are almost all of this kind, once their steps are too many to be kept.
    fn go_on(&mut self, at: &[f64]) -> usize {
        let full = !self.whole_minutes && !self.has_room();
        let Some(stretch) = self.stretches.last_mut().filter(|_| full) else {
            return 0;
        };
        let (mut now, mut late) = (*stretch, self.late);
        let (mut taken, mut forward, mut backward) = (0, 0, 0);
        for at in at {
            let delta = at - now.last;
            let whole = !self.whole_seconds || *at as i64 as f64 == *at;
            if !whole || delta == 0.0 || delta.is_nan() || delta.abs() > JUMP {
                break;
            }
            taken += 1;
            forward += u64::from(delta > 0.0);
            backward += u64::from(*at < now.high);
            late = late.max(now.high - at);
            now.low = now.low.min(*at);
            now.high = now.high.max(*at);
            now.last = *at;
        }
        if taken > 0 {
            now.sorted &= forward == taken;
            now.count += taken;
            (*stretch, self.late, self.run) = (now, late, 1);
            self.count += taken;
            self.backward += backward;
            self.ways.0 += forward;
            self.ways.1 += taken - forward;
        }
        taken as usize
    }

    /// Whether rows in even steps can be counted together: nothing but counts changes.
    fn can_run(&self, step: f64) -> bool {
        let even = !self.whole_seconds || step.fract() == 0.0;
        let newest = |s: &Stretch| s.last >= s.high;
        even && self.stretches.last().is_some_and(newest)
    }

    /// Takes in rows in even steps, the first of which was taken before.
    fn run(&mut self, step: f64, rest: &[f64]) {
        let (Some(last), Some(now)) = (rest.last(), self.stretches.last_mut()) else {
            return;
        };
        now.count += rest.len() as u64;
        now.last = *last;
        now.high = *last;
        self.count += rest.len() as u64;
        self.whole_minutes &= self.whole_seconds && step % 60.0 == 0.0;
        self.step(step);
        if self.recent.0 == rounded(step) {
            self.recent.1 += rest.len() as u64 - 1;
        }
        self.ways.0 += rest.len() as u64 - 1;
    }

    fn step(&mut self, delta: f64) {
        self.run = if delta == 0.0 { self.run + 1 } else { 1 };
        // Rows in no order are as many forward as back: counted without a branch.
        self.same += u64::from(delta == 0.0);
        self.ways.0 += u64::from(delta > 0.0);
        self.ways.1 += u64::from(delta < 0.0);
        if delta == 0.0 || !self.has_room() {
            return;
        }
        if delta < 0.0 {
            *self.back.entry(rounded(-delta)).or_insert(0) += 1;
            return;
        }
        let key = rounded(delta);
        if self.recent.0 == key {
            self.recent.1 += 1;
        } else {
            self.flush();
            self.recent = (key, 1);
        }
    }

    fn has_room(&self) -> bool {
        self.steps.len().max(self.back.len()) < LENGTHS
    }

    fn flush(&mut self) {
        if self.recent.1 > 0 {
            *self.steps.entry(self.recent.0).or_insert(0) += self.recent.1;
            self.recent.1 = 0;
        }
    }

    /// What all stamps together come to.
    pub(crate) fn course(&mut self) -> Course {
        let step = self.median();
        let clock_off = self.clock_off();
        let is_off = |s: &&Stretch| clock_off.binary_search_by_key(&s.from, |o| o.0).is_ok();
        let kept: Vec<&Stretch> = self.stretches.iter().filter(|s| !is_off(s)).collect();
        let first = kept.iter().map(|s| s.low).fold(f64::INFINITY, f64::min);
        let high = kept
            .iter()
            .map(|s| s.high)
            .fold(f64::NEG_INFINITY, f64::max);
        let back = kept.windows(2).filter(|w| w[1].first < w[0].high).count() as u64;
        let on = kept.windows(2).all(|w| w[1].first >= w[0].last);
        let apart = kept.windows(2).all(|w| w[1].low >= w[0].high);
        let resolution = if self.whole_minutes { 60.0 } else { 1.0 };
        let shared = self.same * 5 > self.count && self.whole_seconds;
        let spread = (shared && step.is_some_and(|s| s <= 2.0 * resolution)).then_some(resolution);
        // The last rows are spread over the time after their stamp.
        let after = spread.map_or(0.0, |s| s * (1.0 - 1.0 / self.run.max(1) as f64));
        Course {
            step,
            first,
            last: high + after,
            sorted: on && kept.iter().all(|s| s.sorted),
            backward: self.backward + back,
            late: if apart { self.late } else { f64::INFINITY },
            clock_off,
            shared,
            spread,
        }
    }

    /// Median step, seconds, in the direction most rows go: some logs are written newest first. Where
    /// rows go both ways, or fill more time than there is, as of parts laid between each other, the steps are
    /// not those of the log; the mean distance of its stamps stands in.
    pub(crate) fn median(&mut self) -> Option<f64> {
        self.flush();
        let (forward, back) = self.ways;
        let mean = self.mean();
        if self.is_mixed() {
            return mean;
        }
        let median = median_of(if back > forward {
            &self.back
        } else {
            &self.steps
        })?;
        // Half of the steps are as long as the median, or longer.
        match mean {
            Some(mean) if median > 2.0 * mean => Some(mean),
            _ => Some(median),
        }
    }

    /// Whether rows are in no order: then jumps between them say nothing.
    fn is_mixed(&self) -> bool {
        let (forward, back) = self.ways;
        forward.min(back) * MIXED > forward + back
    }

    /// Mean distance of different stamps, seconds.
    fn mean(&self) -> Option<f64> {
        let set = self.stretches.iter().filter(|s| s.high >= UNSET);
        let low = set.clone().map(|s| s.low).fold(f64::INFINITY, f64::min);
        let high = set.map(|s| s.high).fold(low, f64::max);
        let steps = self.count.checked_sub(self.same + 1)?;
        (steps > 0 && high > low).then(|| (high - low) / steps as f64)
    }

    /// Ordinals of rows whose clock was far off: stretches before 2000 in a log that goes on after,
    /// stretches over 30 days beyond what stands before and after them, and short ends years away.
    pub(crate) fn clock_off(&self) -> Vec<(u64, u64)> {
        let all = &self.stretches;
        let set = all.iter().any(|s| s.low >= UNSET);
        let mut good: Vec<Stretch> = all
            .iter()
            .copied()
            .filter(|s| !(set && s.high < UNSET))
            .collect();
        let total: u64 = good.iter().map(|s| s.count).sum();
        let mut k = if self.is_mixed() { good.len() } else { 0 };
        while good.len() > 1 && k < good.len() {
            let this = good[k];
            let before = k.checked_sub(1).map(|p| this.first - good[p].last);
            let after = good.get(k + 1).map(|n| this.last - n.first);
            let year = 365.0 * 86_400.0;
            let off = match (before, after) {
                (Some(a), Some(b)) => {
                    this.count * 2 < total && ((a > JUMP && b > JUMP) || (a < -JUMP && b < -JUMP))
                }
                (Some(a), None) | (None, Some(a)) => {
                    // Rows follow each other in time: an end that lies years back is a clock's fault.
                    let back = before.is_some() && a < 0.0;
                    let few = this.count * 20 < total
                        || (this.count * 4 < total && back)
                        || (this.count * 2 < total && begins_a_year(this.first));
                    // No log rests for longer than such a system lasts and then goes on.
                    (few && a.abs() > year) || (this.count * 2 < total && a.abs() > LIFETIME)
                }
                (None, None) => false,
            };
            if off {
                good.remove(k);
                k = k.saturating_sub(1);
            } else {
                k += 1;
            }
        }
        all.iter()
            .filter(|s| good.binary_search_by_key(&s.from, |g| g.from).is_err())
            .map(|s| (s.from, s.from + s.count))
            .collect()
    }
}

/// Whether an instant is 1 January, 0:00 to 1:00, somewhere on earth: the date of a clock whose
/// battery was flat.
fn begins_a_year(at: f64) -> bool {
    use chrono::Datelike as _;
    let day = |shift_h: f64| chrono::DateTime::from_timestamp((at + shift_h * 3_600.0) as i64, 0);
    let starts = |shift_h: f64| {
        let (now, before) = (day(shift_h), day(shift_h - 1.0));
        now.zip(before).is_some_and(|(a, b)| a.year() != b.year())
    };
    (-12..=14).any(|h| starts(f64::from(h)))
}

fn median_of(steps: &HashMap<u64, u64>) -> Option<f64> {
    let total: u64 = steps.values().sum();
    let mut seen = 0;
    let mut by_length: Vec<(&u64, &u64)> = steps.iter().collect();
    by_length.sort_unstable();
    for (key, count) in by_length {
        seen += count;
        if seen * 2 >= total {
            return Some(*key as f64 / 1e3);
        }
    }
    None
}

/// Milliseconds to four figures: keeps the number of different steps small.
fn rounded(delta: f64) -> u64 {
    let ms = (delta * 1e3).round().max(1.0) as u64;
    let mut scale = 1;
    while ms / scale >= 10_000 && scale < 1_000_000 {
        scale *= 10;
    }
    if ms.is_multiple_of(1000) && ms < 100_000_000 {
        ms
    } else {
        (ms + scale / 2) / scale * scale
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn step(stamps: impl IntoIterator<Item = u64>) -> Option<f64> {
        let mut stats = TimeStats::new();
        for at in stamps {
            stats.take(1e9 + at as f64);
        }
        stats.course().step
    }

    #[test]
    fn the_step_is_that_of_the_log_in_whatever_order_it_is_written() {
        let forward = || (0..480).map(|k| k * 900);
        assert_eq!(step(forward()), Some(900.0));
        assert_eq!(step(forward().rev()), Some(900.0));
        // 239 and 480 share no divisor: every row once, to and fro.
        let mixed = step((0..480).map(|k| k * 239 % 480 * 900)).unwrap();
        assert_eq!(mixed, 900.0);
        let pairs = step((0..480).map(|k| (k ^ 1) * 900)).unwrap();
        assert_eq!(pairs, 900.0);
        let every_seventh = (0..7).flat_map(|from| (from..480).step_by(7));
        assert_eq!(step(every_seventh.map(|k| k * 900)), Some(900.0));
    }

    #[test]
    fn a_few_late_rows_leave_the_step_alone() {
        let late = (0..100).map(|k| if k % 20 == 19 { k * 60 - 90 } else { k * 60 });
        assert_eq!(step(late), Some(60.0));
    }

    #[test]
    fn stamps_taken_in_together_count_like_stamps_one_by_one() {
        // Within 32 days in no order; some stamps come twice, and one is no whole second.
        let at = |k: u64| (k * k % 399_989 * 7) as f64 + if k == 390_000 { 0.5 } else { 0.0 };
        let twice = |k: u64| if k % 97 == 1 { k - 1 } else { k };
        let stamps: Vec<f64> = (0..400_000).map(|k| 1e9 + at(twice(k))).collect();
        let (mut together, mut single) = (TimeStats::new(), TimeStats::new());
        for batch in stamps.chunks(1000) {
            together.take_all(batch, &Pace::of(batch));
        }
        stamps.iter().for_each(|at| single.take(*at));
        assert!(!together.has_room(), "too few lengths of steps to tell");
        assert_eq!(
            format!("{:?}", together.course()),
            format!("{:?}", single.course())
        );
        assert_eq!(together.ways, single.ways);
        assert_eq!((together.same, together.count), (single.same, single.count));
    }
}
