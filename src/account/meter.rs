//! The meter's own state of charge against the charge counted anew.

use crate::account::Charge;
use crate::account::low_point::LowPoint;
use crate::design::Design;
use crate::expect::{Expectation, Folded, STEP_S};
use crate::quantity::Interval;
use crate::stats::quantile::{median, quantile};
use crate::stats::resample;

/// A difference must last this many moments: an hour.
const LASTING: usize = 12;
/// Points of state of charge that a discharge must span to tell the meter's capacity.
const LEAST_POINTS: f64 = 8.0;
/// Fewest such discharges.
const LEAST_RUNS: usize = 3;
/// Two readings of a meter that moves at all lie this far apart, points.
const STUCK_POINTS: f64 = 0.5;
/// Charge out of the bank, share of capacity, over which a meter must have moved.
const STUCK_SHARE: f64 = 0.05;

/// How far the meter's figure strayed from the counted one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drift {
    /// Moment at which it was surest.
    pub moment: usize,
    /// Meter minus counted, points.
    pub points: f64,
    /// 90 % half-width of the counted figure, points.
    pub error_points: f64,
}

/// The meter's figure where it lay furthest beyond the counted one's error, for at least an hour; `None`
/// where nothing can be compared. Before the first true full charge a meter just connected shows anything:
/// that is not asked.
pub fn drift(expected: &Expectation, charge: &Charge) -> Option<Drift> {
    let soc = expected.signals.soc.as_ref()?;
    let beyond = |m: usize| -> Option<Drift> {
        let points = soc.mean(m)? - charge.counted_pct[m]?;
        Some(Drift {
            moment: m,
            points,
            error_points: charge.counted_error_pct[m],
        })
    };
    let excess = |d: &Drift| d.points.abs() - d.error_points;
    let grid = &expected.grid;
    let since = charge.fulls.first()? - grid.start;
    let first = usize::try_from(since.div_euclid(STEP_S)).unwrap_or(0);
    let all: Vec<Option<Drift>> = (first..grid.moments).map(beyond).collect();
    all.windows(LASTING)
        .filter_map(|hour| {
            // The least of the hour stands for it, if all of it strays to one side.
            let first = hour[0]?.points.signum();
            hour.iter()
                .copied()
                .collect::<Option<Vec<Drift>>>()?
                .into_iter()
                .map(|d| {
                    if d.points.signum() == first {
                        d
                    } else {
                        Drift { points: 0.0, ..d }
                    }
                })
                .min_by(|a, b| excess(a).total_cmp(&excess(b)))
        })
        .max_by(|a, b| excess(a).total_cmp(&excess(b)))
}

/// A low point at which the meter promised more than the bank's voltage allows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Promise {
    /// Moment of the worst one.
    pub moment: usize,
    /// The meter's figure there, %.
    pub meter_pct: f64,
    /// The most that the voltage allows there, %.
    pub most_pct: f64,
    /// What the voltage tells, %.
    pub left_pct: f64,
    /// The bank's voltage there, V.
    pub volts: f64,
    /// On how many days it promised as much too much as asked.
    pub days: usize,
}

/// Where the meter promised more than `points` above the most that the voltage allows, in the lower half
/// of a lead bank or the lowest quarter of a lithium one: above, tables of voltage differ too much.
/// `resistance_mohm`: as measured at load steps, where it could be.
pub fn promised(
    design: &Design,
    expected: &Expectation,
    resistance_mohm: Option<f64>,
    points: f64,
) -> Option<Promise> {
    let soc = expected.signals.soc.as_ref()?;
    let grid = &expected.grid;
    let lowest = if design.battery.chemistry.is_lead() {
        0.50
    } else {
        0.25
    };
    let mut worst: Option<Promise> = None;
    let mut days = Vec::new();
    for m in 0..grid.moments {
        let (Some(meter_pct), Some(low)) = (
            soc.mean(m),
            LowPoint::at(design, expected, resistance_mohm, m),
        ) else {
            continue;
        };
        let most_pct = 100.0 * low.left.high;
        if low.left.soc > lowest || meter_pct - most_pct <= points {
            continue;
        }
        days.push(grid.day_of(m));
        if worst.is_none_or(|w| meter_pct - most_pct > w.meter_pct - w.most_pct) {
            worst = Some(Promise {
                moment: m,
                meter_pct,
                most_pct,
                left_pct: 100.0 * low.left.soc,
                volts: low.volts,
                days: 0,
            });
        }
    }
    days.dedup();
    worst.map(|w| Promise {
        days: days.len(),
        ..w
    })
}

/// Whether the meter's figure never moves although charge was drawn.
pub fn stuck(design: &Design, soc: &Folded, amps: &Folded) -> bool {
    let ends = |pick: &[f32]| {
        pick.iter()
            .map(|v| f64::from(*v))
            .filter(|v| v.is_finite())
            .collect::<Vec<_>>()
    };
    let (Some(low), Some(high)) = (
        quantile(&ends(&soc.min), 0.0),
        quantile(&ends(&soc.max), 1.0),
    ) else {
        return false;
    };
    // A bank kept full moves little by little: the deepest stretch of drawing decides.
    let (mut drawn, mut deepest) = (0.0f64, 0.0f64);
    for m in 0..amps.out_h.len() {
        drawn = (drawn + amps.out_h[m] - amps.in_h[m]).max(0.0);
        deepest = deepest.max(drawn);
    }
    high - low < STUCK_POINTS && deepest > STUCK_SHARE * design.battery.capacity_ah
}

/// Capacity the meter reckons with, Ah: charge drawn over the points its figure fell, in stretches
/// without charging. `None` with too few such stretches.
pub fn set_capacity_ah(expected: &Expectation) -> Option<Interval> {
    let (soc, amps) = (
        expected.signals.soc.as_ref()?,
        expected.signals.bank_a.as_ref()?,
    );
    let mut ratios = Vec::new();
    let mut start: Option<(f64, f64)> = None;
    for m in 0..expected.grid.moments {
        let inside = |v: &f64| (1.0..99.0).contains(v);
        let reading = soc.mean(m).filter(inside);
        let drawing = amps.coverage(m) > 0.95 && amps.in_h[m] <= 0.02 * amps.out_h[m];
        let (Some(now), true) = (reading, drawing) else {
            start = None;
            continue;
        };
        let Some((from, drawn)) = start else {
            // The reading is the moment's mean, so half its charge is drawn after it.
            start = Some((now, amps.out_h[m] / 2.0));
            continue;
        };
        let half = amps.out_h[m] / 2.0;
        if from - now >= LEAST_POINTS {
            ratios.push(100.0 * (drawn + half) / (from - now));
            start = Some((now, half));
        } else {
            start = Some((from, drawn + 2.0 * half));
        }
    }
    if ratios.len() < LEAST_RUNS {
        return None;
    }
    let draws = resample::moving_blocks(ratios.len(), 1, 400, 29, |rows| {
        let drawn: Vec<f64> = rows.iter().map(|r| ratios[*r]).collect();
        median(&drawn)
    });
    let (low, high) = resample::interval(&draws, 0.90)?;
    Some(Interval::new(median(&ratios)?, low, high))
}
