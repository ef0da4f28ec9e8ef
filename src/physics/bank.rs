//! What is usual for a bank of each chemistry, and the arithmetic of charge.
//!
//! The constants are trade values of healthy banks; a data sheet overrides them. Currents are
//! positive into the bank, states of charge are shares from 0 to 1.

use crate::design::Chemistry;

/// A usual value with the range found in practice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Usual {
    /// Usual value.
    pub value: f64,
    /// Lower end of the range.
    pub low: f64,
    /// Upper end of the range.
    pub high: f64,
}

/// Ampere hours out for one put in, over whole cycles.
pub fn coulombic_efficiency(chemistry: Chemistry) -> Usual {
    match chemistry {
        Chemistry::Flooded => Usual {
            value: 0.88,
            low: 0.80,
            high: 0.92,
        },
        Chemistry::Agm | Chemistry::Gel => Usual {
            value: 0.94,
            low: 0.90,
            high: 0.97,
        },
        Chemistry::Lfp | Chemistry::Nmc => Usual {
            value: 0.995,
            low: 0.99,
            high: 0.999,
        },
    }
}

/// Watt hours out for one put in, over whole cycles.
pub fn energy_efficiency(chemistry: Chemistry) -> Usual {
    match chemistry {
        Chemistry::Flooded => Usual {
            value: 0.78,
            low: 0.70,
            high: 0.82,
        },
        Chemistry::Agm | Chemistry::Gel => Usual {
            value: 0.84,
            low: 0.78,
            high: 0.88,
        },
        Chemistry::Lfp | Chemistry::Nmc => Usual {
            value: 0.95,
            low: 0.92,
            high: 0.97,
        },
    }
}

/// Current at absorption voltage below which a bank counts as full, share of its 20 h capacity.
pub fn full_current_share(chemistry: Chemistry) -> Usual {
    match chemistry {
        Chemistry::Flooded => Usual {
            value: 0.02,
            low: 0.01,
            high: 0.03,
        },
        Chemistry::Agm | Chemistry::Gel => Usual {
            value: 0.01,
            low: 0.005,
            high: 0.02,
        },
        Chemistry::Lfp => Usual {
            value: 0.04,
            low: 0.02,
            high: 0.05,
        },
        Chemistry::Nmc => Usual {
            value: 0.04,
            low: 0.03,
            high: 0.05,
        },
    }
}

/// How long voltage and low current must hold before the charge counts as full, minutes.
pub fn full_hold_min(chemistry: Chemistry) -> f64 {
    if chemistry.is_lead() { 30.0 } else { 5.0 }
}

/// Shortest time at absorption voltage that usually fills a bank, minutes.
pub fn absorption_min(chemistry: Chemistry) -> f64 {
    match chemistry {
        Chemistry::Flooded | Chemistry::Gel => 120.0,
        Chemistry::Agm => 60.0,
        Chemistry::Lfp | Chemistry::Nmc => 10.0,
    }
}

/// Usual absorption voltage of a cell at 25 C, V, lowest and highest.
pub fn absorption_cell_v(chemistry: Chemistry) -> (f64, f64) {
    match chemistry {
        Chemistry::Flooded => (14.4 / 6.0, 14.8 / 6.0),
        Chemistry::Agm => (14.2 / 6.0, 14.7 / 6.0),
        Chemistry::Gel => (13.8 / 6.0, 14.4 / 6.0),
        Chemistry::Lfp => (3.50, 3.65),
        Chemistry::Nmc => (4.10, 4.20),
    }
}

/// Lowest voltage of a cell that only a controller holds, V, while it takes hardly any current: the lower
/// end of float for lead (trade reference 6.1), a little above the rest voltage of a full cell for lithium.
pub fn least_held_cell_v(chemistry: Chemistry) -> f64 {
    match chemistry {
        Chemistry::Flooded | Chemistry::Agm | Chemistry::Gel => 2.2,
        Chemistry::Lfp => 3.40,
        Chemistry::Nmc => 4.0,
    }
}

/// Highest voltage a cell bears in any charging stage, V: equalising for flooded lead, absorption
/// for the sealed kinds, the cell's own limit for lithium.
pub fn max_cell_v(chemistry: Chemistry) -> f64 {
    match chemistry {
        Chemistry::Flooded => 16.0 / 6.0,
        Chemistry::Agm => 14.7 / 6.0,
        Chemistry::Gel => 14.4 / 6.0,
        Chemistry::Lfp => 3.65,
        Chemistry::Nmc => 4.20,
    }
}

