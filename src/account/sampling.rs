//! What rows that stand far apart leave open of a charge counted from them.

use crate::stats::student::Z90;
use crate::timeline::{Channel, Timeline};

/// Half the 90 % range of the steady current, A, that would undo the error of counting from single
/// readings: a load that runs for six minutes every morning is in one row of five minutes or in two, and
/// always in the same number. Between two readings the change may have come at any time (uniformly, so
/// with a standard deviation of the change times the step over root twelve); errors of one day are taken
/// as independent, those of different days as alike, since habits keep their hour. None where rows are
/// no further apart than a bin of the timeline.
pub fn half_a(timeline: &Timeline, channel: &Channel) -> f64 {
    let bin_s = timeline.bin_s as f64;
    let stride = (channel.step_s / bin_s).round() as usize;
    if stride < 2 {
        return 0.0;
    }
    let step_h = channel.step_s / 3600.0;
    let series = &channel.series;
    let readings: Vec<Option<f64>> = (0..series.in_h.len())
        .step_by(stride)
        .map(|bin| series.mean(bin))
        .collect();
    let squares: f64 = readings
        .windows(2)
        .filter_map(|pair| Some(pair[1]? - pair[0]?))
        .map(|change| change * change * step_h * step_h / 12.0)
        .sum();
    let days = series.covered_h() / 24.0;
    if days <= 0.0 {
        return 0.0;
    }
    Z90 * (squares / days).sqrt() / 24.0
}
