//! What a cable run resists, and what that costs.
//!
//! Metric copper goes by the greatest resistance IEC 60228 allows a flexible (class 5) conductor
//! of that name, because "mm2" names a class and not a measured area: resistivity over nominal area
//! would promise 10 to 16 % too little. Metric aluminium goes by the class 2 values of the same
//! standard. Gauge sizes go by the geometry of ASTM B258 as a solid conductor; strands add about
//! 2 %, which is inside what joints leave uncertain.

use crate::design::{Material, WireSize};

/// Nominal mm2 against ohm/km at 20 C: IEC 60228, class 5, plain copper.
const COPPER_CLASS_5: [(f64, f64); 18] = [
    (0.5, 39.0),
    (0.75, 26.0),
    (1.0, 19.5),
    (1.5, 13.3),
    (2.5, 7.98),
    (4.0, 4.95),
    (6.0, 3.30),
    (10.0, 1.91),
    (16.0, 1.21),
    (25.0, 0.780),
    (35.0, 0.554),
    (50.0, 0.386),
    (70.0, 0.272),
    (95.0, 0.206),
    (120.0, 0.161),
    (150.0, 0.129),
    (185.0, 0.106),
    (240.0, 0.0801),
];

/// Nominal mm2 against ohm/km at 20 C: IEC 60228, classes 1 and 2, aluminium.
const ALUMINIUM_CLASS_2: [(f64, f64); 11] = [
    (10.0, 3.08),
    (16.0, 1.91),
    (25.0, 1.20),
    (35.0, 0.868),
    (50.0, 0.641),
    (70.0, 0.443),
    (95.0, 0.320),
    (120.0, 0.253),
    (150.0, 0.206),
    (185.0, 0.164),
    (240.0, 0.125),
];

/// Resistivity of annealed copper at 20 C, ohm mm2/km.
const COPPER_RHO: f64 = 17.241;
/// Resistivity of conductor aluminium at 20 C, ohm mm2/km.
const ALUMINIUM_RHO: f64 = 28.264;
/// Copper-clad aluminium against copper of the same size.
const CLAD_FACTOR: f64 = 1.5;

/// Temperature coefficient of resistance at 20 C, 1/K. Clad wire is taken as copper.
pub fn temperature_coefficient(material: Material) -> f64 {
    match material {
        Material::Copper | Material::CopperCladAluminium => 0.003_93,
        Material::Aluminium => 0.004_03,
    }
}

/// Cross-section of a gauge size, mm2: ASTM B258. Sizes are held at 4/0 (-3) to 40.
pub fn awg_area_mm2(gauge: i32) -> f64 {
    let diameter_mm = 0.127 * 92_f64.powf(f64::from(36 - gauge.clamp(-3, 40)) / 39.0);
    std::f64::consts::PI * diameter_mm * diameter_mm / 4.0
}

/// Resistance of one conductor at 20 C, ohm/km.
pub fn resistance_20c_ohm_per_km(size: WireSize, material: Material) -> f64 {
    match (size, material) {
        (size, Material::CopperCladAluminium) => {
            CLAD_FACTOR * resistance_20c_ohm_per_km(size, Material::Copper)
        }
        (WireSize::Metric(mm2), Material::Copper) => from_table(&COPPER_CLASS_5, mm2),
        (WireSize::Metric(mm2), Material::Aluminium) => from_table(&ALUMINIUM_CLASS_2, mm2),
        (WireSize::Awg(gauge), Material::Copper) => COPPER_RHO / awg_area_mm2(gauge),
        (WireSize::Awg(gauge), Material::Aluminium) => ALUMINIUM_RHO / awg_area_mm2(gauge),
    }
}

/// Between two sizes of a table: straight on logarithmic scales. Outside it: inversely as the area.
fn from_table(table: &[(f64, f64)], mm2: f64) -> f64 {
    // A thinner wire than 0.01 mm2 carries nothing; the floor keeps nonsense finite.
    let mm2 = mm2.max(0.01);
    let after = table.partition_point(|row| row.0 < mm2);
    match (
        after.checked_sub(1).and_then(|i| table.get(i)),
        table.get(after),
    ) {
        (_, Some(&(size, value))) if size == mm2 => value,
        (Some(&(s0, v0)), Some(&(s1, v1))) => {
            let share = (mm2 / s0).ln() / (s1 / s0).ln();
            v0 * (v1 / v0).powf(share)
        }
        (Some(&(size, value)), None) | (None, Some(&(size, value))) => value * size / mm2,
        (None, None) => 0.0,
    }
}

/// Resistance of a run, mohm, without its joints: twice its one-way length (m), or once for a
/// chassis return, times the table value of its size taken to the conductor's temperature (C).
///
/// ```
/// use ampledger::design::{Material, WireSize};
/// use ampledger::physics::conductor::{drop_v, resistance_mohm};
///
/// // Two metres of 16 mm2 copper, there and back, at 30 C.
/// let mohm = resistance_mohm(2.0, WireSize::Metric(16.0), Material::Copper, 30.0, false);
/// assert!((mohm - 5.03).abs() < 0.05);
/// assert!(drop_v(30.0, mohm) < 0.16);
/// ```
pub fn resistance_mohm(
    length_m: f64,
    size: WireSize,
    material: Material,
    temperature_c: f64,
    one_conductor: bool,
) -> f64 {
    let conductors = if one_conductor { 1.0 } else { 2.0 };
    // Cable outside -100 to 300 C is no cable any more.
    let warm =
        1.0 + temperature_coefficient(material) * (temperature_c.clamp(-100.0, 300.0) - 20.0);
    conductors * length_m.clamp(0.0, 1e6) * resistance_20c_ohm_per_km(size, material) * warm
}

/// Volts lost in a resistance (mohm) at a current (A).
pub fn drop_v(current_a: f64, resistance_mohm: f64) -> f64 {
    current_a * resistance_mohm / 1000.0
}

/// Watts turned to heat in a resistance (mohm) at a current (A).
pub fn heat_w(current_a: f64, resistance_mohm: f64) -> f64 {
    current_a * current_a * resistance_mohm / 1000.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_run_is_there_and_back_unless_the_chassis_returns() {
        let size = WireSize::Metric(16.0);
        let both = resistance_mohm(3.0, size, Material::Copper, 20.0, false);
        assert!((both - 2.0 * 3.0 * 1.21).abs() < 1e-12);
        assert_eq!(
            resistance_mohm(3.0, size, Material::Copper, 20.0, true) * 2.0,
            both
        );
    }

    #[test]
    fn clad_wire_is_half_as_much_again() {
        for size in [WireSize::Metric(6.0), WireSize::Awg(4)] {
            let clad = resistance_20c_ohm_per_km(size, Material::CopperCladAluminium);
            let copper = resistance_20c_ohm_per_km(size, Material::Copper);
            assert!((clad / copper - 1.5).abs() < 1e-12);
        }
    }

    proptest! {
        #[test]
        fn thicker_is_never_worse_and_always_finite(
            mm2 in 0.1..400.0f64, more in 1.0..3.0f64, wild in proptest::num::f64::NORMAL, gauge: i32,
        ) {
            for material in [Material::Copper, Material::Aluminium, Material::CopperCladAluminium] {
                let r = |mm2| resistance_20c_ohm_per_km(WireSize::Metric(mm2), material);
                prop_assert!(r(mm2 * more) <= r(mm2) * 1.000_001);
                prop_assert!(r(wild).is_finite());
                let run = resistance_mohm(wild, WireSize::Awg(gauge), material, wild, false);
                prop_assert!(run.is_finite() && run >= 0.0);
            }
        }
    }
}
