//! What an array makes of the light on its cells.

use super::cell::BRIGHTEST_WM2;

/// Thermal voltage of a junction at 25 C, V.
const THERMAL_V: f64 = 0.0257;
/// Ideality of a crystalline junction.
const IDEALITY: f64 = 1.2;
/// Open-circuit voltage of one crystalline cell, V, by which cells are counted.
const CELL_VOC_V: f64 = 0.62;
/// Short-circuit current per degree where the data sheet does not say, share.
pub const DEFAULT_ISC_PER_DEGREE: f64 = 0.0005;

/// Efficiency at an irradiance (W/m2) relative to full sun: `1 + 0.03 ln(G/1000)`, held at 0.9 to 1.
pub fn low_light_factor(irradiance_wm2: f64) -> f64 {
    if irradiance_wm2 <= 0.0 {
        return 0.9;
    }
    (1.0 + 0.03 * (irradiance_wm2 / 1000.0).ln()).clamp(0.9, 1.0)
}

/// Cell temperature that labels are printed for, C.
pub const LABEL_C: f64 = 25.0;

/// Power of an array at its best voltage, W: label power (W), irradiance that reaches the cells
/// (W/m2), cell temperature (C), power per degree (share, negative).
pub fn mpp_power_w(power_w: f64, g_eff_wm2: f64, cell_c: f64, power_per_degree: f64) -> f64 {
    let sun = g_eff_wm2.clamp(0.0, BRIGHTEST_WM2) / 1000.0;
    power_w * sun * heat_factor(cell_c, power_per_degree) * low_light_factor(g_eff_wm2)
}

/// Power at a cell temperature (C) relative to 25 C, held between -150 and 200 C; never below
/// zero.
pub fn heat_factor(cell_c: f64, power_per_degree: f64) -> f64 {
    (1.0 + power_per_degree * (cell_c.clamp(-150.0, 200.0) - LABEL_C)).max(0.0)
}

/// A current-voltage curve through the four points of a data sheet, for arrays that the bank pulls
/// to its own voltage. The textbook's explicit form
/// `I = Isc [1 - C1 (exp(V / (C2 Voc)) - 1)]`; current scales with light and voltage with heat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Curve {
    vmp_v: f64,
    imp_a: f64,
    voc_v: f64,
    isc_a: f64,
    voc_per_degree: f64,
    isc_per_degree: f64,
    cells: f64,
}

/// The curve's corner values under given light and heat.
struct Corner {
    voc_v: f64,
    isc_a: f64,
    /// Knee of the exponential, V.
    knee_v: f64,
}

impl Curve {
    /// A curve from a data sheet at standard conditions: voltage and current at maximum power
    /// (V, A), open-circuit voltage (V), short-circuit current (A), and the last two per degree
    /// (shares). Cells in series are counted from the open-circuit voltage.
    ///
    /// `None` where no panel can have these values: each must be positive and the first two below
    /// the last two.
    pub fn new(
        vmp_v: f64,
        imp_a: f64,
        voc_v: f64,
        isc_a: f64,
        voc_per_degree: f64,
        isc_per_degree: f64,
    ) -> Option<Curve> {
        let sound = vmp_v > 0.0 && imp_a > 0.0 && vmp_v < voc_v && imp_a < isc_a;
        let finite = [vmp_v, imp_a, voc_v, isc_a, voc_per_degree, isc_per_degree]
            .iter()
            .all(|v| v.is_finite());
        let cells = (voc_v / CELL_VOC_V).round().max(1.0);
        (sound && finite).then_some(Curve {
            vmp_v,
            imp_a,
            voc_v,
            isc_a,
            voc_per_degree,
            isc_per_degree,
            cells,
        })
    }

    /// The curve of several such panels in series.
    #[must_use]
    pub fn in_series(self, panels: u32) -> Curve {
        let n = f64::from(panels.max(1));
        Curve {
            vmp_v: self.vmp_v * n,
            voc_v: self.voc_v * n,
            cells: self.cells * n,
            ..self
        }
    }

    /// `None` in the dark, or where heat or dimness leave no voltage.
    fn corner(&self, g_wm2: f64, cell_c: f64) -> Option<Corner> {
        if g_wm2 <= 0.0 {
            return None;
        }
        let g_wm2 = g_wm2.min(BRIGHTEST_WM2);
        let warm = cell_c.clamp(-100.0, 200.0) - 25.0;
        let dim = self.cells * IDEALITY * THERMAL_V * (g_wm2 / 1000.0).ln();
        let voc_v = self.voc_v * (1.0 + self.voc_per_degree * warm) + dim;
        let isc_a = self.isc_a * g_wm2 / 1000.0 * (1.0 + self.isc_per_degree * warm);
        if voc_v <= 0.0 || isc_a <= 0.0 || !voc_v.is_finite() || !isc_a.is_finite() {
            return None;
        }
        let knee = (self.vmp_v / self.voc_v - 1.0) / (1.0 - self.imp_a / self.isc_a).ln();
        Some(Corner {
            voc_v,
            isc_a,
            knee_v: knee * voc_v,
        })
    }

