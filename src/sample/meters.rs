//! What instruments make of the truth: gains, offsets, noise, resolution, and a charge counter
//! with a rule of its own for "full".

use super::dice::Dice;
use super::scenario::Scenario;
use super::wrong::FalseFull;
use crate::design::Chemistry;

/// Rounds to a resolution; never `-0`.
pub(super) fn rounded(value: f64, steps_per_unit: f64) -> f64 {
    (value * steps_per_unit).round() / steps_per_unit + 0.0
}

/// The charge counter of a bank monitor.
#[derive(Debug, Clone)]
pub(super) struct Counter {
    ah: f64,
    capacity_ah: f64,
    efficiency: f64,
    full_v: f64,
    full_a: f64,
    needed_s: f64,
    /// It looks for "full" from this count on, Ah.
    from_ah: f64,
    held_s: f64,
}

impl Counter {
    /// As the owner set it; a `false_full` fault sets it badly.
    pub(super) fn new(scenario: &Scenario) -> Self {
        let bank = &scenario.bank;
        let units = scenario.nominal_v / 12.0;
        // Where voltage rises all the way, a fifth of a volt is several percent of charge.
        let below_v = if bank.chemistry == Chemistry::Nmc {
            0.05
        } else {
            0.2
        };
        let rule = scenario.faults.false_full.unwrap_or(FalseFull {
            volts: scenario.controller.absorption_v - below_v * units,
            current_share: bank.full_current,
            minutes: if bank.chemistry.is_lead() { 30.0 } else { 6.0 },
            from_points: 100.0,
        });
        Self {
            ah: bank.start_soc.min(1.0) * bank.rated_ah,
            capacity_ah: bank.rated_ah,
            efficiency: if bank.chemistry.is_lead() { 0.93 } else { 0.99 },
            full_v: rule.volts,
            full_a: rule.current_share * bank.rated_ah,
            needed_s: rule.minutes * 60.0,
            from_ah: (1.0 - rule.from_points / 100.0) * bank.rated_ah,
            held_s: 0.0,
        }
    }

    /// Counts `dt_s` of a measured current at a measured voltage. Returns the points jumped where
    /// it called the bank full.
    pub(super) fn count(&mut self, volts: f64, amps: f64, dt_s: f64) -> Option<f64> {
        let share = if amps > 0.0 { self.efficiency } else { 1.0 };
        self.ah = (self.ah + amps * share * dt_s / 3600.0).clamp(0.0, self.capacity_ah);
        let holds =
            volts >= self.full_v && (0.0..=self.full_a).contains(&amps) && self.ah >= self.from_ah;
        self.held_s = if holds { self.held_s + dt_s } else { 0.0 };
        if self.held_s < self.needed_s || self.ah >= self.capacity_ah {
            return None;
        }
        let jumped = 100.0 - self.soc_pct();
        self.ah = self.capacity_ah;
        Some(jumped)
    }

    /// What it shows, percent.
    pub(super) fn soc_pct(&self) -> f64 {
        100.0 * self.ah / self.capacity_ah
    }
}

/// Gains and offsets that stay through a trip.
#[derive(Debug, Clone)]
pub(super) struct Meters {
    shunt_gain: f64,
    shunt_offset_a: f64,
    /// -1 where discharge is logged as positive.
    shunt_sign: f64,
    bank_gain: f64,
    controller_gain: f64,
    apart_v: f64,
    /// Volts of noise (a standard deviation).
    noise_v: f64,
    noise_a: f64,
}

impl Meters {
    /// The meters of a case.
    pub(super) fn new(scenario: &Scenario) -> Self {
        let (shunt, bank, controller) = scenario.logging.gains;
        Self {
            shunt_gain: 1.0 + shunt + scenario.faults.shunt_gain.unwrap_or(0.0),
            shunt_offset_a: scenario.faults.shunt_offset_a.unwrap_or(0.0),
            shunt_sign: if scenario.faults.shunt_reversed {
                -1.0
            } else {
                1.0
            },
            bank_gain: 1.0 + bank,
            controller_gain: 1.0 + controller,
            apart_v: scenario.logging.volts_apart
                - scenario.faults.controller_reads_low_v.unwrap_or(0.0),
            noise_v: 0.004 * scenario.nominal_v / 12.0,
            noise_a: 0.02,
        }
    }

    /// The shunt's current without noise, A.
    pub(super) fn shunt(&self, amps: f64) -> f64 {
        amps * self.shunt_gain + self.shunt_offset_a
    }

    /// Bank voltage and current as shown.
    pub(super) fn bank(&self, volts: f64, amps: f64, dice: &mut Dice) -> (f64, f64) {
        let v = volts * self.bank_gain + self.noise_v * dice.normal();
        let a = self.shunt(amps) + self.noise_a * dice.normal();
        (rounded(v, 100.0), rounded(self.shunt_sign * a, 100.0))
    }

    /// The loads' current as the controller's load terminals show it, A.
    pub(super) fn loads(&self, amps: f64, dice: &mut Dice) -> f64 {
        rounded((amps + self.noise_a * dice.normal()).max(0.0), 100.0)
    }

    /// Controller output voltage and current as shown.
    pub(super) fn output(&self, volts: f64, amps: f64, dice: &mut Dice) -> (f64, f64) {
        let v = volts * self.controller_gain + self.apart_v + self.noise_v * dice.normal();
        let noise = self.noise_a * dice.normal();
        let a = if amps > 0.0 {
            (amps + noise).max(0.0)
        } else {
            0.0
        };
        (rounded(v, 100.0), rounded(a, 10.0))
    }

    /// Array voltage, current and power as shown.
    pub(super) fn array(&self, volts: f64, amps: f64, dice: &mut Dice) -> (f64, f64, f64) {
        let v = (volts * self.controller_gain + self.noise_v * dice.normal()).max(0.0);
        let noise = self.noise_a * dice.normal();
        let a = if amps > 0.0 {
            (amps + noise).max(0.0)
        } else {
            0.0
        };
        (rounded(v, 100.0), rounded(a, 100.0), rounded(v * a, 10.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounding_never_gives_minus_zero() {
        assert_eq!(format!("{:.2}", rounded(-0.001, 100.0)), "0.00");
        assert_eq!(rounded(13.456, 100.0), 13.46);
    }
}
