//! How much more the bank held at the end than at the beginning.
//!
//! What went in less what came out is the change and the bank's own loss together; the charge tells them
//! apart. Between two full charges nothing changed; before the first and after the last the charge is
//! counted, and turned into energy at the rest voltage, midway between that of charging and discharging.

use crate::account::Charge;
use crate::account::instrument::{GAIN, ZERO_A};
use crate::design::Design;
use crate::expect::Expectation;
use crate::physics::bank;
use crate::quantity::{How, Interval};
use crate::stats::bounded;
use crate::stats::quantile::quantile;

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
    let net = Net {
        wh: into - out,
        error: net_error(expected, into, out),
    };
    match counted(design, expected, charge, &net, (into, out)) {
        Some(counted) => net.split(&counted, How::Inferred),
        None => {
            let efficiency = bank::energy_efficiency(design.battery.chemistry);
            let change = |share: f64| net.wh - into * (1.0 - share);
            let change = Interval::new(
                change(efficiency.value),
                change(efficiency.low),
                change(efficiency.high),
            );
            net.split(&Counted::by_loss(change, &net), How::Assumed)
        }
    }
}

/// What went in less what came out, by the meter alone.
struct Net {
    wh: f64,
    /// Half its 90 % range.
    error: f64,
}

/// A change of the stored energy, Wh.
struct Counted {
    change: Interval,
    /// Half the 90 % range of what is left of [`Net`] beside it, below and above.
    loss_error: [f64; 2],
}

impl Counted {
    /// Counted from full charges, which a meter's zero does not touch: what it adds to the net is told
    /// as loss.
    fn by_charge(change: Interval, net: &Net) -> Self {
        Self {
            change,
            loss_error: [
                net.error.hypot(change.high - change.value),
                net.error.hypot(change.value - change.low),
            ],
        }
    }

    /// What the net leaves once the bank's loss is taken off: wrong by the net's own error too.
    fn by_loss(change: Interval, net: &Net) -> Self {
        let (below, above) = (change.value - change.low, change.high - change.value);
        Self {
            change: Interval::new(
                change.value,
                change.value - below.hypot(net.error),
                change.value + above.hypot(net.error),
            ),
            loss_error: [above, below],
        }
    }
}

impl Net {
    /// A bank loses something and gains nothing by itself; what it seems to gain is the meter's error.
    fn split(&self, counted: &Counted, how: How) -> Stored {
        let change = &counted.change;
        let value = change.value.min(self.wh);
        // Where the charge says more than that, it is the charge that is wrong, by its own error at least.
        let low = change.low.min(self.wh - change.half_width());
        let high = change.high.min(self.wh + self.error).max(value);
        let loss = self.wh - value;
        let [below, above] = counted.loss_error;
        // Counted below nothing it is the less likely to be much.
        let seems = self.wh - change.value;
        let (least, _) = bounded::ends(seems, below);
        let (_, most) = bounded::ends(seems, above);
        Stored {
            change: Interval::new(value, low, high),
            loss: Interval::new(loss, least.min(loss), most.max(loss)),
            how,
        }
    }
}

/// Half the 90 % range of what went in less what came out, Wh: the meter's zero counts all the time, its
/// gain only what is left over.
fn net_error(expected: &Expectation, into: f64, out: f64) -> f64 {
    zero_error(expected).hypot(GAIN * (into - out))
}

/// Energy that a shunt's zero error makes up over the log, half of its 90 % range, Wh.
pub fn zero_error(expected: &Expectation) -> f64 {
    let (Some(amps), Some(volts)) = (&expected.signals.bank_a, &expected.signals.bank_v) else {
        return 0.0;
    };
    let volt_hours: f64 = (0..expected.grid.moments)
        .filter_map(|m| Some(amps.coverage(m) * volts.mean(m)?))
        .sum::<f64>()
        * expected.grid.step_h();
    ZERO_A * volt_hours
}

/// The change by the charge counted; `None` without a current, or where it ran one way only.
fn counted(
    design: &Design,
    expected: &Expectation,
    charge: &Charge,
    net: &Net,
    (into, out): (f64, f64),
) -> Option<Counted> {
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
    // What is missing in the end went at other voltages than those the bank was mostly used at.
    let off_v = (OFF_MIDDLE * (charging_v - rest_v).abs()).hypot(spread_v(expected));
    let energy = |ah: Interval| {
        let half = (ah.half_width() * rest_v).hypot(ah.value * off_v);
        let value = ah.value * rest_v;
        Interval::new(value, value - half, value + half)
    };
    Some(match between_fulls(design, expected, charge) {
        Some(change) => Counted::by_charge(energy(change), net),
        None => Counted::by_loss(energy(throughout(design, in_ah, out_ah)), net),
    })
}

/// Half the range that the middle two thirds of the bank's voltages span, V.
fn spread_v(expected: &Expectation) -> f64 {
    let Some(volts) = &expected.signals.bank_v else {
        return 0.0;
    };
    let seen: Vec<f64> = (0..expected.grid.moments)
        .filter_map(|m| volts.mean(m))
        .collect();
    let ends = quantile(&seen, 1.0 / 6.0).zip(quantile(&seen, 5.0 / 6.0));
    ends.map_or(0.0, |(low, high)| (high - low) / 2.0)
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

/// The same with the whole log counted, where the bank was never full: unsure by what it loses.
fn throughout(design: &Design, in_ah: f64, out_ah: f64) -> Interval {
    let efficiency = bank::coulombic_efficiency(design.battery.chemistry);
    let half = in_ah * (efficiency.high - efficiency.low) / 2.0;
    let change = in_ah * efficiency.value - out_ah;
    Interval::new(change, change - half, change + half)
}
