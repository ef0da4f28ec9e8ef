//! Running energy counters: readings out of their course, and whether their steps are fine enough to follow
//! the sun by.

use crate::stats::quantile::median;
use crate::timeline::Series;

/// Rows that readings out of a counter's course last at most.
const LONGEST_DIP: usize = 60;

/// Makes readings unknown to which a counter falls and from which it leaps back to where it was: its logger
/// had none to write. A counter that begins anew climbs back step by step.
pub(super) fn forget_dips(counter: &mut [f64]) {
    let mut at = 0;
    let mut before = f64::NAN;
    while at < counter.len() {
        if counter[at] < before {
            let ahead = &counter[at..counter.len().min(at + LONGEST_DIP)];
            let back = ahead.iter().position(|value| *value >= before);
            let lasted = ahead[..back.unwrap_or(0)]
                .iter()
                .copied()
                .filter(|value| value.is_finite());
            let (least, most) = lasted.fold((before, f64::NEG_INFINITY), |(least, most), value| {
                (least.min(value), most.max(value))
            });
            if let Some(back) = back.filter(|_| most < f64::midpoint(least, before)) {
                counter[at..at + back].fill(f64::NAN);
                at += back;
                continue;
            }
        }
        if counter[at].is_finite() {
            before = counter[at];
        }
        at += 1;
    }
}

/// Moments the harvest is judged by, s.
const MOMENT_S: i64 = 300;
/// A power read off a counter is good to a step of it: fewer steps a moment than these, and what the counter
/// leaves out and makes up for looks like clouds, shade or a dark array.
const FEWEST_STEPS: f64 = 4.0;

/// Whether a counter, as read into bins of `bin_s`, rises by so few steps at a time that it tells days alone.
pub(super) fn is_coarse(counter: &Series, bin_s: i64) -> bool {
    let read = |bin: &usize| counter.min[*bin] <= counter.max[*bin];
    let readings: Vec<(i64, f64)> = (0..counter.max.len())
        .filter(read)
        .map(|bin| (bin as i64 * bin_s, f64::from(counter.max[bin])))
        .collect();
    let gains: Vec<f64> = readings
        .windows(2)
        .map(|pair| pair[1].1 - pair[0].1)
        .filter(|gain| *gain > 0.0)
        .collect();
    // Rises are multiples of a step, and so is what they differ by; bins hold seven digits.
    let digits = readings.last().map_or(0.0, |last| last.1 * 1e-6);
    let step = gains
        .windows(2)
        .map(|pair| (pair[1] - pair[0]).abs())
        .chain(gains.iter().copied())
        .filter(|step| *step > digits)
        .fold(f64::INFINITY, f64::min);
    let mut rises = Vec::new();
    let mut last: Option<(i64, f64)> = None;
    for (at, value) in readings {
        match last {
            Some((before, _)) if at - before < MOMENT_S => continue,
            Some((_, old)) if value > old => rises.push(value - old),
            _ => {}
        }
        last = Some((at, value));
    }
    median(&rises).is_some_and(|rise| rise < FEWEST_STEPS * step)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_out_of_course_are_forgotten_and_a_new_beginning_is_kept() {
        let mut dip = [50.0, 51.0, 0.0, f64::NAN, 0.0, 52.0, 53.0];
        forget_dips(&mut dip);
        assert!(dip[2..5].iter().all(|value| value.is_nan()));
        assert_eq!((dip[1], dip[5]), (51.0, 52.0));
        let anew = [4.0, 5.0, 0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0];
        let mut kept = anew;
        forget_dips(&mut kept);
        assert_eq!(kept, anew);
    }

    #[test]
    fn a_counter_is_coarse_where_a_moment_has_few_of_its_steps() {
        // Some 30 Wh in five minutes, read every five minutes.
        let read = |step: f64| {
            let mut series = Series::empty(100);
            for bin in 0..100 {
                let shown = (bin as f64 * 31.3 / step).floor() * step;
                series.min[bin] = shown as f32;
                series.max[bin] = shown as f32;
            }
            is_coarse(&series, 300)
        };
        assert!(!read(1.0));
        assert!(read(10.0) && read(100.0) && read(1000.0));
        assert!(!is_coarse(&Series::empty(10), 300));
    }
}
