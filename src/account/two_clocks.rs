//! Whether two logs of one system keep the same time: the shift at which their steps fall together.

use crate::expect::Expectation;
use crate::mapping::Role;
use crate::quantity::Interval;
use crate::stats::quantile::{median, quantile};
use crate::timeline::{Channel, Series, Timeline};

/// Widest shift looked for, s.
const REACH_S: i64 = 7200;
/// Least likeness of the steps at the best shift.
const ALIKE: f64 = 0.3;
/// The best shift must beat every other by this factor.
const CLEARER: f64 = 1.3;
/// Fewest days that show a shift.
const LEAST_DAYS: usize = 3;

/// Two logs whose steps fall together at a shift.
#[derive(Debug, Clone, PartialEq)]
pub struct TwoClocks {
    /// The log taken as reference (the controller's).
    pub reference: String,
    /// The other log.
    pub other: String,
    /// To be added to the other log's stamps, minutes: middle of the days' shifts and the range of 90 % of them.
    pub shift_min: Interval,
    /// Width of a bin, minutes: finer than that nothing shows.
    pub bin_min: f64,
    /// Days that show it (index into the grid's dates).
    pub days: Vec<usize>,
}

/// Compares the controller's log with the bank's; `None` where there are not two logs, or too few days
/// show steps in both.
pub fn compare(timeline: &Timeline, expected: &Expectation) -> Option<TwoClocks> {
    let (reference, other) = pair(timeline)?;
    let bins = usize::try_from(timeline.bin_s).ok()?;
    let reach = usize::try_from(REACH_S).ok()? / bins.max(1);
    let mut days = Vec::new();
    let mut shifts = Vec::new();
    for day in 0..expected.grid.dates.len() {
        let range = bins_of(timeline, expected, day);
        if let Some(lag) = lag(&reference.series, &other.series, range, reach) {
            days.push(day);
            shifts.push(-lag * timeline.bin_s as f64 / 60.0);
        }
    }
    if days.len() < LEAST_DAYS {
        return None;
    }
    Some(TwoClocks {
        reference: reference.source.clone(),
        other: other.source.clone(),
        shift_min: Interval::new(
            median(&shifts)?,
            quantile(&shifts, 0.05)?,
            quantile(&shifts, 0.95)?,
        ),
        bin_min: timeline.bin_s as f64 / 60.0,
        days,
    })
}

/// One signal that two logs share: the voltage about the bank, else the current, else the power.
fn pair(timeline: &Timeline) -> Option<(&Channel, &Channel)> {
    [
        (Role::ChargeVoltage, Role::BatteryVoltage),
        (Role::ChargeCurrent, Role::BatteryCurrent),
        (Role::ChargePower, Role::BatteryPower),
    ]
    .into_iter()
    .find_map(|(one, two)| {
        let one = timeline.channel(one)?;
        let two = timeline.channel(two)?;
        (one.source != two.source).then_some((one, two))
    })
}

fn bins_of(timeline: &Timeline, expected: &Expectation, day: usize) -> std::ops::Range<usize> {
    let grid = &expected.grid;
    let bin = |moment: usize| {
        let offset = (grid.time_of(moment) - timeline.start).max(0) / timeline.bin_s.max(1);
        usize::try_from(offset).unwrap_or(0).min(timeline.bins)
    };
    bin(grid.day_starts[day])..bin(grid.day_starts[day + 1])
}

/// Bins by which the second log's steps come later than the first's; `None` where no shift stands out.
fn lag(one: &Series, two: &Series, range: std::ops::Range<usize>, reach: usize) -> Option<f64> {
    let steps = |series: &Series, bin: usize| -> f64 {
        match (
            bin.checked_sub(1).and_then(|b| series.mean(b)),
            series.mean(bin),
        ) {
            (Some(before), Some(now)) => now - before,
            _ => 0.0,
        }
    };
    let first: Vec<f64> = range.clone().map(|b| steps(one, b)).collect();
    let start = range.start.checked_sub(reach)?;
    let second: Vec<f64> = (start..range.end + reach).map(|b| steps(two, b)).collect();
    let square = |v: &[f64]| v.iter().map(|x| x * x).sum::<f64>();
    let own = square(&first);
    if first.len() < 2 * reach / 3 || own <= 0.0 {
        return None;
    }
    let likeness: Vec<f64> = (0..=2 * reach)
        .map(|k| {
            let part = &second[k..k + first.len()];
            let scale = (own * square(part)).sqrt();
            let product: f64 = first.iter().zip(part).map(|(a, b)| a * b).sum();
            if scale > 0.0 { product / scale } else { 0.0 }
        })
        .collect();
    let best = (0..likeness.len()).max_by(|a, b| likeness[*a].total_cmp(&likeness[*b]))?;
    let beside = (0..likeness.len())
        .filter(|k| k.abs_diff(best) > 3)
        .map(|k| likeness[k])
        .fold(0.0, f64::max);
    let clear = likeness[best] >= ALIKE && likeness[best] > CLEARER * beside;
    clear.then(|| best as f64 - reach as f64 + peak(&likeness, best))
}

/// Where between bins the peak lies, by a parabola through its neighbours.
fn peak(likeness: &[f64], best: usize) -> f64 {
    let (Some(before), Some(after)) = (
        best.checked_sub(1).and_then(|k| likeness.get(k)),
        likeness.get(best + 1),
    ) else {
        return 0.0;
    };
    let bend = before - 2.0 * likeness[best] + after;
    if bend < 0.0 {
        (0.5 * (before - after) / bend).clamp(-0.5, 0.5)
    } else {
        0.0
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn series(values: &[f64]) -> Series {
        let mut made = Series::empty(values.len());
        for (bin, value) in values.iter().enumerate() {
            made.in_h[bin] = value / 60.0;
            made.covered_s[bin] = 60.0;
        }
        made
    }

    #[test]
    fn steps_that_come_seven_bins_later_are_seven_bins_late() {
        let level = |k: usize| 5.0 + ((k / 9 * 37 + k / 13 * 11) % 17) as f64;
        let one: Vec<f64> = (0..600).map(level).collect();
        let two: Vec<f64> = (0..600)
            .map(|k: usize| 2.0 + level(k.saturating_sub(7)))
            .collect();
        let found = lag(&series(&one), &series(&two), 60..540, 30).unwrap();
        assert!((found - 7.0).abs() < 0.3, "{found}");
    }

    #[test]
    fn a_flat_line_has_no_steps() {
        let flat = series(&[3.0; 400]);
        assert_eq!(lag(&flat, &flat, 60..340, 30), None);
    }
}
