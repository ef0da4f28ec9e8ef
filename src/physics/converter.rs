//! What reaches the bank's side of a charge controller.

use super::panel::Curve;

/// What a controller itself draws where nothing is known, A (0.001 to 0.2).
pub const SELF_USE_A: f64 = 0.015;
/// Conversion and tracking of an MPPT controller where the design does not say, share.
pub const DEFAULT_EFFICIENCY: f64 = 0.95;
/// Volts lost in a PWM controller's switch and leads where nothing is known (0.2 to 0.7).
pub const PWM_DROP_V: f64 = 0.3;

/// Output of an MPPT controller, W, from the array's best power (W), its efficiency (share), its
/// highest charging current (A) if known, and the bank's voltage (V).
pub fn mppt_output_w(array_w: f64, efficiency: f64, max_output_a: Option<f64>, bank_v: f64) -> f64 {
    let free = array_w.max(0.0) * efficiency.clamp(0.0, 1.0);
    max_output_a.map_or(free, |limit| free.min((limit * bank_v).max(0.0)))
}

/// Output of a PWM controller, W: each string of the given curve sits at the bank's voltage and
/// the controller's drop (V), and its current flows at the bank's voltage.
pub fn pwm_output_w(
    curve: &Curve,
    g_wm2: f64,
    cell_c: f64,
    bank_v: f64,
    drop_v: f64,
    strings: u32,
) -> f64 {
    let current = curve.current_at(bank_v + drop_v, g_wm2, cell_c) * f64::from(strings);
    (current * bank_v).max(0.0)
}

/// Current a controller must be able to give, A: array power (W) over the bank's voltage (V).
/// Zero where there is no voltage.
pub fn needed_output_a(array_w: f64, bank_v: f64) -> f64 {
    if bank_v > 0.0 && array_w.is_finite() {
        (array_w / bank_v).clamp(0.0, 1e9)
    } else {
        0.0
    }
}

/// Share of the array's peak (W) that a limit (A) at a bank voltage (V) cuts off.
pub fn peak_cut(array_w: f64, bank_v: f64, limit_a: f64) -> f64 {
    let needed = needed_output_a(array_w, bank_v);
    if needed > limit_a.max(0.0) {
        1.0 - limit_a.max(0.0) / needed
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_is_a_current_so_a_low_bank_limits_sooner() {
        assert_eq!(mppt_output_w(400.0, 0.95, None, 12.5), 380.0);
        assert_eq!(mppt_output_w(400.0, 0.95, Some(30.0), 12.5), 375.0);
        assert_eq!(mppt_output_w(400.0, 0.95, Some(30.0), 14.0), 380.0);
        assert_eq!(mppt_output_w(-5.0, 0.95, Some(30.0), 14.0), 0.0);
    }

    #[test]
    fn direct_coupling_gives_less_to_a_flat_bank() {
        let curve = Curve::new(18.2, 5.5, 22.3, 5.9, -0.003, 0.0005);
        let Some(curve) = curve else {
            panic!("sound data")
        };
        let at = |v| pwm_output_w(&curve, 800.0, 45.0, v, PWM_DROP_V, 2);
        assert!(at(12.0) < at(13.5));
        assert_eq!(pwm_output_w(&curve, 0.0, 45.0, 13.0, 0.3, 2), 0.0);
        assert_eq!(at(40.0), 0.0);
    }
}