    /// Current at a voltage (V), under light (W/m2) and at a cell temperature (C), A; never
    /// negative.
    pub fn current_at(&self, v: f64, g_wm2: f64, cell_c: f64) -> f64 {
        self.corner(g_wm2, cell_c)
            .map_or(0.0, |corner| self.current(&corner, v))
    }

    fn current(&self, corner: &Corner, v: f64) -> f64 {
        if v >= corner.voc_v {
            return 0.0;
        }
        let best = self.vmp_v * corner.voc_v / self.voc_v;
        let gap = 1.0 - self.imp_a / self.isc_a;
        // C1 is multiplied out: with a sharp knee it underflows while the exponential overflows.
        let lost =
            gap * (((v.max(0.0) - best) / corner.knee_v).exp() - (-best / corner.knee_v).exp());
        (corner.isc_a * (1.0 - lost)).max(0.0)
    }

    /// Voltage and power at the best point, V and W; zeros in the dark.
    pub fn best_point(&self, g_wm2: f64, cell_c: f64) -> (f64, f64) {
        let Some(corner) = self.corner(g_wm2, cell_c) else {
            return (0.0, 0.0);
        };
        let power = |v: f64| v * self.current(&corner, v);
        // The current falls ever faster with voltage, so power has one summit: golden section.
        let ratio = 1.0 / (0.5 + 1.25_f64.sqrt());
        let (mut low, mut high) = (0.0, corner.voc_v);
        for _ in 0..60 {
            let span = (high - low) * ratio;
            if power(high - span) < power(low + span) {
                low = high - span;
            } else {
                high = low + span;
            }
        }
        let v = f64::midpoint(low, high);
        (v, power(v))
    }

    /// Greatest power under light (W/m2) at a cell temperature (C), W.
    pub fn max_power(&self, g_wm2: f64, cell_c: f64) -> f64 {
        self.best_point(g_wm2, cell_c).1
    }
}

/// Open-circuit voltage of a string in the cold, V: panels' open-circuit voltage (V), panels in
/// series, voltage per degree (share, negative), lowest cell temperature (C).
pub fn string_voltage_v(voc_v: f64, in_series: u32, voc_per_degree: f64, cell_c: f64) -> f64 {
    voc_v * f64::from(in_series) * heat_factor(cell_c, voc_per_degree)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn the_curve_meets_its_data_sheet() {
        let curve = Curve::new(18.2, 5.5, 22.3, 5.9, -0.003, 0.0005);
        let Some(curve) = curve else {
            panic!("sound data")
        };
        assert!((curve.current_at(0.0, 1000.0, 25.0) - 5.9).abs() < 1e-6);
        assert!((curve.current_at(18.2, 1000.0, 25.0) - 5.5).abs() < 0.01);
        assert!(curve.current_at(22.29, 1000.0, 25.0) < 0.1);
        assert_eq!(curve.current_at(22.3, 1000.0, 25.0), 0.0);
        let two = curve.in_series(2);
        assert!((two.max_power(700.0, 40.0) / curve.max_power(700.0, 40.0) - 2.0).abs() < 1e-6);
    }

    #[test]
    fn impossible_data_sheets_give_no_curve() {
        assert_eq!(Curve::new(23.0, 5.5, 22.3, 5.9, -0.003, 0.0005), None);
        assert_eq!(Curve::new(18.0, 6.0, 22.3, 5.9, -0.003, 0.0005), None);
        assert_eq!(Curve::new(18.0, 0.0, 22.3, 5.9, -0.003, 0.0005), None);
        assert_eq!(
            Curve::new(18.0, 5.5, f64::INFINITY, 5.9, -0.003, 0.0005),
            None
        );
    }

    #[test]
    fn low_light_costs_at_most_a_tenth() {
        assert_eq!(low_light_factor(1000.0), 1.0);
        assert_eq!(low_light_factor(1.0), 0.9);
        assert!((low_light_factor(200.0) - (1.0 - 0.03 * 5.0_f64.ln())).abs() < 1e-12);
        assert_eq!(low_light_factor(1000.0 * std::f64::consts::E), 1.0);
        assert_eq!(mpp_power_w(200.0, 0.0, -5.0, -0.0035), 0.0);
        assert_eq!(mpp_power_w(200.0, 1000.0, 25.0, -0.0035), 200.0);
    }

    proptest! {
        #[test]
        fn the_best_point_beats_every_other_and_nothing_is_ever_not_a_number(
            vmp in 5.0..50.0f64, over in 1.001..1.5f64, imp in 0.1..20.0f64, more in 1.0001..1.3f64,
            g in -10.0..1500.0f64, cell in -40.0..95.0f64, v in 0.0..80.0f64,
            wild in proptest::num::f64::NORMAL,
        ) {
            if let Some(curve) = Curve::new(vmp, imp, vmp * over, imp * more, -0.003, 0.0005) {
                let best = curve.max_power(g, cell);
                prop_assert!(best.is_finite() && best >= 0.0);
                prop_assert!(v * curve.current_at(v, g, cell) <= best * (1.0 + 1e-6) + 1e-9);
                prop_assert!(curve.current_at(wild, wild, wild).is_finite());
                prop_assert!(curve.max_power(wild, cell).is_finite());
            }
        }
    }
}
