//! What is taken for granted where a design does not say, each with its reason.
//!
//! Trade figures for stand-alone systems of 12 to 48 V; a maker's data sheet overrides every one.

use super::system::{Chemistry, Material, Mounting, Run};

/// Label share a healthy array gives: tolerance, mismatch and ordinary dirt (range 0.80 to 1.02).
pub const ALLOWANCE: f64 = 0.90;
/// Power per degree of a silicon panel (range -0.0045 to -0.0024).
pub const POWER_PER_DEGREE: f64 = -0.0038;
/// Open-circuit voltage per degree of a silicon panel (range -0.0036 to -0.0024).
pub const VOC_PER_DEGREE: f64 = -0.0030;
/// Conversion and tracking of an MPPT controller (range 0.90 to 0.975).
pub const MPPT_EFFICIENCY: f64 = 0.95;
/// A PWM controller connects and converts nothing; its drop is reckoned in volts elsewhere.
pub const PWM_EFFICIENCY: f64 = 1.0;
/// Conversion of a small inverter (range 0.80 to 0.93).
pub const INVERTER_EFFICIENCY: f64 = 0.88;
/// Idle draw of a 1 to 2 kW inverter, W (range 3 to 25).
pub const INVERTER_IDLE_W: f64 = 10.0;
/// Good lugs at both ends of both conductors, 0.05 to 0.3 mohm each, mohm.
pub const LUGS_MOHM: f64 = 1.0;
/// A fuse of some 30 A with its holder, mohm.
pub const FUSE_MOHM: f64 = 2.0;
/// Conductor material.
pub const MATERIAL: Material = Material::Copper;

/// Nominal operating cell temperature by mounting, C.
pub fn noct_c(mounting: Mounting) -> f64 {
    match mounting {
        Mounting::Rack => 45.0,
        Mounting::Gap => 50.0,
        Mounting::Flush => 58.0,
    }
}

/// The mounting in words.
pub fn mounting_words(mounting: Mounting) -> &'static str {
    match mounting {
        Mounting::Rack => "usual for panels on an open rack",
        Mounting::Gap => "usual for panels with an air gap of 20 mm or more",
        Mounting::Flush => "usual for flush-mounted panels, which cannot shed heat at the back",
    }
}

/// Largest drop by run, share of the voltage the run is judged by.
pub fn drop_limit(run: Run) -> f64 {
    match run {
        Run::ControllerBattery => 0.01,
        Run::ArrayController | Run::BatteryLoads => 0.03,
    }
}

/// Charge settings for a bank.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChargeSettings {
    /// Absorption voltage at 25 C, V.
    pub absorption_v: f64,
    /// Float voltage at 25 C, V; `None` where the chemistry is not floated.
    pub float_v: Option<f64>,
    /// Volts per degree for 12 V nominal.
    pub compensation_v_per_c: f64,
}

/// Middle of the trade's range for the chemistry: lead per 12 V nominal, lithium per cell.
pub fn charge_settings(chemistry: Chemistry, nominal_v: f64, cells: u32) -> ChargeSettings {
    let twelves = nominal_v / 12.0;
    let cells = f64::from(cells);
    let (absorption_v, float_v, compensation_v_per_c) = match chemistry {
        Chemistry::Flooded => (14.6 * twelves, Some(13.5 * twelves), -0.027),
        Chemistry::Agm => (14.4 * twelves, Some(13.6 * twelves), -0.021),
        Chemistry::Gel => (14.1 * twelves, Some(13.6 * twelves), -0.024),
        Chemistry::Lfp => (3.55 * cells, Some(3.375 * cells), 0.0),
        Chemistry::Nmc => (4.15 * cells, None, 0.0),
    };
    ChargeSettings {
        absorption_v,
        float_v,
        compensation_v_per_c,
    }
}

/// Share of capacity below which the current at absorption means full.
pub fn full_current(chemistry: Chemistry) -> f64 {
    match chemistry {
        Chemistry::Flooded => 0.02,
        Chemistry::Agm | Chemistry::Gel => 0.01,
        Chemistry::Lfp | Chemistry::Nmc => 0.04,
    }
}

/// State of charge an owner is taken to stay above, share.
pub fn reserve(chemistry: Chemistry) -> f64 {
    if chemistry.is_lead() { 0.5 } else { 0.2 }
}

