//! The bank: open-circuit voltage by charge, ohmic drop, one slow overvoltage, charge losses.

use super::scenario::{BankSpec, Faults};
use crate::design::Chemistry;

/// Cell voltage at rest by state of charge, and how it falls away below empty. Beyond both ends the
/// last slope goes on.
fn curve(chemistry: Chemistry) -> &'static [(f64, f64)] {
    match chemistry {
        Chemistry::Lfp => &[
            (0.0, 2.60),
            (0.03, 3.00),
            (0.09, 3.18),
            (0.20, 3.245),
            (0.35, 3.285),
            (0.60, 3.302),
            (0.72, 3.328),
            (0.95, 3.345),
            (0.98, 3.368),
            (0.99, 3.405),
            (1.0, 3.64),
        ],
        Chemistry::Nmc => &[
            (-0.03, 2.5),
            (0.0, 3.0),
            (0.1, 3.43),
            (0.5, 3.68),
            (0.8, 3.91),
            (1.0, 4.18),
        ],
        Chemistry::Agm => &[
            (-0.03, 1.70),
            (0.0, 1.95),
            (0.25, 2.01),
            (0.5, 2.06),
            (0.75, 2.105),
            (1.0, 2.145),
        ],
        Chemistry::Gel => &[
            (-0.03, 1.70),
            (0.0, 1.95),
            (0.25, 2.01),
            (0.5, 2.06),
            (0.75, 2.10),
            (1.0, 2.14),
        ],
        Chemistry::Flooded => &[
            (-0.03, 1.68),
            (0.0, 1.93),
            (0.25, 1.99),
            (0.5, 2.04),
            (0.75, 2.085),
            (1.0, 2.12),
        ],
    }
}

/// A point of a curve of straight pieces, the ends prolonged.
fn along(points: &[(f64, f64)], x: f64) -> f64 {
    let i = points
        .partition_point(|p| p.0 <= x)
        .clamp(1, points.len() - 1);
    let ((x0, y0), (x1, y1)) = (points[i - 1], points[i]);
    y0 + (y1 - y0) * (x - x0) / (x1 - x0)
}

/// State of the bank.
#[derive(Debug, Clone)]
pub(super) struct Bank {
    spec: BankSpec,
    /// True state of charge, share.
    pub(super) soc: f64,
    /// Slow overvoltage, V.
    slow_v: f64,
    /// Current turned to gas at 2.4 V a cell and 25 C, A.
    gassing_a: f64,
    /// Share of a charging current that leaks away.
    leak: f64,
    /// Current turned to gas now, A.
    pub(super) gas_a: f64,
}

/// What one step did to the bank's energy, J.
#[derive(Debug, Clone, Copy)]
pub(super) struct BankStep {
    /// Change of stored energy.
    pub(super) stored_j: f64,
    /// Turned to heat or gas.
    pub(super) lost_j: f64,
    /// Heat of the gassing, W: it warms the bank.
    pub(super) gas_w: f64,
}

impl Bank {
    /// At the start of a trip.
    pub(super) fn new(spec: &BankSpec, faults: &Faults) -> Self {
        Self {
            soc: spec.start_soc,
            slow_v: 0.0,
            gassing_a: faults.gassing_a.unwrap_or(0.0),
            leak: faults.leak.unwrap_or(0.0),
            gas_a: 0.0,
            spec: spec.clone(),
        }
    }

    /// Terminal voltage at rest, V.
    pub(super) fn rest_v(&self) -> f64 {
        f64::from(self.spec.cells) * along(curve(self.spec.chemistry), self.soc)
    }

    /// Resistance behind the slow overvoltage, ohm, and how fast it settles, s. Lead that charges
    /// takes less and less as it fills: that is the taper.
    fn slow(&self, charging: bool) -> (f64, f64) {
        if !self.spec.chemistry.is_lead() {
            return (0.9 * self.spec.r0_ohm, 180.0);
        }
        if !charging {
            return (1.2 * self.spec.r0_ohm, 400.0);
        }
        let span_v = 0.28 * f64::from(self.spec.cells);
        let left = (1.0 - self.soc).max(0.0012);
        (0.55 * span_v / (left * self.spec.true_ah), 300.0)
    }

    /// Voltage and resistance of the straight line the bank shows over the next `dt_s`:
    /// terminal voltage = first + second x current. The slow part is taken at the step's end,
    /// which stays calm however stiff it is.
    pub(super) fn line(&self, dt_s: f64, charging: bool) -> (f64, f64) {
        let (ohm, settle_s) = self.slow(charging);
        let k = 1.0 - (-dt_s / settle_s).exp();
        let ohm = self.spec.r0_ohm + k * ohm;
        // What turns to gas flows beside the cells' own path.
        (
            self.rest_v() + self.slow_v * (1.0 - k) - ohm * self.gas_a,
            ohm,
        )
    }

    /// Share of a charging current that is stored.
    pub(super) fn stored_share(&self) -> f64 {
        // The last few percent of lead: less and less of the current is stored.
        let last = match self.spec.chemistry {
            Chemistry::Lfp | Chemistry::Nmc => 1.0,
            Chemistry::Agm | Chemistry::Gel => ((1.0 - self.soc) / 0.02).clamp(0.0, 1.0),
            Chemistry::Flooded => ((1.0 - self.soc) / 0.03).clamp(0.0, 1.0),
        };
        self.spec.sound_share * last * (1.0 - self.leak)
    }

    /// Current turned to gas at a terminal voltage and a temperature, A: tenfold for 0.15 V a cell,
    /// twofold for 10 degrees.
    fn gassing(&self, volts: f64, battery_c: f64) -> f64 {
        if self.gassing_a <= 0.0 {
            return 0.0;
        }
        let cell_v = volts / f64::from(self.spec.cells);
        self.gassing_a * 10f64.powf((cell_v - 2.4) / 0.15) * 2f64.powf((battery_c - 25.0) / 10.0)
    }

    /// Carries `amps` (into the bank positive) for `dt_s` at terminal voltage `volts`.
    pub(super) fn advance(&mut self, amps: f64, volts: f64, battery_c: f64, dt_s: f64) -> BankStep {
        let rest = self.rest_v();
        let inner = amps - self.gas_a;
        let (ohm, settle_s) = self.slow(inner > 0.0);
        let k = 1.0 - (-dt_s / settle_s).exp();
        self.slow_v += k * (inner * ohm - self.slow_v);
        let share = if inner > 0.0 {
            self.stored_share()
        } else {
            1.0
        };
        let charge_as = inner * share * dt_s;
        // Below empty the voltage falls away, so hardly anything comes from there.
        self.soc = (self.soc + charge_as / 3600.0 / self.spec.true_ah).max(-0.05);
        let stored_j = rest * charge_as;
        let gas_w = self.gas_a * volts;
        self.gas_a = self.gassing(volts, battery_c);
        BankStep {
            stored_j,
            lost_j: volts * amps * dt_s - stored_j,
            gas_w,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rest_voltage_rises_with_charge_for_every_chemistry() {
        for chemistry in [
            Chemistry::Lfp,
            Chemistry::Nmc,
            Chemistry::Agm,
            Chemistry::Gel,
            Chemistry::Flooded,
        ] {
            let points = curve(chemistry);
            for step in -4..=110 {
                let (a, b) = (f64::from(step - 1) / 100.0, f64::from(step) / 100.0);
                assert!(along(points, b) > along(points, a), "{chemistry:?} at {b}");
            }
        }
    }
}
