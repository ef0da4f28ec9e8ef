//! Two figures of one amount, day by day.

use super::{Comparison, LEAST_DAYS};
use crate::design::Design;
use crate::expect::{Expectation, Regime};
use crate::mapping::Role;
use crate::quantity::{How, Interval};
use crate::stats::student::t95;
use crate::timeline::{Series, Timeline};

/// Steps of a counter that an amount must have, so that its resolution does not matter.
const LEAST_STEPS: f64 = 30.0;
/// What a controller may take between its input and its output, share: where a counter counts is not said.
const CONVERSION: f64 = 0.10;

/// Ratio of sums with its range from the days' own ratios.
fn ratio(days: &[(usize, f64, f64)]) -> Option<Interval> {
    if days.len() < LEAST_DAYS {
        return None;
    }
    let n = days.len() as f64;
    let (first, second): (f64, f64) = (
        days.iter().map(|d| d.1).sum(),
        days.iter().map(|d| d.2).sum(),
    );
    if second <= 0.0 {
        return None;
    }
    let value = first / second;
    // Error of a ratio of sums: rests of the days about it, over the mean of the second.
    let rest: f64 = days.iter().map(|d| (d.1 - value * d.2).powi(2)).sum();
    let half = t95(n - 1.0) * (rest / (n * (n - 1.0))).sqrt() / (second / n);
    Some(Interval::new(value, value - half, value + half))
}

/// What left the bank at night over what the loads' meter shows: loads that the meter does not show
/// make it more, nothing right makes it less.
pub(super) fn bank_over_loads(
    design: &Design,
    timeline: &Timeline,
    expected: &Expectation,
) -> Option<Comparison> {
    let (load, bank) = (
        timeline.channel(Role::LoadCurrent)?,
        timeline.channel(Role::BatteryCurrent)?,
    );
    // Other charging at night would carry loads that the bank does not feel.
    if load.source == bank.source || !design.chargers.is_empty() {
        return None;
    }
    let grid = &expected.grid;
    let (loads, flow) = (
        grid.fold(timeline, &load.series),
        grid.fold(timeline, &bank.series),
    );
    let charging = expected.signals.charge_a.as_ref();
    let days: Vec<(usize, f64, f64)> = (0..grid.dates.len())
        .filter_map(|day| {
            let night = grid
                .day(day)
                .filter(|m| expected.regimes[*m] == Regime::Dark)
                .filter(|m| loads.coverage(*m) > 0.8 && flow.coverage(*m) > 0.8);
            let (mut out, mut taken, mut hours) = (0.0, 0.0, 0.0);
            for m in night {
                // The last of the daylight still feeds the loads.
                let charged = charging.map_or(0.0, |c| c.net(m));
                out += charged - flow.net(m);
                taken += loads.net(m);
                hours += grid.step_h();
            }
            // Less than half an ampere is within what two meters' zeros may differ.
            (hours >= 2.0 && taken > 0.5 * hours).then_some((day, out, taken))
        })
        .collect();
    Some(Comparison {
        what: format!(
            "charge out of the bank by night (\"{}\") over charge into the loads (\"{}\")",
            bank.source, load.source
        ),
        ratio: ratio(&days)?,
        expected: (1.0, f64::INFINITY),
        also_possible: vec![
            "loads wired past the shunt: the bank feeds them and its meter does not see it"
                .to_owned(),
            "another charger at night that the design does not name".to_owned(),
            "a zero error of one of the two meters".to_owned(),
        ],
        days: days.iter().map(|d| d.0).collect(),
        how: format!("Sums of the dark hours of {} days.", days.len()),
    })
}

/// A running energy counter over the power's own integral.
pub(super) fn counter_over_power(
    timeline: &Timeline,
    expected: &Expectation,
) -> Option<Comparison> {
    let counter = timeline.channel(Role::HarvestTotal)?;
    // A harvest read off the counter says nothing about the counter.
    if timeline.channels.iter().any(|channel| channel.counted) {
        return None;
    }
    let signals = &expected.signals;
    let (harvest, where_measured) = match (&signals.harvest, signals.harvest_how, &signals.array) {
        (Some(harvest), How::Measured, _) => (harvest, "the controller's output"),
        (_, _, Some(array)) => (array, "the array"),
        _ => return None,
    };
    let grid = &expected.grid;
    let mut step = f64::INFINITY;
    let mut days = Vec::new();
    for day in 0..grid.dates.len() {
        let moments = grid.day(day);
        let covered = moments
            .clone()
            .filter(|m| harvest.coverage(*m) > 0.8)
            .count();
        let counted = counted(
            timeline,
            &counter.series,
            grid.time_of(moments.start),
            grid.time_of(moments.end),
        );
        let Some((wh, finest)) = counted else {
            continue;
        };
        step = step.min(finest);
        let integral: f64 = moments.clone().map(|m| harvest.net(m)).sum();
        if covered as f64 > 0.95 * moments.len() as f64 && integral > 0.0 {
            days.push((day, wh, integral));
        }
    }
    let total: f64 = days.iter().map(|d| d.1).sum();
    if !step.is_finite() || total < LEAST_STEPS * step {
        return None;
    }
    Some(Comparison {
        what: format!(
            "the energy counter of \"{}\" over power added up at {where_measured}",
            counter.source
        ),
        ratio: ratio(&days)?,
        expected: (1.0 - CONVERSION, 1.0 / (1.0 - CONVERSION)),
        also_possible: vec![
            "a counter that counts several arrays, or an array that the log does not show".to_owned(),
            "a log too coarse for a broken sky: its power is a moment's, the counter adds up every moment".to_owned(),
        ],
        days: days.iter().map(|d| d.0).collect(),
        how: format!("Sums over {} days whose every hour was logged.", days.len()),
    })
}

/// What a counter gained between two instants, and its finest step, Wh; falls (resets) are passed over.
fn counted(timeline: &Timeline, series: &Series, from: i64, to: i64) -> Option<(f64, f64)> {
    let bin = |at: i64| {
        usize::try_from((at - timeline.start).max(0) / timeline.bin_s.max(1))
            .unwrap_or(0)
            .min(timeline.bins)
    };
    let mut last: Option<f64> = None;
    let (mut gained, mut finest) = (0.0, f64::INFINITY);
    for b in bin(from)..bin(to) {
        let (low, high) = (f64::from(series.min[b]), f64::from(series.max[b]));
        if low > high {
            continue;
        }
        let gain = high - last.unwrap_or(low);
        if gain > 0.0 {
            gained += gain;
            finest = finest.min(gain);
        }
        last = Some(high);
    }
    last.map(|_| (gained, finest))
}