/// Longest time between full charges, days.
pub fn max_days_between_full(chemistry: Chemistry) -> f64 {
    if chemistry.is_lead() { 14.0 } else { 30.0 }
}

/// Lowest and highest cell temperature for charging, C.
pub fn charge_temperatures_c(chemistry: Chemistry) -> (f64, f64) {
    if chemistry.is_lead() {
        (-20.0, 50.0)
    } else {
        (0.0, 45.0)
    }
}

/// Cells in series of a bank of that nominal voltage: lead 2 V a cell; LFP four for each 12 V, at
/// other voltages 3.2 V a cell; NMC 3.6 V a cell (3 at 12 V, 7 at 24 V, 13 at 48 V).
pub fn cells_for(chemistry: Chemistry, nominal_v: f64) -> u32 {
    let per_cell = match chemistry {
        Chemistry::Lfp if (nominal_v % 12.0).abs() < 0.05 => 3.0,
        Chemistry::Lfp => 3.2,
        Chemistry::Nmc => 3.6,
        _ => 2.0,
    };
    // Limited by the key's own range, so the conversion is exact.
    (nominal_v / per_cell).round().clamp(1.0, 600.0) as u32
}

/// Nominal voltage of that many cells: lead 2 V, LFP 3.2 V, NMC 3.6 V a cell, taken to 12, 24, 36
/// or 48 V where within a fifth of one.
pub fn nominal_for(chemistry: Chemistry, cells: u32) -> f64 {
    let cells = f64::from(cells);
    let sum = match chemistry {
        Chemistry::Lfp => cells * 3.2,
        Chemistry::Nmc => cells * 3.6,
        _ => return cells * 2.0,
    };
    let near = [12.0, 24.0, 36.0, 48.0]
        .into_iter()
        .min_by(|a: &f64, b| (a - sum).abs().total_cmp(&(b - sum).abs()))
        .filter(|named| (named - sum).abs() <= 0.2 * named);
    near.unwrap_or((sum * 10.0).round() / 10.0)
}

/// Air temperature by month, C, from latitude and height alone: 28 C at sea level up to 10 degrees
/// from the equator and 0.42 C less for each degree beyond; a season's swing of 0.18 C a degree,
/// coldest in January (July in the south); 6.5 C less for each 1000 m. Good to some 6 C.
pub fn air_c(latitude_deg: f64, altitude_m: f64) -> [f64; 12] {
    let away = latitude_deg.abs();
    let mean = 28.0 - 0.42 * (away - 10.0).max(0.0) - 0.0065 * altitude_m.max(0.0);
    let swing = 0.18 * latitude_deg;
    std::array::from_fn(|month| {
        let turn = std::f64::consts::TAU * month as f64 / 12.0;
        ((mean - swing * turn.cos()) * 10.0).round() / 10.0
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_and_nominal_voltage_agree_for_the_usual_banks() {
        let lfp = [(4, 12.0), (8, 24.0), (16, 48.0)];
        for (cells, nominal) in lfp {
            assert_eq!(nominal_for(Chemistry::Lfp, cells), nominal);
            assert_eq!(cells_for(Chemistry::Lfp, nominal), cells);
        }
        assert_eq!(cells_for(Chemistry::Lfp, 51.2), 16);
        for (cells, nominal) in [(3, 12.0), (7, 24.0), (10, 36.0), (13, 48.0)] {
            assert_eq!(nominal_for(Chemistry::Nmc, cells), nominal);
            assert_eq!(cells_for(Chemistry::Nmc, nominal), cells);
        }
        assert_eq!(nominal_for(Chemistry::Agm, 12), 24.0);
        assert_eq!(cells_for(Chemistry::Gel, 12.0), 6);
    }

    #[test]
    fn winters_are_cold_on_their_own_side_of_the_equator() {
        let north = air_c(57.0, 0.0);
        let south = air_c(-35.0, 0.0);
        assert!(north[0] < north[6] - 15.0);
        assert!(south[0] > south[6] + 10.0);
        assert!(air_c(0.0, 0.0).iter().all(|t| *t == 28.0));
        assert!(air_c(30.0, 2000.0)[3] < air_c(30.0, 0.0)[3] - 12.9);
    }
}
