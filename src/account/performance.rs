//! Yields and ratios in the terms of IEC 61724-1, with the usage factor beside them so that a system
//! with a full bank is not condemned, and autonomy and recovery in the spirit of the stand-alone standards.

use crate::account::{Charge, Loads};
use crate::design::Design;
use crate::design::budget::usable_wh;
use crate::expect::Expectation;
use crate::physics::bank;
use crate::report::model::{Day, Performance};

/// Yields over the whole period, per day.
pub fn performance(
    design: &Design,
    expected: &Expectation,
    loads: &Loads,
    charge: &Charge,
    days: &[Day],
) -> Performance {
    let n = days.len().max(1) as f64;
    let array_w = design.array_w();
    let sum = |pick: fn(&Day) -> Option<f64>| -> Option<f64> {
        let seen: Vec<f64> = days.iter().filter_map(pick).collect();
        (!seen.is_empty()).then(|| seen.iter().sum())
    };
    let plane: f64 =
        expected.offers.iter().map(|o| o.plane_wm2).sum::<f64>() * expected.grid.step_h();
    let reference = (plane > 0.0).then(|| plane / 1000.0 / n);
    let harvest = sum(|d| d.harvest_wh);
    let efficiency = design.controllers[0].efficiency.max(0.1);
    let array = sum(|d| d.array_wh).or_else(|| harvest.map(|h| h / efficiency));
    let into = sum(|d| d.bank_in_wh);
    let lost =
        into.unwrap_or(0.0) * (1.0 - bank::energy_efficiency(design.battery.chemistry).value);
    let cable: f64 = loads.cable.iter().sum();
    let final_yield = harvest.map(|h| (h - cable - lost).max(0.0) / array_w / n);
    let held = sum(|d| d.held_back_wh);
    let load_w = mean_load_w(expected, loads);
    let usable = usable_wh(design);
    Performance {
        reference_yield_h: reference,
        array_yield_h: array.map(|a| a / array_w / n),
        final_yield_h: final_yield,
        performance_ratio: final_yield.zip(reference).map(|(f, r)| f / r),
        usage_factor: harvest
            .zip(held)
            .filter(|(h, b)| h + b > 0.0)
            .map(|(h, b)| h / (h + b)),
        autonomy_h: load_w.filter(|w| *w > 0.0).map(|w| usable / w),
        recovery_days: recovery_days(expected, charge),
    }
}

fn mean_load_w(expected: &Expectation, loads: &Loads) -> Option<f64> {
    let load = loads.load.as_ref()?;
    let covered_h: f64 = (0..expected.grid.moments)
        .map(|m| expected.signals.coverage(m) * expected.grid.step_h())
        .sum();
    (covered_h > 1.0).then(|| load.iter().sum::<f64>() / covered_h)
}

/// Days from the lowest state of charge to the next full charge; `None` where none followed.
fn recovery_days(expected: &Expectation, charge: &Charge) -> Option<f64> {
    let soc = expected.signals.soc.as_ref()?;
    let lowest = (0..expected.grid.moments)
        .filter(|m| soc.min[*m].is_finite())
        .min_by(|a, b| soc.min[*a].total_cmp(&soc.min[*b]))?;
    let at = expected.grid.time_of(lowest);
    charge
        .fulls
        .iter()
        .find(|full| **full > at)
        .map(|full| (full - at) as f64 / 86_400.0)
}
