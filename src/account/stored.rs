//! How much more the bank held at the end than at the beginning.
//!
//! What went in less what came out is the change and the bank's own loss together; the charge tells them
//! apart. Between two full charges nothing changed; before the first and after the last the charge is
//! counted, and turned into energy at the rest voltage, midway between that of charging and discharging.

use crate::account::Charge;
use crate::design::Design;
use crate::expect::Expectation;
use crate::physics::bank;
use crate::quantity::{How, Interval};

/// Half the 90 % range of a shunt's zero error that nothing in the log tells, A (trade reference 11).
const ZERO_A: f64 = 0.08;
/// How far the rest voltage may lie from the middle, share of the distance to the voltage of charging.
const OFF_MIDDLE: f64 = 0.5;

/// Share of a moment below which there is a gap in the log.
const LEAST_COVER: f64 = 0.5;

/// Change of the stored energy and what the bank kept for itself, Wh.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stored {
    /// Energy held at the end less that at the beginning.
    pub change: Interval,
    /// Energy the bank took and gives to nobody.
    pub loss: Interval,
    /// How both came about.
    pub how: How,
}

/// Tells change and loss apart; together they are exactly what the bank's meter counted in less out.
pub fn stored(design: &Design, expected: &Expectation, charge: &Charge) -> Stored {
    let signals = &expected.signals;
    let Some(power) = &signals.bank_w else {
        return Stored {
            change: Interval::exact(0.0),
            loss: Interval::exact(0.0),
            how: How::Assumed,
        };
    };
    let (into, out) = (
        power.in_h.iter().sum::<f64>(),
        power.out_h.iter().sum::<f64>(),
    );
    match counted(design, expected, charge, into, out) {
        Some(change) => split(into - out, change, How::Inferred),
        None => {
            let efficiency = bank::energy_efficiency(design.battery.chemistry);
            let loss = |share: f64| into * (1.0 - share);
            let change = Interval::new(
                into - out - loss(efficiency.value),
                into - out - loss(efficiency.low),
                into - out - loss(efficiency.high),
            );
            split(into - out, change, How::Assumed)
        }
    }
}

/// A bank loses something and gains nothing by itself.
fn split(net: f64, change: Interval, how: How) -> Stored {
    let most = |wh: f64| wh.min(net);
    // Where the charge says more than that, it is the charge that is wrong, by its own error at least.
    let low = change.low.min(net - change.half_width());
    let change = Interval::new(most(change.value), low, most(change.high));
    Stored {
        change,
        loss: Interval::new(net - change.value, net - change.high, net - change.low),
        how,
    }
}

/// The change by the charge counted; `None` without a current, or where it ran one way only.
fn counted(
    design: &Design,
    expected: &Expectation,
    charge: &Charge,
    into: f64,
    out: f64,
) -> Option<Interval> {
    let amps = expected.signals.bank_a.as_ref()?;
    let (in_ah, out_ah) = (
        amps.in_h.iter().sum::<f64>(),
        amps.out_h.iter().sum::<f64>(),
    );
    if in_ah <= 0.0 || out_ah <= 0.0 {
        return None;
    }
    let (charging_v, discharging_v) = (into / in_ah, out / out_ah);
    let rest_v = f64::midpoint(charging_v, discharging_v);
    let off_v = OFF_MIDDLE * (charging_v - rest_v).abs();
    let change = between_fulls(design, expected, charge)
        .or_else(|| throughout(design, expected, in_ah, out_ah))?;
    let half = (change.half_width() * rest_v).hypot(change.value * off_v);
    let value = change.value * rest_v;
    Some(Interval::new(value, value - half, value + half))
}

/// Charge at the end less that at the beginning, Ah, counted from the first full and the last; `None`
/// where there are gaps between: what flowed in them is in this, and not in the energies beside it.
fn between_fulls(design: &Design, expected: &Expectation, charge: &Charge) -> Option<Interval> {
    let known = |m: &usize| charge.counted_pct[*m].is_some();
    let first = (0..charge.counted_pct.len()).find(known)?;
    let last = (0..charge.counted_pct.len()).rev().find(known)?;
    let amps = expected.signals.bank_a.as_ref()?;
    if (first..=last).any(|m| amps.coverage(m) < LEAST_COVER) {
        return None;
    }
    let ah = design.battery.capacity_ah / 100.0;
    let change = ah * (charge.counted_pct[last]? - charge.counted_pct[first]?);
    let half = ah * charge.counted_error_pct[first].hypot(charge.counted_error_pct[last]);
    Some(Interval::new(change, change - half, change + half))
}

/// The same with the whole log counted, where the bank was never full.
fn throughout(
    design: &Design,
    expected: &Expectation,
    in_ah: f64,
    out_ah: f64,
) -> Option<Interval> {
    let amps = expected.signals.bank_a.as_ref()?;
    let hours = (0..expected.grid.moments)
        .map(|m| amps.coverage(m) * expected.grid.step_h())
        .sum::<f64>();
    let efficiency = bank::coulombic_efficiency(design.battery.chemistry);
    let unsure = in_ah * (efficiency.high - efficiency.low) / 2.0;
    let half = unsure.hypot(ZERO_A * hours);
    let change = in_ah * efficiency.value - out_ah;
    Some(Interval::new(change, change - half, change + half))
}