/// Lowest voltage a cell bears under load, V: the end of a capacity test for lead, the usual
/// cut-off of the protection for lithium.
pub fn min_cell_v(chemistry: Chemistry) -> f64 {
    match chemistry {
        Chemistry::Flooded | Chemistry::Agm | Chemistry::Gel => 10.5 / 6.0,
        Chemistry::Lfp => 2.5,
        Chemistry::Nmc => 3.0,
    }
}

/// Peukert's exponent.
pub fn peukert_exponent(chemistry: Chemistry) -> Usual {
    match chemistry {
        Chemistry::Flooded => Usual {
            value: 1.20,
            low: 1.15,
            high: 1.30,
        },
        Chemistry::Agm => Usual {
            value: 1.10,
            low: 1.05,
            high: 1.15,
        },
        Chemistry::Gel => Usual {
            value: 1.15,
            low: 1.10,
            high: 1.25,
        },
        Chemistry::Lfp | Chemistry::Nmc => Usual {
            value: 1.03,
            low: 1.00,
            high: 1.05,
        },
    }
}

/// Charge lost by standing, share of capacity a month at 25 C; it doubles for ten degrees.
pub fn self_discharge_month(chemistry: Chemistry) -> Usual {
    match chemistry {
        Chemistry::Flooded => Usual {
            value: 0.05,
            low: 0.03,
            high: 0.10,
        },
        _ => Usual {
            value: 0.02,
            low: 0.01,
            high: 0.03,
        },
    }
}

/// Internal resistance of a healthy bank measured seconds after a load step, mohm, lowest and
/// highest usual, by capacity (Ah) and nominal voltage (V): it grows with cells in series and falls
/// with capacity. Averages over minutes show two to four times as much.
pub fn internal_resistance_mohm(
    chemistry: Chemistry,
    capacity_ah: f64,
    nominal_v: f64,
) -> (f64, f64) {
    let (low, high) = match chemistry {
        Chemistry::Flooded => (4.0, 9.0),
        Chemistry::Agm => (3.0, 6.0),
        // Gel lies between the other two kinds of lead.
        Chemistry::Gel => (3.0, 9.0),
        Chemistry::Lfp | Chemistry::Nmc => (2.5, 8.0),
    };
    let scale = 100.0 / capacity_ah.clamp(1.0, 1e5) * nominal_v.clamp(1.0, 1000.0) / 12.0;
    (low * scale, high * scale)
}

/// Hours a bank lasts at a constant current (A) after Peukert: capacity (Ah) at its `rate_h` hour
/// rate and the exponent. Currents below a thousandth of the rated one are taken as that.
pub fn peukert_hours(capacity_ah: f64, rate_h: f64, exponent: f64, current_a: f64) -> f64 {
    let rated = (capacity_ah / rate_h.max(0.01)).max(1e-6);
    let ratio = (rated / current_a.max(rated / 1000.0)).clamp(1e-9, 1000.0);
    rate_h.max(0.01) * ratio.powf(exponent.clamp(1.0, 2.0))
}

/// Charge a bank gives at a constant current (A), Ah. The law promises too much below the rated
/// current, so no more than 1.05 times the rated capacity is given.
pub fn capacity_at_current_ah(capacity_ah: f64, rate_h: f64, exponent: f64, current_a: f64) -> f64 {
    let rated = (capacity_ah / rate_h.max(0.01)).max(1e-6);
    let current = current_a.max(rated / 1000.0);
    (current * peukert_hours(capacity_ah, rate_h, exponent, current)).min(1.05 * capacity_ah)
}

/// A capacity found between two known states of charge.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CapacityEstimate {
    /// Capacity, Ah.
    pub capacity_ah: f64,
    /// Its relative standard deviation.
    pub relative_sd: f64,
}

/// Capacity between two states of charge, from the charge drawn and put in meanwhile (Ah) and the
/// coulombic efficiency. The error joins 2 % of the net charge with the standard deviation of
/// either state of charge.
///
/// `None` without a fall in charge or without net discharge. Swings below 0.4 are given, but their
/// error is too large to judge a bank by.
pub fn capacity_between(
    ah_out: f64,
    ah_in: f64,
    efficiency: f64,
    soc_before: f64,
    soc_after: f64,
    soc_sd: f64,
) -> Option<CapacityEstimate> {
    let net = ah_out - efficiency * ah_in;
    let swing = soc_before - soc_after;
    if swing <= 0.0 || net <= 0.0 {
        return None;
    }
    let estimate = CapacityEstimate {
        capacity_ah: net / swing,
        relative_sd: 0.02_f64.hypot(std::f64::consts::SQRT_2 * soc_sd / swing),
    };
    (estimate.capacity_ah.is_finite() && estimate.relative_sd.is_finite()).then_some(estimate)
}

