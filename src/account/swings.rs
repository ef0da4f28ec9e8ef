//! Deep discharges between a full charge and a low point whose voltage tells the state of charge.

use crate::account::Charge;
use crate::account::instrument::GAIN;
use crate::account::low_point::LowPoint;
use crate::design::Design;
use crate::expect::{Expectation, STEP_S};
use crate::physics::bank::coulombic_efficiency;
use crate::physics::rest_voltage::RestReading;
use crate::quantity::Interval;

/// Uncovered time after which charge counted from a full is no longer known, s.
const MOST_GAP_S: f64 = 3600.0;
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

/// What the log tells elsewhere of the bank and its meter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known {
    /// The shunt's zero error.
    pub zero: Zero,
    /// Resistance from load steps, mohm, where it could be measured.
    pub resistance_mohm: Option<f64>,
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
        known: Known,
        least_swing: f64,
    ) -> Self {
        let mut found = Self::default();
        let ends = charge.fulls.iter().skip(1).copied().chain([i64::MAX]);
        for (full, end) in charge.fulls.iter().copied().zip(ends) {
            found.follow(design, expected, (full, end), known, least_swing);
        }
        found
    }

    /// Counts from one full charge to the next.
    fn follow(
        &mut self,
        design: &Design,
        expected: &Expectation,
        span: (i64, i64),
        known: Known,
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
            gap_s += STEP_S as f64 - amps.covered(m);
            if gap_s > MOST_GAP_S {
                break;
            }
            let covered_h = amps.covered(m) / 3600.0;
            given += amps.out_h[m] - efficiency.value * amps.in_h[m] + known.zero.value * covered_h;
            hours += covered_h;
            back += amps.in_h[m];
            if given <= 0.0 {
                // Still at the top: what goes in now is put on a full bank.
                (given, hours, back) = (0.0, 0.0, 0.0);
            }
            let half = (GAIN * given)
                .hypot(known.zero.half * hours)
                .hypot(unsure * back);
            let so_far = Interval::new(given, given - half, given + half);
            if self.most_ah.is_none_or(|most| so_far.low > most.low) {
                self.most_ah = Some(so_far);
            }
            if let Some(reading) = LowPoint::at(design, expected, known.resistance_mohm, m) {
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

fn swing(
    design: &Design,
    given_ah: Interval,
    reading: &LowPoint,
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
