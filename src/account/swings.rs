//! Deep discharges between a full charge and a low point whose voltage tells the state of charge.
//!
//! Voltage tells it only at the ends for lithium iron phosphate, and only at rest for lead (trade
//! reference 6.3). In between nothing is read.

use crate::account::Charge;
use crate::design::{Chemistry, Design};
use crate::expect::{Expectation, STEP_S};
use crate::physics::bank::{coulombic_efficiency, internal_resistance_mohm};
use crate::physics::rest_voltage::{RestReading, rest_hours, soc_from_rest};
use crate::quantity::Interval;

/// Uncovered time after which charge counted from a full is no longer known, s.
const MOST_GAP_S: f64 = 3600.0;
/// Gain error of a shunt, half of its 90 % range (trade reference 11: 1 % a standard deviation).
const GAIN: f64 = 0.0165;
/// Iron phosphate: cell voltage below which it has passed its knee and tells its charge, V: 10 % left.
const KNEE_V: f64 = 3.20;
/// Largest current at which a lithium cell's voltage is taken for its charge, share of capacity an hour.
const LITHIUM_CURRENT: f64 = 0.20;
/// Lead counts as resting while the drop of its small load is known to this, V per 12 V: a quarter of the
/// table's own error. It is reached at one to two hundredths of the capacity an hour.
const LEAD_DROP_V: f64 = 0.025;
/// No moment of the rest may draw more than this share of capacity an hour: a fridge may run.
const LEAD_REST_MOST: f64 = 0.05;
/// Lowest cell voltage that is a reading and not an open circuit, V.
const OPEN_V: f64 = 1.5;
/// A reading of the state of charge wider than this tells nothing.
const WIDEST: f64 = 0.45;

/// A discharge from a full charge to a low point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Swing {
    /// Instant of the full charge, Unix seconds.
    pub full: i64,
    /// Instant of the low point, Unix seconds.
    pub low: i64,
    /// Charge that the bank gave in between, recharge taken off, Ah.
    pub given_ah: Interval,
    /// State of charge left at the low point, share.
    pub left: RestReading,
    /// Voltage there, at the bank's terminals, V.
    pub low_v: f64,
    /// Capacity that follows, Ah.
    pub capacity_ah: Interval,
}

/// The swings of a log, and the most that the bank gave.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Swings {
    /// One a discharge: its best-known low point, at least the asked share of the bank below full.
    pub swings: Vec<Swing>,
    /// The most that was counted out after a full charge, Ah; its lower end is what the bank surely holds.
    pub most_ah: Option<Interval>,
}

/// What is thought of the shunt's zero error (meter minus truth), A.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Zero {
    /// Best estimate.
    pub value: f64,
    /// Half of its 90 % range.
    pub half: f64,
}

impl Swings {
    /// Finds them. A low point counts where the bank is at least `least_swing` (share) below full.
    pub fn new(
        design: &Design,
        expected: &Expectation,
        charge: &Charge,
        zero: Zero,
        least_swing: f64,
    ) -> Self {
        let mut found = Self::default();
        let ends = charge.fulls.iter().skip(1).copied().chain([i64::MAX]);
        for (full, end) in charge.fulls.iter().copied().zip(ends) {
            found.follow(design, expected, (full, end), zero, least_swing);
        }
        found
    }

    /// Counts from one full charge to the next.
    fn follow(
        &mut self,
        design: &Design,
        expected: &Expectation,
        span: (i64, i64),
        zero: Zero,
        least_swing: f64,
    ) {
        let Some(amps) = &expected.signals.bank_a else {
            return;
        };
        let grid = &expected.grid;
        let efficiency = coulombic_efficiency(design.battery.chemistry);
        let unsure = (efficiency.high - efficiency.low) / 2.0;
        let first = usize::try_from((span.0 - grid.start).div_euclid(STEP_S)).unwrap_or(0);
        let (mut given, mut hours, mut back, mut gap_s) = (0.0f64, 0.0, 0.0, 0.0);
        let mut best: Option<Swing> = None;
        for m in first..grid.moments {
            if grid.time_of(m) >= span.1 {
                break;
            }
            gap_s += STEP_S as f64 - amps.covered_s[m];
            if gap_s > MOST_GAP_S {
                break;
            }
            let covered_h = amps.covered_s[m] / 3600.0;
            given += amps.out_h[m] - efficiency.value * amps.in_h[m] + zero.value * covered_h;
            hours += covered_h;
            back += amps.in_h[m];
            if given <= 0.0 {
                // Still at the top: what goes in now is put on a full bank.
                (given, hours, back) = (0.0, 0.0, 0.0);
            }
            let half = (GAIN * given).hypot(zero.half * hours).hypot(unsure * back);
            let so_far = Interval::new(given, given - half, given + half);
            if self.most_ah.is_none_or(|most| so_far.low > most.low) {
                self.most_ah = Some(so_far);
            }
            if let Some(reading) = low_reading(design, expected, m) {
                let found = swing(design, so_far, &reading, (span.0, grid.time_of(m)));
                let narrower = |s: &Swing| best.is_none_or(|b| relative(s) < relative(&b));
                if let Some(s) = found.filter(|s| 1.0 - s.left.soc >= least_swing)
                    && narrower(&s)
                {
                    best = Some(s);
                }
            }
        }
        self.swings.extend(best);
    }