/// Resistance from one load step, ohm, and its standard deviation for a voltmeter's (V): voltage
/// and current before and after. `None` without a step.
pub fn step_resistance_ohm(
    before: (f64, f64),
    after: (f64, f64),
    meter_sd_v: f64,
) -> Option<(f64, f64)> {
    let step = before.1 - after.1;
    let resistance = (before.0 - after.0) / step;
    let sd = std::f64::consts::SQRT_2 * meter_sd_v / step.abs();
    (resistance.is_finite() && sd.is_finite()).then_some((resistance, sd))
}

/// How far an ampere-hour counter drifts from the truth, Ah, too high positive: offset of its
/// current (A) over days, and its set efficiency less the true one over the charge put in (Ah).
pub fn counter_drift_ah(
    offset_a: f64,
    days: f64,
    ah_in: f64,
    efficiency_set: f64,
    efficiency_true: f64,
) -> f64 {
    offset_a * 24.0 * days + (efficiency_set - efficiency_true) * ah_in
}

/// A charging voltage (V) as compensated for the bank's temperature (C), by volts per degree for
/// the whole bank (negative for lead), from 25 C.
pub fn compensated_v(setpoint_v: f64, v_per_c: f64, bank_c: f64) -> f64 {
    setpoint_v + v_per_c * (bank_c - 25.0)
}

/// The most that seems to flow through a pack whose protection has opened, A: a shunt's own zero, or a thousandth
/// of its capacity (Ah) an hour.
pub fn most_through_an_open_pack_a(capacity_ah: f64) -> f64 {
    0.15_f64.max(0.001 * capacity_ah)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const ALL: [Chemistry; 5] = [
        Chemistry::Lfp,
        Chemistry::Agm,
        Chemistry::Gel,
        Chemistry::Flooded,
        Chemistry::Nmc,
    ];

    #[test]
    fn every_usual_value_lies_in_its_range() {
        for chemistry in ALL {
            for usual in [
                coulombic_efficiency(chemistry),
                energy_efficiency(chemistry),
                full_current_share(chemistry),
                peukert_exponent(chemistry),
                self_discharge_month(chemistry),
            ] {
                assert!(
                    usual.low < usual.value && usual.value < usual.high,
                    "{chemistry:?}"
                );
            }
            assert!(energy_efficiency(chemistry).value < coulombic_efficiency(chemistry).value);
            assert!(min_cell_v(chemistry) < max_cell_v(chemistry));
        }
    }

    #[test]
    fn a_bigger_bank_resists_less_and_a_longer_one_more() {
        let (low, high) = internal_resistance_mohm(Chemistry::Agm, 200.0, 24.0);
        assert_eq!((low, high), (3.0, 6.0));
    }

    #[test]
    fn a_small_current_gets_hardly_more_than_the_label() {
        assert_eq!(capacity_at_current_ah(100.0, 20.0, 1.25, 0.5), 105.0);
        assert!((capacity_at_current_ah(100.0, 20.0, 1.25, 5.0) - 100.0).abs() < 1e-9);
    }

    #[test]
    fn cold_lead_wants_more_volts() {
        assert!((compensated_v(14.4, -0.024, 5.0) - 14.88).abs() < 1e-12);
        assert_eq!(compensated_v(14.2, 0.0, -10.0), 14.2);
    }

    proptest! {
        #[test]
        fn nothing_is_ever_not_a_number(
            a in proptest::num::f64::NORMAL, b in proptest::num::f64::NORMAL, c in -1e6..1e6f64,
        ) {
            prop_assert!(peukert_hours(c, b, a, b).is_finite());
            prop_assert!(capacity_at_current_ah(c, a, b, c).is_finite());
            for chemistry in ALL {
                let (low, high) = internal_resistance_mohm(chemistry, a, b);
                prop_assert!(low.is_finite() && low <= high);
            }
            if let Some(found) = capacity_between(a, b, c, c, b, a) {
                prop_assert!(found.capacity_ah.is_finite());
            }
            if let Some((r, sd)) = step_resistance_ohm((a, b), (c, c), 0.01) {
                prop_assert!(r.is_finite() && sd.is_finite());
            }
        }
    }
}
