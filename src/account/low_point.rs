//! A low point of the bank whose voltage tells how much is left.
//!
//! Voltage tells it only at the ends for lithium iron phosphate, and only at rest for lead (trade
//! reference 6.3). In between nothing is read.

use crate::design::{Chemistry, Design};
use crate::expect::{Expectation, offer};
use crate::physics::bank::internal_resistance_mohm;
use crate::physics::rest_voltage::{RestReading, rest_hours, soc_from_rest};

/// Iron phosphate: cell voltage below which it has passed its knee and tells its charge, V: 10 % left.
const KNEE_V: f64 = 3.20;
/// Largest current at which a lithium cell's voltage is taken for its charge, share of capacity an hour.
const LITHIUM_CURRENT: f64 = 0.10;
/// A lasting load shows up to this many times the resistance seconds after a step (trade reference 6.8).
const SLOW: f64 = 4.0;
/// A lithium cell colder than this sags so far under load that its knee is not seen, C ...
const COLD_C: f64 = 10.0;
/// ... except at rest (trade reference 6.3), share of capacity an hour.
const COLD_CURRENT: f64 = 0.005;
/// Lead counts as resting while the drop of its small load is known to this, V per 12 V: a quarter of the
/// table's own error. It is reached at one to two hundredths of the capacity an hour.
const LEAD_DROP_V: f64 = 0.025;
/// No moment of the rest may draw more than this share of capacity an hour: a fridge may run.
const LEAD_REST_MOST: f64 = 0.05;
/// Lowest cell voltage that is a reading and not an open circuit, V.
const OPEN_V: f64 = 1.5;
/// A reading of the state of charge wider than this tells nothing.
const WIDEST: f64 = 0.45;

/// A low point's voltage as a state of charge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LowPoint {
    /// Voltage at the bank's terminals, V.
    pub volts: f64,
    /// State of charge left, share.
    pub left: RestReading,
}

impl LowPoint {
    /// What the voltage of a moment (of the grid) tells; `None` where it tells nothing. A resistance
    /// measured at load steps (mohm) widens what is usual: a bank with a high one sags far from empty.
    pub fn at(
        design: &Design,
        expected: &Expectation,
        measured_mohm: Option<f64>,
        moment: usize,
    ) -> Option<Self> {
        let sag = Sag::new(design, measured_mohm);
        if design.battery.chemistry.is_lead() {
            lead_at_rest(design, expected, &sag, moment)
        } else {
            lithium_low(design, expected, &sag, moment)
        }
    }
}

/// Lithium under a small load, its own drop added back.
fn lithium_low(design: &Design, expected: &Expectation, sag: &Sag, m: usize) -> Option<LowPoint> {
    let signals = &expected.signals;
    let amps = -signals.bank_a.as_ref()?.mean(m)?;
    let volts = signals.bank_v.as_ref()?.mean(m)?;
    let capacity = design.battery.capacity_ah;
    let most = if bank_c(design, expected, m) < COLD_C {
        COLD_CURRENT
    } else {
        LITHIUM_CURRENT
    };
    let small = -0.005 * capacity..=most * capacity;
    let cells = f64::from(design.battery.cells_in_series?);
    if !small.contains(&amps) || volts < OPEN_V * cells {
        return None;
    }
    let (at_rest, unsure) = sag.rest_v(volts, amps.max(0.0));
    let chemistry = design.battery.chemistry;
    if chemistry == Chemistry::Lfp && at_rest / cells > KNEE_V {
        return None;
    }
    let meter = (unsure + meter_error_v(design)) / cells;
    let left = soc_from_rest(chemistry, at_rest / cells, meter);
    (left.high - left.low <= WIDEST).then_some(LowPoint { volts, left })
}

/// Lead that rested long enough since it was last charged: the mean of its last hour.
fn lead_at_rest(design: &Design, expected: &Expectation, sag: &Sag, m: usize) -> Option<LowPoint> {
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
    let (at_rest, unsure) = sag.rest_v(volts, mean_a.max(0.0));
    if unsure > LEAD_DROP_V * design.nominal_v() / 12.0 {
        return None;
    }
    let meter = (unsure + meter_error_v(design)) / cells;
    let left = soc_from_rest(chemistry, at_rest / cells, meter);
    (left.high - left.low <= WIDEST).then_some(LowPoint { volts, left })
}

/// The resistance over which a lasting load pulls the bank down, mohm: anything from the least usual one to
/// four times the most (so much shows a slow load, trade reference 6.8).
struct Sag {
    least_mohm: f64,
    most_mohm: f64,
}

impl Sag {
    fn new(design: &Design, measured_mohm: Option<f64>) -> Self {
        let (low, high) = internal_resistance_mohm(
            design.battery.chemistry,
            design.battery.capacity_ah,
            design.nominal_v(),
        );
        Self {
            least_mohm: low,
            most_mohm: SLOW * high.max(measured_mohm.unwrap_or(0.0)),
        }
    }

    /// Voltage with the load's own drop added back, and what the unknown resistance leaves open, V.
    fn rest_v(&self, volts: f64, amps: f64) -> (f64, f64) {
        let (least, most) = (
            amps * self.least_mohm / 1000.0,
            amps * self.most_mohm / 1000.0,
        );
        (volts + f64::midpoint(least, most), (most - least) / 2.0)
    }
}

/// A field voltmeter's error, V (trade reference 11: 0.01 to 0.03 V per 12 V).
fn meter_error_v(design: &Design) -> f64 {
    0.02 * design.nominal_v() / 12.0
}

/// Temperature of the bank, C; the air's of the plan where it was not logged.
fn bank_c(design: &Design, expected: &Expectation, m: usize) -> f64 {
    let logged = expected.signals.bank_c.as_ref().and_then(|c| c.mean(m));
    logged.unwrap_or_else(|| {
        let grid = &expected.grid;
        offer::air_at(design, grid.dates[grid.day_of(m)])
    })
}
