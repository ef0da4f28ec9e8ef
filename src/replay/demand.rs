//! What the loads ask for, moment by moment, also where nothing was read or they were cut off.

use crate::account::Loads;
use crate::design::Design;
use crate::expect::{Expectation, Regime};
use crate::quantity::How;

/// Loads are cut off where they fall to this share of the usual use of that hour.
const CUT_SHARE: f64 = 0.15;
/// Half an hour on either side counts as the like hour.
const LIKE_MOMENTS: usize = 6;

/// The use of the trip.
#[derive(Debug, Clone, PartialEq)]
pub struct Demand {
    /// By moment, W.
    pub watts: Vec<f64>,
    /// Hours in which the loads were cut off, so that their use is an estimate.
    pub cut_off_h: f64,
    /// Hours without readings, likewise.
    pub unread_h: f64,
}

/// The use by moment; `None` where no load can be told at all. Where nothing was read, and while the
/// loads were cut off, it is the mean of the like hours of the other days and never 0.
pub fn demand(design: &Design, expected: &Expectation, loads: &Loads) -> Option<Demand> {
    let load = loads.load.as_ref()?;
    let grid = &expected.grid;
    let step_h = grid.step_h();
    let read: Vec<Option<f64>> = (0..grid.moments)
        .map(|m| {
            let share = read_share(expected, loads, m);
            (share > 0.2).then(|| load[m] / step_h / share)
        })
        .collect();
    if read.iter().flatten().count() < grid.moments.min(144) / 2 {
        return None;
    }
    let usual = like_hours(expected, &read);
    let cut = cut_off(design, expected, &read, &usual);
    let kept: Vec<Option<f64>> = read
        .iter()
        .zip(&cut)
        .map(|(w, cut)| w.filter(|_| !cut))
        .collect();
    let usual = like_hours(expected, &kept);
    Some(Demand {
        watts: (0..grid.moments)
            .map(|m| kept[m].unwrap_or_else(|| usual[slot(expected, m)]))
            .collect(),
        cut_off_h: cut.iter().filter(|c| **c).count() as f64 * step_h,
        unread_h: read.iter().filter(|w| w.is_none()).count() as f64 * step_h,
    })
}

/// Share of a moment for which the load is known.
fn read_share(expected: &Expectation, loads: &Loads, m: usize) -> f64 {
    let signals = &expected.signals;
    let of = |f: &Option<crate::expect::Folded>| f.as_ref().map_or(0.0, |f| f.coverage(m));
    let bank = of(&signals.bank_w);
    match (&signals.load_w, loads.load_how) {
        (Some(load), How::Measured) => load.coverage(m),
        _ if loads.harvest_estimate.is_some() => bank,
        _ if bank > 0.5 && (of(&signals.harvest) > 0.5 || expected.regimes[m] == Regime::Dark) => {
            1.0
        }
        _ => 0.0,
    }
}

/// Place of a moment in its day.
fn slot(expected: &Expectation, m: usize) -> usize {
    m - expected.grid.day_starts[expected.grid.day_of(m)]
}

/// Mean by place in the day, over all days, within half an hour; the mean of all where no day has it.
fn like_hours(expected: &Expectation, read: &[Option<f64>]) -> Vec<f64> {
    let slots = (0..expected.grid.dates.len())
        .map(|d| expected.grid.day(d).len())
        .max()
        .unwrap_or(0);
    let mut sums = vec![(0.0, 0u32); slots];
    for (m, watts) in read.iter().enumerate() {
        if let Some(watts) = watts {
            let at = &mut sums[slot(expected, m)];
            *at = (at.0 + watts, at.1 + 1);
        }
    }
    let mean = |part: &[(f64, u32)]| {
        let (sum, n) = part
            .iter()
            .fold((0.0, 0), |(s, n), (sum, count)| (s + sum, n + count));
        (n > 0).then(|| sum / f64::from(n))
    };
    let all = mean(&sums).unwrap_or(0.0);
    (0..slots)
        .map(|s| {
            let around = s.saturating_sub(LIKE_MOMENTS)..(s + LIKE_MOMENTS + 1).min(slots);
            mean(&sums[around]).unwrap_or(all)
        })
        .collect()
}

/// Moments in which the loads had dropped out: from the bank at its cut-off voltage until they draw
/// again.
fn cut_off(
    design: &Design,
    expected: &Expectation,
    read: &[Option<f64>],
    usual: &[f64],
) -> Vec<bool> {
    let mut cut = vec![false; read.len()];
    let (Some(limit), Some(volts)) = (design.battery.load_cut_off_v, &expected.signals.bank_v)
    else {
        return cut;
    };
    let near = 0.1 * design.nominal_v() / 12.0;
    let mut out = false;
    for m in 0..read.len() {
        let idle = read[m].is_some_and(|w| w <= CUT_SHARE * usual[slot(expected, m)]);
        let just_before = (m.saturating_sub(2)..=m)
            .any(|k| volts.low(k).is_finite() && volts.low(k) <= limit + near);
        out = idle && (out || just_before);
        cut[m] = out;
    }
    cut
}
