//! How long the bank stood below each state of charge: a duration curve.

use crate::account::charge::Charge;
use crate::expect::Expectation;
use crate::report::model::LowCharge;

/// Levels of the curve, %: every five points, as fine as a counted charge is worth.
const STEP_PCT: usize = 5;
/// A curve of less than a day says nothing of nights.
const LEAST_H: f64 = 24.0;

/// The curve, counted anew and as the meter says; `None` where less than a day of either is known.
pub fn low_charge(expected: &Expectation, charge: &Charge) -> Option<LowCharge> {
    let step_h = expected.grid.step_h();
    // A count carried across a gap is no reading of the hours in it.
    let counted: Vec<(f64, f64)> = (0..expected.grid.moments)
        .filter(|m| expected.signals.coverage(*m) > 0.0)
        .filter_map(|m| Some((charge.counted_pct[m]?, charge.counted_error_pct[m])))
        .collect();
    let meter: Vec<f64> = expected.signals.soc.as_ref().map_or_else(Vec::new, |soc| {
        (0..expected.grid.moments)
            .filter(|m| soc.coverage(*m) > 0.0)
            .filter_map(|m| soc.mean(m))
            .collect()
    });
    let levels_pct: Vec<f64> = (0..=100).step_by(STEP_PCT).map(|l| l as f64).collect();
    let enough = |moments: usize| moments as f64 * step_h >= LEAST_H;
    let hours = |below: &dyn Fn(f64) -> usize| -> Vec<f64> {
        levels_pct
            .iter()
            .map(|level| below(*level) as f64 * step_h)
            .collect()
    };
    // The whole error to one side: the count drifts, it does not jitter.
    let shifted = |side: f64| {
        hours(&|level| {
            counted
                .iter()
                .filter(|(pct, error)| pct + side * error < level)
                .count()
        })
    };
    let has_count = enough(counted.len());
    let has_meter = enough(meter.len());
    (has_count || has_meter).then(|| LowCharge {
        counted_h: has_count.then(|| shifted(0.0)),
        counted_low_h: has_count.then(|| shifted(1.0)),
        counted_high_h: has_count.then(|| shifted(-1.0)),
        counted_covered_h: counted.len() as f64 * step_h,
        meter_h: has_meter
            .then(|| hours(&|level| meter.iter().filter(|pct| **pct < level).count())),
        meter_covered_h: meter.len() as f64 * step_h,
        levels_pct: levels_pct.clone(),
    })
}
