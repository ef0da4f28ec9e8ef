//! Resistance of copper and aluminium conductors.

use crate::design::{Material, WireSize};

/// Resistance of a run in mohm: both conductors, or one where the chassis is the return, from
/// resistivity and nominal cross-section at a temperature.
pub fn resistance_mohm(
    length_m: f64,
    size: WireSize,
    material: Material,
    temperature_c: f64,
    one_conductor: bool,
) -> f64 {
    let area_mm2 = match size {
        WireSize::Metric(area) => area,
        WireSize::Awg(gauge) => {
            let diameter = 0.127 * 92_f64.powf((36.0 - f64::from(gauge)) / 39.0);
            std::f64::consts::FRAC_PI_4 * diameter * diameter
        }
    };
    let (per_km, alpha) = match material {
        Material::Copper => (17.241, 0.003_93),
        Material::Aluminium => (28.264, 0.004_03),
        Material::CopperCladAluminium => (25.862, 0.004_03),
    };
    let conductors = if one_conductor { 1.0 } else { 2.0 };
    conductors * length_m * per_km / area_mm2 * (1.0 + alpha * (temperature_c - 20.0))
}
