//! Resistance of the bank from load steps: how far the voltage falls for one ampere more.

use crate::account::instrument::GAIN;
use crate::design::Design;
use crate::expect::{Expectation, Regime, STEP_S};
use crate::mapping::Role;
use crate::quantity::Interval;
use crate::stats::quantile::{mad, median};
use crate::stats::resample;
use crate::timeline::Timeline;

/// Rows this close show the drop before the slow part of the bank's voltage has moved, s.
pub const OHMIC_STEP_S: f64 = 60.0;
/// Rows further apart than this show mostly the slow part, s.
pub const COARSEST_STEP_S: f64 = 300.0;
/// Steps further than this many robust standard deviations from the middle are slips of the clock.
const WILD: f64 = 4.0;
/// Current at which a bank still counts as discharging, A above 0: the meter's own noise.
const NOISE_A: f64 = 0.1;

/// Why there is no resistance.
#[derive(Debug, Clone, PartialEq)]
pub enum NoSteps {
    /// Voltage or current of the bank was not logged, or not by one meter.
    NotTogether,
    /// The rows are too far apart.
    TooCoarse {
        /// Their step, s.
        step_s: f64,
    },
    /// Too few steps.
    TooFew {
        /// How many there were.
        steps: usize,
        /// On how many days.
        days: usize,
    },
}

/// A resistance measured from load steps.
#[derive(Debug, Clone, PartialEq)]
pub struct StepFit {
    /// Bank and wiring up to the meter, mohm.
    pub resistance_mohm: Interval,
    /// Step of the rows, s.
    pub step_s: f64,
    /// How many steps.
    pub steps: usize,
    /// Days (indices into the grid's dates) on which they were seen, ascending.
    pub days: Vec<usize>,
    /// The largest step, A.
    pub largest_a: f64,
}

/// What makes a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limits {
    /// Smallest change of current, A.
    pub least_a: f64,
    /// Fewest steps.
    pub steps: usize,
    /// On at least so many days.
    pub days: usize,
}

struct Step {
    day: usize,
    mohm: f64,
    amps: f64,
}

/// Measures it. Only steps between two readings of a bank that discharges, under no held voltage: a
/// controller that holds its voltage answers a load itself. Lithium may as well charge on both sides
/// of a step; lead takes charge at a resistance of another kind.
pub fn measure(
    design: &Design,
    timeline: &Timeline,
    expected: &Expectation,
    limits: Limits,
) -> Result<StepFit, NoSteps> {
    let (Some(volts), Some(amps)) = (
        timeline.channel(Role::BatteryVoltage),
        timeline.channel(Role::BatteryCurrent),
    ) else {
        return Err(NoSteps::NotTogether);
    };
    if volts.source != amps.source {
        return Err(NoSteps::NotTogether);
    }
    let step_s = amps.step_s.max(timeline.bin_s as f64);
    if step_s > COARSEST_STEP_S {
        return Err(NoSteps::TooCoarse { step_s });
    }
    let readings: Vec<(usize, f64, f64)> = (0..timeline.bins)
        .filter_map(|bin| {
            Some((
                bin,
                timeline.reading(volts, bin)?,
                timeline.reading(amps, bin)?,
            ))
        })
        .collect();
    let near = |a: usize, b: usize| (b - a) as f64 * timeline.bin_s as f64 <= 1.5 * step_s;
    let steps: Vec<Step> = readings
        .windows(2)
        .filter(|w| near(w[0].0, w[1].0))
        .filter(|w| (w[1].2 - w[0].2).abs() >= limits.least_a)
        .filter(|w| {
            let out = w[0].2 <= NOISE_A && w[1].2 <= NOISE_A;
            let into = w[0].2 >= -NOISE_A && w[1].2 >= -NOISE_A;
            out || (into && !design.battery.chemistry.is_lead())
        })
        .filter_map(|w| {
            let day = free_day(design, timeline, expected, w[0].0)?;
            let change_a = w[1].2 - w[0].2;
            Some(Step {
                day,
                mohm: 1000.0 * (w[1].1 - w[0].1) / change_a,
                amps: change_a.abs(),
            })
        })
        .collect();
    fit(&steps, step_s, limits)
}

fn fit(steps: &[Step], step_s: f64, limits: Limits) -> Result<StepFit, NoSteps> {
    let mut days: Vec<usize> = steps.iter().map(|s| s.day).collect();
    days.dedup();
    let too_few = NoSteps::TooFew {
        steps: steps.len(),
        days: days.len(),
    };
    if steps.len() < limits.steps || days.len() < limits.days {
        return Err(too_few);
    }
    let groups: Vec<u32> = steps.iter().map(|s| s.day as u32).collect();
    let ratios: Vec<f64> = steps.iter().map(|s| s.mohm).collect();
    let (middle, spread) = (median(&ratios).unwrap_or(0.0), mad(&ratios).unwrap_or(0.0));
    // Weighted by the step, as least squares through the origin does; wild pairs are left out.
    let of = |rows: &[usize]| {
        let (mut up, mut down) = (0.0, 0.0);
        for step in rows.iter().map(|r| &steps[*r]) {
            if (step.mohm - middle).abs() <= WILD * spread {
                up += step.mohm * step.amps.powi(2);
                down += step.amps.powi(2);
            }
        }
        (down > 0.0).then(|| up / down)
    };
    let all: Vec<usize> = (0..steps.len()).collect();
    let (Some(value), Some((low, high))) = (
        of(&all),
        resample::interval(&resample::whole_groups(&groups, 400, 17, of), 0.90),
    ) else {
        return Err(too_few);
    };
    Ok(StepFit {
        resistance_mohm: Interval::new(value, low * (1.0 - GAIN), high * (1.0 + GAIN)),
        step_s,
        steps: steps.len(),
        days,
        largest_a: steps.iter().map(|s| s.amps).fold(0.0, f64::max),
    })
}

/// The day of a bin in which nothing held the bank's voltage; `None` where something did, or the bank
/// was at an end of its charge, where its voltage moves by itself.
fn free_day(
    design: &Design,
    timeline: &Timeline,
    expected: &Expectation,
    bin: usize,
) -> Option<usize> {
    let grid = &expected.grid;
    let moment = usize::try_from((timeline.time_of(bin) - grid.start).div_euclid(STEP_S)).ok()?;
    let free = |m: usize| {
        matches!(
            expected.regimes.get(m),
            Some(Regime::Dark | Regime::Following | Regime::Disconnected)
        )
    };
    if moment >= grid.moments || !free(moment) || !free(moment + 1) {
        return None;
    }
    let volts = expected.signals.bank_v.as_ref()?.mean(moment)?;
    let cells = f64::from(design.battery.cells_in_series?);
    let chemistry = design.battery.chemistry;
    let low = crate::physics::rest_voltage::rest_cell_v(chemistry, 0.15);
    // Under load lead stands below its table though far from empty.
    let least = if chemistry.is_lead() {
        0.95 * low
    } else {
        low - 0.05
    };
    (volts > least * cells).then(|| grid.day_of(moment))
}
