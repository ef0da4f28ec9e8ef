//! What labels and trade say of a system's parts: limits of banks, drops and currents of a design.

use super::scenario::{ArraySpec, BankSpec, Scenario};
use crate::design::Chemistry;

/// Drop in the array's cable a design may have where it states none, percent of the string's Vmp.
pub(super) const ARRAY_DROP_LIMIT_PCT: f64 = 3.0;

impl ArraySpec {
    /// Short-circuit current of all strings, A.
    pub(super) fn short_circuit_a(&self) -> f64 {
        self.panel.isc_a * f64::from(self.strings)
    }
}

impl BankSpec {
    /// Nominal voltage over 12 V.
    pub(super) fn units(&self) -> f64 {
        f64::from(self.cells) / if self.chemistry.is_lead() { 6.0 } else { 4.0 }
    }

    /// The most resistance a healthy bank of this kind has, ohm (trade reference 6.8, for 100 Ah and
    /// 12 V: lithium 8 mohm, AGM and gel 6, flooded 9).
    pub(super) fn highest_usual_ohm(&self) -> f64 {
        let for_100_ah = match self.chemistry {
            Chemistry::Lfp | Chemistry::Nmc => 0.008,
            Chemistry::Agm | Chemistry::Gel => 0.006,
            Chemistry::Flooded => 0.009,
        };
        for_100_ah * self.units() * 100.0 / self.rated_ah
    }

    /// The low end of what a healthy bank gives back of its charge (trade reference 6.5).
    pub(super) fn lowest_usual_efficiency(&self) -> f64 {
        match self.chemistry {
            Chemistry::Lfp | Chemistry::Nmc => 0.99,
            Chemistry::Agm | Chemistry::Gel => 0.90,
            Chemistry::Flooded => 0.80,
        }
    }

    /// The highest usual charge voltage at a temperature, V (trade reference 6.1; lead takes less where
    /// it is warm).
    pub(super) fn highest_usual_v(&self, battery_c: f64) -> f64 {
        let (cell_v, per_degree) = match self.chemistry {
            Chemistry::Lfp => (3.65, 0.0),
            Chemistry::Nmc => (4.20, 0.0),
            Chemistry::Agm => (2.45, 0.004),
            Chemistry::Gel => (2.40, 0.004),
            Chemistry::Flooded => (2.50, 0.004),
        };
        f64::from(self.cells) * (cell_v - per_degree * (battery_c - 25.0))
    }

    /// What may leak besides and leave it at that low end, share.
    pub(super) fn usual_leak(&self) -> f64 {
        1.0 - self.lowest_usual_efficiency() / self.sound_share
    }

    /// Voltage below which its cells must not go, V.
    pub(super) fn cell_limit_v(&self) -> f64 {
        let cell_v = match self.chemistry {
            Chemistry::Lfp => 2.5,
            Chemistry::Nmc => 3.0,
            Chemistry::Agm | Chemistry::Gel | Chemistry::Flooded => 1.75,
        };
        cell_v * f64::from(self.cells)
    }

    /// Between which temperatures it may be charged, C.
    pub(super) fn charge_limits_c(&self) -> (f64, f64) {
        if self.chemistry.is_lead() {
            (-15.0, 45.0)
        } else {
            (0.0, 45.0)
        }
    }
}

impl Scenario {
    /// Drop in the array's cable at the strings' best current, percent of the string's Vmp.
    pub(super) fn array_drop_pct(&self) -> f64 {
        let panel = &self.array.panel;
        let amps = panel.imp_a * f64::from(self.array.strings);
        let volts = panel.vmp_v * f64::from(self.array.series);
        100.0 * amps * self.run_ohm("array-controller") / volts
    }

    /// Open voltage of a string in the record cold, V.
    pub(super) fn cold_voc_v(&self) -> f64 {
        let panel = &self.array.panel;
        let cold = 1.0 + panel.voc_per_degree * (self.record_low_c - 25.0);
        f64::from(self.array.series) * panel.voc_v * cold
    }

    /// Current of the array and the controller's limit it passes, A: a switching controller must
    /// bear 1.25 times the short-circuit current, an input what its label says.
    pub(super) fn undersized_controller(&self) -> Option<(f64, f64)> {
        let amps = self.array.short_circuit_a();
        let rated = self.controller.max_output_a;
        let input = self.controller.max_input_a.filter(|limit| amps > *limit);
        input
            .map(|limit| (amps, limit))
            .or((self.controller.pwm && 1.25 * amps > rated).then_some((1.25 * amps, rated)))
    }

    /// A run that carries more than its stated ampacity: the run, its current and the ampacity, A.
    pub(super) fn undersized_cable(&self) -> Option<(&'static str, f64, f64)> {
        self.cables.iter().find_map(|cable| {
            let amps = match cable.run {
                "array-controller" => self.array.short_circuit_a(),
                "controller-battery" => self.controller.max_output_a,
                _ => return None,
            };
            let ampacity = cable.ampacity_a.filter(|a| amps > *a)?;
            Some((cable.run, amps, ampacity))
        })
    }

    /// A fuse above its cable's ampacity: the run, the fuse and the ampacity, A.
    pub(super) fn unsuitable_fuse(&self) -> Option<(&'static str, f64, f64)> {
        self.cables.iter().find_map(|cable| {
            let (fuse, ampacity) = (cable.fuse_a?, cable.ampacity_a?);
            (fuse > ampacity).then_some((cable.run, fuse, ampacity))
        })
    }
}