    /// Capacity from all swings together, Ah. What the table and the shunt get wrong they get wrong every
    /// time, so more swings narrow nothing; a spread between them widens.
    pub fn capacity_ah(&self) -> Option<Interval> {
        let values: Vec<f64> = self.swings.iter().map(|s| s.capacity_ah.value).collect();
        let halves: Vec<f64> = self.swings.iter().map(relative).collect();
        let middle = crate::stats::quantile::median(&values)?;
        let systematic = crate::stats::quantile::median(&halves)? * middle;
        let n = values.len() as f64;
        let spread = match values.len() {
            0 | 1 => 0.0,
            _ => {
                let sum: f64 = values.iter().map(|v| (v - middle).powi(2)).sum();
                crate::stats::student::t95(n - 1.0) * (sum / (n - 1.0) / n).sqrt()
            }
        };
        let half = systematic.hypot(spread);
        Some(Interval::new(middle, middle - half, middle + half))
    }
}

fn relative(swing: &Swing) -> f64 {
    swing.capacity_ah.half_width() / swing.capacity_ah.value.max(1e-9)
}

/// A low point's voltage as a state of charge.
struct LowReading {
    volts: f64,
    left: RestReading,
}

fn low_reading(design: &Design, expected: &Expectation, m: usize) -> Option<LowReading> {
    if design.battery.chemistry.is_lead() {
        lead_at_rest(design, expected, m)
    } else {
        lithium_low(design, expected, m)
    }
}

/// Lithium under a small load, its own drop added back. The resistance is anything from the least usual
/// to four times the most (a slow load shows that much, trade reference 6.8).
fn lithium_low(design: &Design, expected: &Expectation, m: usize) -> Option<LowReading> {
    let signals = &expected.signals;
    let amps = -signals.bank_a.as_ref()?.mean(m)?;
    let volts = signals.bank_v.as_ref()?.mean(m)?;
    let capacity = design.battery.capacity_ah;
    let small = -0.005 * capacity..=LITHIUM_CURRENT * capacity;
    let cells = f64::from(design.battery.cells_in_series?);
    if !small.contains(&amps) || volts < OPEN_V * cells {
        return None;
    }
    let (at_rest, unsure) = rest_v(design, volts, amps.max(0.0));
    let chemistry = design.battery.chemistry;
    if chemistry == Chemistry::Lfp && at_rest / cells > KNEE_V {
        return None;
    }
    let meter = (unsure + meter_error_v(design)) / cells;
    let left = soc_from_rest(chemistry, at_rest / cells, meter);
    (left.high - left.low <= WIDEST).then_some(LowReading { volts, left })
}

/// Lead that rested long enough since it was last charged: the mean of its last hour.
fn lead_at_rest(design: &Design, expected: &Expectation, m: usize) -> Option<LowReading> {
    let signals = &expected.signals;
    let (bank_a, bank_v) = (signals.bank_a.as_ref()?, signals.bank_v.as_ref()?);
    let chemistry = design.battery.chemistry;
    let capacity = design.battery.capacity_ah;
    let step_h = expected.grid.step_h();
    let rest = (rest_hours(chemistry) / step_h) as usize;
    let hour = (1.0 / step_h) as usize;
    // Once an hour is enough: neighbours see the same rest.
    if m < rest || !m.is_multiple_of(hour) {
        return None;
    }
    let mut sum = 0.0;
    for k in m - rest..m {
        let amps = -bank_a.mean(k)?;
        if !(-0.002 * capacity..=LEAD_REST_MOST * capacity).contains(&amps) {
            return None;
        }
        sum += amps;
    }
    let mean_a = sum / rest as f64;
    let last: Vec<f64> = (m - hour..m).filter_map(|k| bank_v.mean(k)).collect();
    let volts = crate::stats::quantile::mean(&last)?;
    let cells = f64::from(design.battery.cells_in_series?);
    if volts < OPEN_V * cells {
        return None;
    }
    let (at_rest, unsure) = rest_v(design, volts, mean_a.max(0.0));
    if unsure > LEAD_DROP_V * design.nominal_v() / 12.0 {
        return None;
    }
    let meter = (unsure + meter_error_v(design)) / cells;
    let left = soc_from_rest(chemistry, at_rest / cells, meter);
    (left.high - left.low <= WIDEST).then_some(LowReading { volts, left })
}

/// Voltage with the load's own drop added back, and what the unknown resistance leaves open, V.
fn rest_v(design: &Design, volts: f64, amps: f64) -> (f64, f64) {
    let (low, high) = internal_resistance_mohm(
        design.battery.chemistry,
        design.battery.capacity_ah,
        design.nominal_v(),
    );
    let (least, most) = (amps * low / 1000.0, amps * 4.0 * high / 1000.0);
    (volts + f64::midpoint(least, most), (most - least) / 2.0)
}

/// A field voltmeter's error, V (trade reference 11: 0.01 to 0.03 V per 12 V).
fn meter_error_v(design: &Design) -> f64 {
    0.02 * design.nominal_v() / 12.0
}

fn swing(
    design: &Design,
    given_ah: Interval,
    reading: &LowReading,
    ends: (i64, i64),
) -> Option<Swing> {
    // Where a full charge leaves a bank, share: lead creeps on for hours.
    let (full, full_half): (f64, f64) = if design.battery.chemistry.is_lead() {
        (0.98, 0.03)
    } else {
        (0.995, 0.01)
    };
    let span = full - reading.left.soc;
    if span <= 0.0 || given_ah.value <= 0.0 {
        return None;
    }
    let left_half = (reading.left.high - reading.left.low) / 2.0;
    let relative =
        (given_ah.half_width() / given_ah.value).hypot(full_half.hypot(left_half) / span);
    let value = given_ah.value / span;
    Some(Swing {
        full: ends.0,
        low: ends.1,
        given_ah,
        left: reading.left,
        low_v: reading.volts,
        capacity_ah: Interval::new(value, value * (1.0 - relative), value * (1.0 + relative)),
    })
}
