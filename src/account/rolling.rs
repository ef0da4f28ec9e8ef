//! Means over a stretch of time, bin by bin: what was held rather than met for an instant.

use crate::timeline::{Channel, Timeline};

/// Share of the stretch that must be read.
const COVERED: f64 = 0.9;
/// A stretch holds at least this many rows of the log, so that one reading never makes it.
pub const LEAST_ROWS: f64 = 3.0;

/// Time-weighted means of a channel over a stretch of at least `width_s` seconds that ends with each
/// bin; `None` where less than nine tenths of it were read. Logs with rows further apart get a longer
/// stretch: three rows.
pub fn means(timeline: &Timeline, channel: &Channel, width_s: f64) -> Vec<Option<f64>> {
    let series = &channel.series;
    let width = width_bins(timeline, channel, width_s);
    let least_s = COVERED * width as f64 * timeline.bin_s as f64;
    let (mut sum, mut covered) = (0.0, 0.0);
    (0..timeline.bins)
        .map(|bin| {
            sum += series.in_h[bin] - series.out_h[bin];
            covered += f64::from(series.covered_s[bin]);
            if let Some(gone) = bin.checked_sub(width) {
                sum -= series.in_h[gone] - series.out_h[gone];
                covered -= f64::from(series.covered_s[gone]);
            }
            let whole = bin + 1 >= width && covered >= least_s;
            whole.then(|| sum * 3600.0 / covered)
        })
        .collect()
}

/// The channel without the bins whose mean is not believed: they count as not read.
pub fn only(channel: &Channel, believed: impl Fn(f64) -> bool) -> Channel {
    let mut kept = channel.clone();
    for bin in 0..kept.series.covered_s.len() {
        if kept.series.mean(bin).is_some_and(|v| !believed(v)) {
            kept.series.in_h[bin] = 0.0;
            kept.series.out_h[bin] = 0.0;
            kept.series.covered_s[bin] = 0.0;
        }
    }
    kept
}

/// The bins that belong to a stretch whose mean, as [`means`] gives it for the same channel and width,
/// passes a test.
pub fn bins_where(
    timeline: &Timeline,
    channel: &Channel,
    width_s: f64,
    passes: impl Fn(usize, f64) -> bool,
) -> Vec<bool> {
    let width = width_bins(timeline, channel, width_s);
    let mut marked = vec![false; timeline.bins];
    for (bin, mean) in means(timeline, channel, width_s).into_iter().enumerate() {
        if mean.is_some_and(|v| passes(bin, v)) {
            marked[(bin + 1).saturating_sub(width)..=bin].fill(true);
        }
    }
    marked
}

fn width_bins(timeline: &Timeline, channel: &Channel, width_s: f64) -> usize {
    let width_s = width_s.max(LEAST_ROWS * channel.step_s);
    ((width_s / timeline.bin_s.max(1) as f64).ceil() as usize).max(1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mapping::Role;
    use crate::timeline::Series;

    fn of(values: &[f64], step_s: f64) -> Vec<Option<f64>> {
        let mut series = Series::empty(values.len());
        for (bin, value) in values.iter().enumerate() {
            series.in_h[bin] = value / 60.0;
            series.covered_s[bin] = 60.0;
        }
        let channel = Channel {
            role: Role::BatteryCurrent,
            controller: None,
            source: "log".to_owned(),
            step_s,
            counted: false,
            sign: crate::timeline::Sign::AsWritten,
            series,
        };
        let timeline = Timeline {
            start: 0,
            bin_s: 60,
            bins: values.len(),
            ..Timeline::default()
        };
        means(&timeline, &channel, 120.0)
    }

    #[test]
    fn a_mean_needs_its_whole_stretch() {
        let means = of(&[2.0, 4.0, 6.0], 10.0);
        assert_eq!(means[0], None);
        assert!((means[1].unwrap_or(0.0) - 3.0).abs() < 1e-9);
        assert!((means[2].unwrap_or(0.0) - 5.0).abs() < 1e-9);
    }

    #[test]
    fn rows_far_apart_make_the_stretch_longer() {
        let means = of(&[3.0, 3.0, 9.0], 60.0);
        assert_eq!(means[1], None);
        assert!((means[2].unwrap_or(0.0) - 5.0).abs() < 1e-9);
    }
}
